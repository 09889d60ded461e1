//! Rows of dots that make up a line: dots that stand alone, each following the last at about the same distance and
//! with little turn (Gestalt good continuation, as in [`super::links`]; a dot has no direction of its own, so three in a
//! row are what is judged).

use super::graph::{Graph, Node};
use crate::geometry::{Point, turn_deg};

/// A dot's radius, mm: from a pen set down to a felt-tip turned on the spot.
const RADIUS_MM: (f64, f64) = (0.12, 1.4);
/// A stroke that stands alone and is no longer than this may be a dot, mm: one that slipped, or two that ran together.
const SLIPPED_MM: f64 = 2.6;
/// All the ink of a dot, thinning's own spurs with it, is no longer, mm.
const MOST_INK_MM: f64 = 4.0;
/// Dots of a row follow each other within this, mm.
const APART_MM: f64 = 7.0;
/// Of a dot's neighbours so many are looked at.
const NEIGHBOURS: usize = 6;
/// Most turn from dot to dot, degrees, and most for a row's mean.
const MOST_TURN_DEG: f64 = 40.0;
const MEAN_TURN_DEG: f64 = 20.0;
/// Most that a step may be longer than the one before it.
const STEP_RATIO: f64 = 1.9;
/// What a step longer by half than the one before costs as if it were so much turn, degrees.
const UNEVEN_DEG: f64 = 20.0;
/// A row has at least so many dots and is at least so long, mm.
const LEAST_DOTS: usize = 5;
const SHORTEST_ROW_MM: f64 = 12.0;
/// Two rows that face each other over no more than this many steps, with no more than this turn at either end, degrees, are
/// one: a dot between them ran into an arrowhead or under print.
const FACING_STEPS: f64 = 2.6;
const FACING_DEG: f64 = 30.0;
/// More dots than this are no drawing but a grainy copy.
const MOST_DOTS: usize = 1_500;
/// Between the points of a row's edge, mm: a pixel.
const FINE_MM: f64 = 0.125;

/// A dot: where, how big, and the edge that it is where it is not a single pixel of thinned ink.
#[derive(Clone, Copy, Debug)]
struct Spot {
    at: Point,
    radius_mm: f64,
    edge: Option<usize>,
}

/// Puts an edge along each row of dots, in place of the dots.
pub fn join(graph: &mut Graph) {
    let spots = spots(graph);
    if spots.len() < LEAST_DOTS || spots.len() > MOST_DOTS {
        return;
    }
    for row in rows(&spots) {
        for &k in &row {
            if let Some(edge) = spots[k].edge {
                graph.remove(edge);
            }
        }
        lay(graph, &spots, &row);
    }
}

fn spots(graph: &Graph) -> Vec<Spot> {
    let is_dot = |r: f64| (RADIUS_MM.0..RADIUS_MM.1).contains(&r);
    let alone = graph.specks().filter(|n| is_dot(n.radius_mm));
    let mut out: Vec<Spot> = alone.map(|n| Spot { at: n.at, radius_mm: n.radius_mm, edge: None }).collect();
    for e in graph.alive() {
        let edge = &graph.edges[e];
        let [a, b] = edge.nodes;
        let free = a != b && graph.degree(a) == 1 && graph.degree(b) == 1;
        // Not what tidying left of an arrowhead or of a line.
        let whole = [a, b].iter().all(|&n| graph.nodes[n].hangs_mm < MOST_INK_MM);
        if free && whole && edge.length_mm < SLIPPED_MM && is_dot(edge.radius_mm) {
            out.push(Spot {
                at: graph.along(e, 0, 0.5 * edge.length_mm),
                radius_mm: edge.radius_mm,
                edge: Some(e),
            });
        }
    }
    out
}

/// The rows, each as its dots in order.
fn rows(spots: &[Spot]) -> Vec<Vec<usize>> {
    let mut next: Vec<[Option<usize>; 2]> = vec![[None; 2]; spots.len()];
    for (_, [a, b, c]) in triples(spots) {
        // Each dot has one on either side; what the better triples said stands.
        let fits = |from: usize, to: usize| next[from].contains(&Some(to)) || next[from].contains(&None);
        if !(fits(a, b) && fits(b, a) && fits(b, c) && fits(c, b)) {
            continue;
        }
        let missing = [a, c].iter().filter(|&&k| !next[b].contains(&Some(k))).count();
        if missing > next[b].iter().filter(|n| n.is_none()).count() {
            continue;
        }
        for (from, to) in [(a, b), (b, a), (b, c), (c, b)] {
            let known = next[from].contains(&Some(to));
            if let Some(slot) = next[from].iter_mut().find(|n| n.is_none() && !known) {
                *slot = Some(to);
            }
        }
    }
    let mut seen = vec![false; spots.len()];
    let mut out: Vec<Vec<usize>> = Vec::new();
    for start in 0..spots.len() {
        if seen[start] || next[start].iter().flatten().count() != 1 {
            continue;
        }
        let mut row = vec![start];
        seen[start] = true;
        while let Some(&k) = next[row[row.len() - 1]].iter().flatten().find(|&&k| !seen[k]) {
            seen[k] = true;
            row.push(k);
        }
        if row.len() >= 3 {
            out.push(row);
        }
    }
    let mut out = facing_joined(spots, out);
    out.retain(|row| is_row(spots, row));
    out
}

/// Three dots that may follow each other, with what that costs, the cheapest first.
fn triples(spots: &[Spot]) -> Vec<(f64, [usize; 3])> {
    let mut out = Vec::new();
    for b in 0..spots.len() {
        let mut near: Vec<(f64, usize)> = (0..spots.len())
            .filter(|&k| k != b)
            .map(|k| (spots[b].at.distance(spots[k].at), k))
            .filter(|(d, _)| *d < APART_MM)
            .collect();
        near.sort_by(|p, q| p.0.total_cmp(&q.0).then(p.1.cmp(&q.1)));
        near.truncate(NEIGHBOURS);
        for (i, &(da, a)) in near.iter().enumerate() {
            for &(dc, c) in &near[i + 1..] {
                let turn = turn_deg(spots[b].at - spots[a].at, spots[c].at - spots[b].at).abs();
                let ratio = dc / da.max(1e-9);
                if turn < MOST_TURN_DEG && ratio < STEP_RATIO {
                    // Of two rows the one with the shorter steps is seen.
                    let cost = turn + UNEVEN_DEG / 0.4 * ratio.ln() + 3.0 * dc;
                    out.push((cost, [a, b, c]));
                }
            }
        }
    }
    out.sort_by(|p, q| p.0.total_cmp(&q.0).then(p.1.cmp(&q.1)));
    out
}

/// Rows that go on in one another made one, those that face each other best first.
fn facing_joined(spots: &[Spot], mut rows: Vec<Vec<usize>>) -> Vec<Vec<usize>> {
    loop {
        let mut best: Option<(f64, [(usize, bool); 2])> = None;
        for i in 0..rows.len() {
            for j in i + 1..rows.len() {
                for turned in [[false, false], [false, true], [true, false], [true, true]] {
                    let turn = facing_deg(spots, (&rows[i], turned[0]), (&rows[j], turned[1]));
                    if let Some(turn) = turn.filter(|t| best.is_none_or(|(least, _)| *t < least)) {
                        best = Some((turn, [(i, turned[0]), (j, turned[1])]));
                    }
                }
            }
        }
        let Some((_, [(i, turn_i), (j, turn_j)])) = best else { return rows };
        let mut tail = rows.remove(j);
        if turn_i {
            rows[i].reverse();
        }
        if turn_j {
            tail.reverse();
        }
        rows[i].extend(tail);
    }
}

/// How much the way turns from the end of one row to the beginning of the other, degrees, each turned round or not; `None`
/// where they do not go on in one another.
fn facing_deg(spots: &[Spot], a: (&[usize], bool), b: (&[usize], bool)) -> Option<f64> {
    let step = |row: &[usize]| length(spots, row) / (row.len() - 1) as f64;
    let at =
        |(row, turned): (&[usize], bool), k: usize| spots[row[if turned { row.len() - 1 - k } else { k }]].at;
    let last = a.0.len() - 1;
    let gap = at(b, 0) - at(a, last);
    let (out, into) = (at(a, last) - at(a, last - 2), at(b, 2) - at(b, 0));
    let turn = turn_deg(out, gap).abs().max(turn_deg(gap, into).abs());
    let near = gap.hypot() < FACING_STEPS * step(a.0).max(step(b.0));
    (near && turn < FACING_DEG).then_some(turn)
}

fn length(spots: &[Spot], row: &[usize]) -> f64 {
    row.windows(2).map(|w| spots[w[0]].at.distance(spots[w[1]].at)).sum()
}

fn is_row(spots: &[Spot], row: &[usize]) -> bool {
    let turns = row
        .windows(3)
        .map(|w| turn_deg(spots[w[1]].at - spots[w[0]].at, spots[w[2]].at - spots[w[1]].at).abs());
    row.len() >= LEAST_DOTS
        && length(spots, row) >= SHORTEST_ROW_MM
        && turns.sum::<f64>() <= MEAN_TURN_DEG * (row.len() - 2) as f64
}

/// An edge from the row's first dot to its last.
fn lay(graph: &mut Graph, spots: &[Spot], row: &[usize]) {
    let mut radii: Vec<f64> = row.iter().map(|&k| spots[k].radius_mm).collect();
    radii.sort_by(f64::total_cmp);
    let radius_mm = radii[radii.len() / 2];
    let mut points = vec![spots[row[0]].at];
    for pair in row.windows(2) {
        let (a, b) = (spots[pair[0]].at, spots[pair[1]].at);
        let n = (a.distance(b) / FINE_MM).ceil().max(1.0);
        points.extend((1..=n as usize).map(|k| a.lerp(b, k as f64 / n)));
    }
    let nodes = [0, points.len() - 1].map(|k| {
        graph.nodes.push(Node { at: points[k], radius_mm, ends: Vec::new(), hangs_mm: length(spots, row) });
        graph.nodes.len() - 1
    });
    let edge = graph.add(nodes, points, radius_mm);
    graph.edges[edge].dotted = true;
}

#[cfg(test)]
mod tests {
    use super::*;

    fn spot(x: f64, y: f64) -> Spot {
        Spot { at: Point::new(x, y), radius_mm: 0.4, edge: None }
    }

    #[test]
    fn an_arc_of_dots_is_a_row_and_scattered_specks_are_none() {
        let arc: Vec<Spot> = (0..20)
            .map(|k| {
                let t = f64::from(k) * 0.12;
                spot(20.0 * t.cos() + 0.1 * f64::from(k % 3), 20.0 * t.sin())
            })
            .collect();
        assert_eq!(rows(&arc), [(0..20).collect::<Vec<_>>()]);
        let specks: Vec<Spot> =
            (0..30).map(|k| spot(f64::from(k * 37 % 101), f64::from(k * 53 % 89))).collect();
        assert_eq!(rows(&specks), Vec::<Vec<usize>>::new());
    }

    #[test]
    fn two_rows_side_by_side_stay_two_and_a_lost_dot_cuts_none() {
        let line = |y: f64| (0..12).filter(|k| *k != 6).map(move |k| spot(3.0 * f64::from(k), y));
        let both: Vec<Spot> = line(0.0).chain(line(5.0)).collect();
        let found = rows(&both);
        assert_eq!(found.len(), 2, "{found:?}");
        assert!(found.iter().all(|r| r.len() == 11));
    }
}
