//! Where the numbers of marks and the names of lines stand on a drawing: near what they name, off one another and off the
//! marks as far as there is room. The screen and the paper share it.

use super::Sheet;
use super::notes::{self, Note};
use crate::geometry::{Point, Rect, Vec2};
use crate::print::lettering::Face;

/// Height of the numbers, mm.
pub(super) const NUMBER_MM: f64 = 5.0;

/// White kept round a label, mm.
const RIM_MM: f64 = 0.4;

/// Radius within which a mark has its strokes, mm ([`super::overlay`]).
const MARK_MM: f64 = 4.4;

/// How far a number's middle stands from its place, mm, nearest first.
const STEPS_MM: [f64; 3] = [7.0, 10.0, 14.0];

/// Ways in which a number may stand, in the order tried (page axes, y down).
const WAYS: [(f64, f64); 8] =
    [(0.7, -0.7), (-0.7, -0.7), (0.7, 0.7), (-0.7, 0.7), (1.0, 0.0), (-1.0, 0.0), (0.0, -1.0), (0.0, 1.0)];

/// Where along a line its name may stand, in the order tried: a third of the way along few lines meet.
const ALONG: [f64; 9] = [0.33, 0.25, 0.42, 0.17, 0.5, 0.58, 0.67, 0.75, 0.83];

/// How far beside its line a name may stand, mm.
const BESIDE_MM: [f64; 5] = [0.0, 4.0, -4.0, 8.0, -8.0];

/// A label that leaves the drawing is worse than any crowding, mm.
const OUTSIDE: f64 = 1000.0;

/// Words on the drawing.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Label {
    pub text: String,
    /// Its middle.
    pub at: Point,
    /// The name of a line, else the number of a mark.
    pub is_line: bool,
}

impl Label {
    /// The paper that it takes.
    pub(super) fn room(&self) -> Rect {
        room(&self.text, self.at)
    }
}

fn room(text: &str, at: Point) -> Rect {
    let half = Vec2::new(Face::Bold.width_mm(text, NUMBER_MM) / 2.0 + RIM_MM, NUMBER_MM * 0.45);
    Rect::from_points(at - half, at + half)
}

/// The number of each note, then the name of each line that the words name. Greedy, in this order; always the same for the same
/// notes and panels.
pub(super) fn labels(notes: &[Note], panels: &[Sheet], region: Rect) -> Vec<Label> {
    let mut labels: Vec<Label> = Vec::new();
    let mut put = |text: String, candidates: Vec<Point>, is_line: bool| {
        let cost = |at: Point| crowding(room(&text, at), notes, &labels, region);
        let best =
            candidates.into_iter().map(|at| (cost(at), at)).reduce(|a, b| if b.0 < a.0 { b } else { a });
        if let Some((_, at)) = best {
            labels.push(Label { text, at, is_line });
        }
    };
    for note in notes {
        let step = |(x, y): (f64, f64), mm: f64| Vec2::new(x, y) * mm;
        let places = &note.places;
        let candidates = STEPS_MM.iter().flat_map(|mm| {
            WAYS.iter().flat_map(move |way| places.iter().map(move |at| *at + step(*way, *mm)))
        });
        put(note.number.to_string(), candidates.collect(), false);
    }
    for (number, points) in notes::named_lines(panels) {
        put(format!("line {number}"), beside(points), true);
    }
    labels
}

/// Places on a line and beside it.
fn beside(points: &[[f64; 2]]) -> Vec<Point> {
    let at = |n: usize| points.get(n).or(points.last()).map(|p| Point::new(p[0], p[1]));
    let mut places = Vec::new();
    for aside in BESIDE_MM {
        for share in ALONG {
            let n = (points.len() as f64 * share) as usize;
            let (Some(here), Some(next)) = (at(n), at(n + 1)) else { continue };
            let step = next - here;
            let normal = Vec2::new(-step.y, step.x) / step.hypot().max(1e-9);
            places.push(here + normal * aside);
        }
    }
    places
}

/// How much a label there would lie on marks, on other labels and outside the drawing, mm.
fn crowding(room: Rect, notes: &[Note], labels: &[Label], region: Rect) -> f64 {
    let off = |p: Point| {
        let near = Point::new(p.x.clamp(room.x0, room.x1), p.y.clamp(room.y0, room.y1));
        (p - near).hypot()
    };
    let marks: f64 = notes.iter().flat_map(|n| &n.places).map(|at| (MARK_MM - off(*at)).max(0.0)).sum();
    let covered: f64 = labels
        .iter()
        .map(|other| other.room().intersect(room))
        .filter(|both| both.width() > 0.0 && both.height() > 0.0)
        .map(|both| NUMBER_MM + both.area())
        .sum();
    let inside = region.union(room) == region;
    marks + 2.0 * covered + if inside { 0.0 } else { OUTSIDE }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::made::sheet;
    use crate::report::picture::Picture;

    fn covered(labels: &[Label]) -> usize {
        let pairs = labels.iter().enumerate().flat_map(|(n, a)| labels[..n].iter().map(move |b| (a, b)));
        pairs.filter(|(a, b)| a.room().overlaps(b.room())).count()
    }

    /// A line's name stood a third of the way along whatever was there, and a mark's number could be written over it.
    #[test]
    fn a_lines_name_and_the_numbers_of_marks_keep_off_one_another() {
        let mut one = sheet();
        let region = Picture::region_of([one.frame]).unwrap();
        for line in 1..=one.record.lines.len() {
            one.named_line = Some(line);
            let points = &one.record.lines[line - 1].points_mm;
            let third = points[points.len() / 3];
            // A mark so placed that its first choice for a number is where the name wants to stand.
            let mut crowded = one.clone();
            let end = &mut crowded.record.lines[9].ends[1];
            end.at_mm = [third[0] - 0.7 * 7.0, third[1] + 0.7 * 7.0];
            let sheets = [crowded];
            let labels = labels(&notes::of(&sheets), &sheets, region);
            assert!(labels.iter().any(|l| l.is_line && l.text == format!("line {line}")));
            assert_eq!(covered(&labels), 0, "line {line}: {labels:?}");
        }
    }

    #[test]
    fn no_label_leaves_the_drawing() {
        let mut one = sheet();
        let frame = one.frame;
        for (n, corner) in [(frame.x0, frame.y0), (frame.x1, frame.y1)].into_iter().enumerate() {
            one.record.lines[9 + n].ends[1].at_mm = [corner.0, corner.1];
        }
        let region = Picture::region_of([frame]).unwrap();
        let labels = labels(&notes::of(std::slice::from_ref(&one)), &[one], region);
        assert!(labels.iter().all(|l| region.union(l.room()) == region), "{labels:?}");
    }
}
