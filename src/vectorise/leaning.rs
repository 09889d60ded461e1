//! Which short strokes at a junction lean on a line, as barbs do, and which go on in it.

use super::graph::Graph;
use super::links::{BARB_MM, End, is_short_free};
use crate::geometry::{Point, Vec2, turn_deg};

/// Free ends this short on a junction carry no direction of their own, mm.
pub const SURELY_LEANS_MM: f64 = 2.0;
/// A short end goes on a line when it turns by less than this, and by this much less than what else could.
const GOES_ON_DEG: f64 = 28.0;
const CLEARLY_DEG: f64 = 12.0;
/// A short end faces a line of at least this length, mm, whose end is this near, mm, and heads for it within this angle,
/// degrees.
const FACING_LINE_MM: f64 = 6.0;
const FACES_MM: f64 = 3.0;
const FACES_DEG: f64 = 24.0;
/// What a millimetre of length counts for when it is decided which of several short ends goes on, degrees.
const LENGTH_COUNTS_DEG_PER_MM: f64 = 6.0;
/// Ways at a node are read from here to here, mm: clear of the blot in which strokes meet, short of the next bend.
const TURN_READ_MM: (f64, f64) = (0.6, 3.0);
/// Most turn with which a line runs out in a short free end beyond another line, degrees.
const RUNS_OUT_DEG: f64 = 35.0;
/// The barbs of a head start within this of each other, mm, are this even in length, open by this much, degrees, and their
/// line runs this close to their middle, degrees.
const APEX_MM: f64 = 2.2;
const EVEN_SHARE: f64 = 0.5;
const V_DEG: (f64, f64) = (25.0, 120.0);
const BISECTS_DEG: f64 = 25.0;
/// Edges between two junctions that are no longer than this have no sure direction of their own, mm.
const SHORT_PIECE_MM: f64 = 2.5;
/// And the stroke beyond one is only followed that leaves it within this, degrees.
const GOES_ON_BEYOND_DEG: f64 = 41.0;
/// Most turn where two lines that shared their ink part before a pole, degrees.
const FORK_DEG: f64 = 40.0;

/// How much an edge that is short, free on one side and on a junction on the other, leans rather than goes on: the turn
/// with which it would go on, less for its length; `None` where it is no such edge or clearly goes on.
pub fn leaning(graph: &Graph, edge: usize, near_print: &impl Fn(Point) -> bool) -> Option<f64> {
    let e = &graph.edges[edge];
    if e.length_mm > BARB_MM {
        return None;
    }
    let (da, db) = (graph.degree(e.nodes[0]), graph.degree(e.nodes[1]));
    let end = match (da, db) {
        (1, d) if d >= 3 => 1,
        (d, 1) if d >= 3 => 0,
        (a, b) if a >= 3 && b >= 3 && e.nodes[0] != e.nodes[1] => return spanning(graph, edge),
        _ => return None,
    };
    if faces_line(graph, (edge, 1 - end)) || runs_out(graph, (edge, end)) {
        return None;
    }
    let (turn, rival) = goes_on(graph, (edge, end));
    if has_partner(graph, (edge, end)) {
        return Some(turn - LENGTH_COUNTS_DEG_PER_MM * e.length_mm);
    }
    let at_print = near_print(graph.along(edge, end, e.length_mm)) && turn < FORK_DEG;
    let goes_on = at_print || (turn < GOES_ON_DEG && turn + CLEARLY_DEG < rival);
    if goes_on && e.length_mm >= SURELY_LEANS_MM {
        return None;
    }
    Some(turn - LENGTH_COUNTS_DEG_PER_MM * e.length_mm)
}

/// The turn, degrees, from one edge end through their node into another, read between [`TURN_READ_MM`] from the node.
fn turn_through(graph: &Graph, a: End, b: End) -> f64 {
    let way = |(e, k): End| way_out(graph, e, k);
    let (u, v) = (-way(a), way(b));
    turn_deg(u, v).abs()
}

/// The way out of a node along an edge. Along a short edge between two junctions, where thinning draws the line towards
/// what leans on it, it is read as far as the smoothest longer edge beyond.
fn way_out(graph: &Graph, edge: usize, end: usize) -> Vec2 {
    let near = graph.outward(edge, end, TURN_READ_MM.0, TURN_READ_MM.1);
    let e = &graph.edges[edge];
    let far = e.nodes[1 - end];
    if e.length_mm > SHORT_PIECE_MM || graph.degree(far) < 2 {
        return near;
    }
    let beyond = graph.nodes[far]
        .ends
        .iter()
        .filter(|o| o.0 != edge && graph.edges[o.0].length_mm > BARB_MM)
        .map(|&(f, k)| graph.along(f, k, SHORT_PIECE_MM) - graph.nodes[e.nodes[end]].at)
        .filter(|step| step.hypot() > 0.0)
        .map(Vec2::normalize)
        .max_by(|u, v| u.dot(near).total_cmp(&v.dot(near)));
    beyond.filter(|&way| turn_deg(way, near).abs() < GOES_ON_BEYOND_DEG).unwrap_or(near)
}

/// How much a short edge between two junctions leans: at both of them other edges go on in each other far more smoothly
/// than in this one. So does a barb that reaches the next line; `None` where it is a piece of a line.
fn spanning(graph: &Graph, edge: usize) -> Option<f64> {
    let margin = |end: usize| {
        let node = graph.edges[edge].nodes[end];
        let turn = |a, b| turn_through(graph, a, b);
        let others: Vec<End> = graph.nodes[node].ends.iter().copied().filter(|&o| o.0 != edge).collect();
        let own = others.iter().map(|&o| turn(o, (edge, end))).fold(180.0, f64::min);
        // What goes on in a short free end is no line that could do without this edge.
        let lines: Vec<End> = others.iter().copied().filter(|&o| !is_short_free(graph, o)).collect();
        let pairs = lines.iter().enumerate().flat_map(|(i, &a)| lines[i + 1..].iter().map(move |&b| (a, b)));
        let best = pairs.map(|(a, b)| turn(a, b)).fold(180.0, f64::min);
        own - best
    };
    let margin = |end: usize| if has_partner(graph, (edge, end)) { 180.0 } else { margin(end) };
    let least = margin(0).min(margin(1));
    let length = graph.edges[edge].length_mm;
    (least > CLEARLY_DEG && length >= SURELY_LEANS_MM - 1.0)
        .then_some(least - LENGTH_COUNTS_DEG_PER_MM * length)
}

/// Whether two short free edges go on smoothly in two lines that come into the same place, or into one short edge that
/// leads there: two lines cross close to their ends.
fn runs_out(graph: &Graph, (edge, end): End) -> bool {
    let node = graph.edges[edge].nodes[end];
    let (free, rest): (Vec<_>, Vec<_>) =
        graph.nodes[node].ends.iter().partition(|&&o| is_short_free(graph, o));
    let smooth = |line, tail| turn_through(graph, line, tail) < RUNS_OUT_DEG;
    let long = |o: &End| graph.edges[o.0].length_mm > BARB_MM;
    match (&free[..], &rest[..]) {
        ([p, q], [a, b]) if long(a) && long(b) => {
            (smooth(*a, *p) && smooth(*b, *q)) || (smooth(*a, *q) && smooth(*b, *p))
        }
        ([p, q], [shared]) if graph.edges[shared.0].length_mm < BARB_MM => {
            let far = graph.edges[shared.0].nodes[1 - shared.1];
            let entry = (shared.0, 1 - shared.1);
            let into: Vec<_> = graph.nodes[far].ends.iter().copied().filter(|o| *o != entry).collect();
            smooth(*shared, *p)
                && smooth(*shared, *q)
                && into.len() == 2
                && into.iter().all(|o| long(o) && smooth(*o, entry))
        }
        _ => false,
    }
}

/// Whether an edge and a stroke that was taken off make the two barbs of a head on a line that runs on between them.
fn has_partner(graph: &Graph, (edge, end): End) -> bool {
    let e = &graph.edges[edge];
    let apex = graph.nodes[e.nodes[end]].at;
    let own = graph.outward(edge, end, 0.0, e.length_mm);
    let between = |u: Vec2, v: Vec2| {
        let middle = u + v;
        graph.nodes[e.nodes[end]].ends.iter().any(|&(f, k)| {
            f != edge
                && turn_deg(graph.outward(f, k, TURN_READ_MM.0, TURN_READ_MM.1), middle).abs() < BISECTS_DEG
        })
    };
    graph.detached().any(|d| {
        let other = &graph.edges[d];
        let even = e.length_mm.min(other.length_mm) / e.length_mm.max(other.length_mm);
        (0..2).any(|k| {
            let v = graph.outward(d, k, 0.0, other.length_mm);
            even > EVEN_SHARE
                && graph.nodes[other.nodes[k]].at.distance(apex) < APEX_MM
                && (V_DEG.0..V_DEG.1).contains(&turn_deg(own, v).abs())
                && between(own, v)
        })
    })
}

/// Whether a longer stroke ends close before this free end and heads straight for it: a line between a head and a pen lift.
pub fn faces_line(graph: &Graph, (edge, end): End) -> bool {
    let way = -graph.outward(edge, end, 0.0, graph.edges[edge].length_mm);
    line_ahead(graph, graph.nodes[graph.edges[edge].nodes[end]].at, way, FACES_MM, edge)
}

/// Whether a line ends free at most `reach_mm` ahead of a place, heading for it, seen by another edge that comes there along
/// `way`.
fn line_ahead(graph: &Graph, at: Point, way: Vec2, reach_mm: f64, but: usize) -> bool {
    graph.alive().flat_map(|e| [(e, 0), (e, 1)]).any(|(e, k)| {
        let node = graph.edges[e].nodes[k];
        let gap = at - graph.nodes[node].at;
        if e == but
            || graph.degree(node) != 1
            || gap.hypot() > reach_mm
            || graph.edges[e].length_mm < FACING_LINE_MM
        {
            return false;
        }
        let on = -graph.outward(e, k, 0.2, FACES_MM);
        turn_deg(on, gap).abs() < FACES_DEG && turn_deg(on, -way).abs() < 1.5 * FACES_DEG
    })
}

/// Of the two edges left at a node, the short free one that bends away while a line goes straight on over a pen lift: a barb.
pub fn barb_at_lift(graph: &Graph, node: usize) -> Option<usize> {
    let [a, b] = graph.nodes[node].ends[..] else { return None };
    let (line, barb) = if is_short_free(graph, b) { (a, b) } else { (b, a) };
    let bends = is_short_free(graph, barb)
        && turn_through(graph, line, barb) > CLEARLY_DEG
        && !faces_line(graph, (barb.0, 1 - barb.1));
    let way = -graph.outward(line.0, line.1, TURN_READ_MM.0, TURN_READ_MM.1);
    // From the middle of a filled head the lift begins only at the head's rim.
    let reach = FACES_MM + graph.nodes[node].radius_mm;
    (bends && line_ahead(graph, graph.nodes[node].at, way, reach, line.0)).then_some(barb.0)
}

/// The least turn with which a short end goes on another edge at its junction, and the least with which anything else
/// goes on that edge, degrees.
fn goes_on(graph: &Graph, (edge, end): End) -> (f64, f64) {
    let node = graph.edges[edge].nodes[end];
    let turn = |a, b| turn_through(graph, a, b);
    let others: Vec<End> = graph.nodes[node].ends.iter().copied().filter(|&o| o != (edge, end)).collect();
    let Some((best, partner)) =
        others.iter().map(|&o| (turn(o, (edge, end)), o)).min_by(|a, b| a.0.total_cmp(&b.0))
    else {
        return (180.0, 180.0);
    };
    let rival = others.iter().filter(|&&o| o != partner).map(|&o| turn(partner, o)).fold(180.0, f64::min);
    (best, rival)
}
