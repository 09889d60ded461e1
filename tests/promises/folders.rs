//! `new` and `print`: a class folder to begin with, and its sheets.

use crate::classroom::{Classroom, errors, run};
use lodemark::scan;

#[test]
fn new_overwrites_nothing() {
    let room = Classroom::new("horseshoe", 1);
    room.write("rubric.yaml", "mine");
    let again = run(&["new", room.dir.to_str().unwrap(), "--from", "single-bar"]);
    assert_eq!(again.status.code(), Some(2));
    for file in ["worksheet.yaml", "rubric.yaml", "roster.csv", "scans"] {
        assert!(
            errors(&again).contains(&format!("{file}: is there already and is not overwritten")),
            "{file}"
        );
    }
    assert_eq!(room.read("rubric.yaml"), "mine");
    assert!(room.read("worksheet.yaml").contains("id: horseshoe"));
}

#[test]
fn new_knows_its_arrangements() {
    let home = tempfile::tempdir().unwrap();
    let dir = home.path().join("c");
    let wrong = run(&["new", dir.to_str().unwrap(), "--from", "like-pole"]);
    assert_eq!(wrong.status.code(), Some(2));
    assert!(errors(&wrong).contains("did you mean like-poles?"), "{}", errors(&wrong));
    assert!(!dir.exists());
}

#[test]
fn print_makes_a_sheet_a_student_and_the_spares() {
    let room = Classroom::new("three-bars", 3);
    let dir = room.dir.to_str().unwrap();
    let pages = || scan::open(&room.path("worksheets.pdf")).unwrap().len();
    assert_eq!(run(&["print", dir, "--spares", "2"]).status.code(), Some(0));
    assert_eq!(pages(), 5);
    let first = std::fs::read(room.path("worksheets.pdf")).unwrap();
    assert_eq!(run(&["print", dir, "--spares", "2"]).status.code(), Some(0));
    assert_eq!(std::fs::read(room.path("worksheets.pdf")).unwrap(), first);
    assert_eq!(run(&["print", dir, "--master"]).status.code(), Some(0));
    assert_eq!(pages(), 1);
    assert_eq!(run(&["print", dir, "--master", "--spares", "2"]).status.code(), Some(2));
}

#[test]
fn where_nothing_can_be_written_the_exit_code_says_so() {
    let room = Classroom::new("three-bars", 1);
    let out = room.path("no/such/folder/out.pdf");
    let output = run(&["print", room.dir.to_str().unwrap(), "--out", out.to_str().unwrap()]);
    assert_eq!(output.status.code(), Some(3));
    assert!(errors(&output).contains("out.pdf: could not be written"), "{}", errors(&output));
}
