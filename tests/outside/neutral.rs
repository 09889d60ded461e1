//! Neutral points against those found by winding numbers and Newton's method at 40 digits.
//! Source: the header of data/neutral_checks.csv.

use crate::scene::{Row, panel, rows};
use lodemark::field::neutral;
use lodemark::geometry::{Point, Rect, Vec2};
use lodemark::worksheet::bodies::NEUTRAL_INSIDE_MM;
use lodemark::worksheet::{Outline, Panel, Source};
use std::collections::BTreeMap;

/// The table's places are good to 1e-9 mm.
const TO_MM: f64 = 1e-7;

fn scenes() -> BTreeMap<String, Vec<Row>> {
    let mut scenes: BTreeMap<String, Vec<Row>> = BTreeMap::new();
    for row in rows("neutral_checks.csv") {
        scenes.entry(row.text("id").to_owned()).or_default().push(row);
    }
    assert_eq!(scenes.len(), 17);
    scenes
}

/// The scene's panel and its points in the table, from top to bottom.
fn scene(rows: &[Row]) -> (Panel, Vec<Point>) {
    let mut points: Vec<Point> = rows
        .iter()
        .filter(|r| r.number("count") > 0.0)
        .map(|r| Point::new(r.number("x_mm"), r.number("y_mm")))
        .collect();
    points.sort_by(|p, q| (p.y, p.x).partial_cmp(&(q.y, q.x)).unwrap());
    (panel(rows[0].text("params"), rows[0].text("frame")), points)
}

fn assert_same(id: &str, found: &[Point], want: &[Point]) {
    assert_eq!(found.len(), want.len(), "{id}: found {found:?}, the table has {want:?}");
    for w in want {
        assert!(found.iter().any(|f| (*f - *w).hypot() < TO_MM), "{id}: no {w:?} among {found:?}");
    }
}

#[test]
fn every_point_of_every_frame() {
    for (id, rows) in scenes() {
        let (panel, want) = scene(&rows);
        let field = panel.field();
        let outlines: Vec<Outline> = panel.sources.iter().map(Source::outline).collect();
        let found = neutral::find(
            |places| field.b_many(places).into_iter().map(|b| Vec2::new(b[0], b[1])).collect(),
            panel.frame,
            |p| outlines.iter().all(|o| o.distance(p) > 1.0),
        );
        assert_same(&id, &found, &want);
    }
}

/// Those that a sheet counts: at least 5 mm inside the frame.
#[test]
fn those_well_inside_the_frame() {
    let mut left_out = 0;
    for (id, rows) in scenes() {
        let (panel, mut want) = scene(&rows);
        let f = panel.frame;
        let d = NEUTRAL_INSIDE_MM;
        let within = Rect::new(f.x0 + d, f.y0 + d, f.x1 - d, f.y1 - d);
        let all = want.len();
        want.retain(|p| within.contains(*p));
        left_out += all - want.len();
        assert_same(&id, panel.field().neutral_points(), &want);
    }
    assert!(left_out >= 2, "no scene has a point near its frame");
}
