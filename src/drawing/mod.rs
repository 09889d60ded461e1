//! What a student drew in one panel: lines with arrowheads, meetings, plotted dots, each with its sureness.
//!
//! Millimetres on the page. Every candidate is kept, also those more likely not there than there
//! (`sure` below 0.5): the marks are judged over all the drawings that the ink may stand for.

use crate::geometry::{Point, Vec2};

/// A thing with at least this sureness is taken to be there.
pub const THERE: f64 = 0.5;

/// One panel's drawing.
#[derive(Clone, Debug, Default)]
pub struct Drawing {
    /// Lines in the order found; [`Meeting::lines`] points into it.
    pub lines: Vec<Line>,
    /// Places where lines cross or touch.
    pub meets: Vec<Meeting>,
    /// Plotted compass dots (dots that make up a line by themselves are a [`Line`]).
    pub dots: Vec<Dot>,
    /// Small crosses, dots and rings that stand by themselves, away from every line: no lines, and no meetings.
    pub marks: Vec<Mark>,
    /// What was left out, and why.
    pub dropped: Vec<Dropped>,
    /// Share of the frame (and the little round it that is read) covered by strokes that are none of the above, those of
    /// crossed-out lines included, 0 to 1.
    pub unread_share: f64,
    /// A black-and-white copy left but crumbs of the strokes: some may be gone without a trace.
    pub crumbled: bool,
    /// Rulings of the paper may have been read as lines, or hide some.
    pub rulings_left: bool,
}

/// One drawn line, pen lifts bridged.
#[derive(Clone, Debug)]
pub struct Line {
    /// The middle of the stroke, at most 0.5 mm apart, at least two points.
    pub points: Vec<Point>,
    /// Stroke width, mm.
    pub width_mm: f64,
    /// The arrowheads on it.
    pub arrows: Vec<Arrow>,
    /// That it is one line, rightly traced from end to end.
    pub sure: f64,
    /// That a line was drawn there at all.
    pub there: f64,
}

/// An arrowhead.
#[derive(Clone, Copy, Debug)]
pub struct Arrow {
    /// Its tip.
    pub at: Point,
    /// Unit step the way it points.
    pub towards: Vec2,
    /// That it is an arrowhead of this line.
    pub sure: f64,
    /// That it points this way rather than the other, given that it is one.
    pub way_sure: f64,
}

/// Crossing (the lines change sides) or touching (no white between the strokes).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum MeetKind {
    Cross,
    Touch,
}

/// A place where two lines meet, or one meets itself (both indices the same).
#[derive(Clone, Copy, Debug)]
pub struct Meeting {
    pub at: Point,
    /// Where no white parts the two: from here to here along the first line. A crossing's own place twice.
    pub run: [Point; 2],
    pub kind: MeetKind,
    /// Indices into [`Drawing::lines`].
    pub lines: (usize, usize),
    /// That the two really meet there.
    pub sure: f64,
}

/// A plotted compass dot.
#[derive(Clone, Copy, Debug)]
pub struct Dot {
    pub at: Point,
    pub radius_mm: f64,
    pub sure: f64,
}

/// What a [`Mark`] looks like.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum MarkKind {
    /// Two short strokes that cross.
    Cross,
    Dot,
    Ring,
}

/// A small sign at a place, as one marks a point on a page.
#[derive(Clone, Copy, Debug)]
pub struct Mark {
    /// Its middle.
    pub at: Point,
    pub kind: MarkKind,
    /// From side to side, mm.
    pub size_mm: f64,
    /// That it is one.
    pub sure: f64,
}

/// Ink that was taken for no part of the drawing.
#[derive(Clone, Debug)]
pub struct Dropped {
    pub at: Point,
    pub why: Clutter,
}

/// Why ink was left out.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Clutter {
    Speck,
    Writing,
    ShortStroke,
    CrossedOut,
}
