//! marks.csv: a row a student, written whole, and never over a file that somebody edited or holds open.

use super::{Folder, whole};
use crate::problem::Problem;
use sha2::{Digest, Sha256};
use std::fs;
use std::path::{Path, PathBuf};

/// How a row stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Status {
    /// The machine is sure of every mark.
    Proposed,
    /// A person should look.
    Look,
    /// There is a page, but nothing can be read from it.
    Unreadable,
    /// No page.
    Absent,
    /// No page, and none is wanted.
    Excused,
}

impl Status {
    /// As in marks.csv.
    pub fn word(self) -> &'static str {
        match self {
            Status::Proposed => "proposed",
            Status::Look => "look",
            Status::Unreadable => "unreadable",
            Status::Absent => "absent",
            Status::Excused => "excused",
        }
    }
}

/// One student's row.
#[derive(Clone, Debug, PartialEq)]
pub struct Row {
    pub code: String,
    pub name: String,
    pub status: Status,
    /// `None` as soon as one mark is missing.
    pub total: Option<f64>,
    pub out_of: f64,
    /// By name, where the rubric gives grades.
    pub grade: Option<String>,
    /// In the columns' order; `None` where there is no mark.
    pub marks: Vec<Option<f64>>,
    /// Short codes such as `spacing:near-edge`.
    pub flags: Vec<String>,
    /// The feedback page, relative to the class folder; empty where there is none.
    pub feedback: String,
    /// File and page; empty where there is none.
    pub source: String,
}

impl Row {
    /// The total in per cent of what it is out of, to a tenth.
    pub fn percent(&self) -> Option<f64> {
        self.total.filter(|_| self.out_of > 0.0).map(|t| (1000.0 * t / self.out_of).round() / 10.0)
    }
}

/// Marks, points or per cent as written: two decimals at most, none where none are needed.
pub fn number(value: f64) -> String {
    let text = format!("{value:.2}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    text.to_string()
}

/// The whole table as text; the last column holds grades, where `graded`.
pub fn text(columns: &[String], rows: &[Row], graded: bool) -> String {
    let rows = cells(columns, rows, graded).into_iter();
    csv_text(rows.map(|row| row.into_iter().map(|cell| cell.text()).collect()))
}

/// A cell of the table.
#[derive(Clone, Debug, PartialEq)]
pub enum Cell {
    Text(String),
    Number(f64),
    Empty,
}

impl Cell {
    fn text(self) -> String {
        match self {
            Cell::Text(text) => text,
            Cell::Number(value) => number(value),
            Cell::Empty => String::new(),
        }
    }

    fn of(value: Option<f64>) -> Self {
        value.map_or(Cell::Empty, Cell::Number)
    }
}

/// The whole table, its header first.
pub fn cells(columns: &[String], rows: &[Row], graded: bool) -> Vec<Vec<Cell>> {
    let lead = ["code", "name", "status", "total", "out_of", "percent"].map(String::from);
    let mut tail = ["flags", "feedback", "source"].map(String::from).to_vec();
    if graded {
        tail.push("grade".to_string());
    }
    let header = [lead.to_vec(), columns.to_vec(), tail].concat().into_iter().map(Cell::Text).collect();
    let mut table: Vec<Vec<Cell>> = vec![header];
    for row in rows {
        let mut cells = vec![
            Cell::Text(row.code.clone()),
            Cell::Text(row.name.clone()),
            Cell::Text(row.status.word().to_string()),
            Cell::of(row.total),
            Cell::Number(row.out_of),
            Cell::of(row.percent()),
        ];
        cells.extend((0..columns.len()).map(|n| Cell::of(row.marks.get(n).copied().flatten())));
        cells.extend([row.flags.join(" "), row.feedback.clone(), row.source.clone()].map(Cell::Text));
        if graded {
            cells.push(row.grade.clone().map_or(Cell::Empty, Cell::Text));
        }
        table.push(cells);
    }
    table
}

/// Rows as RFC 4180: commas, CRLF, quotes where needed; no cell that a spreadsheet would run as a formula.
pub fn csv_text(rows: impl Iterator<Item = Vec<String>>) -> String {
    let mut text = String::new();
    for row in rows {
        let cells: Vec<String> = row.iter().map(|cell| quoted(&defused(cell))).collect();
        text.push_str(&cells.join(","));
        text.push_str("\r\n");
    }
    text
}

/// Whether a spreadsheet may take a cell for a formula. A plain number below nought is none.
pub(super) fn is_formula(cell: &str) -> bool {
    let digits = |c: &str| !c.is_empty() && c.bytes().all(|b| b.is_ascii_digit() || b == b'.');
    if cell.strip_prefix('-').is_some_and(digits) {
        return false;
    }
    cell.trim_start_matches(' ').starts_with(['=', '+', '-', '@', '\t', '\r', '\n'])
}

/// A cell that a spreadsheet shows instead of running it: an apostrophe stands before = + - @.
pub(super) fn defused(cell: &str) -> String {
    if is_formula(cell) { format!("'{cell}") } else { cell.to_string() }
}

fn quoted(cell: &str) -> String {
    let outer_space = cell.starts_with(' ') || cell.ends_with(' ');
    if outer_space || cell.contains(['"', ',', '\r', '\n', ';', '\t']) {
        format!("\"{}\"", cell.replace('"', "\"\""))
    } else {
        cell.to_string()
    }
}

/// Where the marks were written, and why not to marks.csv where they were not.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Written {
    pub path: PathBuf,
    /// A sentence for a person.
    pub why_beside: Option<String>,
}

/// Writes marks.csv, or marks.new.csv beside it where marks.csv was edited since it was written, is held open
/// by another program, or cannot be replaced.
///
/// The hash of what was written last is kept in cache/; a marks.csv of which the cache knows nothing counts
/// as edited.
///
/// # Errors
/// Neither file could be written.
pub fn write(folder: &Folder, text: &str) -> Result<Written, Problem> {
    let (path, beside) = (folder.marks(), folder.marks_beside());
    let known = fs::read_to_string(hash_file(folder)).unwrap_or_default();
    let edited = fs::read(&path).is_ok_and(|old| hash(&old) != known.trim() && old != text.as_bytes());
    let held = held_open(&path);
    let reason = if edited {
        "marks.csv was changed since it was written, so it is kept"
    } else if held {
        "marks.csv is held open by another program, so it is left alone"
    } else {
        match replace(folder, &path, text) {
            Ok(()) => {
                forget_beside(folder, &beside);
                return Ok(Written { path, why_beside: None });
            }
            Err(problem) if !path.exists() => return Err(problem),
            Err(_) => "marks.csv could not be replaced (is it open in another program?)",
        }
    };
    whole::write(&beside, text.as_bytes())?;
    whole::write(&beside_hash_file(folder), hash(text.as_bytes()).as_bytes())?;
    let why = format!(
        "{reason}: the new marks are in marks.new.csv. Put your own marks into changes.csv: they always win"
    );
    Ok(Written { path: beside, why_beside: Some(why) })
}

/// The hash first: a run stopped between the two leaves the old marks, which then count as edited and are kept.
fn replace(folder: &Folder, path: &Path, text: &str) -> Result<(), Problem> {
    let staged = whole::prepare(path, text.as_bytes())?;
    let before = fs::read(hash_file(folder)).ok();
    whole::write(&hash_file(folder), hash(text.as_bytes()).as_bytes())?;
    let mut batch = whole::Batch::new();
    batch.add(staged);
    batch.commit().inspect_err(|_| {
        if let Some(before) = before {
            // The marks stay the old ones, so their hash must stay as well; failing that they count as edited.
            let _ = whole::write(&hash_file(folder), &before);
        }
    })
}

/// Removes a marks.new.csv of an earlier run, unless somebody edited that one.
fn forget_beside(folder: &Folder, beside: &Path) {
    let known = fs::read_to_string(beside_hash_file(folder)).unwrap_or_default();
    if fs::read(beside).is_ok_and(|old| hash(&old) == known.trim()) {
        // One that stays is old, not wrong: the summary names the file that counts.
        let _ = fs::remove_file(beside);
    }
}

fn hash_file(folder: &Folder) -> PathBuf {
    folder.cache().join("marks.sha256")
}

fn beside_hash_file(folder: &Folder) -> PathBuf {
    folder.cache().join("marks.new.sha256")
}

/// SHA-256, hexadecimal: how a run knows again what it wrote.
pub fn hash(bytes: &[u8]) -> String {
    Sha256::digest(bytes).iter().map(|byte| format!("{byte:02x}")).collect()
}

/// Whether an office program says, by its lock file, that it has the table open. (On Windows replacing an
/// open file fails by itself.)
fn held_open(path: &Path) -> bool {
    let Some(name) = path.file_name().map(|n| n.to_string_lossy().into_owned()) else { return false };
    [format!(".~lock.{name}#"), format!("~${name}")].iter().any(|lock| path.with_file_name(lock).exists())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn row(name: &str) -> Row {
        Row {
            code: "A01".into(),
            name: name.into(),
            status: Status::Look,
            total: Some(3.5),
            out_of: 12.0,
            grade: None,
            marks: vec![Some(1.5), Some(2.0)],
            flags: vec!["spacing:near-edge".into(), "twice".into()],
            feedback: "feedback/A01.html".into(),
            source: "class.pdf page 3".into(),
        }
    }

    #[test]
    fn is_rfc_4180_and_runs_no_formula() {
        let columns = ["one".to_string(), "two".to_string()];
        let text = text(&columns, &[row("=cmd()|'x'"), row("Li, \"Bo\"")], false);
        let lines: Vec<&str> = text.split("\r\n").collect();
        assert_eq!(lines[0], "code,name,status,total,out_of,percent,one,two,flags,feedback,source");
        assert_eq!(
            lines[1],
            "A01,'=cmd()|'x',look,3.5,12,29.2,1.5,2,spacing:near-edge twice,feedback/A01.html,class.pdf page 3"
        );
        assert!(lines[2].starts_with("A01,\"Li, \"\"Bo\"\"\",look"));
        assert_eq!((lines[3], lines.len()), ("", 4));
    }

    #[test]
    fn no_part_total() {
        let mut row = row("Bo");
        (row.marks[1], row.total) = (None, None);
        assert!(text(&["one".into(), "two".into()], &[row], false).contains("A01,Bo,look,,12,,1.5,,spacing"));
    }

    #[test]
    fn penalties_are_numbers_and_grades_stand_last() {
        let mut row = row("-1+1");
        (row.marks[1], row.total, row.grade) = (Some(-1.0), Some(0.5), Some("B".into()));
        let text = text(&["one".into(), "two".into()], &[row], true);
        assert!(text.contains("A01,'-1+1,look,0.5,12,4.2,1.5,-1,spacing"), "{text}");
        assert!(text.ends_with("class.pdf page 3,B\r\n") && text.contains(",source,grade\r\n"));
    }

    #[test]
    fn keeps_an_edited_table() {
        let dir = tempfile::tempdir().unwrap();
        let folder = Folder::new(dir.path());
        fs::create_dir(folder.cache()).unwrap();
        assert_eq!(write(&folder, "first").unwrap().why_beside, None);
        assert_eq!(write(&folder, "second").unwrap().why_beside, None);
        fs::write(folder.marks(), "mine").unwrap();
        let written = write(&folder, "third").unwrap();
        assert!(written.why_beside.unwrap().contains("changes.csv"));
        assert_eq!(fs::read_to_string(folder.marks()).unwrap(), "mine");
        assert_eq!(fs::read_to_string(folder.marks_beside()).unwrap(), "third");
        fs::remove_file(folder.marks()).unwrap();
        assert_eq!(write(&folder, "fourth").unwrap().why_beside, None);
        assert!(!folder.marks_beside().exists());
    }

    #[test]
    fn leaves_a_table_alone_that_is_held_open() {
        let dir = tempfile::tempdir().unwrap();
        let folder = Folder::new(dir.path());
        fs::create_dir(folder.cache()).unwrap();
        write(&folder, "first").unwrap();
        fs::write(dir.path().join(".~lock.marks.csv#"), "").unwrap();
        assert!(write(&folder, "second").unwrap().why_beside.unwrap().contains("held open"));
        assert_eq!(fs::read_to_string(folder.marks()).unwrap(), "first");
    }
}
