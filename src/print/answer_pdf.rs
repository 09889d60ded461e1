//! The answer picture as PDF: the same lines as in the SVG, to scale; the words as letters of an embedded font, so that
//! they can be searched and read aloud. The same bytes for the same input.

use krilla::Document;
use krilla::color::rgb;
use krilla::geom::{Path, PathBuilder, Transform};
use krilla::metadata::Metadata;
use krilla::num::NormalizedF32;
use krilla::page::PageSettings;
use krilla::paint::{Fill, FillRule, LineJoin, Stroke};
use krilla::surface::Surface;
use resvg::{tiny_skia, usvg};

use super::answer::{self, Answer};
use super::sheet::{Fonts, POINTS_PER_MM, Pen, PrintError};
use crate::worksheet::Worksheet;

/// Points of a PDF (1/72 inch) in a unit of usvg (1/96 inch).
const POINTS_PER_UNIT: f32 = 0.75;

/// One page of the picture's size: a panel's answer for each panel, in the worksheet's order.
///
/// # Errors
/// [`PrintError::Pdf`]: the PDF could not be written.
pub fn pdf(worksheet: &Worksheet, answers: &[Answer]) -> Result<Vec<u8>, PrintError> {
    let svg = answer::drawn(worksheet, answers, &[]);
    let options = usvg::Options::default();
    let tree = usvg::Tree::from_str(&svg, &options).map_err(|e| PrintError::Pdf(e.to_string()))?;
    let view = answer::view(worksheet);
    let points = |mm: f64| (mm * POINTS_PER_MM) as f32;
    let settings = PageSettings::from_wh(points(view.width()), points(view.height()))
        .ok_or_else(|| PrintError::Pdf(format!("a picture of {} x {} mm", view.width(), view.height())))?;
    let mut document = Document::new();
    let title = format!("{}: computed field lines", worksheet.title);
    document.set_metadata(Metadata::new().title(title).language("en-GB".into()));
    let fonts = Fonts::new()?;
    let mut page = document.start_page_with(settings);
    let mut surface = page.surface();
    surface.push_transform(&Transform::from_scale(POINTS_PER_UNIT, POINTS_PER_UNIT));
    draw(&mut surface, tree.root());
    surface.pop();
    let scale = POINTS_PER_MM as f32;
    surface.push_transform(&Transform::from_row(scale, 0.0, 0.0, scale, points(-view.x0), points(-view.y0)));
    let mut pen = Pen { surface: &mut surface, fonts: &fonts };
    answer::words(worksheet, answers).iter().for_each(|line| pen.text(line));
    surface.pop();
    surface.finish();
    page.finish();
    document.finish().map_err(|e| PrintError::Pdf(format!("{e:?}")))
}

/// The picture is made of plain paths in plain colours, and so is this.
fn draw(surface: &mut Surface, group: &usvg::Group) {
    for node in group.children() {
        match node {
            usvg::Node::Group(inner) => draw(surface, inner),
            usvg::Node::Path(path) => draw_path(surface, path),
            usvg::Node::Image(_) | usvg::Node::Text(_) => {}
        }
    }
}

fn draw_path(surface: &mut Surface, path: &usvg::Path) {
    let Some(outline) = outline(path.data()) else { return };
    let color = |paint: &usvg::Paint| match paint {
        usvg::Paint::Color(c) => Some(rgb::Color::new(c.red, c.green, c.blue)),
        _ => None,
    };
    let fill = path.fill().and_then(|f| color(f.paint())).map(|c| Fill {
        paint: c.into(),
        opacity: NormalizedF32::ONE,
        rule: FillRule::NonZero,
    });
    let stroke = path.stroke().and_then(|s| color(s.paint()).map(|c| (s, c))).map(|(s, c)| Stroke {
        paint: c.into(),
        width: s.width().get(),
        line_join: match s.linejoin() {
            usvg::LineJoin::Round => LineJoin::Round,
            _ => LineJoin::Miter,
        },
        ..Stroke::default()
    });
    let t = path.abs_transform();
    surface.push_transform(&Transform::from_row(t.sx, t.ky, t.kx, t.sy, t.tx, t.ty));
    surface.set_fill(fill);
    surface.set_stroke(stroke);
    surface.draw_path(&outline);
    surface.pop();
}

fn outline(data: &tiny_skia::Path) -> Option<Path> {
    use tiny_skia::PathSegment;
    let mut builder = PathBuilder::new();
    for segment in data.segments() {
        match segment {
            PathSegment::MoveTo(p) => builder.move_to(p.x, p.y),
            PathSegment::LineTo(p) => builder.line_to(p.x, p.y),
            PathSegment::QuadTo(a, p) => builder.quad_to(a.x, a.y, p.x, p.y),
            PathSegment::CubicTo(a, b, p) => builder.cubic_to(a.x, a.y, b.x, b.y, p.x, p.y),
            PathSegment::Close => builder.close(),
        }
    }
    builder.finish()
}
