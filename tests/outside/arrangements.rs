//! Neutral points of the ready arrangements, against textbook formulas and an outside program.

use lodemark::class::arrangements;
use lodemark::geometry::Point;
use lodemark::worksheet::Worksheet;
use std::path::Path;

fn neutral(name: &str) -> Vec<Point> {
    let text = arrangements::find(name).unwrap().worksheet;
    Worksheet::parse(Path::new(name), text).unwrap().panels[0].field().neutral_points().to_vec()
}

fn same(name: &str, want: &[(f64, f64)], to_mm: f64) {
    let found = neutral(name);
    assert_eq!(found.len(), want.len(), "{name}: {found:?}");
    for (x, y) in want {
        let near = found.iter().any(|p| (*p - Point::new(*x, *y)).hypot() < to_mm);
        assert!(near, "{name}: no ({x}, {y}) in {found:?}");
    }
}

/// Where a falling or rising function is zero.
fn zero(f: impl Fn(f64) -> f64, mut low: f64, mut high: f64) -> f64 {
    let rising = f(high) > 0.0;
    assert!(f(low) * f(high) < 0.0);
    for _ in 0..60 {
        let middle = (low + high) / 2.0;
        if (f(middle) > 0.0) == rising { high = middle } else { low = middle }
    }
    low
}

/// By symmetry, whatever the law: half way between two equal poles, currents or charges (any textbook).
#[test]
fn half_way_between_equals() {
    for name in ["like-poles", "like-poles-south", "bars-antiparallel", "wires-alike", "charges-alike"] {
        same(name, &[(148.5, 115.0)], 0.01);
    }
}

#[test]
fn none_where_the_textbook_draws_none() {
    for name in [
        "single-bar",
        "unlike-poles",
        "two-discs",
        "horseshoe",
        "earth",
        "straight-wire",
        "wires-opposite",
        "coil",
        "one-charge",
        "charges-opposite",
        "plates",
    ] {
        same(name, &[], 0.01);
    }
}

/// Two poles 2l apart, moment M, in the horizontal field H: on the equator mu0/(4 pi) M/(d2 + l2)^(3/2) = H with N to the
/// north, on the axis mu0/(4 pi) 2Md/(d2 - l2)^2 = H with N to the south (NCERT Physics XII, 5.3; any textbook). M is the
/// polarisation over mu0 times the volume; the pole faces of 8 by 3 mm are no points, which shifts it by less than half a
/// millimetre.
#[test]
fn a_weak_bar_in_the_earths_field() {
    let (l, h) = (0.015, 18e-6);
    // mu0/(4 pi) times the moment: the polarisation 80 mT times 30 x 8 x 3 mm3, over 4 pi.
    let moment = 0.080 * 0.030 * 0.008 * 0.003 / (4.0 * std::f64::consts::PI);
    let equator = 1e3 * ((moment / h).powf(2.0 / 3.0) - l * l).sqrt();
    same("bar-n-north", &[(105.0 - equator, 150.0), (105.0 + equator, 150.0)], 0.5);
    let axis = 1e3 * zero(|d| 2.0 * moment * d / (d * d - l * l).powi(2) - h, 0.03, 0.3);
    same("bar-n-south", &[(105.0, 150.0 - axis), (105.0, 150.0 + axis)], 0.5);
}

/// Tables of data/neutral_checks.csv, at 40 digits; the cross stands 43.5 mm to the left and 35 mm lower here.
#[test]
fn the_scenes_that_the_table_holds() {
    same("bar-and-horseshoe", &[(164.9160035091, 100.3746921388)], 1e-6);
    let cross = [(116.2386744734, 82.7386744734), (116.2386744734, 147.2613255266), (148.5, 115.0)];
    let more = [(180.7613255266, 82.7386744734), (180.7613255266, 147.2613255266)];
    let shifted: Vec<(f64, f64)> = cross.iter().chain(&more).map(|(x, y)| (x - 43.5, y + 35.0)).collect();
    same("four-bars", &shifted, 1e-6);
}

/// magpylib 6.3.0 (Cuboid), where SciPy 1.17.1's `root` finds its field in the plane to be zero from a grid of starts.
#[test]
fn where_an_outside_program_finds_no_field() {
    same("bar-n-north", &[(43.261744, 150.0), (166.738256, 150.0)], 1e-5);
    same("bar-n-south", &[(105.0, 231.62649), (105.0, 68.37351)], 1e-5);
    same("bars-parallel", &[(148.5, 151.541209), (148.5, 78.458791)], 1e-5);
    same("three-bars", &[(122.590346, 131.578288), (156.409654, 131.578288)], 1e-5);
    same("unequal-bars", &[(157.048055, 115.0)], 1e-5);
}

/// The tests above leave none out.
#[test]
fn every_arrangement_is_checked() {
    let here = include_str!("arrangements.rs");
    for arrangement in arrangements::ALL {
        assert!(here.contains(&format!("\"{}\"", arrangement.name)), "{}", arrangement.name);
    }
}
