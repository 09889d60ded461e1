//! Tables that people write by hand or with a spreadsheet, read leniently in form and strictly in content.
//!
//! RFC 4180; also read, and said: a byte-order mark, semicolons or tabs between cells, Windows-1252 letters.

use crate::problem::{Problem, one_of, read_capped, suggest};
use std::path::{Path, PathBuf};

/// Largest table, bytes: a hundred thousand places with full precision stay under it.
const MAX_BYTES: u64 = 8 * 1024 * 1024;
/// Most rows, of places to compute the field at; a roster has far fewer.
const MAX_ROWS: usize = 100_000;

/// A table's rows under known columns.
#[derive(Clone, Debug, Default)]
pub struct Table {
    file: PathBuf,
    columns: Vec<Option<usize>>,
    rows: Vec<Row>,
    header: Vec<String>,
    form: Form,
    /// How the file was read where that is worth saying.
    pub notes: Vec<String>,
}

/// The text of a table, kept for the places of its cells.
#[derive(Clone, Debug, Default)]
struct Form {
    text: String,
    separator: char,
}

impl Form {
    /// The column of the text, from 1, at which a cell of a line begins; 1 where the line has no such cell.
    fn column(&self, line: usize, cell: usize) -> usize {
        let line = self.text.lines().nth(line.saturating_sub(1)).unwrap_or_default();
        let (mut quoted, mut nth) = (false, 0);
        for (n, c) in line.chars().enumerate() {
            if nth == cell && (!c.is_whitespace() || c == self.separator) {
                return n + 1;
            }
            quoted ^= c == '"';
            nth += usize::from(c == self.separator && !quoted);
        }
        if nth == cell { line.chars().count() + 1 } else { 1 }
    }
}

/// One row.
#[derive(Clone, Debug)]
pub struct Row {
    /// Its line in the file, from 1.
    pub line: usize,
    cells: Vec<String>,
}

impl Table {
    /// Reads a table whose first row names its columns; `needed` must be there, `optional` may be. Letter
    /// case, order and blank rows do not matter.
    ///
    /// # Errors
    /// All problems of its form: not readable, columns missing, unknown or given twice, rows too long.
    pub fn load(file: &Path, needed: &[&str], optional: &[&str]) -> Result<Self, Vec<Problem>> {
        let (table, problems) = Self::look(file, needed, optional);
        table.filter(|_| problems.is_empty()).ok_or(problems)
    }

    /// As [`Table::load`], and beside the problems what could be read all the same: the rows whose form is right. `None` where
    /// no row can be understood: the file is no table, or a needed column is missing.
    pub fn look(file: &Path, needed: &[&str], optional: &[&str]) -> (Option<Self>, Vec<Problem>) {
        match read_capped(file, MAX_BYTES) {
            Ok(bytes) => Self::look_at(file, &bytes, needed, optional),
            Err(problem) => (None, vec![problem]),
        }
    }

    /// As [`Table::load`], from bytes; `file` is only named.
    ///
    /// # Errors
    /// As [`Table::load`].
    pub fn parse(
        file: &Path,
        bytes: &[u8],
        needed: &[&str],
        optional: &[&str],
    ) -> Result<Self, Vec<Problem>> {
        let (table, problems) = Self::look_at(file, bytes, needed, optional);
        table.filter(|_| problems.is_empty()).ok_or(problems)
    }

    fn look_at(
        file: &Path,
        bytes: &[u8],
        needed: &[&str],
        optional: &[&str],
    ) -> (Option<Self>, Vec<Problem>) {
        let mut notes = Vec::new();
        let text = match decode(file, bytes, &mut notes) {
            Ok(text) => text,
            Err(problem) => return (None, vec![problem]),
        };
        let separator = separator(&text, &mut notes);
        let mut rows = match read_rows(file, &text, separator) {
            Ok(rows) => rows,
            Err(problems) => return (None, problems),
        };
        let form = Form { text, separator: char::from(separator) };
        if rows.is_empty() {
            let fix = format!("begin it with the line {}", [needed, optional].concat().join(","));
            return (None, vec![Problem::of_file(file, "is empty", fix)]);
        }
        let header = rows.remove(0);
        let (columns, mut problems) = columns(file, &form, &header, needed, optional);
        rows.retain(|row| {
            let wrong = misshapen(file, &form, row, header.cells.len());
            let fine = wrong.is_empty();
            problems.extend(wrong);
            fine
        });
        if columns[..needed.len()].iter().any(Option::is_none) {
            return (None, problems);
        }
        (Some(Self { file: file.to_owned(), columns, rows, header: header.cells, form, notes }), problems)
    }

    /// The rows, top to bottom.
    pub fn rows(&self) -> &[Row] {
        &self.rows
    }

    /// A cell, by the place of its column in needed and optional names together; empty where it is not there.
    pub fn cell<'a>(&self, row: &'a Row, column: usize) -> &'a str {
        let place = self.columns.get(column).copied().flatten();
        place.and_then(|n| row.cells.get(n)).map_or("", String::as_str)
    }

    /// Line and column of a cell, by the place of its column in needed and optional names together.
    pub fn place(&self, row: &Row, column: usize) -> (usize, usize) {
        let cell = self.columns.get(column).copied().flatten();
        (row.line, cell.map_or(1, |n| self.form.column(row.line, n)))
    }

    /// A problem in a row, at the cell under a column of this name where there is one.
    pub fn problem(
        &self,
        row: &Row,
        column: &str,
        what: impl Into<String>,
        fix: impl Into<String>,
    ) -> Problem {
        let cell = self.header.iter().position(|name| name.eq_ignore_ascii_case(column));
        let place = (row.line, cell.map_or(1, |n| self.form.column(row.line, n)));
        at(&self.file, place, column, what, fix)
    }
}

fn at(
    file: &Path,
    place: (usize, usize),
    column: &str,
    what: impl Into<String>,
    fix: impl Into<String>,
) -> Problem {
    Problem {
        file: file.to_owned(),
        place: Some(place),
        path: column.to_string(),
        what: what.into(),
        fix: fix.into(),
    }
}

fn decode(file: &Path, bytes: &[u8], notes: &mut Vec<String>) -> Result<String, Problem> {
    if bytes.starts_with(&[0xff, 0xfe]) || bytes.starts_with(&[0xfe, 0xff]) || bytes.contains(&0) {
        return Err(Problem::of_file(
            file,
            "is not plain text (UTF-16 or a spreadsheet)",
            "save it as CSV UTF-8",
        ));
    }
    let (bytes, marked) = match bytes.strip_prefix(&[0xef, 0xbb, 0xbf]) {
        Some(rest) => (rest, true),
        None => (bytes, false),
    };
    if marked {
        notes.push("read with its byte-order mark".to_string());
    }
    match std::str::from_utf8(bytes) {
        Ok(text) => Ok(text.to_string()),
        Err(_) => {
            notes.push("is not UTF-8: read as Windows-1252; check letters with accents".to_string());
            Ok(bytes.iter().map(|byte| windows_1252(*byte)).collect())
        }
    }
}

/// The letters 0x80 to 0x9f of Windows-1252 (WHATWG Encoding Standard, index windows-1252).
const WINDOWS_1252: [char; 32] = [
    '\u{20ac}', '\u{81}', '\u{201a}', '\u{192}', '\u{201e}', '\u{2026}', '\u{2020}', '\u{2021}', '\u{2c6}',
    '\u{2030}', '\u{160}', '\u{2039}', '\u{152}', '\u{8d}', '\u{17d}', '\u{8f}', '\u{90}', '\u{2018}',
    '\u{2019}', '\u{201c}', '\u{201d}', '\u{2022}', '\u{2013}', '\u{2014}', '\u{2dc}', '\u{2122}', '\u{161}',
    '\u{203a}', '\u{153}', '\u{9d}', '\u{17e}', '\u{178}',
];

fn windows_1252(byte: u8) -> char {
    match byte {
        0x80..=0x9f => WINDOWS_1252[usize::from(byte - 0x80)],
        _ => char::from(byte),
    }
}

fn separator(text: &str, notes: &mut Vec<String>) -> u8 {
    let header = text.lines().find(|line| !line.trim().is_empty()).unwrap_or("");
    let count = |c: char| header.matches(c).count();
    let (commas, semicolons, tabs) = (count(','), count(';'), count('\t'));
    if semicolons > commas.max(tabs) {
        notes.push("read with semicolons between cells".to_string());
        b';'
    } else if tabs > commas {
        notes.push("read with tabs between cells".to_string());
        b'\t'
    } else {
        b','
    }
}

/// The rows that hold anything, cells trimmed.
fn read_rows(file: &Path, text: &str, separator: u8) -> Result<Vec<Row>, Vec<Problem>> {
    let mut reader = csv::ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .delimiter(separator)
        .trim(csv::Trim::All)
        .from_reader(text.as_bytes());
    let mut rows = Vec::new();
    for record in reader.records() {
        let record = record.map_err(|error| {
            vec![Problem::of_file(file, format!("is no table ({error})"), "save it again as CSV UTF-8")]
        })?;
        let line = record.position().map_or(0, |p| p.line()) as usize;
        let cells: Vec<String> = record.iter().map(str::to_string).collect();
        if cells.iter().any(|cell| !cell.is_empty()) {
            rows.push(Row { line, cells });
        }
        if rows.len() > MAX_ROWS + 1 {
            let what = format!("has more than {MAX_ROWS} rows");
            return Err(vec![Problem::of_file(file, what, "split it into several files")]);
        }
    }
    Ok(rows)
}

/// What is wrong with a row's form: more cells than columns, a line break in a cell.
fn misshapen(file: &Path, form: &Form, row: &Row, columns: usize) -> Vec<Problem> {
    let mut problems = Vec::new();
    if row.cells.len() > columns && row.cells[columns..].iter().any(|c| !c.is_empty()) {
        let what = format!("{} cells under {columns} columns", row.cells.len());
        let place = (row.line, form.column(row.line, columns));
        problems.push(at(file, place, "", what, "put a cell that holds the separator in double quotes"));
    }
    if let Some((n, cell)) = row.cells.iter().enumerate().find(|(_, c)| c.contains(['\n', '\r'])) {
        let start: String = cell.chars().take(20).collect();
        let what = format!("a cell beginning \"{}\" holds a line break", start.replace(['\n', '\r'], " "));
        let place = (row.line, form.column(row.line, n));
        problems.push(at(file, place, "", what, "close the double quote, or write it in one line"));
    }
    problems
}

fn columns(
    file: &Path,
    form: &Form,
    header: &Row,
    needed: &[&str],
    optional: &[&str],
) -> (Vec<Option<usize>>, Vec<Problem>) {
    let known = [needed, optional].concat();
    let mut problems = Vec::new();
    for (n, name) in header.cells.iter().enumerate().filter(|(_, name)| !name.is_empty()) {
        let same = |other: &&String| other.eq_ignore_ascii_case(name);
        if !known.iter().any(|k| k.eq_ignore_ascii_case(name)) {
            let what = format!("unknown column \"{name}\"");
            problems.push(at(
                file,
                (header.line, form.column(header.line, n)),
                name,
                what,
                suggest(name, &known),
            ));
        } else if header.cells[..n].iter().any(|other| same(&other)) {
            problems.push(at(
                file,
                (header.line, form.column(header.line, n)),
                name,
                "the column stands here twice",
                "remove one of the two",
            ));
        }
    }
    let place = |k: &&str| header.cells.iter().position(|name| name.eq_ignore_ascii_case(k));
    let places: Vec<Option<usize>> = known.iter().map(place).collect();
    let missing: Vec<&str> = needed.iter().copied().filter(|k| place(k).is_none()).collect();
    if !missing.is_empty() {
        let fix = format!("let the first line name the columns: {}", known.join(","));
        let what = format!("no column {}", one_of(&missing));
        problems.push(at(file, (header.line, 1), "", what, fix));
    }
    (places, problems)
}
