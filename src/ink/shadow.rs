//! Paper under hard shadows: its shade pixel by pixel, where squares of two millimetres are too coarse.
//!
//! A closing (the largest in a window, then the least of that; J. Serra, Image Analysis and Mathematical Morphology, 1982)
//! takes away what is dark and narrower than the window, which is all ink, and leaves steps and slopes as they are,
//! which is a shadow's edge.

use super::Bitmap;
use crate::rectify::flatten::Flat;
use std::collections::VecDeque;

/// Paper that changes by more than this share from one square to the next lies under a shadow's edge.
const STEEP: f32 = 0.06;
/// So many such squares are an edge; fewer are blots.
const LEAST_STEEP: usize = 12;
/// The shade is looked for on a picture reduced by this, each way: half its noise, and still four pixels a mm.
const REDUCED: usize = 2;
/// Half the window, reduced pixels: 3.2 mm in all, wider than any stroke or filled arrowhead.
const HALF_WINDOW: usize = 6;

/// Whether the paper, by squares in rows of `bw`, has an edge of light and shade.
pub fn is_steep(paper: &[f32], bw: usize) -> bool {
    let far = |a: f32, b: f32| (a - b).abs() > STEEP * a.max(b);
    let across = paper.chunks_exact(bw).flat_map(|row| row.windows(2)).filter(|p| far(p[0], p[1])).count();
    let down = paper.iter().zip(paper.iter().skip(bw)).filter(|(a, b)| far(**a, **b)).count();
    across + down >= LEAST_STEEP
}

/// Contrast against the paper's shade, 0 to 255.
pub fn divided(flat: &Flat) -> Bitmap {
    let (w, h) = (flat.width / REDUCED, flat.height / REDUCED);
    let mut levels = Bitmap::new(flat.width, flat.height);
    if w == 0 || h == 0 {
        return levels;
    }
    let small = reduced(flat, w, h);
    let mut paper = window(&window(&small, w, h, u8::max), w, h, u8::min);
    // The largest of what is noise lies above its mean by so much everywhere.
    let mut above: Vec<u8> = paper.iter().zip(&small).map(|(p, s)| p.saturating_sub(*s)).collect();
    let middle = above.len() / 2;
    let (_, &mut bias, _) = above.select_nth_unstable(middle);
    paper.iter_mut().for_each(|p| *p = p.saturating_sub(bias).max(1));
    for y in 0..flat.height {
        let row = &flat.grey[y * flat.width..][..flat.width];
        for (x, (level, &grey)) in levels.row_mut(y).iter_mut().zip(row).enumerate() {
            let paper = between(&paper, w, h, x, y);
            *level = ((paper - f32::from(grey)).max(0.0) * 255.0 / paper) as u8;
        }
    }
    levels
}

/// Means of squares.
fn reduced(flat: &Flat, w: usize, h: usize) -> Vec<u8> {
    let mut out = Vec::with_capacity(w * h);
    for y in 0..h {
        let rows = &flat.grey[y * REDUCED * flat.width..];
        for x in 0..w {
            let square = (0..REDUCED).flat_map(|v| &rows[v * flat.width + x * REDUCED..][..REDUCED]);
            let sum: usize = square.map(|&g| usize::from(g)).sum();
            out.push((sum / (REDUCED * REDUCED)) as u8);
        }
    }
    out
}

/// The reduced picture at a place of the whole one, bilinear.
fn between(small: &[u8], w: usize, h: usize, x: usize, y: usize) -> f32 {
    let place = |v: usize, n: usize| {
        let at = ((v as f32 + 0.5) / REDUCED as f32 - 0.5).clamp(0.0, (n - 1) as f32);
        let low = (at as usize).min(n.saturating_sub(2));
        (low, (low + 1).min(n - 1), at - low as f32)
    };
    let ((x0, x1, fx), (y0, y1, fy)) = (place(x, w), place(y, h));
    let at = |x: usize, y: usize| f32::from(small[y * w + x]);
    let (top, low) =
        (at(x0, y0) + fx * (at(x1, y0) - at(x0, y0)), at(x0, y1) + fx * (at(x1, y1) - at(x0, y1)));
    top + fy * (low - top)
}

/// The largest (or least) of each square window, cut off at the picture's rim: along the rows, then down.
fn window(picture: &[u8], w: usize, h: usize, better: fn(u8, u8) -> u8) -> Vec<u8> {
    let mut across = vec![0; w * h];
    let mut line = Vec::new();
    for y in 0..h {
        slide(&picture[y * w..][..w], better, &mut line);
        across[y * w..][..w].copy_from_slice(&line);
    }
    let mut out = vec![0; w * h];
    for x in 0..w {
        let column: Vec<u8> = (0..h).map(|y| across[y * w + x]).collect();
        slide(&column, better, &mut line);
        line.iter().enumerate().for_each(|(y, &v)| out[y * w + x] = v);
    }
    out
}

/// The largest (or least) within [`HALF_WINDOW`] of each place.
fn slide(values: &[u8], better: fn(u8, u8) -> u8, out: &mut Vec<u8>) {
    out.clear();
    // Places whose values get worse and worse: the first is the window's best.
    let mut best: VecDeque<usize> = VecDeque::new();
    for next in 0..values.len() + HALF_WINDOW {
        if let Some(&value) = values.get(next) {
            while best.back().is_some_and(|&k| better(values[k], value) == value) {
                best.pop_back();
            }
            best.push_back(next);
        }
        if next < HALF_WINDOW {
            continue;
        }
        while best.front().is_some_and(|&k| k + 2 * HALF_WINDOW < next) {
            best.pop_front();
        }
        out.extend(best.front().map(|&k| values[k]));
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::Point;

    /// Half the page in a hard shadow, and a stroke through both: the edge is no ink, the stroke is.
    #[test]
    fn a_shadows_edge_is_no_ink() {
        let (width, height) = (200, 120);
        let level = |x: usize, y: usize| {
            let light = 200.0 - 80.0 / (1.0 + (-(x as f64 - 100.0) / 4.0).exp());
            let ink = (58..62).contains(&y);
            (light * if ink { 0.5 } else { 1.0 }) as u8
        };
        let grey = (0..width * height).map(|i| level(i % width, i / width)).collect();
        let flat = Flat { width, height, grey, origin: Point::ORIGIN };
        let levels = divided(&flat);
        for x in 4..196 {
            assert!(levels.row(30)[x] < 12, "paper at {x}: {}", levels.row(30)[x]);
            assert!(levels.row(60)[x] > 100, "ink at {x}: {}", levels.row(60)[x]);
        }
    }

    #[test]
    fn a_window_slides_to_the_rim() {
        let mut out = Vec::new();
        let values: Vec<u8> = (0..30).map(|k| (k * 37 % 101) as u8).collect();
        slide(&values, u8::max, &mut out);
        let plain: Vec<u8> = (0..30usize)
            .map(|k| {
                *values[k.saturating_sub(HALF_WINDOW)..(k + HALF_WINDOW + 1).min(30)].iter().max().unwrap()
            })
            .collect();
        assert_eq!(out, plain);
    }
}
