//! The files that a run writes on request, beside those it always writes.

use super::Options;
use super::class::Class;
use super::output::not_made;
use crate::class::marks::{Row, cells};
use crate::problem::Problem;
use crate::report::{self, exports};
use std::path::PathBuf;

/// class.pdf, marks.xlsx and oneroster.zip, those that are asked for.
///
/// # Errors
/// One of them cannot be put together.
pub fn files(
    class: &Class,
    options: &Options,
    set: &report::ClassSet,
    rows: &[Row],
) -> Result<Vec<(PathBuf, Vec<u8>)>, Problem> {
    let mut files = Vec::new();
    let at = |name: &str| class.folder.root().join(name);
    if options.pdf {
        let path = at("class.pdf");
        let bytes = report::class_pdf(set).map_err(|what| not_made(&path, what))?;
        files.push((path, bytes));
    }
    if options.xlsx {
        let path = at("marks.xlsx");
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
        files.push((path.clone(), exports::xlsx(&table, &criteria).map_err(|what| not_made(&path, what))?));
    }
    if options.oneroster {
        let path = at("oneroster.zip");
        let sheet = &class.sheet().worksheet;
        let made = exports::oneroster((&sheet.id, &sheet.title), class.out_of, &set.criteria, rows);
        files.push((path.clone(), made.map_err(|what| not_made(&path, what))?));
    }
    Ok(files)
}
