//! Devices that take a page's images: onto one plane, into a hash, or only to see that they are whole;
//! and the drawing of pages that are no scans.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

use hayro::hayro_interpret::font::GlyphRun;
use hayro::hayro_interpret::{
    BlendMode, ClipPath, Device, DrawMode, DrawProps, Image, ImageDrawProps, InterpreterSettings, SoftMask,
};
use hayro::hayro_syntax::page::Page;
use hayro::vello_cpu::color::palette::css::WHITE;
use hayro::{PixmapSettings, RenderCache, RenderSettings};
use kurbo::BezPath;
use sha2::{Digest, Sha256};

use super::super::plane::{GreyImage, RgbImage};
use super::super::{PageImage, Reason, Wanted, limits};
use super::POINTS_PER_INCH;
use super::look::Scan;

mod decode;

/// Lays the images of a scan on one plane.
pub(super) struct Take<'s> {
    scan: &'s Scan,
    wanted: Wanted,
    next: usize,
    grey: Option<GreyImage>,
    colour: Option<RgbImage>,
    bilevel: bool,
    failed: Option<Reason>,
}

impl<'s> Take<'s> {
    pub(super) fn new(scan: &'s Scan, wanted: Wanted) -> Self {
        Self { scan, wanted, next: 0, grey: None, colour: None, bilevel: true, failed: None }
    }

    pub(super) fn finish(self) -> Result<PageImage, Reason> {
        if let Some(reason) = self.failed {
            return Err(reason);
        }
        let grey = self.grey.ok_or(Reason::NothingOnIt)?;
        Ok(PageImage {
            number: 1,
            grey,
            colour: self.colour,
            bilevel: self.bilevel,
            dpi: Some(self.scan.dpi),
        })
    }

    fn add(&mut self, image: &Image<'_, '_>) -> Result<(), Reason> {
        let placed = self
            .scan
            .images
            .get(self.next)
            .ok_or_else(|| Reason::Damaged("the page changes while it is read".into()))?;
        let decoded = decode::image(image, self.wanted)?;
        let turn = placed.turn();
        self.bilevel &= decoded.bilevel;
        let (grey, colour) = (turn.grey(decoded.grey), decoded.colour.map(|c| turn.rgb(c)));
        if self.scan.images.len() == 1 {
            (self.grey, self.colour) = (Some(grey), colour);
            return Ok(());
        }
        let (width, height) = self.scan.size;
        let at = self.scan.offset(placed);
        let page =
            self.grey.get_or_insert_with(|| GreyImage { width, height, pixels: vec![255; width * height] });
        if colour.is_some() && self.colour.is_none() {
            let pixels = page.pixels.iter().flat_map(|&v| [v; 3]).collect();
            self.colour = Some(RgbImage { width, height, pixels });
        }
        lay::<1>(&mut page.pixels, (width, height), &grey.pixels, (grey.width, grey.height), at);
        if let Some(page) = &mut self.colour {
            let pixels =
                colour.map_or_else(|| grey.pixels.iter().flat_map(|&v| [v; 3]).collect(), |c| c.pixels);
            lay::<3>(&mut page.pixels, (width, height), &pixels, (grey.width, grey.height), at);
        }
        Ok(())
    }
}

/// Copies a strip onto the page, as far as it lies on it.
fn lay<const N: usize>(
    page: &mut [u8],
    size: (usize, usize),
    strip: &[u8],
    part: (usize, usize),
    at: (usize, usize),
) {
    let wide = part.0.min(size.0.saturating_sub(at.0));
    let high = part.1.min(size.1.saturating_sub(at.1));
    for row in 0..high {
        let to = N * ((at.1 + row) * size.0 + at.0);
        page[to..to + N * wide].copy_from_slice(&strip[N * row * part.0..][..N * wide]);
    }
}

/// A device of which only the images matter.
trait Images {
    fn image(&mut self, image: &Image<'_, '_>);
}

impl Images for Take<'_> {
    fn image(&mut self, image: &Image<'_, '_>) {
        if self.failed.is_none() {
            self.failed = self.add(image).err();
        }
        self.next += 1;
    }
}

/// Hashes the coded data of a scan's images and what decides how they are read.
pub(super) struct Hash<'h> {
    pub hash: &'h mut Sha256,
    /// So far nothing was met whose meaning stands elsewhere in the file.
    pub by_itself: bool,
}

impl Images for Hash<'_> {
    fn image(&mut self, image: &Image<'_, '_>) {
        let stream = decode::stream(image);
        self.by_itself &= matches!(image, Image::Raster(_)) && decode::stands_by_itself(stream);
        if self.by_itself {
            let data = stream.raw_data();
            self.hash.update(format!("{} {} {};", stream.dict(), image.width(), data.len()));
            self.hash.update(&data);
        }
    }
}

/// Decodes every image strictly and keeps none.
pub(super) struct Vet {
    pub failed: Option<Reason>,
}

impl Images for Vet {
    fn image(&mut self, image: &Image<'_, '_>) {
        if self.failed.is_none() {
            self.failed = decode::image(image, Wanted::default()).err();
        }
    }
}

/// The parts of a device that pass over everything but images.
macro_rules! images_only {
    ($device:ty) => {
        impl<'a> Device<'a> for $device {
            fn draw_path(&mut self, _: &BezPath, _: DrawProps<'a>, _: &DrawMode) {}
            fn push_clip_path(&mut self, _: &ClipPath) {}
            fn push_transparency_group(&mut self, _: f32, _: Option<SoftMask<'a>>, _: BlendMode) {}
            fn draw_glyph_run(&mut self, _: &GlyphRun<'_, 'a>, _: DrawProps<'a>, _: &DrawMode) {}
            fn draw_image(&mut self, image: Image<'a, '_>, _: ImageDrawProps<'a>) {
                Images::image(self, &image);
            }
            fn pop_clip(&mut self) {}
            fn pop_transparency_group(&mut self) {}
        }
    };
}

images_only!(Take<'_>);
images_only!(Hash<'_>);
images_only!(Vet);

/// Draws a page at [`limits::RENDER_DPI`], or as fine as [`limits::MAX_RENDER_PIXELS`] allows.
pub(super) fn render(page: &Page<'_>, wanted: Wanted) -> Result<PageImage, Reason> {
    let (width, height) = page.render_dimensions();
    let area = f64::from(width) * f64::from(height);
    let longest = f64::from(width.max(height));
    let scale = (limits::RENDER_DPI / POINTS_PER_INCH)
        .min((limits::MAX_RENDER_PIXELS / area).sqrt())
        .min(f64::from(i16::MAX) / longest);
    let lost = Arc::new(AtomicBool::new(false));
    let noted = lost.clone();
    let settings = InterpreterSettings {
        warning_sink: Arc::new(move |warning| {
            use hayro::hayro_interpret::InterpreterWarning::ImageDecodeFailure;
            noted.fetch_or(matches!(warning, ImageDecodeFailure), Ordering::Relaxed);
        }),
        ..InterpreterSettings::default()
    };
    let target = PixmapSettings { x_scale: scale as f32, y_scale: scale as f32, bg_color: WHITE };
    let drawn = hayro::render(page, &RenderCache::new(), &settings, &RenderSettings::default(), &target);
    if lost.load(Ordering::Relaxed) {
        return Err(Reason::Damaged("an image of the page cannot be decoded".into()));
    }
    let (width, height) = (usize::from(drawn.width()), usize::from(drawn.height()));
    super::super::plane::check_size(width as u64, height as u64)?;
    let pixels = drawn.data().iter().flat_map(|p| [p.r, p.g, p.b]).collect();
    let colour = RgbImage { width, height, pixels };
    let dpi = scale * POINTS_PER_INCH;
    let grey = colour.grey();
    Ok(PageImage {
        number: 1,
        grey,
        colour: wanted.colour.then_some(colour),
        bilevel: false,
        dpi: Some((dpi, dpi)),
    })
}
