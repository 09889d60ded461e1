//! A student's pages to marks, flags and reasons: the machine's marks, a person's changes over them, and what
//! a person must look at.

use super::assign::Assignment;
use super::cache::{Cache, Outcome, ReadPage};
use super::class::{Class, Plan, panel_ids};
use super::pages::Note;
use crate::class::marks::{Row, Status};
use crate::class::roster::State;
use crate::ideas;
use crate::measure::PanelMeasures;
use crate::measure::findings::{IdeaRecord, PanelRecord};
use crate::rubric::{CriterionMark, Marks, PanelFacts, Rubric, Total};
use crate::worksheet::Worksheet;
use sha2::{Digest, Sha256};

/// Share of a frame covered by strokes that were read as nothing, above which a person should look: in a frame of A4
/// size a line of half a millimetre and 70 mm, so that no line is lost in silence. Empirical: 5 of 120 generated
/// sheets lie above it; a word of writing stays below.
const MOST_UNREAD_SHARE: f64 = 0.001;
/// So many lines of a panel may end on other lines before a person should look. Empirical: of 26 generated sheets with more,
/// 13 had a wrong mark; of 209 with up to one, 30.
const MOST_ENDS_ON_LINES: usize = 2;
/// A panel with lines, but with no more than this, nor more plotted dots: more may have been drawn than a pale copy shows, and
/// the ready rubrics judge from five lines on, so that one line that was not seen may cost all marks. Empirical: of 12
/// generated sheets of 1020 with so few, 2 had 12 and 20 lines; the cost is a look at the others.
const FEW: f64 = 4.0;
/// One in so many proposed rows is flagged `spot`.
const SPOT_EVERY: usize = 10;

/// A student's marks and what they rest on.
#[derive(Clone, Debug)]
pub struct Verdict {
    /// The student's place in the roster.
    pub student: usize,
    pub status: Status,
    pub marks: Vec<CriterionMark>,
    pub total: Total,
    /// Usual ideas that the drawing suggests.
    pub ideas: Vec<IdeaRecord>,
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
    let plan = &class.plans[student];
    let ids = panel_ids(&class.sheet_of(student).worksheet);
    let mut flags = Vec::new();
    let mut needs_look = false;
    let (mut status, mut marks) = match (&page, &read) {
        (None, _) if class.roster.students[student].state == State::Excused => {
            (Status::Excused, plan.rubric.unjudged(&ids))
        }
        (None, _) => (Status::Absent, plan.rubric.unjudged(&ids)),
        (Some(_), None) => (Status::Unreadable, plan.rubric.unjudged(&ids)),
        (Some(n), Some(_)) if notes[*n].sheet != plan.sheet => {
            needs_look = true;
            flags.push("other-sheet".into());
            (Status::Proposed, plan.rubric.unjudged(&ids))
        }
        (Some(_), Some(read)) => {
            needs_look = page_flags(class, student, read, &mut flags);
            (Status::Proposed, marks_of(&plan.rubric, read, &ids))
        }
    };
    if !earlier.is_empty() {
        flags.push("twice".into());
        needs_look = true;
    }
    let ideas = match (&read, page) {
        (Some(read), Some(n)) => ideas_of(&class.sheets[notes[n].sheet].worksheet, read),
        _ => Vec::new(),
    };
    let by = change(class, student, &mut marks.criteria);
    let total = plan.rubric.total(&marks);
    let settled = !by.is_empty() && by.iter().all(Option::is_some);
    if settled {
        status = Status::Proposed;
    } else if status == Status::Proposed
        && (needs_look || !total.flags.is_empty() || marks.criteria.iter().any(|m| m.look))
    {
        status = Status::Look;
    }
    if read.is_some() || settled {
        flags.extend(marks.criteria.iter().flat_map(|m| m.flags.iter().cloned()));
        flags.extend(total.flags.iter().cloned());
    }
    if let Some(n) = page {
        flags.extend(terms(plan, notes[n].sheet));
    }
    Verdict { student, status, marks: marks.criteria, total, ideas, by, flags, page, earlier }
}

/// The usual ideas that a page's drawings suggest, panel by panel; none where it is blank.
pub fn ideas_of(worksheet: &Worksheet, page: &ReadPage) -> Vec<IdeaRecord> {
    let Some(measures) = page.cached.measures().filter(|m| !is_blank(m)) else { return Vec::new() };
    let placed = page.panels(worksheet);
    let panels = placed.iter().zip(&page.cached.findings.panels).zip(&measures);
    panels.flat_map(|((panel, record), measures)| ideas::find(panel, record, measures)).collect()
}

/// What is special about how a student is marked, as flags; `drawn_on`: the sheet of the page that came.
fn terms(plan: &Plan, drawn_on: usize) -> Vec<String> {
    let mut flags: Vec<String> = plan.exempt.iter().map(|column| format!("{column}:exempt")).collect();
    if plan.tolerance > 1.0 {
        flags.push(format!("tolerance-{}", plan.tolerance));
    }
    if let Some(file) = &plan.own_rubric {
        let name: String = file.chars().map(|c| if c.is_whitespace() { '-' } else { c }).collect();
        flags.push(format!("own-rubric-{}", name.trim_end_matches(".yaml")));
    }
    if plan.sheet > 0 && plan.sheet == drawn_on {
        flags.push("own-sheet".into());
    }
    flags
}

/// The page behind a note, if it was read; its plotted dots as they stand to the class's.
pub fn load(cache: &Cache, note: &Note) -> Option<ReadPage> {
    match cache.get(note.key.as_ref()?)? {
        Outcome::Read(mut page) => {
            page.cached.shift_from(&note.class_steps);
            Some(*page)
        }
        _ => None,
    }
}

/// The machine's marks of a page; none where it is blank or its samples are not whole.
pub fn marks_of(rubric: &Rubric, page: &ReadPage, panels: &[&str]) -> Marks {
    match page.cached.measures() {
        Some(measures) if !is_blank(&measures) => {
            let records = &page.cached.findings.panels;
            // Lines are counted through all panels, so that a number names one line of the page.
            let mut before = 0;
            let mut facts = Vec::new();
            for (measures, record) in measures.iter().zip(records) {
                let worst_line = worst_line(record).map(|(number, angle)| (before + number, angle));
                facts.push(PanelFacts { measures, worst_line });
                before += record.lines.len();
            }
            let mut marks = rubric.mark(&facts);
            name_silent_measures(rubric, records, &mut marks);
            marks
        }
        _ => rubric.unjudged(panels),
    }
}

/// Gives criteria that are to be looked at because a measure tells nothing here that as their reason.
fn name_silent_measures(rubric: &Rubric, records: &[PanelRecord], marks: &mut Marks) {
    let silent = |name: &str| records.iter().any(|r| r.silent.iter().any(|s| s == name));
    for mark in marks.criteria.iter_mut().filter(|m| m.look) {
        let criterion = rubric.criterion(&mark.column);
        if criterion.is_some_and(|c| c.measures().iter().any(|m| silent(m.name))) {
            mark.flags = vec![format!("{}:measure-silent", mark.column)];
        }
    }
}

/// The number within its panel of the line with the greatest median angle to the field, the first of equals, and the angle.
pub fn worst_line(record: &PanelRecord) -> Option<(usize, f64)> {
    let angles = record.lines.iter().enumerate().filter_map(|(n, l)| Some((n + 1, l.angle_deg.median?)));
    angles.reduce(|a, b| if b.1 > a.1 { b } else { a })
}

/// Whether no line was found in any panel. Hard pencil on a pale copy looks so too: never a reason for marks.
fn is_blank(measures: &[PanelMeasures]) -> bool {
    let none = |p: &PanelMeasures, name: &str| p.get(name).and_then(|m| m.value).is_none_or(|v| v == 0.0);
    measures.iter().all(|p| none(p, "lines.count") && none(p, "dots.count"))
}

/// Whether so few lines were found in a panel that others may have been missed.
fn has_few_lines(measures: &[PanelMeasures]) -> bool {
    let value = |p: &PanelMeasures, name: &str| p.get(name).and_then(|m| m.value).unwrap_or(0.0);
    let few = |lines: f64| lines > 0.0 && lines <= FEW;
    measures.iter().any(|p| few(value(p, "lines.count")) && value(p, "dots.count") <= FEW)
}

/// Flags of how a page was read as a whole; for the sake of each a person should look.
pub fn reading_flags(page: &ReadPage) -> Vec<&'static str> {
    let measures = page.cached.measures();
    let panels = &page.cached.findings.panels;
    [
        ("blank", measures.as_ref().is_none_or(|m| is_blank(m))),
        ("few-lines", measures.as_ref().is_some_and(|m| has_few_lines(m))),
        ("crumbled", page.crumbled),
        ("rulings-left", page.rulings_left),
        ("not-registered", !page.registered),
        ("outline-unsure", page.doubts.outlines),
        ("poles-unread", page.doubts.poles),
        ("unread-ink", page.unread_share > MOST_UNREAD_SHARE),
        ("crossed-out", panels.iter().any(|p| !p.crossed_out.is_empty())),
        ("ends-on-lines", panels.iter().any(|p| p.ends_on_lines() > MOST_ENDS_ON_LINES)),
    ]
    .into_iter()
    .filter_map(|(flag, holds)| holds.then_some(flag))
    .collect()
}

/// Flags of the page as a whole; whether a person should look for their sake.
fn page_flags(class: &Class, student: usize, page: &ReadPage, flags: &mut Vec<String>) -> bool {
    let before = flags.len();
    flags.extend(reading_flags(page).into_iter().map(String::from));
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
            mark.worlds.clear();
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
    let worksheet = &class.sheet().worksheet.id;
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
        let mark = |(column, _): &(String, f64)| {
            self.marks.iter().find(|m| m.column == *column).and_then(|m| m.marks)
        };
        Row {
            code: student.code.clone(),
            name: student.name.clone(),
            status: self.status,
            total: self.total.value,
            out_of: self.total.out_of,
            grade: self.total.grade.clone(),
            marks: class.columns.iter().map(mark).collect(),
            flags: self.flags.clone(),
            feedback: if self.page.is_some() {
                format!("feedback/{}.html", student.code)
            } else {
                String::new()
            },
            source: self.page.map(|n| source(&notes[n])).unwrap_or_default(),
        }
    }

    /// Why a person should look at the page as a whole: whole sentences, the reasons of criteria, total and grade left
    /// out.
    pub fn page_reasons(&self) -> Vec<String> {
        self.flags.iter().filter(|flag| !flag.contains(':')).filter_map(|flag| explain(flag)).collect()
    }

    /// Why a person should look at the total or the grade.
    pub fn total_reasons(&self) -> Vec<String> {
        self.total.flags.iter().filter_map(|flag| explain(flag)).collect()
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
    if flag == "grade:near-edge" {
        return Some("What was read leaves room for another grade.".to_string());
    }
    let reason = flag.split_once(':').map_or(flag, |(_, reason)| reason);
    let sentence = match reason {
        "near-edge" => "What was read leaves room for another mark.",
        "measure-silent" => {
            "However well it is drawn, this field does not show this by what was measured: judge it by eye, or choose a \
             rubric that fits the arrangement."
        }
        "cap-near-edge" => "It is not sure whether a limit on the total holds.",
        "other-sheet" => "The page is of another worksheet than the roster gives this student.",
        "need-near-edge" => "It is not sure whether enough was drawn for this to be judged.",
        "maybe-empty" => "There may be too little on the page to judge this.",
        "no-value" => "There is too little on the page to judge this.",
        "no-panel" => "The panel that this looks at was not read.",
        "blank" => "No line was found: the sheet is blank, or the pencil too faint for this copy.",
        "not-registered" => "The printed frames were not found where they belong.",
        "outline-unsure" => {
            "The traced outline was found only in part, or something else on the page looks like it."
        }
        "poles-unread" => {
            "N and S could not be read at the traced magnet: which end is which is taken from the worksheet."
        }
        "ends-on-lines" => "Several lines seem to end on other lines: they may have been read in pieces.",
        "crossed-out" => {
            "A line seems to be crossed out, or has points marked on it by crosses: it was left out."
        }
        "few-lines" => "Hardly any lines were found: the pencil may be too faint for this copy.",
        "crumbled" => {
            "This copy shows the strokes in crumbs, and others perhaps not at all: hold it against the sheet itself."
        }
        "rulings-left" => {
            "The paper's own rulings could not all be told from the drawing: some may be taken for lines, or hide some."
        }
        "unread-ink" => "There is much ink that was read as no line.",
        "twice" => "There are several pages with this code; the last one is marked.",
        "roster-absent" => "The roster says that this student was absent.",
        "roster-excused" => "The roster says that this student is excused.",
        _ => return None,
    };
    Some(sentence.to_string())
}
