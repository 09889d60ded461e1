//! Everything that is printed on a sheet, and where: the printer draws it, the reader of scans finds the page by
//! it and takes it away. Millimetres on the page, x to the right, y down.
//!
//! What differs from sheet to sheet (code, name) is drawn by [`super::sheet`] into zones that stand here.

use kurbo::Circle;
use std::path::Path;

use super::code::{self, TooLong};
use super::header::{self, Furniture};
use super::lettering::{Face, bounds};
use super::poles;
use crate::geometry::{Point, Rect};
use crate::problem::Problem;
use crate::worksheet::Worksheet;

/// Edge of the page that copiers and printers leave blank, mm.
pub const MARGIN_MM: f64 = 8.0;
/// Distance of a fiducial's centre from the two page edges, mm: outside [`MARGIN_MM`] with a millimetre to spare.
pub const FIDUCIAL_INSET_MM: f64 = 12.0;
/// Outer diameter of a fiducial, mm.
pub const FIDUCIAL_MM: f64 = 6.0;
/// Width of the ring that tells the top-left fiducial from the others, mm.
pub const RING_MM: f64 = 1.0;
/// Diameter of the dot in that ring, mm.
pub const DOT_MM: f64 = 2.0;
/// Blank paper all round a frame, mm: students overshoot, and what they draw there must not meet print.
pub const BLANK_MM: f64 = 6.0;
/// Left and right edge of header and footer, mm from the page's edges.
pub const SIDE_MM: f64 = 20.0;
/// Side of the QR code without its quiet zone, mm.
pub const CODE_MM: f64 = 21.5;
/// Top of the QR code, mm.
pub const CODE_TOP_MM: f64 = 9.0;
/// Blank modules round a QR code (ISO/IEC 18004: four).
pub const QUIET_MODULES: f64 = 4.0;
/// Line width of a frame, mm.
pub const FRAME_STROKE_MM: f64 = 0.35;
/// Line width of a source's outline, mm.
pub const OUTLINE_STROKE_MM: f64 = 0.4;
/// Line width of the check line and of the line to write a name on, mm.
pub const RULE_STROKE_MM: f64 = 0.3;
/// Darkness (0 white, 1 black) of frames, outlines and pole letters: dark enough for a copier that knows only
/// black and white, lighter than ink.
pub const GUIDE_GREY: f64 = 0.55;
/// Length of the line that shows whether the sheet was printed at full size, mm.
pub const CHECK_LINE_MM: f64 = 100.0;
/// Half the height of the ticks at its ends, mm.
const CHECK_TICK_MM: f64 = 1.5;
/// Height of the check line above the page's lower edge, mm.
pub(super) const CHECK_LINE_UP_MM: f64 = 10.0;

/// One of the marks in the corners by which a page is found.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Fiducial {
    pub centre: Point,
    /// Outer diameter, mm.
    pub diameter_mm: f64,
    /// A ring ([`RING_MM`] wide) with a dot ([`DOT_MM`]) in it; the others are solid discs.
    pub ring: bool,
}

impl Fiducial {
    /// The discs it is made of, from the largest, with their darkness (0 white, 1 black), each over the one before.
    pub fn discs(&self) -> Vec<(Circle, f64)> {
        let radius = self.diameter_mm / 2.0;
        let mut discs = vec![(Circle::new(self.centre, radius), 1.0)];
        if self.ring {
            discs.push((Circle::new(self.centre, radius - RING_MM), 0.0));
            discs.push((Circle::new(self.centre, DOT_MM / 2.0), 1.0));
        }
        discs
    }
}

/// What a shape is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum What {
    /// A panel's frame.
    Frame,
    /// The outline of the source with this index in its panel.
    Outline { source: usize },
    /// Letters that belong to the source with this index in its panel.
    Letters { source: usize },
    /// The line that measures 100 mm.
    CheckLine,
}

/// How a shape's polygons are inked.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Ink {
    /// A line along each polygon (back to its first point where the shape is closed), mitred.
    Stroke { width_mm: f64, closed: bool },
    /// The polygons filled by the non-zero rule.
    Fill,
}

/// A printed shape.
#[derive(Clone, Debug, PartialEq)]
pub struct Shape {
    pub what: What,
    /// The panel's index, where it belongs to one.
    pub panel: Option<usize>,
    pub ink: Ink,
    /// Darkness, 0 white to 1 black.
    pub grey: f64,
    pub polygons: Vec<Vec<Point>>,
}

impl Shape {
    /// The box round its ink, line width included.
    pub fn bounds(&self) -> Rect {
        let grow = match self.ink {
            Ink::Stroke { width_mm, .. } => width_mm / 2.0,
            Ink::Fill => 0.0,
        };
        bounds(&self.polygons).unwrap_or_default().inflate(grow, grow)
    }
}

/// A line of text.
#[derive(Clone, Debug, PartialEq)]
pub struct TextLine {
    /// Left end of the baseline.
    pub at: Point,
    pub face: Face,
    /// The em, mm.
    pub em_mm: f64,
    /// Darkness, 0 white to 1 black.
    pub grey: f64,
    pub text: String,
}

impl TextLine {
    /// The box round it, kerning left out: from a little above the capitals to below the descenders.
    pub fn bounds(&self) -> Rect {
        let width = self.face.width_mm(&self.text, self.em_mm);
        Rect::new(self.at.x, self.at.y - 0.8 * self.em_mm, self.at.x + width, self.at.y + 0.22 * self.em_mm)
    }
}

/// Everything printed on the sheets of a worksheet.
#[derive(Clone, Debug, PartialEq)]
pub struct Layout {
    /// Width and height of the page, mm.
    pub page_mm: (f64, f64),
    /// Top-left, top-right, bottom-right, bottom-left.
    pub fiducials: [Fiducial; 4],
    /// The QR code without its quiet zone.
    pub code_box: Rect,
    /// Modules a side of the QR code.
    pub modules: usize,
    /// Side of a module, mm.
    pub module_mm: f64,
    /// Frames, outlines, pole letters, check line.
    pub shapes: Vec<Shape>,
    /// The text that is the same on all sheets.
    pub texts: Vec<TextLine>,
    /// Where the student's code stands.
    pub student_zone: Rect,
    /// Where the name stands or is written.
    pub name_zone: Rect,
    /// Where the code's letters stand.
    pub letters_zone: Rect,
}

impl Layout {
    /// The layout of a worksheet's sheets. Never fails: whether all finds room, [`check`] tells.
    pub fn of(worksheet: &Worksheet) -> Self {
        let (width, height) = worksheet.page_mm;
        let modules = code::modules_a_side(&worksheet.id, 1).unwrap_or(33);
        let right = width - SIDE_MM;
        let code_box = Rect::new(right - CODE_MM, CODE_TOP_MM, right, CODE_TOP_MM + CODE_MM);
        let Furniture { texts, student_zone, name_zone, letters_zone, .. } = header::furnish(worksheet);
        Self {
            page_mm: worksheet.page_mm,
            fiducials: fiducials(width, height),
            code_box,
            modules,
            module_mm: CODE_MM / modules as f64,
            shapes: shapes(worksheet),
            texts,
            student_zone,
            name_zone,
            letters_zone,
        }
    }

    /// The QR code with its quiet zone.
    pub fn code_zone(&self) -> Rect {
        let quiet = QUIET_MODULES * self.module_mm;
        self.code_box.inflate(quiet, quiet)
    }

    /// Every box that holds text: the same on all sheets, then code, name and the code's letters.
    pub fn text_zones(&self) -> Vec<Rect> {
        let zones = [self.student_zone, self.name_zone, self.letters_zone];
        self.texts.iter().map(TextLine::bounds).chain(zones).collect()
    }
}

/// The four marks, in the order of [`Layout::fiducials`].
fn fiducials(width: f64, height: f64) -> [Fiducial; 4] {
    let (near, far_x, far_y) = (FIDUCIAL_INSET_MM, width - FIDUCIAL_INSET_MM, height - FIDUCIAL_INSET_MM);
    [(near, near, true), (far_x, near, false), (far_x, far_y, false), (near, far_y, false)]
        .map(|(x, y, ring)| Fiducial { centre: Point::new(x, y), diameter_mm: FIDUCIAL_MM, ring })
}

/// The corners of a box, clockwise from the top left.
fn corners(r: Rect) -> Vec<Point> {
    vec![Point::new(r.x0, r.y0), Point::new(r.x1, r.y0), Point::new(r.x1, r.y1), Point::new(r.x0, r.y1)]
}

fn shapes(worksheet: &Worksheet) -> Vec<Shape> {
    let mut shapes = Vec::new();
    for (index, panel) in worksheet.panels.iter().enumerate() {
        let guide = |what, ink, polygons| Shape { what, panel: Some(index), ink, grey: GUIDE_GREY, polygons };
        let stroke = |width_mm| Ink::Stroke { width_mm, closed: true };
        shapes.push(guide(What::Frame, stroke(FRAME_STROKE_MM), vec![corners(panel.frame)]));
        for (source, magnet) in panel.sources.iter().enumerate() {
            let outline = magnet.outline().polygon;
            shapes.push(guide(What::Outline { source }, stroke(OUTLINE_STROKE_MM), vec![outline]));
            for letters in poles::letters(magnet) {
                shapes.push(guide(What::Letters { source }, Ink::Fill, letters));
            }
        }
    }
    shapes.push(check_line(worksheet.page_mm.1));
    shapes
}

/// The check line with a tick at either end; the ticks' outer edges are not what is measured, their middles are.
fn check_line(page_height: f64) -> Shape {
    let (x0, x1, y) = (SIDE_MM, SIDE_MM + CHECK_LINE_MM, page_height - CHECK_LINE_UP_MM);
    let tick = |x| vec![Point::new(x, y - CHECK_TICK_MM), Point::new(x, y + CHECK_TICK_MM)];
    Shape {
        what: What::CheckLine,
        panel: None,
        ink: Ink::Stroke { width_mm: RULE_STROKE_MM, closed: false },
        grey: 1.0,
        polygons: vec![vec![Point::new(x0, y), Point::new(x1, y)], tick(x0), tick(x1)],
    }
}

/// What does not find room on the page, all at once. `file` is the worksheet's file. The one home of how near to the
/// page's top and bottom a frame may come; its sides are [`crate::worksheet::FRAME_SIDE_MM`].
pub fn check(worksheet: &Worksheet, file: &Path) -> Vec<Problem> {
    let height = worksheet.page_mm.1;
    let furniture = header::furnish(worksheet);
    let (top, foot) = (furniture.head_mm + BLANK_MM, furniture.foot_mm - BLANK_MM);
    let mut problems = Vec::new();
    let mut say = |path: String, what: String, fix: String| {
        problems.push(Problem { file: file.to_owned(), place: None, path, what, fix });
    };
    if code::modules_a_side(&worksheet.id, 1) == Err(TooLong) {
        let fix = format!("write at most {} signs", code::LONGEST_ID);
        say("id".into(), "the id is too long for the code on the sheet".into(), fix);
    }
    for (text, path) in header::own_texts(worksheet) {
        if !Face::Regular.covers(text) || !Face::Bold.covers(text) {
            let what = "the sheet's font (Lato) has no sign for some letters of this text".into();
            say(path, what, "write it in Latin, Greek or Cyrillic letters".into());
        }
    }
    for (index, panel) in worksheet.panels.iter().enumerate() {
        let f = panel.frame;
        let path = || format!("panels[{index}].frame_mm");
        if f.y0 < top - 1e-6 {
            let what =
                format!("the frame begins at {} mm, but title and prompt need the page down to there", f.y0);
            let least = (10.0 * top).ceil() / 10.0;
            say(path(), what, format!("begin it at {least:.1} mm or lower, or shorten the prompt"));
        }
        if f.y1 > foot + 1e-6 {
            let what =
                format!("the frame ends at {} mm, but the check line and the cautions stand there", f.y1);
            let most = (10.0 * foot).floor() / 10.0;
            say(path(), what, format!("end it at {most:.1} mm or higher on a page of {height} mm"));
        }
    }
    problems
}
