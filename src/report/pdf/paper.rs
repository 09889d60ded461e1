//! Pages that fill from top to bottom: headings, wrapped words, pictures.

use krilla::Document;
use krilla::color::rgb;
use krilla::geom::{Path, PathBuilder, Point as PdfPoint, Size, Transform};
use krilla::image::Image;
use krilla::metadata::Metadata;
use krilla::num::NormalizedF32;
use krilla::page::PageSettings;
use krilla::paint::{Fill, FillRule, Stroke, StrokeDash};
use krilla::surface::Surface;
use krilla::text::{Font, TextDirection};

use super::PdfError;
use crate::geometry::{Point, Rect};
use crate::print::lettering::Face;

/// Points of a PDF in a millimetre.
const POINTS_PER_MM: f64 = 72.0 / 25.4;
/// A4 upright.
const PAGE_MM: (f64, f64) = (210.0, 297.0);
/// What printers and binders spare.
const MARGIN_MM: f64 = 16.0;
/// A line stands so many ems below the one before.
const LEADING: f64 = 1.35;
/// Sentences behind a sign stand so far in, mm.
pub(super) const INDENT_MM: f64 = 7.0;
/// Ems of words, headings and titles: 10, 12 and 16 points.
pub(super) const WORDS_EM_MM: f64 = 10.0 / POINTS_PER_MM;
pub(super) const HEADING_EM_MM: f64 = 12.0 / POINTS_PER_MM;
pub(super) const TITLE_EM_MM: f64 = 16.0 / POINTS_PER_MM;

/// What stands on a page, in millimetres from its top left corner.
pub(super) enum Item {
    Text { at: Point, face: Face, em_mm: f64, text: String },
    Jpeg { at: Rect, bytes: Vec<u8> },
    Png { at: Rect, bytes: Vec<u8> },
    Line { points: Vec<Point>, width_mm: f64, dash_mm: Option<f64>, grey: f64, closed: bool },
    Box { at: Rect, grey: f64 },
}

/// Pages in the making.
pub(super) struct Paper {
    pages: Vec<Vec<Item>>,
    /// Where the next thing stands.
    y: f64,
}

impl Paper {
    pub(super) fn new() -> Self {
        Self { pages: vec![Vec::new()], y: MARGIN_MM }
    }

    /// Width between the margins, mm.
    pub(super) fn width(&self) -> f64 {
        PAGE_MM.0 - 2.0 * MARGIN_MM
    }

    /// Room for something `height` mm high; where its top left corner stands. Begins a page where need be.
    pub(super) fn room(&mut self, height: f64) -> Point {
        if self.y + height > PAGE_MM.1 - MARGIN_MM && self.y > MARGIN_MM {
            self.pages.push(Vec::new());
            self.y = MARGIN_MM;
        }
        let at = Point::new(MARGIN_MM, self.y);
        self.y += height;
        at
    }

    /// Puts something on the last page.
    pub(super) fn put(&mut self, item: Item) {
        if let Some(page) = self.pages.last_mut() {
            page.push(item);
        }
    }

    /// Begins a page, where anything stands on this one.
    pub(super) fn page(&mut self) {
        if self.y > MARGIN_MM {
            self.pages.push(Vec::new());
            self.y = MARGIN_MM;
        }
    }

    /// Begins a page where less than `height` mm are left.
    pub(super) fn keep(&mut self, height: f64) {
        if self.y + height > PAGE_MM.1 - MARGIN_MM {
            self.page();
        }
    }

    /// Height of words, wrapped, `indent` mm from the margin, mm.
    pub(super) fn height(&self, face: Face, em_mm: f64, indent: f64, text: &str) -> f64 {
        face.wrap(text, em_mm, self.width() - indent).len() as f64 * em_mm * LEADING
    }

    /// White between two things.
    pub(super) fn gap(&mut self, height: f64) {
        self.y += height;
    }

    /// Words, wrapped, `indent` mm from the margin.
    pub(super) fn words(&mut self, face: Face, em_mm: f64, indent: f64, text: &str) {
        for text in face.wrap(text, em_mm, self.width() - indent) {
            let at = self.room(em_mm * LEADING);
            self.put(Item::Text { at: Point::new(at.x + indent, at.y + em_mm), face, em_mm, text });
        }
    }

    pub(super) fn title(&mut self, text: &str) {
        self.words(Face::Bold, TITLE_EM_MM, 0.0, text);
    }

    /// A heading that does not stand alone at the foot of a page.
    pub(super) fn heading(&mut self, text: &str) {
        const KEEP_MM: f64 = 22.0;
        if self.y + KEEP_MM > PAGE_MM.1 - MARGIN_MM {
            self.room(KEEP_MM);
            self.y = MARGIN_MM;
        }
        self.gap(HEADING_EM_MM * 0.8);
        self.words(Face::Bold, HEADING_EM_MM, 0.0, text);
        self.gap(HEADING_EM_MM * 0.2);
    }

    pub(super) fn paragraph(&mut self, text: &str) {
        self.words(Face::Regular, WORDS_EM_MM, 0.0, text);
    }

    /// A sentence behind a sign.
    pub(super) fn item(&mut self, sign: &str, text: &str) {
        let before = (self.pages.len(), self.y);
        let mark = self.pages.last().map_or(0, Vec::len);
        self.words(Face::Regular, WORDS_EM_MM, INDENT_MM, text);
        // The sign stands beside the first line, wherever that came to stand.
        let (page, at) = if self.pages.len() > before.0 && self.pages[before.0 - 1].len() == mark {
            (before.0, 0)
        } else {
            (before.0 - 1, mark)
        };
        let baseline = match self.pages.get(page).and_then(|items| items.get(at)) {
            Some(Item::Text { at, .. }) => at.y,
            _ => return,
        };
        let sign = Item::Text {
            at: Point::new(MARGIN_MM, baseline),
            face: Face::Bold,
            em_mm: WORDS_EM_MM,
            text: sign.to_string(),
        };
        self.pages[page].push(sign);
    }

    /// The PDF; with `even`, a blank page behind an odd last one.
    pub(super) fn finish(mut self, title: &str, even: bool) -> Result<Vec<u8>, PdfError> {
        if even && self.pages.len() % 2 == 1 {
            self.pages.push(Vec::new());
        }
        let mut document = Document::new();
        document.set_metadata(Metadata::new().title(title.to_string()).language("en-GB".into()));
        let load = |face: Face| Font::new(face.bytes().to_vec().into(), 0).ok_or("the font cannot be used");
        let fonts = [load(Face::Regular)?, load(Face::Bold)?];
        let points = |mm: f64| (mm * POINTS_PER_MM) as f32;
        for items in &self.pages {
            let settings =
                PageSettings::from_wh(points(PAGE_MM.0), points(PAGE_MM.1)).ok_or("no such page")?;
            let mut page = document.start_page_with(settings);
            let mut surface = page.surface();
            let scale = POINTS_PER_MM as f32;
            surface.push_transform(&Transform::from_scale(scale, scale));
            items.iter().try_for_each(|item| draw(&mut surface, &fonts, item))?;
            surface.pop();
            surface.finish();
            page.finish();
        }
        document.finish().map_err(|e| format!("{e:?}"))
    }
}

fn shade(grey: f64) -> rgb::Color {
    let level = (255.0 * (1.0 - grey.clamp(0.0, 1.0))).round() as u8;
    rgb::Color::new(level, level, level)
}

fn draw(surface: &mut Surface, fonts: &[Font; 2], item: &Item) -> Result<(), PdfError> {
    match item {
        Item::Text { at, face, em_mm, text } => {
            let font = &fonts[usize::from(*face == Face::Bold)];
            surface.set_stroke(None);
            surface.set_fill(Some(fill(1.0)));
            let at = PdfPoint::from_xy(at.x as f32, at.y as f32);
            surface.draw_text(at, font.clone(), *em_mm as f32, text, false, TextDirection::Auto);
        }
        Item::Jpeg { at, bytes } => picture(surface, at, Image::from_jpeg(bytes.clone().into(), false)?)?,
        Item::Png { at, bytes } => picture(surface, at, Image::from_png(bytes.clone().into(), false)?)?,
        Item::Line { points, width_mm, dash_mm, grey, closed } => {
            let Some(path) = path(points, *closed) else { return Ok(()) };
            surface.set_fill(None);
            surface.set_stroke(Some(Stroke {
                paint: shade(*grey).into(),
                width: *width_mm as f32,
                dash: dash_mm.map(|d| StrokeDash { array: vec![d as f32, d as f32 * 0.6], offset: 0.0 }),
                ..Stroke::default()
            }));
            surface.draw_path(&path);
        }
        Item::Box { at, grey } => {
            let corners = [(at.x0, at.y0), (at.x1, at.y0), (at.x1, at.y1), (at.x0, at.y1)];
            let Some(path) = path(&corners.map(|(x, y)| Point::new(x, y)), true) else { return Ok(()) };
            surface.set_stroke(None);
            surface.set_fill(Some(fill(*grey)));
            surface.draw_path(&path);
        }
    }
    Ok(())
}

fn fill(grey: f64) -> Fill {
    Fill { paint: shade(grey).into(), opacity: NormalizedF32::ONE, rule: FillRule::NonZero }
}

fn picture(surface: &mut Surface, at: &Rect, image: Image) -> Result<(), PdfError> {
    let size = Size::from_wh(at.width() as f32, at.height() as f32).ok_or("a picture without size")?;
    surface.push_transform(&Transform::from_translate(at.x0 as f32, at.y0 as f32));
    surface.draw_image(image, size);
    surface.pop();
    Ok(())
}

fn path(points: &[Point], closed: bool) -> Option<Path> {
    let mut builder = PathBuilder::new();
    for (n, p) in points.iter().enumerate() {
        if n == 0 { builder.move_to(p.x as f32, p.y as f32) } else { builder.line_to(p.x as f32, p.y as f32) }
    }
    if closed {
        builder.close();
    }
    builder.finish()
}
