//! Panels and drawings with closed-form answers, for the tests of this module.

use super::trust::Trust;
use super::worlds::Reading;
use super::{meets, region::Region};
use crate::drawing::{Drawing, Line};
use crate::geometry::{Point, Rect};
use crate::worksheet::{Earth, Kind, Panel, Source};

/// Middle of every panel made here.
pub const MIDDLE: Point = Point::new(100.0, 100.0);

/// 200 x 200 mm, without sources.
fn panel(sources: Vec<Source>, earth: Option<Earth>) -> Panel {
    let frame = Rect::new(0.0, 0.0, 200.0, 200.0);
    Panel { id: "A".into(), prompt: String::new(), frame, plane_mm: 0.0, sources, earth }
}

/// A uniform field that points `north_deg`.
pub fn uniform(north_deg: f64) -> Panel {
    panel(vec![], Some(Earth { horizontal_ut: 20.0, north_deg }))
}

/// One source in the middle that points right, and a uniform field.
pub fn with_source(kind: Kind, earth: Option<Earth>) -> Panel {
    panel(vec![Source { id: "m".into(), kind, centre: MIDDLE, north_deg: 0.0 }], earth)
}

/// A dipole of 1 A m² in the middle that points right.
pub fn dipole() -> Panel {
    with_source(Kind::Dipole { moment_am2: 1.0 }, None)
}

/// The dipole's field line r = reach sin² t, t from the axis, from t to pi - t, above (side 1) or below (-1).
pub fn dipole_line(reach: f64, from_rad: f64, side: f64) -> Vec<Point> {
    const N: usize = 400;
    let at = |i: usize| {
        let t = from_rad + (std::f64::consts::PI - 2.0 * from_rad) * i as f64 / N as f64;
        let r = reach * t.sin() * t.sin();
        Point::new(MIDDLE.x + r * t.cos(), MIDDLE.y - side * r * t.sin())
    };
    (0..=N).map(at).collect()
}

/// A part of a circle about the middle, degrees anticlockwise as seen.
pub fn arc(radius: f64, from_deg: f64, to_deg: f64) -> Vec<Point> {
    const N: usize = 720;
    let at = |i: usize| {
        MIDDLE + radius * crate::geometry::towards(from_deg + (to_deg - from_deg) * i as f64 / N as f64)
    };
    (0..=N).map(at).collect()
}

/// Lines of 0.5 mm, quite sure.
pub fn drawing(lines: Vec<Vec<Point>>) -> Drawing {
    let line = |points| Line { points, width_mm: 0.5, arrows: vec![], sure: 1.0, there: 1.0 };
    Drawing { lines: lines.into_iter().map(line).collect(), ..Drawing::default() }
}

/// A straight line.
pub fn straight(a: (f64, f64), b: (f64, f64)) -> Vec<Point> {
    vec![Point::new(a.0, a.1), Point::new(b.0, b.1)]
}

/// The likeliest reading of a drawing, each arrow by itself.
pub fn reading(region: &Region, drawing: &Drawing) -> Reading {
    let by_itself = |a: &crate::drawing::Arrow| Trust { sure: a.sure, way_sure: a.way_sure };
    let trust: Vec<Vec<Trust>> =
        region.lines.iter().map(|l| l.line.arrows.iter().map(by_itself).collect()).collect();
    Reading::likeliest(region, &trust, drawing, &meets::places(region, drawing))
}
