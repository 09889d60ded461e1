//! What is taken off the ink of a traced page before lines are looked for: the outlines as drawn, and the writing in them.
//! It is treated as print is on a printed sheet: strokes that run into it end there, and are bridged where they run on.

use super::fit::Fit;
use super::marks::pixels;
use crate::geometry::{Point, polyline};
use crate::ink::{Bitmap, PanelInk, thin};

/// Ink within this of the middle of the outline's stroke is the outline's, mm: half a thick pencil and its shake.
const STROKE_MM: f64 = 0.65;
/// Writing is covered so far beyond its edge, mm.
const WRITING_MM: f64 = 0.25;
/// What is left beside an outline and is no larger than this is of the outline too, mm: corners that were overshot, a side
/// that was drawn twice.
const STUB_MM: f64 = 4.0;

/// Pixels that the outlines cover.
pub fn outlines(ink: &PanelInk, fits: &[&Fit]) -> Bitmap {
    let mut map = Bitmap::new(ink.ink.width, ink.ink.height);
    for fit in fits {
        let mut around = fit.drawn.clone();
        around.extend(fit.drawn.first());
        for p in polyline::resample(&around, 0.25) {
            spot(&mut map, ink, p, STROKE_MM);
        }
    }
    map
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
    ink.hand_traced = true;
    ink
}
