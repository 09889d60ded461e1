//! Finds printed lines on a scan near to where a map puts them, however they bend: the frames, the sources' outlines.

use super::grey;
use super::page_map::PageMap;
use crate::geometry::polyline;
use crate::geometry::{Point, Vec2};
use crate::print::layout::{Layout, What};
use crate::scan::GreyImage;

/// Between places at which a line is looked for, mm.
const SPACING_MM: f64 = 4.0;
/// A stretch shorter than this fixes nothing, mm.
const SHORTEST_MM: f64 = 9.0;
/// A line's polygon turning by more than this has a corner there, degrees.
const CORNER_DEG: f64 = 20.0;
/// At either end of a stretch the line that joins it there is in the way, mm.
const OFF_CORNER_MM: f64 = 2.0;
/// Steps of the search across the line, mm: half a pixel of a poor photo.
const STEP_MM: f64 = 0.08;
/// The paper beside the line is looked at so far from it, mm: beyond a printed line and its blur.
const BESIDE_MM: f64 = 0.8;
/// Darkness against the paper beside it, as a share of the paper, from which on more is no better: a pencil's line is
/// darker than the print.
const ENOUGH_DARK: f64 = 0.2;
/// Less than this is no line.
const LEAST_DARK: f64 = 0.05;
/// Darkness that a step sideways of one [`STEP_MM`] from place to place costs.
const STEP_COST: f64 = 0.012;
/// Most steps sideways from place to place: a slope of 8 in 100.
const MOST_STEPS: usize = 4;
/// So many steps to either side of the way found the line's middle is taken over.
const MIDDLE_STEPS: usize = 3;

/// A straight or gently bent part of a printed line: places, and the way across it.
#[derive(Clone, Debug)]
pub struct Stretch {
    pub frame: bool,
    places: Vec<(Point, Vec2)>,
}

impl Stretch {
    /// At how many places it is looked for.
    pub fn places(&self) -> usize {
        self.places.len()
    }
}

/// A place of a printed line, seen.
#[derive(Clone, Copy, Debug)]
pub struct SeenAt {
    /// On the page, mm.
    pub at: Point,
    /// Across the line on the page, of unit length.
    pub across: Vec2,
    /// On the scan, pixels.
    pub seen: Point,
    /// On a panel's frame.
    pub frame: bool,
    /// How wide the line is seen: the standard deviation of its darkness across it, mm.
    pub spread_mm: f64,
}

/// All stretches of a sheet's frames and outlines.
pub fn stretches(layout: &Layout) -> Vec<Stretch> {
    let mut out = Vec::new();
    for shape in &layout.shapes {
        let frame = shape.what == What::Frame;
        if !frame && !matches!(shape.what, What::Outline { .. }) {
            continue;
        }
        for polygon in &shape.polygons {
            for part in parts(polygon) {
                let length = polyline::length(&part);
                if length < SHORTEST_MM {
                    continue;
                }
                let n = ((length - 2.0 * OFF_CORNER_MM) / SPACING_MM).ceil().max(2.0);
                let step = (length - 2.0 * OFF_CORNER_MM) / n;
                let at = |s: f64| polyline::point_at(&part, s).unwrap_or(part[0]);
                let places = (0..=n as usize).map(|k| {
                    let s = OFF_CORNER_MM + k as f64 * step;
                    let along = (at(s + 0.5) - at(s - 0.5)).normalize();
                    (at(s), Vec2::new(-along.y, along.x))
                });
                out.push(Stretch { frame, places: places.collect() });
            }
        }
    }
    out
}

/// A closed polygon cut at its corners; one without corners stays whole.
fn parts(polygon: &[Point]) -> Vec<Vec<Point>> {
    let n = polygon.len();
    let side = |k: usize| polygon[(k + 1) % n] - polygon[k % n];
    let is_corner = |k: usize| crate::geometry::turn_deg(side(k + n - 1), side(k)).abs() > CORNER_DEG;
    let Some(first) = (0..n).find(|&k| is_corner(k)) else {
        return vec![polygon.iter().chain(polygon.first()).copied().collect()];
    };
    let mut out = Vec::new();
    let mut part = vec![polygon[first]];
    for k in first + 1..=first + n {
        part.push(polygon[k % n]);
        if is_corner(k % n) {
            out.push(std::mem::replace(&mut part, vec![polygon[k % n]]));
        }
    }
    out
}

/// Where the stretch is seen on the scan, at the places where it is seen at all, and of how many it was looked for at.
///
/// Over all ways along the stretch that stay within `reach_mm` of where the map puts it, the one is taken along which
/// it is darkest against the paper beside it while it bends least (dynamic programming).
pub fn trace(scan: &GreyImage, map: &PageMap, stretch: &Stretch, reach_mm: f64) -> Vec<SeenAt> {
    let half = (reach_mm / STEP_MM).ceil() as usize;
    let states = 2 * half + 1;
    let beside = (BESIDE_MM / STEP_MM).round() as usize;
    let darkness: Vec<Vec<f64>> =
        stretch.places.iter().map(|&(at, across)| darkness(scan, map, at, across, half, beside)).collect();
    let way = darkest_way(&darkness, states);
    let places = stretch.places.iter().zip(&darkness).zip(&way);
    places
        .filter_map(|((&(at, across), dark), &k)| {
            let near = k.saturating_sub(MIDDLE_STEPS)..(k + MIDDLE_STEPS + 1).min(states);
            let weight: f64 = dark[near.clone()].iter().sum();
            let most = dark[near.clone()].iter().copied().fold(0.0, f64::max);
            // At the rim the line may as well lie beyond it.
            if most < LEAST_DARK || k < 2 || k + 2 >= states {
                return None;
            }
            let middle = near.map(|j| j as f64 * dark[j]).sum::<f64>() / weight;
            let off = (middle - half as f64) * STEP_MM;
            let wide = k.saturating_sub(beside)..(k + beside + 1).min(states);
            let whole: f64 = dark[wide.clone()].iter().sum();
            let square = wide.map(|j| dark[j] * (j as f64 - middle).powi(2)).sum::<f64>() / whole;
            Some(SeenAt {
                at,
                across,
                seen: map.apply(at + off * across),
                frame: stretch.frame,
                spread_mm: STEP_MM * square.sqrt(),
            })
        })
        .collect()
}

/// Along a line across the printed one: how much darker each place is than the paper on both its sides, as a share of
/// the paper.
fn darkness(
    scan: &GreyImage,
    map: &PageMap,
    at: Point,
    across: Vec2,
    half: usize,
    beside: usize,
) -> Vec<f64> {
    let n = half + beside;
    let reach = n as f64 * STEP_MM;
    let (from, to) = (map.apply(at - reach * across), map.apply(at + reach * across));
    let levels: Vec<f64> = (0..=2 * n)
        .map(|k| {
            let p = from.lerp(to, k as f64 / (2 * n) as f64);
            grey::sample(scan, p.x, p.y)
        })
        .collect();
    let mut sorted = levels.clone();
    let (_, &mut paper, _) = sorted.select_nth_unstable_by(levels.len() * 3 / 4, f64::total_cmp);
    let paper = paper.max(20.0);
    (beside..=beside + 2 * half)
        .map(|k| (levels[k - beside].min(levels[k + beside]) - levels[k]).max(0.0) / paper)
        .collect()
}

/// The way through the rows, a state a row, with the least cost.
fn darkest_way(darkness: &[Vec<f64>], states: usize) -> Vec<usize> {
    let gain = |row: &[f64], k: usize| row[k].min(ENOUGH_DARK);
    let mut best: Vec<f64> = (0..states).map(|k| gain(&darkness[0], k)).collect();
    let mut from: Vec<Vec<usize>> = Vec::new();
    for row in &darkness[1..] {
        let mut next = vec![f64::MIN; states];
        let mut came = vec![0; states];
        for k in 0..states {
            let from = k.saturating_sub(MOST_STEPS);
            for (j, gone) in (from..).zip(&best[from..(k + MOST_STEPS + 1).min(states)]) {
                let value = gone - STEP_COST * j.abs_diff(k) as f64;
                if value > next[k] {
                    (next[k], came[k]) = (value, j);
                }
            }
            next[k] += gain(row, k);
        }
        best = next;
        from.push(came);
    }
    // Of equals the nearest to the middle: with nothing seen the map stands.
    let middle = states / 2;
    let mut k = (0..states)
        .max_by(|&a, &b| best[a].total_cmp(&best[b]).then(b.abs_diff(middle).cmp(&a.abs_diff(middle))))
        .unwrap_or(middle);
    let mut way = vec![k];
    for came in from.iter().rev() {
        k = came[k];
        way.push(k);
    }
    way.reverse();
    way
}
