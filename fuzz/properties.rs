//! What must hold of every input from outside, whatever its bytes: one function a parser.
//!
//! The fuzz targets call these with bytes that they make up, the test `corpus` with the inputs that are kept.

use lodemark::class::roster::Roster;
use lodemark::class::table::Table;
use lodemark::geometry::Point;
use lodemark::print::code::Payload;
use lodemark::rectify::code;
use lodemark::rubric::Rubric;
use lodemark::scan::{self, GreyImage, Wanted};
use lodemark::worksheet::Worksheet;
use std::io::Write;
use std::path::Path;

/// Pages of a file that are decoded; the rest goes the same way.
const PAGES: usize = 3;
/// Side of the picture in which a code is looked for, pixels.
const CODE_SIDE: usize = 96;

/// A scan or a photo: opened and decoded, or refused in words. A page has as many values as its sides say.
pub fn scan(bytes: &[u8]) {
    let mut file = tempfile::NamedTempFile::new().expect("a place for temporary files");
    file.write_all(bytes).expect("room for temporary files");
    let pages = match scan::open(file.path()) {
        Ok(pages) => pages,
        Err(refusal) => return assert_ne!(refusal.to_string(), ""),
    };
    assert!(pages.len() > 0, "a file without a page is refused");
    for number in 1..=pages.len().min(PAGES) {
        match pages.page(number, Wanted::default()) {
            Ok(page) => {
                assert_eq!(page.number, number);
                assert_eq!(page.grey.pixels.len(), page.grey.width * page.grey.height);
            }
            Err(refusal) => assert_ne!(refusal.to_string(), ""),
        }
    }
}

/// The text of a code: refused, or what is read is written back as the same code.
pub fn code_text(bytes: &[u8]) {
    let Ok(text) = std::str::from_utf8(bytes) else { return };
    if let Ok(payload) = Payload::decode(text) {
        assert_eq!(Payload::decode(&payload.encode()), Ok(payload));
    }
}

/// A picture in which a code is looked for: its first bytes are pixels, one upon another until the picture is full.
pub fn code_picture(bytes: &[u8]) {
    if bytes.is_empty() {
        return;
    }
    let pixels = bytes.iter().copied().cycle().take(CODE_SIDE * CODE_SIDE).collect();
    code::anywhere(&GreyImage { width: CODE_SIDE, height: CODE_SIDE, pixels });
}

/// worksheet.yaml: refused with a place and a remedy, or a worksheet whose field is a number wherever it is asked for.
pub fn worksheet(bytes: &[u8]) {
    let Ok(text) = std::str::from_utf8(bytes) else { return };
    match Worksheet::parse(Path::new("worksheet.yaml"), text) {
        Ok(sheet) => {
            for panel in &sheet.panels {
                let middle = panel.frame.center();
                let field = panel.field();
                let b = field.b(Point::new(middle.x, middle.y));
                assert!(
                    b.iter().all(|v| v.is_finite()),
                    "the field is {b:?} mT in the middle of {}",
                    panel.id
                );
            }
        }
        Err(problems) => told(&problems),
    }
}

/// rubric.yaml: refused with a place and a remedy, or read.
pub fn rubric(bytes: &[u8]) {
    let Ok(text) = std::str::from_utf8(bytes) else { return };
    if let Err(problems) = Rubric::parse(Path::new("/nowhere/rubric.yaml"), text, &["A"]) {
        told(&problems);
    }
}

/// roster.csv and every other table that people fill in.
pub fn table(bytes: &[u8]) {
    if let Err(problems) = Roster::parse(Path::new("roster.csv"), bytes) {
        told(&problems);
    }
    if let Err(problems) = Table::parse(Path::new("who.csv"), bytes, &["file", "page"], &["code", "guess"]) {
        told(&problems);
    }
}

/// A refusal says something.
fn told(problems: &[lodemark::problem::Problem]) {
    assert!(!problems.is_empty(), "refused without a reason");
    problems.iter().for_each(|p| assert_ne!(p.to_string().trim(), ""));
}
