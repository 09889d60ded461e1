//! The paper's own shade, estimated and divided out: grey levels become contrast against the paper.
//!
//! Contrast is 0 for paper and 255 for ink that reflects nothing. Uneven light, coloured paper and a
//! copier's grey veil all scale paper and ink alike, so the quotient does not know them.

use super::{Bitmap, shadow};
use crate::rectify::flatten::Flat;

/// Side of the squares over which the paper's shade is estimated, pixels (2 mm): wider than any stroke.
const BLOCK_PX: usize = 16;
/// A pixel this far below its block's mean is taken for ink when the paper is averaged, grey levels.
const BELOW_MEAN: u32 = 6;

/// More than sixteen roundings of a shade below 256 come to, grey levels.
const ROUNDING: f32 = 1e-3;

/// Contrast against the paper, and how much of it is noise.
pub struct Contrast {
    /// 0 paper to 255.
    pub levels: Bitmap,
    /// Standard deviation of the blank paper's contrast after smoothing.
    pub noise: f64,
    /// The same where the paper is darkest: a camera's noise hardly depends on the light, and dividing by the shade
    /// enlarges it.
    pub noise_in_shade: f64,
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
pub fn smooth_again(c: &mut Contrast) {
    let (w, h) = (c.levels.width, c.levels.height);
    c.noise *= 0.7;
    c.noise_in_shade *= 0.7;
    if w < 3 || h < 3 {
        return;
    }
    let mut across = Across::new(w);
    let mut row = vec![0u16; w];
    for y in 0..h {
        row.iter_mut().zip(c.levels.row(y)).for_each(|(r, &l)| *r = u16::from(l));
        // Of a row's ends nothing is kept: what stands beyond them is of no matter.
        across.push(&row[..w - 2], &row[1..w - 1], &row[2..]);
        if y >= 2 {
            across.down(&mut c.levels.row_mut(y - 1)[1..w - 1]);
        }
    }
}

/// The last three rows of a picture, each smoothed across, so that the middle one can be smoothed down.
struct Across {
    rows: [Vec<u16>; 3],
}

// A kernel's weights are whole and sum to 4 a way: nothing here passes 16 * 255. The sums wrap in name only, because a
// check at each would keep the loops from taking many pixels at a time.
impl Across {
    fn new(width: usize) -> Self {
        Self { rows: [vec![0; width], vec![0; width], vec![0; width]] }
    }

    /// Takes the next row: `left`, `middle` and `right` are its pixels shifted by one.
    fn push(&mut self, left: &[u16], middle: &[u16], right: &[u16]) {
        self.rows.rotate_left(1);
        for (((o, l), m), r) in self.rows[2].iter_mut().zip(left).zip(middle).zip(right) {
            *o = binomial(*l, *m, *r);
        }
    }

    /// Smooths the middle row down.
    fn down(&self, out: &mut [u8]) {
        let [above, middle, below] = &self.rows;
        for (((o, a), m), b) in out.iter_mut().zip(above).zip(middle).zip(below) {
            *o = (binomial(*a, *m, *b).wrapping_add(8) >> 4) as u8;
        }
    }
}

fn binomial(a: u16, m: u16, b: u16) -> u16 {
    a.wrapping_add(b).wrapping_add(m.wrapping_mul(2))
}

fn divided(flat: &Flat) -> Contrast {
    let w = flat.width;
    let (bw, bh) = (w.div_ceil(BLOCK_PX), flat.height.div_ceil(BLOCK_PX));
    let (paper, mut spread) = paper_by_block(flat, bw, bh);
    let paper = upper_median(&paper, bw, bh);
    let middle = spread.len() / 2;
    let (_, usual, _) = spread.select_nth_unstable_by(middle, f64::total_cmp);
    // White noise shrinks by the root of the kernel's squared weights, 3/8.
    let noise = *usual * 0.375;
    let noise_in_shade = noise * shade_ratio(&paper);
    if shadow::is_steep(&paper, bw) {
        return Contrast { levels: smoothed(shadow::divided(flat)), noise, noise_in_shade };
    }
    let mut levels = Bitmap::new(w, flat.height);
    let mut shade = Shade::new(bw);
    let mut across = Across::new(w);
    // One row with its end pixels doubled. The first and the last row are doubled too.
    let mut raw = vec![0u16; w + 2];
    for y in 0..=flat.height {
        let source = y.min(flat.height - 1);
        shade.lay_row(&paper, bw, bh, source);
        shade.divide(&flat.grey[source * w..][..w], &mut raw[1..=w]);
        raw[0] = raw[1];
        raw[w + 1] = raw[w];
        for _ in 0..if y == 0 { 2 } else { 1 } {
            across.push(&raw[..w], &raw[1..=w], &raw[2..]);
        }
        if y > 0 {
            across.down(levels.row_mut(y - 1));
        }
    }
    Contrast { levels, noise, noise_in_shade }
}

/// How much brighter the usual paper is than the darkest twentieth.
fn shade_ratio(paper: &[f32]) -> f64 {
    let mut sorted = paper.to_vec();
    sorted.sort_by(f32::total_cmp);
    f64::from(sorted[sorted.len() / 2] / sorted[sorted.len() / 20].max(1.0))
}

/// A contrast smoothed once, its rim left as it is.
fn smoothed(levels: Bitmap) -> Bitmap {
    let mut contrast = Contrast { levels, noise: 0.0, noise_in_shade: 0.0 };
    smooth_again(&mut contrast);
    contrast.levels
}

/// Each block's mean of what is not ink, and the standard deviation of that as contrast.
fn paper_by_block(flat: &Flat, bw: usize, bh: usize) -> (Vec<f32>, Vec<f64>) {
    let w = flat.width;
    let (mut paper, mut spread) = (Vec::with_capacity(bw * bh), Vec::with_capacity(bw * bh));
    let mut columns = Columns::new(w);
    let mut floors = vec![0u8; w];
    for band in flat.grey.chunks(BLOCK_PX * w) {
        columns.sum(band);
        for (floor, column) in floors.chunks_mut(BLOCK_PX).zip(columns.sums.chunks(BLOCK_PX)) {
            let count = column.len() * (band.len() / w);
            floor.fill((total(column) / count as u32).saturating_sub(BELOW_MEAN) as u8);
        }
        columns.sum_from(band, &floors);
        for k in 0..bw {
            let block = k * BLOCK_PX..((k + 1) * BLOCK_PX).min(w);
            let count = total(&columns.counts[block.clone()]).max(1) as f64;
            let squares = columns.squares[block.clone()].iter().sum::<u32>() as f64;
            let mean = total(&columns.sums[block]) as f64 / count;
            let variance = (squares / count - mean * mean).max(0.0);
            paper.push(mean as f32);
            spread.push(variance.sqrt() * 255.0 / mean.max(1.0));
        }
    }
    (paper, spread)
}

fn total(numbers: &[u16]) -> u32 {
    numbers.iter().map(|&n| u32::from(n)).sum()
}

/// Sums down the columns of a band of rows, one block high: of 16 grey levels, so that none overflows; the sums wrap in
/// name only (see [`Across`]).
struct Columns {
    counts: Vec<u16>,
    sums: Vec<u16>,
    squares: Vec<u32>,
}

impl Columns {
    fn new(width: usize) -> Self {
        Self { counts: vec![0; width], sums: vec![0; width], squares: vec![0; width] }
    }

    /// Only `sums`, of all pixels.
    fn sum(&mut self, band: &[u8]) {
        self.sums.fill(0);
        for row in band.chunks_exact(self.sums.len()) {
            self.sums.iter_mut().zip(row).for_each(|(s, &g)| *s = s.wrapping_add(u16::from(g)));
        }
    }

    /// Of the pixels that are not darker than their column's floor.
    fn sum_from(&mut self, band: &[u8], floors: &[u8]) {
        self.counts.fill(0);
        self.sums.fill(0);
        self.squares.fill(0);
        for row in band.chunks_exact(self.sums.len()) {
            let all = self.counts.iter_mut().zip(&mut self.sums).zip(&mut self.squares);
            for (((n, s), q), (&g, &floor)) in all.zip(row.iter().zip(floors)) {
                let kept = if g >= floor { u16::from(g) } else { 0 };
                *n = n.wrapping_add(u16::from(g >= floor));
                *s = s.wrapping_add(kept);
                *q = q.wrapping_add(u32::from(kept).wrapping_mul(u32::from(kept)));
            }
        }
    }
}

/// The second-highest third of each 3 x 3 neighbourhood: a block full of ink takes its neighbours' shade.
fn upper_median(paper: &[f32], bw: usize, bh: usize) -> Vec<f32> {
    let mut out = Vec::with_capacity(paper.len());
    for y in 0..bh {
        for x in 0..bw {
            let (xs, ys) = (x.saturating_sub(1)..(x + 2).min(bw), y.saturating_sub(1)..(y + 2).min(bh));
            let count = xs.len() * ys.len();
            let mut highest = [f32::MIN; 3];
            for &v in ys.flat_map(|y| &paper[y * bw..][xs.clone()]) {
                let [a, b, c] = highest;
                highest = [a.max(v), b.max(a.min(v)), c.max(b.min(v))];
            }
            out.push(highest[count - count * 2 / 3 - 1]);
        }
    }
    out
}

/// The paper's shade along one row of pixels, and what divides by it.
///
/// Between two block centres the shade is a straight piece; before the first centre and after the last it is constant.
/// All rows here begin half a block before the picture, so that every piece is a whole block wide.
struct Shade {
    /// Whole grey levels.
    grey: Vec<[u16; BLOCK_PX]>,
    /// 255 / grey as 16.16 fixed point: the whole part and the fraction, so that products fit 16 bits.
    whole: Vec<[u16; BLOCK_PX]>,
    part: Vec<[u16; BLOCK_PX]>,
    /// The row's shade at the block centres, the first and the last doubled.
    centres: Vec<f32>,
    /// Of each piece: the shade of its first pixel, what a pixel adds, the least whole grey level, and how many levels
    /// more there are.
    first: Vec<f32>,
    step: Vec<f32>,
    low: Vec<u8>,
    more: Vec<u8>,
    /// 255 / b in 16.16, for b = 0 to 255 (0 stands for 1: a black block has no contrast to speak of).
    reciprocals: [u32; 256],
}

impl Shade {
    fn new(bw: usize) -> Self {
        let row = || vec![[0u16; BLOCK_PX]; bw + 1];
        Self {
            grey: row(),
            whole: row(),
            part: row(),
            centres: vec![0.0; bw + 2],
            first: vec![0.0; bw + 1],
            step: vec![0.0; bw + 1],
            low: vec![0; bw + 1],
            more: vec![0; bw + 1],
            reciprocals: std::array::from_fn(|b| (255 << 16) / (b as u32).max(1)),
        }
    }

    /// Row `y`: bilinear between block centres.
    fn lay_row(&mut self, paper: &[f32], bw: usize, bh: usize, y: usize) {
        let f = ((y as f32 + 0.5) / BLOCK_PX as f32 - 0.5).clamp(0.0, (bh - 1) as f32);
        let y0 = (f as usize).min(bh.saturating_sub(2));
        let (y1, fy) = ((y0 + 1).min(bh - 1), f - y0 as f32);
        let (upper, lower) = (&paper[y0 * bw..][..bw], &paper[y1 * bw..][..bw]);
        for ((c, u), l) in self.centres[1..].iter_mut().zip(upper).zip(lower) {
            *c = u * (1.0 - fy) + l * fy;
        }
        self.centres[0] = self.centres[1];
        self.centres[bw + 1] = self.centres[bw];
        self.measure_pieces();
        for k in 0..=bw {
            self.lay_piece(k);
        }
    }

    fn measure_pieces(&mut self) {
        let ends = self.centres.iter().zip(&self.centres[1..]);
        let pieces = self.first.iter_mut().zip(&mut self.step).zip(&mut self.low).zip(&mut self.more);
        for ((left, right), (((first, step), low), more)) in ends.zip(pieces) {
            *step = (right - left) / BLOCK_PX as f32;
            *first = left + 0.5 * *step;
            let last = *first + *step * (BLOCK_PX - 1) as f32;
            // White that is nothing but white adds nothing, and nothing is rounded.
            let rounding = if *step == 0.0 { 0.0 } else { ROUNDING };
            let (least, most) = (first.min(last - rounding), first.max(last + rounding));
            *low = least as u8;
            *more = (most as u8).wrapping_sub(*low);
        }
    }

    /// The shade changes so little over a block that it stays within one grey level or passes to the next once; which
    /// of the two, is told for all pixels at a time, unless one lies so near that rounding decides.
    fn lay_piece(&mut self, k: usize) {
        let (first, step, low, more) = (self.first[k], self.step[k], self.low[k], self.more[k]);
        let high = low.wrapping_add(more);
        let above: [f32; BLOCK_PX] = std::array::from_fn(|x| first + step * x as f32 - f32::from(high));
        let near = above.iter().fold(0u8, |n, v| n | u8::from(v.abs() < ROUNDING));
        if more.wrapping_add(near) <= 1 || more == 0 {
            let (l, h) = (self.reciprocals[usize::from(low)], self.reciprocals[usize::from(high)]);
            let select = |low: u16, high: u16| above.map(|v| if v >= 0.0 { high } else { low });
            self.grey[k] = select(low.into(), high.into());
            self.whole[k] = select((l >> 16) as u16, (h >> 16) as u16);
            self.part[k] = select(l as u16, h as u16);
            return;
        }
        let mut v = first;
        for x in 0..BLOCK_PX {
            let scale = self.reciprocals[usize::from(v as u8)];
            self.grey[k][x] = u16::from(v as u8);
            self.whole[k][x] = (scale >> 16) as u16;
            self.part[k][x] = scale as u16;
            v += step;
        }
    }

    /// A row's grey levels as contrast, 0 to 255. Products wrap in name only: grey * whole is at most 255.
    fn divide(&self, grey: &[u8], out: &mut [u16]) {
        let [shade, whole, part] =
            [&self.grey, &self.whole, &self.part].map(|row| &row.as_flattened()[BLOCK_PX / 2..]);
        for ((((o, &g), &b), &whole), &part) in out.iter_mut().zip(grey).zip(shade).zip(whole).zip(part) {
            let dark = b.saturating_sub(u16::from(g));
            let fraction = (u32::from(dark).wrapping_mul(u32::from(part)) >> 16) as u16;
            *o = dark.wrapping_mul(whole).wrapping_add(fraction);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::Point;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn the_shade_is_that_of_the_plain_form(levels in proptest::collection::vec(0u16..1024, 9), dark in 0.0f32..255.0) {
            // Steep and gentle slopes, and levels that are whole.
            for (scale, whole) in [(255.0, false), (3.0, false), (3.0, true)] {
                let level = |n: &u16| (dark + scale * f32::from(*n) / 1024.0).min(255.0);
                let paper: Vec<f32> = levels.iter().map(|n| if whole { level(n).floor() } else { level(n) }).collect();
                let mut shade = Shade::new(3);
                for y in 0..3 * BLOCK_PX {
                    shade.lay_row(&paper, 3, 3, y);
                    prop_assert_eq!(shade.grey.as_flattened(), plain_row(&paper, y));
                    let scales = shade.whole.as_flattened().iter().zip(shade.part.as_flattened());
                    for (&grey, (&w, &p)) in shade.grey.as_flattened().iter().zip(scales) {
                        let grey = u32::from(grey);
                        prop_assert_eq!((u32::from(w) << 16) + u32::from(p), (255 << 16) / grey.max(1));
                    }
                }
            }
        }
    }

    /// Pixel after pixel, on three by three blocks.
    fn plain_row(paper: &[f32], y: usize) -> Vec<u16> {
        let f = ((y as f32 + 0.5) / BLOCK_PX as f32 - 0.5).clamp(0.0, 2.0);
        let y0 = (f as usize).min(1);
        let fy = f - y0 as f32;
        let centre = |k: usize| paper[3 * y0 + k] * (1.0 - fy) + paper[3 * y0 + 3 + k] * fy;
        let mut out = Vec::new();
        for (a, b) in [(0, 0), (0, 1), (1, 2), (2, 2)] {
            let step = (centre(b) - centre(a)) / BLOCK_PX as f32;
            let mut v = centre(a) + 0.5 * step;
            for _ in 0..BLOCK_PX {
                out.push(v as u16);
                v += step;
            }
        }
        out
    }

    #[test]
    fn the_block_in_the_upper_third_is_the_seventh_of_nine() {
        let paper = [7.0, 2.0, 9.0, 4.0, 5.0, 6.0, 1.0, 8.0, 3.0];
        assert_eq!(upper_median(&paper, 3, 3)[4], 7.0);
        // Of a corner's four the third, of an edge's six the fifth; a row alone: of two and of three the highest.
        assert_eq!(upper_median(&paper, 3, 3)[0], 5.0);
        assert_eq!(upper_median(&paper, 3, 3)[1], 7.0);
        assert_eq!(upper_median(&paper[..3], 3, 1), [7.0, 9.0, 9.0]);
    }

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
            let row = c.levels.row(y);
            assert!(row[100] <= 8, "paper at {y}: {}", row[100]);
            let ink = row[41];
            assert!((110..=140).contains(&ink), "ink at {y}: {ink}");
        }
    }
}
