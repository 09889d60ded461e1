//! `mark`, with everything that a stack of scans may hold.

use crate::classroom::{Classroom, Drawn, blot, dot, errors, run, save, sheet};
use lodemark::geometry::polyline;
use lodemark::scan::GreyImage;
use lodemark::worksheet::{Worksheet, answer::field_lines};
use std::path::Path;

fn people(summary: &serde_json::Value) -> String {
    serde_json::to_string(&summary["people"]).unwrap()
}

/// Paper, white as a copier gives it.
fn paper() -> GreyImage {
    GreyImage { width: 1654, height: 2339, pixels: vec![250; 1654 * 2339] }
}

/// Paper with two words on it, as bars.
fn letter() -> GreyImage {
    let mut page = paper();
    for (left, length) in [(400, 120), (560, 90)] {
        for y in 600..605 {
            page.pixels[y * page.width + left..][..length].fill(70);
        }
    }
    page
}

fn turned(image: &GreyImage) -> GreyImage {
    GreyImage {
        width: image.width,
        height: image.height,
        pixels: image.pixels.iter().rev().copied().collect(),
    }
}

/// Four lines of a dozen are what a pale copy may show of faint pencil.
#[test]
fn a_sheet_with_hardly_any_lines_goes_to_a_person() {
    let room = Classroom::new("unlike-poles", 2);
    let worksheet = room.worksheet();
    let panel = &worksheet.panels[0];
    for (code, count) in [("A01", 4), ("A02", 5)] {
        let mut page = sheet(&worksheet, Some(code), Drawn::Nothing);
        let lines = field_lines(panel, &panel.field(), 12).into_iter().take(count);
        lines.flat_map(|l| l.points).for_each(|point| blot(&mut page, point));
        save(&page, &room.path(&format!("scans/{code}.png")));
    }
    let summary = room.marked();
    let few = room.row("A01");
    assert_eq!((few["status"].as_str(), few["total"].is_empty()), ("look", false), "{few:?}");
    assert!(few["flags"].split(' ').any(|f| f == "few-lines"), "{few:?}");
    assert!(people(&summary).contains("Hardly any lines were found"));
    assert!(!room.row("A02")["flags"].contains("few-lines"));
}

/// Faint pencil under a copier's threshold: dots of a quarter of a millimetre with a millimetre of white between them.
#[test]
fn strokes_in_crumbs_are_read_and_go_to_a_person() {
    let room = Classroom::new("unlike-poles", 2);
    let worksheet = room.worksheet();
    let panel = &worksheet.panels[0];
    let lines = || field_lines(panel, &panel.field(), 12).into_iter().take(8);
    for (code, radius_mm, every_mm) in [("A01", 0.13, 1.3), ("A02", 0.3, 0.2)] {
        let mut page = sheet(&worksheet, Some(code), Drawn::Nothing);
        for line in lines() {
            polyline::resample(&line.points, every_mm)
                .into_iter()
                .for_each(|at| dot(&mut page, at, radius_mm));
        }
        page.pixels.iter_mut().for_each(|level| *level = if *level < 128 { 0 } else { 255 });
        save(&page, &room.path(&format!("scans/{code}.png")));
    }
    let summary = room.marked();
    let crumbs = room.row("A01");
    let flags =
        |row: &std::collections::BTreeMap<String, String>, flag| row["flags"].split(' ').any(|f| f == flag);
    assert_eq!(crumbs["status"], "look", "{crumbs:?}");
    assert!(flags(&crumbs, "crumbled") && !flags(&crumbs, "few-lines"), "{crumbs:?}");
    assert!(people(&summary).contains("shows the strokes in crumbs"));
    assert!(!flags(&room.row("A02"), "crumbled"));
    let found = room.read("findings/A01.json");
    let found: serde_json::Value = serde_json::from_str(&found).unwrap();
    assert_eq!(
        found["panels"][0]["lines"].as_array().map(Vec::len),
        Some(8),
        "each row of crumbs is one line"
    );
}

#[test]
fn a_drawn_sheet_gets_marks_and_a_blank_one_a_person() {
    let room = Classroom::new("unlike-poles", 3);
    room.scan("1.png", Some("A01"), Drawn::Lines);
    room.scan("2.png", Some("A02"), Drawn::Nothing);
    let summary = room.marked();
    let drawn = room.row("A01");
    assert!(drawn["total"].parse::<f64>().unwrap() > 0.0, "{drawn:?}");
    assert_eq!((drawn["arrows"].as_str(), drawn["source"].as_str()), ("0", "1.png page 1"));
    let blank = room.row("A02");
    assert_eq!(
        (blank["status"].as_str(), blank["flags"].as_str(), blank["total"].as_str()),
        ("look", "blank", "")
    );
    assert!(["arrows", "meeting", "whole"].iter().all(|c| blank[*c].is_empty()));
    assert_eq!(room.row("A03")["status"], "absent");
    assert!(people(&summary).contains("No line was found"));
    let findings: lodemark::measure::findings::Findings =
        serde_json::from_str(&room.read("findings/A01.json")).unwrap();
    assert!(findings.panels[0].lines.len() >= 8);
    assert_eq!((findings.code.as_str(), findings.source.page), ("A01", 1));
    assert!(room.read("feedback/A01.html").contains("data:image/jpeg"));
    assert!(!room.path("who.csv").exists());
}

#[test]
fn a_sheet_upside_down_reads_the_same() {
    let room = Classroom::new("single-bar", 2);
    let image = room.scan("1.png", Some("A01"), Drawn::Lines);
    save(&turned(&image), &room.path("scans/1.png"));
    room.marked();
    let row = room.row("A01");
    assert!(row["total"].parse::<f64>().unwrap() > 0.0, "{row:?}");
}

#[test]
fn whose_page_it_is_comes_from_the_code_or_a_person_never_from_a_guess() {
    let room = Classroom::new("unlike-poles", 4);
    room.scan("1.png", Some("A01"), Drawn::Lines);
    let mut struck = room.scan("2.png", Some("A02"), Drawn::Lines);
    // The code in print and in letters stands above the frame, at the right.
    let (w, top) = (struck.width, struck.width * 40 / 297);
    for y in 0..top {
        for x in w * 60 / 100..w * 94 / 100 {
            if (x / 9 + y / 9) % 2 == 0 {
                struck.pixels[y * w + x] = 0;
            }
        }
    }
    save(&struck, &room.path("scans/2.png"));
    room.scan("3.png", Some("A03"), Drawn::Lines);
    room.scan("4.png", Some("SPARE-01"), Drawn::Lines);
    room.scan("5.png", None, Drawn::Lines);
    room.scan("6.png", Some("ZZ-9"), Drawn::Lines);
    let summary = room.marked();
    assert_eq!(
        room.read("who.csv"),
        "file,page,code,guess\r\n2.png,1,,A02\r\n4.png,1,,A04\r\n5.png,1,,\r\n6.png,1,,\r\n"
    );
    assert_eq!(
        (room.row("A02")["status"].as_str(), room.row("A04")["status"].as_str()),
        ("absent", "absent")
    );
    let people = people(&summary);
    for words in
        ["cannot be read", "spare sheet SPARE-01", "without a student's code", "ZZ-9 is not on the roster"]
    {
        assert!(people.contains(words), "{words}: {people}");
    }
    room.write("who.csv", "file;page;code;guess\r\n2.png;1;A02;\r\n4.png;1;A04;\r\n");
    let again = room.marked();
    assert_eq!(again["counts"]["pages_read"], 0);
    assert_eq!(
        (room.row("A02")["source"].as_str(), room.row("A04")["source"].as_str()),
        ("2.png page 1", "4.png page 1")
    );
    assert!(room.read("who.csv").contains("2.png,1,A02,\r\n4.png,1,A04,\r\n5.png,1,,"));
    room.write("who.csv", "file,page,code\n2.png,1,A09\n2.png,x,\n");
    let output = room.mark(&[]);
    assert_eq!(output.status.code(), Some(2));
    assert!(errors(&output).contains("who.csv:2:9 code: A09 is not on the roster"), "{}", errors(&output));
    assert!(errors(&output).contains("who.csv:3:7 page: \"x\" is no page"));
}

#[test]
fn of_two_pages_of_a_student_the_last_is_marked_and_both_are_kept() {
    let room = Classroom::new("unlike-poles", 2);
    room.scan("scan2.png", Some("A01"), Drawn::Nothing);
    room.scan("scan10.png", Some("A01"), Drawn::Lines);
    room.marked();
    let row = room.row("A01");
    assert_eq!(row["source"], "scan10.png page 1");
    assert!(row["flags"].split(' ').any(|f| f == "twice") && row["status"] == "look");
    assert!(room.read("findings/A01.1.json").contains("scan2.png"));
}

#[test]
fn the_roster_excuses() {
    let room = Classroom::new("unlike-poles", 1);
    room.write("roster.csv", "code,name,state\nA01,,\nA02,,excused\nA03,,absent\n");
    room.scan("1.png", Some("A01"), Drawn::Nothing);
    room.marked();
    let status = ["A01", "A02", "A03"].map(|code| room.row(code)["status"].clone());
    assert_eq!(status, ["look", "excused", "absent"]);
}

#[test]
fn what_is_no_page_of_the_class_is_named_and_costs_no_other_page_anything() {
    let room = Classroom::new("unlike-poles", 2);
    room.scan("1.png", Some("A01"), Drawn::Lines);
    let other = Worksheet::parse(
        Path::new("w"),
        &room.read("worksheet.yaml").replace("id: unlike-poles", "id: another"),
    )
    .unwrap();
    save(&sheet(&other, Some("A02"), Drawn::Nothing), &room.path("scans/2.png"));
    room.write("scans/3.jpg", "Dear teacher, the scan is attached.");
    let dot = GreyImage { width: 1, height: 1, pixels: vec![0] };
    save(&dot, &room.path("scans/4.png"));
    let whole = std::fs::read(room.path("scans/1.png")).unwrap();
    room.write("scans/5.png", &whole[..whole.len() / 2]);
    save(&letter(), &room.path("scans/6.png"));
    std::fs::create_dir(room.path("scans/7")).unwrap();
    let summary = room.marked();
    assert!(room.row("A01")["total"].parse::<f64>().unwrap() > 0.0);
    assert_eq!(room.row("A02")["status"], "absent");
    let (people, page) = (people(&summary), room.read("class.html"));
    for file in ["2.png", "3.jpg", "4.png", "5.png", "6.png", "7"] {
        assert!(people.contains(&format!("\"source\":\"{file}")), "{file}: {people}");
        assert!(page.contains(file), "{file}");
    }
    assert!(people.contains("page of the worksheet another"));
    assert_eq!(room.mark(&["--strict"]).status.code(), Some(1));
}

#[test]
fn blank_backs_are_passed_over_and_counted() {
    let room = Classroom::new("unlike-poles", 2);
    room.scan("1.png", Some("A01"), Drawn::Lines);
    room.scan("3.png", Some("A02"), Drawn::Lines);
    let mut holes = paper();
    for (middle, at) in [(850, 95), (1480, 95)] {
        for y in middle - 22..middle + 22usize {
            holes.pixels[y * holes.width + at - 20..][..40].fill(60);
        }
    }
    save(&paper(), &room.path("scans/2.png"));
    save(&holes, &room.path("scans/4.png"));
    let summary = room.marked();
    assert_eq!((&summary["counts"]["pages"], &summary["counts"]["blank"]), (&4.into(), &2.into()));
    let page = room.read("class.html");
    for file in ["2.png", "4.png"] {
        assert!(!people(&summary).contains(file) && !page.contains(file), "{file}");
    }
    assert!(!room.path("who.csv").exists());
    let said = String::from_utf8(room.mark(&[]).stdout).unwrap();
    assert!(said.starts_with("4 pages in 4 files (2 blank), 0 of them read now"), "{said}");
    // A page with anything on it is told, worksheet or not.
    save(&letter(), &room.path("scans/5.png"));
    let summary = room.marked();
    assert!(people(&summary).contains("5.png page 1") && summary["counts"]["blank"] == 2);
}

#[test]
fn no_scans_is_unusable_input_and_writes_nothing() {
    let room = Classroom::new("unlike-poles", 2);
    room.write("scans/.DS_Store", "x");
    let output = room.mark(&[]);
    assert_eq!(output.status.code(), Some(2));
    assert!(errors(&output).contains("scans: holds no scans; put the copier's PDF"), "{}", errors(&output));
    let mut left: Vec<String> = std::fs::read_dir(&room.dir)
        .unwrap()
        .map(|e| e.unwrap().file_name().into_string().unwrap())
        .collect();
    left.sort();
    assert_eq!(left, ["roster.csv", "rubric.yaml", "scans", "worksheet.yaml"]);
}

#[test]
fn wrong_files_are_told_together_and_nothing_is_marked() {
    let room = Classroom::new("unlike-poles", 2);
    room.scan("1.png", Some("A01"), Drawn::Nothing);
    room.write("roster.csv", "code,name\na1,\n");
    room.write("rubric.yaml", room.read("rubric.yaml").replace("meets.count", "meets.county"));
    let output = room.mark(&[]);
    assert_eq!(output.status.code(), Some(2));
    let told = errors(&output);
    assert!(told.contains("roster.csv:2:1 code") && told.contains("did you mean meets.count?"), "{told}");
    assert!(!room.path("marks.csv").exists() && !room.path("cache").exists());
    let nowhere = run(&["mark", room.path("nowhere").to_str().unwrap()]);
    assert_eq!(nowhere.status.code(), Some(2));
}

#[test]
fn a_persons_marks_win_and_settle_a_row() {
    let room = Classroom::new("unlike-poles", 2);
    room.scan("1.png", Some("A01"), Drawn::Lines);
    room.scan("2.png", Some("A02"), Drawn::Nothing);
    let all = ["arrows,1", "direction,2", "meeting,2", "spacing,\"1,5\"", "shape,0", "ends,1", "whole,0"];
    let rows: String = all.iter().map(|c| format!("A02,{c},TG,looked\n")).collect();
    room.write(
        "changes.csv",
        format!("code,criterion,marks,by,why\nA01,arrows,1,TG,arrows are there\n{rows}"),
    );
    room.marked();
    assert_eq!(room.row("A01")["arrows"], "1");
    assert!(room.row("A01")["flags"].contains("arrows:changed"));
    assert!(room.read("feedback/A01.html").contains("TG: arrows are there"));
    let blank = room.row("A02");
    assert_eq!((blank["status"].as_str(), blank["total"].as_str()), ("proposed", "7.5"));
    room.write(
        "changes.csv",
        "code,criterion,marks\nA09,arrows,1\nA01,arows,1\nA01,arrows,2\nA01,arrows,x\n",
    );
    let output = room.mark(&[]);
    let told = errors(&output);
    assert_eq!(output.status.code(), Some(2));
    for words in [
        "2:1 code: \"A09\"",
        "3:5 criterion: no criterion is called \"arows\"; did you mean arrows?",
        "4:12 marks: \"2\"",
        "5:12 marks: \"x\"",
    ] {
        assert!(told.contains(words), "{words}: {told}");
    }
    assert_eq!(room.row("A01")["arrows"], "1");
}

#[test]
fn edited_marks_are_kept() {
    let room = Classroom::new("unlike-poles", 1);
    room.scan("1.png", Some("A01"), Drawn::Lines);
    room.marked();
    let mine = room.read("marks.csv").replace("A01", "A01x");
    room.write("marks.csv", &mine);
    room.write("rubric.yaml", room.read("rubric.yaml").replace("marks: 2", "marks: 3"));
    let output = room.mark(&[]);
    let said = String::from_utf8(output.stdout).unwrap();
    assert!(said.contains("marks.new.csv") && said.contains("changes.csv"), "{said}");
    assert_eq!(room.read("marks.csv"), mine);
    assert!(room.read("marks.new.csv").contains("A01,"));
}

#[test]
fn a_changed_rubric_marks_again_without_reading_a_page() {
    let room = Classroom::new("unlike-poles", 1);
    room.scan("1.png", Some("A01"), Drawn::Lines);
    assert_eq!(room.marked()["counts"]["pages_read"], 1);
    let (before, total) =
        (room.row("A01"), |r: &std::collections::BTreeMap<String, String>| r["whole"].clone());
    let rubric = room.read("rubric.yaml");
    let (head, whole) = rubric.split_once("  - id: whole").unwrap();
    room.write("rubric.yaml", format!("{head}  - id: whole{}", whole.replace("marks: 1", "marks: 4")));
    assert_eq!(room.marked()["counts"]["pages_read"], 0);
    assert_eq!((total(&before).as_str(), total(&room.row("A01")).as_str()), ("1", "4"));
    // The worksheet is another matter.
    room.write(
        "worksheet.yaml",
        room.read("worksheet.yaml").replace("remanence_mt: 400", "remanence_mt: 399"),
    );
    assert_eq!(room.marked()["counts"]["pages_read"], 1);
}

#[test]
fn the_number_of_threads_changes_no_byte() {
    let room = Classroom::new("like-poles", 4);
    for (n, drawn) in [Drawn::Lines, Drawn::Nothing, Drawn::Lines, Drawn::Lines].into_iter().enumerate() {
        room.scan(&format!("{n}.png"), Some(&format!("A{:02}", n + 1)), drawn);
    }
    let outputs = |threads: &str| {
        std::fs::remove_dir_all(room.path("cache")).ok();
        std::fs::remove_file(room.path("marks.csv")).ok();
        assert_eq!(room.mark(&["--threads", threads]).status.code(), Some(0));
        ["marks.csv", "class.html", "findings/A01.json", "findings/A03.json", "feedback/A04.html"]
            .map(|f| room.read(f))
    };
    let one = outputs("1");
    assert_eq!(one, outputs("3"));
}

#[test]
fn a_run_killed_at_any_moment_leaves_whole_files_and_the_next_goes_on() {
    let room = Classroom::new("unlike-poles", 3);
    for n in 1..=3 {
        room.scan(&format!("{n}.png"), Some(&format!("A{n:02}")), Drawn::Lines);
    }
    room.marked();
    let old = room.read("marks.csv");
    let rubric = room.read("rubric.yaml");
    room.write("rubric.yaml", rubric.replace("marks: 2", "marks: 5"));
    room.marked();
    let new = room.read("marks.csv");
    assert_ne!(old, new);
    for (turn, wait_ms) in [0, 1, 2, 4, 6, 9, 13, 20, 40, 80, 160, 320].into_iter().enumerate() {
        let text = if turn % 2 == 0 { rubric.clone() } else { rubric.replace("marks: 2", "marks: 5") };
        room.write("rubric.yaml", text);
        if turn % 3 == 0 {
            std::fs::remove_dir_all(room.path("cache/pages")).ok();
        }
        let mut child = std::process::Command::new(env!("CARGO_BIN_EXE_lodemark"))
            .args(["mark", room.dir.to_str().unwrap()])
            .stdout(std::process::Stdio::null())
            .spawn()
            .unwrap();
        std::thread::sleep(std::time::Duration::from_millis(wait_ms));
        child.kill().unwrap();
        child.wait().unwrap();
        let left = room.read("marks.csv");
        assert!(left == old || left == new, "after {wait_ms} ms: {left}");
        for code in ["A01", "A02", "A03"] {
            let text = room.read(&format!("findings/{code}.json"));
            serde_json::from_str::<lodemark::measure::findings::Findings>(&text).unwrap();
            assert!(room.read(&format!("feedback/{code}.html")).trim_end().ends_with("</html>"));
        }
    }
    room.write("rubric.yaml", &rubric);
    room.marked();
    let now = ["marks.csv", "marks.new.csv"]
        .map(|name| std::fs::read_to_string(room.path(name)).unwrap_or_default());
    assert!(now.contains(&old), "{now:?}");
    let hidden = |dir: &str| {
        let names = std::fs::read_dir(room.path(dir)).unwrap().map(|e| e.unwrap().file_name());
        names.filter(|n| n.to_string_lossy().starts_with(".lodemark")).count()
    };
    assert_eq!(["", "findings", "feedback", "cache", "cache/pages"].map(hidden), [0; 5]);
}

#[test]
fn a_check_gives_feedback_and_records_nothing() {
    let room = Classroom::new("unlike-poles", 1);
    let photo = room.path("photo.png");
    save(&sheet(&room.worksheet(), None, Drawn::Lines), &photo);
    let output = run(&["check", room.dir.to_str().unwrap(), photo.to_str().unwrap()]);
    let said = String::from_utf8(output.stdout.clone()).unwrap();
    assert_eq!(output.status.code(), Some(0), "{}", errors(&output));
    assert!(said.contains("Lines keep apart") && said.contains("Nothing was recorded"), "{said}");
    assert!(!room.path("cache").exists() && !room.path("marks.csv").exists());
    room.write("letter.jpg", "Dear teacher");
    let output = run(&["check", room.dir.to_str().unwrap(), room.path("letter.jpg").to_str().unwrap()]);
    assert_eq!(output.status.code(), Some(2));
    assert!(errors(&output).contains("letter.jpg: is no image"), "{}", errors(&output));
}

/// A sheet that `mark` sends to a person as a whole is not passed by a self-check either.
#[test]
fn a_check_doubts_a_page_as_marking_does() {
    let sample = Path::new(env!("CARGO_MANIFEST_DIR")).join("samples/8c-three-bars");
    let told = |photo: &str| {
        let photo = sample.join("scans").join(photo);
        let output = run(&["check", sample.to_str().unwrap(), photo.to_str().unwrap(), "--json"]);
        assert!(output.status.success(), "{output:?}");
        let answer: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
        answer["why"].as_array().unwrap().len()
    };
    // Three ends or more on other lines; and a sheet with nothing of the kind.
    assert_eq!(told("IMG_0019.jpg"), 1);
    assert_eq!(told("IMG_0001.jpg"), 0);
}
