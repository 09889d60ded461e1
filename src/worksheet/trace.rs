//! Following a line of a panel's field: where it ends, and how it leaves neutral points.

use super::bodies::PanelField;
use crate::field::lines::{self, Step};
use crate::geometry::{Point, Vec2, polyline};
use std::ops::ControlFlow;

/// Longest line that is followed, mm (contract): three times a page.
pub const LONGEST_LINE_MM: f64 = 900.0;
/// Longest spiral that is followed for a picture, mm: turns [`ROUND_MM`] and more apart are at most so long on a sheet of
/// A4.
const LONGEST_SPIRAL_MM: f64 = 12_000.0;
/// Spacing of a followed line's points, mm; also how finely frame and magnets are looked for on the way.
pub const TRACE_STEP_MM: f64 = 0.5;
/// A line that comes this near to a neutral point ends there, mm: nearer its way is no longer defined, and no
/// pencil tells the difference.
const NEUTRAL_REACH_MM: f64 = 0.2;
/// The stop is found to this, mm.
const STOP_TO_MM: f64 = 1e-3;
/// A line that comes back this near to its start is closed, mm.
pub const CLOSES_MM: f64 = 0.01;
/// No line closes sooner than this, mm: shorter than the turn round the smallest ring.
const SHORTEST_TURN_MM: f64 = 4.0;
/// A line that runs this near beside its own earlier turn, mm, for [`ROUND_FOR_MM`], goes round and round. Of a few lines
/// that wind on to the same ring more turns than one would be a smear.
const ROUND_MM: f64 = 3.0;
const ROUND_FOR_MM: f64 = 4.0;
/// Spacing of the places at which that is looked for, mm.
const ROUND_STEP_MM: f64 = 1.0;
/// How far from a neutral point its separatrices begin, mm: so near that the field is as good as linear.
const SEPARATRIX_FROM_MM: f64 = 0.02;

/// Why a followed line stops.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum End {
    /// It leaves the frame.
    Frame,
    /// It meets a source: its index in [`super::Panel::sources`].
    Source(usize),
    /// It runs into a neutral point.
    Neutral,
    /// It comes back to where it began.
    Closed,
    /// It runs beside its own earlier turn: a spiral. Only where one turn is asked for.
    Round,
    /// [`LONGEST_LINE_MM`] without any of these.
    Long,
}

/// A followed line.
#[derive(Clone, Debug, PartialEq)]
pub struct Trace {
    /// From where it began to its stop, at most about [`TRACE_STEP_MM`] apart.
    pub points: Vec<Point>,
    /// Its last point: just beyond the frame, just inside the source, at the neutral point, or back at the start.
    pub stop: Point,
    pub end: End,
}

/// One of the four lines that meet in a neutral point, where two run in and two run out.
#[derive(Clone, Debug, PartialEq)]
pub struct Separatrix {
    pub neutral: Point,
    /// It runs out of the neutral point along the field; else into it.
    pub outwards: bool,
    /// From the neutral point to its other end.
    pub trace: Trace,
}

impl PanelField {
    /// The computed line from `from`, along the field (`sense` > 0) or against it, until it leaves the frame, meets
    /// a source, runs into a neutral point or comes back to its start; [`LONGEST_LINE_MM`] at most. A start outside the
    /// frame or inside a source stops at once.
    pub fn follow(&self, from: Point, sense: f64) -> Trace {
        self.follow_past(from, sense, Past { neutral: None, turns: true })
    }

    /// [`PanelField::follow`] for a picture: of a spiral no more than until it lies on its own earlier turn.
    pub(super) fn follow_one_turn(&self, from: Point, sense: f64) -> Trace {
        self.follow_past(from, sense, Past { neutral: None, turns: false })
    }

    fn follow_past(&self, from: Point, sense: f64, past: Past) -> Trace {
        if let Some(end) = self.end_at(from) {
            return Trace { points: vec![from], stop: from, end };
        }
        let sense = if sense < 0.0 { -1.0 } else { 1.0 };
        let mut walk = Walk { field: self, from, past, points: vec![from], beside: None, end: End::Long };
        let longest = if past.turns { LONGEST_LINE_MM } else { LONGEST_SPIRAL_MM };
        lines::follow(|p| sense * self.direction(p), from, longest, |step| walk.look(step));
        let stop = walk.points[walk.points.len() - 1];
        Trace { points: walk.points, stop, end: walk.end }
    }

    /// The separatrices of these neutral points, point by point; none of a node, where all lines run in. Of a spiral
    /// no more than a turn beside itself.
    pub fn separatrices(&self, of: &[Point]) -> Vec<Separatrix> {
        let mut out = Vec::new();
        for &neutral in of {
            for (along, outwards) in self.saddle_ways(neutral).into_iter().flatten() {
                for way in [along, -along] {
                    let sense = if outwards { 1.0 } else { -1.0 };
                    let past = Past { neutral: Some(neutral), turns: false };
                    let mut trace = self.follow_past(neutral + SEPARATRIX_FROM_MM * way, sense, past);
                    trace.points.insert(0, neutral);
                    out.push(Separatrix { neutral, outwards, trace });
                }
            }
        }
        out
    }

    /// At a saddle the two ways in which the linear field points straight out and straight in.
    fn saddle_ways(&self, p: Point) -> Option<[(Vec2, bool); 2]> {
        /// Half the base of the difference quotients, mm.
        const SHIFT_MM: f64 = 1e-3;
        let (dx, dy) = (Vec2::new(SHIFT_MM, 0.0), Vec2::new(0.0, SHIFT_MM));
        let b = self.b_many(&[p + dx, p - dx, p + dy, p - dy]);
        let [a, c] = [0, 1].map(|k| b[0][k] - b[1][k]);
        let [d, e] = [0, 1].map(|k| b[2][k] - b[3][k]);
        // Eigenvalues of ((a, d), (c, e)): real and of unlike signs at a saddle.
        let (half_trace, det) = (0.5 * (a + e), a * e - c * d);
        if det.is_nan() || det >= 0.0 {
            return None;
        }
        let root = (half_trace * half_trace - det).sqrt();
        let vector = |value: f64| {
            // Of two ways to write it, the one that does not vanish.
            let (u, v) = (Vec2::new(d, value - a), Vec2::new(value - e, c));
            let w = if u.hypot2() > v.hypot2() { u } else { v };
            w / w.hypot()
        };
        let ways = [(vector(half_trace + root), true), (vector(half_trace - root), false)];
        ways.iter().all(|(w, _)| w.is_finite()).then_some(ways)
    }

    /// What a line meets at a place, if anything.
    fn end_at(&self, p: Point) -> Option<End> {
        let f = self.frame();
        if !(p.x > f.x0 && p.x < f.x1 && p.y > f.y0 && p.y < f.y1) {
            return Some(End::Frame);
        }
        self.outlines().iter().position(|o| !o.open && o.contains(p)).map(End::Source)
    }
}

/// What a line is not stopped by.
#[derive(Clone, Copy)]
struct Past {
    /// The neutral point that it comes from.
    neutral: Option<Point>,
    /// Its own earlier turns.
    turns: bool,
}

/// A line on its way.
struct Walk<'a> {
    field: &'a PanelField,
    from: Point,
    past: Past,
    points: Vec<Point>,
    /// Since which point it has run beside its own earlier turn.
    beside: Option<usize>,
    end: End,
}

impl Walk<'_> {
    /// Takes in a step's places until one of them is the end.
    fn look(&mut self, step: &Step) -> ControlFlow<()> {
        let samples = (step.length_mm / TRACE_STEP_MM).ceil().max(1.0);
        let mut before = 0.0;
        for i in 1..=samples as usize {
            let share = i as f64 / samples;
            let p = step.at(share);
            let last = self.points[self.points.len() - 1];
            let found = if let Some(found) = self.field.end_at(p) {
                let p = self.first_beyond(step, before, share);
                Some((p, self.field.end_at(p).unwrap_or(found)))
            } else if let Some(neutral) = self.neutral_between(last, p, step.from_mm + step.length_mm * share)
            {
                Some((neutral, End::Neutral))
            } else {
                self.back_at_start(step, before, share).map(|p| (p, End::Closed))
            };
            if let Some((p, end)) = found {
                self.points.push(p);
                self.end = end;
                return ControlFlow::Break(());
            }
            self.points.push(p);
            before = share;
            if !self.past.turns && self.goes_round() {
                self.end = End::Round;
                return ControlFlow::Break(());
            }
        }
        ControlFlow::Continue(())
    }

    /// Whether it has run beside its own earlier turn for [`ROUND_FOR_MM`]; what lies beside it is then taken off.
    fn goes_round(&mut self) -> bool {
        let n = self.points.len();
        let every = (ROUND_STEP_MM / TRACE_STEP_MM) as usize;
        if !n.is_multiple_of(every) {
            return false;
        }
        let (p, way) = (self.points[n - 1], self.points[n - 1] - self.points[n - 2]);
        // So much earlier that a curve without a turn has gone away, and the same way on: a hairpin's other limb runs back.
        let old = &self.points[..n.saturating_sub((3.0 * ROUND_MM / TRACE_STEP_MM) as usize)];
        let beside = old
            .windows(2)
            .any(|w| w[0].distance_squared(p) < ROUND_MM * ROUND_MM && way.dot(w[1] - w[0]) > 0.0);
        if !beside {
            self.beside = None;
            return false;
        }
        let since = *self.beside.get_or_insert(n);
        let round = (n - since) as f64 * TRACE_STEP_MM >= ROUND_FOR_MM;
        if round {
            // As far as abreast of where it was before.
            self.points.truncate(since + (ROUND_MM / TRACE_STEP_MM) as usize);
        }
        round
    }

    /// The first place of a step, between a share that is free and one that is not, that is not.
    fn first_beyond(&self, step: &Step, mut free: f64, mut beyond: f64) -> Point {
        while (beyond - free) * step.length_mm > STOP_TO_MM {
            let middle = 0.5 * (free + beyond);
            if self.field.end_at(step.at(middle)).is_some() {
                beyond = middle;
            } else {
                free = middle;
            }
        }
        step.at(beyond)
    }

    /// The neutral point that a piece of the line runs into, `walked` mm from its start. The one that it comes from counts
    /// only once it can have turned back: a line round two wires runs into its own.
    fn neutral_between(&self, a: Point, b: Point, walked: f64) -> Option<Point> {
        let points = self.field.all_neutral_points().iter().copied();
        let mut near = points.filter(|q| polyline::segment_distance(*q, a, b) < NEUTRAL_REACH_MM);
        near.find(|q| self.past.neutral != Some(*q) || walked > SHORTEST_TURN_MM)
    }

    /// Where a piece of a step passes the start, if within [`CLOSES_MM`].
    fn back_at_start(&self, step: &Step, mut before: f64, mut after: f64) -> Option<Point> {
        if step.from_mm + step.length_mm * after < SHORTEST_TURN_MM {
            return None;
        }
        let (a, b) = (step.at(before), step.at(after));
        // The curve leaves its chord by less than its length.
        if polyline::segment_distance(self.from, a, b) > CLOSES_MM + (b - a).hypot() {
            return None;
        }
        let way = b - a;
        let ahead = |p: Point| (p - self.from).dot(way);
        if ahead(a) > 0.0 || ahead(b) < 0.0 {
            return None;
        }
        while (after - before) * step.length_mm > 0.1 * CLOSES_MM {
            let middle = 0.5 * (before + after);
            if ahead(step.at(middle)) < 0.0 {
                before = middle;
            } else {
                after = middle;
            }
        }
        let p = step.at(after);
        ((p - self.from).hypot() < CLOSES_MM).then_some(p)
    }
}

#[cfg(test)]
mod tests;
