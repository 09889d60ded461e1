//! Thinning and thresholds against worked examples.
//!
//! Source: data/geometry_checks.json, recomputed from the rules of Zhang and Suen (1984) and of Guo and Hall (1989) on four
//! pictures (the bar by Zhang and Suen also by hand), and Otsu's (1979) worked histogram with scikit-image 0.26.0 and numpy.

use lodemark::ink::Bitmap;
use lodemark::ink::thin::{Rule, thin};
use lodemark::rectify::otsu;
use serde_json::Value;

fn checks() -> Value {
    serde_json::from_str(include_str!("data/geometry_checks.json")).expect("the data file is JSON")
}

fn rows(picture: &Value) -> Vec<String> {
    picture.as_array().expect("rows").iter().map(|r| r.as_str().expect("a row").to_owned()).collect()
}

fn thinned(picture: &[String], rule: Rule) -> Vec<String> {
    let (width, height) = (picture[0].len(), picture.len());
    let mut ink = Bitmap::new(width, height);
    for (y, row) in picture.iter().enumerate() {
        for (x, c) in row.bytes().enumerate() {
            ink.set(x, y, c == b'#');
        }
    }
    thin(&mut ink, rule);
    let row = |y: usize| (0..width).map(|x| if ink.get(x, y) { '#' } else { '.' }).collect();
    (0..height).map(row).collect()
}

#[test]
fn thinning_gives_the_worked_pictures() {
    let checks = checks();
    let cases = checks["thinning"]["cases"].as_array().expect("cases");
    assert_eq!(cases.len(), 4);
    for case in cases {
        let picture = rows(&case["image"]);
        for (name, rule) in [("zhang_suen", Rule::ZhangSuen), ("guo_hall", Rule::GuoHall)] {
            assert_eq!(thinned(&picture, rule), rows(&case[name]), "{} by {name}", case["id"]);
        }
    }
}

#[test]
fn otsu_gives_the_worked_threshold() {
    let checks = checks();
    let case = &checks["otsu"];
    let histogram: Vec<u64> =
        case["histogram"].as_array().expect("counts").iter().map(|v| v.as_u64().expect("a count")).collect();
    assert_eq!(
        otsu::last_dark_level(&histogram).map(|l| l as u64),
        case["threshold_last_dark_level"].as_u64()
    );
    let expected = case["between_class_variance_by_threshold"].as_array().expect("variances");
    let got = otsu::between_class_variances(&histogram);
    assert_eq!(got.len(), expected.len());
    for (g, e) in got.iter().zip(expected) {
        assert!((g - e.as_f64().expect("a number")).abs() < 1e-12, "{g} is not {e}");
    }
}
