//! changes.csv: a person's marks. They win over the machine's, and no run writes here.

use super::roster::Roster;
use super::table::Table;
use crate::problem::{Problem, suggest};
use std::path::Path;

const NEEDED: [&str; 3] = ["code", "criterion", "marks"];
const OPTIONAL: [&str; 2] = ["by", "why"];

/// One mark that a person set.
#[derive(Clone, Debug, PartialEq)]
pub struct Change {
    pub code: String,
    /// A criterion's column in marks.csv.
    pub column: String,
    pub marks: f64,
    /// Who; may be empty.
    pub by: String,
    /// Why; may be empty.
    pub why: String,
}

/// All of them.
#[derive(Clone, Debug, Default)]
pub struct Changes {
    rows: Vec<Change>,
    /// How the file was read where that is worth saying.
    pub notes: Vec<String>,
}

impl Changes {
    /// Reads and checks changes.csv; a file that is not there changes nothing. `columns` are the criteria's
    /// columns with their full marks.
    ///
    /// # Errors
    /// All problems, each with its line: an unknown code or criterion, marks out of range.
    pub fn load(path: &Path, roster: &Roster, columns: &[(String, f64)]) -> Result<Self, Vec<Problem>> {
        if !path.exists() {
            return Ok(Self::default());
        }
        let table = Table::load(path, &NEEDED, &OPTIONAL)?;
        let names: Vec<&str> = columns.iter().map(|(name, _)| name.as_str()).collect();
        let mut problems = Vec::new();
        let mut rows = Vec::new();
        for row in table.rows() {
            let [code, column, marks, by, why] = [0, 1, 2, 3, 4].map(|n| table.cell(row, n).to_string());
            let mut tell =
                |at: &str, what: String, fix: String| problems.push(table.problem(row, at, what, fix));
            if roster.position(&code).is_none() {
                tell("code", format!("\"{code}\" is not on the roster"), "write a code of roster.csv".into());
            }
            let full = columns.iter().find(|(name, _)| *name == column).map(|(_, full)| *full);
            if full.is_none() {
                tell("criterion", format!("no criterion is called \"{column}\""), suggest(&column, &names));
            }
            // A comma for the point, as spreadsheets write it in many countries.
            let number = marks.replace(',', ".").parse::<f64>().ok().filter(|m| m.is_finite());
            let limit = full.unwrap_or(f64::MAX);
            match number {
                Some(number) if (limit.min(0.0)..=limit.max(0.0)).contains(&number) => {
                    rows.push(Change { code, column, marks: number, by, why });
                }
                _ if full.is_some() => tell(
                    "marks",
                    format!("\"{marks}\" are no marks here"),
                    format!("write {} to {}", limit.min(0.0), limit.max(0.0)),
                ),
                _ => tell("marks", format!("\"{marks}\" is no number"), "write a number".into()),
            }
        }
        if problems.is_empty() { Ok(Self { rows, notes: table.notes.clone() }) } else { Err(problems) }
    }

    /// What a person set for a student's criterion; of several rows the last.
    pub fn of(&self, code: &str, column: &str) -> Option<&Change> {
        self.rows.iter().rev().find(|c| c.code == code && c.column == column)
    }
}
