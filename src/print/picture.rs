//! A picture to scale: pieces of shapes and pictures of grains, one over the other, and words; as SVG and as PNG
//! ([`super::answer_pdf`] makes the PDF of it).
//!
//! Millimetres are the picture's units, so that a print of the SVG lies true on the sheet. Letters are outlines in both:
//! they need no font.

use std::fmt::Write as _;

use image::ImageEncoder;
use resvg::{tiny_skia, usvg};

use super::base64;
use super::layout::TextLine;
use super::sheet::PrintError;
use super::views::Grains;
use crate::geometry::{Point, Rect};

pub(super) const PAPER: &str = "#ffffff";
pub(super) const INK: &str = "#1b2a33";
/// Grey of a grain, 0 black to 255 white.
const GRAIN_GREY: u8 = 0x24;
/// Most pixels of a PNG: a page of A3 at 600 dpi.
const MAX_PIXELS: f64 = 70e6;
/// usvg counts 96 units an inch.
const UNITS_PER_INCH: f64 = 96.0;

/// What is drawn, the lowest first.
pub(super) enum Piece {
    /// Elements of SVG in millimetres.
    Shapes(String),
    Grains(Grains),
}

/// A picture ready to be written in one kind or another.
pub struct Picture {
    /// What it is called.
    pub title: String,
    /// What of the page it shows, mm.
    pub view: Rect,
    pub(super) pieces: Vec<Piece>,
    pub(super) words: Vec<TextLine>,
}

impl Picture {
    pub(super) fn new(title: String, view: Rect) -> Self {
        let mut picture = Self { title, view, pieces: Vec::new(), words: Vec::new() };
        picture.rect(view, &format!("fill=\"{PAPER}\""));
        picture
    }

    /// Adds an element of SVG.
    pub(super) fn put(&mut self, element: std::fmt::Arguments<'_>) {
        if !matches!(self.pieces.last(), Some(Piece::Shapes(_))) {
            self.pieces.push(Piece::Shapes(String::new()));
        }
        if let Some(Piece::Shapes(text)) = self.pieces.last_mut() {
            writeln!(text, "{element}").expect("writing to a string never fails");
        }
    }

    pub(super) fn rect(&mut self, area: Rect, look: &str) {
        self.put(format_args!(
            "<rect x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\" {look}/>",
            Mm(area.x0),
            Mm(area.y0),
            Mm(area.width()),
            Mm(area.height())
        ));
    }

    /// A path: its data, as [`path`] gives them, and its look. Nothing where there are no data.
    pub(super) fn path(&mut self, data: &str, look: &str) {
        if !data.is_empty() {
            self.put(format_args!("<path d=\"{data}\" {look}/>"));
        }
    }

    pub(super) fn grains(&mut self, grains: Grains) {
        self.pieces.push(Piece::Grains(grains));
    }

    /// The picture as SVG, words as outlines, grains as a picture inside.
    pub fn svg(&self) -> String {
        let mut out = self.head();
        for piece in &self.pieces {
            match piece {
                Piece::Shapes(text) => out += text,
                Piece::Grains(grains) => {
                    let a = grains.area;
                    // Never fails: only an empty picture cannot be coded, and a frame has a size.
                    let png = grains_png(grains).unwrap_or_default();
                    let _ = writeln!(
                        out,
                        "<image x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\" preserveAspectRatio=\"none\" \
                         href=\"data:image/png;base64,{}\"/>",
                        a.x0,
                        a.y0,
                        a.width(),
                        a.height(),
                        base64(&png)
                    );
                }
            }
        }
        self.words.iter().for_each(|line| out += &outlined(line));
        out + "</svg>\n"
    }

    /// The picture as PNG at `dpi` dots an inch.
    ///
    /// # Errors
    /// [`PrintError::Png`]: too many pixels at this resolution.
    pub fn png(&self, dpi: f64) -> Result<Vec<u8>, PrintError> {
        let mut pixmap = pixmap(self.view.width() / 25.4 * dpi, self.view.height() / 25.4 * dpi)?;
        for piece in &self.pieces {
            match piece {
                Piece::Shapes(text) => self.render(text, dpi, &mut pixmap)?,
                Piece::Grains(grains) => self.lay(grains, dpi, &mut pixmap)?,
            }
        }
        self.render(&self.words.iter().map(outlined).collect::<String>(), dpi, &mut pixmap)?;
        encoded(&pixmap)
    }

    /// One piece of shapes as an SVG of its own.
    pub(super) fn alone(&self, shapes: &str) -> String {
        self.head() + shapes + "</svg>\n"
    }

    fn head(&self) -> String {
        let v = self.view;
        format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" role=\"img\" width=\"{w}mm\" height=\"{h}mm\" viewBox=\"{} {} {w} {h}\">\n\
             <title>{}</title>\n",
            Mm(v.x0),
            Mm(v.y0),
            escape(&self.title),
            w = Mm(v.width()),
            h = Mm(v.height()),
        )
    }

    fn render(&self, shapes: &str, dpi: f64, pixmap: &mut tiny_skia::Pixmap) -> Result<(), PrintError> {
        let tree = tree(&self.alone(shapes))?;
        let scale = (dpi / UNITS_PER_INCH) as f32;
        resvg::render(&tree, tiny_skia::Transform::from_scale(scale, scale), &mut pixmap.as_mut());
        Ok(())
    }

    /// Lays grains on the picture, dot on dot where they were made for this `dpi`.
    fn lay(&self, grains: &Grains, dpi: f64, pixmap: &mut tiny_skia::Pixmap) -> Result<(), PrintError> {
        let mut dots = self::pixmap(grains.width as f64, grains.height as f64)?;
        for (dot, cover) in dots.pixels_mut().iter_mut().zip(&grains.cover) {
            let grey = u8::try_from(u32::from(GRAIN_GREY) * u32::from(*cover) / 255).unwrap_or(GRAIN_GREY);
            *dot = tiny_skia::PremultipliedColorU8::from_rgba(grey, grey, grey, *cover)
                .unwrap_or(tiny_skia::PremultipliedColorU8::TRANSPARENT);
        }
        let to_px = |mm: f64, zero: f64| (mm - zero) / 25.4 * dpi;
        let (x0, x1) = (to_px(grains.area.x0, self.view.x0), to_px(grains.area.x1, self.view.x0));
        let (y0, y1) = (to_px(grains.area.y0, self.view.y0), to_px(grains.area.y1, self.view.y0));
        let (sx, sy) = ((x1 - x0) / grains.width as f64, (y1 - y0) / grains.height as f64);
        // Dots that fall on dots are copied; the rest is smoothed.
        let same = (sx - 1.0).abs().max((sy - 1.0).abs()) < 1e-6;
        let (x0, y0) = if same { (x0.round(), y0.round()) } else { (x0, y0) };
        let quality =
            if same { tiny_skia::FilterQuality::Nearest } else { tiny_skia::FilterQuality::Bilinear };
        let scale = if same { (1.0, 1.0) } else { (sx as f32, sy as f32) };
        let paint = tiny_skia::PixmapPaint { quality, ..tiny_skia::PixmapPaint::default() };
        let transform = tiny_skia::Transform::from_row(scale.0, 0.0, 0.0, scale.1, x0 as f32, y0 as f32);
        pixmap.draw_pixmap(0, 0, dots.as_ref(), &paint, transform, None);
        Ok(())
    }
}

/// An SVG of shapes alone as PNG at `dpi` dots an inch.
///
/// # Errors
/// [`PrintError::Png`]: no SVG, or too many pixels at this resolution.
pub(super) fn png_of(svg: &str, dpi: f64) -> Result<Vec<u8>, PrintError> {
    let tree = tree(svg)?;
    let scale = dpi / UNITS_PER_INCH;
    let mut pixmap = pixmap(f64::from(tree.size().width()) * scale, f64::from(tree.size().height()) * scale)?;
    let transform = tiny_skia::Transform::from_scale(scale as f32, scale as f32);
    resvg::render(&tree, transform, &mut pixmap.as_mut());
    encoded(&pixmap)
}

pub(super) fn tree(svg: &str) -> Result<usvg::Tree, PrintError> {
    usvg::Tree::from_str(svg, &usvg::Options::default()).map_err(|e| PrintError::Png(e.to_string()))
}

fn pixmap(width: f64, height: f64) -> Result<tiny_skia::Pixmap, PrintError> {
    let failed = |what: &str| PrintError::Png(what.to_owned());
    let fits = width * height <= MAX_PIXELS;
    let (width, height) = (width.round().max(1.0), height.round().max(1.0));
    // What is no number does not fit either.
    if !fits {
        return Err(failed("the picture has too many pixels; ask for fewer dots an inch"));
    }
    tiny_skia::Pixmap::new(width as u32, height as u32).ok_or_else(|| failed("the picture has no size"))
}

fn encoded(pixmap: &tiny_skia::Pixmap) -> Result<Vec<u8>, PrintError> {
    pixmap.encode_png().map_err(|e| PrintError::Png(e.to_string()))
}

/// Grains as a PNG of their own: one grey, covering more or less.
pub(super) fn grains_png(grains: &Grains) -> Result<Vec<u8>, PrintError> {
    let dots: Vec<u8> = grains.cover.iter().flat_map(|cover| [GRAIN_GREY, *cover]).collect();
    let side = |n: usize| u32::try_from(n).map_err(|e| PrintError::Png(e.to_string()));
    let mut png = Vec::new();
    image::codecs::png::PngEncoder::new_with_quality(
        &mut png,
        image::codecs::png::CompressionType::Default,
        image::codecs::png::FilterType::NoFilter,
    )
    .write_image(&dots, side(grains.width)?, side(grains.height)?, image::ExtendedColorType::La8)
    .map_err(|e| PrintError::Png(e.to_string()))?;
    Ok(png)
}

fn outlined(line: &TextLine) -> String {
    let polygons = line.face.polygons(&line.text, line.em_mm, line.at);
    let outlines: String = polygons.iter().map(|polygon| path(polygon, true)).collect();
    format!("<path d=\"{outlines}\" fill=\"{INK}\"/>\n")
}

/// A length with at most a hundredth of a millimetre.
pub(super) struct Mm(pub(super) f64);

impl std::fmt::Display for Mm {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        // Adding 0 turns -0 into 0.
        write!(f, "{}", (self.0 * 100.0).round() / 100.0 + 0.0)
    }
}

/// Points as the data of an SVG path.
pub(super) fn path(points: &[Point], closed: bool) -> String {
    let mut data = String::new();
    for (i, p) in points.iter().enumerate() {
        let letter = if i == 0 { 'M' } else { 'L' };
        write!(data, "{letter}{} {}", Mm(p.x), Mm(p.y)).expect("writing to a string never fails");
    }
    if closed {
        data.push('Z');
    }
    data
}

/// Many lines as the data of one path.
pub(super) fn paths<'a>(lines: impl IntoIterator<Item = &'a [Point]>, closed: bool) -> String {
    lines.into_iter().map(|line| path(line, closed)).collect()
}

pub(super) fn escape(text: &str) -> String {
    text.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;").replace('"', "&quot;")
}
