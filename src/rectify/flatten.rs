//! A part of the page as a picture with a fixed number of pixels a millimetre, whatever the scan's resolution.

use super::page_map::PageMap;
use crate::geometry::{Point, Rect};
use crate::scan::GreyImage;

/// Pixels a millimetre of the flat page (203 dpi): a 0.35 mm pencil stroke is nearly three pixels wide.
pub const PX_PER_MM: f64 = 8.0;
/// Pixels between places where the map from page to scan is evaluated exactly; straight between them
/// (for a photo tilted by 30 degrees the error is below a hundredth of a pixel).
const SPAN_PX: usize = 32;
/// What stands for places outside the scan: paper.
const OUTSIDE: u8 = 255;

/// A flat picture of a part of the page.
pub struct Flat {
    pub width: usize,
    pub height: usize,
    /// Row by row, 0 black to 255.
    pub grey: Vec<u8>,
    /// Page place (mm) of the centre of pixel (0, 0).
    pub origin: Point,
}

impl Flat {
    /// The page place, mm, of a place in pixels (whole numbers are pixel centres).
    pub fn to_mm(&self, x: f64, y: f64) -> Point {
        Point::new(self.origin.x + x / PX_PER_MM, self.origin.y + y / PX_PER_MM)
    }

    /// The place in pixels of a page place, mm.
    pub fn to_px(&self, p: Point) -> (f64, f64) {
        ((p.x - self.origin.x) * PX_PER_MM, (p.y - self.origin.y) * PX_PER_MM)
    }
}

/// Width and height in pixels of the flat picture of a region in mm.
pub fn flat_size(region: Rect) -> (usize, usize) {
    ((region.width() * PX_PER_MM).round() as usize, (region.height() * PX_PER_MM).round() as usize)
}

/// Samples `region` (mm) of the page; `page_to_scan` maps mm to pixels of `scan` (whole numbers are pixel centres).
///
/// Where the scan is finer than the flat picture, each pixel averages as many bilinear samples as it
/// takes not to skip any of the scan.
pub fn flatten(scan: &GreyImage, page_to_scan: &PageMap, region: Rect) -> Flat {
    let (width, height) = flat_size(region);
    let origin = Point::new(region.x0 + 0.5 / PX_PER_MM, region.y0 + 0.5 / PX_PER_MM);
    let mut flat = Flat { width, height, grey: vec![OUTSIDE; width * height], origin };
    let centre = region.center();
    let scale = page_to_scan
        .apply(centre)
        .distance(page_to_scan.apply(Point::new(centre.x + 1.0 / PX_PER_MM, centre.y)));
    let taps = (scale.ceil() as usize).clamp(1, 4);
    let taps = if scale < 1.2 { 1 } else { taps };
    let mut sums = vec![0u16; width];
    let mut row = vec![OUTSIDE; width];
    for (y, out) in flat.grey.chunks_exact_mut(width).enumerate() {
        if taps == 1 {
            sample_row(scan, page_to_scan, flat.origin, y as f64, 0.0, out);
            continue;
        }
        sums.fill(0);
        for a in 0..taps {
            for b in 0..taps {
                let off = |k: usize| (k as f64 + 0.5) / taps as f64 - 0.5;
                sample_row(scan, page_to_scan, flat.origin, y as f64 + off(a), off(b), &mut row);
                // Sixteen samples at most: no sum wraps.
                sums.iter_mut().zip(&row).for_each(|(s, &v)| *s = s.wrapping_add(u16::from(v)));
            }
        }
        let sums = out.iter_mut().zip(&sums);
        // Division by a number that is known beforehand is no division.
        match taps {
            2 => sums.for_each(|(o, &s)| *o = (s / 4) as u8),
            3 => sums.for_each(|(o, &s)| *o = (s / 9) as u8),
            _ => sums.for_each(|(o, &s)| *o = (s / 16) as u8),
        }
    }
    flat
}

/// One row of bilinear samples at flat places (x + dx, y).
fn sample_row(scan: &GreyImage, map: &PageMap, origin: Point, y: f64, dx: f64, out: &mut [u8]) {
    let at = |x: f64| map.apply(Point::new(origin.x + (x + dx) / PX_PER_MM, origin.y + y / PX_PER_MM));
    let (w, h) = (scan.width as i64, scan.height as i64);
    let mut start = at(0.0);
    let mut x = 0;
    while x < out.len() {
        let n = SPAN_PX.min(out.len() - x);
        let end = at((x + n) as f64);
        // 16.16 fixed point: a scan has fewer than 2^15 pixels a side or is refused.
        let fixed = |v: f64| (v.clamp(-30_000.0, 30_000.0) * 65_536.0) as i64;
        let (mut u, mut v) = (fixed(start.x), fixed(start.y));
        let (du, dv) = ((fixed(end.x) - u) / n as i64, (fixed(end.y) - v) / n as i64);
        let inside = |p: Point| p.x >= 0.0 && p.y >= 0.0 && p.x < (w - 2) as f64 && p.y < (h - 2) as f64;
        if inside(start) && inside(end) {
            for piece in out[x..x + n].chunks_mut(BLOCK_PX) {
                match piece.first_chunk_mut().map(|block| (samples(scan, (u, v), (du, dv)), block)) {
                    Some((Some(block), o)) => *o = block,
                    _ => piece.iter_mut().enumerate().for_each(|(k, o)| {
                        let k = k as i64;
                        *o = bilinear(&scan.pixels, scan.width, u + k * du, v + k * dv);
                    }),
                }
                u += piece.len() as i64 * du;
                v += piece.len() as i64 * dv;
            }
        } else {
            for o in &mut out[x..x + n] {
                let (iu, iv) = (u >> 16, v >> 16);
                *o = if iu >= 0 && iv >= 0 && iu < w - 1 && iv < h - 1 {
                    bilinear(&scan.pixels, scan.width, u, v)
                } else {
                    OUTSIDE
                };
                u += du;
                v += dv;
            }
        }
        start = end;
        x += n;
    }
}

/// Samples that are taken together.
const BLOCK_PX: usize = 16;
/// Scan pixels in a row that a block may fall on.
const WINDOW_PX: usize = 64;

/// The four pixels round each sample of a block: upper left and right, lower left and right.
type Corners = [[u8; BLOCK_PX]; 4];

/// A block of samples from a place on in equal steps, 16.16 fixed point; each is [`bilinear`]. `None` where the block
/// falls on more of the scan than is provided for.
fn samples(scan: &GreyImage, (u, v): (i64, i64), (du, dv): (i64, i64)) -> Option<[u8; BLOCK_PX]> {
    let last = BLOCK_PX as i64 - 1;
    let whole = |from: i64, step: i64| (from >> 16, (from + last * step) >> 16);
    let ((u0, u1), (v0, v1)) = (whole(u, du), whole(v, dv));
    let (column, row) = (u0.min(u1), v0.min(v1));
    let from = |k: i64| scan.pixels.get((row + k) as usize * scan.width + column as usize..);
    // A step near one, and as many pixels on as samples: the samples fall on one pixel after the other.
    let in_turn = v0 == v1 && u1 - u0 == last && (du - 65_536).abs() < 4_096;
    let corners = if in_turn {
        let of = |k: i64, right: usize| from(k)?.get(right..)?.first_chunk().copied();
        [of(0, 0)?, of(0, 1)?, of(1, 0)?, of(1, 1)?]
    } else if (v1 - v0).abs() <= 1 && (u1 - u0).abs() + 2 <= WINDOW_PX as i64 {
        let window = |k: i64| from(k)?.first_chunk::<WINDOW_PX>();
        let lowest = 1 + (v1 - v0).abs();
        gather([window(0)?, window(1)?, window(lowest)?], (u - (column << 16), v - (row << 16)), (du, dv))
    } else {
        return None;
    };
    // Of a place only the fraction counts from here on, and for that 16 bits that wrap will do.
    let fractions = |from: i64, step: i64| {
        std::array::from_fn(|k| (from as u16).wrapping_add((k as u16).wrapping_mul(step as u16)) >> 8)
    };
    Some(mix(&corners, &fractions(u, du), &fractions(v, dv)))
}

/// Each sample's corners; places count from the first row and column of the windows, one below the other.
fn gather(rows: [&[u8; WINDOW_PX]; 3], (mut u, mut v): (i64, i64), (du, dv): (i64, i64)) -> Corners {
    let mut corners = [[0; BLOCK_PX]; 4];
    let [a, b, c, d] = &mut corners;
    let [first, second, third] = rows;
    for (((a, b), c), d) in a.iter_mut().zip(b).zip(c).zip(d) {
        let (upper, lower) = if v < 65_536 { (first, second) } else { (second, third) };
        // The places lie in the windows; the remainders only spare the program from making sure.
        let column = (u >> 16) as usize;
        let (left, right) = (column % WINDOW_PX, column.wrapping_add(1) % WINDOW_PX);
        (*a, *b, *c, *d) = (upper[left], upper[right], lower[left], lower[right]);
        u = u.wrapping_add(du);
        v = v.wrapping_add(dv);
    }
    corners
}

/// The weighted means of corners, with shares of 256 to the right and down, rounded once at the end. No sum wraps: the
/// weights add up to 256 a way.
fn mix(corners: &Corners, right: &[u16; BLOCK_PX], down: &[u16; BLOCK_PX]) -> [u8; BLOCK_PX] {
    let [a, b, c, d] = corners;
    std::array::from_fn(|k| {
        let (fx, fy) = (right[k], down[k]);
        let across = |l: u8, r: u8| {
            u16::from(l).wrapping_mul(256u16.wrapping_sub(fx)).wrapping_add(u16::from(r).wrapping_mul(fx))
        };
        let weighted = |level: u16, share: u16| u32::from(level).wrapping_mul(u32::from(share));
        let top = weighted(across(a[k], b[k]), 256u16.wrapping_sub(fy));
        let low = weighted(across(c[k], d[k]), fy);
        (top.wrapping_add(low).wrapping_add(32_768) >> 16) as u8
    })
}

#[inline]
fn bilinear(pixels: &[u8], width: usize, u: i64, v: i64) -> u8 {
    let i = (v >> 16) as usize * width + (u >> 16) as usize;
    let (fx, fy) = ((u >> 8 & 0xff) as u32, (v >> 8 & 0xff) as u32);
    let (a, b) = (pixels[i] as u32, pixels[i + 1] as u32);
    let (c, d) = (pixels[i + width] as u32, pixels[i + width + 1] as u32);
    let top = a * (256 - fx) + b * fx;
    let low = c * (256 - fx) + d * fx;
    ((top * (256 - fy) + low * fy + 32_768) >> 16) as u8
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// Grey levels without a pattern.
    fn noise(width: usize, height: usize) -> GreyImage {
        let level = |i: usize| (i as u32).wrapping_mul(2_654_435_761).rotate_left(9) as u8;
        GreyImage { width, height, pixels: (0..width * height).map(level).collect() }
    }

    proptest! {
        #[test]
        fn sixteen_samples_are_those_of_the_plain_form(
            u in 20i64 << 16..60 << 16,
            v in 20i64 << 16..60 << 16,
            step in prop_oneof![63_000i64..67_000, -210_000i64..210_000],
            across in -9_000i64..9_000,
        ) {
            let scan = noise(160, 90);
            for (du, dv) in [(step, across), (step, 0), (across, step.clamp(-70_000, 70_000))] {
                let places = (0..BLOCK_PX as i64).map(|k| (u + k * du, v + k * dv));
                let inside = |(u, v): (i64, i64)| u >= 0 && v >= 0 && u >> 16 < 158 && v >> 16 < 88;
                if !places.clone().all(inside) {
                    continue;
                }
                let plain: Vec<u8> = places.map(|(u, v)| bilinear(&scan.pixels, scan.width, u, v)).collect();
                if let Some(block) = samples(&scan, (u, v), (du, dv)) {
                    prop_assert_eq!(block.to_vec(), plain);
                }
            }
        }
    }

    #[test]
    fn steps_of_usual_scans_are_taken_sixteen_at_a_time() {
        let scan = noise(160, 90);
        // 200, 300 and 600 dpi, a degree askew.
        for du in [64_520, 96_780, 193_560] {
            assert!(samples(&scan, (30 << 16, 30 << 16), (du, 1_126)).is_some());
        }
    }
}
