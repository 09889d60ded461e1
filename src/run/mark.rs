//! `lodemark mark`: scans/ to marks.csv, findings/, feedback/, class.html and who.csv.

use super::assign::{Assignment, assign, who_rows};
use super::cache::Cache;
use super::class::{Class, Sheet};
use super::drawings::{class_drawings, idea_shares};
use super::judge::{Verdict, flag_spots, judge, source};
use super::pages::{Catalogue, Seen, read_all};
use super::summary::{Counts, Person, Summary};
use super::{Failure, Options, earlier, exports, output, scans, steady};
use crate::class::marks::Status;
use crate::class::{marks, who, whole};
use crate::print::lettering::Face;
use crate::problem::Problem;
use crate::report;
use rayon::prelude::*;
use std::collections::BTreeSet;
use std::fs::File;
use std::path::Path;
use std::time::Instant;

/// Reads the scans of a class and writes its marks.
///
/// # Errors
/// [`Failure::Unusable`]: nothing was written. [`Failure::Stopped`]: each file is whole, old or new.
pub fn mark(root: &Path, options: &Options) -> Result<Summary, Failure> {
    let started = Instant::now();
    let class = Class::load(root, options.language.as_deref())?;
    let files = scans::list(&class.folder)?;
    let earlier = options.earlier.as_deref().map(earlier::read).transpose()?;
    let caches = caches(&class);
    let cache = &caches[0].1;
    whole::folder(&cache.pages()).map_err(Failure::Stopped)?;
    let _alone = lock(&class)?;
    for folder in [class.folder.cache(), cache.pages()] {
        whole::sweep(&folder);
    }
    let pool = options.pool()?;
    let mut catalogue = pool.install(|| read_all(&caches, &files, options.progress))?;
    let assignment = assign(&catalogue.notes, &class.roster, &class.who);
    steady::settle(&mut catalogue.notes, &assignment);
    let verdicts = pool.install(|| {
        let students = (0..class.roster.students.len()).into_par_iter();
        students.map(|s| judge(&class, cache, &catalogue.notes, &assignment, s)).collect::<Vec<_>>()
    });
    let run = Run {
        class: &class,
        cache,
        catalogue: &catalogue,
        assignment: &assignment,
        look: output::Look::new(&class, options),
        options,
        earlier,
    };
    let (verdicts, written, notes) = run.write(verdicts, &pool)?;
    cache.keep_only(&catalogue.keys);
    let mut summary = run.summary(&verdicts, written, files.len(), started);
    summary.notes.extend(notes);
    Ok(summary)
}

/// The class's worksheets, each with the cache for its pages.
pub(super) fn caches(class: &Class) -> Vec<(&Sheet, Cache)> {
    let cache = |sheet: &Sheet| Cache::new(class.folder.cache(), &sheet.worksheet);
    class.sheets.iter().map(|sheet| (sheet, cache(sheet))).collect()
}

/// Keeps two runs from working in one folder; the lock falls when the program ends, however it ends.
fn lock(class: &Class) -> Result<File, Failure> {
    let path = class.folder.cache().join("lock");
    let stopped = |what: String, fix: &str| Failure::Stopped(Problem::of_file(&path, what, fix));
    let file = File::options().create(true).truncate(false).write(true).open(&path);
    let file =
        file.map_err(|e| stopped(format!("cannot be made ({e})"), "check that you may write there"))?;
    match file.try_lock() {
        Ok(()) => Ok(file),
        Err(std::fs::TryLockError::WouldBlock) => {
            Err(stopped("another lodemark works in this folder".into(), "wait until it has finished"))
        }
        // A disk that knows no locks: work without one.
        Err(std::fs::TryLockError::Error(_)) => Ok(file),
    }
}

struct Run<'a> {
    class: &'a Class,
    cache: &'a Cache,
    catalogue: &'a Catalogue,
    assignment: &'a Assignment,
    look: output::Look,
    options: &'a Options,
    earlier: Option<earlier::Past>,
}

impl Run<'_> {
    /// Writes everything: the slow part under temporary names first, then all names at once, marks.csv last.
    fn write(
        &self,
        mut verdicts: Vec<Verdict>,
        pool: &rayon::ThreadPool,
    ) -> Result<(Vec<Verdict>, marks::Written, Vec<String>), Failure> {
        let (class, notes) = (self.class, &self.catalogue.notes);
        flag_spots(class, &mut verdicts);
        for folder in [class.folder.findings(), class.folder.feedback()] {
            whole::folder(&folder).map_err(Failure::Stopped)?;
            whole::sweep(&folder);
        }
        whole::sweep(class.folder.root());
        let staged: Result<Vec<_>, Problem> = pool.install(|| {
            verdicts.par_iter().map(|v| output::stage(class, &self.look, self.cache, notes, v)).collect()
        });
        let mut batch = whole::Batch::new();
        for file in staged.map_err(Failure::Stopped)?.into_iter().flatten() {
            batch.add(file);
        }
        let set = self.class_set(&verdicts);
        let page = report::class_page(&set);
        let ready = whole::prepare(&class.folder.class_page(), page.as_bytes());
        batch.add(ready.map_err(Failure::Stopped)?);
        let rows: Vec<marks::Row> = verdicts.iter().map(|v| v.row(class, notes)).collect();
        let exports = exports::files(class, self.options, &set, &rows).map_err(Failure::Stopped)?;
        for (path, bytes) in exports.files {
            batch.add(whole::prepare(&path, &bytes).map_err(Failure::Stopped)?);
        }
        let owners = who_rows(self.assignment, notes, &class.who);
        if !owners.is_empty() || class.folder.who().exists() {
            let ready = whole::prepare(&class.folder.who(), who::text(&owners).as_bytes());
            batch.add(ready.map_err(Failure::Stopped)?);
        }
        batch.commit().map_err(Failure::Stopped)?;
        let columns: Vec<String> = class.columns.iter().map(|(name, _)| name.clone()).collect();
        let written = marks::write(&class.folder, &marks::text(&columns, &rows, class.is_graded()))
            .map_err(Failure::Stopped)?;
        let mut notes = exports.notes;
        notes.extend(output::sweep(class, &self.look, &verdicts));
        notes.extend(self.letters_lacking(&verdicts));
        Ok((verdicts, written, notes))
    }

    /// That PDFs show boxes for letters that their font lacks, and which.
    fn letters_lacking(&self, verdicts: &[Verdict]) -> Option<String> {
        /// Letters that are named.
        const MOST_NAMED: usize = 12;
        if !self.options.pdf {
            return None;
        }
        let class = self.class;
        let marks = verdicts.iter().flat_map(|v| &v.marks).flat_map(|m| [m.title.as_str(), m.say.as_str()]);
        let words = marks
            .chain(verdicts.iter().flat_map(|v| v.total.says.iter().map(String::as_str)))
            .chain(class.roster.students.iter().map(|s| s.name.as_str()))
            .chain(class.sheets.iter().map(|s| s.worksheet.title.as_str()))
            .chain([class.rubric.title.as_str()]);
        let lacking: BTreeSet<char> = words
            .flat_map(str::chars)
            .filter(|c| !Face::Regular.covers(c.encode_utf8(&mut [0; 4])))
            .collect();
        if lacking.is_empty() {
            return None;
        }
        let named: Vec<String> = lacking.iter().take(MOST_NAMED).map(char::to_string).collect();
        let more = if lacking.len() > MOST_NAMED { " and others" } else { "" };
        Some(format!(
            "the PDFs show boxes in place of letters that their font lacks ({}{more}): give out the HTML pages, which a \
             browser prints",
            named.join(" ")
        ))
    }

    fn class_set(&self, verdicts: &[Verdict]) -> report::ClassSet {
        let (class, notes) = (self.class, &self.catalogue.notes);
        let heading = |(column, out_of): &(String, f64)| report::Heading {
            column: column.clone(),
            title: class.title(column),
            kind: class.kind(column),
            out_of: *out_of,
        };
        let drawings = class_drawings(class, self.cache, notes, verdicts);
        let first: Vec<Vec<report::Sheet>> =
            drawings.iter().filter(|d| d.sheet == 0 && !d.traced()).map(|d| d.panels.clone()).collect();
        report::ClassSet {
            worksheet: class.sheet().worksheet.title.clone(),
            rubric: class.rubric.title.clone(),
            out_of: class.out_of,
            criteria: class.columns.iter().map(heading).collect(),
            rows: verdicts.iter().map(|v| output::report_row(class, notes, v)).collect(),
            codeless: self.codeless(),
            strays: self.strays(),
            ideas: idea_shares(&drawings),
            density: report::Density::new(&first),
            field: self.look.fields.first().cloned().unwrap_or_default(),
            earlier: self.earlier.as_ref().map(|past| past.beside(class, verdicts)),
        }
    }

    fn codeless(&self) -> Vec<report::Codeless> {
        let one = |open: &super::assign::Open| report::Codeless {
            source: source(&self.catalogue.notes[open.note]),
            guess: open.guess.clone(),
        };
        self.assignment.open.iter().map(one).collect()
    }

    /// Files and pages that gave no row: what is the matter, and what to do.
    fn strays(&self) -> Vec<report::Stray> {
        let files = self.catalogue.bad_files.iter().map(|bad| report::Stray {
            source: bad.file.clone(),
            what: bad.what.clone(),
            fix: bad.fix.clone(),
        });
        let pages = self.assignment.strays.iter().map(|n| {
            let note = &self.catalogue.notes[*n];
            let (what, fix) = match &note.seen {
                Seen::Refused { what, fix } => (what.clone(), fix.clone()),
                Seen::OtherWorksheet(id) => (
                    format!("is a page of the worksheet {id}"),
                    "put it into the scans of that worksheet's class".to_string(),
                ),
                _ => (
                    "is no page of this worksheet: its corner discs were not found".to_string(),
                    "scan the whole sheet, corners and all, or give it a code in who.csv and mark it by hand"
                        .to_string(),
                ),
            };
            report::Stray { source: source(note), what, fix }
        });
        files.chain(pages).collect()
    }

    fn summary(
        &self,
        verdicts: &[Verdict],
        written: marks::Written,
        files: usize,
        started: Instant,
    ) -> Summary {
        let class = self.class;
        let count = |status| verdicts.iter().filter(|v| v.status == status).count();
        let counts = Counts {
            students: verdicts.len(),
            proposed: count(Status::Proposed),
            look: count(Status::Look),
            unreadable: count(Status::Unreadable),
            absent: count(Status::Absent),
            excused: count(Status::Excused),
            files,
            pages: self.catalogue.notes.len(),
            pages_read: self.catalogue.newly_read,
            blank: self.assignment.blank.len(),
        };
        let mut people: Vec<Person> = verdicts.iter().filter_map(|v| self.person(v)).collect();
        people.extend(self.assignment.open.iter().map(|open| {
            let guess = open.guess.as_ref().map(|g| format!(" (the scan order suggests {g})"));
            Person {
                code: None,
                source: source(&self.catalogue.notes[open.note]),
                why: vec![format!(
                    "{}: write its owner into who.csv{}",
                    open.why.words(),
                    guess.unwrap_or_default()
                )],
            }
        }));
        people.extend(self.strays().into_iter().map(|stray| Person {
            code: None,
            source: stray.source,
            why: vec![format!("{}; {}", stray.what, stray.fix)],
        }));
        let mut notes = class.notes.clone();
        notes.extend(written.why_beside.clone());
        Summary {
            counts,
            people,
            notes,
            marks: written.path.display().to_string(),
            class_page: class.folder.class_page().display().to_string(),
            kept_beside: written.why_beside.is_some(),
            seconds: started.elapsed().as_secs_f64(),
        }
    }

    /// What a person must do about a student's row, if anything.
    fn person(&self, verdict: &Verdict) -> Option<Person> {
        if !matches!(verdict.status, Status::Look | Status::Unreadable) {
            return None;
        }
        let note = &self.catalogue.notes[verdict.page?];
        let mut why = output::whole_why(verdict, note);
        if !verdict.flags.iter().any(|flag| flag == "blank") {
            let unsure = verdict.marks.iter().filter(|m| m.look && verdict.status == Status::Look);
            why.extend(unsure.flat_map(|m| {
                Verdict::mark_reasons(m).into_iter().map(move |reason| format!("{}: {reason}", m.column))
            }));
        }
        let code = Some(self.class.roster.students[verdict.student].code.clone());
        Some(Person { code, source: source(note), why })
    }
}
