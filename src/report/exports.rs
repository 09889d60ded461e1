//! Marks for other programs: a spreadsheet, and a package in the columns of OneRoster CSV.

use rust_xlsxwriter::{DocProperties, ExcelDateTime, Format, Workbook, Worksheet, XlsxError};
use std::io::{Cursor, Write};
use zip::write::SimpleFileOptions;
use zip::{CompressionMethod, ZipWriter};

use super::{Heading, Judged};
use crate::class::marks::{Cell, Row, Status, csv_text, number};

/// Longest name of a sheet, characters, as spreadsheet programs allow.
const MAX_SHEET_CHARS: usize = 31;

/// A criterion and its students: code, name, mark.
pub struct Criterion<'a> {
    pub heading: Heading,
    pub rows: Vec<(String, String, &'a Judged)>,
}

/// marks.xlsx: the table as in marks.csv, then a sheet a criterion. The same bytes for the same input.
///
/// # Errors
/// In words: the table is larger than a spreadsheet may be.
pub fn xlsx(table: &[Vec<Cell>], criteria: &[Criterion]) -> Result<Vec<u8>, String> {
    let make = || -> Result<Vec<u8>, XlsxError> {
        let mut book = Workbook::new();
        // The time of writing would make every file another one.
        let fixed = ExcelDateTime::from_ymd(2000, 1, 1)?;
        book.set_properties(&DocProperties::new().set_creation_datetime(&fixed));
        let bold = Format::new().set_bold();
        fill(book.add_worksheet().set_name("marks")?, table, &bold)?;
        for criterion in criteria {
            let sheet = book.add_worksheet().set_name(sheet_name(&criterion.heading.column))?;
            fill(sheet, &criterion_table(criterion), &bold)?;
        }
        book.save_to_buffer()
    };
    make().map_err(|e| e.to_string())
}

fn sheet_name(column: &str) -> String {
    // "marks" is taken, whatever the letters' case.
    let name = if column.eq_ignore_ascii_case("marks") { format!("{column}-") } else { column.to_string() };
    name.chars().take(MAX_SHEET_CHARS).collect()
}

fn criterion_table(criterion: &Criterion) -> Vec<Vec<Cell>> {
    let text = |t: &str| Cell::Text(t.to_string());
    let header = ["code", "name", "marks", "out_of", "chance", "say", "look", "by"].map(text).to_vec();
    let row = |(code, name, judged): &(String, String, &Judged)| {
        vec![
            text(code),
            text(name),
            judged.marks.map_or(Cell::Empty, Cell::Number),
            Cell::Number(judged.out_of),
            Cell::Number(judged.chance),
            text(&judged.say),
            text(&judged.look.join(" ")),
            text(judged.by.as_deref().unwrap_or_default()),
        ]
    };
    std::iter::once(header).chain(criterion.rows.iter().map(row)).collect()
}

/// Text is written as text: a name that looks like a formula stays a name.
fn fill(sheet: &mut Worksheet, table: &[Vec<Cell>], bold: &Format) -> Result<(), XlsxError> {
    for (r, row) in table.iter().enumerate() {
        for (c, cell) in row.iter().enumerate() {
            let (r, c) = (u32::try_from(r).unwrap_or(u32::MAX), u16::try_from(c).unwrap_or(u16::MAX));
            match cell {
                Cell::Text(text) if r == 0 => sheet.write_string_with_format(r, c, text, bold)?,
                Cell::Text(text) => sheet.write_string(r, c, text)?,
                Cell::Number(number) => sheet.write_number(r, c, *number)?,
                Cell::Empty => continue,
            };
        }
    }
    sheet.set_freeze_panes(1, 1)?;
    Ok(())
}

/// The files of the package and how they are given, in the order of the manifest. From memory, but for the three
/// that are written (docs/formats.md).
const FILES: [(&str, &str); 14] = [
    ("academicSessions", "absent"),
    ("categories", "absent"),
    ("classes", "absent"),
    ("classResources", "absent"),
    ("courses", "absent"),
    ("courseResources", "absent"),
    ("demographics", "absent"),
    ("enrollments", "absent"),
    ("lineItems", "bulk"),
    ("orgs", "absent"),
    ("resources", "absent"),
    ("results", "bulk"),
    ("scoreScales", "absent"),
    ("users", "absent"),
];

const LINE_ITEMS: [&str; 12] = [
    "sourcedId",
    "status",
    "dateLastModified",
    "title",
    "description",
    "assignDate",
    "dueDate",
    "classSourcedId",
    "categorySourcedId",
    "gradingPeriodSourcedId",
    "resultValueMin",
    "resultValueMax",
];
const RESULTS: [&str; 9] = [
    "sourcedId",
    "status",
    "dateLastModified",
    "lineItemSourcedId",
    "studentSourcedId",
    "scoreStatus",
    "score",
    "scoreDate",
    "comment",
];

/// Whether a criterion is asked of a student.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Asked {
    Yes,
    /// The student is exempt from it.
    Exempt,
    /// It is not in the student's rubric.
    No,
}

/// oneroster.zip: manifest.csv, lineItems.csv (the total and each criterion) and results.csv. `asked`: which columns are
/// asked of the student with a code.
///
/// # Errors
/// In words: the package cannot be put together.
pub fn oneroster(
    worksheet: (&str, &str),
    out_of: f64,
    headings: &[Heading],
    rows: &[Row],
    asked: &dyn Fn(&str, &str) -> Asked,
) -> Result<Vec<u8>, String> {
    let (id, title) = worksheet;
    let manifest = std::iter::once(vec!["propertyName".to_string(), "value".to_string()])
        .chain(
            [("manifest.version", "1.0"), ("oneroster.version", "1.2")]
                .map(|(a, b)| vec![a.into(), b.into()]),
        )
        .chain(FILES.map(|(name, how)| vec![format!("file.{name}"), how.to_string()]))
        .chain(
            [("source.systemName", "lodemark"), ("source.systemCode", "")]
                .map(|(a, b)| vec![a.into(), b.into()]),
        );
    let item = |id: String, title: &str, least: f64, most: f64| {
        let mut cells = vec![String::new(); LINE_ITEMS.len()];
        (cells[0], cells[3]) = (id, title.to_string());
        (cells[10], cells[11]) = (number(least), number(most));
        cells
    };
    let items = std::iter::once(LINE_ITEMS.map(str::to_string).to_vec())
        .chain(std::iter::once(item(id.to_string(), title, 0.0, out_of)))
        .chain(headings.iter().map(|h| {
            item(
                format!("{id}.{}", h.column),
                &format!("{title}: {}", h.title),
                h.out_of.min(0.0),
                h.out_of.max(0.0),
            )
        }));
    let mut results = vec![RESULTS.map(str::to_string).to_vec()];
    for row in rows {
        let mut add = |item: String, score: Option<f64>, asked: Asked| {
            let status = match asked {
                Asked::Yes => score_status(row.status, score.is_some()),
                Asked::Exempt => "exempt",
                Asked::No => return,
            };
            let mut cells = vec![String::new(); RESULTS.len()];
            cells[0] = format!("{item}.{}", row.code);
            (cells[3], cells[4]) = (item, row.code.clone());
            cells[5] = status.to_string();
            cells[6] = score.map(number).unwrap_or_default();
            results.push(cells);
        };
        add(id.to_string(), row.total, Asked::Yes);
        for (n, heading) in headings.iter().enumerate() {
            let score = row.marks.get(n).copied().flatten();
            add(format!("{id}.{}", heading.column), score, asked(&row.code, &heading.column));
        }
    }
    let files = [
        ("manifest.csv", csv_text(manifest)),
        ("lineItems.csv", csv_text(items)),
        ("results.csv", csv_text(results.into_iter())),
    ];
    package(&files).map_err(|e| e.to_string())
}

/// A mark that a person should look at is no full grading.
fn score_status(status: Status, scored: bool) -> &'static str {
    match status {
        Status::Proposed => "fully graded",
        Status::Look if scored => "partially graded",
        Status::Look | Status::Unreadable => "submitted",
        Status::Absent => "not submitted",
        Status::Excused => "exempt",
    }
}

fn package(files: &[(&str, String)]) -> Result<Vec<u8>, zip::result::ZipError> {
    let mut zip = ZipWriter::new(Cursor::new(Vec::new()));
    // Without the time of writing: the same bytes for the same marks.
    let options = SimpleFileOptions::default()
        .compression_method(CompressionMethod::Stored)
        .last_modified_time(zip::DateTime::default());
    for (name, text) in files {
        zip.start_file(*name, options)?;
        zip.write_all(text.as_bytes())?;
    }
    Ok(zip.finish()?.into_inner())
}
