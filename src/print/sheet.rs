//! worksheets.pdf: one sheet a student, true to the millimetre, letters embedded, the same bytes for the same input.

use krilla::Document;
use krilla::color::luma;
use krilla::geom::{Path, PathBuilder, Point as PdfPoint, Transform};
use krilla::metadata::Metadata;
use krilla::num::NormalizedF32;
use krilla::page::PageSettings;
use krilla::paint::{Fill, FillRule, LineCap, LineJoin, Stroke};
use krilla::surface::Surface;
use krilla::text::{Font, TextDirection};
use kurbo::{BezPath, Circle, PathEl, Shape as _};
use thiserror::Error;

use super::code::{Modules, Payload, TooLong};
use super::header::{LETTERS_BASES_MM, LETTERS_EM_MM, NAME_EM_MM, STUDENT_EM_MM};
use super::layout::{Ink, Layout, RULE_STROKE_MM, TextLine};
use super::lettering::Face;
use crate::geometry::{Point, Rect};
use crate::worksheet::Worksheet;

/// Points of a PDF (1/72 inch) in a millimetre.
pub(super) const POINTS_PER_MM: f64 = 72.0 / 25.4;
/// How far a drawn circle may lie off the true one, mm.
const CURVE_MM: f64 = 0.001;

/// Whose sheet it is.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Sheet {
    /// None on a sheet to be copied freely.
    pub code: Option<String>,
    /// Empty: a line to write it on.
    pub name: String,
}

impl Sheet {
    /// Whether the sheet's font has every letter of the name; else a line to write it on is printed instead.
    pub fn name_is_printable(&self) -> bool {
        Face::Regular.covers(self.name.trim())
    }

    /// `count` spare sheets with codes of their own, SPARE-01 and on.
    pub fn spares(count: usize) -> impl Iterator<Item = Self> {
        (1..=count).map(|i| Self { code: Some(format!("SPARE-{i:02}")), name: String::new() })
    }
}

/// Why the file could not be made.
#[derive(Debug, Error)]
pub enum PrintError {
    #[error(transparent)]
    TooLong(#[from] TooLong),
    #[error("the sheets could not be written as PDF: {0}")]
    Pdf(String),
    #[error("the picture could not be made: {0}")]
    Png(String),
}

/// The sheets of a worksheet as a PDF, one page each, in the order given.
///
/// # Errors
/// [`PrintError`]: the worksheet's id is too long for its code, or the PDF could not be written.
pub fn pdf(worksheet: &Worksheet, sheets: &[Sheet]) -> Result<Vec<u8>, PrintError> {
    let layout = Layout::of(worksheet);
    let (mut document, fonts) = begin(worksheet)?;
    for sheet in sheets {
        let payload = Payload::new(&worksheet.id, 1, sheet.code.as_deref());
        let modules = payload.modules()?;
        page(&mut document, &fonts, layout.page_mm, |pen| {
            pen.layout(&layout);
            pen.code(&layout, &modules);
            pen.owner(&layout, sheet, &payload);
        })?;
    }
    finish(document)
}

/// A PDF with a worksheet's title, and the fonts for it.
pub(super) fn begin(worksheet: &Worksheet) -> Result<(Document, Fonts), PrintError> {
    let mut document = Document::new();
    document.set_metadata(Metadata::new().title(worksheet.title.clone()).language("en-GB".into()));
    Ok((document, Fonts::new()?))
}

/// One page of it, drawn in millimetres.
pub(super) fn page(
    document: &mut Document,
    fonts: &Fonts,
    (width, height): (f64, f64),
    draw: impl FnOnce(&mut Pen),
) -> Result<(), PrintError> {
    let points = |mm: f64| (mm * POINTS_PER_MM) as f32;
    let settings = PageSettings::from_wh(points(width), points(height))
        .ok_or_else(|| PrintError::Pdf(format!("a page of {width} x {height} mm")))?;
    let mut page = document.start_page_with(settings);
    let mut surface = page.surface();
    surface.push_transform(&Transform::from_scale(POINTS_PER_MM as f32, POINTS_PER_MM as f32));
    draw(&mut Pen { surface: &mut surface, fonts });
    surface.pop();
    surface.finish();
    page.finish();
    Ok(())
}

pub(super) fn finish(document: Document) -> Result<Vec<u8>, PrintError> {
    document.finish().map_err(|e| PrintError::Pdf(format!("{e:?}")))
}

/// The faces as the PDF holds them.
pub(super) struct Fonts {
    regular: Font,
    bold: Font,
}

impl Fonts {
    pub(super) fn new() -> Result<Self, PrintError> {
        let load = |face: Face| {
            let bytes = face.bytes().to_vec();
            Font::new(bytes.into(), 0).ok_or_else(|| PrintError::Pdf("the font cannot be used".into()))
        };
        Ok(Self { regular: load(Face::Regular)?, bold: load(Face::Bold)? })
    }
}

/// Draws on one page, in millimetres.
pub(super) struct Pen<'a, 'b> {
    pub(super) surface: &'a mut Surface<'b>,
    pub(super) fonts: &'a Fonts,
}

impl Pen<'_, '_> {
    fn layout(&mut self, layout: &Layout) {
        for fiducial in &layout.fiducials {
            for (disc, grey) in fiducial.discs() {
                self.fill(&circle(disc), grey);
            }
        }
        for shape in &layout.shapes {
            match shape.ink {
                Ink::Fill => self.fill(&polygons(&shape.polygons, true), shape.grey),
                Ink::Stroke { width_mm, closed } => {
                    self.stroke(&polygons(&shape.polygons, closed), width_mm, shape.grey);
                }
            }
        }
        for line in &layout.texts {
            self.text(line);
        }
    }

    /// The QR code as one path: neighbouring modules of a row are one rectangle, so that no white hair shows.
    fn code(&mut self, layout: &Layout, modules: &Modules) {
        let side = layout.code_box.width() / modules.side as f64;
        let mut path = BezPath::new();
        for row in 0..modules.side {
            let mut column = 0;
            while column < modules.side {
                let run = (column..modules.side).take_while(|c| modules.is_dark(row, *c)).count();
                if run > 0 {
                    let (x, y) =
                        (layout.code_box.x0 + column as f64 * side, layout.code_box.y0 + row as f64 * side);
                    path.extend(Rect::new(x, y, x + run as f64 * side, y + side).path_elements(CURVE_MM));
                }
                column += run.max(1);
            }
        }
        self.fill(&path, 1.0);
    }

    /// Code, name and the letters of the QR code.
    fn owner(&mut self, layout: &Layout, sheet: &Sheet, payload: &Payload) {
        let base = layout.student_zone.y1 - 0.25 * STUDENT_EM_MM;
        let line = |x, face, em_mm, text| TextLine { at: Point::new(x, base), face, em_mm, grey: 1.0, text };
        let rule = |zone: Rect| {
            BezPath::from_vec(vec![
                PathEl::MoveTo(Point::new(zone.x0, base + 0.6)),
                PathEl::LineTo(Point::new(zone.x1, base + 0.6)),
            ])
        };
        match &sheet.code {
            Some(code) => self.text(&line(layout.student_zone.x0, Face::Bold, STUDENT_EM_MM, code.clone())),
            None => self.stroke(&rule(layout.student_zone), RULE_STROKE_MM, 1.0),
        }
        let name = sheet.name.trim();
        if name.is_empty() || !sheet.name_is_printable() {
            self.stroke(&rule(layout.name_zone), RULE_STROKE_MM, 1.0);
        } else {
            let name = Face::Regular.fit(name, NAME_EM_MM, layout.name_zone.width());
            self.text(&line(layout.name_zone.x0, Face::Regular, NAME_EM_MM, name));
        }
        let text = payload.encode();
        // The break stands after the worksheet's id: the second line is what tells sheets apart.
        let split = text.match_indices('/').nth(1).map_or(text.len(), |(at, _)| at);
        let (first, second) = text.split_at(split);
        for (text, base) in [first, second].into_iter().zip(LETTERS_BASES_MM) {
            let width = Face::Regular.width_mm(text, LETTERS_EM_MM);
            let at = Point::new(layout.letters_zone.x1 - width, base);
            self.text(&TextLine {
                at,
                face: Face::Regular,
                em_mm: LETTERS_EM_MM,
                grey: 1.0,
                text: text.into(),
            });
        }
    }

    pub(super) fn text(&mut self, line: &TextLine) {
        let font = match line.face {
            Face::Regular => &self.fonts.regular,
            Face::Bold => &self.fonts.bold,
        };
        self.surface.set_stroke(None);
        self.surface.set_fill(Some(filling(line.grey)));
        let at = PdfPoint::from_xy(line.at.x as f32, line.at.y as f32);
        self.surface.draw_text(
            at,
            font.clone(),
            line.em_mm as f32,
            &line.text,
            false,
            TextDirection::LeftToRight,
        );
    }

    fn fill(&mut self, path: &BezPath, grey: f64) {
        let Some(path) = pdf_path(path) else { return };
        self.surface.set_stroke(None);
        self.surface.set_fill(Some(filling(grey)));
        self.surface.draw_path(&path);
    }

    fn stroke(&mut self, path: &BezPath, width_mm: f64, grey: f64) {
        let Some(path) = pdf_path(path) else { return };
        self.surface.set_fill(None);
        self.surface.set_stroke(Some(Stroke {
            paint: shade(grey).into(),
            width: width_mm as f32,
            line_cap: LineCap::Butt,
            line_join: LineJoin::Miter,
            ..Stroke::default()
        }));
        self.surface.draw_path(&path);
    }
}

/// A darkness (0 white, 1 black) as the PDF's grey.
fn shade(grey: f64) -> luma::Color {
    luma::Color::new((255.0 * (1.0 - grey)).round() as u8)
}

fn filling(grey: f64) -> Fill {
    Fill { paint: shade(grey).into(), opacity: NormalizedF32::ONE, rule: FillRule::NonZero }
}

fn circle(circle: Circle) -> BezPath {
    circle.to_path(CURVE_MM)
}

fn polygons(polygons: &[Vec<Point>], closed: bool) -> BezPath {
    let mut path = BezPath::new();
    for polygon in polygons {
        for (i, p) in polygon.iter().enumerate() {
            if i == 0 { path.move_to(*p) } else { path.line_to(*p) }
        }
        if closed && !polygon.is_empty() {
            path.close_path();
        }
    }
    path
}

/// The path as the PDF library takes it; none where it is empty.
fn pdf_path(path: &BezPath) -> Option<Path> {
    let mut builder = PathBuilder::new();
    let xy = |p: Point| (p.x as f32, p.y as f32);
    for el in path.elements() {
        match *el {
            PathEl::MoveTo(p) => builder.move_to(xy(p).0, xy(p).1),
            PathEl::LineTo(p) => builder.line_to(xy(p).0, xy(p).1),
            PathEl::QuadTo(a, p) => builder.quad_to(xy(a).0, xy(a).1, xy(p).0, xy(p).1),
            PathEl::CurveTo(a, b, p) => {
                builder.cubic_to(xy(a).0, xy(a).1, xy(b).0, xy(b).1, xy(p).0, xy(p).1)
            }
            PathEl::ClosePath => builder.close(),
        }
    }
    builder.finish()
}
