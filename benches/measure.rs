//! Measuring one drawing: 12 lines between two magnets, each a little in doubt. `cargo bench --bench measure`

use std::path::PathBuf;

use lodemark::drawing::{Drawing, Line};
use lodemark::geometry::Point;
use lodemark::measure::measure_panel;
use lodemark::worksheet::Worksheet;

fn main() {
    divan::main();
}

/// The sheet and its drawing by hand from the tests.
fn two_norths(sure: f64) -> (Worksheet, Drawing) {
    let data = |name: &str| {
        PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("tests/promises/data/measures").join(name)
    };
    let text = std::fs::read_to_string(data("two-norths.json")).expect("the tests' drawing");
    let case: serde_json::Value = serde_json::from_str(&text).expect("the tests' drawing");
    let list = |v: &serde_json::Value| v.as_array().cloned().unwrap_or_default();
    let number = |v: &serde_json::Value| v.as_f64().unwrap_or(0.0);
    let line = |l: &serde_json::Value| Line {
        points: list(&l["points_mm"]).iter().map(|p| Point::new(number(&p[0]), number(&p[1]))).collect(),
        width_mm: 0.5,
        arrows: vec![],
        sure,
        there: sure,
    };
    let lines = list(&case["drawing"]["lines"]).iter().map(line).collect();
    let sheet = Worksheet::load(&data("two-norths.yaml")).expect("the tests' worksheet");
    (sheet, Drawing { lines, ..Drawing::default() })
}

/// Once with every line sure, once with 12 sets of lines to measure.
#[divan::bench(args = [1.0, 0.95])]
fn a_drawing(bencher: divan::Bencher<'_, '_>, sure: f64) {
    let (sheet, drawing) = two_norths(sure);
    let field = sheet.panels[0].field();
    field.neutral_points();
    bencher.bench_local(|| measure_panel(&sheet.panels[0], &field, &drawing, 1));
}

/// What a panel costs before its first drawing.
#[divan::bench]
fn the_field_and_its_neutral_points(bencher: divan::Bencher<'_, '_>) {
    let (sheet, _) = two_norths(1.0);
    bencher.bench_local(|| sheet.panels[0].field().neutral_points().len());
}
