//! Where measures are taken, and the drawn lines cut to it: inside the frame, outside the sources'
//! outlines grown by 3 mm, and inside a coil. Millimetres on the page.

use std::ops::Range;

use crate::drawing::{Drawing, Line};
use crate::geometry::polyline::{length, resample, segment_distance};
use crate::geometry::{Point, Vec2};
use crate::worksheet::{Outline, Panel, PanelField};

/// What lies nearer than this to an outline is not measured: there the stroke meets the print (contract).
pub const GROWN_MM: f64 = 3.0;
/// A line counts when this much of it lies where measures are taken (contract).
pub const MIN_LINE_MM: f64 = 10.0;
/// Spacing of the points that lines are measured at (contract).
pub const STEP_MM: f64 = 0.5;
/// Strokes along the frame itself still count (contract).
const FRAME_SLACK_MM: f64 = 0.5;
/// Shorter pieces of a line are left out (contract: 2 mm).
const MIN_PIECE_POINTS: usize = 5;
/// How well the counted length of a line is read, one standard deviation. Empirical: both ends of a piece
/// are read to about half a millimetre.
pub const LENGTH_SD_MM: f64 = 0.7;
/// A line this much short of [`MIN_LINE_MM`] is never taken to count, this much over it always.
pub const LENGTH_DOUBT_MM: f64 = 3.0 * LENGTH_SD_MM;

/// The panel as the measures see it.
pub struct Region<'a> {
    pub panel: &'a Panel,
    pub field: &'a PanelField,
    /// Of each source.
    pub outlines: Vec<Shape>,
    /// The lines that count in some reading, in the drawing's order.
    pub lines: Vec<Traced<'a>>,
}

/// An outline and a disc that holds it, for quick answers.
pub struct Shape {
    pub outline: Outline,
    middle: Point,
    radius: f64,
}

/// One drawn line, evenly spaced, and the pieces of it that count.
pub struct Traced<'a> {
    /// Its index in [`Drawing::lines`].
    pub index: usize,
    pub line: &'a Line,
    /// [`STEP_MM`] apart.
    pub points: Vec<Point>,
    pub length_mm: f64,
    /// Runs of `points` that count.
    pub pieces: Vec<Range<usize>>,
    /// Length of the pieces.
    pub counted_mm: f64,
}

impl Shape {
    fn new(outline: Outline) -> Self {
        let n = outline.polygon.len().max(1) as f64;
        let middle = outline.polygon.iter().fold(Point::ZERO, |s, p| s + p.to_vec2() / n);
        let radius = outline.polygon.iter().map(|p| (*p - middle).hypot()).fold(0.0, f64::max);
        Self { outline, middle, radius }
    }

    /// Distance from the outline (0 inside), where it is at most `reach`; `None` beyond.
    pub fn distance_within(&self, p: Point, reach: f64) -> Option<f64> {
        if (p - self.middle).hypot() - self.radius > reach {
            return None;
        }
        Some(self.outline.distance(p)).filter(|d| *d <= reach)
    }

    /// Whether the straight way from `a` to `b` keeps more than `clearance` from the outline.
    pub fn clear_of(&self, a: Point, b: Point, clearance: f64) -> bool {
        if segment_distance(self.middle, a, b) > self.radius + clearance {
            return true;
        }
        // Inside a coil; its outline is a rectangle, so the way between two places inside stays inside.
        if self.outline.open && self.outline.contains(a) && self.outline.contains(b) {
            return true;
        }
        if self.outline.distance(a) <= clearance || self.outline.distance(b) <= clearance {
            return false;
        }
        let corners = &self.outline.polygon;
        (0..corners.len()).all(|i| {
            let (c, d) = (corners[i], corners[(i + 1) % corners.len()]);
            // Either they cross, or the least distance is taken at a corner (the ends of a, b are done above).
            segment_distance(c, a, b) > clearance && crossing(a, b, c, d).is_none()
        })
    }
}

/// Where the straight way from `a` to `b` crosses that from `c` to `d`: the share of the way from `a`.
pub fn crossing(a: Point, b: Point, c: Point, d: Point) -> Option<f64> {
    let (u, v, w) = (b - a, d - c, c - a);
    let det = u.cross(v);
    if det == 0.0 {
        return None;
    }
    let (s, t) = (w.cross(v) / det, w.cross(u) / det);
    ((0.0..=1.0).contains(&s) && (0.0..=1.0).contains(&t)).then_some(s)
}

impl<'a> Region<'a> {
    /// The panel and the lines of the drawing that count in some reading.
    pub fn new(panel: &'a Panel, field: &'a PanelField, drawing: &'a Drawing) -> Self {
        let outlines = panel.sources.iter().map(|s| Shape::new(s.outline())).collect();
        let mut region = Self { panel, field, outlines, lines: Vec::new() };
        let finite = |l: &&Line| l.points.iter().all(|p| p.is_finite());
        for (index, line) in drawing.lines.iter().enumerate().filter(|(_, l)| finite(l)) {
            let traced = region.trace(index, line);
            if traced.counted_mm >= MIN_LINE_MM - LENGTH_DOUBT_MM {
                region.lines.push(traced);
            }
        }
        region
    }

    fn trace(&self, index: usize, line: &'a Line) -> Traced<'a> {
        let points = resample(&line.points, STEP_MM);
        let mut pieces = Vec::new();
        let mut from = None;
        for i in 0..=points.len() {
            match (i < points.len() && self.counts(points[i]), from) {
                (true, None) => from = Some(i),
                (false, Some(a)) => {
                    if i - a >= MIN_PIECE_POINTS {
                        pieces.push(a..i);
                    }
                    from = None;
                }
                _ => {}
            }
        }
        let counted_mm = pieces.iter().map(|r| length(&points[r.clone()])).sum();
        Traced { index, line, length_mm: length(&points), points, pieces, counted_mm }
    }

    /// Whether measures are taken at a place.
    pub fn counts(&self, p: Point) -> bool {
        self.panel.frame.inflate(FRAME_SLACK_MM, FRAME_SLACK_MM).contains(p)
            && self.outlines.iter().all(|s| {
                s.distance_within(p, GROWN_MM).is_none() || (s.outline.open && s.outline.contains(p))
            })
    }

    /// The way the field points at each place, unit steps in the plane.
    pub fn directions(&self, places: &[Point]) -> Vec<Vec2> {
        self.field.direction_many(places)
    }
}

/// Distance of a place from the frame's edge; 0 outside.
pub fn inside_frame_mm(panel: &Panel, p: Point) -> f64 {
    let f = panel.frame;
    (p.x - f.x0).min(f.x1 - p.x).min(p.y - f.y0).min(f.y1 - p.y).max(0.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::measure::{ends, made};
    use crate::worksheet::Kind;

    /// A coil 80 x 40 mm: x 60 to 140, y 80 to 120. What is drawn inside counts, to its windings and open ends; outside them
    /// 3 mm do not. Gaps inside are seen, none through the windings.
    #[test]
    fn a_coils_inside_counts() {
        let panel =
            made::with_source(Kind::Coil { length: 80., diameter: 40., turns: 200., current_a: 1. }, None);
        let field = panel.field();
        let d = made::drawing(vec![made::straight((30.0, 90.0), (170.0, 90.0))]);
        let region = Region::new(&panel, &field, &d);
        let at = |x: f64, y: f64| region.counts(Point::new(x, y));
        assert!(at(100., 100.) && at(100., 81.) && at(61., 100.) && at(100., 76.) && at(56., 100.));
        assert!(!at(100., 78.) && !at(58., 100.));
        let pieces: Vec<usize> = region.lines[0].pieces.iter().map(|r| r.len()).collect();
        assert_eq!(pieces.len(), 3, "{pieces:?}");
        let coil = &region.outlines[0];
        assert!(coil.clear_of(Point::new(100., 82.), Point::new(100., 110.), GROWN_MM));
        assert!(!coil.clear_of(Point::new(100., 90.), Point::new(100., 70.), GROWN_MM));
    }

    /// Drawn through a coil and round, its two ends in the middle of it: closed, and no end on the coil.
    #[test]
    fn a_line_through_a_coil_may_close() {
        let panel =
            made::with_source(Kind::Coil { length: 80., diameter: 40., turns: 200., current_a: 1. }, None);
        let field = panel.field();
        let ring = [(99., 100.), (160., 100.), (160., 40.), (40., 40.), (40., 100.), (97., 100.)];
        let d = made::drawing(vec![ring.map(|(x, y)| Point::new(x, y)).to_vec()]);
        let region = Region::new(&panel, &field, &d);
        assert!(ends::Ends::new(&region, &region.lines[0]).on([0.0; 2]).is_none());
    }
}
