//! The feedback page of one student: cutting and coding the picture, then the page around it.
//! `cargo bench --bench report`

use lodemark::geometry::Rect;
use lodemark::report::{Picture, Sheet, Status, Student, feedback_page};
use lodemark::worksheet::MadeBy;

fn main() {
    divan::main();
}

const WIDTH_PX: usize = 2_339;
const HEIGHT_PX: usize = 1_654;
const PX_PER_MM: f64 = 200.0 / 25.4;

/// A4 landscape at 200 dpi with strokes and grain.
fn page() -> Vec<u8> {
    let at = |i: usize| if (i / WIDTH_PX + i % 400 / 9) % 110 < 4 { 90 } else { 240 + (i * 7 % 11) as u8 };
    (0..WIDTH_PX * HEIGHT_PX).map(at).collect()
}

fn frame() -> Rect {
    Rect::new(20.0, 45.0, 277.0, 185.0)
}

#[divan::bench]
fn picture(bencher: divan::Bencher<'_, '_>) {
    let page = page();
    bencher.bench_local(|| Picture::cut(&page, WIDTH_PX, PX_PER_MM, frame()));
}

#[divan::bench]
fn feedback(bencher: divan::Bencher<'_, '_>) {
    let student = Student {
        code: "KX-01".into(),
        name: String::new(),
        worksheet: "Between two unlike poles".into(),
        status: Status::Proposed,
        why: Vec::new(),
        unsure_total: Vec::new(),
        total: None,
        out_of: 12.0,
        grade: None,
        says: Vec::new(),
        terms: Vec::new(),
        words_only: false,
        field: Default::default(),
        ideas: Vec::new(),
        language: None,
        criteria: Vec::new(),
        panels: vec![Sheet {
            frame: frame(),
            record: Default::default(),
            made_by: MadeBy::Magnets,
            named_line: None,
        }],
        picture: Picture::cut(&page(), WIDTH_PX, PX_PER_MM, frame()),
        source: "class.pdf, page 1".into(),
        recorded: true,
    };
    bencher.bench_local(|| feedback_page(&student));
}
