//! The World Magnetic Model 2025 against its official test values and against what an outside library (pygeomag 1.1.0)
//! gives with more digits. Source: the header of data/wmm2025_checks.csv.

use crate::scene::{Row, rows};
use lodemark::field::wmm::{self, EarthField};

/// The library's values are printed to 0.0001 nT and 0.00001 degrees.
const LIBRARY_NT: f64 = 2e-4;
const LIBRARY_DEG: f64 = 2e-5;

fn found(row: &Row) -> EarthField {
    let [year, height, latitude, longitude] = ["year", "alt_km", "lat_deg", "lon_deg"].map(|c| row.number(c));
    wmm::at(latitude, longitude, height, year)
}

fn components(b: &EarthField) -> [(&'static str, f64); 7] {
    [
        ("x_nt", b.north_nt),
        ("y_nt", b.east_nt),
        ("z_nt", b.down_nt),
        ("h_nt", b.horizontal_nt()),
        ("f_nt", b.horizontal_nt().hypot(b.down_nt)),
        ("i_deg", b.inclination_deg()),
        ("d_deg", b.declination_deg()),
    ]
}

#[test]
fn official_test_values() {
    let mut checked = 0;
    for row in rows("wmm2025_checks.csv") {
        let b = found(&row);
        for (column, value) in components(&b).into_iter().filter(|(c, _)| !row.text(c).is_empty()) {
            // Half of the last printed digit, and a hair for the decimal.
            let to = row.number(if column.ends_with("nt") { "tol_nt" } else { "tol_deg" }) / 2.0 + 1e-6;
            let want = row.number(column);
            assert!((value - want).abs() <= to, "{column}: {value} for {want}");
            checked += 1;
        }
    }
    assert_eq!(checked, 12 * 7 + 10);
}

#[test]
fn outside_library() {
    let rows = rows("wmm2025_checks.csv");
    assert_eq!(rows.len(), 26);
    for row in &rows {
        for (column, value) in components(&found(row)) {
            if ["h_nt", "f_nt"].contains(&column) {
                continue;
            }
            let want = row.number(&format!("lib_{column}"));
            let to = if column.ends_with("nt") { LIBRARY_NT } else { LIBRARY_DEG };
            assert!((value - want).abs() <= to, "{column}: {value} for {want}");
        }
    }
}
