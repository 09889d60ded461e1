//! Where the computed lines of an answer start: on the outlines, the frame, round wires and across coils.

use super::answer::MOST_LINES;
use super::bodies::PanelField;
use super::ring::{Ring, Stretch, coil_gate, frame_ring, outline_ring};
use super::trace::End;
use super::{Kind, Panel, Source, wires};
use crate::geometry::{Point, polyline};

/// Lines shorter than this are left out, mm: no one could draw them or read an arrow on them.
const SHORTEST_MM: f64 = 5.0;
/// A line that nowhere runs further than this from another one is the same line, mm.
pub(super) const SAME_MM: f64 = 0.5;
/// A turn of a spiral that begins nearer to another is left out, mm.
const TURNS_APART_MM: f64 = 3.0;
/// Times that the step of flux is put right to give the number asked for.
const ROUNDS: usize = 6;
/// A line that ends this near to a stretch's places ends on it, mm: the ring lies 0.4 mm off, its places 0.5 mm apart.
const HERE_MM: f64 = 1.0;
/// Stretches whose flux differs by less than this share are alike: mirror images differ by rounding.
const ALIKE: f64 = 1e-6;

/// A line from end to end, along the field.
pub(super) struct Whole {
    pub points: Vec<Point>,
    pub ends: [End; 2],
}

impl Whole {
    /// Its first place (0) or its last (1).
    fn end_place(&self, which: usize) -> Point {
        self.points[which * (self.points.len() - 1)]
    }

    /// Its first piece or its last, long enough to cross the ring of the outline that it meets: a line may slant in.
    fn end_piece(&self, which: usize) -> &[Point] {
        /// At most 0.5 mm apart, and a ring lies 0.4 mm off.
        const POINTS: usize = 5;
        let n = self.points.len();
        if which == 0 { &self.points[..POINTS.min(n)] } else { &self.points[n.saturating_sub(POINTS)..] }
    }
}

/// A ring that lines begin and end on.
struct Wall<'a> {
    ring: &'a Ring,
    /// As a line's end on it is told.
    end: End,
}

impl Wall<'_> {
    /// Which end of a line (0 its first, 1 its last) lies on a stretch of that sense. What leaves a source begins there,
    /// what leaves the frame ends there.
    fn which(&self, sense: f64) -> usize {
        usize::from((sense > 0.0) == (self.end == End::Frame))
    }
}

/// Lines at equal steps of flux through each stretch of these walls, where none has come from another.
///
/// The stretch with most flux is first, and what leads between two of them starts on the stronger: so the mirror image of
/// an arrangement has the mirror image of its lines, also where the mirror turns the field round. Stretches that
/// are alike but for rounding are worked together, those that lines leave before those that they reach.
fn from_walls(
    field: &PanelField,
    walls: &[Wall],
    kept: &mut Vec<Whole>,
    step: f64,
    fits: impl Fn(&Whole) -> bool,
) {
    let stretches_of = |(w, wall): (usize, &Wall)| {
        [1.0, -1.0].into_iter().flat_map(|sense| wall.ring.stretches(sense)).map(move |s| (w, s)).collect()
    };
    let mut stretches: Vec<(usize, Stretch)> =
        walls.iter().enumerate().flat_map::<Vec<_>, _>(stretches_of).collect();
    stretches.sort_by(|a, b| b.1.flux.total_cmp(&a.1.flux));
    let is_alike = |a: &(usize, Stretch), b: &(usize, Stretch)| b.1.flux > a.1.flux * (1.0 - ALIKE);
    let groups = stretches.chunk_by(is_alike).flat_map(|alike| {
        [0, 1]
            .map(|which| alike.iter().filter(|(w, s)| walls[*w].which(s.sense) == which).collect::<Vec<_>>())
    });
    let groups: Vec<Vec<&(usize, Stretch)>> = groups.collect();
    // Which group a line's end belongs to, if it lies on one of these walls.
    let group_of = |line: &Whole, which: usize| {
        let place = line.end_place(which);
        let at = walls.iter().position(|wall| wall.end == line.ends[which])?;
        let own = |(w, s): &(usize, Stretch)| *w == at && walls[at].which(s.sense) == which;
        let near = groups.iter().enumerate().flat_map(|(g, all)| all.iter().map(move |s| (g, *s)));
        near.filter(|(_, s)| own(s))
            .min_by(|a, b| a.1.1.distance(place).total_cmp(&b.1.1.distance(place)))
            .map(|(g, _)| g)
    };
    for (g, group) in groups.iter().enumerate() {
        let mut found = Vec::new();
        for (w, stretch) in group {
            let wall = &walls[*w];
            let which = wall.which(stretch.sense);
            // Those of another stretch of that sense do not crowd, however little flux lies between.
            let here = kept.iter().filter(|line| stretch.distance(line.end_place(which)) < HERE_MM);
            let taken = crossings(wall.ring, here, which, wall.end);
            for start in stretch.even_starts(step) {
                if is_crowded(wall.ring, stretch.sense, &taken, start, step) {
                    continue;
                }
                let line = whole(field, start);
                let is_from_stronger = group_of(&line, 1 - which).is_some_and(|other| other < g);
                if !is_from_stronger && fits(&line) {
                    found.push(line);
                }
            }
        }
        for line in found {
            keep(kept, line);
        }
    }
}

/// The whole line through a place; of a spiral one turn.
fn whole(field: &PanelField, through: Point) -> Whole {
    let on = field.follow_one_turn(through, 1.0);
    if on.end == End::Closed {
        return Whole { points: on.points, ends: [End::Closed; 2] };
    }
    let back = field.follow_one_turn(through, -1.0);
    if on.end == End::Round && back.end == End::Round {
        // Either way it winds round the same place: the two turns lie beside one another.
        return Whole { points: on.points, ends: [End::Round; 2] };
    }
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
            // The same line crosses several walks; of spirals, a turn of another.
            let near = |l: &Whole| if l.ends == [End::Round; 2] { TURNS_APART_MM } else { 0.5 * SAME_MM };
            if kept.len() < MOST_LINES && kept.iter().all(|l| polyline::distance(start, &l.points) > near(l))
            {
                keep(&mut kept, whole(field, start));
            }
        }
        if self.flat {
            return kept;
        }
        for start in self.coils.iter().flat_map(|g| g.stretches(1.0)).flat_map(|g| g.even_starts(step)) {
            let line = whole(field, start);
            if leaves_the_windings(field, &line) {
                keep(&mut kept, line);
            }
        }
        let sources = self.sources.iter().enumerate().map(|(i, ring)| Wall { ring, end: End::Source(i) });
        from_walls(field, &sources.collect::<Vec<_>>(), &mut kept, step, |_| true);
        self.across(field, &mut kept, step);
        kept
    }

    /// Lines across the frame that touch no source, at equal steps of the flux through it.
    fn across(&self, field: &PanelField, kept: &mut Vec<Whole>, step: f64) {
        let frame = [Wall { ring: &self.frame, end: End::Frame }];
        let leaving = crossings(&self.frame, kept.iter(), 1, End::Frame);
        let coming = crossings(&self.frame, kept.iter(), 0, End::Frame);
        from_walls(field, &frame, kept, step, |line| {
            let ends = [(0, -1.0, &coming), (1, 1.0, &leaving)];
            line.ends.iter().all(|end| !matches!(end, End::Source(_)))
                && ends.into_iter().all(|(which, sense, taken)| {
                    line.ends[which] != End::Frame
                        || !is_crowded(&self.frame, sense, taken, line.end_place(which), step)
                })
        });
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
fn crossings<'a>(
    ring: &Ring,
    lines: impl IntoIterator<Item = &'a Whole>,
    which: usize,
    end: End,
) -> Vec<f64> {
    let sense = if end == End::Frame { [-1.0, 1.0][which] } else { [1.0, -1.0][which] };
    lines
        .into_iter()
        .filter(|line| line.ends[which] == end)
        .map(|line| ring.flux_at(sense, line.end_piece(which)))
        .collect()
}

/// Whether a line crosses nearer than half a step of flux to a place.
fn is_crowded(ring: &Ring, sense: f64, taken: &[f64], place: Point, step: f64) -> bool {
    let at = ring.flux_at(sense, &[place]);
    taken.iter().any(|t| ring.flux_between(sense, *t, at) < 0.5 * step)
}

/// Whether a line through a coil goes well out of it: those nearest to the windings leave and come back beside them.
fn leaves_the_windings(field: &PanelField, line: &Whole) -> bool {
    /// A stroke and the white beside it.
    const AWAY_MM: f64 = 5.0;
    let away = |p: &Point| field.outlines().iter().all(|o| !o.contains(*p) && o.distance(*p) > AWAY_MM);
    line.points.iter().any(away)
}

/// Takes a line in unless it is too short, or runs all along one that is there. Of one that winds on to a ring the end is
/// left out that runs beside another.
fn keep(kept: &mut Vec<Whole>, mut line: Whole) {
    unwind(kept, &mut line);
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

/// Takes off what of a line's end in the open runs beside a line that is there: lines that wind on to the same ring would else
/// lie in one smear.
fn unwind(kept: &[Whole], line: &mut Whole) {
    /// Two strokes and white between them.
    const APART_MM: f64 = 1.5;
    if line.ends == [End::Round; 2] {
        return;
    }
    let beside = |p: &Point| kept.iter().any(|other| polyline::distance(*p, &other.points) < APART_MM);
    for which in [0, 1].into_iter().filter(|w| matches!(line.ends[*w], End::Round | End::Long)) {
        let n = line.points.len();
        let run = match which {
            0 => line.points.iter().take_while(|p| beside(p)).count(),
            _ => line.points.iter().rev().take_while(|p| beside(p)).count(),
        };
        match which {
            0 => drop(line.points.drain(..run.min(n - 1))),
            _ => line.points.truncate((n - run).max(1)),
        }
    }
}
