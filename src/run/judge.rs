//! A student's pages to marks, flags and reasons: the machine's marks, a person's changes over them, and what
//! a person must look at.

use super::assign::Assignment;
use super::cache::{Cache, Outcome, ReadPage};
use super::class::{Class, panel_ids};
use super::pages::Note;
use crate::class::marks::{Row, Status};
use crate::class::roster::State;
use crate::measure::PanelMeasures;
use crate::measure::findings::PanelRecord;
use crate::rubric::{CriterionMark, PanelFacts, Rubric};
use sha2::{Digest, Sha256};

/// Share of a frame covered by strokes that were read as nothing, above which a person should look: in a frame of A4
/// size a line of half a millimetre and 70 mm, so that no line is lost in silence. Empirical: 5 of 120 generated
/// sheets lie above it; a word of writing stays below.
const MOST_UNREAD_SHARE: f64 = 0.001;
/// So many lines of a panel may end on other lines before a person should look. Empirical: of 26 generated sheets with more,
/// 13 had a wrong mark; of 209 with up to one, 30.
const MOST_ENDS_ON_LINES: usize = 2;
/// One in so many proposed rows is flagged `spot`.
const SPOT_EVERY: usize = 10;

/// A student's marks and what they rest on.
#[derive(Clone, Debug)]
pub struct Verdict {
    /// The student's place in the roster.
    pub student: usize,
    pub status: Status,
    pub marks: Vec<CriterionMark>,
    /// Who set a mark and why, a mark an entry; `None` for the machine's.
    pub by: Vec<Option<String>>,
    /// Page flags first, then the criteria's, then `spot`.
    pub flags: Vec<String>,
    /// The page that was marked, as its place in the notes.
    pub page: Option<usize>,
    /// Earlier pages of the same student.
    pub earlier: Vec<usize>,
}

/// Judges one student.
pub fn judge(
    class: &Class,
    cache: &Cache,
    notes: &[Note],
    assignment: &Assignment,
    student: usize,
) -> Verdict {
    let places = &assignment.pages[student];
    let (page, earlier) = match places.split_last() {
        Some((last, earlier)) => (Some(*last), earlier.to_vec()),
        None => (None, Vec::new()),
    };
    let read = page.and_then(|n| load(cache, &notes[n]));
    let ids = panel_ids(&class.sheet.worksheet);
    let mut flags = Vec::new();
    let mut needs_look = false;
    let (mut status, mut marks) = match (&page, &read) {
        (None, _) if class.roster.students[student].state == State::Excused => {
            (Status::Excused, unjudged(&class.rubric, &ids))
        }
        (None, _) => (Status::Absent, unjudged(&class.rubric, &ids)),
        (Some(_), None) => (Status::Unreadable, unjudged(&class.rubric, &ids)),
        (Some(_), Some(read)) => {
            needs_look = page_flags(class, student, read, &mut flags);
            (Status::Proposed, marks_of(&class.rubric, read, &ids))
        }
    };
    if !earlier.is_empty() {
        flags.push("twice".into());
        needs_look = true;
    }
    let by = change(class, student, &mut marks);
    let settled = !by.is_empty() && by.iter().all(Option::is_some);
    if settled {
        status = Status::Proposed;
    } else if status == Status::Proposed && (needs_look || marks.iter().any(|m| m.look)) {
        status = Status::Look;
    }
    if read.is_some() || settled {
        flags.extend(marks.iter().flat_map(|m| m.flags.iter().cloned()));
    }
    Verdict { student, status, marks, by, flags, page, earlier }
}

/// The page behind a note, if it was read.
pub fn load(cache: &Cache, note: &Note) -> Option<ReadPage> {
    match cache.get(note.key.as_ref()?)? {
        Outcome::Read(page) => Some(*page),
        _ => None,
    }
}

/// The machine's marks of a page; none where it is blank or its samples are not whole.
pub fn marks_of(rubric: &Rubric, page: &ReadPage, panels: &[&str]) -> Vec<CriterionMark> {
    match page.cached.measures() {
        Some(measures) if !is_blank(&measures) => {
            let records = &page.cached.findings.panels;
            let facts: Vec<PanelFacts> = measures
                .iter()
                .zip(records)
                .map(|(measures, record)| PanelFacts { measures, worst_angle_deg: worst_angle_deg(record) })
                .collect();
            rubric.mark(&facts)
        }
        _ => unjudged(rubric, panels),
    }
}

fn worst_angle_deg(record: &PanelRecord) -> Option<f64> {
    record.lines.iter().filter_map(|line| line.angle_deg.median).reduce(f64::max)
}

/// Whether no line was found in any panel. Hard pencil on a pale copy looks so too: never a reason for marks.
fn is_blank(measures: &[PanelMeasures]) -> bool {
    let none = |p: &PanelMeasures, name: &str| p.get(name).and_then(|m| m.value).is_none_or(|v| v == 0.0);
    measures.iter().all(|p| none(p, "lines.count") && none(p, "dots.count"))
}

/// No criterion could be judged.
fn unjudged(rubric: &Rubric, panels: &[&str]) -> Vec<CriterionMark> {
    rubric
        .columns(panels)
        .into_iter()
        .map(|(column, out_of)| CriterionMark {
            title: rubric.title_of(&column),
            column,
            out_of,
            marks: None,
            chance: 0.0,
            say: String::new(),
            look: true,
            flags: Vec::new(),
        })
        .collect()
}

/// Flags of the page as a whole; whether a person should look for their sake.
fn page_flags(class: &Class, student: usize, page: &ReadPage, flags: &mut Vec<String>) -> bool {
    let before = flags.len();
    let measures = page.cached.measures();
    if measures.as_ref().is_none_or(|m| is_blank(m)) {
        flags.push("blank".into());
    }
    if !page.registered {
        flags.push("not-registered".into());
    }
    if page.unread_share > MOST_UNREAD_SHARE {
        flags.push("unread-ink".into());
    }
    if page.cached.findings.panels.iter().any(|p| p.ends_on_lines() > MOST_ENDS_ON_LINES) {
        flags.push("ends-on-lines".into());
    }
    match class.roster.students[student].state {
        State::Present => {}
        State::Absent => flags.push("roster-absent".into()),
        State::Excused => flags.push("roster-excused".into()),
    }
    let look = flags.len() > before;
    if page.torn {
        flags.push("torn-corner".into());
    }
    look
}

/// Puts a person's marks over the machine's; who set each, where somebody did.
fn change(class: &Class, student: usize, marks: &mut [CriterionMark]) -> Vec<Option<String>> {
    let code = &class.roster.students[student].code;
    let mut by = Vec::new();
    for mark in marks.iter_mut() {
        let change = class.changes.of(code, &mark.column);
        if let Some(change) = change {
            mark.marks = Some(change.marks);
            mark.chance = 1.0;
            mark.look = false;
            mark.flags = vec![format!("{}:changed", mark.column)];
        }
        by.push(change.map(|c| match (c.by.as_str(), c.why.as_str()) {
            ("", "") => "in changes.csv".to_string(),
            ("", why) => why.to_string(),
            (who, "") => who.to_string(),
            (who, why) => format!("{who}: {why}"),
        }));
    }
    by
}

/// Flags one in [`SPOT_EVERY`] of the proposed rows, at least one: those whose code comes first in the order of
/// SHA-256 over worksheet and code, so that the choice is the same on every machine and nobody's wish.
pub fn flag_spots(class: &Class, verdicts: &mut [Verdict]) {
    let worksheet = &class.sheet.worksheet.id;
    let mut proposed: Vec<(Vec<u8>, usize)> = verdicts
        .iter()
        .enumerate()
        .filter(|(_, v)| v.status == Status::Proposed)
        .map(|(n, v)| {
            let code = &class.roster.students[v.student].code;
            (Sha256::digest(format!("{worksheet}/{code}").as_bytes()).to_vec(), n)
        })
        .collect();
    proposed.sort();
    let count = proposed.len().div_ceil(SPOT_EVERY);
    for (_, n) in proposed.into_iter().take(count) {
        verdicts[n].flags.push("spot".into());
    }
}

impl Verdict {
    /// The row of marks.csv.
    pub fn row(&self, class: &Class, notes: &[Note]) -> Row {
        let student = &class.roster.students[self.student];
        Row {
            code: student.code.clone(),
            name: student.name.clone(),
            status: self.status,
            out_of: class.out_of,
            marks: self.marks.iter().map(|m| m.marks).collect(),
            flags: self.flags.clone(),
            feedback: if self.page.is_some() {
                format!("feedback/{}.html", student.code)
            } else {
                String::new()
            },
            source: self.page.map(|n| source(&notes[n])).unwrap_or_default(),
        }
    }

    /// Why a person should look at the page as a whole: whole sentences, the criteria's reasons left out.
    pub fn page_reasons(&self) -> Vec<String> {
        self.flags.iter().filter(|flag| !flag.contains(':')).filter_map(|flag| explain(flag)).collect()
    }

    /// Why a person should look at a criterion.
    pub fn mark_reasons(mark: &CriterionMark) -> Vec<String> {
        if !mark.look {
            return Vec::new();
        }
        mark.flags.iter().filter_map(|flag| explain(flag)).collect()
    }
}

/// A page's file and number, as people read it.
pub fn source(note: &Note) -> String {
    format!("{} page {}", note.file, note.page)
}

/// A flag in a sentence; `None` where it asks for nothing.
pub fn explain(flag: &str) -> Option<String> {
    let reason = flag.split_once(':').map_or(flag, |(_, reason)| reason);
    let sentence = match reason {
        "near-edge" => "What was read leaves room for another mark.",
        "need-near-edge" => "It is not sure whether enough was drawn for this to be judged.",
        "maybe-empty" => "There may be too little on the page to judge this.",
        "no-value" => "There is too little on the page to judge this.",
        "no-panel" => "The panel that this looks at was not read.",
        "blank" => "No line was found: the sheet is blank, or the pencil too faint for this copy.",
        "not-registered" => "The printed frames were not found where they belong.",
        "ends-on-lines" => "Several lines seem to end on other lines: they may have been read in pieces.",
        "unread-ink" => "There is much ink that was read as no line.",
        "twice" => "There are several pages with this code; the last one is marked.",
        "roster-absent" => "The roster says that this student was absent.",
        "roster-excused" => "The roster says that this student is excused.",
        _ => return None,
    };
    Some(sentence.to_string())
}
