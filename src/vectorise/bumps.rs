//! Small, filled and slender arrowheads: ink that swells a line instead of standing clear of it.
//!
//! What the lines themselves explain is taken away; what is left beside a line hangs together in patches. In the half of
//! a head on one side of its line, the ink reaches out further the further it lies behind the tip: the regression of the
//! distance beside the line on the place along it tells the way, and two patches on both sides that agree are a head.

use super::evidence::Evidence;
use super::heads::{Head, Ruler, surroundings};
use super::strokes::Stroke;
use crate::drawing::Arrow;
use crate::geometry::Point;
use crate::ink::{Bitmap, PanelInk};

/// A line explains ink this far beyond its own half-width, mm.
const LINE_SLACK_MM: f64 = 0.14;
/// Smallest patch, mm2, and longest along the line, mm.
const LEAST_MM2: f64 = 0.12;
const LONGEST_MM: f64 = 8.0;
/// A patch reaches at least this far out of the line's edge, mm.
const LEAST_REACH_MM: f64 = 0.25;
/// Patches of one head overlap along the line, or lie at most this far apart, mm.
const SAME_HEAD_MM: f64 = 1.2;
/// Patches this near to a head that was found are part of it, mm beyond half its length.
const FOUND_MM: f64 = 1.6;
/// Patches wholly within this of a second line lie in the wedge where two lines part, mm.
const WEDGE_MM: f64 = 1.3;

/// A patch of ink beside a line.
struct Patch {
    line: usize,
    side: f64,
    /// From and to along the line, mm.
    from: f64,
    to: f64,
    /// Change of the distance beside the line a mm along it, and how well it is told (correlation).
    slope: f64,
    correlation: f64,
    area_mm2: f64,
    at: Point,
    at_print: bool,
    wedge: bool,
}

/// Heads among `rest`, the ink that is [`unexplained`] by lines, apart from those found so far. `rest` comes back as it was.
pub fn heads(ink: &PanelInk, rest: &mut Bitmap, lines: &[Stroke], found: &[Head]) -> Vec<Head> {
    let rulers: Vec<Ruler> = lines.iter().map(|l| Ruler::of(&l.points)).collect();
    let mut patches = patches(ink, rest, lines, &rulers);
    // Dots that stand out of their row swell it as heads would.
    patches.retain(|p| !lines[p.line].dotted);
    patches.retain(|p| {
        !found.iter().any(|h| {
            h.arrow.at.distance(p.at) < FOUND_MM + h.evidence.length_mm
                && h.arrow.at.distance(p.at) < FOUND_MM + 0.5 * h.evidence.length_mm + 0.5 * (p.to - p.from)
        })
    });
    let mut taken = vec![false; patches.len()];
    let mut out = Vec::new();
    for i in 0..patches.len() {
        if taken[i] {
            continue;
        }
        let a = &patches[i];
        let partner = (i + 1..patches.len()).find(|&j| {
            let b = &patches[j];
            !taken[j]
                && b.line == a.line
                && b.side != a.side
                && a.from - SAME_HEAD_MM < b.to
                && b.from - SAME_HEAD_MM < a.to
        });
        taken[i] = true;
        if let Some(j) = partner {
            taken[j] = true;
        }
        let members: Vec<&Patch> = [Some(i), partner].into_iter().flatten().map(|k| &patches[k]).collect();
        out.push(head(&members, &rulers));
    }
    out
}

/// The ink outside all lines, into `rest`, a picture of the same size.
pub fn unexplained(ink: &PanelInk, lines: &[Stroke], rest: &mut Bitmap) {
    rest.cells.copy_from_slice(&ink.ink.cells);
    for line in lines {
        let reach = (0.5 * line.width_mm + LINE_SLACK_MM) / ink.mm_per_px();
        let r = reach.ceil() as i64;
        for p in &line.points {
            let (cx, cy) = ink.to_px(*p);
            let (x0, y0) = (cx.round() as i64, cy.round() as i64);
            for y in (y0 - r).max(0)..(y0 + r + 1).min(rest.height as i64) {
                for x in (x0 - r).max(0)..(x0 + r + 1).min(rest.width as i64) {
                    let (dx, dy) = (x as f64 - cx, y as f64 - cy);
                    if dx * dx + dy * dy <= reach * reach {
                        rest.set(x as usize, y as usize, false);
                    }
                }
            }
        }
    }
}

fn patches(ink: &PanelInk, rest: &mut Bitmap, lines: &[Stroke], rulers: &[Ruler]) -> Vec<Patch> {
    let mut out = Vec::new();
    let mut group = Vec::new();
    let all = rest.ink_indices();
    for &start in &all {
        if rest.cells[start] == 0 {
            continue;
        }
        rest.take_group(start, &mut group);
        let places: Vec<Point> = group
            .iter()
            .map(|&i| {
                let (x, y) = rest.place(i);
                ink.to_mm(x as f64, y as f64)
            })
            .collect();
        out.extend(patch(ink, &places, lines, rulers));
    }
    all.into_iter().for_each(|i| rest.cells[i] = 1);
    out
}

fn patch(ink: &PanelInk, places: &[Point], lines: &[Stroke], rulers: &[Ruler]) -> Option<Patch> {
    let area_mm2 = places.len() as f64 * ink.mm_per_px().powi(2);
    if area_mm2 < LEAST_MM2 {
        return None;
    }
    let n = places.len() as f64;
    let at = (places.iter().fold(crate::geometry::Vec2::ZERO, |s, p| s + p.to_vec2()) / n).to_point();
    let mut near: Vec<(f64, usize)> =
        rulers.iter().enumerate().filter_map(|(k, r)| Some((r.read(at)?.1.abs(), k))).collect();
    near.sort_by(|a, b| a.0.total_cmp(&b.0));
    let (_, line) = *near.first()?;
    let half = 0.5 * lines[line].width_mm;
    let read: Vec<(f64, f64)> = places.iter().filter_map(|p| rulers[line].read(*p)).collect();
    if read.len() < places.len() {
        return None;
    }
    let side = read.iter().map(|r| r.1).sum::<f64>().signum();
    let from = read.iter().map(|r| r.0).fold(f64::MAX, f64::min);
    let to = read.iter().map(|r| r.0).fold(f64::MIN, f64::max);
    let beside = |r: &(f64, f64)| side * r.1 - half;
    let nearest = read.iter().map(beside).fold(f64::MAX, f64::min);
    let reach = read.iter().map(beside).fold(f64::MIN, f64::max);
    if to - from > LONGEST_MM || reach < LEAST_REACH_MM || nearest > 1.0 {
        return None;
    }
    let (ms, md) = (read.iter().map(|r| r.0).sum::<f64>() / n, read.iter().map(beside).sum::<f64>() / n);
    let (mut ss, mut dd, mut sd) = (0.0, 0.0, 0.0);
    for r in &read {
        let (s, d) = (r.0 - ms, beside(r) - md);
        ss += s * s;
        dd += d * d;
        sd += s * d;
    }
    let slope = if ss > 0.0 { sd / ss } else { 0.0 };
    let correlation = if ss * dd > 0.0 { sd / (ss * dd).sqrt() } else { 0.0 };
    let wedge = near.get(1).is_some_and(|&(_, k)| {
        places
            .iter()
            .all(|p| rulers[k].read(*p).is_some_and(|r| r.1.abs() < WEDGE_MM + 0.5 * lines[k].width_mm))
    });
    Some(Patch {
        line,
        side,
        from,
        to,
        slope,
        correlation,
        area_mm2,
        at,
        at_print: ink.near_print(at),
        wedge,
    })
}

fn head(members: &[&Patch], rulers: &[Ruler]) -> Head {
    let line = members[0].line;
    let weight: f64 = members.iter().map(|p| p.area_mm2).sum();
    let lean = members.iter().map(|p| p.area_mm2 * p.correlation).sum::<f64>() / weight;
    let slope = members.iter().map(|p| p.area_mm2 * p.slope).sum::<f64>() / weight;
    // Ink that reaches out further along the line's way lies behind a tip that points against it.
    let way = if slope > 0.0 { -1.0 } else { 1.0 };
    let from = members.iter().map(|p| p.from).fold(f64::MAX, f64::min);
    let to = members.iter().map(|p| p.to).fold(f64::MIN, f64::max);
    let tip = if way > 0.0 { to } else { from };
    let (at, along) = rulers[line].arrow(tip);
    let length_mm = to - from;
    let agree = members.len() == 2 && members[0].correlation * members[1].correlation > 0.0;
    let evidence = Evidence {
        swelling: true,
        barbs: members.len(),
        angle_deg: slope.abs().atan().to_degrees(),
        length_mm,
        attached: members.len(),
        at_print: members.iter().filter(|p| p.at_print).count() + members.iter().filter(|p| p.wedge).count(),
        area_mm2: weight,
        lean: if agree { lean.abs() } else { -lean.abs() },
        ..surroundings(rulers, line, tip)
    };
    let arrow = Arrow { at, towards: way * along, sure: 0.0, way_sure: 0.0 };
    Head { line, arrow, strokes: Vec::new(), evidence }
}
