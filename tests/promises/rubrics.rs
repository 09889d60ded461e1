//! What a teacher may do with rubrics: check one, try one, give a student another, and be told slips exactly.

use crate::classroom::{Classroom, Drawn, errors, run, save, sheet};
use lodemark::worksheet::Worksheet;
use std::path::Path;

fn told(arguments: &[&str]) -> String {
    let output = run(arguments);
    assert_eq!(output.status.code(), Some(0), "{}", errors(&output));
    String::from_utf8(output.stdout).unwrap()
}

#[test]
fn a_rubric_is_shown_as_a_table_and_slips_with_a_caret() {
    let room = Classroom::new("unlike-poles", 1);
    let path = room.path("rubric.yaml");
    let path = path.to_str().unwrap();
    let table = told(&["rubric", path]);
    for words in
        ["Arrows lead from N to S (direction, 2 marks)", "unless lines.count at least 5", "Total: out of 11"]
    {
        assert!(table.contains(words), "{words}: {table}");
    }
    room.write("rubric.yaml", room.read("rubric.yaml").replace("meets.count", "meets.cuont"));
    let output = run(&["rubric", path]);
    assert_eq!(output.status.code(), Some(2));
    let told = errors(&output);
    let lines: Vec<&str> = told.lines().collect();
    assert!(
        lines[0]
            .contains("criteria[2].measure: no measure is called \"meets.cuont\"; did you mean meets.count?")
    );
    assert_eq!(lines[1].find("meets.cuont"), lines[2].find('^'), "{told}");
}

#[test]
fn a_rubric_is_tried_on_what_was_read_and_changes_nothing() {
    let room = Classroom::new("unlike-poles", 2);
    room.scan("1.png", Some("A01"), Drawn::Lines);
    let dir = room.dir.to_str().unwrap();
    let other = room.path("other.yaml");
    room.write("other.yaml", "rubric: 1\nextends: rubric.yaml\ntitle: Other\ncriteria:\n  - { id: arrows, weight: 3 }\n  - { id: whole, remove: true }\n");
    let other = other.to_str().unwrap();
    let early = run(&["rubric", other, "--try", dir]);
    assert_eq!(early.status.code(), Some(2));
    assert!(errors(&early).contains("not read yet; run lodemark mark"), "{}", errors(&early));
    room.marked();
    let before = room.read("marks.csv");
    let said = told(&["rubric", other, "--try", dir]);
    assert!(
        said.contains("Out of 11 now, of 12 then: totals are compared in per cent.")
            && said.contains("whole 1 to -"),
        "{said}"
    );
    let json: serde_json::Value =
        serde_json::from_str(&told(&["rubric", other, "--try", dir, "--json"])).unwrap();
    assert_eq!(json["students"][0]["code"], "A01");
    assert_eq!(json["students"].as_array().unwrap().len(), 1);
    assert_eq!(room.read("marks.csv"), before);
    assert!(said.contains(" % to "), "{said}");
    // Where no criterion moves, the rule of the total does.
    room.write(
        "total.yaml",
        "rubric: 1\nextends: rubric.yaml\ntotal: { out_of: 3, round_to: 3, rounding: up }\n",
    );
    let rule = told(&["rubric", room.path("total.yaml").to_str().unwrap(), "--try", dir]);
    assert!(rule.contains("to 100 %  by the total's rule"), "{rule}");
    let same = told(&["rubric", room.path("rubric.yaml").to_str().unwrap(), "--try", dir]);
    assert!(same.contains("0 up, 0 down, 1 the same"), "{same}");
}

#[test]
fn a_student_may_have_a_rubric_exemptions_and_a_tolerance_and_it_is_written_down() {
    let room = Classroom::new("unlike-poles", 1);
    room.write("own.yaml", "rubric: 1\nextends: rubric.yaml\ntitle: Own\ncriteria:\n  - { id: arrows, remove: true }\n  - id: plenty\n    title: Many lines\n    marks: 1\n    measure: lines.count\n    bands: [{ at_least: 3, marks: 1, say: yes }, { otherwise: true, marks: 0, say: no }]\n".replace("say: yes", "say: \"yes\"").replace("say: no ", "say: \"no\" ").as_str());
    room.write(
        "roster.csv",
        "code,name,rubric,exempt,tolerance\nA01,,,,\nA02,,own.yaml,whole,\nA03,,,,\"1,5\"\n",
    );
    for n in 1..=3 {
        room.scan(&format!("{n}.png"), Some(&format!("A0{n}")), Drawn::Lines);
    }
    room.marked();
    let (plain, own, wide) = (room.row("A01"), room.row("A02"), room.row("A03"));
    assert_eq!((plain["out_of"].as_str(), plain["plenty"].as_str()), ("11", ""));
    assert_eq!((own["out_of"].as_str(), own["arrows"].as_str(), own["whole"].as_str()), ("10", "", ""));
    assert_eq!(own["plenty"], "1");
    assert!(!own["total"].is_empty());
    assert!(room.read("feedback/A02.html").contains("Marked by a rubric of this student's own: Own."));
    for flag in ["whole:exempt", "own-rubric-own"] {
        assert!(own["flags"].split(' ').any(|f| f == flag), "{}", own["flags"]);
    }
    assert!(wide["flags"].split(' ').any(|f| f == "tolerance-1.5"));
    assert!(room.read("feedback/A03.html").contains("Marked with limits 1.5 times as wide:"));
    assert!(
        room.read("feedback/A02.html").contains("Not part of this student's marks: The field is all round.")
    );
    room.write("roster.csv", "code,name,rubric,exempt,tolerance,sheet\nA01,,nowhere.yaml,,,\nA02,,,whol,,\nA03,,,,9,\nA04,,,,,../x.yaml\n");
    let output = room.mark(&[]);
    assert_eq!(output.status.code(), Some(2));
    assert!(
        errors(&output).contains("roster.csv:4:8 tolerance: \"9\" is no tolerance; write 1 to 3"),
        "{}",
        errors(&output)
    );
    assert!(errors(&output).contains("roster.csv:5:9 sheet: \"../x.yaml\" is no file of the class folder"));
    room.write("roster.csv", "code,name,rubric,exempt\nA01,,nowhere.yaml,\nA02,,,whol\n");
    let output = room.mark(&[]);
    assert!(
        errors(&output).contains("roster.csv:2:6 rubric: there is no file nowhere.yaml"),
        "{}",
        errors(&output)
    );
    assert!(
        errors(&output)
            .contains("roster.csv:3:7 exempt: no criterion is called \"whol\"; did you mean whole?")
    );
}

#[test]
fn a_student_may_have_a_worksheet_of_their_own() {
    let room = Classroom::new("unlike-poles", 2);
    let easier =
        room.read("worksheet.yaml").replace("id: unlike-poles", "id: easier").replace("eight", "four");
    room.write("easier.yaml", &easier);
    room.write("roster.csv", "code,name,sheet\nA01,,\nA02,,easier.yaml\nA03,,\nA04,,easier.yaml\n");
    let printed = run(&["print", room.dir.to_str().unwrap()]);
    assert_eq!(printed.status.code(), Some(0), "{}", errors(&printed));
    assert!(room.path("worksheets-easier.pdf").is_file() && room.path("worksheets.pdf").is_file());
    room.scan("1.png", Some("A01"), Drawn::Lines);
    let other = Worksheet::parse(Path::new("w"), &easier).unwrap();
    save(&sheet(&other, Some("A02"), Drawn::Lines), &room.path("scans/2.png"));
    save(&sheet(&other, Some("A03"), Drawn::Lines), &room.path("scans/3.png"));
    room.scan("4.png", Some("A04"), Drawn::Lines);
    assert_eq!(room.marked()["counts"]["pages_read"], 6);
    let row = room.row("A02");
    assert!(!row["total"].is_empty() && row["flags"].contains("own-sheet"), "{row:?}");
    // A sheet that the roster does not give the student is for a person to sort out.
    let wrong = room.row("A03");
    assert!(wrong["status"] == "look" && wrong["flags"].contains("other-sheet") && wrong["total"].is_empty());
    let own_words = "Drawn on a worksheet of this student's own.";
    let (own, common) = (room.read("feedback/A02.html"), room.read("feedback/A04.html"));
    assert!(own.contains(own_words) && !common.contains(own_words));
    assert_eq!(room.row("A04")["flags"], "other-sheet");
    assert_eq!(room.marked()["counts"]["pages_read"], 0);
}

#[test]
fn grades_and_languages_reach_the_table_and_the_page() {
    let room = Classroom::new("unlike-poles", 1);
    room.scan("1.png", Some("A01"), Drawn::Lines);
    room.write(
        "rubric.yaml",
        "rubric: 1
title: { en: Short, de: Kurz }
total: { out_of: 20, round_to: 1 }
grades: [{ name: Pass, at_least: 50 }, { name: Not yet, at_least: 0 }]
criteria:
  - id: meeting
    title: { en: Apart, de: Getrennt }
    marks: 2
    measure: meets.count
    bands:
      - { at_most: 0, marks: 2, say: { en: Fine., de: Sch\u{f6}n. } }
      - { otherwise: true, marks: 0, say: { en: No., de: Nein. } }
",
    );
    room.marked();
    let row = room.row("A01");
    assert_eq!((row["total"].as_str(), row["out_of"].as_str(), row["grade"].as_str()), ("20", "20", "Pass"));
    assert!(room.read("feedback/A01.html").contains("<p lang=\"en\">Fine.</p>"));
    let checked = run(&["check", room.dir.to_str().unwrap(), room.path("scans/1.png").to_str().unwrap()]);
    let said = String::from_utf8(checked.stdout).unwrap();
    assert!(said.contains("Together: 20 of 20, grade Pass"), "{said}");
    assert_eq!(room.mark(&["--language", "de"]).status.code(), Some(0));
    assert!(room.read("feedback/A01.html").contains("<p lang=\"de\">Sch\u{f6}n.</p>"));
    let output = room.mark(&["--language", "fr"]);
    let told = errors(&output);
    assert!(
        output.status.code() == Some(2) && told.contains("has no words in fr; choose en or de"),
        "{told}"
    );
}

/// Lines of a flat cut run close where the field is nearly nothing, beside a neutral point: no rubric of a sheet with like
/// poles or charges may call crowded lines a strong field.
#[test]
fn no_rubric_of_like_poles_calls_crowded_lines_strong() {
    for name in
        ["like-poles", "like-poles-south", "unequal-bars", "three-bars", "charges-alike", "bar-n-north"]
    {
        let room = Classroom::new(name, 1);
        let table = told(&["rubric", room.path("rubric.yaml").to_str().unwrap()]).to_lowercase();
        assert!(table.contains("open out"), "{name}: {table}");
        assert!(!table.contains("crowd") && !table.contains("strong"), "{name}: {table}");
    }
}
