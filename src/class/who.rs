//! who.csv: pages whose owner the code did not tell, for a person to fill in.
//!
//! `mark` writes a row a page with the scan order's guess; a person writes the code. An empty code is never
//! taken from the guess, and what a person wrote is never lost.

use super::roster::Roster;
use super::table::Table;
use crate::problem::Problem;
use std::path::Path;

const NEEDED: [&str; 3] = ["file", "page", "code"];
const OPTIONAL: [&str; 1] = ["guess"];

/// Whose a page is.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Owner {
    /// The name inside scans/.
    pub file: String,
    /// From 1.
    pub page: usize,
    /// Empty until a person fills it in.
    pub code: String,
    /// What the scan order suggests; may be empty.
    pub guess: String,
}

/// The rows, in file order.
#[derive(Clone, Debug, Default)]
pub struct Who {
    pub owners: Vec<Owner>,
    /// How the file was read where that is worth saying.
    pub notes: Vec<String>,
}

impl Who {
    /// Reads and checks who.csv; a file that is not there has no rows.
    ///
    /// # Errors
    /// All problems, each with its line: a page that is no number, a code that is not on the roster, a page
    /// given to two students.
    pub fn load(path: &Path, roster: &Roster) -> Result<Self, Vec<Problem>> {
        if !path.exists() {
            return Ok(Self::default());
        }
        let table = Table::load(path, &NEEDED, &OPTIONAL)?;
        let mut problems = Vec::new();
        let mut owners: Vec<Owner> = Vec::new();
        for row in table.rows() {
            let [file, page, code, guess] = [0, 1, 2, 3].map(|n| table.cell(row, n).to_string());
            let file = undefused(&file).to_string();
            let Some(page) = page.parse::<usize>().ok().filter(|page| *page > 0) else {
                problems.push(table.problem(
                    row,
                    "page",
                    format!("\"{page}\" is no page"),
                    "write a number from 1",
                ));
                continue;
            };
            if !code.is_empty() && roster.position(&code).is_none() {
                let what = format!("{code} is not on the roster");
                problems.push(table.problem(
                    row,
                    "code",
                    what,
                    "write a code of roster.csv, or leave it empty",
                ));
            }
            let same = |o: &&Owner| o.file == file && o.page == page && !o.code.is_empty() && o.code != code;
            if let Some(other) = owners.iter().find(same).filter(|_| !code.is_empty()) {
                let what = format!("page {page} of {file} is given to {} and to {code}", other.code);
                problems.push(table.problem(row, "code", what, "keep one of the two rows"));
            }
            owners.push(Owner { file, page, code, guess });
        }
        if problems.is_empty() { Ok(Self { owners, notes: table.notes.clone() }) } else { Err(problems) }
    }

    /// The code that a person gave a page.
    pub fn code_of(&self, file: &str, page: usize) -> Option<&str> {
        let given = |o: &&Owner| o.file == file && o.page == page && !o.code.is_empty();
        self.owners.iter().find(given).map(|o| o.code.as_str())
    }

    /// The rows that a person filled in, and a row for each open page.
    pub fn with_open(&self, open: Vec<Owner>) -> Vec<Owner> {
        let mut rows: Vec<Owner> = self.owners.iter().filter(|o| !o.code.is_empty()).cloned().collect();
        rows.extend(open);
        rows
    }
}

/// who.csv as text, RFC 4180.
pub fn text(owners: &[Owner]) -> String {
    let header = ["file", "page", "code", "guess"].map(String::from).to_vec();
    let rows =
        owners.iter().map(|o| vec![o.file.clone(), o.page.to_string(), o.code.clone(), o.guess.clone()]);
    super::marks::csv_text(std::iter::once(header).chain(rows))
}

/// A file's name as it was before [`super::marks::defused`].
fn undefused(cell: &str) -> &str {
    match cell.strip_prefix('\'') {
        Some(rest) if super::marks::is_formula(rest) => rest,
        _ => cell,
    }
}
