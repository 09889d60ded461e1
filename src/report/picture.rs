//! The part of a page that is shown: cut out, made smaller, coded as JPEG without anything of the
//! photograph's own data (place, time, device), and carried inside the page's text.

use fast_image_resize::images::{Image, ImageRef};
use fast_image_resize::{FilterType, PixelType, ResizeAlg, ResizeOptions, Resizer};

use crate::geometry::Rect;
use crate::print::base64;

/// Pixels a millimetre of the embedded picture (76 dpi): a pencil stroke of 0.5 mm still shows, and coding
/// the picture takes less time than decoding the scan.
const SHOWN_PX_PER_MM: f64 = 3.0;

/// JPEG quality of the embedded picture; empirical: 70 shows faint pencil and keeps an A4 page below 100 kB.
const SHOWN_QUALITY: u8 = 70;

/// Paper left around the frames, mm.
pub(super) const MARGIN_MM: f64 = 4.0;

/// A picture of a part of the page.
#[derive(Clone, Debug, PartialEq)]
pub struct Picture {
    /// What it shows, mm on the page.
    pub region: Rect,
    /// JPEG.
    jpeg: Vec<u8>,
}

impl Picture {
    /// Cuts `region` out of a flat grey page that begins at the page's top left corner, rows of `width`
    /// pixels, `px_per_mm` pixels a millimetre. `None` where the region holds no pixel of the page.
    pub fn cut(pixels: &[u8], width: usize, px_per_mm: f64, region: Rect) -> Option<Self> {
        let height = pixels.len().checked_div(width)?;
        let clamp = |mm: f64, most: usize| (mm * px_per_mm).round().clamp(0.0, most as f64) as usize;
        let (x0, x1) = (clamp(region.x0, width), clamp(region.x1, width));
        let (y0, y1) = (clamp(region.y0, height), clamp(region.y1, height));
        if x1 <= x0 || y1 <= y0 {
            return None;
        }
        let (wide, high) = (x1 - x0, y1 - y0);
        let region = Rect::new(x0 as f64, y0 as f64, x1 as f64, y1 as f64).scale_from_origin(1.0 / px_per_mm);
        let scale = (SHOWN_PX_PER_MM / px_per_mm).min(1.0);
        let smaller = |n: usize| ((n as f64 * scale).round() as u32).max(1);
        let (w, h) = (smaller(wide), smaller(high));
        let from =
            ImageRef::new(width as u32, height as u32, &pixels[..width * height], PixelType::U8).ok()?;
        let mut to = Image::new(w, h, PixelType::U8);
        // means over boxes: no ringing at strokes
        let options = ResizeOptions::new().resize_alg(ResizeAlg::Convolution(FilterType::Box)).crop(
            x0 as f64,
            y0 as f64,
            wide as f64,
            high as f64,
        );
        Resizer::new().resize(&from, &mut to, &options).ok()?;
        let shown = to.into_vec();
        let mut jpeg = Vec::new();
        image::codecs::jpeg::JpegEncoder::new_with_quality(&mut jpeg, SHOWN_QUALITY)
            .encode(&shown, w, h, image::ExtendedColorType::L8)
            .ok()?;
        Some(Self { region, jpeg })
    }

    /// The region that holds all frames and a little paper around them.
    pub fn region_of(frames: impl IntoIterator<Item = Rect>) -> Option<Rect> {
        frames.into_iter().reduce(|a, b| a.union(b)).map(|all| all.inflate(MARGIN_MM, MARGIN_MM))
    }

    /// A picture made by [`Picture::cut`] earlier and kept.
    pub fn from_jpeg(region: Rect, jpeg: Vec<u8>) -> Self {
        Self { region, jpeg }
    }

    /// The JPEG file.
    pub fn jpeg(&self) -> &[u8] {
        &self.jpeg
    }

    /// As a `data:` address.
    pub(super) fn address(&self) -> String {
        format!("data:image/jpeg;base64,{}", base64(&self.jpeg))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cuts_and_shrinks() {
        let (width, height) = (800, 400);
        let mut pixels = vec![255u8; width * height];
        for y in 100..200 {
            pixels[y * width + 300..y * width + 500].fill(0);
        }
        let picture = Picture::cut(&pixels, width, 8.0, Rect::new(37.5, 12.5, 62.5, 25.0)).unwrap();
        assert_eq!(picture.region, Rect::new(37.5, 12.5, 62.5, 25.0));
        let shown = image::load_from_memory(&picture.jpeg).unwrap().into_luma8();
        assert_eq!(shown.dimensions(), (75, 38));
        assert!(shown.pixels().all(|p| p.0[0] < 8));
    }

    #[test]
    fn a_region_beyond_the_page_is_cut_back_or_none() {
        let pixels = vec![200u8; 100 * 100];
        let picture = Picture::cut(&pixels, 100, 1.0, Rect::new(-5.0, 90.0, 50.0, 120.0)).unwrap();
        assert_eq!(picture.region, Rect::new(0.0, 90.0, 50.0, 100.0));
        assert_eq!(Picture::cut(&pixels, 100, 1.0, Rect::new(200.0, 0.0, 300.0, 10.0)), None);
        assert_eq!(Picture::cut(&[], 0, 1.0, Rect::new(0.0, 0.0, 1.0, 1.0)), None);
    }
}
