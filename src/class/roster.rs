//! roster.csv: the students of a class, in the order of their sheets.

use super::table::Table;
use crate::problem::{Problem, suggest};
use std::path::Path;

/// Whether a student was there.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum State {
    #[default]
    Present,
    Absent,
    Excused,
}

/// One student.
#[derive(Clone, Debug, PartialEq)]
pub struct Student {
    /// See [`check_code`].
    pub code: String,
    /// May be empty.
    pub name: String,
    /// May be empty.
    pub group: String,
    pub state: State,
    /// The student's own worksheet, a file in the class folder; empty for the class's.
    pub sheet: String,
    /// The student's own rubric, a file in the class folder; empty for the class's.
    pub rubric: String,
    /// Ids of criteria that do not count for the student.
    pub exempt: Vec<String>,
    /// How many times as wide the limits of measured lengths, angles and shares are, 1 or more.
    pub tolerance: f64,
    /// Line and column in the file of the cells under sheet, rubric and exempt.
    pub places: [(usize, usize); 3],
}

/// The students.
#[derive(Clone, Debug, Default)]
pub struct Roster {
    pub students: Vec<Student>,
    /// How the file was read where that is worth saying.
    pub notes: Vec<String>,
}

/// Names that Windows keeps for devices, whatever their ending: no file can be called so.
const DEVICES: [&str; 4] = ["CON", "PRN", "AUX", "NUL"];
/// Longest name and group: they stand on the sheet and in the table.
const MAX_NAME_CHARS: usize = 80;
const STATES: [&str; 3] = ["present", "absent", "excused"];
const NEEDED: [&str; 2] = ["code", "name"];
const OPTIONAL: [&str; 6] = ["group", "state", "sheet", "rubric", "exempt", "tolerance"];
/// Greatest tolerance: three times as wide a limit tells nothing any more.
const MAX_TOLERANCE: f64 = 3.0;

/// Checks a code: 2 to 12 of A-Z, 0-9 and hyphen, beginning with a letter, not a reserved device name.
///
/// # Errors
/// What is wrong, and what to do.
pub fn check_code(code: &str) -> Result<(), (String, String)> {
    let signs = |c: &str| {
        (2..=12).contains(&c.len())
            && c.starts_with(|c: char| c.is_ascii_uppercase())
            && c.bytes().all(|b| b.is_ascii_uppercase() || b.is_ascii_digit() || b == b'-')
    };
    let device = DEVICES.contains(&code)
        || (code.len() == 4
            && (code.starts_with("COM") || code.starts_with("LPT"))
            && code.ends_with(|c: char| c.is_ascii_digit()));
    if device {
        return Err((
            format!("\"{code}\" is a name that Windows keeps for a device"),
            "use another code".into(),
        ));
    }
    if signs(code) {
        return Ok(());
    }
    let capitals = code.to_ascii_uppercase();
    let fix = if signs(&capitals) {
        format!("write {capitals}")
    } else {
        "write 2 to 12 of A-Z, 0-9 and hyphen, beginning with a letter".to_string()
    };
    Err((format!("\"{code}\" is no code"), fix))
}

/// Whether a cell can be the name of a YAML file in the class folder; it may stay empty.
pub fn is_file_name(name: &str) -> bool {
    let fine = name.ends_with(".yaml") && !name.starts_with('.') && !name.contains(['/', '\\']);
    name.is_empty() || fine
}

fn check_file(name: &str) -> Result<(), (String, String)> {
    if is_file_name(name) {
        return Ok(());
    }
    let what = format!("\"{name}\" is no file of the class folder");
    Err((what, "write the name of a file that ends in .yaml, or leave it empty".into()))
}

fn read_tolerance(cell: &str) -> Result<f64, (String, String)> {
    if cell.is_empty() {
        return Ok(1.0);
    }
    let number = cell.replace(',', ".").parse::<f64>().ok();
    number.filter(|n| (1.0..=MAX_TOLERANCE).contains(n)).ok_or_else(|| {
        let what = format!("\"{cell}\" is no tolerance");
        (what, format!("write 1 to {MAX_TOLERANCE}: how many times as wide the limits are"))
    })
}

impl Roster {
    /// Reads and checks roster.csv.
    ///
    /// # Errors
    /// All problems, each with its line.
    pub fn load(path: &Path) -> Result<Self, Vec<Problem>> {
        let (roster, problems) = Self::look(path);
        if problems.is_empty() { Ok(roster) } else { Err(problems) }
    }

    /// As [`Roster::load`], and beside the problems the students whose rows could be read: with them the files and criteria that
    /// the roster names are checked in the same round. A cell that is wrong in itself is as if it were empty; where it names a
    /// worksheet or a rubric it stays, for [`is_file_name`] to tell.
    pub fn look(path: &Path) -> (Self, Vec<Problem>) {
        let (table, mut problems) = Table::look(path, &NEEDED, &OPTIONAL);
        let Some(table) = table else { return (Self::default(), problems) };
        let (roster, wrong) = Self::check(&table, path);
        // A roster without any row in order is not without students.
        if !roster.students.is_empty() || problems.is_empty() {
            problems.extend(wrong);
        }
        problems.sort_by_key(|p| p.place);
        (roster, problems)
    }

    /// As [`Roster::load`], from bytes; `path` is only named.
    ///
    /// # Errors
    /// As [`Roster::load`].
    pub fn parse(path: &Path, bytes: &[u8]) -> Result<Self, Vec<Problem>> {
        let (roster, problems) = Self::check(&Table::parse(path, bytes, &NEEDED, &OPTIONAL)?, path);
        if problems.is_empty() { Ok(roster) } else { Err(problems) }
    }

    fn check(table: &Table, path: &Path) -> (Self, Vec<Problem>) {
        let mut problems = Vec::new();
        let mut students: Vec<(usize, Student)> = Vec::new();
        for row in table.rows() {
            let [code, name, group, state] = [0, 1, 2, 3].map(|n| table.cell(row, n));
            let mut tell = |column: &str, (what, fix): (String, String)| {
                problems.push(table.problem(row, column, what, fix));
            };
            if let Err(wrong) = check_code(code) {
                tell("code", wrong);
            } else if let Some((line, _)) = students.iter().find(|(_, s)| s.code == code) {
                tell(
                    "code",
                    (format!("{code} stands in line {line} already"), "give each student one row".into()),
                );
            }
            for (column, text) in [("name", name), ("group", group)] {
                if text.chars().count() > MAX_NAME_CHARS || text.chars().any(char::is_control) {
                    tell(
                        column,
                        (
                            "too long or with control characters".into(),
                            format!("write at most {MAX_NAME_CHARS} letters"),
                        ),
                    );
                }
            }
            let state = match state.to_ascii_lowercase().as_str() {
                "" | "present" => State::Present,
                "absent" => State::Absent,
                "excused" => State::Excused,
                _ => {
                    tell("state", (format!("\"{state}\" is no state"), suggest(state, &STATES)));
                    State::Present
                }
            };
            let [sheet, rubric, exempt, tolerance] = [4, 5, 6, 7].map(|n| table.cell(row, n));
            for (column, file) in [("sheet", sheet), ("rubric", rubric)] {
                if let Err(wrong) = check_file(file) {
                    tell(column, wrong);
                }
            }
            let tolerance = match read_tolerance(tolerance) {
                Ok(tolerance) => tolerance,
                Err(wrong) => {
                    tell("tolerance", wrong);
                    1.0
                }
            };
            let ids = exempt.split([' ', ',', ';', '|']).filter(|id| !id.is_empty());
            let student = Student {
                code: code.into(),
                name: name.into(),
                group: group.into(),
                state,
                sheet: sheet.into(),
                rubric: rubric.into(),
                exempt: ids.map(str::to_string).collect(),
                tolerance,
                places: [4, 5, 6].map(|n| table.place(row, n)),
            };
            students.push((row.line, student));
        }
        if students.is_empty() && problems.is_empty() {
            problems.push(Problem::of_file(path, "has no students", "add a row a student, as A01,Ada"));
        }
        let students = students.into_iter().map(|(_, student)| student).collect();
        (Self { students, notes: table.notes.clone() }, problems)
    }

    /// A student's place in the roster.
    pub fn position(&self, code: &str) -> Option<usize> {
        self.students.iter().position(|s| s.code == code)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn codes() {
        for good in ["A1", "R7K-01", "ZZZZZZZZZZZZ", "COM10", "CON-1"] {
            assert!(check_code(good).is_ok(), "{good}");
        }
        for bad in
            ["", "A", "1A", "a1", "-A1", "A_1", "AAAAAAAAAAAAA", "CON", "NUL", "LPT1", "COM0", "A/1", "Ä1"]
        {
            assert!(check_code(bad).is_err(), "{bad}");
        }
        assert_eq!(check_code("r7k-01").unwrap_err().1, "write R7K-01");
    }
}
