//! Planes of pixels: sizes checked, grey from colours, turns.

use super::limits;
use super::refusal::Reason;

/// One byte a pixel, rows from the top, no padding; 255 = white.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct GreyImage {
    pub width: usize,
    pub height: usize,
    pub pixels: Vec<u8>,
}

/// Three bytes a pixel (red, green, blue), rows from the top, no padding.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct RgbImage {
    pub width: usize,
    pub height: usize,
    pub pixels: Vec<u8>,
}

/// Holds a page's claimed size against the limits.
pub(super) fn check_size(width: u64, height: u64) -> Result<(), Reason> {
    check_pixels(width, height, limits::MAX_PIXELS)?;
    if width.min(height) < limits::MIN_SIDE_PX {
        return Err(Reason::TooSmall { width, height });
    }
    Ok(())
}

/// Holds the claimed size of a page or a part of it against an upper limit, pixels.
pub(super) fn check_pixels(width: u64, height: u64, limit: u64) -> Result<(), Reason> {
    if width.saturating_mul(height) > limit {
        return Err(Reason::TooManyPixels { width, height, limit });
    }
    if width == 0 || height == 0 {
        return Err(Reason::TooSmall { width, height });
    }
    Ok(())
}

/// Luma of colours: 0.299 R + 0.587 G + 0.114 B (ITU-R BT.601, which JPEG's own grey is), in 16-bit steps.
pub(super) fn luma(rgb: &[u8]) -> Vec<u8> {
    rgb.chunks_exact(3).map(luma_of).collect()
}

fn luma_of(p: &[u8]) -> u8 {
    // 19595 + 38470 + 7471 = 65536, so white stays 255 and the sum fits in u32
    ((19_595 * u32::from(p[0]) + 38_470 * u32::from(p[1]) + 7_471 * u32::from(p[2]) + 32_768) >> 16) as u8
}

impl RgbImage {
    /// Its grey plane.
    pub(super) fn grey(&self) -> GreyImage {
        GreyImage { width: self.width, height: self.height, pixels: luma(&self.pixels) }
    }
}

/// One of the eight ways an image may lie: what must be done to set it upright.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct Turn {
    /// Rows become columns (mirrored on the main diagonal), first.
    pub swap: bool,
    /// Then left and right change places.
    pub flip_x: bool,
    /// Then top and bottom.
    pub flip_y: bool,
}

impl Turn {
    /// From the EXIF and TIFF orientation (TIFF 6.0, tag 274), 1 to 8; anything else is upright.
    pub(super) fn of_orientation(value: u32) -> Self {
        let (swap, flip_x, flip_y) = match value {
            2 => (false, true, false),
            3 => (false, true, true),
            4 => (false, false, true),
            5 => (true, false, false),
            6 => (true, true, false),
            7 => (true, true, true),
            8 => (true, false, true),
            _ => (false, false, false),
        };
        Self { swap, flip_x, flip_y }
    }

    pub(super) fn is_upright(self) -> bool {
        self == Self::default()
    }

    pub(super) fn grey(self, image: GreyImage) -> GreyImage {
        let (pixels, width, height) = self.apply::<1>(image.pixels, image.width, image.height);
        GreyImage { width, height, pixels }
    }

    pub(super) fn rgb(self, image: RgbImage) -> RgbImage {
        let (pixels, width, height) = self.apply::<3>(image.pixels, image.width, image.height);
        RgbImage { width, height, pixels }
    }

    /// Pixels of `N` bytes; the size of the result follows.
    fn apply<const N: usize>(self, pixels: Vec<u8>, width: usize, height: usize) -> (Vec<u8>, usize, usize) {
        if self.is_upright() {
            return (pixels, width, height);
        }
        let (w, h) = if self.swap { (height, width) } else { (width, height) };
        let mut out = vec![0; pixels.len()];
        // Blocks, so that reading down a column stays in the cache.
        const BLOCK_PX: usize = 32;
        for y0 in (0..h).step_by(BLOCK_PX) {
            for x0 in (0..w).step_by(BLOCK_PX) {
                for y in y0..(y0 + BLOCK_PX).min(h) {
                    for x in x0..(x0 + BLOCK_PX).min(w) {
                        let u = if self.flip_x { w - 1 - x } else { x };
                        let v = if self.flip_y { h - 1 - y } else { y };
                        let from = N * if self.swap { u * width + v } else { v * width + u };
                        let to = N * (y * w + x);
                        out[to..to + N].copy_from_slice(&pixels[from..from + N]);
                    }
                }
            }
        }
        (out, w, h)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The 2 x 3 picture as stored for each orientation (TIFF 6.0, page 36) comes out as
    /// 1 2 / 3 4 / 5 6.
    #[test]
    fn the_eight_orientations() {
        let stored: [(u32, usize, [u8; 6]); 8] = [
            (1, 2, [1, 2, 3, 4, 5, 6]),
            (2, 2, [2, 1, 4, 3, 6, 5]),
            (3, 2, [6, 5, 4, 3, 2, 1]),
            (4, 2, [5, 6, 3, 4, 1, 2]),
            (5, 3, [1, 3, 5, 2, 4, 6]),
            (6, 3, [2, 4, 6, 1, 3, 5]),
            (7, 3, [6, 4, 2, 5, 3, 1]),
            (8, 3, [5, 3, 1, 6, 4, 2]),
        ];
        for (orientation, width, pixels) in stored {
            let image = GreyImage { width, height: 6 / width, pixels: pixels.to_vec() };
            let up = Turn::of_orientation(orientation).grey(image);
            assert_eq!(
                (up.width, up.height, up.pixels),
                (2, 3, vec![1, 2, 3, 4, 5, 6]),
                "orientation {orientation}"
            );
        }
    }

    #[test]
    fn luma_keeps_greys() {
        for v in 0..=255u8 {
            assert_eq!(luma(&[v, v, v]), [v]);
        }
    }

    #[test]
    fn sizes() {
        assert!(check_size(2_339, 1_654).is_ok());
        assert!(check_size(u64::MAX, u64::MAX).is_err());
        assert_eq!(check_size(1, 1), Err(Reason::TooSmall { width: 1, height: 1 }));
    }
}
