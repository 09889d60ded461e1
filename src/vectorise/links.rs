//! Which stretch of stroke goes on in which: at junctions, over pen lifts, through another line.
//!
//! One rule serves all three: two ends belong together when the curve that leads from one into the other bends
//! little (Gestalt good continuation; Wertheimer M (1923) Psychol. Forsch. 4, 301-350), and what lies between is
//! ink, print, or a short piece of white.

use super::gaps::{Ground, over_gaps};
use super::graph::Graph;
use super::through::{self, LONGEST_SHARED_MM, SHARED_TURN_DEG};
use crate::geometry::{Point, Vec2, turn_deg};
use std::collections::{BTreeMap, BTreeSet};

/// An edge's end: (edge, 0 first point or 1 last point).
pub type End = (usize, usize);

/// How two ends were linked.
#[derive(Clone, Debug, PartialEq)]
pub struct Link {
    pub to: End,
    /// Edges between, shared with another line, each with the end at which it is entered.
    pub via: Vec<End>,
    /// The bend's cost, degrees.
    pub cost: f64,
    /// White bridged, and print that it runs along under, mm.
    pub white_mm: f64,
    /// The chance that of the lines that share what lies between it is another that goes on here.
    pub doubt: f64,
}

/// Links by edge and end; symmetric.
pub struct Links {
    of: Vec<[Option<Link>; 2]>,
    /// Shared edges over which a line runs out to a free end, by edge and end.
    tails: BTreeMap<End, Vec<End>>,
    /// Edges that only lead from line to line: no stroke of their own.
    shared: BTreeSet<usize>,
}

impl Links {
    fn new(edges: usize) -> Self {
        Self { of: vec![[const { None }; 2]; edges], tails: BTreeMap::new(), shared: BTreeSet::new() }
    }

    /// The link at an end.
    pub fn at(&self, end: End) -> Option<&Link> {
        self.of[end.0][end.1].as_ref()
    }

    /// Along the chain that begins at `end`: the end by which each edge is left, in order; the last is free.
    pub fn onward(&self, end: End) -> impl Iterator<Item = End> + '_ {
        let next = |&left: &End| self.at(left).map(|l| (l.to.0, 1 - l.to.1));
        // A ring has no end to begin at; as often as there are edges is enough.
        std::iter::successors(Some((end.0, 1 - end.1)), next).take(self.of.len())
    }

    /// Whether an edge only leads from line to line.
    pub fn is_shared(&self, edge: usize) -> bool {
        self.shared.contains(&edge)
    }

    /// The shared edges over which the stroke that ends here runs out, each with the end at which it is entered.
    pub fn tail(&self, end: End) -> &[End] {
        self.tails.get(&end).map_or(&[], Vec::as_slice)
    }

    pub(super) fn set(&mut self, a: End, b: End, cost: f64, white_mm: f64) {
        self.put(a, b, Vec::new(), cost, white_mm, 0.0);
    }

    fn put(&mut self, a: End, b: End, via: Vec<End>, cost: f64, white_mm: f64, doubt: f64) {
        let back = via.iter().rev().map(|&(e, k)| (e, 1 - k)).collect();
        self.of[a.0][a.1] = Some(Link { to: b, via, cost, white_mm, doubt });
        self.of[b.0][b.1] = Some(Link { to: a, via: back, cost, white_mm, doubt });
    }
}

/// Strokes this short with a free end are most likely barbs: they continue a line only when nothing else does, mm.
pub const BARB_MM: f64 = 9.0;
/// What being a likely barb costs a link, degrees.
const BARB_COST_DEG: f64 = 25.0;
/// A stroke that comes back to where it began and is longer is a ring, mm; a shorter one is a loop of writing or a filled head.
const LEAST_RING_MM: f64 = 25.0;
/// Largest turn of a line at a junction, degrees.
pub(super) const MOST_TURN_DEG: f64 = 50.0;
/// Sharpest corner of one line, degrees.
const SHARPEST_DEG: f64 = 105.0;
/// Near a node the thinned line is bent; directions are read from here on, in half-widths of the node's stroke.
const CLEAR_RADII: f64 = 2.2;
/// Length of the stretch over which a direction is read, mm.
pub(super) const READ_MM: f64 = 2.6;
/// The same as [`CLEAR_RADII`] at a free end, mm.
pub(super) const END_CLEAR_MM: f64 = 0.3;

/// Most bend with which a short end is put back on a line, degrees: less than a barb's usual slant.
const PUT_BACK_DEG: f64 = 24.0;
/// Only strokes at least this long run into another line and out of it again, mm.
const SHARING_PIECE_MM: f64 = 2.0;
/// The chance that a line was led wrongly over ink that it shares, where nothing more is known (guessed).
pub(super) const SHARED_DOUBT: f64 = 0.08;
/// Most edges that a shared stretch is made of.
const SHARED_EDGES: usize = 5;
/// Longest shared stretch over which a line runs out to its end, mm.
const RUN_OUT_MM: f64 = 16.0;

/// Links at the junctions, then over gaps.
pub fn link(
    graph: &mut Graph,
    ground: impl Fn(Point) -> Ground,
    near_print: impl Fn(Point) -> bool,
) -> Links {
    let mut links = Links::new(graph.edges.len());
    through_shared(graph, &mut links);
    at_junctions(graph, &mut links);
    round_corners(graph, &mut links, &near_print);
    put_back(graph, &mut links);
    over_shared(graph, &mut links);
    over_gaps(graph, &mut links, ground, near_print);
    links
}

/// Links two lines that run together over one edge and part again.
fn through_shared(graph: &Graph, links: &mut Links) {
    for place in through::places(graph) {
        for (into, out) in place.pairs() {
            let cost = bend(&into, &out).1.min(MOST_TURN_DEG);
            links.put(into.end, out.end, vec![(place.edge, 0)], cost, 0.0, place.doubt());
        }
        links.shared.insert(place.edge);
    }
}

/// Links detached short ends to lines that end where they stand and go on in them.
fn put_back(graph: &mut Graph, links: &mut Links) {
    let mut pairs = Vec::new();
    for edge in graph.detached() {
        for end in 0..2 {
            let node = graph.edges[edge].nodes[end];
            let short = tip(graph, (edge, end));
            for &other in &graph.nodes[node].ends {
                if links.at(other).is_none() && !links.is_shared(other.0) {
                    let (turn, cost) = bend(&short, &tip(graph, other));
                    if turn < PUT_BACK_DEG && cost < PUT_BACK_DEG {
                        pairs.push((cost, other, (edge, end)));
                    }
                }
            }
        }
    }
    pairs.sort_by(|a, b| a.0.total_cmp(&b.0));
    for (cost, a, b) in pairs {
        if links.at(a).is_none() && graph.edges[b.0].detached {
            graph.edges[b.0].detached = false;
            links.set(a, b, cost, 0.0);
        }
    }
}

/// Links two strokes that end in one corner with nothing else there, where both are too long to be barbs of one head. At
/// print, where lines end, two lines' ends have run together.
fn round_corners(graph: &Graph, links: &mut Links, near_print: &impl Fn(Point) -> bool) {
    for node in &graph.nodes {
        let open: Vec<End> =
            node.ends.iter().copied().filter(|&e| links.at(e).is_none() && !links.is_shared(e.0)).collect();
        let [a, b] = open[..] else { continue };
        // A short piece that leads on to another place is no barb either.
        let leads_on = |(e, k): End| graph.degree(graph.edges[e].nodes[1 - k]) > 1;
        let long = |end| leads_on(end) || chain_mm(graph, links, end) > BARB_MM;
        if near_print(node.at) || a.0 == b.0 || !long(a) || !long(b) || closes_ring(links, a, b) {
            continue;
        }
        let (turn, _) = bend(&tip(graph, a), &tip(graph, b));
        if turn < SHARPEST_DEG {
            links.set(a, b, turn.min(MOST_TURN_DEG), 0.0);
        }
    }
}

/// Length of the chain that begins at `end`, mm.
fn chain_mm(graph: &Graph, links: &Links, end: End) -> f64 {
    links.onward(end).map(|e| graph.edges[e.0].length_mm).sum()
}

/// Links ends of lines that run into another line and out of it again, over the edges that both share; and lets
/// lines that run into another close to its end run out with it.
fn over_shared(graph: &Graph, links: &mut Links) {
    let loose: Vec<Tip> = graph
        .alive()
        .flat_map(|e| [(e, 0), (e, 1)])
        .filter(|&(e, k)| links.at((e, k)).is_none() && graph.degree(graph.edges[e].nodes[k]) > 1)
        .filter(|&(e, _)| graph.edges[e].length_mm >= SHARING_PIECE_MM && !links.is_shared(e))
        .map(|end| tip(graph, end))
        .collect();
    let mut pairs = Vec::new();
    let mut outs = Vec::new();
    for a in &loose {
        let start = graph.edges[a.end.0].nodes[a.end.1];
        for (via, node) in shared_ways(graph, a, start) {
            let Some(&(last, entered)) = via.last() else { continue };
            let length: f64 = via.iter().map(|v| graph.edges[v.0].length_mm).sum();
            if graph.degree(node) == 1 && length <= RUN_OUT_MM {
                if !is_short_free(graph, a.end) {
                    outs.push((length, a.end, via));
                }
                continue;
            }
            let arriving = -graph.outward(last, 1 - entered, 0.2, READ_MM);
            for b in loose.iter().filter(|b| b.end > a.end && graph.edges[b.end.0].nodes[b.end.1] == node) {
                let turn = turn_deg(arriving, -b.way).abs();
                let barbs = is_short_free(graph, a.end) || is_short_free(graph, b.end);
                if turn < SHARED_TURN_DEG && !barbs && !via.iter().any(|v| v.0 == b.end.0) {
                    pairs.push((turn + 2.0 * length, a.end, b.end, via.clone()));
                }
            }
        }
    }
    pairs.sort_by(|p, q| p.0.total_cmp(&q.0));
    for (cost, a, b, via) in pairs {
        if links.at(a).is_none() && links.at(b).is_none() && !closes_ring(links, a, b) {
            links.put(a, b, via, cost.min(MOST_TURN_DEG), 0.0, SHARED_DOUBT);
        }
    }
    outs.sort_by(|p, q| p.0.total_cmp(&q.0));
    for (_, a, via) in outs {
        if links.at(a).is_none() {
            links.tails.entry(a).or_insert(via);
        }
    }
}

/// The ways over edges that go smoothly on from a loose end at `start`, with the node each leads to.
fn shared_ways(graph: &Graph, a: &Tip, start: usize) -> Vec<(Vec<End>, usize)> {
    let mut out = Vec::new();
    let mut open: Vec<(Vec<End>, usize, Vec2, f64)> = vec![(Vec::new(), start, a.way, 0.0)];
    while let Some((via, node, way, length)) = open.pop() {
        if via.len() >= SHARED_EDGES {
            continue;
        }
        for &(e, k) in &graph.nodes[node].ends {
            let longer = length + graph.edges[e].length_mm;
            if e == a.end.0 || longer > LONGEST_SHARED_MM || via.iter().any(|v| v.0 == e) {
                continue;
            }
            let out_way = graph.outward(e, k, 0.2, READ_MM);
            if turn_deg(way, out_way).abs() > SHARED_TURN_DEG {
                continue;
            }
            let mut on = via.clone();
            on.push((e, k));
            let next = graph.edges[e].nodes[1 - k];
            out.push((on.clone(), next));
            open.push((on, next, -graph.outward(e, 1 - k, 0.2, READ_MM), longer));
        }
    }
    out
}

/// A stretch's end as bridging sees it: where it is and the way it leads on, out of the stretch.
#[derive(Clone, Copy)]
pub(super) struct Tip {
    pub end: End,
    pub at: Point,
    /// The place from which `way` was read.
    pub clear: Point,
    pub way: Vec2,
}

pub(super) fn tip(graph: &Graph, end: End) -> Tip {
    let (e, k) = end;
    let node = graph.edges[e].nodes[k];
    let clear_mm =
        if graph.degree(node) > 1 { CLEAR_RADII * graph.nodes[node].radius_mm } else { END_CLEAR_MM };
    tip_clear_of(graph, end, clear_mm, READ_MM)
}

/// A tip whose way is read from `clear_mm` on over `read_mm`.
pub(super) fn tip_clear_of(graph: &Graph, end: End, clear_mm: f64, read_mm: f64) -> Tip {
    let (e, k) = end;
    let clear_mm = clear_mm.min(0.4 * graph.edges[e].length_mm);
    let way = -graph.outward(e, k, clear_mm, clear_mm + read_mm);
    Tip { end, at: graph.along(e, k, 0.0), clear: graph.along(e, k, clear_mm), way }
}

/// The bend between two tips, degrees: how much the way turns, and how unevenly before and after the gap.
///
/// A circle's arc turns alike into the chord and out of it; a jog sideways turns there and back.
pub(super) fn bend(a: &Tip, b: &Tip) -> (f64, f64) {
    let chord = b.clear - a.clear;
    let whole = turn_deg(a.way, -b.way).abs();
    if chord.hypot() < 0.4 {
        return (whole, whole);
    }
    let (into, out) = (turn_deg(a.way, chord), turn_deg(chord, -b.way));
    (whole.max((into + out).abs()), 0.6 * whole + 0.5 * (into - out).abs())
}

/// Whether an edge is no longer than a barb and free beyond this end: most likely one.
pub(super) fn is_short_free(graph: &Graph, (e, k): End) -> bool {
    graph.edges[e].length_mm < BARB_MM && graph.degree(graph.edges[e].nodes[1 - k]) == 1
}

fn at_junctions(graph: &Graph, links: &mut Links) {
    for node in &graph.nodes {
        if node.ends.len() < 2 {
            continue;
        }
        let open = node.ends.iter().filter(|e| links.at(**e).is_none() && !links.is_shared(e.0));
        let tips: Vec<Tip> = open.map(|&end| tip(graph, end)).collect();
        // What a pair costs, also with what it costs to begin or end with a barb.
        let pair = |i: usize, j: usize| {
            let (turn, cost) = bend(&tips[i], &tips[j]);
            let barbs = [i, j].iter().filter(|&&k| is_short_free(graph, tips[k].end)).count();
            (turn <= MOST_TURN_DEG && cost <= MOST_TURN_DEG)
                .then_some((cost + barbs as f64 * BARB_COST_DEG, cost))
        };
        let mut pairs = Vec::new();
        for i in 0..tips.len() {
            for j in i + 1..tips.len() {
                let Some((mut dear, cost)) = pair(i, j) else { continue };
                // Where two lines cross, both ways on are decided at once.
                if tips.len() == 4 {
                    let rest: Vec<usize> = (0..4).filter(|k| ![i, j].contains(k)).collect();
                    dear += pair(rest[0], rest[1]).map_or(MOST_TURN_DEG, |(dear, _)| dear);
                }
                pairs.push((dear, cost, tips[i].end, tips[j].end));
            }
        }
        pairs.sort_by(|p, q| p.0.total_cmp(&q.0));
        for (_, cost, a, b) in pairs {
            // A ring that comes back to a node closes there, so that no barb of its arrowhead goes on in it.
            let one_line = a.0 != b.0 || graph.edges[a.0].length_mm > LEAST_RING_MM;
            if links.at(a).is_none() && links.at(b).is_none() && one_line {
                links.set(a, b, cost, 0.0);
            }
        }
    }
}

/// Whether `a` and `b` are the two ends of one chain already: linking them would leave it without an end.
pub(super) fn closes_ring(links: &Links, a: End, b: End) -> bool {
    links.onward(a).any(|e| e == b)
}
