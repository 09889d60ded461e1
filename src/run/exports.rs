//! The files that a run writes on request, beside those it always writes.

use super::Options;
use super::class::Class;
use super::output::not_made;
use crate::class::marks::hash;
use crate::class::marks::{Row, cells};
use crate::problem::Problem;
use crate::report::{self, exports};
use std::path::{Path, PathBuf};

/// Files to be written, and what is worth saying of those that stand there unasked.
#[derive(Debug, Default)]
pub struct Exports {
    pub files: Vec<(PathBuf, Vec<u8>)>,
    pub notes: Vec<String>,
}

/// class.pdf, marks.xlsx and oneroster.zip: those that are asked for, and those of an earlier run, which would
/// contradict the marks beside them. One that a person changed since is kept, and named.
///
/// # Errors
/// One of them cannot be put together.
pub fn files(
    class: &Class,
    options: &Options,
    set: &report::ClassSet,
    rows: &[Row],
) -> Result<Exports, Problem> {
    let mut exports = Exports::default();
    let pdf = || report::class_pdf(set);
    let xlsx = || spreadsheet(class, set, rows);
    let oneroster = || {
        let sheet = &class.sheet().worksheet;
        let named = (sheet.id.as_str(), sheet.title.as_str());
        exports::oneroster(named, class.out_of, &set.criteria, rows, &|code, column| {
            asked(class, code, column)
        })
    };
    let kinds: [(&str, &str, bool, Make); 3] = [
        ("class.pdf", "--pdf", options.pdf, &pdf),
        ("marks.xlsx", "--xlsx", options.xlsx, &xlsx),
        ("oneroster.zip", "--oneroster", options.oneroster, &oneroster),
    ];
    for (name, option, asked, make) in kinds {
        let path = class.folder.root().join(name);
        if !asked && !path.is_file() {
            continue;
        }
        let bytes = make().map_err(|what| not_made(&path, what))?;
        let known = class.folder.cache().join(format!("{name}.sha256"));
        if !asked {
            match unasked(&path, &known, &bytes) {
                Unasked::Same => continue,
                Unasked::Changed => {
                    exports.notes.push(format!(
                        "{name} is of an earlier run and was changed since: it is kept. Remove it, or write it anew \
                         with {option}"
                    ));
                    continue;
                }
                Unasked::Old => {
                    exports
                        .notes
                        .push(format!("{name} of an earlier run was written again with these marks"));
                }
            }
        }
        exports.files.push((known, hash(&bytes).into_bytes()));
        exports.files.push((path, bytes));
    }
    Ok(exports)
}

/// Whether a criterion is asked of a student.
fn asked(class: &Class, code: &str, column: &str) -> exports::Asked {
    let Some(n) = class.roster.students.iter().position(|student| student.code == code) else {
        return exports::Asked::No;
    };
    let plan = &class.plans[n];
    if plan.exempt.iter().any(|exempt| exempt == column) {
        exports::Asked::Exempt
    } else if plan.rubric.criterion(column).is_some() {
        exports::Asked::Yes
    } else {
        exports::Asked::No
    }
}

/// Puts a file together.
type Make<'a> = &'a dyn Fn() -> Result<Vec<u8>, String>;

/// A file of an earlier run beside what this run would write.
enum Unasked {
    Same,
    Old,
    Changed,
}

fn unasked(path: &Path, known: &Path, bytes: &[u8]) -> Unasked {
    let Ok(old) = std::fs::read(path) else { return Unasked::Changed };
    let written = std::fs::read_to_string(known).unwrap_or_default();
    match old == bytes {
        true => Unasked::Same,
        false if hash(&old) == written.trim() => Unasked::Old,
        false => Unasked::Changed,
    }
}

fn spreadsheet(class: &Class, set: &report::ClassSet, rows: &[Row]) -> Result<Vec<u8>, String> {
    let columns: Vec<String> = class.columns.iter().map(|(name, _)| name.clone()).collect();
    let table = cells(&columns, rows, class.is_graded());
    let of = |heading: &report::Heading| exports::Criterion {
        heading: heading.clone(),
        rows: set
            .rows
            .iter()
            .filter_map(|row| {
                let judged = row.criteria.iter().find(|j| j.column == heading.column)?;
                Some((row.code.clone(), row.name.clone(), judged))
            })
            .collect(),
    };
    let criteria: Vec<_> = set.criteria.iter().map(of).collect();
    exports::xlsx(&table, &criteria)
}
