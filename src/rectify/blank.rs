//! Whether a page without a worksheet on it is blank: the back of a sheet that was scanned on both sides.

use super::grey;
use crate::scan::GreyImage;

/// Long side of the reduced picture, pixels: on A4 a pixel is a quarter of a millimetre, narrower than a stroke.
const REDUCED_PX: usize = 1_200;
/// Squares over which the brightest pixel is taken, reduced pixels (6 mm on A4).
const BRIGHT_BLOCK_PX: usize = 24;
/// A pixel below this share of the brightest nearby is dark. What shows through from the other side stays above it
/// (empirical, of generated copies: 0.9), faint pencil does not (0.75).
const DARK_SHARE: f64 = 0.85;
/// Paper is at least this bright; a dark picture is no blank page but a picture of something else.
const PAPER: u8 = 110;
/// Share of a page that may be dark, what is excused left out: on A4 as much as 18 mm of a line of half a millimetre,
/// less than any word or drawn line.
const MOST_DARK_SHARE: f64 = 0.000_15;
/// Patches below this many reduced pixels are specks of dust or the paper's own grain (0.3 mm across).
const SPECK_PX: usize = 3;
/// Share of a page that specks may cover: more is no dust but a picture of dots.
const MOST_SPECKS_SHARE: f64 = 0.003;
/// How far from the edge a punch hole or a staple may lie, as a share of the long side (20 mm on A4).
const MARGIN_SHARE: f64 = 0.067;
/// How wide the dark rim may be that a scanner leaves at the edge of a page, as a share of the long side (6 mm on A4).
const RIM_SHARE: f64 = 0.02;
/// A punch hole fills at least this much of its box.
const HOLE_FILL: f64 = 0.6;
/// The smallest and largest punch hole, as shares of the long side (4 and 9 mm on A4).
const HOLE_SHARE: (f64, f64) = (0.013, 0.030);

/// Whether next to nothing is on a page. Excused are a dark rim at the page's edges, and punch holes in its margin.
pub fn is_blank(scan: &GreyImage) -> bool {
    let (reduced, _) = grey::reduce(scan, REDUCED_PX);
    let (w, h) = (reduced.width, reduced.height);
    let bright = grey::brightest_by_block(&reduced, BRIGHT_BLOCK_PX);
    if bright.iter().filter(|&&b| b < PAPER).count() * 20 > bright.len() {
        return false;
    }
    let blocks = w.div_ceil(BRIGHT_BLOCK_PX);
    let limit = |x: usize, y: usize| {
        // Beside a dark rim or a dark table there may be no paper in reach.
        let paper = bright[y / BRIGHT_BLOCK_PX * blocks + x / BRIGHT_BLOCK_PX].max(PAPER);
        (DARK_SHARE * f64::from(paper)) as u8
    };
    let mut dark: Vec<bool> =
        reduced.pixels.iter().enumerate().map(|(i, &level)| level < limit(i % w, i / w)).collect();
    let share = |of_page: f64| (of_page * (w * h) as f64) as usize;
    let (mut total, mut specks) = (0, 0);
    for start in 0..dark.len() {
        if dark[start] {
            let patch = take(&mut dark, w, start);
            if patch.area <= SPECK_PX {
                specks += patch.area;
            } else if !patch.is_rim(w, h) && !patch.is_hole(w, h) {
                total += patch.area;
            }
            if total > share(MOST_DARK_SHARE) || specks > share(MOST_SPECKS_SHARE) {
                return false;
            }
        }
    }
    true
}

/// Dark pixels that hang together.
struct Patch {
    area: usize,
    /// First and last column, first and last row.
    x: (usize, usize),
    y: (usize, usize),
}

/// Takes the patch at `start` off the picture.
fn take(dark: &mut [bool], w: usize, start: usize) -> Patch {
    let h = dark.len() / w;
    let mut patch = Patch { area: 0, x: (w, 0), y: (h, 0) };
    dark[start] = false;
    let mut stack = vec![start];
    while let Some(i) = stack.pop() {
        let (x, y) = (i % w, i / w);
        patch.area += 1;
        patch.x = (patch.x.0.min(x), patch.x.1.max(x));
        patch.y = (patch.y.0.min(y), patch.y.1.max(y));
        for v in y.saturating_sub(1)..(y + 2).min(h) {
            for u in x.saturating_sub(1)..(x + 2).min(w) {
                if dark[v * w + u] {
                    dark[v * w + u] = false;
                    stack.push(v * w + u);
                }
            }
        }
    }
    patch
}

impl Patch {
    /// Lies along one or more edges and reaches no further in than a rim does. A rim round the whole page is one
    /// patch with a box as large as the page: then its area tells how wide it is.
    fn is_rim(&self, w: usize, h: usize) -> bool {
        let rim = RIM_SHARE * w.max(h) as f64;
        let near = |first: usize, last: usize, size: usize| {
            (first == 0 && (last as f64) < rim) || (last + 1 == size && ((size - first) as f64) < rim)
        };
        let edges = [self.x.0 == 0, self.x.1 + 1 == w, self.y.0 == 0, self.y.1 + 1 == h];
        let several = edges.iter().filter(|&&e| e).count() > 1;
        near(self.x.0, self.x.1, w)
            || near(self.y.0, self.y.1, h)
            || (several && (self.area as f64) < rim * (w + h) as f64)
    }

    /// Compact, in the margin, of the size of a punch hole.
    fn is_hole(&self, w: usize, h: usize) -> bool {
        let long = w.max(h) as f64;
        let (wide, high) = (self.x.1 + 1 - self.x.0, self.y.1 + 1 - self.y.0);
        let (small, large) = (wide.min(high) as f64, wide.max(high) as f64);
        let off = self.x.0.min(w - 1 - self.x.1).min(self.y.0).min(h - 1 - self.y.1) as f64;
        off < MARGIN_SHARE * long
            && small >= HOLE_SHARE.0 * long
            && large <= HOLE_SHARE.1 * long
            && large <= 1.4 * small
            && self.area as f64 >= HOLE_FILL * (wide * high) as f64
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A4 at 200 dpi, a little uneven, with dark dots: (x, y, radius), mm.
    fn page(dots: &[(f64, f64, f64)]) -> GreyImage {
        let (width, height, px) = (1_654, 2_339, 200.0 / 25.4);
        let grain = |i: usize| (i as u32).wrapping_mul(2_654_435_761).rotate_left(9) as u8 % 12;
        let mut pixels: Vec<u8> = (0..width * height).map(|i| 225 + grain(i)).collect();
        for &(x, y, r) in dots {
            for (i, pixel) in pixels.iter_mut().enumerate() {
                let off = ((i % width) as f64 - x * px).hypot((i / width) as f64 - y * px);
                if off <= r * px {
                    *pixel = 90;
                }
            }
        }
        GreyImage { width, height, pixels }
    }

    #[test]
    fn paper_is_blank_and_so_is_paper_with_holes_dust_and_a_rim() {
        assert!(is_blank(&page(&[])));
        let mut scan = page(&[(12.0, 108.0, 3.0), (12.0, 188.0, 3.0), (100.0, 100.0, 0.15)]);
        assert!(is_blank(&scan));
        for y in 0..scan.height {
            scan.pixels[y * scan.width..][..25].fill(20);
        }
        scan.pixels[..20 * scan.width].fill(40);
        assert!(is_blank(&scan));
    }

    #[test]
    fn a_word_a_line_or_a_dark_picture_is_not_blank() {
        // 40 mm of a thin pencil line, in the middle and in the margin.
        for y in [150.0, 8.0] {
            let line: Vec<_> = (0..80).map(|k| (60.0 + 0.5 * f64::from(k), y, 0.3)).collect();
            assert!(!is_blank(&page(&line)), "{y}");
        }
        assert!(!is_blank(&page(&[(100.0, 150.0, 3.0)])));
        assert!(!is_blank(&GreyImage { width: 900, height: 600, pixels: vec![30; 540_000] }));
    }

    #[test]
    fn what_shows_through_is_nothing() {
        let mut scan = page(&[]);
        for y in (400..2_000).step_by(40) {
            scan.pixels[y * scan.width + 200..][..1_200].iter_mut().for_each(|p| *p -= 18);
        }
        assert!(is_blank(&scan));
    }
}
