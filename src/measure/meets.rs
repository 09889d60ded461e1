//! `meets.count`: places where lines cross or touch. The reader has seen the ink and says how sure each is;
//! here they are cut to what counts, and what is one place to the eye is made one.

use super::ends::Ends;
use super::region::{Region, Traced};
use super::worlds::Reading;
use crate::drawing::{Drawing, MeetKind};
use crate::geometry::Point;
use crate::geometry::polyline::distance;

/// Places of the same two lines within this are one (contract).
const SAME_MM: f64 = 4.0;
/// White between two strokes that is too little to part a touch: what the definition leaves open (contract).
const NEAR_MM: f64 = 0.6;
/// The joint of a closed line lies within this of its ends, or within [`JOINT_SHARE`] of its length (contract).
const JOINT_MM: f64 = 6.0;
const JOINT_SHARE: f64 = 0.1;

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
    for m in drawing.meets.iter().filter(|m| region.counts(m.at)) {
        let (Some(a), Some(b)) = (find(m.lines.0), find(m.lines.1)) else { continue };
        let lines = (a.min(b), a.max(b));
        let joint = a == b && near_ends(&region.lines[a], m.at);
        all.push(Place { at: m.at, kind: m.kind, lines, sure: m.sure, joint });
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

fn near_ends(line: &Traced, at: Point) -> bool {
    let reach = JOINT_MM.max(JOINT_SHARE * line.counted_mm);
    [line.points.first(), line.points.last()].into_iter().flatten().any(|e| (*e - at).hypot() < reach)
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

/// The part of line `a` round a place in which no more white than [`NEAR_MM`] parts it from `b`.
fn side_by_side<'a>(a: &'a Traced, b: &Traced, at: Point) -> &'a [Point] {
    let reach = (a.line.width_mm + b.line.width_mm) / 2.0 + NEAR_MM;
    let away = |i: &usize| (a.points[*i] - at).hypot2();
    let Some(middle) = (0..a.points.len()).min_by(|i, j| away(i).total_cmp(&away(j))) else { return &[] };
    let beside = |i: &usize| distance(a.points[*i], &b.points) <= reach;
    let until = (middle..a.points.len()).take_while(beside).last().map_or(middle, |i| i + 1);
    let from = (0..middle).rev().take_while(beside).last().unwrap_or(middle);
    &a.points[from..until]
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
