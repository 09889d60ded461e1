//! A wrong worksheet.yaml, rubric.yaml or table is refused with place and remedy, all problems at once.

use lodemark::class::Folder;
use lodemark::class::roster::{Roster, State};
use lodemark::print::layout;
use lodemark::problem::Problem;
use lodemark::rubric::Rubric;
use lodemark::run::class;
use lodemark::worksheet::{Kind, Worksheet};
use std::path::Path;

const SHEET: &str = "\
worksheet: 1
id: two-bars
title: Two bars
paper: a4
orientation: landscape
panels:
  - id: A
    prompt: Draw the field.
    frame_mm: [20, 45, 257, 140]
    sources:
      - { kind: bar, id: left, centre_mm: [95, 115], size_mm: [50, 15, 10], north_deg: 0, remanence_mt: 400 }
      - { kind: bar, id: right, centre_mm: [202, 115], size_mm: [50, 15, 10], north_deg: 0, remanence_mt: 400 }
";

const RUBRIC: &str = "\
rubric: 1
title: One criterion
criteria:
  - id: meeting
    title: Lines keep apart
    marks: 2
    measure: meets.count
    needs:
      lines.count: { at_least: 5, else_marks: 0, say: \"Draw more.\" }
    bands:
      - { at_most: 0, marks: 2, say: \"Good.\" }
      - { otherwise: true, marks: 0, say: \"They meet at {crossings} places.\" }
";

fn told<T>(read: Result<T, Vec<Problem>>) -> Vec<String> {
    read.err().unwrap_or_default().iter().map(ToString::to_string).collect()
}

fn sheet(text: &str) -> Vec<String> {
    told(Worksheet::parse(Path::new("worksheet.yaml"), text))
}

fn rubric(text: &str, panels: &[&str]) -> Vec<String> {
    told(Rubric::parse(Path::new("rubric.yaml"), text, panels))
}

/// Each change of a right file is one problem, told at its place with what to do.
fn each_change(right: &str, changes: &[(&str, &str, &str)], read: impl Fn(&str) -> Vec<String>) {
    assert_eq!(read(right), [""; 0]);
    for (from, to, expected) in changes {
        assert!(right.contains(from), "{from}");
        let problems = read(&right.replacen(from, to, 1));
        assert!(problems.iter().any(|p| p.contains(expected)), "{from} -> {to}\n{expected}\n{problems:#?}");
        assert_eq!(problems.len(), 1, "{from} -> {to}: {problems:#?}");
    }
}

/// Whether a frame finds room hangs on what is printed above and below it. A frame that ended 20 to 21 mm above the lower
/// edge of an upright page was found in order, and then could not be printed.
#[test]
fn a_frame_is_refused_where_it_cannot_be_printed_and_only_there() {
    let room = tempfile::tempdir().unwrap();
    let folder = Folder::new(room.path());
    let upright = SHEET
        .replace("landscape", "portrait")
        .replace("[95, 115]", "[62, 150]")
        .replace("[202, 115]", "[148, 150]");
    let found = |top: f64, bottom: f64| {
        let text = upright.replace("[20, 45, 257, 140]", &format!("[20, {top}, 170, {}]", bottom - top));
        std::fs::write(folder.worksheet(), &text).unwrap();
        let sheet = Worksheet::parse(Path::new("worksheet.yaml"), &text).unwrap();
        assert_eq!(
            told(class::worksheet(&folder)).is_empty(),
            layout::check(&sheet, Path::new("w")).is_empty()
        );
        told(class::worksheet(&folder))
    };
    assert_eq!(found(50.0, 270.0), [""; 0]);
    // What is said to be right is right, and a little more is not.
    let number = |problem: &str, from: &str| -> f64 {
        assert!(problem.contains("worksheet.yaml:9:15 panels[0].frame_mm: the frame "), "{problem}");
        problem.split_once(from).and_then(|(_, rest)| rest.split(' ').next()).unwrap().parse().unwrap()
    };
    let low = found(50.0, 276.5);
    let most = number(&low[0], "; end it at ");
    assert!((270.0..277.0).contains(&most), "{low:?}");
    assert_eq!(found(50.0, most), [""; 0]);
    assert_eq!(found(50.0, most + 0.2).len(), 1);
    let high = found(30.0, 270.0);
    let least = number(&high[0], "; begin it at ");
    assert_eq!(found(least, 270.0), [""; 0]);
    assert_eq!(found(least - 0.2, 270.0).len(), 1);
}

#[test]
fn every_slip_in_a_worksheet_is_told_at_its_place() {
    let changes = [
        (
            "worksheet: 1",
            "worksheet: 2",
            "worksheet.yaml:1:12 worksheet: version 2 is not known; write worksheet: 1",
        ),
        ("id: two-bars", "id: Two Bars", "2:5 id: \"Two Bars\" is no id; write 2 to 24 of a-z, 0-9 and -"),
        ("id: two-bars\n", "", "1:1: the key \"id\" is missing"),
        ("title: Two bars", "title: 12", "3:8 title: a number where text is needed; put it in double quotes"),
        (
            "title: Two bars",
            "titel: Two bars\ntitle: x",
            "3:1 titel: unknown key \"titel\"; did you mean title?",
        ),
        ("paper: a4", "paper: A3", "4:8 paper: \"A3\" is not known here; did you mean a4?"),
        ("landscape", "portrait", "the frame leaves the printable area of the 210 x 297 mm page"),
        (
            "[20, 45, 257, 140]",
            "[20, 75, 257, 140]",
            "9:15 panels[0].frame_mm: the frame leaves the printable",
        ),
        (
            "[20, 45, 257, 140]",
            "[20, 45, 257]",
            "9:15 panels[0].frame_mm: 3 numbers where 4 are needed; write [left, top, width, height]",
        ),
        (
            "[20, 45, 257, 140]",
            "[20, 45, 257, .nan]",
            "9:29 panels[0].frame_mm[3]: NaN is not a finite number",
        ),
        ("[20, 45, 257, 140]", "[20, 45, 9, 140]", "too small to draw in"),
        (
            "kind: bar",
            "kind: bra",
            "11:17 panels[0].sources[0].kind: no source is of kind \"bra\"; did you mean bar?",
        ),
        (
            "kind: bar, id: left, centre_mm: [95, 115], size_mm: [50, 15, 10], north_deg: 0, remanence_mt: 400",
            "kind: coil, id: left, centre_mm: [95, 115], size_mm: [50, 15, 10], north_deg: 0, turns: 9, current_a: 1",
            "panels[0].sources[0].size_mm: 3 numbers where 2 are needed; write [length, diameter]",
        ),
        (
            "kind: bar, id: left, centre_mm: [95, 115], size_mm: [50, 15, 10], north_deg: 0, remanence_mt: 400",
            "kind: coil, id: left, centre_mm: [95, 115], size_mm: [50, 15], north_deg: 0, turns: 9.5, current_a: 1",
            "panels[0].sources[0].turns: 9.5 is no number of turns; write a whole number from 1 to 100000",
        ),
        (
            "kind: bar, id: left, centre_mm: [95, 115], size_mm: [50, 15, 10], north_deg: 0, remanence_mt: 400",
            "kind: wire, id: left, centre_mm: [95, 115], current_a: 5",
            "panels[0].sources[0]: the key \"way\" is missing; add way: out (towards you) or way: in",
        ),
        (
            "kind: bar, id: left, centre_mm: [95, 115], size_mm: [50, 15, 10], north_deg: 0, remanence_mt: 400",
            "kind: wire, id: left, centre_mm: [19, 115], current_a: 5, way: in",
            "panels[0].sources[0]: left sticks out of the frame; keep its centre 2.0 mm or more from the frame's left",
        ),
        (
            "remanence_mt: 400",
            "remanence_mt: 4000",
            "panels[0].sources[0].remanence_mt: 4000 mT is more than any magnet holds; write more than 0 and at most 1500 mT: sintered neodymium-iron-boron, the strongest, stays below it (IEC 60404-8-1)",
        ),
        (
            "remanence_mt: 400",
            "remanence_mt: 400, pole_inset: 0.3",
            "pole_inset: 0.3 is out of range; write 0 to 0.25",
        ),
        (
            "    sources:",
            "    earth: { latitude_deg: 51.5, longitude_deg: 0, date: 2024-12-31, north_deg: 90 }\n    sources:",
            "panels[0].earth.date: the World Magnetic Model 2025 does not hold on that day; write a day from 2025-01-01 to 2029-12-31",
        ),
        (
            "    sources:",
            "    earth: { latitude_deg: 51.5, longitude_deg: 0, date: 2026-02-29, north_deg: 90 }\n    sources:",
            "panels[0].earth.date: \"2026-02-29\" is no day; write year-month-day, as 2026-09-01",
        ),
        (
            "    sources:",
            "    earth: { latitude_deg: 51.5, longitude_deg: 0, date: 2026-03-01 }\n    sources:",
            "panels[0].earth: it must be said which way the sheet lies, once",
        ),
        (
            "    sources:",
            "    earth: { latitude_deg: 95, longitude_deg: 0, date: 2026-03-01, north_deg: 90 }\n    sources:",
            "panels[0].earth.latitude_deg: 95 degrees is out of range",
        ),
        (
            "    sources:\n",
            "    sources:\n      - { kind: charge, id: qq, centre_mm: [150, 60], charge_nc: -5 }\n",
            "qq makes an electric field and left a magnetic one; give each a panel of its own",
        ),
        (
            "    sources:\n",
            "    sources:\n      - { kind: charge, id: qq, centre_mm: [150, 60], charge_nc: 0 }\n",
            "panels[0].sources[0].charge_nc: 0 nC is out of range; write up to 1000000 nC, above or below 0 but not 0",
        ),
        (
            "size_mm: [50, 15, 10]",
            "size_mm: [50, 0, 10]",
            "panels[0].sources[0].size_mm[1]: 0 mm is out of range",
        ),
        ("size_mm: [50, 15, 10]", "size_mm: [50, 15]", "write [length, width, thickness]"),
        (
            "remanence_mt: 400",
            "remanence_mt: 0",
            "0 mT is out of range; write more than 0 and at most 1500 mT",
        ),
        ("remanence_mt: 400", "remanence_mt: 1501", "1501 mT is more than any magnet holds"),
        ("remanence_mt: 400", "remanence_mt: \"400\"", "\"400\" is text; write the number without quotes"),
        ("north_deg: 0,", "north_degrees: 0, north_deg: 0,", "unknown key \"north_degrees\""),
        ("north_deg: 0, ", "", "the key \"north_deg\" is missing"),
        ("north_deg: 0,", "north_deg: 0, limb_mm: 3,", "unknown key \"limb_mm\""),
        ("north_deg: 0,", "north_deg: 0, north_deg: 1,", "the key stands here twice"),
        ("id: right", "id: left", "12:9 panels[0].sources[1]: another source is called left"),
        ("id: right", "id: frame", "\"frame\" already means where a line ends"),
        ("[202, 115]", "[130, 118]", "12:9 panels[0].sources[1]: right overlaps left; move one of the two"),
        // On one axis, and one upon the other.
        ("[202, 115]", "[130, 115]", "12:9 panels[0].sources[1]: right overlaps left; move one of the two"),
        ("[202, 115]", "[95, 115]", "12:9 panels[0].sources[1]: right overlaps left; move one of the two"),
        ("[202, 115]", "[260, 115]", "right sticks out of the frame"),
        (
            "kind: bar, id: right, centre_mm: [202, 115], size_mm: [50, 15, 10]",
            "kind: disc, id: right, centre_mm: [202, 115], size_mm: [30, 5], through: up",
            "at right angles to the paper; give the panel a plane_mm",
        ),
        (
            "    sources:",
            "    earth: { horizontal_ut: 400, north_deg: 90 }\n    sources:",
            "400 microtesla is out of range",
        ),
        (
            "    sources:",
            "    earth: 3\n    sources:",
            "10:12 panels[0].earth: a number where a group of keys is needed",
        ),
    ];
    each_change(SHEET, &changes, sheet);
}

#[test]
fn all_problems_of_a_worksheet_are_told_at_once_in_order() {
    let text = SHEET
        .replace("paper: a4", "paper: b5")
        .replace("id: right", "id: R!")
        .replace("remanence_mt: 400", "remanence_mt: -1");
    let problems = sheet(&text);
    assert_eq!(problems.len(), 4, "{problems:#?}");
    assert!(problems[0].starts_with("worksheet.yaml:4:8") && problems[1].starts_with("worksheet.yaml:11:"));
}

#[test]
fn every_kind_of_source_is_read() {
    let sources = "      - { kind: rod, id: rod, centre_mm: [50, 80], size_mm: [40, 8], north_deg: 30, remanence_mt: 400 }
      - { kind: disc, id: flat, centre_mm: [120, 80], size_mm: [20, 5], north_deg: 0, remanence_mt: 400 }
      - { kind: disc, id: up, centre_mm: [170, 80], size_mm: [20, 5], through: down, remanence_mt: 400 }
      - { kind: globe, id: earth, centre_mm: [60, 140], size_mm: [40], north_deg: 260, remanence_mt: 0.09 }
      - { kind: dipole, id: point, centre_mm: [240, 80], north_deg: 0, moment_am2: 0.5 }
      - { kind: horseshoe, id: shoe, centre_mm: [180, 140], size_mm: [40, 50, 8], limb_mm: 10, north_deg: 0, north_limb: right, remanence_mt: 300 }
";
    let head =
        SHEET.split("      - {").next().unwrap().replace("    sources", "    plane_mm: 12\n    sources");
    let text = format!("\u{feff}{head}{sources}");
    let worksheet = Worksheet::parse(Path::new("worksheet.yaml"), &text).unwrap();
    let panel = &worksheet.panels[0];
    assert_eq!((worksheet.page_mm, panel.plane_mm, panel.sources.len()), ((297.0, 210.0), 12.0, 6));
    assert_eq!(
        panel.sources[2].kind,
        Kind::DiscThrough { diameter: 20.0, thickness: 5.0, remanence_mt: 400.0, up: false }
    );
    assert!(matches!(panel.sources[5].kind, Kind::Horseshoe { north_left: false, limb: 10.0, .. }));
}

#[test]
fn a_bar_may_lie_between_the_limbs_of_a_horseshoe() {
    let shoe = |bar: &str| {
        let head = SHEET.split("      - {").next().unwrap();
        sheet(&format!(
            "{head}      - {{ kind: horseshoe, id: shoe, centre_mm: [120, 115], size_mm: [60, 80, 10], limb_mm: 16, north_deg: 0, north_limb: left, remanence_mt: 400 }}
      - {{ kind: bar, id: bar, centre_mm: {bar}, size_mm: [30, 10, 10], north_deg: 0, remanence_mt: 400 }}\n"
        ))
    };
    assert_eq!(shoe("[140, 115]"), [""; 0]);
    assert!(shoe("[140, 105]")[0].contains("bar overlaps shoe"));
    assert!(shoe("[100, 115]")[0].contains("bar overlaps shoe"));
}

#[test]
fn every_slip_in_a_rubric_is_told_at_its_place() {
    let changes = [
        (
            "meets.count",
            "meets.cout",
            "rubric.yaml:7:14 criteria[0].measure: no measure is called \"meets.cout\"; did you mean meets.count?",
        ),
        (
            "lines.count",
            "line.count",
            "9:7 criteria[0].needs.line.count: no measure is called \"line.count\"; did you mean lines.count?",
        ),
        (
            "at_most: 0",
            "at_most: -1",
            "11:20 criteria[0].bands[0].at_most: -1 is no value of meets.count, which is a whole number; write 0 or more",
        ),
        ("at_most: 0", "at_mots: 0", "unknown key \"at_mots\"; did you mean at_most?"),
        (
            "marks: 2, say",
            "marks: 3, say",
            "criteria[0].bands[0].marks: 3 marks is out of range; write 0 to 2 marks",
        ),
        ("marks: 2, say", "marks: 1, say", "no band gives the full marks, 2"),
        ("otherwise: true", "at_least: 4", "no band holds for a value such as"),
        ("at_most: 0", "at_least: 0", "12:9 criteria[0].bands[1]: no value reaches this band"),
        ("{crossings}", "{croсsings}", "nothing is called"),
        ("{crossings}", "{crossing}", "nothing is called {crossing}; did you mean crossings?"),
        ("id: meeting", "id: total", "marks.csv has a column total already"),
        ("title: One criterion", "look_below: 2\ntitle: One", "look_below: 2 is out of range; write 0 to 1"),
        ("measure: meets.count", "measure: meets.count\n    panel: B", "worksheet.yaml has no panel \"B\""),
        (
            "    bands:",
            "    if_empty: { marks: 0, say: x }\n    bands:",
            "meets.count always has a value; remove if_empty",
        ),
        ("otherwise: true, ", "otherwise: true, at_least: 3, ", "otherwise beside a limit"),
        ("at_least: 5, ", "", "nothing is needed here"),
    ];
    each_change(RUBRIC, &changes, |text| rubric(text, &["A"]));
}

#[test]
fn several_panels_ask_for_a_choice() {
    assert!(rubric(RUBRIC, &["A", "B"])[0].contains("the sheet has several panels; add panel: each"));
    let each = RUBRIC.replace("    marks: 2\n", "    marks: 2\n    panel: each\n");
    assert_eq!(rubric(&each, &["A", "B"]), [""; 0]);
}

#[test]
fn a_roster_from_any_spreadsheet_is_read_and_said() {
    let text = b"\xef\xbb\xbfCode;Name;State\r\nA01;M\xfcller, Ada;\r\n;;\r\nA02;Bo;Excused\r\n";
    let roster = Roster::parse(Path::new("roster.csv"), text).unwrap();
    assert_eq!(roster.students.len(), 2);
    assert_eq!((roster.students[0].name.as_str(), roster.students[1].state), ("Müller, Ada", State::Excused));
    let notes = roster.notes.join("; ");
    assert!(["byte-order mark", "semicolons", "Windows-1252"].iter().all(|n| notes.contains(n)), "{notes}");
}

#[test]
fn every_slip_in_a_roster_is_told_with_its_line() {
    let roster = |text: &str| told(Roster::parse(Path::new("roster.csv"), text.as_bytes()));
    let problems = roster("code,name,state\nA01,Ada,\nb2,Bo,\nA01,Cy,\nNUL,Di,\nA03,Ed,away\n");
    assert_eq!(problems.len(), 4, "{problems:#?}");
    assert!(problems[0].starts_with("roster.csv:3:1 code: \"b2\" is no code; write B2"));
    assert!(problems[1].starts_with("roster.csv:4:1 code: A01 stands in line 2 already"));
    assert!(problems[2].starts_with("roster.csv:5:1 code: \"NUL\" is a name that Windows keeps"));
    assert!(
        problems[3]
            .starts_with("roster.csv:6:8 state: \"away\" is no state; write present, absent or excused")
    );
    assert!(roster("code,nmae\nA01,Ada\n")[0].contains("unknown column \"nmae\"; did you mean name?"));
    assert!(roster("code,name\nA01,Lovelace, Ada\n")[0].contains("3 cells under 2 columns; put a cell"));
    assert!(roster("")[0].contains("is empty; begin it with the line code,name,group,state"));
    assert!(roster("code,name\n")[0].contains("has no students"));
    assert!(
        roster("code,name\nA01,\"Ada\nA02,Bo\n")[0].contains("holds a line break; close the double quote")
    );
}
