//! The pages with made-up input: well formed, self-contained, nothing that a name can break.

use super::made::{class, sheet, student};
use super::*;
use crate::measure::findings::EndRecord;

/// Every element that is opened is closed in order, attributes are quoted, no stray `<` or `&`.
fn assert_well_formed(page: &str) {
    let mut open: Vec<&str> = Vec::new();
    let mut rest = page.strip_prefix("<!DOCTYPE html>").expect("a document type");
    while let Some(at) = rest.find('<') {
        let text = &rest[..at];
        if !matches!(open.last(), Some(&"style" | &"script")) {
            assert!(!text.contains('>'), "stray > in {text:?}");
            for (i, _) in text.match_indices('&') {
                assert!(text[i..].find(';').is_some_and(|end| end < 8), "stray & in {text:?}");
            }
        }
        let end = tag_end(&rest[at..]);
        let tag = &rest[at + 1..at + end];
        rest = &rest[at + end + 1..];
        if let Some(name) = tag.strip_prefix('/') {
            assert_eq!(open.pop(), Some(name));
        } else {
            let name = tag.split_whitespace().next().unwrap();
            // Within SVG an element may close itself.
            if !["meta", "br", "input", "wbr"].contains(&name) && !tag.ends_with('/') {
                open.push(name);
            }
        }
    }
    assert!(open.is_empty(), "left open: {open:?}");
}

/// Where a tag's `>` stands; those inside quotes do not count.
fn tag_end(tag: &str) -> usize {
    let mut quoted = false;
    tag.char_indices()
        .find(|&(_, c)| {
            quoted ^= c == '"';
            c == '>' && !quoted
        })
        .expect("a tag that ends")
        .0
}

/// Nothing is fetched: every address is in the page itself or a page beside it, and no script runs.
fn assert_self_contained(page: &str) {
    for attribute in ["src=\"", "href=\"", "url(", "@import", "srcset=\""] {
        for (at, _) in page.match_indices(attribute) {
            let value = &page[at + attribute.len()..];
            let fine = value.starts_with("data:image/jpeg;base64,")
                || value.starts_with("data:image/png;base64,")
                || value.starts_with('#')
                || value.starts_with("feedback/");
            assert!(fine, "{}", &value[..value.len().min(40)]);
        }
    }
    let handler = |w: &[u8]| {
        w[0] == b' ' && w[1] == b'o' && w[2] == b'n' && w[3].is_ascii_lowercase() && w[4..].contains(&b'=')
    };
    let styles_end = page.find("</style>").unwrap();
    // One script at most: that of the class page, which its policy names by its hash.
    match page.matches("<script").count() {
        0 => assert!(!page.contains("script-src")),
        count => {
            assert_eq!(count, 1);
            assert!(page.contains("; script-src 'sha256-") && page.contains(class_table::SCRIPT));
            assert!(!class_table::SCRIPT.contains(['<', '&']));
        }
    }
    for tag in page[styles_end..].split('<').filter_map(|t| t.split_once('>')).map(|(tag, _)| tag) {
        assert!(!tag.as_bytes().windows(9).any(handler), "{tag}");
    }
    assert!(!page.replace("http://www.w3.org/2000/svg", "").contains("http:") && !page.contains("https:"));
    assert!(page.contains("default-src 'none'"));
}

#[test]
fn the_feedback_page_stands_alone() {
    let page = feedback_page(&student("Ada"));
    assert_well_formed(&page);
    assert_self_contained(&page);
    assert!(page.contains("lang=\"en-GB\"") && page.contains(PROPOSAL));
    assert!(page.contains("6</b> of 9 marks") && page.contains("class.pdf, page 7"));
    assert!(page.contains("The mark for meeting is not sure enough."));
    assert!(page.len() < 400_000, "{} bytes", page.len());
}

#[test]
fn names_are_text() {
    let evil = "<img src=x onerror=\"alert(1)\">&'";
    for page in [feedback_page(&student(evil)), class_page(&ClassSet { worksheet: evil.into(), ..class() })] {
        assert_well_formed(&page);
        assert!(!page.contains("<img") && page.contains("&lt;img"));
    }
}

#[test]
fn every_place_has_a_number_and_a_sentence() {
    let page = feedback_page(&student("Ada"));
    // two wrong arrows, a crossing, a touch, a line between like poles, two open ends; the meeting that is
    // more likely not there is left out
    assert_eq!(notes::of(&[sheet()]).len(), 7);
    assert_eq!(page.matches("class=\"number\"").count(), 7);
    for (numbers, words) in [
        ("1, 2", "These arrows point against the field."),
        ("3", "Lines cross here."),
        ("4", "Lines touch here."),
        ("5", "This line joins two like poles."),
        ("6, 7", "These lines end in white space."),
    ] {
        assert!(page.contains(&format!("<strong>{numbers}</strong> {words}")), "{numbers}");
    }
    assert!(page.contains("Not read with certainty: 1, 2."));
}

/// Each of many open ends beside a pole had a number of its own, one over the other.
#[test]
fn places_close_together_share_a_number_which_says_how_many_and_where() {
    let mut student = student("Ada");
    for (n, line) in student.panels[0].record.lines[3..8].iter_mut().enumerate() {
        line.ends[0] = EndRecord { at_mm: [118.0 + n as f64, 100.0 + 5.0 * n as f64], on: "open".into() };
    }
    let page = feedback_page(&student);
    assert_eq!(page.matches("class=\"number\"").count(), 8);
    assert_eq!(page.matches("class=\"mark\" x=").count(), 7 + 1, "a mark at each place, and one in the list");
    assert!(page.contains("<strong>6 to 8</strong> These lines end in white space."));
    assert!(page.contains("Number 8 stands for 5 places in the middle."), "{page}");
    let description = page.split("id=\"pic-desc\">").nth(1).unwrap().split('<').next().unwrap();
    assert!(description.contains("in the middle (8 for 5 of them)"), "{description}");
}

#[test]
fn what_is_said_of_a_place_fits_what_makes_the_field() {
    use crate::worksheet::MadeBy;
    let page = |made_by| {
        let mut student = student("Ada");
        student.panels.iter_mut().for_each(|panel| panel.made_by = made_by);
        let page = feedback_page(&student);
        let from = page.find("<ul class=\"notes\">").unwrap();
        page[from..from + page[from..].find("</ul>").unwrap()].to_string()
    };
    let (currents, charges, earth) = (page(MadeBy::Currents), page(MadeBy::Charges), page(MadeBy::Earth));
    assert!(currents.contains("right-hand rule") && currents.contains("until it closes or leaves the frame"));
    assert!(
        charges.contains("away from positive charges") && charges.contains("to a charge or to the frame")
    );
    assert!(earth.contains("compass needle") && !earth.contains("away from N"));
    for words in [currents, charges] {
        assert!(!words.contains("Outside a magnet") && !words.contains("to a pole"), "{words}");
    }
}

#[test]
fn each_panel_of_a_page_is_told_of_what_makes_its_own_field() {
    use crate::worksheet::MadeBy;
    let mut student = student("Ada");
    let mut wire = sheet();
    wire.record.id = "B".into();
    wire.made_by = MadeBy::Currents;
    student.panels.push(wire);
    let page = feedback_page(&student);
    for words in [
        "1, 2 (panel A)</strong> These arrows point against the field. Outside a magnet",
        "8, 9 (panel B)</strong> These arrows point against the field. Go through the right-hand rule",
        "6, 7 (panel A)</strong> These lines end in white space. Carry each on to a pole or to the frame.",
        "13, 14 (panel B)</strong> These lines end in white space. Carry each on until it closes",
        // What is said of crossings is the same of both.
        "3 (panel A), 10 (panel B)</strong> Lines cross at these places.",
    ] {
        assert_eq!(page.matches(words).count(), 1, "{words}");
    }
    assert!(page.contains("Not read with certainty: 8, 9."));
}

#[test]
fn the_line_that_the_words_name_has_its_number_on_the_drawing() {
    let mut student = student("Ada");
    assert!(!feedback_page(&student).contains("class=\"named\""));
    student.panels[0].named_line = Some(3);
    assert!(feedback_page(&student).contains(">line 3</text>"));
    // A number without a line is left out.
    student.panels[0].named_line = Some(99);
    assert!(!feedback_page(&student).contains("class=\"named\""));
}

#[test]
fn the_picture_holds_nothing_of_the_photograph() {
    let page = feedback_page(&student("Ada"));
    let coded = page.split("base64,").nth(1).unwrap().split('"').next().unwrap();
    let value = |c: u8| {
        "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/".bytes().position(|l| l == c)
    };
    let bits: Vec<usize> = coded.bytes().filter_map(value).collect();
    let bytes: Vec<u8> = bits
        .chunks(4)
        .flat_map(|g| {
            let n = g.iter().fold(0, |n, v| n << 6 | v) << (6 * (4 - g.len()));
            [(n >> 16) as u8, (n >> 8) as u8, n as u8]
        })
        .collect();
    assert!(bytes.starts_with(&[0xFF, 0xD8]));
    assert!(!bytes.windows(4).any(|w| w == b"Exif"));
    // segments up to the scan: the only application segment is JFIF's own
    let mut at = 2;
    while bytes[at + 1] != 0xDA {
        assert!(
            !(0xE1..=0xEF).contains(&bytes[at + 1]) && bytes[at + 1] != 0xFE,
            "segment {:X}",
            bytes[at + 1]
        );
        at += 2 + usize::from(u16::from_be_bytes([bytes[at + 2], bytes[at + 3]]));
    }
}

#[test]
fn pages_without_a_picture_or_a_drawing() {
    let mut bare = student("");
    (bare.picture, bare.recorded) = (None, false);
    let page = feedback_page(&bare);
    assert_well_formed(&page);
    assert!(page.contains("nothing was recorded") && !page.contains("<image"));
    let lost = Student { status: Status::Unreadable, panels: vec![], criteria: vec![], total: None, ..bare };
    let page = feedback_page(&lost);
    assert_well_formed(&page);
    assert!(page.contains("could not be read") && !page.contains("<figure"));
}

#[test]
fn the_class_page_says_who_and_why() {
    let page = class_page(&class());
    assert_well_formed(&page);
    assert_self_contained(&page);
    assert!(page.contains("Fewer than three of the four corner marks were found."));
    assert!(page.contains("class.pdf, page 31: perhaps KX-20"));
    assert!(page.contains("<strong>notes.jpg</strong>: is no image"));
    assert!(page.contains("href=\"feedback/KX-00.html\"") && page.contains("Maria &lt;b&gt;G.&lt;/b&gt;"));
    assert_eq!(page.matches("<tr").count(), 31 + 3);
    assert!(page.contains("75 %") && page.contains("Lines cross: 2 students"));
    assert!(page.contains("<em>Lines never touch or cross:</em> The mark might be 2"));
    // told to several, with the range of each one's own number where they differ
    let mut set = class();
    for (i, row) in set.rows.iter_mut().enumerate() {
        if let Some(judged) = row.criteria.first_mut() {
            (judged.marks, judged.say) =
                (Some(0.0), format!("{i} of your lines have an arrow the wrong way."));
        }
    }
    assert!(class_page(&set).contains("\u{201C}0 to 29 of your lines have an arrow the wrong way."));
}

#[test]
fn an_empty_class_is_a_page_too() {
    let page = class_page(&ClassSet { rows: vec![], codeless: vec![], strays: vec![], ..class() });
    assert_well_formed(&page);
    assert!(page.contains("Nobody: every mark") && page.contains("No total is known yet."));
}

#[test]
fn a_penalty_and_a_bonus_are_told_as_what_they_are() {
    use crate::rubric::Kind;
    let judged = |kind, got, out_of| Judged { kind, marks: got, out_of, ..Judged::default() }.earned();
    assert_eq!(judged(Kind::Penalty, Some(-2.0), -2.0), "2 taken off");
    assert_eq!(judged(Kind::Penalty, Some(-0.0), -2.0), "nothing taken off");
    assert_eq!(judged(Kind::Penalty, None, -2.0), "not judged (up to 2 taken off)");
    assert_eq!(judged(Kind::Bonus, Some(1.0), 1.0), "1 extra");
    assert_eq!(judged(Kind::Ordinary, Some(1.5), 2.0), "1.5 of 2");
    // On the class page: one in three lost what there is, told among what went wrong, though it has no full marks.
    let mut set = class();
    let last = set.criteria.len() - 1;
    (set.criteria[last].kind, set.criteria[last].out_of) = (Kind::Penalty, -2.0);
    for (n, row) in set.rows.iter_mut().enumerate() {
        for judged in row.criteria.iter_mut() {
            (judged.marks, judged.say) = (Some(judged.out_of), "Well done.".into());
            if judged.column == "ends" {
                (judged.kind, judged.out_of) = (Kind::Penalty, -2.0);
                judged.marks = Some(if n % 3 == 0 { -2.0 } else { 0.0 });
                judged.say = if n % 3 == 0 { "Loose ends.".into() } else { "No loose ends.".into() };
            }
        }
    }
    let judged = set.rows.iter().filter(|r| !r.criteria.is_empty()).count();
    let lost = set.rows.iter().enumerate().filter(|(n, r)| n % 3 == 0 && !r.criteria.is_empty()).count();
    let page = class_page(&set);
    let words = format!("{} nothing taken off, {lost} the most taken off (up to 2 taken off)", judged - lost);
    assert!(page.contains(&words), "{words}");
    assert!(page.contains("\u{201C}Loose ends.\u{201D}") && !page.contains("\u{201C}No loose ends."));
}

#[test]
fn praise_is_said_once_and_names_the_panel_where_it_holds_in_one_only() {
    let one = |column: &str, panel: &str, got: f64, say: &str| Judged {
        column: format!("{column}.{panel}"),
        title: format!("Title, panel {panel}"),
        panel: Some(panel.into()),
        marks: Some(got),
        out_of: 2.0,
        say: say.into(),
        ..Judged::default()
    };
    let criteria = vec![
        one("meeting", "A", 2.0, "Apart."),
        one("meeting", "B", 2.0, "Apart."),
        one("shape", "A", 2.0, "Well bent."),
        one("shape", "B", 0.0, "Bend them."),
    ];
    let student = Student { why: vec![], status: Status::Proposed, criteria, ..student("Ada") };
    assert_eq!(advice::good(&student), ["Apart.", "Panel A: Well bent."]);
    assert_eq!(advice::next(&student).unwrap().sentence, "Panel B: Bend them.");
}

#[test]
fn an_unsure_total_hides_neither_praise_nor_advice() {
    let one = |column: &str, got: f64| Judged {
        column: column.into(),
        title: column.into(),
        marks: Some(got),
        out_of: 2.0,
        say: format!("Of {column}."),
        ..Judged::default()
    };
    let criteria = vec![one("meeting", 2.0), one("shape", 0.0)];
    let unsure = vec!["What was read leaves room for another grade.".to_string()];
    let sure = Student { why: vec![], unsure_total: unsure.clone(), criteria, ..student("Ada") };
    assert_eq!(advice::good(&sure), ["Of meeting."]);
    assert_eq!(advice::next(&sure).unwrap().sentence, "Of shape.");
    assert!(feedback_page(&sure).contains(&unsure[0]));
    assert!(!feedback_page(&Student { words_only: true, ..sure.clone() }).contains(&unsure[0]));
    let doubted = Student { why: unsure, ..sure };
    assert!(advice::good(&doubted).is_empty() && advice::next(&doubted).is_none());
}

#[test]
fn lines_are_counted_through_all_panels() {
    let mut student = student("Ada");
    let mut second = sheet();
    second.named_line = Some(3);
    let before = student.panels[0].record.lines.len();
    student.panels[0].named_line = Some(3);
    student.panels.push(second);
    let page = feedback_page(&student);
    assert!(page.contains(">line 3</text>") && page.contains(&format!(">line {}</text>", before + 3)));
}

#[test]
fn where_no_marks_are_shown_none_are_spoken_of() {
    let words = Student { words_only: true, ..student("Ada") };
    let page = feedback_page(&words);
    assert!(!page.contains(PROPOSAL) && !page.contains("before the marks count"));
    assert!(page.contains("This feedback is a proposal"));
}

#[test]
fn boxes_stand_for_whole_marks_only() {
    let page = |out_of: f64| {
        let one = Judged { title: "Care".into(), marks: Some(out_of), out_of, ..Judged::default() };
        feedback_page(&Student { criteria: vec![one], ..student("Ada") })
    };
    assert!(page(4.0).contains("class=\"boxes\"") && !page(4.5).contains("class=\"boxes\""));
    assert!(page(4.5).contains("4.5 of 4.5"));
}

#[test]
fn a_drawing_without_lines_is_not_called_faultless() {
    let mut blank = student("Ada");
    for panel in &mut blank.panels {
        (panel.record.lines, panel.record.meets, panel.record.gaps) = (vec![], vec![], vec![]);
    }
    assert!(!feedback_page(&blank).contains("Nothing had to be pointed out"));
}
