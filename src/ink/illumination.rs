//! The paper's own shade, estimated and divided out: grey levels become contrast against the paper.
//!
//! Contrast is 0 for paper and 255 for ink that reflects nothing. Uneven light, coloured paper and a
//! copier's grey veil all scale paper and ink alike, so the quotient does not know them.

use crate::rectify::flatten::Flat;

/// Side of the squares over which the paper's shade is estimated, pixels (2 mm): wider than any stroke.
const BLOCK_PX: usize = 16;
/// A pixel this far below its block's mean is taken for ink when the paper is averaged, grey levels.
const BELOW_MEAN: u32 = 6;

/// Contrast against the paper, and how much of it is noise.
pub struct Contrast {
    pub width: usize,
    pub height: usize,
    /// Row by row, 0 paper to 255.
    pub levels: Vec<u8>,
    /// Standard deviation of the blank paper's contrast after smoothing.
    pub noise: f64,
}

/// Divides out the paper's shade and smooths with the 3 x 3 binomial kernel, `rounds` times.
pub fn contrast(flat: &Flat, rounds: usize) -> Contrast {
    let mut contrast = divided(flat);
    for _ in 1..rounds {
        smooth_again(&mut contrast);
    }
    contrast
}

/// One more round of smoothing; the picture's rim stays.
fn smooth_again(c: &mut Contrast) {
    let (w, h) = (c.width, c.height);
    let mut across = vec![0u16; w * h];
    for (row, out) in c.levels.chunks_exact(w).zip(across.chunks_exact_mut(w)) {
        for (v, o) in row.windows(3).zip(&mut out[1..w - 1]) {
            *o = v[0] as u16 + 2 * v[1] as u16 + v[2] as u16;
        }
    }
    for y in 1..h.saturating_sub(1) {
        for x in 1..w.saturating_sub(1) {
            let i = y * w + x;
            c.levels[i] = ((across[i - w] + 2 * across[i] + across[i + w] + 8) >> 4) as u8;
        }
    }
    c.noise *= 0.7;
}

fn divided(flat: &Flat) -> Contrast {
    let (bw, bh) = (flat.width.div_ceil(BLOCK_PX), flat.height.div_ceil(BLOCK_PX));
    let (paper, spread) = paper_by_block(flat, bw, bh);
    let paper = upper_median(&paper, bw, bh);
    let mut levels = vec![0u8; flat.width * flat.height];
    let mut shade = vec![0u16; flat.width];
    let scale = reciprocals();
    // Three rows of contrast, smoothed across, in turn; the middle one is written out when the third is there.
    let mut rows = vec![vec![0u16; flat.width]; 3];
    let mut raw = vec![0u8; flat.width + 2];
    for y in 0..=flat.height {
        let source = y.min(flat.height - 1);
        shade_row(&paper, bw, bh, source, &mut shade);
        let grey = &flat.grey[source * flat.width..][..flat.width];
        for ((r, &g), &b) in raw[1..].iter_mut().zip(grey).zip(&shade) {
            let b = (b >> 4) as usize;
            let dark = b.saturating_sub(g as usize) as u32;
            *r = ((dark * scale[b]) >> 16).min(255) as u8;
        }
        raw[0] = raw[1];
        raw[flat.width + 1] = raw[flat.width];
        for (x, v) in rows[y % 3].iter_mut().enumerate() {
            *v = raw[x] as u16 + 2 * raw[x + 1] as u16 + raw[x + 2] as u16;
        }
        if y > 0 {
            let above = &rows[if y == 1 { 0 } else { (y + 1) % 3 }];
            let (middle, below) = (&rows[(y + 2) % 3], &rows[y % 3]);
            let out = &mut levels[(y - 1) * flat.width..][..flat.width];
            for (((o, a), m), b) in out.iter_mut().zip(above).zip(middle).zip(below) {
                *o = ((a + 2 * m + b + 8) >> 4) as u8;
            }
        }
    }
    let mut spread = spread;
    spread.sort_by(f64::total_cmp);
    // White noise shrinks by the root of the kernel's squared weights, 3/8.
    let noise = spread[spread.len() / 2] * 0.375;
    Contrast { width: flat.width, height: flat.height, levels, noise }
}

/// 255/b in 16.16, for b = 0 to 255 (0 stands for 1: a black block has no contrast to speak of).
fn reciprocals() -> Vec<u32> {
    (0..=255u32).map(|b| (255 << 16) / b.max(1)).collect()
}

/// Each block's mean of what is not ink, and the standard deviation of that as contrast.
fn paper_by_block(flat: &Flat, bw: usize, bh: usize) -> (Vec<f32>, Vec<f64>) {
    let (mut paper, mut spread) = (Vec::with_capacity(bw * bh), Vec::with_capacity(bw * bh));
    for by in 0..bh {
        for bx in 0..bw {
            let (x0, x1) = (bx * BLOCK_PX, ((bx + 1) * BLOCK_PX).min(flat.width));
            let rows = by * BLOCK_PX..((by + 1) * BLOCK_PX).min(flat.height);
            let count = (rows.len() * (x1 - x0)) as u32;
            let sum: u32 = rows
                .clone()
                .map(|y| {
                    flat.grey[y * flat.width + x0..y * flat.width + x1].iter().map(|&g| g as u32).sum::<u32>()
                })
                .sum();
            let floor = (sum / count).saturating_sub(BELOW_MEAN) as u8;
            let (mut n, mut s, mut q) = (0u32, 0u32, 0u32);
            for y in rows {
                for &g in &flat.grey[y * flat.width + x0..y * flat.width + x1] {
                    if g >= floor {
                        n += 1;
                        s += g as u32;
                        q += g as u32 * g as u32;
                    }
                }
            }
            let mean = s as f64 / n.max(1) as f64;
            let variance = (q as f64 / n.max(1) as f64 - mean * mean).max(0.0);
            paper.push(mean as f32);
            spread.push(variance.sqrt() * 255.0 / mean.max(1.0));
        }
    }
    (paper, spread)
}

/// The second-highest third of each 3 x 3 neighbourhood: a block full of ink takes its neighbours' shade.
fn upper_median(paper: &[f32], bw: usize, bh: usize) -> Vec<f32> {
    let mut out = Vec::with_capacity(paper.len());
    let mut near = Vec::with_capacity(9);
    for y in 0..bh {
        for x in 0..bw {
            near.clear();
            for v in y.saturating_sub(1)..(y + 2).min(bh) {
                near.extend_from_slice(&paper[v * bw + x.saturating_sub(1)..v * bw + (x + 2).min(bw)]);
            }
            near.sort_by(f32::total_cmp);
            out.push(near[near.len() * 2 / 3]);
        }
    }
    out
}

/// The paper's shade along one row of pixels, bilinear between block centres, in sixteenths of a grey level.
fn shade_row(paper: &[f32], bw: usize, bh: usize, y: usize, out: &mut [u16]) {
    let at = |v: usize, n: usize| {
        let f = ((v as f32 + 0.5) / BLOCK_PX as f32 - 0.5).clamp(0.0, (n - 1) as f32);
        let i = (f as usize).min(n.saturating_sub(2));
        (i, (i + 1).min(n - 1), f - i as f32)
    };
    let (y0, y1, fy) = at(y, bh);
    let column = |x: usize| paper[y0 * bw + x] * (1.0 - fy) + paper[y1 * bw + x] * fy;
    // Half a block before the first centre the shade is constant; from there each block is one straight piece.
    let half = BLOCK_PX / 2;
    let mut x = 0;
    let mut left = column(0);
    for k in 0..=bw {
        let right = column(k.min(bw - 1));
        let end = (k * BLOCK_PX + half).min(out.len());
        let length = if k == 0 { half } else { BLOCK_PX } as f32;
        let step = (right - left) / length;
        let mut v = left + 0.5 * step;
        while x < end {
            out[x] = (v * 16.0) as u16;
            v += step;
            x += 1;
        }
        left = right;
    }
    while x < out.len() {
        out[x] = (left * 16.0) as u16;
        x += 1;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::Point;

    #[test]
    fn a_shaded_page_becomes_even() {
        let (w, h) = (160, 128);
        let mut flat = Flat { width: w, height: h, grey: vec![0; w * h], origin: Point::ORIGIN };
        for y in 0..h {
            for x in 0..w {
                let paper = 120 + x / 2 + y / 4;
                let ink = (40..44).contains(&x);
                flat.grey[y * w + x] = if ink { paper / 2 } else { paper } as u8;
            }
        }
        let c = contrast(&flat, 1);
        for y in 20..h - 20 {
            assert!(c.levels[y * w + 100] <= 8, "paper at {y}: {}", c.levels[y * w + 100]);
            let ink = c.levels[y * w + 41];
            assert!((110..=140).contains(&ink), "ink at {y}: {ink}");
        }
    }
}
