//! docs/your-rubric.md is true: its files are written, its commands run, and their answers are those on the page.

use crate::classroom::{errors, run};
use std::path::Path;
use std::process::Command;

const CHAPTER: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/docs/your-rubric.md");
/// Set this variable to write the answers anew.
const REWRITE: &str = "LODEMARK_REWRITE";

/// Runs the command of a line `$ lodemark ...` in a folder; both its answers.
fn answer(folder: &Path, line: &str) -> String {
    let words: Vec<&str> = line.strip_prefix("$ lodemark ").unwrap().split(' ').collect();
    let output =
        Command::new(env!("CARGO_BIN_EXE_lodemark")).args(words).current_dir(folder).output().unwrap();
    String::from_utf8(output.stdout.clone()).unwrap() + &errors(&output)
}

fn copy(from: &Path, to: &Path) {
    std::fs::create_dir_all(to).unwrap();
    for entry in std::fs::read_dir(from).unwrap().map(Result::unwrap) {
        let (path, to) = (entry.path(), to.join(entry.file_name()));
        if path.is_dir() { copy(&path, &to) } else { std::fs::copy(&path, &to).map(|_| ()).unwrap() }
    }
}

#[test]
fn the_chapter_for_teachers_is_true() {
    let home = tempfile::tempdir().unwrap();
    let sample = Path::new(env!("CARGO_MANIFEST_DIR")).join("samples/9b-unlike-poles");
    for part in ["scans", "roster.csv", "rubric.yaml", "worksheet.yaml"] {
        let (from, to) = (sample.join(part), home.path().join("9b").join(part));
        std::fs::create_dir_all(to.parent().unwrap()).unwrap();
        if from.is_dir() { copy(&from, &to) } else { std::fs::copy(&from, &to).map(|_| ()).unwrap() }
    }
    let marked = run(&["mark", home.path().join("9b").to_str().unwrap()]);
    assert_eq!(marked.status.code(), Some(0), "{}", errors(&marked));
    let page = std::fs::read_to_string(CHAPTER).unwrap();
    let mut made = String::new();
    let mut lines = page.lines().peekable();
    let mut file = None;
    while let Some(line) = lines.next() {
        made += &format!("{line}\n");
        if let Some(name) = line.strip_prefix("<!-- ").and_then(|l| l.strip_suffix(" -->")) {
            file = Some(name.to_string());
        } else if line == "```yaml" {
            let body: String = lines.by_ref().take_while(|l| *l != "```").map(|l| format!("{l}\n")).collect();
            std::fs::write(home.path().join(file.take().unwrap()), &body).unwrap();
            made += &format!("{body}```\n");
        } else if line == "```console" {
            let body: Vec<&str> = lines.by_ref().take_while(|l| *l != "```").collect();
            let command = body[0];
            made += &format!("{command}\n{}```\n", answer(home.path(), command));
        }
    }
    if std::env::var_os(REWRITE).is_some() {
        std::fs::write(CHAPTER, &made).unwrap();
    }
    let page = std::fs::read_to_string(CHAPTER).unwrap();
    assert!(page == made, "docs/your-rubric.md is not what the commands say; run with {REWRITE}=1:\n{made}");
}
