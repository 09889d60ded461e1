//! A part of the page as a picture with a fixed number of pixels a millimetre, whatever the scan's resolution.

use crate::geometry::homography::Homography;
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
pub fn flatten(scan: &GreyImage, page_to_scan: &Homography, region: Rect) -> Flat {
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
    for y in 0..height {
        if taps == 1 {
            sample_row(scan, page_to_scan, flat.origin, y as f64, 0.0, &mut row);
            flat.grey[y * width..][..width].copy_from_slice(&row);
            continue;
        }
        sums.fill(0);
        for a in 0..taps {
            for b in 0..taps {
                let off = |k: usize| (k as f64 + 0.5) / taps as f64 - 0.5;
                sample_row(scan, page_to_scan, flat.origin, y as f64 + off(a), off(b), &mut row);
                for (s, &v) in sums.iter_mut().zip(&row) {
                    *s += v as u16;
                }
            }
        }
        let n = (taps * taps) as u16;
        for (out, &s) in flat.grey[y * width..][..width].iter_mut().zip(&sums) {
            *out = (s / n) as u8;
        }
    }
    flat
}

/// One row of bilinear samples at flat places (x + dx, y).
fn sample_row(scan: &GreyImage, map: &Homography, origin: Point, y: f64, dx: f64, out: &mut [u8]) {
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
            for o in &mut out[x..x + n] {
                *o = bilinear(&scan.pixels, scan.width, u, v);
                u += du;
                v += dv;
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
