//! What `mark` writes on request: PDF, spreadsheet, package, comparison; and what feedback shows.

use crate::classroom::{Classroom, Drawn, errors};
use std::process::Command;

fn marked(room: &Classroom, options: &[&str]) {
    let output = room.mark(options);
    assert_eq!(output.status.code(), Some(0), "{}", errors(&output));
}

#[test]
fn pdf_spreadsheet_and_package_are_whole_and_the_same_each_time() {
    let room = Classroom::new("unlike-poles", 2);
    room.scan("1.png", Some("A01"), Drawn::Lines);
    let options = ["--pdf", "--xlsx", "--oneroster"];
    marked(&room, &options);
    let names = ["feedback/A01.pdf", "class.pdf", "marks.xlsx", "oneroster.zip"];
    let bytes = || names.map(|n| std::fs::read(room.path(n)).unwrap());
    let first = bytes();
    names.iter().for_each(|n| std::fs::remove_file(room.path(n)).unwrap());
    marked(&room, &options);
    assert!(first == bytes());
    assert!(first[0].starts_with(b"%PDF") && first[1].starts_with(b"%PDF"));
    // Pages of a PDF, by the library that reads scans: a student's are even in number.
    let pages = lodemark::scan::open(&room.path("feedback/A01.pdf")).unwrap().len();
    assert!(pages >= 2 && pages.is_multiple_of(2), "{pages}");
    let read = |script: &str, file: &str| {
        let output = Command::new("python3").args(["-c", script]).arg(room.path(file)).output().unwrap();
        assert!(output.status.success(), "{}", errors(&output));
        String::from_utf8(output.stdout).unwrap()
    };
    let zip = "import sys,zipfile,csv,io; z=zipfile.ZipFile(sys.argv[1]); assert z.testzip() is None\n";
    let results = read(
        &format!(
            "{zip}for r in csv.DictReader(io.StringIO(z.read('results.csv').decode())): print(r['lineItemSourcedId'], r['studentSourcedId'], r['scoreStatus'], r['score'])"
        ),
        "oneroster.zip",
    );
    let row = room.row("A01");
    let status = if row["status"] == "proposed" { "fully graded" } else { "partially graded" };
    assert!(results.contains(&format!("unlike-poles A01 {status} {}\n", row["total"])), "{results}");
    assert!(results.contains("unlike-poles.direction A02 not submitted \n"));
    let sheets = read(&format!("{zip}print(z.read('xl/workbook.xml').decode())"), "marks.xlsx");
    for name in ["marks", "arrows", "direction", "whole"] {
        assert!(sheets.contains(&format!("name=\"{name}\"")), "{sheets}");
    }
    // Without being asked for, a PDF beside a newer page would contradict it.
    let said = String::from_utf8(room.mark(&[]).stdout).unwrap();
    assert!(said.contains("the PDFs of 1 student in feedback were removed"), "{said}");
    assert!(!room.path("feedback/A01.pdf").exists());
}

#[test]
fn the_package_tells_what_is_not_asked_of_a_student() {
    let room = Classroom::new("unlike-poles", 2);
    room.scan("1.png", Some("A01"), Drawn::Lines);
    room.scan("2.png", Some("A02"), Drawn::Lines);
    room.write(
        "own.yaml",
        "rubric: 1\nextends: rubric.yaml\ntitle: Own\ncriteria:\n  - { id: ends, remove: true }\n",
    );
    room.write("roster.csv", "code,name,rubric,exempt\nA01,,,whole\nA02,,own.yaml,\n");
    marked(&room, &["--oneroster"]);
    let script = "import sys,zipfile; print(zipfile.ZipFile(sys.argv[1]).read('results.csv').decode())";
    let output =
        Command::new("python3").args(["-c", script]).arg(room.path("oneroster.zip")).output().unwrap();
    let results = String::from_utf8(output.stdout).unwrap();
    assert!(results.contains("unlike-poles.whole,A01,exempt,,"), "{results}");
    assert!(results.contains("unlike-poles.ends,A01,") && !results.contains("unlike-poles.ends,A02"));
}

#[test]
fn exports_of_an_earlier_run_do_not_stay_behind_the_marks() {
    let room = Classroom::new("unlike-poles", 1);
    room.scan("1.png", Some("A01"), Drawn::Lines);
    marked(&room, &["--pdf", "--xlsx", "--oneroster"]);
    let names = ["class.pdf", "marks.xlsx", "oneroster.zip"];
    let bytes = || names.map(|n| std::fs::read(room.path(n)).unwrap());
    let first = bytes();
    let said = |output: std::process::Output| String::from_utf8(output.stdout).unwrap();
    assert!(!said(room.mark(&[])).contains("of an earlier run"));
    room.write("changes.csv", "code,criterion,marks\nA01,arrows,1\n");
    let summary = said(room.mark(&[]));
    for (n, name) in names.iter().enumerate() {
        assert!(summary.contains(&format!("{name} of an earlier run was written again")), "{summary}");
        assert!(bytes()[n] != first[n], "{name}");
    }
    // What somebody changed is not overwritten unasked.
    room.write("oneroster.zip", "mine");
    room.write("changes.csv", "code,criterion,marks\nA01,arrows,0.5\n");
    let summary = said(room.mark(&[]));
    assert!(
        summary.contains("oneroster.zip is of an earlier run and was changed since: it is kept."),
        "{summary}"
    );
    assert_eq!(room.read("oneroster.zip"), "mine");
}

#[test]
fn what_a_teacher_wrote_on_a_pdf_is_never_lost() {
    let room = Classroom::new("unlike-poles", 2);
    room.scan("1.png", Some("A01"), Drawn::Lines);
    room.scan("2.png", Some("A02"), Drawn::Lines);
    marked(&room, &["--pdf"]);
    let pdf = |name: &str| std::fs::read(room.path("feedback").join(name));
    let written_on = [pdf("A01.pdf").unwrap(), b"% well done\n".to_vec()].concat();
    room.write("feedback/A01.pdf", &written_on);
    let said = String::from_utf8(room.mark(&[]).stdout).unwrap();
    assert!(said.contains("the PDFs of 1 student in feedback were removed"), "{said}");
    assert!(
        said.contains("the PDFs of 1 student in feedback were changed by a person: they are kept"),
        "{said}"
    );
    assert_eq!(pdf("A01.pdf").unwrap(), written_on);
    assert!(pdf("A02.pdf").is_err());
    // Asked for new ones, it stands beside the new one; and again, however often.
    marked(&room, &["--pdf"]);
    assert_eq!(pdf("A01.changed.pdf").unwrap(), written_on);
    assert!(pdf("A01.pdf").unwrap().len() < written_on.len());
    room.write("feedback/A01.pdf", b"another");
    marked(&room, &["--pdf"]);
    assert_eq!(pdf("A01.changed.pdf").unwrap(), written_on);
    assert_eq!(pdf("A01.changed-2.pdf").unwrap(), b"another");
    marked(&room, &[]);
    assert!(pdf("A01.pdf").is_err() && pdf("A01.changed.pdf").is_ok());
}

#[test]
fn letters_that_the_pdfs_cannot_show_are_named() {
    let room = Classroom::new("unlike-poles", 1);
    room.write("roster.csv", "code,name\nA01,\u{3042}\u{3044}\n");
    room.scan("1.png", Some("A01"), Drawn::Lines);
    let said = |options: &[&str]| String::from_utf8(room.mark(options).stdout).unwrap();
    let summary = said(&["--pdf"]);
    assert!(summary.contains("letters that their font lacks (\u{3042} \u{3044})"), "{summary}");
    assert!(!said(&[]).contains("font lacks"));
}

#[test]
fn feedback_shows_the_field_and_marks_as_asked() {
    let room = Classroom::new("unlike-poles", 1);
    room.scan("1.png", Some("A01"), Drawn::Lines);
    let page = |options: &[&str]| {
        marked(&room, options);
        room.read("feedback/A01.html")
    };
    let plain = page(&[]);
    assert!(!plain.contains("class=\"field\"") && plain.contains("marks</p>"));
    assert!(plain.find("What is good").unwrap() < plain.find("Your drawing").unwrap());
    assert!(plain.contains("One thing to try next"));
    let over = page(&["--show-field", "yes"]);
    assert!(over.contains("class=\"field\"") && !over.contains("<details"));
    let after = page(&["--show-field", "after"]);
    assert!(after.find("<details").unwrap() < after.find("class=\"field\"").unwrap());
    let words = page(&["--no-marks"]);
    assert!(
        !words.contains("marks</p>")
            && !words.contains("class=\"got\"")
            && words.contains("What was looked at")
    );
}

#[test]
fn the_class_page_compares_with_an_earlier_class() {
    let (earlier, room) = (Classroom::new("unlike-poles", 2), Classroom::new("unlike-poles", 1));
    earlier.scan("1.png", Some("A01"), Drawn::Lines);
    earlier.scan("2.png", Some("A02"), Drawn::Lines);
    room.scan("1.png", Some("A01"), Drawn::Lines);
    let folder = earlier.dir.to_str().unwrap();
    let early = room.mark(&["--earlier", folder]);
    assert_eq!(early.status.code(), Some(2));
    assert!(errors(&early).contains("marks.csv"), "{}", errors(&early));
    earlier.marked();
    marked(&room, &["--earlier", folder]);
    let page = room.read("class.html");
    assert!(page.contains("Beside class") && page.contains("class (2)") && page.contains("This class (1)"));
    assert!(page.contains("All drawings over one another") && page.contains("data:image/png;base64,"));
}
