//! Dashed lines whose gaps are longer than a pen lift: short pieces that follow one another straight on, at like distances.

use super::gaps::Ground;
use super::graph::Graph;
use super::links::{Links, Tip, closes_ring};
use crate::geometry::{Point, Vec2, turn_deg};

/// A dash is so long, mm: shorter ones are dots ([`super::rows`]).
const DASH_MM: (f64, f64) = (1.0, 12.0);
/// The next one lies straight ahead within this, mm, and within this of both their ways, degrees.
const APART_MM: f64 = 6.5;
const AHEAD_DEG: f64 = 18.0;
/// And no further off than so many lengths of the longer one.
const LENGTHS: f64 = 2.0;
/// So many gaps, one after another and none more than so many times another, make a dashed line.
const LEAST_GAPS: usize = 4;
const UNEVEN: f64 = 2.2;
/// A piece shorter than this, mm, has no way of its own; it may lie this far off another's, degrees.
const NO_WAY_MM: f64 = 4.5;
const ASKEW_DEG: f64 = 40.0;
/// What a gap costs, degrees a mm.
const GAP_COST_DEG: f64 = 8.0;
/// Over a head, whose barbs hide the dash they stand on, the next one lies within so many of the longest gaps, on an arc that
/// turns by no more than twice this, degrees.
const OVER_HEAD: f64 = 2.2;
const ARC_DEG: f64 = 32.0;
/// A shorter gap is a pen lift as any other, mm.
const LIFT_MM: f64 = 1.8;
/// In one drawing a gap is at most so many times the usual one.
const LONGEST: f64 = 1.5;

/// The longest gap between two dashes of this drawing's dashed lines, mm; 0 where it has none. `tips`: its free ends.
pub fn longest_gap_mm(graph: &Graph, tips: &[Tip], ground: &impl Fn(Point) -> Ground) -> f64 {
    let length = |k: usize| graph.edges[tips[k].end.0].length_mm;
    let is_dash = |&k: &usize| (DASH_MM.0..DASH_MM.1).contains(&length(k));
    let dashes: Vec<usize> = (0..tips.len()).filter(is_dash).collect();
    let ahead: Vec<Option<(usize, f64)>> = dashes
        .iter()
        .map(|&i| {
            let facing = dashes.iter().filter_map(|&j| {
                let gap = tips[j].at - tips[i].at;
                let far = gap.hypot();
                if tips[i].end.0 == tips[j].end.0 || far >= APART_MM.min(LENGTHS * length(i).max(length(j))) {
                    return None;
                }
                let off = turn_deg(tips[i].way, gap).abs().max(turn_deg(tips[j].way, -gap).abs());
                (off < AHEAD_DEG && is_bare(tips[i].at, gap, ground)).then_some((j, far))
            });
            facing.min_by(|a, b| a.1.total_cmp(&b.1))
        })
        .collect();
    let place = |tip: usize| dashes.binary_search(&tip).ok();
    // The gap ahead of a dash's end, where each of the two is the other's next.
    let gap_at = |d: usize| {
        let (j, far) = ahead[d]?;
        (ahead[place(j)?]?.0 == dashes[d]).then_some((place(j)?, far))
    };
    let other_end = |d: usize| {
        let (edge, end) = tips[dashes[d]].end;
        (0..dashes.len()).find(|&k| tips[dashes[k]].end == (edge, 1 - end))
    };
    let mut gaps = Vec::new();
    for start in 0..dashes.len() {
        // From the first dash of a row on: nothing lies behind it.
        if other_end(start).is_some_and(|d| gap_at(d).is_some()) {
            continue;
        }
        let mut row = Vec::new();
        let mut end = Some(start);
        while let Some((next, far)) = end.and_then(gap_at) {
            row.push(far);
            end = other_end(next);
            if row.len() > dashes.len() {
                break;
            }
        }
        let (least, most) = row.iter().fold((f64::MAX, 0.0f64), |(l, m), g| (l.min(*g), m.max(*g)));
        if row.len() >= LEAST_GAPS && most < UNEVEN * least {
            gaps.extend(row);
        }
    }
    gaps.sort_by(f64::total_cmp);
    gaps.get(gaps.len() / 2).filter(|usual| **usual > LIFT_MM).map_or(0.0, |usual| LONGEST * usual)
}

/// Whether nothing lies in a gap. (Near its ends still lies the dashes' own ink: thinning shortens them.)
fn is_bare(from: Point, gap: Vec2, ground: &impl Fn(Point) -> Ground) -> bool {
    (2..=6).all(|k| ground(from + f64::from(k) / 8.0 * gap) == Ground::White)
}

/// What it costs that `b` follows `a` in a dashed line whose gaps are no longer than `longest_mm`, and the gap, mm; `None` where
/// it does not.
pub fn follow(
    graph: &Graph,
    a: &Tip,
    b: &Tip,
    longest_mm: f64,
    ground: &impl Fn(Point) -> Ground,
) -> Option<(f64, f64)> {
    let gap = b.at - a.at;
    let far = gap.hypot();
    let length = |t: &Tip| graph.edges[t.end.0].length_mm;
    if far > longest_mm || length(a).max(length(b)) > DASH_MM.1 {
        return None;
    }
    let off = [turn_deg(a.way, gap).abs(), turn_deg(b.way, -gap).abs()];
    let most = |t: &Tip| if length(t) < NO_WAY_MM { ASKEW_DEG } else { AHEAD_DEG };
    let fits = off[0] < most(a) && off[1] < most(b) && off[0].min(off[1]) < AHEAD_DEG;
    (fits && is_bare(a.at, gap, ground)).then_some((0.5 * (off[0] + off[1]) + GAP_COST_DEG * far, far))
}

/// Links rows of dashes over the heads that stand between them. `longest_mm`: the longest gap between dashes.
pub fn over_heads(links: &mut Links, tips: &[Tip], longest_mm: f64, ground: &impl Fn(Point) -> Ground) {
    let is_row = |t: &&Tip| links.at(t.end).is_none() && links.onward(t.end).nth(1).is_some();
    let ends: Vec<&Tip> = tips.iter().filter(is_row).collect();
    let mut pairs = Vec::new();
    for (i, a) in ends.iter().enumerate() {
        for b in &ends[i + 1..] {
            let gap = b.at - a.at;
            let far = gap.hypot();
            if !(LIFT_MM..OVER_HEAD * longest_mm).contains(&far) {
                continue;
            }
            // An arc turns alike into the gap and out of it.
            let (into, out) = (turn_deg(a.way, gap), turn_deg(gap, -b.way));
            let off = (into - out).abs();
            if off > AHEAD_DEG || into.abs().max(out.abs()) > ARC_DEG {
                continue;
            }
            let between: Vec<Ground> = (1..16).map(|k| ground(a.at + f64::from(k) / 16.0 * gap)).collect();
            if between[3..12].contains(&Ground::Ink) && !between.contains(&Ground::Print) {
                let white = between.iter().filter(|g| **g == Ground::White).count() as f64 / 15.0 * far;
                pairs.push((off + 2.0 * far, white, a.end, b.end));
            }
        }
    }
    pairs.sort_by(|p, q| p.0.total_cmp(&q.0));
    for (cost, white, a, b) in pairs {
        if links.at(a).is_none() && links.at(b).is_none() && !closes_ring(links, a, b) {
            links.set(a, b, cost, white);
        }
    }
}
