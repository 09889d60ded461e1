//! What fuzzing has made up and kept, and whole files of each kind, as a plain test: see fuzz/ and DEVELOPERS.md.

#[path = "../../fuzz/properties.rs"]
mod properties;

use std::path::Path;

/// Every input that is kept for one parser.
fn all(parser: &str, holds: fn(&[u8])) {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("fuzz/corpus").join(parser);
    let entries = std::fs::read_dir(&folder).unwrap_or_else(|e| panic!("{}: {e}", folder.display()));
    let mut files: Vec<_> = entries.map(|e| e.unwrap().path()).collect();
    files.sort();
    assert!(!files.is_empty(), "{} is empty", folder.display());
    for file in files {
        // Said only where the test fails: which input it was.
        println!("{}", file.display());
        holds(&std::fs::read(&file).unwrap());
    }
}

#[test]
fn scans_are_read_or_refused() {
    all("scan", properties::scan);
}

#[test]
fn codes_are_read_or_refused() {
    all("code_text", properties::code_text);
    all("code_picture", properties::code_picture);
}

#[test]
fn worksheets_and_rubrics_are_read_or_refused() {
    all("worksheet", properties::worksheet);
    all("rubric", properties::rubric);
}

#[test]
fn tables_are_read_or_refused() {
    all("table", properties::table);
}
