//! The picture with what was found drawn over it, as SVG in millimetres of the page.
//!
//! Each kind of place has a shape of its own, so that a grey print tells them apart: a ring round a wrong
//! arrow, a double ring where lines meet, a square at an open end, a dashed line between like poles, triangles that
//! point inwards or outwards where lines lie too close or too wide, a diamond on a line that leads astray.

use std::fmt::Write;

use maud::{Markup, PreEscaped, html};

use crate::drawing::THERE;
use crate::geometry::Point;
use crate::measure::findings::LineRecord;

use super::labels::NUMBER_MM;
use super::notes::{Kind, Note, joins_like_poles};
use super::picture::Picture;
use super::{Sheet, gather, labels};

/// Radius of a ring, mm: an arrowhead is 3 to 6 mm long.
const RING_MM: f64 = 4.0;

/// The inner ring of a meeting.
const INNER_RING_MM: f64 = 2.6;

/// Least step between two points of a drawn path, mm; finer than a screen shows.
const PATH_STEP_MM: f64 = 0.4;

/// The same on computed lines, which are smooth.
const FIELD_STEP_MM: f64 = 1.5;

/// The picture and the overlay; the picture may be missing.
///
/// `field`: computed lines, drawn faintly where given.
pub(super) fn overlay(
    picture: Option<&Picture>,
    panels: &[Sheet],
    notes: &[Note],
    field: &[Vec<Point>],
) -> Option<Markup> {
    let region = picture.map(|p| p.region).or_else(|| Picture::region_of(panels.iter().map(|p| p.frame)))?;
    let lines: usize = panels.iter().map(|p| there(p).count()).sum();
    let description = describe(lines, notes);
    let box_mm = format!("{:.2} {:.2} {:.2} {:.2}", region.x0, region.y0, region.width(), region.height());
    Some(html! {
        svg xmlns="http://www.w3.org/2000/svg" viewBox=(box_mm) role="img" aria-labelledby="pic-title pic-desc" {
            title id="pic-title" { "The drawing with what was found marked on it" }
            desc id="pic-desc" { (description) }
            @if let Some(picture) = picture {
                image x=(mm(region.x0)) y=(mm(region.y0)) width=(mm(region.width())) height=(mm(region.height()))
                    preserveAspectRatio="none" href=(picture.address()) {}
            }
            @for line in field { path class="field" d=(smooth(line)) {} }
            @for panel in panels {
                @if picture.is_none() {
                    rect class="frame" x=(mm(panel.frame.x0)) y=(mm(panel.frame.y0))
                        width=(mm(panel.frame.width())) height=(mm(panel.frame.height())) {}
                }
                @for line in there(panel) {
                    path class=(if joins_like_poles(line) { "line like" } else { "line" }) d=(path(line)) {}
                    @for arrow in line.arrows.iter().filter(|a| a.agrees && a.sure >= THERE) {
                        circle class="tip" cx=(mm(arrow.at_mm[0])) cy=(mm(arrow.at_mm[1])) r="0.9" {}
                    }
                }
            }
            // All the white rims lie below all the marks: where several are close none is cut.
            @for class in ["halo", "mark"] {
                @for note in notes { @for at in &note.places { (shape(note.kind, *at, class)) } }
            }
            @for label in labels::labels(notes, panels, region) {
                text class=(if label.is_line { "named" } else { "number" }) x=(mm(label.at.x)) y=(mm(label.at.y + NUMBER_MM * 0.36)) { (label.text) }
            }
        }
    })
}

/// What was drawn beside the computed field, without the scan.
pub(super) fn compare(panels: &[Sheet], field: &[Vec<Point>]) -> Markup {
    let region = Picture::region_of(panels.iter().map(|p| p.frame)).unwrap_or_default();
    let box_mm = format!("{:.2} {:.2} {:.2} {:.2}", region.x0, region.y0, region.width(), region.height());
    html! {
        figure {
            svg xmlns="http://www.w3.org/2000/svg" viewBox=(box_mm) role="img" aria-labelledby="cmp-title" {
                title id="cmp-title" { "The lines as read, and the computed field in long dashes" }
                @for line in field { path class="field" d=(smooth(line)) {} }
                @for panel in panels {
                    rect class="frame" x=(mm(panel.frame.x0)) y=(mm(panel.frame.y0))
                        width=(mm(panel.frame.width())) height=(mm(panel.frame.height())) {}
                    @for line in there(panel) { path class="line" d=(path(line)) {} }
                }
            }
            figcaption class="sub" { "Thin lines: yours. Long dashes: the computed field." }
        }
    }
}

/// The lines that are taken to be there.
fn there(panel: &Sheet) -> impl Iterator<Item = &LineRecord> {
    panel.record.lines.iter().filter(|line| line.sure >= THERE)
}

/// What is marked, and where, in words: for who does not see the drawing.
fn describe(lines: usize, notes: &[Note]) -> String {
    let mut out = format!("{lines} lines were found.");
    for kind in Kind::ALL {
        let mut places: Vec<(&str, Vec<String>)> = Vec::new();
        for note in notes.iter().filter(|n| n.kind == kind) {
            let number = match note.places.len() {
                1 => note.number.to_string(),
                several => format!("{} for {several} of them", note.number),
            };
            match places.iter_mut().find(|(known, _)| *known == note.whereabouts) {
                Some((_, numbers)) => numbers.push(number),
                None => places.push((&note.whereabouts, vec![number])),
            }
        }
        if !places.is_empty() {
            let places: Vec<String> =
                places.iter().map(|(place, numbers)| format!("{place} ({})", numbers.join(", "))).collect();
            let _ = write!(out, " Marked: {}, {}.", kind.name(), places.join("; "));
        }
    }
    out
}

/// The shape that marks a place, or its white rim.
fn shape(kind: Kind, at: Point, class: &str) -> Markup {
    let (x, y) = (mm(at.x), mm(at.y));
    html! {
        @match kind {
            Kind::WrongArrow => { circle class=(class) cx=(x) cy=(y) r=(RING_MM) {} }
            Kind::Cross | Kind::Touch => {
                circle class=(class) cx=(x) cy=(y) r=(RING_MM) {}
                @if class == "mark" { circle class=(class) cx=(x) cy=(y) r=(INNER_RING_MM) {} }
            }
            Kind::OpenEnd => { rect class=(class) x=(mm(at.x - 3.0)) y=(mm(at.y - 3.0)) width="6" height="6" {} }
            Kind::TooClose | Kind::TooWide => { path class=(class) d=(triangles(kind, at)) {} }
            Kind::FarOff => {
                path class=(class) d=(format!("M{:.1} {:.1}l3.4 3.4l-3.4 3.4l-3.4-3.4z", at.x, at.y - 3.4)) {}
            }
            Kind::LikePoles => { @if class == "mark" { circle class="spot" cx=(x) cy=(y) r="1.4" {} } }
        }
    }
}

/// Two triangles beside a place: their points lead to it where lines are too close, away where too wide.
fn triangles(kind: Kind, at: Point) -> String {
    let (tip, base) = if kind == Kind::TooClose { (1.0, 4.2) } else { (4.2, 1.0) };
    let one = |s: f64| {
        let (x, y, b) = (at.x + s * tip, at.y, at.x + s * base);
        format!("M{x:.1} {y:.1}L{b:.1} {:.1}L{b:.1} {:.1}z", y - 2.0, y + 2.0)
    };
    one(1.0) + &one(-1.0)
}

/// A small picture of a kind's shape for the list of places.
pub(super) fn key(kind: Kind) -> Markup {
    html! {
        svg class="key" viewBox="-5 -5 10 10" aria-hidden="true" focusable="false" {
            @if kind == Kind::LikePoles { path class="line like" d="M-5 3Q0-4 5 3" {} }
            @else { (shape(kind, Point::ZERO, "mark")) }
        }
    }
}

fn mm(value: f64) -> String {
    format!("{value:.2}")
}

fn path(line: &LineRecord) -> PreEscaped<String> {
    drawn(&line.points_mm, PATH_STEP_MM)
}

/// A computed line.
pub(super) fn smooth(line: &[Point]) -> PreEscaped<String> {
    drawn(&line.iter().map(|p| [p.x, p.y]).collect::<Vec<_>>(), FIELD_STEP_MM)
}

/// Points at least so far apart as the data of a path.
pub(super) fn drawn(points: &[[f64; 2]], step_mm: f64) -> PreEscaped<String> {
    let mut out = String::new();
    let mut last: Option<[f64; 2]> = None;
    let end = points.len().saturating_sub(1);
    for (i, point) in points.iter().enumerate() {
        let far = last.is_none_or(|l| (point[0] - l[0]).hypot(point[1] - l[1]) >= step_mm);
        if far || i == end {
            let _ = write!(out, "{}{:.1} {:.1}", if last.is_none() { 'M' } else { 'L' }, point[0], point[1]);
            last = Some(*point);
        }
    }
    PreEscaped(out)
}

/// The numbers of each kind and the sentence that belongs to them.
pub(super) fn list(notes: &[Note]) -> Markup {
    html! {
        ul class="notes" {
            @for group in gather::groups(notes) {
                li {
                    (key(group.kind))
                    p {
                        strong { (group.listed) } " " (group.sentence)
                        @if let Some(more) = &group.more { " " (more) }
                        @if let Some(doubt) = &group.doubt { " " em { (doubt) } }
                    }
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::worksheet::MadeBy;

    #[test]
    fn the_description_says_where_in_words_and_how_many() {
        let note = |number, places, whereabouts: &str| Note {
            number,
            kind: Kind::OpenEnd,
            places: vec![Point::ZERO; places],
            whereabouts: whereabouts.into(),
            panel: None,
            made_by: MadeBy::Magnets,
            doubtful: 0,
        };
        let (left, middle) = ("at the top left", "in the middle");
        assert_eq!(
            describe(4, &[note(1, 1, left), note(2, 1, middle), note(3, 5, left)]),
            "4 lines were found. Marked: line ends in white space, at the top left (1, 3 for 5 of them); in the middle (2)."
        );
    }
}
