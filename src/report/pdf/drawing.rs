//! A drawing with its numbered places, on paper: the shapes of the page on the screen, in black.

use super::paper::{Item, Paper};
use crate::drawing::THERE;
use crate::geometry::{Point, Rect};
use crate::print::lettering::Face;
use crate::report::labels::{NUMBER_MM, labels};
use crate::report::notes::{Kind, Note};
use crate::report::picture::Picture;
use crate::report::{Example, ShowField, Student};

/// Highest that a drawing stands on the page, mm.
const MOST_HIGH_MM: f64 = 150.0;
/// Steps of a circle.
const CIRCLE_STEPS: usize = 36;

/// From the sheet's millimetres to the page's.
struct Frame {
    from: Point,
    to: Point,
    scale: f64,
}

impl Frame {
    fn at(&self, p: Point) -> Point {
        self.to + (p - self.from) * self.scale
    }
}

/// The scan, the lines as read and the numbered places; nothing where there is no drawing.
pub(super) fn drawing(paper: &mut Paper, student: &Student, notes: &[Note]) {
    let picture = student.picture.as_ref();
    let region =
        picture.map(|p| p.region).or_else(|| Picture::region_of(student.panels.iter().map(|p| p.frame)));
    let Some(region) = region.filter(|r| r.width() > 0.0 && r.height() > 0.0) else { return };
    let scale = (paper.width() / region.width()).min(MOST_HIGH_MM / region.height());
    let to = paper.room(region.height() * scale + 2.0);
    let frame = Frame { from: Point::new(region.x0, region.y0), to, scale };
    let end = frame.at(Point::new(region.x1, region.y1));
    let whole = Rect::new(to.x, to.y, end.x, end.y);
    if let Some(picture) = picture {
        paper.put(Item::Jpeg { at: whole, bytes: picture.jpeg().to_vec() });
    }
    outline(paper, whole);
    if student.field.0 == ShowField::Yes {
        for line in &student.field.1 {
            stroke(paper, line.iter().map(|p| frame.at(*p)).collect(), 0.25, Some(2.5), 0.6);
        }
    }
    for line in student.panels.iter().flat_map(|p| &p.record.lines).filter(|l| l.sure >= THERE) {
        let points = line.points_mm.iter().map(|p| frame.at(Point::new(p[0], p[1]))).collect();
        stroke(paper, points, 0.25, None, 0.75);
    }
    // All the white rims lie below all the marks: where several are close none is cut.
    for (width_mm, grey) in [(1.1, 0.0), (0.45, 1.0)] {
        for (note, at) in notes.iter().flat_map(|n| n.places.iter().map(move |at| (n, at))) {
            for shape in shapes(note.kind, *at) {
                let points = shape.iter().map(|p| frame.at(*p)).collect();
                paper.put(Item::Line { points, width_mm, dash_mm: None, grey, closed: true });
            }
        }
    }
    for label in labels(notes, &student.panels, region) {
        let (em_mm, room) = (NUMBER_MM * scale, label.room());
        let (from, to) = (frame.at(room.origin()), frame.at(Point::new(room.x1, room.y1)));
        paper.put(Item::Box { at: Rect::from_points(from, to), grey: 0.0 });
        let wide = Face::Bold.width_mm(&label.text, em_mm);
        let at = frame.at(label.at);
        paper.put(Item::Text {
            at: Point::new(at.x - wide / 2.0, at.y + em_mm * 0.36),
            face: Face::Bold,
            em_mm,
            text: label.text,
        });
    }
}

/// How much of a page [`density`] takes, mm.
pub(super) fn density_height(paper: &Paper, region: Rect) -> f64 {
    (region.height() * paper.width() / region.width()).min(MOST_HIGH_MM) + 2.0
}

/// All lines of a class over one another, and the computed ones.
pub(super) fn density(paper: &mut Paper, png: &[u8], region: Rect, field: &[Vec<Point>]) {
    let scale = (paper.width() / region.width()).min(MOST_HIGH_MM / region.height());
    let to = paper.room(region.height() * scale + 2.0);
    let frame = Frame { from: Point::new(region.x0, region.y0), to, scale };
    let end = frame.at(Point::new(region.x1, region.y1));
    let whole = Rect::new(to.x, to.y, end.x, end.y);
    paper.put(Item::Png { at: whole, bytes: png.to_vec() });
    outline(paper, whole);
    for line in field {
        stroke(paper, line.iter().map(|p| frame.at(*p)).collect(), 0.3, Some(2.0), 0.5);
    }
}

/// White between two examples, and room for the code below one, mm.
const APART_MM: f64 = 4.0;
const WORD_MM: f64 = 5.0;

fn example_width(paper: &Paper) -> f64 {
    (paper.width() - 2.0 * APART_MM) / 3.0
}

fn region_of(example: &Example) -> Option<Rect> {
    Picture::region_of(example.panels.iter().map(|p| p.frame))
}

/// How much of a page [`examples`] take, mm.
pub(super) fn examples_height(paper: &Paper, drawings: &[Example]) -> f64 {
    let high = |r: Rect| r.height() * example_width(paper) / r.width();
    drawings.iter().filter_map(region_of).map(high).fold(0.0, f64::max) + WORD_MM + 2.0
}

/// A few students' lines side by side, the places that are meant ringed, each with its code below.
pub(super) fn examples(paper: &mut Paper, drawings: &[Example]) {
    const RING_MM: f64 = 6.0;
    let width = example_width(paper);
    let regions: Vec<Option<Rect>> = drawings.iter().map(region_of).collect();
    let height = examples_height(paper, drawings) - WORD_MM - 2.0;
    let corner = paper.room(height + WORD_MM + 2.0);
    for (n, (example, region)) in drawings.iter().zip(regions).enumerate() {
        let Some(region) = region else { continue };
        let to = Point::new(corner.x + n as f64 * (width + APART_MM), corner.y);
        let frame = Frame { from: Point::new(region.x0, region.y0), to, scale: width / region.width() };
        for panel in &example.panels {
            let (a, b) = (panel.frame.origin(), Point::new(panel.frame.x1, panel.frame.y1));
            outline(paper, Rect::from_points(frame.at(a), frame.at(b)));
            for line in panel.record.lines.iter().filter(|l| l.sure >= THERE) {
                let points = line.points_mm.iter().map(|p| frame.at(Point::new(p[0], p[1]))).collect();
                stroke(paper, points, 0.2, None, 0.9);
            }
        }
        for at in &example.at {
            let ring = circle(Point::new(at[0], at[1]), RING_MM).into_iter().map(|p| frame.at(p)).collect();
            paper.put(Item::Line { points: ring, width_mm: 0.35, dash_mm: None, grey: 1.0, closed: true });
        }
        let at = Point::new(to.x, corner.y + height + WORD_MM);
        paper.put(Item::Text {
            at,
            face: Face::Regular,
            em_mm: super::paper::WORDS_EM_MM,
            text: format!("{}{}", example.code, example.panel_words()),
        });
    }
}

fn outline(paper: &mut Paper, at: Rect) {
    let points = [(at.x0, at.y0), (at.x1, at.y0), (at.x1, at.y1), (at.x0, at.y1)];
    let points = points.map(|(x, y)| Point::new(x, y)).to_vec();
    paper.put(Item::Line { points, width_mm: 0.2, dash_mm: None, grey: 0.5, closed: true });
}

fn stroke(paper: &mut Paper, points: Vec<Point>, width_mm: f64, dash_mm: Option<f64>, grey: f64) {
    paper.put(Item::Line { points, width_mm, dash_mm, grey, closed: false });
}

fn circle(at: Point, radius: f64) -> Vec<Point> {
    let step = |i: usize| {
        let t = std::f64::consts::TAU * i as f64 / CIRCLE_STEPS as f64;
        Point::new(at.x + radius * t.cos(), at.y + radius * t.sin())
    };
    (0..CIRCLE_STEPS).map(step).collect()
}

/// The shape of a kind of place, as on the screen.
fn shapes(kind: Kind, at: Point) -> Vec<Vec<Point>> {
    let corners =
        |list: &[(f64, f64)]| list.iter().map(|(x, y)| Point::new(at.x + x, at.y + y)).collect::<Vec<_>>();
    let triangle =
        |s: f64, tip: f64, base: f64| corners(&[(s * tip, 0.0), (s * base, -2.0), (s * base, 2.0)]);
    match kind {
        Kind::WrongArrow => vec![circle(at, 4.0)],
        Kind::Cross | Kind::Touch => vec![circle(at, 4.0), circle(at, 2.6)],
        Kind::LikePoles => vec![circle(at, 1.4)],
        Kind::OpenEnd => vec![corners(&[(-3.0, -3.0), (3.0, -3.0), (3.0, 3.0), (-3.0, 3.0)])],
        Kind::TooClose => vec![triangle(1.0, 1.0, 4.2), triangle(-1.0, 1.0, 4.2)],
        Kind::TooWide => vec![triangle(1.0, 4.2, 1.0), triangle(-1.0, 4.2, 1.0)],
        Kind::FarOff => vec![corners(&[(0.0, -3.4), (3.4, 0.0), (0.0, 3.4), (-3.4, 0.0)])],
    }
}
