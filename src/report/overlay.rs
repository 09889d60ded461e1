//! The picture with what was found drawn over it, as SVG in millimetres of the page.
//!
//! Each kind of place has a shape of its own, so that a grey print tells them apart: a ring round a wrong
//! arrow, a double ring where lines meet, a square at an open end, a dashed line between like poles, triangles that
//! point inwards or outwards where lines lie too close or too wide, a diamond on a line that leads astray.

use std::fmt::Write;

use maud::{Markup, PreEscaped, html};

use crate::drawing::THERE;
use crate::geometry::{Point, Rect, Vec2};
use crate::measure::findings::LineRecord;

use super::notes::{Group, Kind, Note, joins_like_poles};
use super::picture::Picture;
use super::{Sheet, notes};

/// Radius of a ring, mm: an arrowhead is 3 to 6 mm long.
const RING_MM: f64 = 4.0;

/// The inner ring of a meeting.
const INNER_RING_MM: f64 = 2.6;

/// Height of the numbers, mm.
const NUMBER_MM: f64 = 5.0;

/// How far a number's middle stands from its place, mm, nearest first.
const NUMBER_STEPS_MM: [f64; 3] = [7.0, 10.0, 14.0];

/// Ways in which a number may stand, in the order tried (page axes, y down).
const NUMBER_WAYS: [(f64, f64); 8] =
    [(0.7, -0.7), (-0.7, -0.7), (0.7, 0.7), (-0.7, 0.7), (1.0, 0.0), (-1.0, 0.0), (0.0, -1.0), (0.0, 1.0)];

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
    let numbers = number_places(notes, region);
    let lines: usize = panels.iter().map(|p| there(p).count()).sum();
    let description = describe(lines, notes, panels);
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
            @for (number, at) in notes::named_lines(panels) {
                text class="named" x=(mm(at.x)) y=(mm(at.y)) { "line " (number) }
            }
            @for note in notes { (shape(note.kind, note.at)) }
            @for (note, at) in notes.iter().zip(&numbers) {
                text class="number" x=(mm(at.x)) y=(mm(at.y + NUMBER_MM * 0.36)) { (note.number) }
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
fn describe(lines: usize, notes: &[Note], panels: &[Sheet]) -> String {
    let mut out = format!("{lines} lines were found.");
    for kind in Kind::ALL {
        let mut places: Vec<(String, Vec<String>)> = Vec::new();
        for note in notes.iter().filter(|n| n.kind == kind) {
            let place = whereabouts(note.at, panels);
            match places.iter_mut().find(|(known, _)| *known == place) {
                Some((_, numbers)) => numbers.push(note.number.to_string()),
                None => places.push((place, vec![note.number.to_string()])),
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

/// Which third of its panel's frame a place lies in, across and down; and of which panel, where there are several.
fn whereabouts(at: Point, panels: &[Sheet]) -> String {
    let off = |p: &Sheet| {
        let (x, y) = (at.x.clamp(p.frame.x0, p.frame.x1), at.y.clamp(p.frame.y0, p.frame.y1));
        (at - Point::new(x, y)).hypot()
    };
    let Some(panel) = panels.iter().min_by(|a, b| off(a).total_cmp(&off(b))) else { return String::new() };
    let third = |v: f64, from: f64, length: f64| (3.0 * (v - from) / length).clamp(0.0, 2.9) as usize;
    let across = third(at.x, panel.frame.x0, panel.frame.width());
    let down = third(at.y, panel.frame.y0, panel.frame.height());
    let place = match (down, across) {
        (1, 1) => "in the middle".to_string(),
        (1, _) => format!("at the {}", ["left", "", "right"][across]),
        (_, 1) => format!("at the {}", ["top", "", "bottom"][down]),
        _ => format!("at the {} {}", ["top", "", "bottom"][down], ["left", "", "right"][across]),
    };
    if panels.len() > 1 { format!("{place} of panel {}", panel.record.id) } else { place }
}

/// The shape that marks a place.
pub(super) fn shape(kind: Kind, at: Point) -> Markup {
    let (x, y) = (mm(at.x), mm(at.y));
    html! {
        @match kind {
            Kind::WrongArrow => { circle class="halo" cx=(x) cy=(y) r=(RING_MM) {} circle class="mark" cx=(x) cy=(y) r=(RING_MM) {} }
            Kind::Cross | Kind::Touch => {
                circle class="halo" cx=(x) cy=(y) r=(RING_MM) {}
                circle class="mark" cx=(x) cy=(y) r=(RING_MM) {}
                circle class="mark" cx=(x) cy=(y) r=(INNER_RING_MM) {}
            }
            Kind::OpenEnd => {
                rect class="halo" x=(mm(at.x - 3.0)) y=(mm(at.y - 3.0)) width="6" height="6" {}
                rect class="mark" x=(mm(at.x - 3.0)) y=(mm(at.y - 3.0)) width="6" height="6" {}
            }
            Kind::TooClose | Kind::TooWide => {
                path class="halo" d=(triangles(kind, at)) {}
                path class="mark" d=(triangles(kind, at)) {}
            }
            Kind::FarOff => {
                path class="halo" d=(format!("M{:.1} {:.1}l3.4 3.4l-3.4 3.4l-3.4-3.4z", at.x, at.y - 3.4)) {}
                path class="mark" d=(format!("M{:.1} {:.1}l3.4 3.4l-3.4 3.4l-3.4-3.4z", at.x, at.y - 3.4)) {}
            }
            Kind::LikePoles => { circle class="spot" cx=(x) cy=(y) r="1.4" {} }
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
            @else { (shape(kind, Point::ZERO)) }
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

/// A place for each number: near what it marks, inside the picture, off other marks and numbers as far as
/// there is room. Greedy, in order of the numbers; always the same for the same notes.
pub(super) fn number_places(notes: &[Note], region: Rect) -> Vec<Point> {
    let mut placed: Vec<Point> = Vec::new();
    let inner = region.inset(-NUMBER_MM * 0.6);
    for note in notes {
        let crowding = |at: Point| {
            let overlap = |other: Point, reach: f64| (reach - (other - at).hypot()).max(0.0);
            let marks: f64 = notes.iter().map(|n| overlap(n.at, RING_MM + NUMBER_MM * 0.6)).sum();
            let numbers: f64 = placed.iter().map(|&p| 2.0 * overlap(p, NUMBER_MM * 1.3)).sum();
            let outside = if inner.contains(at) { 0.0 } else { 100.0 };
            marks + numbers + outside
        };
        let candidates = NUMBER_STEPS_MM
            .iter()
            .flat_map(|step| NUMBER_WAYS.iter().map(move |&(x, y)| note.at + Vec2::new(x, y) * *step));
        let best = candidates.map(|at| (crowding(at), at)).reduce(|a, b| if b.0 < a.0 { b } else { a });
        placed.push(best.map_or(note.at, |(_, at)| at));
    }
    placed
}

/// The numbers of each kind and the sentence that belongs to them.
pub(super) fn list(notes: &[Note]) -> Markup {
    html! {
        ul class="notes" {
            @for group in notes::groups(notes) {
                li {
                    (key(group.kind))
                    p {
                        strong { (Group::listed(&group.numbers)) } " " (group.sentence)
                        @if let Some(doubt) = group.doubt() { " " em { (doubt) } }
                    }
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::made::sheet;

    #[test]
    fn the_description_says_where_in_words() {
        let one = sheet();
        let f = one.frame;
        let at = |x: f64, y: f64| Point::new(f.x0 + x * f.width(), f.y0 + y * f.height());
        assert_eq!(whereabouts(at(0.1, 0.1), std::slice::from_ref(&one)), "at the top left");
        assert_eq!(whereabouts(at(0.5, 0.5), std::slice::from_ref(&one)), "in the middle");
        assert_eq!(whereabouts(at(1.2, 0.5), std::slice::from_ref(&one)), "at the right");
        assert_eq!(whereabouts(at(0.5, 0.9), std::slice::from_ref(&one)), "at the bottom");
        let mut other = sheet();
        other.record.id = "B".into();
        other.frame = other.frame + Vec2::new(0.0, 2.0 * f.height());
        assert_eq!(whereabouts(at(0.1, 2.5), &[one.clone(), other]), "at the left of panel B");
        let note =
            |number, at| Note { number, kind: Kind::OpenEnd, at, made_by: one.made_by, doubtful: false };
        let notes = [note(1, at(0.1, 0.1)), note(2, at(0.5, 0.5)), note(3, at(0.2, 0.2))];
        assert_eq!(
            describe(4, &notes, std::slice::from_ref(&one)),
            "4 lines were found. Marked: line ends in white space, at the top left (1, 3); in the middle (2)."
        );
    }
}
