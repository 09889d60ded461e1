//! Curve distances and homographies against data/geometry_checks.json: discrete Fréchet by trying every coupling and by
//! shapely, Hausdorff by scipy, the homography in exact fractions.

use crate::scene::data;
use lodemark::geometry::Point;
use lodemark::geometry::distance::{directed_hausdorff, discrete_frechet, hausdorff};
use lodemark::geometry::homography::{FitError, Homography};
use serde_json::Value;

fn checks(part: &str) -> Value {
    serde_json::from_str::<Value>(&data("geometry_checks.json")).unwrap()[part].take()
}

fn point(v: &Value) -> Point {
    Point::new(fraction(&v[0]), fraction(&v[1]))
}

/// A number, or a fraction as text.
fn fraction(v: &Value) -> f64 {
    let Some(text) = v.as_str() else { return v.as_f64().unwrap() };
    match text.split_once('/') {
        Some((over, under)) => over.parse::<f64>().unwrap() / under.parse::<f64>().unwrap(),
        None => text.parse().unwrap(),
    }
}

#[test]
fn curve_distances() {
    let part = checks("curve_distance");
    let tolerance = part["tolerance"].as_f64().unwrap();
    let cases = part["cases"].as_array().unwrap();
    assert!(cases.len() >= 5);
    for case in cases {
        let curve = |key: &str| -> Vec<Point> { case[key].as_array().unwrap().iter().map(point).collect() };
        let (p, q) = (curve("P"), curve("Q"));
        for (key, value) in [
            ("discrete_frechet", discrete_frechet(&p, &q)),
            ("directed_hausdorff_P_to_Q_vertices", directed_hausdorff(&p, &q)),
            ("directed_hausdorff_Q_to_P_vertices", directed_hausdorff(&q, &p)),
            ("hausdorff_vertices", hausdorff(&p, &q)),
        ] {
            let want = case[key].as_f64().unwrap();
            assert!((value.unwrap() - want).abs() <= tolerance, "{key} of {case}: {value:?}");
        }
    }
}

#[test]
fn homography_in_exact_fractions() {
    let part = checks("homography");
    let pairs: Vec<(Point, Point)> =
        part["pairs"].as_array().unwrap().iter().map(|p| (point(&p["uv"]), point(&p["xy"]))).collect();
    assert_eq!(pairs.len(), 6);
    let h = Homography::fit(&pairs[..4]).unwrap();
    let back = h.inverse().unwrap();
    for (uv, xy) in &pairs {
        assert!((h.apply(*uv) - *xy).hypot() < 1e-12, "{uv:?} to {:?}, not {xy:?}", h.apply(*uv));
        assert!((back.apply(*xy) - *uv).hypot() < 1e-12, "{xy:?} to {:?}, not {uv:?}", back.apply(*xy));
    }
    let rows = back.rows();
    for (i, row) in rows.iter().enumerate() {
        for (j, number) in row.iter().enumerate() {
            let want = part["inverse_scaled"][i][j].as_f64().unwrap();
            assert!((number - want).abs() < 1e-12, "row {i}, column {j}: {number}, not {want}");
        }
    }
}

#[test]
fn three_of_four_in_a_row_are_refused() {
    let at = |x: f64, y: f64| Point::new(x, y);
    let four = [at(0., 0.), at(1., 1.), at(2., 2.), at(5., 0.)];
    let pairs: Vec<_> = four.into_iter().map(|p| (p, at(p.x + 1., 2. * p.y))).collect();
    assert_eq!(Homography::fit(&pairs), Err(FitError::Degenerate));
}
