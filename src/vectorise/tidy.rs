//! Tidies the graph of the thinned ink: what thinning adds of its own is taken away, what is one place becomes one node.

use super::graph::Graph;
use super::links::BARB_MM;
use crate::geometry::{Point, Vec2};

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

/// Free ends this short on a junction carry no direction of their own, mm.
const SURELY_LEANS_MM: f64 = 2.0;
/// A short end goes on a line when it turns by less than this, and by this much less than what else could.
const GOES_ON_DEG: f64 = 28.0;
const CLEARLY_DEG: f64 = 12.0;
/// A barb's partner starts within this of one of its ends, mm.
const PARTNER_MM: f64 = 1.2;
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
/// Most turn where two lines that shared their ink part before a pole, degrees.
const FORK_DEG: f64 = 40.0;

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

/// Whether the two edges at a node are two lines whose ends have run together.
fn turns_back(graph: &Graph, node: usize) -> bool {
    let [(a, ka), (b, kb)] = graph.nodes[node].ends[..] else { return false };
    let long = graph.edges[a].length_mm.min(graph.edges[b].length_mm) > BARB_MM;
    let (u, v) = (graph.outward(a, ka, 0.3, BACK_CHORD_MM), graph.outward(b, kb, 0.3, BACK_CHORD_MM));
    long && (-u).cross(v).atan2((-u).dot(v)).abs().to_degrees() > BACK_DEG
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

/// How much an edge that is short, free on one side and on a junction on the other, leans rather than goes on: the turn
/// with which it would go on, less for its length; `None` where it is no such edge or clearly goes on.
fn leaning(graph: &Graph, edge: usize, near_print: &impl Fn(Point) -> bool) -> Option<f64> {
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
    if faces_line(graph, (edge, 1 - end)) {
        return None;
    }
    if runs_out(graph, (edge, end)) {
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
fn turn_through(graph: &Graph, a: (usize, usize), b: (usize, usize)) -> f64 {
    let way = |(e, k): (usize, usize)| way_out(graph, e, k);
    let (u, v) = (-way(a), way(b));
    u.cross(v).atan2(u.dot(v)).abs().to_degrees()
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
        .max_by(|u, v| u.normalize().dot(near).total_cmp(&v.normalize().dot(near)));
    match beyond {
        Some(step) if step.hypot() > 1e-9 && step.normalize().dot(near) > 0.75 => step.normalize(),
        _ => near,
    }
}

/// How much a short edge between two junctions leans: at both of them other edges go on in each other far more smoothly
/// than in this one. So does a barb that reaches the next line; `None` where it is a piece of a line.
fn spanning(graph: &Graph, edge: usize) -> Option<f64> {
    let margin = |end: usize| {
        let node = graph.edges[edge].nodes[end];
        let turn = |a, b| turn_through(graph, a, b);
        let others: Vec<(usize, usize)> =
            graph.nodes[node].ends.iter().copied().filter(|&o| o.0 != edge).collect();
        let own = others.iter().map(|&o| turn(o, (edge, end))).fold(180.0, f64::min);
        // What goes on in a short free end is no line that could do without this edge.
        let lines: Vec<(usize, usize)> =
            others.iter().copied().filter(|&o| !is_short_free(graph, o)).collect();
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
fn runs_out(graph: &Graph, (edge, end): (usize, usize)) -> bool {
    let node = graph.edges[edge].nodes[end];
    let (free, rest): (Vec<_>, Vec<_>) =
        graph.nodes[node].ends.iter().partition(|&&o| is_short_free(graph, o));
    let smooth = |line, tail| turn_through(graph, line, tail) < RUNS_OUT_DEG;
    let long = |o: &(usize, usize)| graph.edges[o.0].length_mm > BARB_MM;
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
fn has_partner(graph: &Graph, (edge, end): (usize, usize)) -> bool {
    let e = &graph.edges[edge];
    let apex = graph.nodes[e.nodes[end]].at;
    let own = graph.outward(edge, end, 0.0, e.length_mm);
    let angle = |u: Vec2, v: Vec2| u.cross(v).atan2(u.dot(v)).to_degrees();
    let between = |u: Vec2, v: Vec2| {
        let middle = u + v;
        graph.nodes[e.nodes[end]].ends.iter().any(|&(f, k)| {
            f != edge
                && angle(graph.outward(f, k, TURN_READ_MM.0, TURN_READ_MM.1), middle).abs() < BISECTS_DEG
        })
    };
    graph.detached().any(|d| {
        let other = &graph.edges[d];
        let even = e.length_mm.min(other.length_mm) / e.length_mm.max(other.length_mm);
        (0..2).any(|k| {
            let v = graph.outward(d, k, 0.0, other.length_mm);
            even > EVEN_SHARE
                && graph.nodes[other.nodes[k]].at.distance(apex) < APEX_MM
                && (V_DEG.0..V_DEG.1).contains(&angle(own, v).abs())
                && between(own, v)
        })
    })
}

/// Whether a longer stroke ends close before this free end and heads straight for it: a line between a head and a pen lift.
fn faces_line(graph: &Graph, (edge, end): (usize, usize)) -> bool {
    let way = -graph.outward(edge, end, 0.0, graph.edges[edge].length_mm);
    line_ahead(graph, graph.nodes[graph.edges[edge].nodes[end]].at, way, FACES_MM, edge)
}

/// Whether a line ends free at most `reach_mm` ahead of a place, heading for it, seen by another edge that comes there along
/// `way`.
fn line_ahead(graph: &Graph, at: Point, way: Vec2, reach_mm: f64, but: usize) -> bool {
    let angle = |u: Vec2, v: Vec2| u.cross(v).atan2(u.dot(v)).abs().to_degrees();
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
        angle(on, gap) < FACES_DEG && angle(on, -way) < 1.5 * FACES_DEG
    })
}

/// Of the two edges left at a node, the short free one that bends away while a line goes straight on over a pen lift: a barb.
fn barb_at_lift(graph: &Graph, node: usize) -> Option<usize> {
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

/// Whether an edge is no longer than a barb and ends free beyond this end.
fn is_short_free(graph: &Graph, (edge, end): (usize, usize)) -> bool {
    graph.edges[edge].length_mm < BARB_MM && graph.degree(graph.edges[edge].nodes[1 - end]) == 1
}

/// The least turn with which a short end goes on another edge at its junction, and the least with which anything else
/// goes on that edge, degrees.
fn goes_on(graph: &Graph, (edge, end): (usize, usize)) -> (f64, f64) {
    let node = graph.edges[edge].nodes[end];
    let turn = |a, b| turn_through(graph, a, b);
    let others: Vec<(usize, usize)> =
        graph.nodes[node].ends.iter().copied().filter(|&o| o != (edge, end)).collect();
    let Some((best, partner)) =
        others.iter().map(|&o| (turn(o, (edge, end)), o)).min_by(|a, b| a.0.total_cmp(&b.0))
    else {
        return (180.0, 180.0);
    };
    let rival = others.iter().filter(|&&o| o != partner).map(|&o| turn(partner, o)).fold(180.0, f64::min);
    (best, rival)
}

/// Whether the two edges at a node meet in a corner: then they are two strokes.
fn is_corner(graph: &Graph, node: usize) -> bool {
    let [(a, ka), (b, kb)] = graph.nodes[node].ends[..] else { return false };
    let (chord, most) = if graph.edges[a].length_mm.min(graph.edges[b].length_mm) > BARB_MM {
        (BACK_CHORD_MM, BACK_DEG)
    } else {
        (CORNER_CHORD_MM, CORNER_DEG)
    };
    let (u, v) = (graph.outward(a, ka, 0.3, chord), graph.outward(b, kb, 0.3, chord));
    (-u).cross(v).atan2((-u).dot(v)).abs().to_degrees() > most
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
            u.cross(v).atan2(u.dot(v)).abs().to_degrees()
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
        graph.nodes.push(super::graph::Node { at: points[i], radius_mm: radius, ends: Vec::new() });
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
        let turn = before.cross(after).atan2(before.dot(after)).abs().to_degrees();
        if turn > least_deg && sharpest.is_none_or(|(t, _)| turn > t) {
            sharpest = Some((turn, i));
        }
    }
    sharpest.map(|(_, i)| i)
}
