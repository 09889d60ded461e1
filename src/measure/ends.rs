//! `ends.open`, `ends.placed`, `joins.wrong`: what each end of a line lies on.
//!
//! An end is on a source within 4 mm of its outline and not nearer to the frame; else on the frame within
//! 4 mm of it or outside; else it leaves when the computed line, followed on from it, goes out of the frame
//! or into a neutral point before it meets a source; else it is open. A closed line has no ends.

use std::cell::OnceCell;

use super::real;
use super::region::{GROWN_MM, Region, STEP_MM, Traced, inside_frame_mm};
use super::worlds::{END_REACH_MM, Reading};
use crate::geometry::{Point, Vec2};
use crate::worksheet::{End as Stop, Half, Panel};

/// An end belongs to what is nearer than this (contract).
const END_MM: f64 = 4.0;
/// Which way an end points is told by this much of the line (contract).
const END_PART_MM: f64 = 4.0;
/// A shorter line is never closed, nor is one that begins or ends on a magnet or a charge (contract).
const CLOSED_MIN_MM: f64 = 24.0;
/// The ends of a closed line are within this of each other, or within [`CLOSED_SHARE`] of its length (contract).
const CLOSED_GAP_MM: f64 = 4.0;
const CLOSED_SHARE: f64 = 0.08;
/// The computed line runs into a neutral point when it stops within this of it. Empirical: a quarter of
/// what separates neutral points on a sheet.
const NEUTRAL_MM: f64 = 4.0;
/// Ends are told anew for every so much of misreading.
const SHIFT_STEP_MM: f64 = 0.25;
/// Steps of [`SHIFT_STEP_MM`] to either side.
const SHIFTS: usize = (END_REACH_MM / SHIFT_STEP_MM) as usize;

/// What an end lies on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum On {
    /// Index of the source, and which half of it.
    Source(usize, Half),
    Frame,
    /// In free space, where the computed line leaves the frame or runs into a neutral point.
    Leaves,
    /// In free space, short of a pole inside the frame.
    Open,
}

impl On {
    /// As in findings: `left.N`, `left.S`, `left.mid`, `left`, `frame`, `leaves`, `open`.
    pub fn word(self, panel: &Panel) -> String {
        match self {
            On::Frame => "frame".into(),
            On::Leaves => "leaves".into(),
            On::Open => "open".into(),
            On::Source(i, half) => {
                panel.sources.get(i).map(|s| format!("{}{}", s.id, half.suffix())).unwrap_or_default()
            }
        }
    }

    /// 1 where lines come out of what it lies on (N, +), -1 where they go in, else 0.
    pub fn sense(self) -> i32 {
        match self {
            On::Source(_, half) => half.sense(),
            _ => 0,
        }
    }
}

/// The two ends of a line.
pub struct Ends {
    at: [Point; 2],
    /// Unit steps outwards.
    outward: [Vec2; 2],
    /// What each lies on when read further in or out by a number of steps.
    on: [[On; 2 * SHIFTS + 1]; 2],
    /// The ends come within this of each other in a closed line; `None` where it cannot be one.
    closes_within_mm: Option<f64>,
    /// How sure it is that each is an end, should it lie in free space ([`real`]).
    real: [f64; 2],
}

/// Tells how sure each end in free space is to be one.
pub fn weigh(each: &mut [Ends], region: &Region) {
    for (ends, line) in each.iter_mut().zip(&region.lines) {
        let Some(on) = ends.on([0.0; 2]) else { continue };
        let free = on.map(|on| matches!(on, On::Open | On::Leaves));
        for k in (0..2).filter(|k| free[*k]) {
            ends.real[k] = real::sureness(region, line, ends.at[k], ends.outward[k], free[1 - k]);
        }
    }
}

impl Ends {
    pub fn new(region: &Region, line: &Traced) -> Self {
        let p = &line.points;
        let back = ((END_PART_MM / STEP_MM) as usize).min(p.len() - 1);
        let at = [p[0], p[p.len() - 1]];
        let inner = [p[back], p[p.len() - 1 - back]];
        let outward = [0, 1].map(|k| {
            let d = at[k] - inner[k];
            if d.hypot() > 0.0 { d.normalize() } else { Vec2::ZERO }
        });
        // Lines end on magnets and charges, and go round currents.
        let ending =
            || region.panel.sources.iter().zip(&region.outlines).filter(|(s, _)| !s.kind.is_current());
        let near_source = |e: &Point| ending().any(|(_, o)| o.distance_within(*e, END_MM).is_some());
        let may_close = line.length_mm > CLOSED_MIN_MM && !at.iter().any(near_source);
        let on = [0, 1].map(|k| {
            // Followed once, and only where some reading of this end lies in free space.
            let free = OnceCell::new();
            std::array::from_fn(|i| {
                let e = at[k] + outward[k] * (SHIFT_STEP_MM * (i as f64 - SHIFTS as f64));
                touched(region, e)
                    .unwrap_or_else(|| *free.get_or_init(|| followed(region, at[k], outward[k])))
            })
        });
        let closes_within_mm = may_close.then(|| CLOSED_GAP_MM.max(CLOSED_SHARE * line.length_mm));
        Self { at, outward, on, closes_within_mm, real: [1.0; 2] }
    }

    /// Whether the line is closed, its ends being read so much further out.
    pub fn closed(&self, further_mm: [f64; 2]) -> bool {
        let [a, b] = [0, 1].map(|k| self.at[k] + self.outward[k] * further_mm[k]);
        self.closes_within_mm.is_some_and(|gap| (a - b).hypot() <= gap)
    }

    /// What the ends lie on, being read so much further out; `None` for a closed line.
    pub fn on(&self, further_mm: [f64; 2]) -> Option<[On; 2]> {
        let step =
            |mm: f64| (mm / SHIFT_STEP_MM + SHIFTS as f64).round().clamp(0.0, 2.0 * SHIFTS as f64) as usize;
        (!self.closed(further_mm)).then(|| [0, 1].map(|k| self.on[k][step(further_mm[k])]))
    }
}

/// What an end touches, if anything.
fn touched(region: &Region, e: Point) -> Option<On> {
    let frame = inside_frame_mm(region.panel, e);
    let near = region.outlines.iter().enumerate();
    let near = near.filter_map(|(i, s)| s.distance_within(e, END_MM).map(|d| (i, d)));
    let best = near.reduce(|a, b| if b.1 < a.1 { b } else { a });
    match best {
        Some((i, d)) if d <= frame => Some(On::Source(i, region.panel.sources[i].half(e))),
        _ => (frame <= END_MM).then_some(On::Frame),
    }
}

/// Where the computed line goes on from an end in free space.
fn followed(region: &Region, e: Point, outward: Vec2) -> On {
    let b = region.field.b(e);
    let sense = if outward.dot(Vec2::new(b[0], b[1])) > 0.0 { 1.0 } else { -1.0 };
    let trace = region.field.follow(e, sense);
    let into_neutral = region.field.neutral_points().iter().any(|q| (trace.stop - *q).hypot() < NEUTRAL_MM);
    match trace.end {
        Stop::Frame | Stop::Neutral => On::Leaves,
        _ if into_neutral => On::Leaves,
        _ => On::Open,
    }
}

/// What the ends of each line lie on in a reading, of the lines that are there.
pub fn in_reading(each: &[Ends], reading: &Reading) -> Vec<Option<[On; 2]>> {
    let one = |(i, e): (usize, &Ends)| {
        let on = if reading.lines[i] { e.on(reading.ends[i])? } else { return None };
        // An end that is none counts as one that is no fault.
        let unreal = |k: usize| on[k] == On::Open && reading.doubt[i][k] > e.real[k];
        Some([0, 1].map(|k| if unreal(k) { On::Leaves } else { on[k] }))
    };
    each.iter().enumerate().map(one).collect()
}

/// `ends.open`.
pub fn open(on: &[Option<[On; 2]>]) -> f64 {
    on.iter().flatten().flatten().filter(|e| **e == On::Open).count() as f64
}

/// `ends.placed`.
pub fn placed(on: &[Option<[On; 2]>]) -> Option<f64> {
    let ends = on.iter().flatten().count() * 2;
    (ends > 0).then(|| 1.0 - open(on) / ends as f64)
}

/// `joins.wrong`.
pub fn wrong_joins(on: &[Option<[On; 2]>]) -> f64 {
    let like = |[a, b]: &&[On; 2]| a.sense() != 0 && a.sense() == b.sense();
    on.iter().flatten().filter(like).count() as f64
}

// Nothing nearer to an outline than this is measured, so an end on a source may lie short of what counts.
const _: () = assert!(END_MM > GROWN_MM);

#[cfg(test)]
mod tests {
    use super::*;
    use crate::measure::made;
    use crate::worksheet::Kind;

    /// A bar 40 x 10 mm in the middle, N to the right: its outline is x 80 to 120, y 95 to 105.
    fn bar() -> Panel {
        made::with_source(
            Kind::Bar { length: 40.0, width: 10.0, thickness: 8.0, remanence_mt: 400.0, pole_inset: 0.0 },
            None,
        )
    }

    fn words(panel: &Panel, a: (f64, f64), b: (f64, f64), further_mm: [f64; 2]) -> Vec<String> {
        let field = panel.field();
        let d = made::drawing(vec![made::straight(a, b)]);
        let region = Region::new(panel, &field, &d);
        let ends = Ends::new(&region, &region.lines[0]);
        ends.on(further_mm).into_iter().flatten().map(|on| on.word(panel)).collect()
    }

    /// Two lines that stop in free space left of the bar, the second without a head: in readings that doubt, fewer ends are open.
    #[test]
    fn a_doubted_end_in_free_space_is_no_open_one() {
        let panel = bar();
        let field = panel.field();
        let mut d = made::drawing(vec![
            made::straight((82.0, 93.0), (95.0, 70.0)),
            made::straight((118.0, 107.0), (105.0, 130.0)),
        ]);
        let head = crate::drawing::Arrow {
            at: Point::new(90.0, 78.0),
            towards: Vec2::new(0.5, -0.8),
            sure: 0.9,
            way_sure: 0.9,
        };
        d.lines[0].arrows.push(head);
        let region = Region::new(&panel, &field, &d);
        let mut each: Vec<Ends> = region.lines.iter().map(|l| Ends::new(&region, l)).collect();
        weigh(&mut each, &region);
        let mut reading = made::reading(&region, &d);
        for (doubt, are_open) in [(0.1, 2.0), (0.7, 1.0), (0.99, 0.0)] {
            reading.doubt = vec![[doubt; 2]; 2];
            assert_eq!(open(&in_reading(&each, &reading)), are_open, "{doubt}");
        }
    }

    #[test]
    fn an_end_lies_on_what_is_within_4_mm() {
        let panel = bar();
        let far = (100.0, 20.0);
        // 15 % of 40 mm is 6 mm to either side of the middle.
        for (x, y, want) in [
            (123.9, 100.0, "m.N"),
            (76.1, 100.0, "m.S"),
            (107.0, 91.5, "m.N"),
            (105.9, 91.5, "m.mid"),
            (93.0, 91.5, "m.S"),
            (60.0, 3.9, "frame"),
            (60.0, -3.0, "frame"),
        ] {
            assert_eq!(words(&panel, (x, y), far, [0.0; 2])[0], want, "{x} {y}");
        }
    }

    /// The field of a bar is the same above and below and mirrored left and right: a line that goes up from
    /// near the N end turns back to the S end, one that goes out along the axis leaves.
    #[test]
    fn an_end_in_free_space_is_open_or_leaves() {
        let panel = bar();
        assert_eq!(words(&panel, (118.0, 91.0), (122.0, 78.0), [0.0; 2]), ["m.N", "open"]);
        assert_eq!(words(&panel, (122.0, 100.0), (150.0, 100.0), [0.0; 2]), ["m.N", "leaves"]);
    }

    #[test]
    fn an_end_near_the_limit_may_be_misread() {
        let panel = bar();
        let end = |further: f64| words(&panel, (160.0, 100.0), (124.2, 100.0), [0.0, further])[1].clone();
        // 0.2 mm short of the 4 mm: half a millimetre further in it is on the magnet.
        assert_eq!((end(0.0).as_str(), end(0.5).as_str(), end(-0.5).as_str()), ("open", "m.N", "open"));
    }

    #[test]
    fn a_closed_line_has_no_ends() {
        let panel = bar();
        let field = panel.field();
        let ends = |to_deg: f64, radius: f64| {
            let d = made::drawing(vec![made::arc(radius, 0.0, to_deg)]);
            let region = Region::new(&panel, &field, &d);
            Ends::new(&region, &region.lines[0])
        };
        // 8 % of the length: 2 pi r 330/360 x 0.08 = 0.46 r, the gap of 27 degrees is 0.47 r.
        assert!(ends(355.0, 40.0).on([0.0; 2]).is_none());
        assert!(ends(334.0, 40.0).on([0.0; 2]).is_none());
        assert!(ends(330.0, 40.0).on([0.0; 2]).is_some());
        assert!(ends(332.9, 40.0).closed([1.5, 1.5]) && !ends(332.9, 40.0).closed([-1.5, -1.5]));
        // Ends on a source: not closed, however near to each other.
        assert!(ends(359.0, 22.0).on([0.0; 2]).is_some());
    }

    #[test]
    fn like_halves_are_wrongly_joined() {
        let on = |a, b| Some([On::Source(0, a), On::Source(1, b)]);
        let all = [
            on(Half::N, Half::N),
            on(Half::S, Half::S),
            on(Half::Plus, Half::Plus),
            on(Half::N, Half::S),
            on(Half::Plus, Half::Minus),
            on(Half::Mid, Half::Mid),
            on(Half::None, Half::None),
            None,
        ];
        assert_eq!(wrong_joins(&all), 3.0);
        assert_eq!(placed(&[Some([On::Open, On::Frame]), on(Half::N, Half::S), None]), Some(0.75));
        assert_eq!(placed(&[None]), None);
    }
}
