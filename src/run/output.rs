//! What a run writes of a student: findings, the feedback page, and the row on the class page.

use super::cache::{Cache, ReadPage};
use super::class::Class;
use super::judge::{Verdict, load, source, worst_line};
use super::pages::Note;
use super::student_pdfs;
use crate::class::marks::Status;
use crate::class::whole;
use crate::geometry::{Point, Rect};
use crate::measure::findings::{Findings, IdeaRecord, MarkRecord, PanelRecord, SourcePage};
use crate::problem::Problem;
use crate::report;
use crate::rubric::{CriterionMark, Rubric};
use crate::worksheet::Panel;
use crate::worksheet::answer::field_lines;
use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

/// How feedback looks.
#[derive(Clone, Debug, Default)]
pub struct Look {
    pub show_field: report::ShowField,
    /// Words only.
    pub hide_marks: bool,
    /// As PDF too.
    pub pdf: bool,
    /// A worksheet an entry: the computed lines of all its panels.
    pub fields: Vec<Vec<Vec<Point>>>,
}

impl Look {
    /// As asked for; the computed lines of the class's worksheets.
    pub fn new(class: &Class, options: &super::Options) -> Self {
        Self {
            show_field: options.show_field,
            hide_marks: options.hide_marks,
            pdf: options.pdf,
            fields: class.sheets.iter().map(computed).collect(),
        }
    }

    /// The computed lines of panels of one page's own.
    fn field_of(&self, panels: &[Panel]) -> Vec<Vec<Point>> {
        match self.show_field {
            report::ShowField::No => Vec::new(),
            _ => panels
                .iter()
                .flat_map(|p| field_lines(p, &p.field(), FIELD_LINES))
                .map(|line| line.points)
                .collect(),
        }
    }

    fn field(&self, sheet: usize) -> Vec<Vec<Point>> {
        match self.show_field {
            report::ShowField::No => Vec::new(),
            _ => self.fields.get(sheet).cloned().unwrap_or_default(),
        }
    }
}

/// Whether the magnets on a page lie where its student put them.
fn is_traced(page: Option<&ReadPage>) -> bool {
    page.is_some_and(|p| p.cached.findings.panels.iter().any(|r| r.placed.is_some()))
}

/// How many computed lines a panel shows.
const FIELD_LINES: usize = 20;

/// The computed lines of a worksheet's panels.
pub fn computed(sheet: &super::class::Sheet) -> Vec<Vec<Point>> {
    let panels = sheet.worksheet.panels.iter().zip(&sheet.fields);
    panels.flat_map(|(p, f)| field_lines(p, f, FIELD_LINES)).map(|line| line.points).collect()
}

/// A file that could not be put together.
pub fn not_made(path: &Path, what: String) -> Problem {
    Problem::of_file(
        path,
        format!("could not be made ({what})"),
        "run again without this output, and tell the makers",
    )
}

/// Files of one student on the disk under temporary names.
pub type Staged = Vec<Option<(tempfile::TempPath, PathBuf)>>;

/// Prepares findings and feedback of a student who has a page.
///
/// Findings of earlier pages of the same student go to `CODE.1.json`, `CODE.2.json`, ... in scan order.
///
/// # Errors
/// The disk.
pub fn stage(
    class: &Class,
    look: &Look,
    cache: &Cache,
    notes: &[Note],
    verdict: &Verdict,
) -> Result<Staged, Problem> {
    let Some(n) = verdict.page else { return Ok(Vec::new()) };
    let code = &class.roster.students[verdict.student].code;
    let hash = &class.plans[verdict.student].rubric.hash;
    let mut staged = Vec::new();
    let read = load(cache, &notes[n]);
    if let Some(page) = &read {
        let bytes = findings(hash, &notes[n], page, code, &verdict.marks, &verdict.flags, &verdict.ideas)?;
        staged.push(whole::prepare(&class.folder.findings().join(format!("{code}.json")), &bytes)?);
    }
    for (k, earlier) in verdict.earlier.iter().enumerate() {
        if let Some(page) = load(cache, &notes[*earlier]) {
            let bytes = findings(hash, &notes[*earlier], &page, code, &[], &["twice".into()], &[])?;
            let name = format!("{code}.{}.json", k + 1);
            staged.push(whole::prepare(&class.folder.findings().join(name), &bytes)?);
        }
    }
    let student = report_student(class, look, cache, &notes[n], read, verdict);
    let html = report::feedback_page(&student);
    staged.push(whole::prepare(&class.folder.feedback().join(format!("{code}.html")), html.as_bytes())?);
    if look.pdf {
        let path = class.folder.feedback().join(format!("{code}.pdf"));
        let bytes = report::feedback_pdf(&student).map_err(|what| not_made(&path, what))?;
        staged.extend(student_pdfs::stage(class, code, &bytes)?);
    }
    Ok(staged)
}

fn findings(
    hash: &str,
    note: &Note,
    page: &ReadPage,
    code: &str,
    marks: &[CriterionMark],
    flags: &[String],
    ideas: &[IdeaRecord],
) -> Result<Vec<u8>, Problem> {
    let record = |m: &CriterionMark| (m.column.clone(), MarkRecord { marks: m.marks, chance: m.chance });
    let whole = Findings {
        rubric: hash.to_string(),
        code: code.to_string(),
        source: SourcePage { file: note.file.clone(), page: note.page },
        marks: marks.iter().map(record).collect(),
        flags: flags.to_vec(),
        ideas: ideas.to_vec(),
        ..page.cached.findings.clone()
    };
    let mut bytes = serde_json::to_vec(&whole).map_err(|error| {
        Problem::of_file(
            Path::new(&note.file),
            format!("its findings are no JSON ({error})"),
            "tell the makers",
        )
    })?;
    bytes.push(b'\n');
    Ok(bytes)
}

fn report_student(
    class: &Class,
    look: &Look,
    cache: &Cache,
    note: &Note,
    read: Option<ReadPage>,
    verdict: &Verdict,
) -> report::Student {
    let student = &class.roster.students[verdict.student];
    let sheet = &class.sheets[note.sheet].worksheet;
    let placed = read.as_ref().map_or_else(|| sheet.panels.clone(), |page| page.panels(sheet));
    let field = if is_traced(read.as_ref()) { look.field_of(&placed) } else { look.field(note.sheet) };
    let panels = read.map(|page| page.cached.findings.panels).unwrap_or_default();
    let picture = note.key.as_ref().and_then(|key| cache.shown(key)).map(|shown| {
        let [x0, y0, x1, y1] = shown.region;
        report::Picture::from_jpeg(Rect::new(x0, y0, x1, y1), shown.jpeg)
    });
    report::Student {
        code: student.code.clone(),
        name: student.name.clone(),
        worksheet: sheet.title.clone(),
        status: verdict.status,
        why: why(verdict, note),
        unsure_total: verdict.total_reasons(),
        total: verdict.total.value,
        out_of: verdict.total.out_of,
        grade: verdict.total.grade.clone(),
        says: verdict.total.says.clone(),
        terms: terms(class, verdict),
        words_only: look.hide_marks || class.plans[verdict.student].rubric.words_only,
        field: (look.show_field, field),
        ideas: verdict.ideas.clone(),
        language: class.plans[verdict.student].rubric.language.clone(),
        criteria: judged(&verdict.marks, &verdict.by),
        panels: sheets(&placed, panels, &class.plans[verdict.student].rubric),
        picture,
        source: source(note),
        recorded: true,
    }
}

/// A page's panels as the feedback shows them. `rubric`: whose words may name a line.
pub fn sheets(placed: &[Panel], records: Vec<PanelRecord>, rubric: &Rubric) -> Vec<report::Sheet> {
    let named = rubric.names_a_line();
    let one = |(panel, record): (&Panel, PanelRecord)| report::Sheet {
        frame: panel.frame,
        made_by: panel.made_by(),
        named_line: worst_line(&record).filter(|_| named).map(|(number, _)| number),
        record,
    };
    placed.iter().zip(records).map(one).collect()
}

/// How this student is marked otherwise than the class, in sentences.
fn terms(class: &Class, verdict: &Verdict) -> Vec<String> {
    let plan = &class.plans[verdict.student];
    let mut terms = Vec::new();
    if plan.tolerance > 1.0 {
        let wide = plan.rubric.criteria.iter();
        let titles: Vec<&str> = wide.filter(|c| c.is_widened()).map(|c| c.title.as_str()).collect();
        if !titles.is_empty() {
            terms.push(format!(
                "Marked with limits {} times as wide: {}.",
                plan.tolerance,
                titles.join("; ")
            ));
        }
    }
    if !plan.exempt.is_empty() {
        let titles: Vec<String> = plan.exempt.iter().map(|column| class.title(column)).collect();
        terms.push(format!("Not part of this student's marks: {}.", titles.join("; ")));
    }
    if plan.own_rubric.is_some() {
        terms.push(format!("Marked by a rubric of this student's own: {}.", plan.rubric.title));
    }
    if verdict.flags.iter().any(|flag| flag == "own-sheet") {
        terms.push("Drawn on a worksheet of this student's own.".to_string());
    }
    terms
}

/// Why a person should look at a student's page as a whole.
pub fn why(verdict: &Verdict, note: &Note) -> Vec<String> {
    let mut why = verdict.page_reasons();
    if verdict.status == Status::Unreadable {
        why.insert(
            0,
            match &note.seen {
                super::pages::Seen::Refused { what, fix } => format!("The page {what}; {fix}."),
                super::pages::Seen::OtherWorksheet(id) => format!("The page is one of the worksheet {id}."),
                super::pages::Seen::Blank => "The page is blank.".to_string(),
                _ => "No sheet of this worksheet was found on the page.".to_string(),
            },
        );
    }
    why
}

/// As [`why`], then why at the total or the grade.
pub fn whole_why(verdict: &Verdict, note: &Note) -> Vec<String> {
    [why(verdict, note), verdict.total_reasons()].concat()
}

/// A student's row on the class page.
pub fn report_row(class: &Class, notes: &[Note], verdict: &Verdict) -> report::Row {
    let student = &class.roster.students[verdict.student];
    let note = verdict.page.map(|n| &notes[n]);
    let has_marks = verdict.marks.iter().any(|m| m.marks.is_some());
    report::Row {
        code: student.code.clone(),
        name: student.name.clone(),
        status: verdict.status,
        total: verdict.total.value,
        out_of: verdict.total.out_of,
        grade: verdict.total.grade.clone(),
        criteria: if note.is_some() || has_marks { judged(&verdict.marks, &verdict.by) } else { Vec::new() },
        why: note.map(|n| whole_why(verdict, n)).unwrap_or_default(),
        spot: verdict.flags.iter().any(|flag| flag == "spot"),
        feedback: note.map(|_| format!("feedback/{}.html", student.code)),
        source: note.map(source).unwrap_or_default(),
    }
}

/// Marks for a page that people read.
pub fn judged(marks: &[CriterionMark], by: &[Option<String>]) -> Vec<report::Judged> {
    let who = |n: usize| by.get(n).cloned().flatten();
    let one = |(n, m): (usize, &CriterionMark)| report::Judged {
        column: m.column.clone(),
        title: m.title.clone(),
        panel: m.panel.clone(),
        kind: m.kind,
        marks: m.marks,
        out_of: m.out_of,
        chance: m.chance,
        say: if who(n).is_some() { String::new() } else { m.say.clone() },
        look: Verdict::mark_reasons(m),
        by: who(n),
    };
    marks.iter().enumerate().map(one).collect()
}

/// Removes what earlier runs wrote of students who now have no page, and PDFs that would contradict the pages beside them, but for
/// those that a person changed; says how many.
pub fn sweep(class: &Class, look: &Look, verdicts: &[Verdict]) -> Vec<String> {
    let (mut pdfs, mut kept) = (0, 0);
    let mut keep = BTreeSet::new();
    for verdict in verdicts.iter().filter(|v| v.page.is_some()) {
        let code = &class.roster.students[verdict.student].code;
        keep.insert(class.folder.findings().join(format!("{code}.json")));
        keep.insert(class.folder.feedback().join(format!("{code}.html")));
        // A PDF of an earlier run would contradict the page beside it.
        if look.pdf {
            keep.insert(class.folder.feedback().join(format!("{code}.pdf")));
        }
        keep.extend(
            (1..=verdict.earlier.len()).map(|k| class.folder.findings().join(format!("{code}.{k}.json"))),
        );
    }
    for (folder, ending) in [
        (class.folder.findings(), "json"),
        (class.folder.feedback(), "html"),
        (class.folder.feedback(), "pdf"),
    ] {
        let Ok(entries) = std::fs::read_dir(folder) else { continue };
        for path in entries.flatten().map(|entry| entry.path()) {
            if path.extension().is_some_and(|e| e == ending) && !keep.contains(&path) && is_ours(&path) {
                // One that stays is old, not wrong: marks.csv names the files that count.
                if ending != "pdf" {
                    let _ = std::fs::remove_file(path);
                } else if student_pdfs::remove(class, &path) {
                    pdfs += 1;
                } else {
                    kept += 1;
                }
            }
        }
    }
    let students = |n: usize| format!("{n} student{}", if n == 1 { "" } else { "s" });
    let removed = (pdfs > 0).then(|| {
        let of = students(pdfs);
        format!(
            "the PDFs of {of} in feedback were removed, as they may say other marks; --pdf writes new ones"
        )
    });
    let changed = (kept > 0).then(|| {
        let of = students(kept);
        format!("the PDFs of {of} in feedback were changed by a person: they are kept, though they may say other marks")
    });
    removed.into_iter().chain(changed).collect()
}

/// Whether a name is one that a run gives: CODE, or CODE.number for an earlier page.
fn is_ours(path: &Path) -> bool {
    let stem = path.file_stem().map(|s| s.to_string_lossy().into_owned()).unwrap_or_default();
    let code = match stem.split_once('.') {
        Some((code, number)) if number.bytes().all(|b| b.is_ascii_digit()) => code.to_string(),
        _ => stem,
    };
    crate::class::roster::check_code(&code).is_ok()
}
