//! Decoding of one page. `cargo bench --bench scan`
//!
//! `jpeg_alone` is the floor that a whole page is held against: the same decoder on the same bytes, grey
//! only, nothing else.

use std::path::{Path, PathBuf};

use lodemark::scan::{self, Wanted};
use zune_jpeg::JpegDecoder;
use zune_jpeg::zune_core::bytestream::ZCursor;
use zune_jpeg::zune_core::colorspace::ColorSpace;
use zune_jpeg::zune_core::options::DecoderOptions;

fn main() {
    divan::main();
}

/// A4 landscape at 200 dpi: grain like a copier's, curved strokes, quality 80.
fn jpeg() -> Vec<u8> {
    let mut grain = 1u32;
    let page = image::GrayImage::from_fn(2_339, 1_654, |x, y| {
        // a linear congruential generator is grain enough
        grain = grain.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        let wave = (f64::from(x) / 300.0).sin() * 60.0;
        let stroke = (f64::from(y) + wave).rem_euclid(110.0) < 4.0;
        image::Luma([if stroke { 90 } else { 243 } + (grain >> 29) as u8])
    });
    let mut out = Vec::new();
    image::codecs::jpeg::JpegEncoder::new_with_quality(&mut out, 80)
        .encode_image(&page)
        .expect("a picture in memory");
    out
}

fn read(bencher: divan::Bencher<'_, '_>, path: &Path, wanted: Wanted) {
    bencher.bench_local(|| {
        scan::open(path).expect("a file that is read").page(1, wanted).expect("a whole page")
    });
}

#[divan::bench]
fn jpeg_alone(bencher: divan::Bencher<'_, '_>) {
    let bytes = jpeg();
    bencher.bench_local(|| {
        let options = DecoderOptions::default().jpeg_set_out_colorspace(ColorSpace::Luma);
        JpegDecoder::new_with_options(ZCursor::new(&bytes), options).decode().expect("a whole picture")
    });
}

#[divan::bench]
fn jpeg_page(bencher: divan::Bencher<'_, '_>) {
    let folder = tempfile::tempdir().expect("a place for a file");
    let path = folder.path().join("page.jpg");
    std::fs::write(&path, jpeg()).expect("a file");
    read(bencher, &path, Wanted::default());
}

#[divan::bench]
fn tiff_g4_page(bencher: divan::Bencher<'_, '_>) {
    let path = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("tests/promises/data/scan/page-g4.tif");
    read(bencher, &path, Wanted::default());
}
