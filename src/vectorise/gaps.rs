//! Bridges from end to end over pen lifts and under print.

use super::dashes;
use super::graph::{Edge, Graph};
use super::links::{END_CLEAR_MM, End, Links, READ_MM, Tip, bend, closes_ring, tip, tip_clear_of};
use crate::geometry::{Point, Vec2, turn_deg};

/// An end that print covers is bent along it: its way is read from here on, mm.
const PRINT_CLEAR_MM: f64 = 1.3;
/// Length of the stretch over which the way into a gap is read, mm.
const GAP_READ_MM: f64 = 3.6;
/// The same where over that the stroke bends too much to be led on: its last alone tells where it leads.
const BEND_READ_MM: f64 = 1.6;
/// Longest bridge over ink or print, mm: two lines that touch at a small angle share this much.
const LONGEST_BRIDGE_MM: f64 = 12.0;
/// Longest white in a bridge, mm: a pen lift. Two lines that end facing each other mostly leave more.
const LONGEST_WHITE_MM: f64 = 2.4;
/// Longest print in a bridge, mm: a stroke that crosses a printed line aslant. Ends that face each other along an
/// outline are two lines'.
const LONGEST_PRINT_MM: f64 = 4.5;
/// Only a line that comes to print and leaves it within this of its way, degrees, with no more than this outside it, mm, runs
/// along under it for longer, up to this, mm.
const GRAZES_DEG: f64 = 14.0;
const GRAZES_BARE_MM: f64 = 2.0;
const LONGEST_GRAZE_MM: f64 = 30.0;
/// Where print runs across ahead of an end, so far to its side and within so much of it, mm, the end lies at an outline's corner:
/// along the side between two such ends there runs no line, but two lines end at its corners.
const ACROSS_MM: f64 = 2.5;
const AHEAD_MM: f64 = 1.5;
/// Ends this near to each other, mm, of strokes that turn this little, degrees, are grains of one, side by side or not.
const BESIDE_MM: f64 = 1.0;
const BESIDE_DEG: f64 = 20.0;
/// The same as [`LONGEST_WHITE_MM`] where one of the pieces is no longer than a dash, mm; and how long a dash is. (Where a
/// drawing's lines are dashed, longer gaps are: [`dashes`].)
const DASH_WHITE_MM: f64 = 3.0;
const DASH_MM: f64 = 8.0;
/// Most bend of a bridge, degrees: for touching ends, and what each mm of white takes off it.
const BRIDGE_DEG: f64 = 44.0;
const BRIDGE_DEG_PER_MM: f64 = 9.0;
/// Growing up to this much white, mm, the bend allowed falls to that of a pen lift: from then on a bridge is a pen lift within
/// one movement and as straight as the line itself.
const LIFT_MM: f64 = 0.8;
const LIFT_DEG: f64 = 24.0;
/// Edges of this length that nowhere leave the neighbourhood of print run along it, mm.
const HUGS_MM: (f64, f64) = (1.5, 15.0);
/// Ends with this much white between them that face each other on both sides of a loop, the other pair this near, mm, are
/// those of two halves.
const HALVES_WHITE_MM: f64 = 0.2;
const HALVES_FACE_MM: f64 = 9.0;
/// Ends this near face each other whichever way they miss each other, mm.
const NEAR_MM: f64 = 4.0;
/// Pieces shorter than this have no direction of their own that could carry a bridge, mm.
const SHORTEST_PIECE_MM: f64 = 0.8;

/// What lies at a place on the page.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ground {
    Ink,
    Print,
    White,
}

/// A tip as it faces a gap: where print covers a stroke aslant, what is left of it bends along the print.
fn tip_at_gap(graph: &Graph, end: End, read_mm: f64, near_print: &impl Fn(Point) -> bool) -> Tip {
    let at_print = near_print(graph.along(end.0, end.1, 0.0));
    if at_print {
        tip_clear_of(graph, end, PRINT_CLEAR_MM, READ_MM)
    } else {
        tip_clear_of(graph, end, END_CLEAR_MM, read_mm)
    }
}

/// How far two tips that face each other miss each other sideways, as an angle, degrees.
fn jog(a: &Tip, b: &Tip) -> f64 {
    let chord = b.clear - a.clear;
    0.4 * turn_deg(a.way, -b.way).abs() + (turn_deg(a.way, chord) - turn_deg(chord, -b.way)).abs()
}

/// Links ends that face each other over a pen lift, or under print; the best pairs first.
pub fn over_gaps(
    graph: &Graph,
    links: &mut Links,
    ground: impl Fn(Point) -> Ground,
    near_print: impl Fn(Point) -> bool,
) {
    let tips: Vec<Tip> = graph
        .alive()
        .flat_map(|e| [(e, 0), (e, 1)])
        .filter(|&end| links.at(end).is_none() && !links.is_shared(end.0))
        .filter(|&end| graph.edges[end.0].length_mm >= SHORTEST_PIECE_MM)
        .filter(|&end| !hugs_print(&graph.edges[end.0], &near_print))
        .map(|end| tip_at_gap(graph, end, GAP_READ_MM, &near_print))
        .collect();
    let short: Vec<Tip> = tips.iter().map(|t| tip_at_gap(graph, t.end, BEND_READ_MM, &near_print)).collect();
    let dash_mm = dashes::longest_gap_mm(graph, &tips, &ground);
    let mut pairs = Vec::new();
    for (i, a) in tips.iter().enumerate() {
        for (j, b) in tips[i + 1..].iter().enumerate() {
            if a.at.distance_squared(b.at) > LONGEST_GRAZE_MM * LONGEST_GRAZE_MM || a.end.0 == b.end.0 {
                continue;
            }
            let found = bridge(graph, a, b, &ground)
                .or_else(|| bridge(graph, &short[i], &short[i + 1 + j], &ground))
                .or_else(|| dashes::follow(graph, a, b, dash_mm, &ground));
            if let Some((cost, white)) = found {
                pairs.push((cost, white, a.end, b.end));
            }
        }
    }
    pairs.sort_by(|p, q| p.0.total_cmp(&q.0));
    for (cost, white, a, b) in pairs {
        let free = links.at(a).is_none() && links.at(b).is_none() && !closes_ring(links, a, b);
        if free && !(white > HALVES_WHITE_MM && are_halves(graph, links, a, b, &near_print)) {
            links.set(a, b, cost, white);
        }
    }
    dashes::over_heads(links, &tips, dash_mm, &ground);
}

/// Whether a short edge runs along print from end to end: ink beside a printed line, no stroke that crosses it.
fn hugs_print(edge: &Edge, near_print: &impl Fn(Point) -> bool) -> bool {
    (HUGS_MM.0..HUGS_MM.1).contains(&edge.length_mm) && edge.points.iter().step_by(4).all(|&p| near_print(p))
}

/// Whether the strokes that end in `a` and `b` face each other at their other ends as well: then they are two halves of a
/// loop, each drawn by itself, and no line with two pen lifts.
fn are_halves(graph: &Graph, links: &Links, a: End, b: End, near_print: &impl Fn(Point) -> bool) -> bool {
    let far = |end| links.onward(end).last().unwrap_or(end);
    let (p, q) = (far(a), far(b));
    let (tp, tq) = (tip(graph, p), tip(graph, q));
    let gap = tq.at - tp.at;
    let faces = |t: &Tip, gap: Vec2| gap.hypot() < NEAR_MM || t.way.dot(gap) > 0.5 * gap.hypot();
    // A line from face to face of a thin magnet faces itself over the magnet.
    if gap.hypot() > NEAR_MM && near_print(tp.at) && near_print(tq.at) {
        return false;
    }
    gap.hypot() < HALVES_FACE_MM && tp.way.dot(tq.way) < -0.5 && faces(&tp, gap) && faces(&tq, -gap)
}

/// The cost of a bridge and how much of it was not seen, mm: its white, and print that it runs along under. `None` where it
/// can be no bridge.
fn bridge(graph: &Graph, a: &Tip, b: &Tip, ground: &impl Fn(Point) -> Ground) -> Option<(f64, f64)> {
    let gap = b.at - a.at;
    let length = gap.hypot();
    let (turn, cost) = bend(a, b);
    // Grains of one stroke end side by side.
    let beside = length < BESIDE_MM && turn < BESIDE_DEG;
    if turn > BRIDGE_DEG + 20.0
        || (length > 0.6 && !beside && (a.way.dot(gap) < 0.5 * length || b.way.dot(-gap) < 0.5 * length))
    {
        return None;
    }
    if beside {
        return Some((turn + 8.0 * length, length));
    }
    let (mut white, mut print) = (0.0, 0.0);
    let steps = (length / 0.125).ceil().max(1.0);
    let curve = hermite(a.at, a.way, b.at, b.way);
    for k in 1..steps as usize {
        match ground(curve(k as f64 / steps)) {
            Ground::White => white += length / steps,
            Ground::Print => print += length / steps,
            Ground::Ink => {}
        }
    }
    // A short piece's own direction is rough: the shorter, the less bend is believed.
    let short = graph.edges[a.end.0].length_mm.min(graph.edges[b.end.0].length_mm);
    let limit =
        BRIDGE_DEG - BRIDGE_DEG_PER_MM * white.max(0.25 * length) - if short < 2.0 { 6.0 } else { 0.0 };
    let lift = BRIDGE_DEG + (LIFT_DEG - BRIDGE_DEG) * (white / LIFT_MM).min(1.0);
    if white > 0.0 && jog(a, b) > lift {
        return None;
    }
    let longest = if short < DASH_MM { DASH_WHITE_MM } else { LONGEST_WHITE_MM };
    let along = |t: &Tip, chord: Vec2| turn_deg(t.way, chord).abs();
    if print > LONGEST_PRINT_MM || length > LONGEST_BRIDGE_MM {
        let grazing = along(a, gap).max(along(b, -gap)) < GRAZES_DEG
            && length - print < GRAZES_BARE_MM
            && ![a, b].iter().any(|t| at_corner(t, ground));
        return grazing.then_some((cost + 2.0 * length, length));
    }
    if white > longest || cost > limit {
        return None;
    }
    Some((cost + 8.0 * white + 2.0 * length, white))
}

/// Whether print runs across the way right ahead of a tip.
fn at_corner(tip: &Tip, ground: &impl Fn(Point) -> Ground) -> bool {
    let aside = Vec2::new(-tip.way.y, tip.way.x);
    let ahead = (0..=6).map(|k| tip.at + (AHEAD_MM * f64::from(k) / 6.0) * tip.way);
    let mut places = ahead.flat_map(|p| [p + ACROSS_MM * aside, p - ACROSS_MM * aside]);
    places.any(|p| ground(p) == Ground::Print)
}

/// The cubic that leaves `a` along `u` and arrives at `b` against `v`, by a parameter of 0 to 1.
pub fn hermite(a: Point, u: Vec2, b: Point, v: Vec2) -> impl Fn(f64) -> Point {
    let reach = a.distance(b) / 3.0;
    let curve = kurbo::CubicBez::new(a, a + reach * u, b + reach * v, b);
    move |t| kurbo::ParamCurve::eval(&curve, t)
}
