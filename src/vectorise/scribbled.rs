//! Lines that were scribbled over: ink to and fro across a line, more than any head leaves there.
//!
//! Lines that run along it leave ink beside it, too, but theirs is one stroke all along; a scribble's comes and goes, or fills
//! all that lies beside the line.

use super::strokes::Stroke;
use crate::geometry::{Point, Vec2, polyline};
use crate::ink::{Bitmap, PanelInk};
use std::ops::Range;

/// Places along a line at which it is looked across, mm.
const STEP_MM: f64 = 0.5;
/// From a line's edge so far to either side, mm: a scribble's usual reach.
const REACH_MM: f64 = 2.8;
/// Over so many places, 3 mm: a zigzag is now on one side and now on the other.
const PLACES: usize = 6;
/// So much ink across, mm, on either side, is more than a line has.
const LEAST_ACROSS_MM: f64 = 0.25;
/// A scribble goes on for this long, mm: no head does.
const LEAST_LONG_MM: f64 = 12.0;
/// It fills this much of what lies so near to the line's edge, mm, or comes or goes there once in so many mm.
const FULL_SHARE: f64 = 0.7;
const NEAR_MM: Range<f64> = 0.3..1.1;
const COMES_MM: f64 = 2.5;

/// The lines that are scribbled over, in order. `rest`: the ink that no line explains.
pub fn over(ink: &PanelInk, lines: &[Stroke], rest: &Bitmap) -> Vec<usize> {
    let is_inked = |p: Point| ink.index(p).is_some_and(|i| rest.cells[i] != 0);
    (0..lines.len()).filter(|&l| is_over(&lines[l], ink.mm_per_px(), &is_inked)).collect()
}

/// What lies on one side of a line at one place.
struct Beside {
    /// How much ink, mm across.
    across_mm: f64,
    /// The share of what is nearest that is inked.
    share: f64,
}

impl Beside {
    fn at(edge: Point, out: Vec2, pixel_mm: f64, is_inked: &impl Fn(Point) -> bool) -> Self {
        let inked = |range: Range<f64>| {
            let steps = ((range.end - range.start) / pixel_mm).round() as usize;
            let at = |k: usize| edge + (range.start + k as f64 * pixel_mm) * out;
            (0..steps).filter(|&k| is_inked(at(k))).count() as f64 * pixel_mm
        };
        let width = NEAR_MM.end - NEAR_MM.start;
        Self { across_mm: inked(0.0..REACH_MM), share: inked(NEAR_MM) / width }
    }
}

fn is_over(line: &Stroke, pixel_mm: f64, is_inked: &impl Fn(Point) -> bool) -> bool {
    let places = polyline::resample(&line.points, STEP_MM);
    let tangents = polyline::tangents(&places);
    let sides = [1.0, -1.0].map(|side| {
        let beside = |(at, along): (&Point, &Vec2)| {
            let out = side * Vec2::new(-along.y, along.x);
            Beside::at(*at + 0.5 * line.width_mm * out, out, pixel_mm, is_inked)
        };
        places.iter().zip(&tangents).map(beside).collect::<Vec<Beside>>()
    });
    let is_inked = |side: &[Beside]| {
        side.iter().map(|b| b.across_mm).sum::<f64>() >= LEAST_ACROSS_MM * side.len() as f64
    };
    let windows = sides[0].windows(PLACES).zip(sides[1].windows(PLACES));
    let inked: Vec<bool> = windows.map(|(a, b)| is_inked(a) && is_inked(b)).collect();
    let mut from = 0;
    (0..=inked.len()).any(|k| {
        if inked.get(k) == Some(&true) {
            return false;
        }
        let run = std::mem::replace(&mut from, k + 1)..k;
        run.len() as f64 * STEP_MM >= LEAST_LONG_MM
            && sides.iter().all(|side| comes_and_goes(&side[run.clone()]))
    })
}

/// Whether ink on a side is a scribble's.
fn comes_and_goes(side: &[Beside]) -> bool {
    let share = side.iter().map(|b| b.share).sum::<f64>() / side.len() as f64;
    let changes = side.windows(2).filter(|w| (w[0].share > 0.0) != (w[1].share > 0.0)).count();
    share >= FULL_SHARE || changes as f64 * COMES_MM >= side.len() as f64 * STEP_MM
}
