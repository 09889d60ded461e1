//! What is taken off the ink of a traced page before lines are looked for: the outlines as drawn, and the writing in them.
//! It is treated as print is on a printed sheet: strokes that run into it end there, and are bridged where they run on.

use super::fit::Fit;
use super::marks::pixels;
use crate::geometry::{Point, Vec2, polyline, turn_deg};
use crate::ink::{Bitmap, PanelInk, thin};

/// Ink within this of the middle of the outline's stroke is the outline's, mm: half a thick pencil and its shake.
const STROKE_MM: f64 = 0.65;
/// Writing is covered so far beyond its edge, mm.
const WRITING_MM: f64 = 0.25;
/// What is left beside an outline and is no larger than this is of the outline too, mm: corners that were overshot, a side
/// that was drawn twice.
const STUB_MM: f64 = 4.0;
/// A side's way is read over so much of it, from so far off its corner on, mm; a corner turns by more than this, degrees.
const SIDE_MM: f64 = 3.0;
const OFF_CORNER_MM: f64 = 1.0;
const CORNER_DEG: f64 = 45.0;
/// A side may be drawn so far beyond its corner, mm: less than what lies on a magnet by the measures, so that a line which leaves
/// the corner that way still begins on it.
const OVERSHOT_MM: f64 = 3.0;
/// Places along an outline, mm.
const STEP_MM: f64 = 0.25;

/// Pixels that the outlines cover.
pub fn outlines(ink: &PanelInk, fits: &[&Fit]) -> Bitmap {
    let mut map = Bitmap::new(ink.ink.width, ink.ink.height);
    for fit in fits {
        let mut around = fit.drawn.clone();
        around.extend(fit.drawn.first());
        let places = polyline::resample(&around, STEP_MM);
        for p in &places {
            spot(&mut map, ink, *p, STROKE_MM);
        }
        for (corner, way) in beyond_corners(&places) {
            let on = (1..=steps(OVERSHOT_MM)).map(|k| corner + STEP_MM * k as f64 * way);
            on.take_while(|p| ink.at(*p).0).for_each(|p| spot(&mut map, ink, p, STROKE_MM));
        }
    }
    map
}

fn steps(mm: f64) -> usize {
    (mm / STEP_MM).round() as usize
}

/// The corners of a closed outline, each with the way on of a side that ends there: with two sides, twice. `places`: every
/// [`STEP_MM`], the last at the first. A corner that is rounded has no one place: each of it is one.
fn beyond_corners(places: &[Point]) -> Vec<(Point, Vec2)> {
    let n = places.len().saturating_sub(1);
    let at = |i: usize, mm: f64, back: bool| {
        let k = steps(mm);
        places[if back { (i + n - k) % n } else { (i + k) % n }]
    };
    if n <= 2 * steps(OFF_CORNER_MM + SIDE_MM) {
        return Vec::new();
    }
    let ways = |i: usize| {
        [true, false].map(|back| at(i, OFF_CORNER_MM, back) - at(i, OFF_CORNER_MM + SIDE_MM, back))
    };
    let is_corner = |[into, back]: &[Vec2; 2]| turn_deg(*into, -*back).abs() > CORNER_DEG;
    let corners = (0..n).map(|i| (places[i], ways(i))).filter(|(_, ways)| is_corner(ways));
    corners
        .flat_map(|(p, ways)| ways.map(|way| (p, way)))
        .filter(|(_, way)| way.hypot() > 0.0)
        .map(|(p, way)| (p, way.normalize()))
        .collect()
}

fn spot(map: &mut Bitmap, ink: &PanelInk, p: Point, reach_mm: f64) {
    let (x, y) = ink.to_px(p);
    let (x, y, reach) = (x.round() as isize, y.round() as isize, pixels(reach_mm));
    for v in (y - reach).max(0)..=(y + reach).min(map.height as isize - 1) {
        for u in (x - reach).max(0)..=(x + reach).min(map.width as isize - 1) {
            if (u - x).pow(2) + (v - y).pow(2) <= reach * reach {
                map.set(u as usize, v as usize, true);
            }
        }
    }
}

/// Adds pieces of writing to a cover.
pub fn add_writing<'a>(map: &mut Bitmap, ink: &PanelInk, pieces: impl Iterator<Item = &'a [usize]>) {
    let reach = pixels(WRITING_MM);
    for cells in pieces {
        for &i in cells {
            let (x, y) = ink.ink.place(i);
            let (x, y) = (x as isize, y as isize);
            for v in (y - reach).max(0)..=(y + reach).min(map.height as isize - 1) {
                for u in (x - reach).max(0)..=(x + reach).min(map.width as isize - 1) {
                    map.set(u as usize, v as usize, true);
                }
            }
        }
    }
}

/// Adds to a cover of outlines what is left beside it and is too small for anything else.
pub fn add_stubs(map: &mut Bitmap, ink: &PanelInk) {
    let steps = ink.ink.ring_steps();
    let mut rest = uncovered(ink, map);
    let mut group = Vec::new();
    for start in rest.ink_indices() {
        if rest.cells[start] == 0 {
            continue;
        }
        rest.take_group(start, &mut group);
        let (mut least, mut most) = ((usize::MAX, usize::MAX), (0, 0));
        for &i in &group {
            let (x, y) = rest.place(i);
            least = (least.0.min(x), least.1.min(y));
            most = (most.0.max(x), most.1.max(y));
        }
        let extent = (most.0 - least.0).max(most.1 - least.1) as isize;
        let beside = |&i: &usize| steps.iter().any(|&s| map.cells[(i as isize + s) as usize] != 0);
        if extent <= pixels(STUB_MM) && group.iter().any(beside) {
            group.iter().for_each(|&i| map.cells[i] = 1);
        }
    }
}

/// The ink beside a cover.
fn uncovered(ink: &PanelInk, cover: &Bitmap) -> Bitmap {
    let mut rest = ink.ink.clone();
    for (cell, &covered) in rest.cells.iter_mut().zip(&cover.cells) {
        if covered != 0 {
            *cell = 0;
        }
    }
    rest
}

/// The page's ink without what is covered, thinned anew, with the cover in the place of print.
pub fn apply(mut ink: PanelInk, cover: Bitmap) -> PanelInk {
    ink.ink = uncovered(&ink, &cover);
    ink.thin = ink.ink.clone();
    thin::thin(&mut ink.thin, thin::Rule::GuoHall);
    ink.print = cover.into();
    ink
}
