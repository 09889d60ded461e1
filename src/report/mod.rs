//! Pages for people: the feedback page of one student ([`feedback_page`]) and the set on one page
//! ([`class_page`]), each one HTML file that needs nothing else: no network and no font file. The feedback page runs no script; the class page runs one of its own, for its table.
//!
//! They depend on little: on what is written of a page's measures ([`crate::measure::findings`]) and on
//! the small structures here, which the pipeline fills. Nothing on them is told by colour alone; they
//! print in black and white, and read at 320 pixels.
//!
//! Lengths in millimetres on the page, x right, y down.

mod advice;
mod class_page;
mod class_parts;
mod class_table;
mod density;
pub mod exports;
mod gather;
mod labels;
mod notes;
mod overlay;
mod pdf;
mod picture;
mod plots;
mod student_page;
mod style;
mod told;

use crate::class::marks::number as marks;
use crate::geometry::{Point, Rect};
use crate::measure::findings::{IdeaRecord, PanelRecord};
use crate::rubric::Kind;
use crate::worksheet::MadeBy;

pub use self::class_page::class_page;
pub use self::density::Density;
pub use self::pdf::{class_pdf, feedback_pdf, teacher_pdf};
pub use self::picture::Picture;
pub use self::student_page::feedback_page;
pub use crate::class::marks::Status;

/// A status as on a page: a sign that shows without colour, and a word.
fn words(status: Status) -> (&'static str, &'static str) {
    match status {
        Status::Proposed => ("\u{25CB}", "proposed"),
        Status::Look => ("\u{25C6}", "please look"),
        Status::Unreadable => ("\u{2715}", "cannot be read"),
        Status::Absent => ("\u{2013}", "no page"),
        Status::Excused => ("\u{2013}", "excused"),
    }
}

/// One criterion as judged.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Judged {
    /// The column in marks.csv.
    pub column: String,
    /// With the panel's id where the criterion is judged in each.
    pub title: String,
    /// That panel.
    pub panel: Option<String>,
    pub kind: Kind,
    /// `None`: could not be judged.
    pub marks: Option<f64>,
    pub out_of: f64,
    /// That the mark would be the same if everything had been read right, 0 to 1.
    pub chance: f64,
    /// What is said to the student.
    pub say: String,
    /// Why a person should look, in whole sentences; empty where nobody need.
    pub look: Vec<String>,
    /// Who set the mark and why, where a person did.
    pub by: Option<String>,
}

impl Judged {
    /// What it earned, in words: marks, an extra, or what is taken off.
    pub fn earned(&self) -> String {
        let most = marks(self.out_of.abs());
        let extra = |got: f64, what: &str| match marks(got.abs()).as_str() {
            "0" => format!("nothing {what}"),
            some => format!("{some} {what}"),
        };
        match (self.kind, self.marks) {
            (Kind::Ordinary, Some(got)) => format!("{} of {most}", marks(got)),
            (Kind::Ordinary, None) => format!("not judged (of {most})"),
            (Kind::Bonus, Some(got)) => extra(got, "extra"),
            (Kind::Bonus, None) => format!("not judged (up to {most} extra)"),
            (Kind::Penalty, Some(got)) => extra(got, "taken off"),
            (Kind::Penalty, None) => format!("not judged (up to {most} taken off)"),
        }
    }

    /// Whether marks were lost: some taken off, or fewer won than there were. Nothing is lost where a bonus is not won.
    fn is_short(&self) -> bool {
        let full = if self.kind == Kind::Penalty { 0.0 } else { self.out_of };
        self.kind != Kind::Bonus && self.marks.is_some_and(|got| got < full - MARK_SLACK)
    }
}

/// Slack when marks are held against full marks; marks are small decimals.
const MARK_SLACK: f64 = 1e-9;

/// One panel: its frame and what was measured in it.
#[derive(Clone, Debug)]
pub struct Sheet {
    /// As printed.
    pub frame: Rect,
    pub record: PanelRecord,
    pub made_by: MadeBy,
    /// The number within the panel, from 1, of the line that the rubric's words name.
    pub named_line: Option<usize>,
}

/// When a feedback page shows the computed field lines.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum ShowField {
    /// Faintly over the drawing.
    Yes,
    #[default]
    No,
    /// On request, below everything else; not printed.
    After,
}

/// All that a student's feedback page shows.
#[derive(Clone, Debug)]
pub struct Student {
    pub code: String,
    /// May be empty.
    pub name: String,
    /// The worksheet's title.
    pub worksheet: String,
    pub status: Status,
    /// Why a person should look at the page as a whole, or why it cannot be read; whole sentences.
    pub why: Vec<String>,
    /// Why a person should look at the total or the grade; whole sentences.
    pub unsure_total: Vec<String>,
    pub total: Option<f64>,
    pub out_of: f64,
    /// By name, where the rubric gives grades.
    pub grade: Option<String>,
    /// What limits on the total say.
    pub says: Vec<String>,
    /// How this student is marked otherwise than the class, whole sentences.
    pub terms: Vec<String>,
    /// No marks are shown.
    pub words_only: bool,
    /// The computed field lines, and when they are shown.
    pub field: (ShowField, Vec<Vec<Point>>),
    /// Usual ideas that the drawing suggests.
    pub ideas: Vec<IdeaRecord>,
    /// The language of what is said, where it is known.
    pub language: Option<String>,
    pub criteria: Vec<Judged>,
    pub panels: Vec<Sheet>,
    /// The page as scanned and flattened; none where it was not found.
    pub picture: Option<Picture>,
    /// File and page that this came from, as `class.pdf, page 3`.
    pub source: String,
    /// False for a self-check, of which nothing is kept.
    pub recorded: bool,
}

impl Student {
    /// Why a person should look, as the page says it: where no marks are shown, no total is spoken of.
    pub fn reasons(&self) -> impl Iterator<Item = &String> {
        let of_total: &[String] = if self.words_only { &[] } else { &self.unsure_total };
        self.why.iter().chain(of_total)
    }
}

/// A row of the class's table.
#[derive(Clone, Debug)]
pub struct Row {
    pub code: String,
    /// May be empty.
    pub name: String,
    pub status: Status,
    pub total: Option<f64>,
    pub out_of: f64,
    /// By name, where the rubric gives grades.
    pub grade: Option<String>,
    /// Those that are judged for this student; empty for a student without a page.
    pub criteria: Vec<Judged>,
    /// Why a person should look, whole sentences.
    pub why: Vec<String>,
    /// Chosen for a look although the machine is sure (flag `spot`).
    pub spot: bool,
    /// The feedback page, relative to the class page.
    pub feedback: Option<String>,
    /// File and page.
    pub source: String,
}

impl Row {
    /// The student's mark in a column.
    fn of(&self, heading: &Heading) -> Option<&Judged> {
        self.criteria.iter().find(|judged| judged.column == heading.column)
    }
}

/// A criterion over the whole class.
#[derive(Clone, Debug, PartialEq)]
pub struct Heading {
    pub column: String,
    pub title: String,
    pub kind: Kind,
    pub out_of: f64,
}

/// A file or page that gave no row.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Stray {
    /// As `class.pdf, page 3`.
    pub source: String,
    /// What is the matter.
    pub what: String,
    /// What to do.
    pub fix: String,
}

/// A page without a readable code.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Codeless {
    pub source: String,
    /// The code that the scan order suggests; never taken by itself.
    pub guess: Option<String>,
}

/// All that the class page shows.
#[derive(Clone, Debug)]
pub struct ClassSet {
    /// The worksheet's title.
    pub worksheet: String,
    /// The rubric's title.
    pub rubric: String,
    pub out_of: f64,
    pub criteria: Vec<Heading>,
    /// In roster order.
    pub rows: Vec<Row>,
    pub codeless: Vec<Codeless>,
    pub strays: Vec<Stray>,
    /// The most frequent first.
    pub ideas: Vec<IdeaShare>,
    /// All students' lines, and the computed ones.
    pub density: Option<Density>,
    pub field: Vec<Vec<Point>>,
    /// An earlier class.
    pub earlier: Option<Earlier>,
}

/// How many drawings of the class suggest an idea.
#[derive(Clone, Debug)]
pub struct IdeaShare {
    pub title: String,
    /// What to try next lesson.
    pub teacher: String,
    /// Where the idea is described.
    pub source: String,
    /// Students.
    pub count: usize,
    /// A few of them, the surest first.
    pub examples: Vec<Example>,
}

/// A drawing that suggests an idea.
#[derive(Clone, Debug)]
pub struct Example {
    pub code: String,
    /// The feedback page, relative to the class page.
    pub feedback: Option<String>,
    pub panels: Vec<Sheet>,
    /// The ids of the panels in which it shows.
    pub shown_in: Vec<String>,
    /// Where it shows, mm on the page.
    pub at: Vec<[f64; 2]>,
}

impl Example {
    /// The panels in which it shows, as `, panel B`; nothing where the sheet has only one.
    fn panel_words(&self) -> String {
        match self.shown_in.as_slice() {
            _ if self.panels.len() < 2 => String::new(),
            [] => String::new(),
            [one] => format!(", panel {one}"),
            [first @ .., last] => format!(", panels {} and {last}", first.join(", ")),
        }
    }
}

/// An earlier class beside this one.
#[derive(Clone, Debug, PartialEq)]
pub struct Earlier {
    pub name: String,
    /// How many students were judged, then and now.
    pub students: [usize; 2],
    /// What is compared, its share then and now.
    pub rows: Vec<(String, Option<f64>, Option<f64>)>,
}

/// What every page says of its marks.
const PROPOSAL: &str = "These marks are a proposal made by a program from a scan. The teacher decides.";

/// What a student's page says of what stands on it.
fn proposal(words_only: bool) -> &'static str {
    if words_only {
        "This feedback is a proposal made by a program from a scan. The teacher decides."
    } else {
        PROPOSAL
    }
}

#[cfg(test)]
mod made;
#[cfg(test)]
mod tests;
