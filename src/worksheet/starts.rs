//! Where the computed lines of an answer start: on the outlines, the frame, round wires and across coils.

use super::answer::MOST_LINES;
use super::bodies::PanelField;
use super::ring::{Ring, coil_gate, frame_ring, outline_ring};
use super::trace::End;
use super::{Kind, Panel, Source, wires};
use crate::geometry::{Point, polyline};

/// Lines shorter than this are left out, mm: no one could draw them or read an arrow on them.
const SHORTEST_MM: f64 = 5.0;
/// A line that nowhere runs further than this from another one is the same line, mm.
pub(super) const SAME_MM: f64 = 0.5;
/// Times that the step of flux is put right to give the number asked for.
const ROUNDS: usize = 6;

/// A line from end to end, along the field.
pub(super) struct Whole {
    pub points: Vec<Point>,
    pub ends: [End; 2],
}

/// The whole line through a place.
fn whole(field: &PanelField, through: Point) -> Whole {
    let on = field.follow(through, 1.0);
    if on.end == End::Closed {
        return Whole { points: on.points, ends: [End::Closed; 2] };
    }
    let back = field.follow(through, -1.0);
    let mut points: Vec<Point> = back.points.into_iter().rev().collect();
    points.extend(on.points.into_iter().skip(1));
    Whole { points, ends: [back.end, on.end] }
}

/// What flux goes through: the outlines, and the frame from inside.
pub(super) struct Walls {
    /// In the order of the sources; without any place for a wire or a coil, which no line begins or ends on.
    sources: Vec<Ring>,
    frame: Ring,
    /// The middles of the coils.
    coils: Vec<Ring>,
    wires: Vec<wires::Walk>,
    /// Wires and a background alone: the starts on [`Walls::wires`] are all there are.
    pub flat: bool,
}

impl Walls {
    pub fn of(panel: &Panel, field: &PanelField) -> Self {
        let ring = |(source, outline): (&Source, _)| match source.kind {
            Kind::Wire { .. } | Kind::Coil { .. } => Ring::empty(),
            _ => outline_ring(outline, field),
        };
        Self {
            sources: panel.sources.iter().zip(field.outlines()).map(ring).collect(),
            frame: frame_ring(field),
            coils: panel.sources.iter().filter_map(|s| coil_gate(s, field)).collect(),
            wires: wires::walks(field),
            flat: wires::is_flat(field),
        }
    }

    /// About `wanted` lines: the step of flux is put right until their number fits.
    pub fn about(&self, field: &PanelField, wanted: usize) -> Vec<Whole> {
        let out: f64 = self.sources.iter().chain(&self.coils).map(|r| r.flux(1.0)).sum::<f64>()
            + wires::flux(&self.wires);
        let flux = if self.flat { out } else { out.max(self.frame.flux(-1.0)) };
        if !(flux > 0.0 && flux.is_finite()) {
            return Vec::new();
        }
        let mut step = flux / wanted as f64;
        let mut best: Option<Vec<Whole>> = None;
        for _ in 0..ROUNDS {
            let lines = self.with_step(field, step);
            let count = lines.len();
            if best.as_ref().is_none_or(|b| count.abs_diff(wanted) < b.len().abs_diff(wanted)) {
                best = Some(lines);
            }
            if count == wanted {
                break;
            }
            step *= (count.max(1) as f64 / wanted as f64).clamp(0.5, 2.0);
        }
        best.unwrap_or_default()
    }

    /// Lines that leave sources at equal steps of flux; those that come in from outside the frame where none arrived;
    /// those across the frame that touch no source.
    fn with_step(&self, field: &PanelField, step: f64) -> Vec<Whole> {
        let mut kept: Vec<Whole> = Vec::new();
        for start in self.wires.iter().flat_map(|w| w.starts(step)) {
            // The same line crosses several walks.
            if kept.len() < MOST_LINES
                && kept.iter().all(|l| polyline::distance(start, &l.points) > 0.5 * SAME_MM)
            {
                keep(&mut kept, whole(field, start));
            }
        }
        if self.flat {
            return kept;
        }
        for start in self.coils.iter().flat_map(|gate| gate.even_starts(1.0, step)) {
            let line = whole(field, start);
            if leaves_the_windings(field, &line) {
                keep(&mut kept, line);
            }
        }
        for start in self.sources.iter().flat_map(|ring| ring.even_starts(1.0, step)) {
            keep(&mut kept, whole(field, start));
        }
        for (i, ring) in self.sources.iter().enumerate() {
            let taken = crossings(ring, &kept, 1, End::Source(i));
            for start in ring.even_starts(-1.0, step) {
                if is_crowded(ring, -1.0, &taken, start, step) {
                    continue;
                }
                let line = whole(field, start);
                if !matches!(line.ends[0], End::Source(_)) {
                    keep(&mut kept, line);
                }
            }
        }
        self.across(field, &mut kept, step);
        kept
    }

    /// Lines across the frame that touch no source, at equal steps of the flux that comes in through it.
    fn across(&self, field: &PanelField, kept: &mut Vec<Whole>, step: f64) {
        for start in self.frame.even_starts(-1.0, step) {
            if is_crowded(&self.frame, -1.0, &crossings(&self.frame, kept, 0, End::Frame), start, step) {
                continue;
            }
            let line = whole(field, start);
            let last = line.points[line.points.len() - 1];
            let leaving = crossings(&self.frame, kept, 1, End::Frame);
            let touches_none = line.ends.iter().all(|end| !matches!(end, End::Source(_)));
            if touches_none && !is_crowded(&self.frame, 1.0, &leaving, last, step) {
                keep(kept, line);
            }
        }
    }

    /// About as many more lines across the frame as are missing to `room`, at a step of their own.
    pub fn add_background(&self, field: &PanelField, kept: &mut Vec<Whole>, room: f64) {
        let there = kept.iter().filter(|l| l.ends == [End::Frame, End::Frame]).count() as f64;
        let step = self.frame.flux(-1.0) / room;
        if there < room && step > 0.0 && step.is_finite() {
            self.across(field, kept, step);
        }
    }
}

/// Where on a ring, by the flux passed on the way round it, lines begin (`which` 0) or end (1) on `end`.
fn crossings(ring: &Ring, lines: &[Whole], which: usize, end: End) -> Vec<f64> {
    let sense = if end == End::Frame { [-1.0, 1.0][which] } else { [1.0, -1.0][which] };
    lines
        .iter()
        .filter(|line| line.ends[which] == end)
        .map(|line| ring.flux_at(sense, line.points[which * (line.points.len() - 1)]))
        .collect()
}

/// Whether a line crosses nearer than half a step of flux to a place.
fn is_crowded(ring: &Ring, sense: f64, taken: &[f64], place: Point, step: f64) -> bool {
    let at = ring.flux_at(sense, place);
    taken.iter().any(|t| ring.flux_between(sense, *t, at) < 0.5 * step)
}

/// Whether a line through a coil goes well out of it: those nearest to the windings leave and come back beside them.
fn leaves_the_windings(field: &PanelField, line: &Whole) -> bool {
    /// A stroke and the white beside it.
    const AWAY_MM: f64 = 5.0;
    let away = |p: &Point| field.outlines().iter().all(|o| !o.contains(*p) && o.distance(*p) > AWAY_MM);
    line.points.iter().any(away)
}

/// Takes a line in unless it is too short, or runs all along one that is there.
fn keep(kept: &mut Vec<Whole>, line: Whole) {
    if polyline::length(&line.points) < SHORTEST_MM {
        return;
    }
    // A few places on the line tell it from any other: neighbours differ somewhere by more than a stroke.
    const PLACES: usize = 9;
    let n = line.points.len();
    let same = kept.iter().any(|other| {
        (0..PLACES)
            .all(|i| polyline::distance(line.points[i * (n - 1) / (PLACES - 1)], &other.points) < SAME_MM)
    });
    if !same {
        kept.push(line);
    }
}
