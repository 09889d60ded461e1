//! Field lines run on through a coil: what the reader parted where they bend at its windings is one line.
//!
//! The windings are a sheet of current, across which the field along the coil's axis jumps (D. J. Griffiths,
//! Introduction to Electrodynamics, section on magnetostatic boundary conditions; from memory). A line that is drawn through
//! them has a corner there, sharper than the reader takes for one stroke's.

use std::borrow::Cow;

use crate::drawing::{Drawing, Line};
use crate::geometry::{Point, polyline};
use crate::worksheet::{Outline, Panel, Source};

/// An end this near to the windings lies on them, mm. Empirical, as the lengths below: the reader loses up to a millimetre
/// of a stroke at print, and exact lines on a printed coil were parted by less than 2.
const ON_MM: f64 = 2.5;
/// Ends this near to each other are those of one line, mm.
const TOGETHER_MM: f64 = 2.5;
/// On which side of the windings a line lies is told so far from its end, mm.
const TOLD_AT_MM: f64 = 4.0;
/// A meeting of two pieces this near to where they were joined is the corner, mm.
const CORNER_MM: f64 = 4.0;

/// A line's end on a coil's windings.
#[derive(Clone, Copy)]
struct End {
    line: usize,
    at: Point,
    inside: bool,
}

/// The drawing with the lines joined that a coil's windings parted.
pub fn join<'a>(panel: &Panel, drawing: Cow<'a, Drawing>) -> Cow<'a, Drawing> {
    let coils: Vec<Outline> = panel.sources.iter().map(Source::outline).filter(|o| o.open).collect();
    let pairs: Vec<(End, End)> = coils.iter().flat_map(|coil| pairs(&ends(coil, &drawing.lines))).collect();
    if pairs.is_empty() {
        return drawing;
    }
    let mut joined = drawing.into_owned();
    // Where each line went.
    let mut place: Vec<usize> = (0..joined.lines.len()).collect();
    for (a, b) in &pairs {
        let (into, from) = (place[a.line], place[b.line]);
        joined.meets.retain(|m| {
            let these = [m.lines.0, m.lines.1].map(|l| place[l]);
            let both = these == [into, from] || these == [from, into];
            !(both && m.at.distance(a.at) < CORNER_MM)
        });
        if into == from {
            continue;
        }
        let other = joined.lines[from].clone();
        let line = &mut joined.lines[into];
        let (long, more) = (polyline::length(&line.points), polyline::length(&other.points));
        line.width_mm = (line.width_mm * long + other.width_mm * more) / (long + more).max(f64::MIN_POSITIVE);
        line.points = chained(std::mem::take(&mut line.points), other.points, a.at, b.at);
        line.arrows.extend(other.arrows);
        (line.sure, line.there) = (line.sure.min(other.sure), line.there.max(other.there));
        place.iter_mut().filter(|p| **p == from).for_each(|p| *p = into);
    }
    let kept: Vec<usize> = (0..place.len()).filter(|&i| place[i] == i).collect();
    let number = |line: usize| kept.binary_search(&place[line]).unwrap_or(line);
    for meet in &mut joined.meets {
        meet.lines = (number(meet.lines.0), number(meet.lines.1));
    }
    let mut places = place.iter().enumerate();
    joined.lines.retain(|_| places.next().is_some_and(|(i, p)| i == *p));
    Cow::Owned(joined)
}

/// One chain of two, joined where each has the end that is nearest to the given place.
fn chained(mut a: Vec<Point>, mut b: Vec<Point>, end_a: Point, end_b: Point) -> Vec<Point> {
    let first_is = |line: &[Point], at: Point| line[0].distance(at) < line[line.len() - 1].distance(at);
    if first_is(&a, end_a) {
        a.reverse();
    }
    if !first_is(&b, end_b) {
        b.reverse();
    }
    a.extend(b);
    a
}

/// The ends of lines that lie on a coil's windings.
fn ends(coil: &Outline, lines: &[Line]) -> Vec<End> {
    let mut ends = Vec::new();
    for (line, l) in lines.iter().enumerate().filter(|(_, l)| l.points.len() > 1) {
        for last in [false, true] {
            let at = if last { l.points[l.points.len() - 1] } else { l.points[0] };
            if coil.boundary_distance(at) < ON_MM {
                let along = if last { polyline::length(&l.points) - TOLD_AT_MM } else { TOLD_AT_MM };
                let inside = polyline::point_at(&l.points, along.max(0.0)).is_some_and(|p| coil.contains(p));
                ends.push(End { line, at, inside });
            }
        }
    }
    ends
}

/// Ends inside and outside that lie together, the nearest first; each in one pair at most.
fn pairs(ends: &[End]) -> Vec<(End, End)> {
    let mut near: Vec<(f64, usize, usize)> = Vec::new();
    for (i, a) in ends.iter().enumerate().filter(|(_, e)| e.inside) {
        for (j, b) in ends.iter().enumerate().filter(|(_, e)| !e.inside) {
            let apart = a.at.distance(b.at);
            if apart < TOGETHER_MM && a.line != b.line {
                near.push((apart, i, j));
            }
        }
    }
    near.sort_by(|p, q| p.0.total_cmp(&q.0).then((p.1, p.2).cmp(&(q.1, q.2))));
    let mut used = vec![false; ends.len()];
    let mut pairs = Vec::new();
    for (_, i, j) in near {
        if !used[i] && !used[j] {
            (used[i], used[j]) = (true, true);
            pairs.push((ends[i], ends[j]));
        }
    }
    pairs
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::drawing::{Arrow, MeetKind, Meeting};
    use crate::geometry::Vec2;
    use crate::measure::{made, measure_panel};
    use crate::worksheet::Kind;

    fn coil() -> Panel {
        made::with_source(Kind::Coil { length: 80., diameter: 40., turns: 200., current_a: 1. }, None)
    }

    fn way(places: &[(f64, f64)]) -> Vec<Point> {
        let points: Vec<Point> = places.iter().map(|&(x, y)| Point::new(x, y)).collect();
        polyline::resample(&points, 0.5)
    }

    /// x 60 to 140, y 80 to 120. One line inside, drawn on to both sides, and one that closes; where they were parted they touch.
    #[test]
    fn lines_through_the_windings_are_whole_again() {
        let panel = coil();
        let mut drawing = made::drawing(vec![
            way(&[(70.0, 80.2), (80.0, 85.0), (120.0, 85.0), (130.0, 80.3)]),
            way(&[(130.5, 79.4), (170.0, 20.0)]),
            way(&[(30.0, 20.0), (69.6, 79.3)]),
            way(&[(75.0, 119.8), (100.0, 110.0), (125.0, 119.8)]),
            way(&[(75.3, 120.6), (100.0, 150.0), (125.2, 120.6)]),
        ]);
        drawing.lines[1].arrows.push(Arrow {
            at: Point::new(150.0, 50.0),
            towards: Vec2::new(0.55, -0.83),
            sure: 0.9,
            way_sure: 0.9,
        });
        let at = Point::new(130.0, 80.0);
        let corner = Meeting { at, run: [at; 2], kind: MeetKind::Touch, lines: (0, 1), sure: 0.9 };
        let elsewhere = Point::new(100.0, 140.0);
        let real = Meeting { at: elsewhere, run: [elsewhere; 2], lines: (4, 1), ..corner };
        drawing.meets = vec![corner, real];
        let joined = join(&panel, Cow::Borrowed(&drawing));
        assert_eq!(joined.lines.len(), 2);
        let long: Vec<f64> = joined.lines.iter().map(|l| polyline::length(&l.points)).collect();
        assert!((long[0] - 205.0).abs() < 5.0 && (long[1] - 131.0).abs() < 5.0, "{long:?}");
        assert_eq!((joined.lines[0].arrows.len(), joined.meets.len()), (1, 1));
        assert_eq!(joined.meets[0].lines, (1, 0));
        let found = measure_panel(&panel, &panel.field(), &drawing, 1);
        let value = |name| found.measures.get(name).unwrap().value;
        assert_eq!((value("lines.count"), value("ends.open")), (Some(2.0), Some(0.0)));
    }

    #[test]
    fn lines_that_end_apart_on_the_windings_or_on_a_magnet_stay_two() {
        let apart = vec![
            way(&[(70.0, 80.2), (100.0, 85.0), (130.0, 80.3)]),
            way(&[(135.0, 79.4), (170.0, 20.0)]),
            way(&[(128.0, 79.4), (100.0, 20.0)]),
            way(&[(132.0, 79.4), (150.0, 20.0)]),
        ];
        let drawing = made::drawing(apart);
        assert_eq!(join(&coil(), Cow::Borrowed(&drawing)).lines.len(), 3);
        let bar = made::with_source(
            Kind::Bar { length: 80.0, width: 40.0, thickness: 10.0, remanence_mt: 400.0, pole_inset: 0.0 },
            None,
        );
        assert_eq!(join(&bar, Cow::Borrowed(&drawing)).lines.len(), 4);
    }
}
