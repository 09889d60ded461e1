//! One page from its file to measures, stage by stage, on a sample scan: a grey A4-size page at 200 dpi.
//!
//! `cargo bench --bench page`. What counts is each stage as a multiple of `decode`, in the same run.

use lodemark::ink;
use lodemark::measure::measure_panel;
use lodemark::print::layout::Layout;
use lodemark::rectify::{self, Located, flatten};
use lodemark::run::read::{Reader, read_page};
use lodemark::scan::{self, GreyImage, Wanted};
use lodemark::vectorise;
use lodemark::worksheet::Worksheet;
use std::path::{Path, PathBuf};
use std::sync::LazyLock;

/// The first grey page of the sample class of single JPEGs.
struct Sample {
    file: PathBuf,
    grey: GreyImage,
    worksheet: Worksheet,
    reader: Reader,
    located: Located,
    region: kurbo::Rect,
    print: ink::print_removal::Covers,
}

static SAMPLE: LazyLock<Sample> = LazyLock::new(|| {
    let class = Path::new(env!("CARGO_MANIFEST_DIR")).join("samples/8c-three-bars");
    let worksheet = Worksheet::load(&class.join("worksheet.yaml")).expect("the sample's worksheet");
    let file = class.join("scans").join(first_jpeg(&class.join("scans")));
    let grey = decode(&file);
    let reader = Reader::new(&worksheet);
    let layout = Layout::of(&worksheet);
    let located =
        rectify::locate(&grey, &layout, &lodemark::print::code::key(&worksheet.id)).expect("a page");
    let region = worksheet.panels[0].frame.inflate(5.5, 5.5);
    let print = ink::print_removal::Covers::of(&layout, region);
    Sample { file, grey, worksheet, reader, located, region, print }
});

fn first_jpeg(folder: &Path) -> String {
    let names = std::fs::read_dir(folder).expect("the sample's scans").flatten();
    let mut names: Vec<String> = names.map(|f| f.file_name().to_string_lossy().into_owned()).collect();
    names.sort();
    names.into_iter().find(|n| n.ends_with(".jpg")).expect("a JPEG among the sample's scans")
}

fn decode(file: &Path) -> GreyImage {
    let pages = scan::open(file).expect("the sample opens");
    pages.page(1, Wanted::default()).expect("the sample decodes").grey
}

#[divan::bench]
fn a_decode() -> GreyImage {
    decode(&SAMPLE.file)
}

#[divan::bench]
fn b_locate_and_code() -> bool {
    let s = &*SAMPLE;
    rectify::locate(&s.grey, &s.reader.layout, &lodemark::print::code::key(&s.worksheet.id)).is_ok()
}

#[divan::bench]
fn c_flatten() -> flatten::Flat {
    flatten::flatten(&SAMPLE.grey, &SAMPLE.located.page_to_scan, SAMPLE.region)
}

#[divan::bench]
fn d_ink(bencher: divan::Bencher) {
    let s = &*SAMPLE;
    let flat = flatten::flatten(&s.grey, &s.located.page_to_scan, s.region);
    bencher.bench(|| ink::read(&flat, &s.print, ink::Look::default()));
}

#[divan::bench]
fn e_vectorise(bencher: divan::Bencher) {
    let s = &*SAMPLE;
    let flat = flatten::flatten(&s.grey, &s.located.page_to_scan, s.region);
    let ink = ink::read(&flat, &s.print, ink::Look::default());
    bencher.with_inputs(|| ink.clone()).bench_values(vectorise::vectorise);
}

#[divan::bench]
fn f_measure(bencher: divan::Bencher) {
    let s = &*SAMPLE;
    let page = read_page(&s.grey, None, &s.reader).expect("the sample is a page");
    let panel = &s.worksheet.panels[0];
    let field = panel.field();
    bencher.bench(|| measure_panel(panel, &field, &page.panels[0], 1));
}

#[divan::bench]
fn g_whole_page(bencher: divan::Bencher) {
    let s = &*SAMPLE;
    let panel = &s.worksheet.panels[0];
    let field = panel.field();
    bencher.bench(|| {
        let page = read_page(&decode(&s.file), None, &s.reader).expect("the sample is a page");
        measure_panel(panel, &field, &page.panels[0], 1)
    });
}

fn main() {
    divan::main();
}
