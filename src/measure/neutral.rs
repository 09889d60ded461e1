//! `neutral.through`: lines that run straight on through a neutral point, where the field has no direction.
//! `neutral.marked`: neutral points that were marked by a small cross, dot or ring.
//!
//! Through: nearer than 2.5 mm to it, and turning by less than 40 degrees from 8 mm before to 8 mm after. Marked: within
//! 6 mm.

use super::Id;
use super::region::{Region, STEP_MM, Traced};
use super::worlds::Reading;
use crate::drawing::{Clutter, Drawing, Line};
use crate::geometry::polyline::{distance, length};
use crate::geometry::{Point, turn_deg};

/// A mark belongs to a neutral point when it lies nearer than this (definition of the measure).
const MARKED_MM: f64 = 6.0;

/// A line this short may be a stroke of a large cross or of a label, mm: twice what a small one's strokes measure.
const SHORT_LINE_MM: f64 = 18.0;

/// A line passes through a neutral point when it comes nearer than this (contract).
const THROUGH_MM: f64 = 2.5;
/// It runs on when it turns by less (contract).
const STRAIGHT_DEG: f64 = 40.0;
/// Points from the nearest one to the inner and outer ends of the two parts whose ways are compared:
/// 6 to 10 mm before and after (contract).
const INNER: usize = (6.0 / STEP_MM) as usize;
const OUTER: usize = (10.0 / STEP_MM) as usize;
/// How well a line's place is read, one standard deviation. Empirical.
const PLACE_SD_MM: f64 = 0.3;

/// How near each line that runs straight on comes to a neutral point, mm; `None` where there is none in the panel.
pub fn nearest_mm(region: &Region) -> Option<Vec<f64>> {
    let points = region.field.neutral_points();
    (!points.is_empty()).then(|| {
        let least = |l: &Traced| points.iter().map(|q| passes(l, *q)).fold(f64::INFINITY, f64::min);
        region.lines.iter().map(least).collect()
    })
}

/// The least distance of the line from the point; infinite where it ends near it or turns away.
fn passes(line: &Traced, q: Point) -> f64 {
    let p = &line.points;
    let away = |i: &usize| (p[*i] - q).hypot2();
    let Some(i) = (0..p.len()).min_by(|a, b| away(a).total_cmp(&away(b))) else { return f64::INFINITY };
    if i < OUTER || i + OUTER >= p.len() {
        return f64::INFINITY;
    }
    let (before, after) = (p[i - INNER] - p[i - OUTER], p[i + OUTER] - p[i + INNER]);
    let turn = turn_deg(before, after).abs();
    if turn < STRAIGHT_DEG { away(&i).sqrt() } else { f64::INFINITY }
}

/// `neutral.through` in a reading.
pub fn through(nearest_mm: &[f64], reading: &Reading) -> f64 {
    let passes =
        |(i, d): &(usize, &f64)| reading.lines[*i] && **d + PLACE_SD_MM * reading.aside[*i] < THROUGH_MM;
    nearest_mm.iter().enumerate().filter(passes).count() as f64
}

/// What lies about each neutral point.
pub struct About {
    /// How far each of the drawing's small marks lies from it, mm.
    marks_mm: Vec<f64>,
    /// Ink that may be such a mark, though it was read as something else or as nothing, lies within [`MARKED_MM`].
    doubtful: bool,
}

/// For each neutral point what lies about it; `None` where there is none in the panel.
pub fn about(region: &Region, drawing: &Drawing) -> Option<Vec<About>> {
    let points = region.field.neutral_points();
    // A mark that touches a line is read as a head or a meeting, a long one as lines, a round one as a plotted dot.
    let doubtful = |q: Point| {
        let near = |p: Point| p.distance(q) < MARKED_MM;
        let short = |l: &Line| length(&l.points) < SHORT_LINE_MM && distance(q, &l.points) < MARKED_MM;
        let heads = drawing.lines.iter().flat_map(|l| &l.arrows).map(|a| a.at);
        let dropped = drawing.dropped.iter().filter(|d| d.why == Clutter::ShortStroke).map(|d| d.at);
        let rest = drawing.meets.iter().map(|m| m.at).chain(drawing.dots.iter().map(|d| d.at));
        heads.chain(dropped).chain(rest).any(near) || drawing.lines.iter().any(short)
    };
    let one = |q: &Point| About {
        marks_mm: drawing.marks.iter().map(|m| m.at.distance(*q)).collect(),
        doubtful: doubtful(*q),
    };
    (!points.is_empty()).then(|| points.iter().map(one).collect())
}

/// `neutral.marked` in a reading: doubtful ink by a neutral point may be a mark in every other reading.
pub fn marked(about: &[About], reading: &Reading) -> f64 {
    let noise = reading.noise[Id::NeutralMarked as usize];
    let near = |(d, there): (&f64, &bool)| *there && d + PLACE_SD_MM * noise < MARKED_MM;
    let is_marked =
        |a: &&About| a.marks_mm.iter().zip(&reading.marks).any(near) || (a.doubtful && noise < 0.0);
    about.iter().filter(is_marked).count() as f64 / about.len() as f64
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::drawing::{Arrow, Dot, Dropped, Mark, MarkKind, MeetKind, Meeting};
    use crate::measure::made;
    use crate::worksheet::{Earth, Kind};

    /// On a dipole's axis B = 2 k m / r³, k = 1e5 mT mm³/(A m²): against 20 microtesla that is 0 at 60 mm
    /// for m = 0.0216 A m².
    #[test]
    fn lines_through_a_neutral_point() {
        let earth = Earth { horizontal_ut: 20.0, north_deg: 180.0 };
        let panel = made::with_source(Kind::Dipole { moment_am2: 0.0216 }, Some(earth));
        let field = panel.field();
        let neutral = Point::new(made::MIDDLE.x + 60.0, made::MIDDLE.y);
        assert!(
            field.neutral_points().iter().any(|p| (*p - neutral).hypot() < 1e-6),
            "{:?}",
            field.neutral_points()
        );
        let bent = |deg: f64| {
            let out = 15.0 * crate::geometry::towards(90.0 + deg);
            vec![Point::new(neutral.x, neutral.y + 15.0), neutral, neutral + out]
        };
        let upright = |off: f64| made::straight((neutral.x + off, 80.0), (neutral.x + off, 120.0));
        let lines = vec![
            upright(0.0),
            upright(2.4),
            upright(-2.6),
            bent(30.0),
            bent(50.0),
            made::straight((neutral.x, 95.0), (neutral.x, 130.0)),
        ];
        let d = made::drawing(lines);
        let region = Region::new(&panel, &field, &d);
        let near = nearest_mm(&region).unwrap();
        let mut reading = made::reading(&region, &d);
        assert_eq!(through(&near, &reading), 3.0, "{near:?}");
        reading.aside.fill(-1.0);
        assert_eq!(through(&near, &reading), 4.0);
        reading.lines[0] = false;
        assert_eq!(through(&near, &reading), 3.0);
    }

    #[test]
    fn without_neutral_points_there_is_nothing_to_count() {
        let panel = made::dipole();
        let field = panel.field();
        let d = made::drawing(vec![]);
        assert_eq!(nearest_mm(&Region::new(&panel, &field, &d)), None);
    }

    /// Unlike poles have none between them; a dipole against the Earth's field has two, at the same distance to either side.
    #[test]
    fn small_marks_belong_to_the_neutral_point_within_6_mm() {
        let earth = Earth { horizontal_ut: 20.0, north_deg: 180.0 };
        let panel = made::with_source(Kind::Dipole { moment_am2: 0.0216 }, Some(earth));
        let field = panel.field();
        let points = field.neutral_points().to_vec();
        assert_eq!(points.len(), 2);
        let share = |marks: &[(Point, f64)], dropped: &[Point], noise: f64| {
            let mut d = made::drawing(vec![]);
            let mark = |(at, sure): &(Point, f64)| Mark {
                at: *at,
                kind: MarkKind::Cross,
                size_mm: 5.0,
                sure: *sure,
            };
            d.marks = marks.iter().map(mark).collect();
            d.dropped = dropped.iter().map(|at| Dropped { at: *at, why: Clutter::ShortStroke }).collect();
            let region = Region::new(&panel, &field, &d);
            let mut reading = made::reading(&region, &d);
            reading.noise[Id::NeutralMarked as usize] = noise;
            marked(&about(&region, &d).unwrap(), &reading)
        };
        let off = |p: Point, mm: f64| Point::new(p.x, p.y + mm);
        assert_eq!(share(&[], &[], 0.0), 0.0);
        assert_eq!(share(&[(off(points[0], 5.9), 0.9)], &[], 0.0), 0.5);
        assert_eq!(share(&[(off(points[0], 6.1), 0.9), (points[1], 0.3)], &[], 0.0), 0.0);
        assert_eq!(share(&[(points[0], 0.9), (off(points[0], 2.0), 0.9), (points[1], 0.9)], &[], 0.0), 1.0);
        // Ink beside one that was read as nothing.
        assert_eq!((share(&[], &[points[0]], 1.0), share(&[], &[points[0]], -1.0)), (0.0, 0.5));
    }

    /// A large cross read as two lines that meet, a mark on a line read as its head, a round one as a plotted dot: each may be
    /// the mark. A long line that passes is none.
    #[test]
    fn a_mark_that_was_read_as_something_else_is_not_surely_missing() {
        let earth = Earth { horizontal_ut: 20.0, north_deg: 180.0 };
        let panel = made::with_source(Kind::Dipole { moment_am2: 0.0216 }, Some(earth));
        let field = panel.field();
        let q = field.neutral_points()[0];
        let doubtful = |d: &Drawing| about(&Region::new(&panel, &field, d), d).unwrap()[0].doubtful;
        let stroke = |long: f64| made::straight((q.x - long / 2.0, q.y + 3.0), (q.x + long / 2.0, q.y + 3.0));
        let passing = made::drawing(vec![stroke(60.0)]);
        assert!(!doubtful(&passing));
        assert!(doubtful(&made::drawing(vec![stroke(12.0)])));
        let mut head = passing.clone();
        let towards = crate::geometry::Vec2::new(1.0, 0.0);
        head.lines[0].arrows.push(Arrow {
            at: Point::new(q.x, q.y + 3.0),
            towards,
            sure: 0.9,
            way_sure: 0.9,
        });
        let mut dot = passing.clone();
        dot.dots.push(Dot { at: q, radius_mm: 0.6, sure: 0.9 });
        let mut meets = passing;
        let place = Meeting { at: q, run: [q; 2], kind: MeetKind::Cross, lines: (0, 0), sure: 0.9 };
        meets.meets.push(place);
        assert!(doubtful(&head) && doubtful(&dot) && doubtful(&meets));
    }
}
