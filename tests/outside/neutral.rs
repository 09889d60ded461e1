//! Neutral points against those found by winding numbers and Newton's method at 40 digits.
//! Source: the header of data/neutral_checks.csv.

use crate::scene::{Row, panel, rows};
use lodemark::geometry::{Point, Rect};
use lodemark::worksheet::Panel;
use lodemark::worksheet::bodies::NEUTRAL_INSIDE_MM;
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
        assert_same(&id, panel.field().all_neutral_points(), &want);
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

fn one(params: &str, frame: &str) -> Vec<Point> {
    panel(params, frame).field().neutral_points().to_vec()
}

fn dipole_in_the_earths_field(moment_am2: f64, north_deg: f64, horizontal_ut: f64) -> Vec<Point> {
    let params = format!(
        r#"{{"sources":[{{"kind":"dipole","id":"d","centre_mm":[0,0],"moment_am2":{moment_am2},"north_deg":{north_deg}}}],
            "earth":{{"horizontal_ut":{horizontal_ut},"north_deg":90}}}}"#
    );
    one(&params, "[-450, -450, 900, 900]")
}

fn same(found: &[Point], want: &[(f64, f64)], to_mm: f64) {
    assert_eq!(found.len(), want.len(), "{found:?}");
    for (x, y) in want {
        assert!(
            found.iter().any(|p| (*p - Point::new(*x, *y)).hypot() < to_mm),
            "no ({x}, {y}) in {found:?}"
        );
    }
}

/// Short magnet, N end to the north, H = 36 microtesla, 9.72 A m2: nulls 30 cm east and west (exercise collections); turned
/// round and 0.0128 A m2, 40 microtesla: 4 cm on the axis. NCERT Physics XII, examples 5.13 and 5.14: axial nulls at 14 cm
/// with 0.36 G; turned round, at 14/2^(1/3) = 11.11 cm on the bisector.
#[test]
fn short_magnets_of_the_textbooks() {
    same(&dipole_in_the_earths_field(9.72, 90., 36.), &[(-300., 0.), (300., 0.)], 0.01);
    same(&dipole_in_the_earths_field(0.0128, 270., 40.), &[(0., -40.), (0., 40.)], 0.01);
    // H = mu0/(4 pi) 2m/d3: the moment that belongs to 14 cm.
    let moment = 36e-6 * 0.14f64.powi(3) / 2e-7;
    same(&dipole_in_the_earths_field(moment, 270., 36.), &[(0., -140.), (0., 140.)], 0.01);
    let d = 140. / 2f64.cbrt();
    same(&dipole_in_the_earths_field(moment, 90., 36.), &[(-d, 0.), (d, 0.)], 0.01);
}

/// A wire in the Earth's field: mu0 I/(2 pi H) from it, 5 A and 20 microtesla: 50 mm, to the west of a current towards the
/// reader with north up the page. Two equal currents the same way: half way; 1 to 3: a quarter of the way. Opposite and
/// unequal, beyond the weaker, at d I1/(I2 - I1); opposite and equal: none.
#[test]
fn wires_of_the_textbooks() {
    let wire = |id: &str, x: f64, i: f64, way: &str| {
        format!(r#"{{"kind":"wire","id":"{id}","centre_mm":[{x},0],"current_a":{i},"way":"{way}"}}"#)
    };
    let frame = "[-150, -100, 300, 200]";
    let earth = format!(
        r#"{{"sources":[{}],"earth":{{"horizontal_ut":20,"north_deg":90}}}}"#,
        wire("w", 0., 5., "out")
    );
    same(&one(&earth, frame), &[(-50., 0.)], 0.01);
    let two = |i: f64, way: &str| {
        one(&format!(r#"{{"sources":[{},{}]}}"#, wire("a", -40., 1., "out"), wire("b", 40., i, way)), frame)
    };
    same(&two(1., "out"), &[(0., 0.)], 0.01);
    same(&two(3., "out"), &[(-20., 0.)], 0.01);
    same(&two(3., "in"), &[(-80., 0.)], 0.01);
    same(&two(1., "in"), &[], 0.01);
}

/// Two charges: equal, half way; 1 to 4, a third of the way (inverse squares); opposite 1 to -4, beyond the weaker by
/// their distance.
#[test]
fn charges_of_the_textbooks() {
    let two = |q: f64| {
        let params = format!(
            r#"{{"sources":[{{"kind":"charge","id":"a","centre_mm":[-30,0],"charge_nc":1}},
                {{"kind":"charge","id":"b","centre_mm":[30,0],"charge_nc":{q}}}]}}"#
        );
        one(&params, "[-150, -100, 300, 200]")
    };
    same(&two(1.), &[(0., 0.)], 0.01);
    same(&two(4.), &[(-10., 0.)], 0.01);
    same(&two(-4.), &[(-90., 0.)], 0.01);
    same(&two(-1.), &[], 0.01);
}
