//! Flux density against values had at 40 digits from independent closed forms and quadrature, and against what an
//! outside library (magpylib 6.3.0) gives in double precision for the same rows.
//! Source and axes: the header of data/field_checks.csv.

use crate::scene::{Row, panel, rows};
use lodemark::geometry::Point;
use lodemark::worksheet::Panel;
use std::collections::BTreeMap;

/// Kinds that must have been checked: a row lost from the file is no pass.
const BUILT: [&str; 18] = [
    "bar",
    "rod",
    "disc-across",
    "disc-through",
    "horseshoe",
    "dipole",
    "globe",
    "two-bars",
    "three-bars",
    "bar-and-horseshoe",
    "bar+earth",
    "earth-only",
    "wire",
    "two-wires",
    "coil",
    "charge",
    "two-charges",
    "plate",
];
/// What the outside library itself is off by at most (the file's header), relative.
const LIBRARY_OFF: f64 = 1e-11;

fn checked_rows() -> Vec<Row> {
    let rows = rows("field_checks.csv");
    let mut count: BTreeMap<&str, usize> = BTreeMap::new();
    for row in &rows {
        *count.entry(row.text("source_kind")).or_default() += 1;
    }
    for kind in BUILT {
        assert!(count.remove(kind).is_some_and(|n| n >= 3), "too few rows of {kind} ran");
    }
    assert!(count.is_empty(), "kinds not built: {count:?}");
    assert_eq!(rows.len(), 387);
    rows
}

fn row_panel(row: &Row) -> (Panel, Point) {
    let frame = "[0, 0, 400, 400]";
    let mut panel = panel(row.text("params"), frame);
    panel.plane_mm = row.number("z_mm");
    (panel, Point::new(row.number("x_mm"), row.number("y_mm")))
}

fn size(b: [f64; 3]) -> f64 {
    b.iter().map(|v| v * v).sum::<f64>().sqrt()
}

fn off(a: [f64; 3], b: [f64; 3]) -> f64 {
    size([a[0] - b[0], a[1] - b[1], a[2] - b[2]]) / size(b)
}

fn given(row: &Row, prefix: &str) -> [f64; 3] {
    ["bx_mt", "by_mt", "bz_mt"].map(|c| row.number(&format!("{prefix}{c}")))
}

/// The form that the program works with, one place at a time.
#[test]
fn flux_density_of_every_kind() {
    let mut worst = (0.0, String::new());
    for row in checked_rows() {
        let (panel, p) = row_panel(&row);
        let far = off(panel.field().b(p), given(&row, ""));
        assert!(far <= row.number("rel_tolerance"), "{}: off by {far:e}", row.text("id"));
        if far > worst.0 {
            worst = (far, row.text("id").to_owned());
        }
    }
    println!("worst: {worst:?}");
}

/// The same table by the plain form: sums over corners, elliptic integrals to tolerance.
#[test]
fn plain_form() {
    for row in checked_rows() {
        let (panel, p) = row_panel(&row);
        let [x, y, z] = panel.field().bodies().b_plain([p.x, -p.y, panel.plane_mm]);
        let far = off([x, -y, z], given(&row, ""));
        assert!(far <= row.number("rel_tolerance"), "{}: off by {far:e}", row.text("id"));
    }
}

/// The same table many places at once: rows of one scene and height together.
#[test]
fn vector_form() {
    let mut scenes: BTreeMap<(String, String), Vec<Row>> = BTreeMap::new();
    for row in checked_rows() {
        let key = (row.text("params").to_owned(), row.text("z_mm").to_owned());
        scenes.entry(key).or_default().push(row);
    }
    assert!(scenes.values().any(|rows| rows.len() >= 8), "no scene fills the registers");
    for rows in scenes.values() {
        let (panel, _) = row_panel(&rows[0]);
        let places: Vec<Point> = rows.iter().map(|r| row_panel(r).1).collect();
        for (row, b) in rows.iter().zip(panel.field().b_many(&places)) {
            let far = off(b, given(row, ""));
            assert!(far <= row.number("rel_tolerance"), "{}: off by {far:e}", row.text("id"));
        }
    }
}

#[test]
fn outside_library() {
    let mut ran = 0;
    for row in checked_rows().iter().filter(|r| !r.text("magpylib_bx_mt").is_empty()) {
        let (panel, p) = row_panel(row);
        let far = off(panel.field().b(p), given(row, "magpylib_"));
        assert!(far <= LIBRARY_OFF, "{}: off by {far:e}", row.text("id"));
        ran += 1;
    }
    assert!(ran > 250, "only {ran} rows");
}
