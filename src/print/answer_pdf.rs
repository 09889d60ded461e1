//! A picture as PDF: the same shapes as in the SVG, to scale; the words as letters of an embedded font, so that
//! they can be searched and read aloud; grains as a picture in it. The same bytes for the same input.

use krilla::Document;
use krilla::color::rgb;
use krilla::geom::{Path, PathBuilder, Size, Transform};
use krilla::image::Image;
use krilla::metadata::Metadata;
use krilla::num::NormalizedF32;
use krilla::page::PageSettings;
use krilla::paint::{Fill, FillRule, LineJoin, Stroke, StrokeDash};
use krilla::surface::Surface;
use resvg::{tiny_skia, usvg};

use super::answer::{self, Answer};
use super::picture::{self, Picture, Piece};
use super::sheet::{Fonts, POINTS_PER_MM, Pen, PrintError};
use super::views::Grains;
use crate::geometry::Rect;
use crate::worksheet::Worksheet;

/// Points of a PDF (1/72 inch) in a unit of usvg (1/96 inch).
const POINTS_PER_UNIT: f32 = 0.75;

/// One page of the picture's size: a panel's answer for each panel, in the worksheet's order.
///
/// # Errors
/// [`PrintError::Pdf`]: the PDF could not be written.
pub fn pdf(worksheet: &Worksheet, answers: &[Answer]) -> Result<Vec<u8>, PrintError> {
    of(&answer::plain(worksheet, answers))
}

/// A picture as a page of its size.
///
/// # Errors
/// [`PrintError::Pdf`]: the PDF could not be written.
pub fn of(picture: &Picture) -> Result<Vec<u8>, PrintError> {
    let view = picture.view;
    let points = |mm: f64| (mm * POINTS_PER_MM) as f32;
    let settings = PageSettings::from_wh(points(view.width()), points(view.height()))
        .ok_or_else(|| PrintError::Pdf(format!("a picture of {} x {} mm", view.width(), view.height())))?;
    let mut document = Document::new();
    document.set_metadata(Metadata::new().title(picture.title.clone()).language("en-GB".into()));
    let fonts = Fonts::new()?;
    let mut page = document.start_page_with(settings);
    let mut surface = page.surface();
    for piece in &picture.pieces {
        match piece {
            Piece::Shapes(shapes) => {
                let tree =
                    picture::tree(&picture.alone(shapes)).map_err(|e| PrintError::Pdf(e.to_string()))?;
                surface.push_transform(&Transform::from_scale(POINTS_PER_UNIT, POINTS_PER_UNIT));
                draw(&mut surface, tree.root());
                surface.pop();
            }
            Piece::Grains(grains) => draw_grains(&mut surface, grains, view)?,
        }
    }
    let scale = POINTS_PER_MM as f32;
    surface.push_transform(&Transform::from_row(scale, 0.0, 0.0, scale, points(-view.x0), points(-view.y0)));
    let mut pen = Pen { surface: &mut surface, fonts: &fonts };
    picture.words.iter().for_each(|line| pen.text(line));
    surface.pop();
    surface.finish();
    page.finish();
    document.finish().map_err(|e| PrintError::Pdf(format!("{e:?}")))
}

/// Grains over the area that they cover.
fn draw_grains(surface: &mut Surface, grains: &Grains, view: Rect) -> Result<(), PrintError> {
    let points = |mm: f64| (mm * POINTS_PER_MM) as f32;
    let image = Image::from_png(picture::grains_png(grains)?.into(), false).map_err(PrintError::Pdf)?;
    let area = grains.area;
    let size = Size::from_wh(points(area.width()), points(area.height()))
        .ok_or_else(|| PrintError::Pdf("grains without a size".into()))?;
    surface.push_transform(&Transform::from_translate(points(area.x0 - view.x0), points(area.y0 - view.y0)));
    surface.draw_image(image, size);
    surface.pop();
    Ok(())
}

/// Shapes are plain paths in plain colours, and so is this.
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
        opacity: cover(path.fill().map(usvg::Fill::opacity)),
        rule: match path.fill().map(usvg::Fill::rule) {
            Some(usvg::FillRule::EvenOdd) => FillRule::EvenOdd,
            _ => FillRule::NonZero,
        },
    });
    let stroke = path.stroke().and_then(|s| color(s.paint()).map(|c| (s, c))).map(|(s, c)| Stroke {
        paint: c.into(),
        width: s.width().get(),
        opacity: cover(Some(s.opacity())),
        dash: s.dasharray().map(|array| StrokeDash { array: array.to_vec(), offset: s.dashoffset() }),
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

fn cover(of: Option<usvg::Opacity>) -> NormalizedF32 {
    of.and_then(|o| NormalizedF32::new(o.get())).unwrap_or(NormalizedF32::ONE)
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
