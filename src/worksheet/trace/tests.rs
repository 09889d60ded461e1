//! What a followed line, a spiral and separatrices are held to.

use super::super::{Earth, Half, Kind, Panel, Source};
use super::*;
use crate::geometry::{Rect, towards};

fn bar(id: &str, x: f64, north_deg: f64) -> Source {
    let kind = Kind::Bar { length: 50., width: 15., thickness: 10., remanence_mt: 400., pole_inset: 0.0 };
    source(id, kind, x, north_deg)
}

fn source(id: &str, kind: Kind, x: f64, north_deg: f64) -> Source {
    Source { id: id.into(), kind, centre: Point::new(x, 115.), north_deg }
}

fn panel(sources: Vec<Source>) -> Panel {
    let frame = Rect::new(20., 45., 277., 185.);
    Panel { id: "A".into(), prompt: String::new(), frame, plane_mm: 0.0, sources, earth: None }
}

#[test]
fn lines_run_from_the_n_half_to_the_s_half() {
    let p = panel(vec![bar("m", 148.5, 0.)]);
    let field = p.field();
    for (dx, dy) in [(22., 9.), (18., -8.), (15., -9.), (5., 9.)] {
        let t = field.follow(Point::new(148.5 + dx, 115. + dy), 1.0);
        assert_eq!(t.end, End::Source(0));
        assert_ne!(p.sources[0].half(t.stop), Half::N);
        assert!(field.outlines()[0].boundary_distance(t.stop) < 2.0 * STOP_TO_MM);
        assert!(t.points.windows(2).all(|w| (w[1] - w[0]).hypot() < 1.1 * TRACE_STEP_MM));
        // The way back ends where it began.
        let back = field.follow(t.points[t.points.len() - 2], -1.0);
        assert!(polyline::distance(t.points[0], &back.points) < 0.02);
    }
    let away = field.follow(Point::new(175., 115.), 1.0);
    assert_eq!(away.end, End::Frame);
    assert!((away.stop.x - 277.).abs() < 2.0 * STOP_TO_MM && (away.stop.y - 115.).abs() < 1e-6);
}

/// Every chord of a followed line points as the field does in its middle.
#[test]
fn a_followed_line_follows_the_field() {
    let field = panel(vec![bar("a", 95., 0.), bar("b", 202., 0.)]).field();
    for y in [60., 100., 110., 140.] {
        let t = field.follow(Point::new(150., y), 1.0);
        for w in t.points.windows(2) {
            // Near a magnet's corner a line bends within its chord.
            if field.outlines().iter().any(|o| o.distance(w[0]) < 3.0) {
                continue;
            }
            let way = (w[1] - w[0]) / (w[1] - w[0]).hypot();
            let off = way.cross(field.direction(w[0].midpoint(w[1]))).abs();
            assert!(off < 2e-3, "{off} at {:?}", w[0]);
        }
    }
}

#[test]
fn between_like_poles_the_axis_ends_on_the_neutral_point() {
    let field = panel(vec![bar("a", 88., 0.), bar("b", 209., 180.)]).field();
    assert_eq!(field.neutral_points().len(), 1);
    let neutral = Point::new(148.5, 115.);
    assert!((field.neutral_points()[0] - neutral).hypot() < 1e-9);
    let t = field.follow(Point::new(114., 115.), 1.0);
    assert_eq!((t.end, t.stop), (End::Neutral, field.neutral_points()[0]));
}

#[test]
fn a_start_that_is_no_place_for_a_line_stops_at_once() {
    let field = panel(vec![bar("m", 148.5, 0.)]).field();
    for (p, end) in [
        (Point::new(10., 100.), End::Frame),
        (Point::new(148., 115.), End::Source(0)),
        (Point::new(f64::NAN, 100.), End::Frame),
    ] {
        let t = field.follow(p, 1.0);
        assert_eq!((t.end, t.points.len()), (end, 1));
    }
    assert_eq!(panel(vec![]).field().follow(Point::new(100., 100.), 1.0).end, End::Long);
}

/// Through the magnet itself, out at its faces, where the field's direction jumps, and round: back within 0.01 mm.
#[test]
fn a_line_through_a_bar_closes() {
    let p = panel(vec![bar("m", 148.5, 20.)]);
    let field = p.field();
    for (u, v) in [(0., 3.), (0., 5.), (0., 6.5), (3., 12.), (3., 18.), (3., 25.), (-4., -40.)] {
        let from = p.sources[0].place(u, v);
        let mut nearest = f64::INFINITY;
        lines::follow(
            |q| field.direction(q),
            from,
            LONGEST_LINE_MM,
            |step| {
                let places: Vec<Point> = (0..=100).map(|i| step.at(f64::from(i) / 100.)).collect();
                if step.from_mm > 50. {
                    nearest = nearest.min(polyline::distance(from, &places));
                }
                if nearest < 1.0 && (places[100] - from).hypot() > 3.0 {
                    return ControlFlow::Break(());
                }
                ControlFlow::Continue(())
            },
        );
        assert!(nearest < CLOSES_MM, "{u} {v}: {nearest}");
    }
}

#[test]
fn rings_round_a_wire_close() {
    let field = panel(vec![source("w", Kind::Wire { current_a: 5., out: true }, 148.5, 0.)]).field();
    for r in [3.0, 20.0, 69.0] {
        for sense in [1.0, -1.0] {
            let t = field.follow(Point::new(148.5 + r, 115.), sense);
            assert_eq!(t.end, End::Closed, "{r}");
            assert!((t.stop - t.points[0]).hypot() < CLOSES_MM);
            assert!((polyline::length(&t.points) - std::f64::consts::TAU * r).abs() < 0.02 + 1e-3 * r);
            // Out of the page: anticlockwise as seen.
            assert_eq!(t.points[3].y < 115.0, sense > 0.0);
        }
    }
}

/// Beside a magnet the lines round a wire are spirals in the flat cut: drawn for 900 mm they were a smear.
#[test]
fn of_a_spiral_one_turn_is_drawn() {
    let wire = source("w", Kind::Wire { current_a: 100., out: true }, 100., 0.);
    let kind = Kind::Bar { length: 40., width: 10., thickness: 5., remanence_mt: 5., pole_inset: 0.0 };
    let field = panel(vec![wire, source("m", kind, 190., 0.)]).field();
    let from = Point::new(145., 115.);
    let (whole, turn) = (field.follow(from, 1.0), field.follow_one_turn(from, 1.0));
    assert_eq!((whole.end, turn.end), (End::Long, End::Round));
    // Round the wire once and not much farther.
    let length = polyline::length(&turn.points);
    assert!(length > 250.0 && length < 400.0, "{length}");
    assert_eq!(turn.points, whole.points[..turn.points.len()]);
    // Near the wire the field is as good as the wire's own, and rings close.
    assert_eq!(field.follow_one_turn(Point::new(106., 115.), 1.0).end, End::Closed);
}

#[test]
fn lines_run_through_a_coil_and_close() {
    let coil = Kind::Coil { length: 80., diameter: 30., turns: 200., current_a: 1.5 };
    for deg in [0.0, 37.0] {
        let p = panel(vec![source("c", coil.clone(), 148.5, deg)]);
        let field = p.field();
        for v in [11.0, 12.0, 13.5, -13.0] {
            let t = field.follow(p.sources[0].place(0., v), 1.0);
            assert_eq!(t.end, End::Closed, "{deg} {v} {:?}", t.stop);
        }
        let axis = field.follow(p.sources[0].centre, 1.0);
        assert_eq!(axis.end, End::Frame);
        assert!((axis.points[1] - axis.points[0]).dot(towards(deg)) > 0.0);
    }
}

/// Two points within 5 mm of the frame are neither marked nor listed: once eight lines met in them all the same.
#[test]
fn no_separatrix_leads_to_a_point_that_is_not_marked() {
    for name in ["unlike-poles", "like-poles", "four-bars", "wires-alike"] {
        let text = crate::class::arrangements::find(name).unwrap().worksheet;
        let sheet = super::super::Worksheet::parse(name.as_ref(), text).unwrap();
        let field = sheet.panels[0].field();
        let all = field.separatrices(field.neutral_points());
        assert!(all.iter().all(|s| field.neutral_points().contains(&s.neutral)), "{name}");
        assert_eq!(all.is_empty(), field.neutral_points().is_empty(), "{name}");
    }
}

/// Between like poles: two run out along the mirror line, two come in along the axis.
#[test]
fn four_separatrices_leave_a_saddle() {
    let field = panel(vec![bar("a", 88., 0.), bar("b", 209., 180.)]).field();
    let all = field.separatrices(field.neutral_points());
    assert_eq!(all.len(), 4);
    for s in &all {
        assert_eq!(s.trace.points[0], field.neutral_points()[0]);
        if s.outwards {
            assert_eq!(s.trace.end, End::Frame);
            assert!(s.trace.points.iter().all(|p| (p.x - 148.5).abs() < 1e-6));
        } else {
            assert!(matches!(s.trace.end, End::Source(_)));
            assert!(s.trace.points.iter().all(|p| (p.y - 115.).abs() < 1e-6));
        }
    }
    // A star of like poles has a node in its middle: no separatrix of its own.
    let star = [(90.0, 148.5, 70.0), (210.0, 109.528_857, 137.5), (330.0, 187.471_143, 137.5)];
    let star =
        star.map(|(at, x, y)| Source { centre: Point::new(x, y), ..bar(&format!("b{at}"), x, at + 180.0) });
    let field = panel(star.to_vec()).field();
    assert_eq!((field.neutral_points().len(), field.separatrices(field.neutral_points()).len()), (4, 12));
}

/// With the N end to the south both neutral points lie on the axis, and every separatrix has a far end.
#[test]
fn separatrices_end_somewhere() {
    let weak = Kind::Bar { length: 50., width: 10., thickness: 10., remanence_mt: 20., pole_inset: 0.0 };
    let earth = Some(Earth { horizontal_ut: 18., north_deg: 0. });
    let field = Panel { earth, ..panel(vec![source("m", weak, 148.5, 180.)]) }.field();
    assert_eq!(field.neutral_points().len(), 2);
    let all = field.separatrices(field.neutral_points());
    assert_eq!(all.len(), 8);
    assert!(all.iter().all(|s| s.trace.end != End::Long && s.trace.points.len() > 10));
}
