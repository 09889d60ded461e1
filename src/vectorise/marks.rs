//! Small crosses, dots and rings that stand by themselves, as one marks a point on a page: taken out of the graph before
//! anything is followed, so that they become no line, no arrowhead and no meeting.

use super::graph::{Edge, Graph};
use crate::drawing::{Mark, MarkKind};
use crate::geometry::{Point, Vec2, turn_deg};
use std::collections::BTreeMap;

/// The strokes of a small cross are so long, mm: 3 to 8 asked for, read to half a stroke's width at either end.
const STROKE_MM: (f64, f64) = (2.2, 9.0);
/// Neither arm is shorter than this share of its stroke: else it is a T, or a barb on a bit of line.
const LEAST_ARM: f64 = 0.25;
/// The two strokes cross at this angle or more, degrees.
const LEAST_ANGLE_DEG: f64 = 45.0;
/// Two arms of one stroke lead on in one another but for so much, degrees.
const STROKE_TURN_DEG: f64 = 35.0;
/// An arm that is so much longer than the way across is bent: writing.
const BENT: f64 = 1.2;
/// Ends shorter than the stroke's half-width and this are thinning's own, mm.
const SPUR_MM: f64 = 0.35;
/// Junctions this near to each other are one, mm: a crossing thins to two forks.
const ONE_PLACE_MM: f64 = 2.0;
/// A stroke with ink ahead of both its ends, within this, mm, and aside by no more than this, degrees, is a dash of a line.
const AHEAD_MM: f64 = 8.0;
const ASIDE_DEG: f64 = 25.0;
/// Radius of a dot that marks a place, mm: as of plotted ones. Smaller ones are where a pencil rested, or dust.
const DOT_MM: (f64, f64) = (0.36, 1.5);
/// A blot that thins to a stroke longer than so many of its radii is no dot.
const LONG_RADII: f64 = 1.6;
/// A small ring is so wide, mm, and all its points lie at about the same distance from its middle.
const RING_MM: (f64, f64) = (1.6, 7.0);
const UNROUND: f64 = 0.35;
/// Dots and rings this near to a line belong to it, mm: a plotted dot, a bit of an arrowhead.
const OFF_LINE_MM: f64 = 3.0;
/// That a small cross, a dot, a ring by itself is one, guessed: dust makes dots, writing rings.
const CROSS_SURE: f64 = 0.93;
const DOT_SURE: f64 = 0.8;
const RING_SURE: f64 = 0.75;

/// Takes the small crosses out of a graph that was not tidied yet.
pub fn take_crosses(graph: &mut Graph, near_print: impl Fn(Point) -> bool) -> Vec<Mark> {
    let mut marks = Vec::new();
    let ends: Vec<Point> = graph.nodes.iter().filter(|n| n.ends.len() == 1).map(|n| n.at).collect();
    for edges in pieces(graph).into_values() {
        let Some(cross) = cross(graph, &edges, &ends) else { continue };
        if cross.ends.iter().any(|p| near_print(*p)) {
            continue;
        }
        for edge in edges {
            graph.remove(edge);
        }
        marks.push(cross.mark);
    }
    marks
}

/// Edges that hang together, by the least of their nodes; of ink not much longer than a cross has.
fn pieces(graph: &Graph) -> BTreeMap<usize, Vec<usize>> {
    let roots = graph.roots();
    let mut pieces: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
    for e in graph.alive() {
        pieces.entry(roots[graph.edges[e].nodes[0]]).or_default().push(e);
    }
    let length = |edges: &Vec<usize>| edges.iter().map(|&e| graph.edges[e].length_mm).sum::<f64>();
    pieces.retain(|_, edges| (2.0 * STROKE_MM.0..2.5 * STROKE_MM.1).contains(&length(edges)));
    pieces
}

struct Cross {
    mark: Mark,
    ends: [Point; 4],
}

/// The cross that edges which hang together make up. `free`: the ends of all strokes of the drawing.
fn cross(graph: &Graph, edges: &[usize], free: &[Point]) -> Option<Cross> {
    let (mut forks, mut arms): (Vec<Point>, Vec<(Point, f64)>) = (Vec::new(), Vec::new());
    for &e in edges {
        let Edge { nodes, length_mm, .. } = graph.edges[e];
        for (node, other) in [(nodes[0], nodes[1]), (nodes[1], nodes[0])] {
            match graph.degree(node) {
                1 if graph.degree(other) > 1 && length_mm < graph.nodes[other].radius_mm + SPUR_MM => {}
                1 => arms.push((graph.nodes[node].at, length_mm)),
                _ => forks.push(graph.nodes[node].at),
            }
        }
    }
    if arms.len() != 4 || forks.is_empty() {
        return None;
    }
    let sum = forks.iter().fold(Vec2::ZERO, |s, p| s + p.to_vec2());
    let at = (sum / forks.len() as f64).to_point();
    if forks.iter().any(|p| p.distance(at) > 0.5 * ONE_PLACE_MM) {
        return None;
    }
    // Round the middle, so that each arm's partner is the one after the next.
    let way = |p: Point| (p - at).atan2();
    arms.sort_by(|a, b| way(a.0).total_cmp(&way(b.0)));
    let strokes = [(arms[0], arms[2]), (arms[1], arms[3])];
    let fits = |((a, along_a), (b, along_b)): ((Point, f64), (Point, f64))| {
        let (da, db) = (a.distance(at), b.distance(at));
        let straight = along_a + along_b < BENT * (da + db) + ONE_PLACE_MM;
        straight
            && (STROKE_MM.0..STROKE_MM.1).contains(&(da + db))
            && da.min(db) >= LEAST_ARM * (da + db)
            && turn_deg(at - a, b - at).abs() < STROKE_TURN_DEG
    };
    let angle = turn_deg(strokes[0].1.0 - strokes[0].0.0, strokes[1].1.0 - strokes[1].0.0).abs();
    let ends = [arms[0].0, arms[1].0, arms[2].0, arms[3].0];
    let dash = |((a, _), (b, _)): ((Point, f64), (Point, f64))| {
        goes_on(a, a - b, &ends, free) && goes_on(b, b - a, &ends, free)
    };
    let crosses = (LEAST_ANGLE_DEG..=180.0 - LEAST_ANGLE_DEG).contains(&angle);
    (crosses && strokes.into_iter().all(fits) && !strokes.into_iter().any(dash)).then(|| {
        let size_mm = strokes.iter().map(|(a, b)| a.0.distance(b.0)).fold(0.0, f64::max);
        Cross { mark: Mark { at, kind: MarkKind::Cross, size_mm, sure: CROSS_SURE }, ends }
    })
}

/// Whether another stroke's end lies ahead.
fn goes_on(from: Point, way: Vec2, own: &[Point; 4], free: &[Point]) -> bool {
    free.iter().filter(|p| !own.contains(p)).any(|p| {
        let step = *p - from;
        step.hypot() < AHEAD_MM && turn_deg(way, step).abs() < ASIDE_DEG
    })
}

/// A dot or a ring that edges or nodes without a line make up, away from every line; and the edge that it is.
///
/// `is_round`: whether there is paper all round a dot of that radius. `off_lines_mm`: how far the nearest line is.
pub fn dots_and_rings(
    graph: &Graph,
    residue: &[usize],
    is_round: impl Fn(Point, f64) -> bool,
    off_lines_mm: impl Fn(Point) -> f64,
) -> Vec<(Mark, Option<usize>)> {
    let dot = |at: Point, radius: f64| {
        let fits = (DOT_MM.0..DOT_MM.1).contains(&radius) && off_lines_mm(at) > OFF_LINE_MM;
        let mark = Mark { at, kind: MarkKind::Dot, size_mm: 2.0 * radius, sure: DOT_SURE };
        (fits && is_round(at, radius)).then_some(mark)
    };
    let mut marks: Vec<(Mark, Option<usize>)> =
        graph.specks().filter_map(|n| Some((dot(n.at, n.radius_mm)?, None))).collect();
    for &e in residue {
        let edge = &graph.edges[e];
        let short = edge.length_mm < LONG_RADII * edge.radius_mm.max(DOT_MM.0);
        let mark = match edge.nodes {
            [a, b] if a == b && graph.degree(a) == 2 => {
                ring(edge).filter(|m| off_lines_mm(m.at) > OFF_LINE_MM)
            }
            [a, b] if graph.degree(a) == 1 && graph.degree(b) == 1 && short => {
                let radius = graph.nodes[a].radius_mm.max(graph.nodes[b].radius_mm).max(edge.radius_mm);
                dot(graph.along(e, 0, 0.5 * edge.length_mm), radius)
            }
            _ => None,
        };
        marks.extend(mark.map(|m| (m, Some(e))));
    }
    marks
}

fn ring(edge: &Edge) -> Option<Mark> {
    let n = edge.points.len() as f64;
    let sum = edge.points.iter().fold(Vec2::ZERO, |s, p| s + p.to_vec2());
    let at = (sum / n).to_point();
    let radius = edge.points.iter().map(|p| p.distance(at)).sum::<f64>() / n;
    let round = edge.points.iter().all(|p| (p.distance(at) - radius).abs() < UNROUND * radius);
    let mark = Mark { at, kind: MarkKind::Ring, size_mm: 2.0 * radius, sure: RING_SURE };
    (round && (RING_MM.0..RING_MM.1).contains(&mark.size_mm)).then_some(mark)
}
