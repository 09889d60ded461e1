//! Field lines begin and end on charges and plates: what was read as one line through such a source is two.
//!
//! The reader bridges what was printed, since a line may run on behind a magnet's outline. At a charge that joins lines
//! that came in from opposite sides.

use std::borrow::Cow;

use crate::drawing::{Arrow, Drawing, Line, Meeting};
use crate::geometry::{Point, polyline};
use crate::worksheet::{Outline, Panel, Source};

/// What is shorter beyond a charge is a stroke that was drawn too far, mm.
const STUB_MM: f64 = 3.0;
/// Ends nearer than this are those of a closed line, mm (contract).
const CLOSED_MM: f64 = 4.0;
/// A piece farther from a meeting than this has no part in it, mm.
const MEETS_MM: f64 = 2.0;

/// The drawing with its lines parted at charges and plates.
pub fn part<'a>(panel: &Panel, drawing: &'a Drawing) -> Cow<'a, Drawing> {
    let electric = panel.sources.iter().filter(|s| s.kind.is_electric());
    let outlines: Vec<Outline> = electric.map(Source::outline).collect();
    let inside = |p: &Point| outlines.iter().any(|o| o.contains(*p));
    if outlines.is_empty() {
        return Cow::Borrowed(drawing);
    }
    let mut parted = Drawing { lines: Vec::new(), ..drawing.clone() };
    // Where the pieces of each line went.
    let mut places = Vec::with_capacity(drawing.lines.len());
    for line in &drawing.lines {
        let from = parted.lines.len();
        parted.lines.extend(lines(line, pieces(&line.points, inside)));
        places.push(from..parted.lines.len());
    }
    let meets = drawing.meets.iter().map(|m| {
        let of = |line: usize| places.get(line).cloned().unwrap_or(0..0);
        let (a, b) =
            (nearest(&parted.lines, of(m.lines.0), m.at), nearest(&parted.lines, of(m.lines.1), m.at));
        let lines = match (a.as_slice(), b.as_slice()) {
            // A line that met itself: the two nearest of its pieces, where two are near.
            ([a, b, ..], _) if m.lines.0 == m.lines.1 => (*a, *b),
            ([a, ..], [b, ..]) => (*a, *b),
            _ => m.lines,
        };
        Meeting { lines, ..*m }
    });
    parted.meets = meets.collect();
    Cow::Owned(parted)
}

/// The pieces as lines, each arrowhead on the nearest.
fn lines(line: &Line, pieces: Vec<Vec<Point>>) -> Vec<Line> {
    let bare = |points| Line { points, arrows: Vec::new(), ..line.clone() };
    let mut lines: Vec<Line> = pieces.into_iter().map(bare).collect();
    for arrow in &line.arrows {
        let away = |l: &&mut Line| polyline::distance(arrow.at, &l.points);
        let nearest = lines.iter_mut().min_by(|a, b| away(a).total_cmp(&away(b)));
        nearest.into_iter().for_each(|l| l.arrows.push(Arrow { ..*arrow }));
    }
    lines
}

/// Of these lines the nearest one to a place, then those that are near, the nearer first.
fn nearest(lines: &[Line], of: std::ops::Range<usize>, at: Point) -> Vec<usize> {
    let mut away: Vec<(f64, usize)> = of.map(|i| (polyline::distance(at, &lines[i].points), i)).collect();
    away.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
    away.iter().enumerate().filter(|(n, (d, _))| *n == 0 || *d < MEETS_MM).map(|(_, (_, i))| *i).collect()
}

/// What of a line lies between the sources that it runs through; ends that lie in a source stay.
fn pieces(points: &[Point], inside: impl Fn(&Point) -> bool) -> Vec<Vec<Point>> {
    let (Some(first), Some(last)) =
        (points.iter().position(|p| !inside(p)), points.iter().rposition(|p| !inside(p)))
    else {
        return vec![points.to_vec()];
    };
    let mut pieces: Vec<Vec<Point>> = vec![points[..first].to_vec()];
    let mut was_inside = false;
    for p in &points[first..=last] {
        let is_inside = inside(p);
        if is_inside && !was_inside {
            pieces.push(Vec::new());
        }
        if let (false, Some(piece)) = (is_inside, pieces.last_mut()) {
            piece.push(*p);
        }
        was_inside = is_inside;
    }
    if let Some(piece) = pieces.last_mut() {
        piece.extend(&points[last + 1..]);
    }
    let closed = (points[0] - points[points.len() - 1]).hypot() < CLOSED_MM;
    if closed && pieces.len() > 1 && first == 0 {
        // It was read from somewhere along one of its pieces, all the way round.
        let start = pieces.remove(0);
        pieces.last_mut().into_iter().for_each(|piece| piece.extend(&start));
    }
    let long = |piece: &Vec<Point>| polyline::length(piece) >= STUB_MM;
    if pieces.len() > 1 && pieces.iter().any(long) {
        pieces.retain(long);
    }
    pieces
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::drawing::MeetKind;
    use crate::measure::{made, measure_panel};
    use crate::worksheet::Kind;

    const CHARGE: Kind = Kind::Charge { charge_nc: 10.0 };

    /// As the reader gives lines: points at most half a millimetre apart.
    fn fine(a: (f64, f64), b: (f64, f64)) -> Vec<Point> {
        polyline::resample(&made::straight(a, b), 0.5)
    }

    /// The source of `made` lies at (100, 100).
    #[test]
    fn a_line_through_a_charge_is_two_with_their_arrows_and_meetings() {
        let panel = made::with_source(CHARGE, None);
        let mut drawing =
            made::drawing(vec![fine((60.0, 100.0), (140.0, 100.0)), fine((120.0, 90.0), (120.0, 110.0))]);
        let way = crate::geometry::Vec2::new(1.0, 0.0);
        drawing.lines[0].arrows = [130.0, 70.0]
            .map(|x| Arrow { at: Point::new(x, 100.0), towards: way, sure: 0.9, way_sure: 0.9 })
            .to_vec();
        let at = Point::new(120.0, 100.0);
        drawing.meets = vec![Meeting { at, run: [at; 2], kind: MeetKind::Cross, lines: (0, 1), sure: 0.9 }];
        let parted = part(&panel, &drawing);
        assert_eq!(parted.lines.len(), 3);
        assert!(parted.lines[0].points.iter().all(|p| p.x < 98.1) && parted.lines[0].arrows[0].at.x == 70.0);
        assert!(
            parted.lines[1].points.iter().all(|p| p.x > 101.9) && parted.lines[1].arrows[0].at.x == 130.0
        );
        assert_eq!(parted.meets[0].lines, (1, 2));
        let found = measure_panel(&panel, &panel.field(), &drawing, 1);
        assert_eq!(found.measures.get("lines.count").unwrap().value, Some(3.0));
    }

    #[test]
    fn a_ring_through_a_charge_is_one_line_and_a_stub_beyond_is_none() {
        let inside = |p: &Point| (*p - Point::new(100.0, 100.0)).hypot() < 2.0;
        let ring = made::arc(20.0, 0.0, 359.0);
        let ring: Vec<Point> = ring.iter().map(|p| Point::new(p.x + 20.0, p.y)).collect();
        let [one] = pieces(&ring, inside).try_into().unwrap();
        assert!((one[0] - one[one.len() - 1]).hypot() < 6.0 && polyline::length(&one) > 115.0);
        let over = fine((60.0, 100.0), (104.0, 100.0));
        let [one] = pieces(&over, inside).try_into().unwrap();
        assert!(one.iter().all(|p| p.x < 98.1));
    }

    #[test]
    fn a_line_through_a_magnet_is_one() {
        let disc = Kind::Disc { diameter: 20.0, thickness: 5.0, remanence_mt: 400.0 };
        let drawing = made::drawing(vec![fine((60.0, 100.0), (140.0, 100.0))]);
        assert_eq!(part(&made::with_source(disc, None), &drawing).lines.len(), 1);
    }
}
