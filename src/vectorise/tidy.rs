//! Tidies the graph of the thinned ink: what thinning adds of its own is taken away, what is one place becomes one node.

use super::graph::Graph;
use super::leaning::{SURELY_LEANS_MM, barb_at_lift, faces_line, leaning};
use super::links::{BARB_MM, End};
use crate::geometry::{Point, turn_deg};

/// A free end this little longer than the half-width of the stroke it stands on is thinning's own, mm.
const SPUR_MM: f64 = 0.35;
/// Junctions closer than this many stroke widths are one place: a crossing thins to two forks.
const ONE_PLACE_WIDTHS: f64 = 1.5;
/// Two edges between the same nodes that stay this close are one stroke with a hole in it, or drawn twice, mm.
const TWICE_MM: f64 = 0.6;
/// A stroke that departs from its chord by this share of the chord turns a corner (two barbs drawn in one go).
const CORNER_SHARE: f64 = 0.22;
/// The two sides of a corner are at least this long, mm.
const CORNER_SIDE_MM: f64 = 1.0;
/// A corner turns by at least this much between the chords of its sides; field lines bend over longer stretches.
const CORNER_DEG: f64 = 62.0;
/// Length of the chords between which a corner's turn is measured, mm.
const CORNER_CHORD_MM: f64 = 1.6;
/// No line turns back by more than this within two chords of [`BACK_CHORD_MM`]: there two lines' ends have run together.
const BACK_DEG: f64 = 112.0;
const BACK_CHORD_MM: f64 = 3.0;

/// A barb's partner starts within this of one of its ends, mm.
const PARTNER_MM: f64 = 1.2;

/// All of it, in the order that needs no second round.
///
/// `near_print` tells whether print lies close to a place: a short stroke that ends there is a line's end at a pole or
/// at the frame, not a barb.
pub fn tidy(graph: &mut Graph, near_print: impl Fn(Point) -> bool) {
    merge_twice_drawn(graph);
    drop_spurs(graph);
    dissolve_all(graph);
    merge_twice_drawn(graph);
    join_forks(graph);
    dissolve_all(graph);
    split_corners(graph);
    detach_leaning(graph, &near_print);
    detach_twins(graph);
    detach_leaning(graph, &near_print);
    split_corners(graph);
}

fn dissolve_all(graph: &mut Graph) {
    for node in 0..graph.nodes.len() {
        if graph.degree(node) == 2 && !turns_back(graph, node) {
            graph.dissolve(node);
        }
    }
}

/// Whether the two edges at a node are two long strokes' ends that have run together.
fn turns_back(graph: &Graph, node: usize) -> bool {
    let shorter = |[(a, _), (b, _)]: [End; 2]| graph.edges[a].length_mm.min(graph.edges[b].length_mm);
    let pair = <[End; 2]>::try_from(&graph.nodes[node].ends[..]);
    pair.is_ok_and(|pair| shorter(pair) > BARB_MM && turn_at(graph, pair, BACK_CHORD_MM) > BACK_DEG)
}

/// The turn from one edge end into another, degrees, read over chords of `chord_mm`.
fn turn_at(graph: &Graph, [(a, ka), (b, kb)]: [End; 2], chord_mm: f64) -> f64 {
    turn_deg(-graph.outward(a, ka, 0.3, chord_mm), graph.outward(b, kb, 0.3, chord_mm)).abs()
}

/// Removes short free ends on junctions.
fn drop_spurs(graph: &mut Graph) {
    for edge in 0..graph.edges.len() {
        let e = &graph.edges[edge];
        if !e.alive {
            continue;
        }
        let (da, db) = (graph.degree(e.nodes[0]), graph.degree(e.nodes[1]));
        let junction = match (da, db) {
            (1, d) if d >= 3 => e.nodes[1],
            (d, 1) if d >= 3 => e.nodes[0],
            _ => continue,
        };
        let free = usize::from(e.nodes[0] == junction);
        if e.length_mm < graph.nodes[junction].radius_mm + SPUR_MM && !faces_line(graph, (edge, free)) {
            graph.remove(edge);
        }
    }
}

/// Of two edges between the same nodes that run side by side, keeps the wider.
fn merge_twice_drawn(graph: &mut Graph) {
    for node in 0..graph.nodes.len() {
        let mut k = 0;
        while k < graph.nodes[node].ends.len() {
            let (a, ka) = graph.nodes[node].ends[k];
            let other = graph.edges[a].nodes[1 - ka];
            let twin =
                graph.nodes[node].ends.iter().copied().find(|&(b, kb)| {
                    b > a && graph.edges[b].nodes[1 - kb] == other && side_by_side(graph, a, b)
                });
            match twin {
                Some((b, _)) => {
                    let keep_a = graph.edges[a].radius_mm >= graph.edges[b].radius_mm;
                    graph.remove(if keep_a { b } else { a });
                }
                None => k += 1,
            }
        }
    }
}

fn side_by_side(graph: &Graph, a: usize, b: usize) -> bool {
    let (p, q) = (&graph.edges[a].points, &graph.edges[b].points);
    let near = |p: &[Point], q: &[Point]| {
        p.iter().step_by(2).all(|x| q.iter().any(|y| x.distance_squared(*y) < TWICE_MM * TWICE_MM))
    };
    near(p, q) && near(q, p)
}

/// Joins junctions that are one place.
fn join_forks(graph: &mut Graph) {
    for edge in 0..graph.edges.len() {
        let e = &graph.edges[edge];
        if !e.alive || e.nodes[0] == e.nodes[1] {
            continue;
        }
        let [a, b] = e.nodes;
        if graph.degree(a) < 3 || graph.degree(b) < 3 {
            continue;
        }
        let width = 2.0 * e.radius_mm;
        if e.length_mm < ONE_PLACE_WIDTHS * width {
            graph.remove(edge);
            let ends = std::mem::take(&mut graph.nodes[b].ends);
            for &(f, k) in &ends {
                graph.edges[f].nodes[k] = a;
            }
            graph.nodes[a].ends.extend(ends);
            graph.nodes[a].at = graph.nodes[a].at.midpoint(graph.nodes[b].at);
            graph.nodes[a].radius_mm = graph.nodes[a].radius_mm.max(graph.nodes[b].radius_mm);
        }
    }
}

/// Takes short free ends off junctions, those that lean most first, as long as two strokes go on there.
///
/// What is left is longer and its directions are surer; a short end that proves to go on a line is put back when
/// strokes are linked.
fn detach_leaning(graph: &mut Graph, near_print: &impl Fn(Point) -> bool) {
    loop {
        let first = graph
            .alive()
            .filter_map(|e| Some((leaning(graph, e, near_print)?, e)))
            .max_by(|a, b| a.0.total_cmp(&b.0));
        let Some((_, edge)) = first else { return };
        let nodes = graph.edges[edge].nodes;
        graph.detach(edge);
        for node in nodes {
            if let Some(barb) = barb_at_lift(graph, node) {
                graph.detach(barb);
            }
            if graph.degree(node) == 2 && !is_corner(graph, node) {
                graph.dissolve(node);
            }
        }
    }
}

/// Whether the two edges at a node meet in a corner: then they are two strokes.
fn is_corner(graph: &Graph, node: usize) -> bool {
    let Ok(pair) = <[End; 2]>::try_from(&graph.nodes[node].ends[..]) else { return false };
    let short = pair.iter().any(|e| graph.edges[e.0].length_mm <= BARB_MM);
    if short { turn_at(graph, pair, CORNER_CHORD_MM) > CORNER_DEG } else { turns_back(graph, node) }
}

/// Of two short edges between the same two nodes, one is the line and one a barb whose end touches the line again:
/// detaches the one that bends more against what goes on at both nodes.
fn detach_twins(graph: &mut Graph) {
    for edge in 0..graph.edges.len() {
        let e = &graph.edges[edge];
        if !e.alive || e.detached || e.length_mm > BARB_MM {
            continue;
        }
        let [a, b] = e.nodes;
        let twin = graph.nodes[a].ends.iter().copied().find(|&(f, k)| {
            f > edge && graph.edges[f].nodes[1 - k] == b && graph.edges[f].length_mm < BARB_MM
        });
        let Some((twin, _)) = twin else { continue };
        // Two lines that cross twice enclose a lens just so; a barb has its partner beside it.
        if a == b || graph.degree(a) > 3 || graph.degree(b) > 3 || !beside_barb(graph, a, b) {
            continue;
        }
        let bends = |f: usize| bend_at(graph, f, a, twin, edge) + bend_at(graph, f, b, twin, edge);
        let worse = if bends(edge) > bends(twin) { edge } else { twin };
        graph.detach(worse);
        for node in [a, b] {
            if graph.degree(node) == 2 && !is_corner(graph, node) {
                graph.dissolve(node);
            }
        }
    }
}

/// Whether a stroke that leans stands at one of two nodes.
fn beside_barb(graph: &Graph, a: usize, b: usize) -> bool {
    let (p, q) = (graph.nodes[a].at, graph.nodes[b].at);
    let near = |r: Point| r.distance(p).min(r.distance(q)) < PARTNER_MM;
    graph.detached().any(|e| {
        let edge = &graph.edges[e];
        edge.length_mm > SURELY_LEANS_MM - 0.8 && edge.nodes.iter().any(|&n| near(graph.nodes[n].at))
    })
}

/// The least turn, degrees, from `edge` into any edge at `node` but the twins.
fn bend_at(graph: &Graph, edge: usize, node: usize, twin: usize, other: usize) -> f64 {
    let end = if graph.edges[edge].nodes[0] == node { 0 } else { 1 };
    let u = -graph.outward(edge, end, 0.4, 2.5);
    graph.nodes[node]
        .ends
        .iter()
        .filter(|(f, _)| *f != twin && *f != other)
        .map(|&(f, k)| {
            let v = graph.outward(f, k, 0.4, 2.5);
            turn_deg(u, v).abs()
        })
        .fold(180.0, f64::min)
}

/// Splits edges at sharp corners, so that a head drawn as one V becomes two barbs; a corner between two longer strokes
/// is the line's own.
fn split_corners(graph: &mut Graph) {
    let mut todo: Vec<usize> = graph.alive().collect();
    while let Some(edge) = todo.pop() {
        let Some(i) = corner(&graph.edges[edge].points) else { continue };
        let points = graph.edges[edge].points.clone();
        let (nodes, radius) = (graph.edges[edge].nodes, graph.edges[edge].radius_mm);
        graph.remove(edge);
        let middle = graph.nodes.len();
        let hangs_mm = graph.nodes[nodes[0]].hangs_mm;
        graph.nodes.push(super::graph::Node { at: points[i], radius_mm: radius, ends: Vec::new(), hangs_mm });
        todo.push(graph.add([nodes[0], middle], points[..=i].to_vec(), radius));
        todo.push(graph.add([middle, nodes[1]], points[i..].to_vec(), radius));
    }
}

/// Where a chain of points turns most sharply, if that is a corner.
fn corner(points: &[Point]) -> Option<usize> {
    let n = points.len();
    let mut along = Vec::with_capacity(n);
    let mut s = 0.0;
    for (i, p) in points.iter().enumerate() {
        if i > 0 {
            s += p.distance(points[i - 1]);
        }
        along.push(s);
    }
    if s < 2.0 * CORNER_SIDE_MM {
        return None;
    }
    sharpest_turn(points, &along, CORNER_CHORD_MM, CORNER_DEG, CORNER_SIDE_MM..BARB_MM)
        .or_else(|| sharpest_turn(points, &along, BACK_CHORD_MM, BACK_DEG, BARB_MM..f64::MAX))
}

/// Where a chain of points turns most sharply between two chords, by more than `least_deg`, with the shorter side's length
/// in `sides` (mm). `along` is the length up to each point.
fn sharpest_turn(
    points: &[Point],
    along: &[f64],
    chord_mm: f64,
    least_deg: f64,
    sides: std::ops::Range<f64>,
) -> Option<usize> {
    let n = points.len();
    let (mut lo, mut hi) = (0, 0);
    let mut sharpest: Option<(f64, usize)> = None;
    for i in 1..n - 1 {
        let shorter = along[i].min(along[n - 1] - along[i]);
        if !sides.contains(&shorter) {
            continue;
        }
        while along[i] - along[lo] > chord_mm {
            lo += 1;
        }
        while hi < n - 1 && along[hi] - along[i] < chord_mm {
            hi += 1;
        }
        let (before, after) = (points[i] - points[lo], points[hi] - points[i]);
        // The point's height over the chord is cheaper than the angle and rules most points out.
        let chord = points[hi] - points[lo];
        if chord.cross(before).abs() < CORNER_SHARE * chord.hypot2() && chord.hypot() > chord_mm {
            continue;
        }
        let turn = turn_deg(before, after).abs();
        if turn > least_deg && sharpest.is_none_or(|(t, _)| turn > t) {
            sharpest = Some((turn, i));
        }
    }
    sharpest.map(|(_, i)| i)
}
