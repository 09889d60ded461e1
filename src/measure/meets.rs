//! `meets.count`: places where lines cross or touch. The reader has seen the ink and says how sure each is;
//! here they are cut to what counts, and what is one place to the eye is made one.

use super::ends::Ends;
use super::region::{Region, STEP_MM, Traced};
use super::worlds::Reading;
use crate::drawing::{Drawing, MeetKind, Meeting};
use crate::geometry::polyline::{distance, length};
use crate::geometry::{Point, Vec2};

/// Places of the same two lines within this are one (contract).
const SAME_MM: f64 = 4.0;
/// The joint of a closed line lies within this of its ends, or within [`JOINT_SHARE`] of the length of the piece
/// it is in (contract).
const JOINT_MM: f64 = 6.0;
const JOINT_SHARE: f64 = 0.1;

/// A meeting's place is read to about this, mm (guessed); so many places round it are looked at.
const READ_MM: f64 = 0.5;
const READ_LOOKS: usize = 8;
/// A place is on the side of the edge where it was read with at least this chance.
const AS_READ: f64 = 0.55;

/// One meeting place.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Place {
    pub at: Point,
    pub kind: MeetKind,
    /// Indices into [`Region::lines`], the smaller first.
    pub lines: (usize, usize),
    pub sure: f64,
    /// It would be the joint, if the line (meeting itself) is closed.
    pub joint: bool,
}

/// The drawing's meetings that count, each place once, in the order of the lines.
pub fn places(region: &Region, drawing: &Drawing) -> Vec<Place> {
    let find = |index: usize| region.lines.iter().position(|l| l.index == index);
    let mut all: Vec<Place> = Vec::new();
    for m in &drawing.meets {
        let Some((at, counting)) = where_it_counts(region, m) else { continue };
        let (Some(a), Some(b)) = (find(m.lines.0), find(m.lines.1)) else { continue };
        let lines = (a.min(b), a.max(b));
        let joint = a == b && near_ends(&region.lines[a], at);
        all.push(Place { at, kind: m.kind, lines, sure: m.sure * counting, joint });
    }
    // Crossings before touches, the surer first: a touch is taken up by the crossing it holds.
    all.sort_by(|p, q| {
        let key = |p: &Place| (p.lines, p.kind == MeetKind::Touch);
        key(p).cmp(&key(q)).then(q.sure.total_cmp(&p.sure))
    });
    let mut kept: Vec<Place> = Vec::new();
    for p in all {
        match kept.iter_mut().find(|k| k.lines == p.lines && same(region, k, &p)) {
            // The same ink seen twice: one place, as sure as the surer.
            Some(k) => k.sure = k.sure.max(p.sure),
            None => kept.push(p),
        }
    }
    kept
}

/// A meeting's place, and the chance that it lies where measures are taken; `None` if that is 0. Beside the edge it hangs on
/// how well the place was read.
fn where_it_counts(region: &Region, m: &Meeting) -> Option<(Point, f64)> {
    let at = middle_that_counts(region, m).unwrap_or(m.at);
    let turns = (0..READ_LOOKS).map(|k| std::f64::consts::TAU * k as f64 / READ_LOOKS as f64);
    let round = turns.map(|t| at + READ_MM * Vec2::new(t.cos(), t.sin()));
    let counting = std::iter::once(at).chain(round).filter(|p| region.counts(*p)).count();
    let share = counting as f64 / (READ_LOOKS + 1) as f64;
    // The likeliest reading takes it where it was read.
    let share = if region.counts(at) { share.max(AS_READ) } else { share.min(1.0 - AS_READ) };
    (counting > 0).then_some((at, share))
}

/// A crossing's place, or the middle of that part of a touch that lies where measures are taken.
fn middle_that_counts(region: &Region, m: &Meeting) -> Option<Point> {
    let [from, to] = m.run;
    let steps = ((to - from).hypot() / STEP_MM).ceil().max(1.0) as usize;
    if m.kind == MeetKind::Cross || steps == 1 {
        return region.counts(m.at).then_some(m.at);
    }
    let along = (0..=steps).map(|k| from.lerp(to, k as f64 / steps as f64));
    let counting: Vec<Point> = along.filter(|p| region.counts(*p)).collect();
    match counting[..] {
        [] => None,
        _ if counting.len() == steps + 1 => Some(m.at),
        _ => Some(counting[counting.len() / 2]),
    }
}

fn near_ends(line: &Traced, at: Point) -> bool {
    let reach = JOINT_MM.max(JOINT_SHARE * length(piece_at(line, at).0));
    [line.points.first(), line.points.last()].into_iter().flatten().any(|e| (*e - at).hypot() < reach)
}

/// The piece of a line that comes nearest to a place, and the index in it of the point that does.
fn piece_at<'a>(line: &'a Traced, at: Point) -> (&'a [Point], usize) {
    let pieces = line.pieces.iter().map(|r| &line.points[r.clone()]);
    let points = pieces.flat_map(|q| (0..q.len()).map(move |i| (q, i)));
    let away = |(q, i): &(&[Point], usize)| (q[*i] - at).hypot2();
    points.min_by(|a, b| away(a).total_cmp(&away(b))).unwrap_or((&[], 0))
}

fn same(region: &Region, kept: &Place, p: &Place) -> bool {
    if (kept.at - p.at).hypot() <= SAME_MM {
        return true;
    }
    // A touch is as long as the strokes run side by side; a crossing near any part of it is in it.
    p.kind == MeetKind::Touch && kept.kind == MeetKind::Cross && {
        let (a, b) = (&region.lines[p.lines.0], &region.lines[p.lines.1]);
        p.lines.0 != p.lines.1 && side_by_side(a, b, p.at).iter().any(|q| (*q - kept.at).hypot() < SAME_MM)
    }
}

/// The part of line `a` round a place in which no white parts it from `b`.
fn side_by_side<'a>(a: &'a Traced, b: &Traced, at: Point) -> &'a [Point] {
    let reach = (a.line.width_mm + b.line.width_mm) / 2.0;
    let (points, middle) = piece_at(a, at);
    let beside = |i: &usize| distance(points[*i], &b.points) <= reach;
    let until = (middle..points.len()).take_while(beside).last().map_or(middle, |i| i + 1);
    let from = (0..middle).rev().take_while(beside).last().unwrap_or(middle);
    &points[from..until]
}

/// Whether a place counts in a reading.
pub fn counts(place: &Place, there: bool, ends: &[Ends], reading: &Reading) -> bool {
    let (a, b) = place.lines;
    there && reading.lines[a] && reading.lines[b] && !(place.joint && ends[a].closed(reading.ends[a]))
}

/// `meets.count`.
pub fn count(places: &[Place], ends: &[Ends], reading: &Reading) -> f64 {
    places.iter().zip(&reading.meets).filter(|(p, there)| counts(p, **there, ends, reading)).count() as f64
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::measure::made;

    fn counted(
        lines: Vec<Vec<Point>>,
        meets: &[(f64, f64, MeetKind, usize, usize, f64)],
    ) -> (f64, Vec<Place>) {
        let panel = made::dipole();
        let field = panel.field();
        let mut d = made::drawing(lines);
        let meet = |m: &(f64, f64, MeetKind, usize, usize, f64)| Meeting {
            at: Point::new(m.0, m.1),
            run: [Point::new(m.0, m.1); 2],
            kind: m.2,
            lines: (m.3, m.4),
            sure: m.5,
        };
        d.meets = meets.iter().map(meet).collect();
        let region = Region::new(&panel, &field, &d);
        let places = places(&region, &d);
        let ends: Vec<Ends> = region.lines.iter().map(|l| Ends::new(&region, l)).collect();
        (count(&places, &ends, &made::reading(&region, &d)), places)
    }

    use MeetKind::{Cross, Touch};

    #[test]
    fn places_of_the_same_two_lines_within_4_mm_are_one() {
        let lines =
            || vec![made::straight((20.0, 40.0), (80.0, 40.0)), made::straight((20.0, 35.0), (80.0, 45.0))];
        let two = |x: f64| [(50.0, 40.0, Cross, 0, 1, 0.9), (x, 40.0, Cross, 1, 0, 0.8)];
        assert_eq!(counted(lines(), &two(53.9)).0, 1.0);
        assert_eq!(counted(lines(), &two(54.1)).0, 2.0);
    }

    #[test]
    fn a_touch_that_holds_a_crossing_is_that_crossing() {
        // Within 0.5 mm of each other for 12 mm to either side of where they cross, and once more at the far end.
        let slow = made::straight((20.0, 40.0), (90.0, 42.8));
        let lines = || vec![made::straight((20.0, 41.2), (90.0, 41.2)), slow.clone()];
        let (count, places) =
            counted(lines(), &[(50.0, 41.2, Cross, 0, 1, 0.3), (57.0, 41.3, Touch, 0, 1, 0.9)]);
        assert_eq!((count, places.len()), (1.0, 1));
        assert_eq!((places[0].kind, places[0].sure), (Cross, 0.9));
        let (count, _) = counted(lines(), &[(50.0, 41.2, Cross, 0, 1, 0.9), (85.0, 42.0, Touch, 0, 1, 0.9)]);
        assert_eq!(count, 2.0);
    }

    #[test]
    fn only_what_counts_is_counted() {
        let lines =
            || vec![made::straight((95.0, 60.0), (95.0, 140.0)), made::straight((60.0, 97.0), (140.0, 97.0))];
        let short = made::straight((60.0, 95.0), (63.0, 99.0));
        // Near the source; on a line too short; unlikely; a line that is not there.
        let (count, places) = counted(
            [lines(), vec![short]].concat(),
            &[(98.0, 97.0, Cross, 0, 1, 0.9), (61.5, 97.0, Cross, 1, 2, 0.9), (95.0, 80.0, Touch, 0, 1, 0.4)],
        );
        assert_eq!((count, places.len()), (0.0, 1));
        assert_eq!(counted(lines(), &[(95.0, 97.0, Cross, 0, 7, 0.9)]).0, 0.0);
    }

    #[test]
    fn beside_the_edge_of_what_counts_a_place_is_doubted() {
        let lines =
            || vec![made::straight((60.0, 97.0), (140.0, 97.0)), made::straight((60.0, 97.5), (140.0, 97.5))];
        let sure = |x: f64| counted(lines(), &[(x, 97.0, Cross, 0, 1, 0.96)]).1.first().map(|p| p.sure);
        // From the frame's left inwards until the magnet's surroundings: the last place that counts for sure, in tenths.
        let edge = (600..1000).map(|k| 0.1 * f64::from(k)).rfind(|x| sure(*x) == Some(0.96)).unwrap();
        let (inside, outside) = (sure(edge + 0.4).unwrap(), sure(edge + 0.7).unwrap());
        assert!(0.5 < inside && inside < 0.9 && outside < 0.5, "{edge} {inside} {outside}");
        assert_eq!(sure(edge + 1.5), None);
    }

    #[test]
    fn the_joint_of_a_closed_line_is_no_meeting() {
        let ring = || vec![made::arc(40.0, 2.0, 365.0)];
        let open = || vec![made::arc(40.0, 2.0, 300.0)];
        let at = made::MIDDLE + 40.0 * crate::geometry::towards(3.0);
        let meet = [(at.x, at.y, Cross, 0, 0, 0.9)];
        assert_eq!((counted(ring(), &meet).0, counted(open(), &meet).0), (0.0, 1.0));
        let far = made::MIDDLE + 40.0 * crate::geometry::towards(150.0);
        assert_eq!(counted(ring(), &[(far.x, far.y, Touch, 0, 0, 0.9)]).0, 1.0);
    }
}
