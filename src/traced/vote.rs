//! Where outlines of a known shape may lie: every place on a stroke votes for the middles that it would fit
//! (D. H. Ballard, Pattern Recognition 13 (1981) 111-122).
//!
//! A vote is a bit that says which part of the outline it is for, so that much ink at one part counts once: what is ranked is
//! how much of the outline is there, not how much ink.

use super::places::{Place, Places};
use super::shape::{Likeness, Pose, Shape};
use crate::geometry::{Point, Rect};

/// Parts of an outline, a bit each.
const PARTS: f64 = 64.0;
/// Side of the cells in which middles are counted, mm. With the cells beside, a hand may wobble by a millimetre and a half.
const CELL_MM: f64 = 1.0;
/// A stroke may run off the outline's direction by this, degrees: a shaking hand over a millimetre.
const AWRY_DEG: f64 = 22.0;
/// Places are kept by direction in so many classes over half a turn.
const WAYS: usize = 36;
/// One in so many places of the thinned ink votes: an outline is still seen twice a millimetre.
const EVERY: usize = 4;
/// The far end of an outline may move by this much from one tried turn to the next, mm.
const END_STEP_MM: f64 = 1.5;
/// Least share of the parts that makes a candidate.
const LEAST_SHARE: f64 = 0.5;
/// Most candidates, and how far they lie apart: mm between middles, degrees between turns.
const MOST: usize = 40;
const APART_MM: f64 = 4.0;
const APART_DEG: f64 = 8.0;

/// The likeliest poses of a shape, the likeliest first.
pub fn candidates(shape: &Shape, places: &Places, region: Rect) -> Vec<Pose> {
    let by_way = by_way(&places.all);
    let rim = shape.rim(shape.length_mm() / PARTS);
    let grid = Grid::of(region);
    let mut found: Vec<(u32, Pose)> = Vec::new();
    for turn_deg in turns(shape) {
        let turned = Pose { centre: Point::ZERO, turn_deg, beyond_mm: 0.0 };
        let mut votes = vec![0u64; grid.columns * grid.rows];
        for (k, part) in rim.iter().take(64).enumerate() {
            let (from, way) = (turned.step(part.at), turned.step(part.along));
            let first = (way.atan2().to_degrees() - AWRY_DEG).rem_euclid(180.0);
            let step = 180.0 / WAYS as f64;
            let classes = (2.0 * AWRY_DEG / step).ceil() as usize + 1;
            let first = (first / step) as usize;
            for class in (0..classes).map(|c| (first + c) % WAYS) {
                for at in &by_way[class] {
                    if let Some(cell) = grid.cell(*at - from) {
                        votes[cell] |= 1 << k;
                    }
                }
            }
        }
        grid.collect(&votes, rim.len().min(64), turn_deg, &mut found);
    }
    found.sort_by(|a, b| b.0.cmp(&a.0).then(order(&a.1, &b.1)));
    let mut kept: Vec<Pose> = Vec::new();
    for (_, pose) in found {
        let near = |k: &Pose| {
            k.centre.distance(pose.centre) < APART_MM && is_alike(shape, k.turn_deg, pose.turn_deg)
        };
        if !kept.iter().any(near) {
            kept.push(pose);
            if kept.len() == MOST {
                break;
            }
        }
    }
    kept
}

fn order(a: &Pose, b: &Pose) -> std::cmp::Ordering {
    let key = |p: &Pose| (p.turn_deg, p.centre.y, p.centre.x);
    key(a).partial_cmp(&key(b)).unwrap_or(std::cmp::Ordering::Equal)
}

fn is_alike(shape: &Shape, a: f64, b: f64) -> bool {
    let whole = match shape.likeness {
        Likeness::Round => return true,
        Likeness::Half => 180.0,
        Likeness::Whole => 360.0,
    };
    ((a - b + 0.5 * whole).rem_euclid(whole) - 0.5 * whole).abs() < APART_DEG
}

/// The turns that are tried, degrees.
fn turns(shape: &Shape) -> Vec<f64> {
    let whole = match shape.likeness {
        Likeness::Round => return vec![0.0],
        Likeness::Half => 180.0,
        Likeness::Whole => 360.0,
    };
    let step = (END_STEP_MM / shape.reach_mm()).to_degrees().clamp(0.5, 5.0);
    let n = (whole / step).ceil() as usize;
    (0..n).map(|k| whole * k as f64 / n as f64).collect()
}

/// One in [`EVERY`] of the places, by direction. Which is chosen by a hash of its number, so that no direction of a stroke is
/// left out.
fn by_way(all: &[Place]) -> Vec<Vec<Point>> {
    let mut classes = vec![Vec::new(); WAYS];
    for (i, place) in all.iter().enumerate() {
        if (((i as u32).wrapping_mul(2_654_435_761) >> 16) as usize).is_multiple_of(EVERY) {
            let way = place.way.atan2().to_degrees().rem_euclid(180.0);
            classes[((way / 180.0 * WAYS as f64) as usize).min(WAYS - 1)].push(place.at);
        }
    }
    classes
}

/// Cells over the page.
struct Grid {
    region: Rect,
    columns: usize,
    rows: usize,
}

impl Grid {
    fn of(region: Rect) -> Self {
        let cells = |mm: f64| (mm / CELL_MM).ceil() as usize + 1;
        Self { region, columns: cells(region.width()), rows: cells(region.height()) }
    }

    fn cell(&self, p: Point) -> Option<usize> {
        let (x, y) = ((p.x - self.region.x0) / CELL_MM, (p.y - self.region.y0) / CELL_MM);
        let inside = x >= 0.0 && y >= 0.0 && (x as usize) < self.columns && (y as usize) < self.rows;
        inside.then(|| y as usize * self.columns + x as usize)
    }

    /// Cells whose votes, with those of the cells beside them, are for enough parts and more than round about.
    fn collect(&self, votes: &[u64], parts: usize, turn_deg: f64, found: &mut Vec<(u32, Pose)>) {
        let (w, h) = (self.columns, self.rows);
        let least = (LEAST_SHARE * parts as f64).ceil() as u32;
        let mut across = vec![0u64; w * h];
        for y in 0..h {
            for x in 1..w - 1 {
                let i = y * w + x;
                across[i] = votes[i - 1] | votes[i] | votes[i + 1];
            }
        }
        let mut counts = vec![0u32; w * h];
        for y in 1..h - 1 {
            for x in 1..w - 1 {
                let i = y * w + x;
                counts[i] = (across[i - w] | across[i] | across[i + w]).count_ones();
            }
        }
        for y in 1..h - 1 {
            for x in 1..w - 1 {
                let i = y * w + x;
                let n = counts[i];
                let most = [i - w - 1, i - w, i - w + 1, i - 1, i + 1, i + w - 1, i + w, i + w + 1]
                    .iter()
                    .all(|&j| counts[j] <= n);
                if n >= least && most {
                    let at = |k: usize, from: f64| from + (k as f64 + 0.5) * CELL_MM;
                    let centre = Point::new(at(x, self.region.x0), at(y, self.region.y0));
                    found.push((n, Pose { centre, turn_deg, beyond_mm: 0.0 }));
                }
            }
        }
    }
}
