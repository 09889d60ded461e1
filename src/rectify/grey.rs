//! Small services on a grey picture that finding the page needs: reducing, sampling, the brightest nearby.

use crate::scan::GreyImage;

/// Reduces by a whole factor (averaging squares) so that the long side has at most about `long_px`
/// pixels. Gives the picture and the factor.
pub fn reduce(scan: &GreyImage, long_px: usize) -> (GreyImage, f64) {
    let k = scan.width.max(scan.height).div_ceil(long_px).max(1);
    let (w, h) = ((scan.width / k).max(1), (scan.height / k).max(1));
    let mut pixels = Vec::with_capacity(w * h);
    let n = (k.min(scan.width) * k.min(scan.height)) as u32;
    // Down first, where a whole row can be added at a time.
    let mut columns = vec![0u32; scan.width];
    for band in scan.pixels.chunks(k * scan.width).take(h) {
        columns.fill(0);
        for row in band.chunks_exact(scan.width) {
            columns.iter_mut().zip(row).for_each(|(c, &g)| *c = c.wrapping_add(u32::from(g)));
        }
        // The usual factors are spelled out so that they are known when this is compiled.
        match k {
            2 => means(&columns, 2, n, w, &mut pixels),
            3 => means(&columns, 3, n, w, &mut pixels),
            4 => means(&columns, 4, n, w, &mut pixels),
            5 => means(&columns, 5, n, w, &mut pixels),
            _ => means(&columns, k, n, w, &mut pixels),
        }
    }
    (GreyImage { width: w, height: h, pixels }, k as f64)
}

/// The first `w` means of `k` columns each, of `n` pixels.
#[inline(always)]
fn means(columns: &[u32], k: usize, n: u32, w: usize, out: &mut Vec<u8>) {
    // s / n as s * (2^40 / n, rounded up) / 2^40: exact while s * n < 2^40; s is at most 255 n.
    debug_assert!(n < 1 << 16);
    let reciprocal = (1u64 << 40).div_ceil(u64::from(n));
    let sums = columns.chunks(k).take(w).map(|square| square.iter().fold(0u32, |s, &c| s.wrapping_add(c)));
    out.extend(sums.map(|s| (u64::from(s).wrapping_mul(reciprocal) >> 40) as u8));
}

/// Grey levels this near to black or white are one or the other (JPEG rings a little).
const EXTREME: u8 = 24;
/// A page is black and white only when no more than this share of its pixels is anything between.
const BETWEEN_SHARE: f64 = 0.012;

/// Whether a scan is black and white only, whatever its file can hold.
pub fn is_bilevel(scan: &GreyImage) -> bool {
    let sample = scan.pixels.iter().step_by(13);
    let n = sample.len();
    let between = sample.filter(|&&g| g > EXTREME && g < 255 - EXTREME).count();
    (between as f64) < BETWEEN_SHARE * n as f64
}

/// The grey level at a place in pixels (whole numbers are pixel centres), bilinear; the nearest pixel's outside.
pub fn sample(scan: &GreyImage, x: f64, y: f64) -> f64 {
    let x = x.clamp(0.0, (scan.width - 1) as f64);
    let y = y.clamp(0.0, (scan.height - 1) as f64);
    let (x0, y0) = (x as usize, y as usize);
    let (x1, y1) = ((x0 + 1).min(scan.width - 1), (y0 + 1).min(scan.height - 1));
    let (fx, fy) = (x - x0 as f64, y - y0 as f64);
    let g = |u: usize, v: usize| scan.pixels[v * scan.width + u] as f64;
    (g(x0, y0) * (1.0 - fx) + g(x1, y0) * fx) * (1.0 - fy) + (g(x0, y1) * (1.0 - fx) + g(x1, y1) * fx) * fy
}

/// The brightest pixel of each square block and its eight neighbours, row by row.
pub fn brightest_by_block(picture: &GreyImage, block: usize) -> Vec<u8> {
    let (bw, bh) = (picture.width.div_ceil(block), picture.height.div_ceil(block));
    let mut own = vec![0u8; bw * bh];
    for y in 0..picture.height {
        for (bx, piece) in
            picture.pixels[y * picture.width..(y + 1) * picture.width].chunks(block).enumerate()
        {
            let o = &mut own[y / block * bw + bx];
            *o = piece.iter().copied().fold(*o, u8::max);
        }
    }
    let mut out = Vec::with_capacity(own.len());
    for y in 0..bh {
        for x in 0..bw {
            let rows = y.saturating_sub(1)..(y + 2).min(bh);
            let brightest = rows
                .flat_map(|v| own[v * bw + x.saturating_sub(1)..v * bw + (x + 2).min(bw)].iter().copied())
                .max()
                .unwrap_or(0);
            out.push(brightest);
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_reduced_picture_holds_the_means_of_squares() {
        for (width, height, long_px) in
            [(47, 31, 12), (47, 31, 24), (47, 31, 16), (30, 61, 9), (5, 70, 7), (9, 9, 20)]
        {
            let level = |i: usize| (i as u32).wrapping_mul(2_654_435_761).rotate_left(9) as u8 | 0xc0;
            let scan = GreyImage { width, height, pixels: (0..width * height).map(level).collect() };
            let (reduced, factor) = reduce(&scan, long_px);
            let k = factor as usize;
            for (i, &mean) in reduced.pixels.iter().enumerate() {
                let (x, y) = (i % reduced.width * k, i / reduced.width * k);
                let (xs, ys) = (x..(x + k).min(width), y..(y + k).min(height));
                let n = xs.len() * ys.len();
                let sum: usize = ys
                    .flat_map(|y| xs.clone().map(move |x| (x, y)))
                    .map(|(x, y)| usize::from(scan.pixels[y * width + x]))
                    .sum();
                assert_eq!(usize::from(mean), sum / n, "{width} x {height} by {k} at {x}, {y}");
            }
        }
    }
}
