//! Two panels on one sheet, drawn, scanned and marked: what is wrong in one is told of that one, and of no other.

use crate::browser;
use crate::classroom::{Classroom, Drawn};

const SHEET: &str = "\
worksheet: 1
id: bar-and-poles
title: One magnet, and two
paper: a4
orientation: landscape
panels:
  - id: A
    prompt: Draw the magnetic field round this magnet with eight or more lines.
    frame_mm: [20, 50, 125, 135]
    sources:
      - { kind: bar, id: bar, centre_mm: [82.5, 117], size_mm: [50, 14, 10], north_deg: 90, remanence_mt: 400 }
  - id: B
    prompt: Draw the magnetic field of these two magnets with eight or more lines.
    frame_mm: [152, 50, 125, 135]
    sources:
      - { kind: bar, id: left, centre_mm: [184, 117], size_mm: [30, 12, 10], north_deg: 0, remanence_mt: 400 }
      - { kind: bar, id: right, centre_mm: [245, 117], size_mm: [30, 12, 10], north_deg: 0, remanence_mt: 400 }
";

const CRITERIA: [&str; 7] = ["arrows", "direction", "meeting", "spacing", "shape", "ends", "whole"];

/// A01 is right everywhere, A02 has every arrow of panel B the wrong way round, A03 left panel B empty.
pub fn room() -> Classroom {
    let room = Classroom::new("single-bar", 3);
    room.write("worksheet.yaml", SHEET);
    let each: String = CRITERIA.iter().map(|id| format!("  - {{ id: {id}, panel: each }}\n")).collect();
    let rubric = format!("rubric: 1\nextends: basics\ntitle: Panel by panel\ncriteria:\n{each}");
    room.write("rubric.yaml", rubric);
    room.scan("1.png", Some("A01"), Drawn::Arrows);
    room.scan("2.png", Some("A02"), Drawn::Against("B"));
    room.scan("3.png", Some("A03"), Drawn::Only("A"));
    room
}

#[test]
fn a_fault_in_one_of_two_panels_is_told_of_that_one_alone() {
    let room = room();
    room.marked();
    let header = room.read("marks.csv").lines().next().unwrap().to_string();
    let columns: Vec<String> =
        CRITERIA.iter().flat_map(|id| [format!("{id}.A"), format!("{id}.B")]).collect();
    assert!(header.contains(&format!(",percent,{},flags,", columns.join(","))), "{header}");
    let (right, wrong, half) = (room.row("A01"), room.row("A02"), room.row("A03"));
    assert_eq!(
        (right["status"].as_str(), right["total"].as_str(), right["out_of"].as_str()),
        ("proposed", "22", "22")
    );
    assert_eq!((wrong["status"].as_str(), wrong["total"].as_str()), ("proposed", "20"));
    for column in &columns {
        let expected = if column == "direction.B" { "0" } else { &right[column] };
        assert_eq!(wrong[column], expected, "{column}");
        let expected = if column.ends_with(".B") { "0" } else { &right[column] };
        assert_eq!(half[column], expected, "{column}");
    }
    assert_eq!((half["status"].as_str(), half["total"].as_str()), ("proposed", "11"));
    let page = room.read("feedback/A02.html");
    let says = |words: &str| assert!(page.contains(words), "{words}: {page}");
    says("Arrows lead from N to S, panel B");
    says("of panel B (");
    assert!(!page.contains("of panel A (") && !page.contains("(panel A)"), "nothing is marked in panel A");
    says("<strong>1 to 11 (panel B)</strong> These arrows point against the field.");
    says("Panel B: Look at your arrows beside an N pole.");
    let class = room.read("class.html");
    assert!(class.contains("</a>, panel B"), "the example of the idea is not told of its panel");
    assert!(
        class.contains("Arrows lead from N to S, panel B")
            && class.contains("colspan=\"2\">direction<br>of\u{a0}2</th>")
    );
}

/// The columns of several panels stand in a second row of headings: each still sorts by its own numbers.
#[test]
fn the_table_of_marks_sorts_by_a_criterion_in_one_panel() {
    let room = room();
    room.marked();
    let says = "\
        var table = document.getElementById('marks'), head = table.querySelector('[data-name=\"Arrows lead from N to S, panel B\"]');\
        head.firstChild.click();\
        document.body.setAttribute('data-order', Array.prototype.map.call(table.tBodies[0].rows, function (r) { return r.cells[0].dataset.v; }).join(' '));\
        document.body.setAttribute('data-wide', table.parentNode.scrollWidth > table.parentNode.clientWidth ? 'scrolls' : 'fits');";
    let page = browser::with_script(&room.read("class.html"), "", says);
    std::fs::write(room.path("probe.html"), page).unwrap();
    let dom = browser::dom(&room.path("probe.html"), 1280);
    assert_eq!(browser::attribute(&dom, "data-order"), "A02 A03 A01");
    assert_eq!(browser::attribute(&dom, "data-wide"), "fits");
}
