//! What is on a page, without decoding anything: images and where they lie, and whether anything else is.

use hayro::hayro_interpret::font::GlyphRun;
use hayro::hayro_interpret::{
    BlendMode, ClipPath, Device, DrawMode, DrawProps, Image, ImageDrawProps, Paint, SoftMask,
};
use kurbo::{Affine, BezPath, PathEl, Rect, Shape};

use super::super::plane::{Turn, check_pixels, check_size};
use super::super::{Reason, limits};
use super::POINTS_PER_INCH;

/// How far an image may reach over its clip, points: rounding of page sizes.
const CLIP_SLACK_PT: f64 = 2.0;

/// How unequal the scales of two strips may be.
const SCALE_SLACK: f64 = 0.01;

/// How much of their own area strips may overlap; more, and they are layers of one picture.
const OVERLAP_SHARE: f64 = 0.02;

/// An image on the page.
#[derive(Clone, Copy, Debug)]
pub(super) struct Placed {
    /// Columns and rows.
    pub size: (u32, u32),
    /// Pixels to points, y down.
    pub transform: Affine,
    /// It shows as it is: no mask, no blending, not cut.
    plain: bool,
}

impl Placed {
    /// Where it lies, points.
    fn bounds(&self) -> Rect {
        self.transform.transform_rect_bbox(Rect::new(0.0, 0.0, self.size.0.into(), self.size.1.into()))
    }

    /// How to set it upright, to the nearest quarter turn.
    pub(super) fn turn(&self) -> Turn {
        let [a, b, c, d, _, _] = self.transform.as_coeffs();
        if a.abs() + d.abs() >= b.abs() + c.abs() {
            Turn { swap: false, flip_x: a < 0.0, flip_y: d < 0.0 }
        } else {
            Turn { swap: true, flip_x: c < 0.0, flip_y: b < 0.0 }
        }
    }

    /// Pixels a point, along the page's x and y.
    fn scale(&self) -> (f64, f64) {
        let [a, b, c, d, _, _] = self.transform.as_coeffs();
        let (along_columns, along_rows) = (1.0 / a.hypot(b), 1.0 / c.hypot(d));
        if self.turn().swap { (along_rows, along_columns) } else { (along_columns, along_rows) }
    }

    /// Lies square on the page (within a degree).
    fn is_square(&self) -> bool {
        let [a, b, c, d, _, _] = self.transform.as_coeffs();
        let (on, off) =
            ((a.abs() + d.abs()).max(b.abs() + c.abs()), (a.abs() + d.abs()).min(b.abs() + c.abs()));
        off <= on * 1f64.to_radians().tan()
    }
}

/// A page that is a scan.
#[derive(Clone, Debug)]
pub(super) struct Scan {
    /// In the order drawn; one, or strips that lie side by side.
    pub images: Vec<Placed>,
    /// Dots per inch across and down.
    pub dpi: (f64, f64),
    /// All that the images cover, points.
    pub bounds: Rect,
    /// Pixels across and down.
    pub size: (usize, usize),
}

impl Scan {
    pub(super) fn check_size(&self) -> Result<(), Reason> {
        for image in &self.images {
            check_pixels(image.size.0.into(), image.size.1.into(), limits::MAX_PIXELS)?;
        }
        check_size(self.size.0 as u64, self.size.1 as u64)
    }

    /// Where a strip's top left pixel comes to lie.
    pub(super) fn offset(&self, image: &Placed) -> (usize, usize) {
        let at = image.bounds();
        let across = (at.x0 - self.bounds.x0) * self.dpi.0 / POINTS_PER_INCH;
        let down = (at.y0 - self.bounds.y0) * self.dpi.1 / POINTS_PER_INCH;
        (across.round().max(0.0) as usize, down.round().max(0.0) as usize)
    }
}

/// A device that notes and draws nothing.
#[derive(Default)]
pub(super) struct Look {
    pub images: Vec<Placed>,
    /// Something that is neither an image nor invisible nor white under everything.
    pub other: bool,
    clips: Vec<Option<Rect>>,
    blended: Vec<bool>,
}

impl Look {
    /// The page as a scan, if it is one.
    pub(super) fn scan(&self) -> Option<Scan> {
        let first = self.images.first()?;
        if self.other || self.images.iter().any(|i| !i.plain || !i.bounds().is_finite()) {
            return None;
        }
        let bounds = self.images.iter().map(Placed::bounds).reduce(|a, b| a.union(b))?;
        let scale = first.scale();
        if !(scale.0.is_finite() && scale.1.is_finite() && scale.0 > 0.0 && scale.1 > 0.0) {
            return None;
        }
        let size = if self.images.len() == 1 {
            let (w, h) = (first.size.0 as usize, first.size.1 as usize);
            if first.turn().swap { (h, w) } else { (w, h) }
        } else {
            if !self.are_strips(first, bounds) {
                return None;
            }
            ((bounds.width() * scale.0).round() as usize, (bounds.height() * scale.1).round() as usize)
        };
        let dpi = (scale.0 * POINTS_PER_INCH, scale.1 * POINTS_PER_INCH);
        Some(Scan { images: self.images.clone(), dpi, bounds, size })
    }

    /// Of one scale, square on the page, side by side, and together the whole of what they enclose.
    fn are_strips(&self, first: &Placed, bounds: Rect) -> bool {
        let close = |a: f64, b: f64| (a / b - 1.0).abs() <= SCALE_SLACK;
        let (x, y) = first.scale();
        let alike =
            self.images.iter().all(|i| i.is_square() && close(i.scale().0, x) && close(i.scale().1, y));
        let covered: f64 = self.images.iter().map(|i| i.bounds().area()).sum();
        alike && (covered / bounds.area() - 1.0).abs() <= OVERLAP_SHARE
    }

    fn shows_as_it_is(&self, image: &Image<'_, '_>, props: &ImageDrawProps<'_>, bounds: Rect) -> bool {
        let dict = match image {
            Image::Stencil(stencil) => stencil.stream().dict(),
            Image::Raster(raster) => raster.stream().dict(),
        };
        let masked = [b"SMask".as_slice(), b"SMaskInData", b"Mask"].iter().any(|key| dict.contains_key(key));
        let inside = |clip: &Option<Rect>| clip.is_some_and(|c| contains(c, bounds));
        !masked
            && props.soft_mask.is_none()
            && props.blend_mode == BlendMode::Normal
            && !self.blended.contains(&true)
            && self.clips.iter().all(inside)
    }
}

/// Whether `outer` holds `inner`, to within the slack.
fn contains(outer: Rect, inner: Rect) -> bool {
    let outer = outer.inflate(CLIP_SLACK_PT, CLIP_SLACK_PT);
    outer.x0 <= inner.x0 && outer.y0 <= inner.y0 && outer.x1 >= inner.x1 && outer.y1 >= inner.y1
}

/// The rectangle that a path is, if it is one along the axes.
fn rectangle(path: &BezPath) -> Option<Rect> {
    let bounds = path.bounding_box();
    let straight = path
        .elements()
        .iter()
        .all(|e| matches!(e, PathEl::MoveTo(_) | PathEl::LineTo(_) | PathEl::ClosePath));
    let filled = (path.area().abs() - bounds.area()).abs() <= 1e-3 * bounds.area().max(1.0);
    (straight && filled).then_some(bounds)
}

fn is_white(paint: &Paint<'_>) -> bool {
    match paint {
        Paint::Color(colour) => colour.to_rgba().to_rgba8()[..3].iter().all(|&c| c >= 250),
        Paint::Pattern(_) => false,
    }
}

impl<'a> Device<'a> for Look {
    fn draw_path(&mut self, path: &BezPath, props: DrawProps<'a>, mode: &DrawMode) {
        // white paper painted before the scan is laid on it
        let paper = self.images.is_empty() && is_white(&props.paint);
        self.other |= !paper && !path.elements().is_empty() && !matches!(mode, DrawMode::Invisible);
    }

    fn push_clip_path(&mut self, clip: &ClipPath) {
        self.clips.push(rectangle(&clip.path));
    }

    fn push_clip_rect(&mut self, rect: &Rect) {
        self.clips.push(Some(*rect));
    }

    fn push_transparency_group(&mut self, opacity: f32, mask: Option<SoftMask<'a>>, blend: BlendMode) {
        self.blended.push(opacity < 0.999 || mask.is_some() || blend != BlendMode::Normal);
    }

    fn draw_glyph_run(&mut self, run: &GlyphRun<'_, 'a>, _: DrawProps<'a>, mode: &DrawMode) {
        self.other |= !run.glyphs().is_empty() && !matches!(mode, DrawMode::Invisible);
    }

    fn draw_image(&mut self, image: Image<'a, '_>, props: ImageDrawProps<'a>) {
        let mut placed =
            Placed { size: (image.width(), image.height()), transform: props.transform, plain: false };
        placed.plain = self.shows_as_it_is(&image, &props, placed.bounds());
        self.images.push(placed);
    }

    fn pop_clip(&mut self) {
        self.clips.pop();
    }

    fn pop_transparency_group(&mut self) {
        self.blended.pop();
    }
}
