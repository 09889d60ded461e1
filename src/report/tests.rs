//! The pages with made-up input: well formed, self-contained, nothing that a name can break.

use super::*;
use crate::geometry::Point;
use crate::measure::findings::{AngleRecord, ArrowRecord, EndRecord, LineRecord, MeetRecord};

/// An arc between two places, bulging by `bulge` mm.
fn line(id: &str, from: Point, to: Point, bulge: f64, on: [&str; 2], agrees: bool) -> LineRecord {
    let step = to - from;
    let normal = crate::geometry::Vec2::new(-step.y, step.x) / step.hypot();
    let at = |t: f64| from + step * t + normal * (4.0 * bulge * t * (1.0 - t));
    let points_mm: Vec<[f64; 2]> = (0..=60).map(|i| at(f64::from(i) / 60.0)).map(|p| [p.x, p.y]).collect();
    let tip = points_mm[30];
    let end = |at_mm: [f64; 2], on: &str| EndRecord { at_mm, on: on.into() };
    LineRecord {
        id: id.into(),
        length_mm: step.hypot(),
        width_mm: 0.5,
        arrows: vec![ArrowRecord {
            at_mm: tip,
            towards_deg: 0.0,
            agrees,
            sure: if agrees { 0.97 } else { 0.7 },
        }],
        ends: vec![end(points_mm[0], on[0]), end(points_mm[60], on[1])],
        points_mm,
        angle_deg: AngleRecord { median: Some(4.0), p90: Some(9.0) },
        sure: 0.95,
    }
}

fn sheet() -> Sheet {
    let (n, s) = (Point::new(125.0, 115.0), Point::new(170.0, 115.0));
    let mut lines: Vec<LineRecord> = (0..9)
        .map(|i| {
            line(&format!("l{i}"), n, s, f64::from(i - 4) * 13.0, ["left.N", "right.S"], i != 2 && i != 6)
        })
        .collect();
    lines.push(line("l9", Point::new(120.0, 105.0), Point::new(90.0, 60.0), 8.0, ["left.N", "open"], true));
    lines.push(line("l10", Point::new(70.0, 120.0), Point::new(70.0, 170.0), 8.0, ["left.S", "open"], true));
    lines.push(line(
        "l11",
        Point::new(172.0, 120.0),
        Point::new(75.0, 122.0),
        -50.0,
        ["right.S", "left.S"],
        true,
    ));
    let meet = |x, y, kind: &str, sure| MeetRecord {
        at_mm: [x, y],
        kind: kind.into(),
        lines: ["l0".into(), "l1".into()],
        sure,
    };
    let record = PanelRecord {
        id: "A".into(),
        lines,
        meets: vec![
            meet(147.0, 160.0, "cross", 0.95),
            meet(110.0, 90.0, "touch", 0.6),
            meet(60.0, 60.0, "cross", 0.2),
        ],
        ..PanelRecord::default()
    };
    Sheet { frame: Rect::new(20.0, 45.0, 277.0, 185.0), record }
}

fn judged(column: &str, title: &str, got: Option<f64>, out_of: f64, say: &str, look: &[&str]) -> Judged {
    Judged {
        column: column.into(),
        title: title.into(),
        marks: got,
        out_of,
        chance: 0.95,
        say: say.into(),
        look: look.iter().map(|s| (*s).into()).collect(),
        by: None,
    }
}

fn criteria(seed: usize) -> Vec<Judged> {
    let pick = |i: usize, most: usize| Some(((seed * 7 + i * 5 + seed * seed / 3) % (most + 1)) as f64);
    vec![
        judged(
            "direction",
            "Arrows run from N to S outside the magnet",
            pick(0, 2),
            2.0,
            "2 of your lines have an arrow the wrong way: see the ringed ones.",
            &[],
        ),
        judged(
            "meeting",
            "Lines never touch or cross",
            pick(1, 2),
            2.0,
            "Lines meet at the ringed places.",
            &["The mark might be 2: one of the two meetings is not sure."],
        ),
        judged(
            "spacing",
            "Lines open out where the field weakens",
            if seed % 6 == 5 { None } else { pick(2, 2) },
            2.0,
            "Some gaps do not widen as the field weakens.",
            &[],
        ),
        judged("shape", "The lines follow the field", pick(3, 2), 2.0, "The pattern is roughly right.", &[]),
        judged(
            "ends",
            "Lines begin and end where they should",
            pick(4, 1),
            1.0,
            "Carry every line on to a pole or to the frame.",
            &[],
        ),
    ]
}

fn student(name: &str) -> Student {
    let (width, scale) = (2_339, 200.0 / 25.4);
    let grey = |x: usize, y: usize| {
        let (x, y) = (x as f64 / scale, y as f64 / scale);
        let magnet = |cx: f64| (x - cx).abs() < 25.0 && (y - 115.0).abs() < 7.5;
        let frame = (x - 20.0).abs() < 0.2
            || (x - 277.0).abs() < 0.2
            || (y - 45.0).abs() < 0.2
            || (y - 185.0).abs() < 0.2;
        if magnet(95.0) || magnet(195.0) {
            190
        } else if frame {
            90
        } else {
            246
        }
    };
    let pixels: Vec<u8> = (0..1_654).flat_map(|y| (0..width).map(move |x| grey(x, y))).collect();
    let sheet = sheet();
    let region = Picture::region_of([sheet.frame]).unwrap();
    Student {
        code: "KX-07".into(),
        name: name.into(),
        worksheet: "Between two unlike poles".into(),
        status: Status::Look,
        why: vec!["The mark for meeting is not sure enough.".into()],
        total: Some(6.0),
        out_of: 9.0,
        grade: None,
        says: vec![],
        terms: vec![],
        words_only: false,
        field: (ShowField::No, vec![]),
        ideas: vec![],
        language: None,
        criteria: criteria(3),
        panels: vec![sheet],
        picture: Picture::cut(&pixels, width, scale, region),
        source: "class.pdf, page 7".into(),
        recorded: true,
    }
}

fn class() -> ClassSet {
    let names = ["Ada", "", "Chien-Shiung", "Émilie", "Maria <b>G.</b>", "Lise & Otto"];
    let rows: Vec<Row> = (0..30)
        .map(|i| {
            let status = match i {
                4 | 11 | 17 => Status::Look,
                8 => Status::Unreadable,
                20 | 21 => Status::Absent,
                22 => Status::Excused,
                _ => Status::Proposed,
            };
            let read = matches!(status, Status::Proposed | Status::Look);
            let mut criteria = if read { criteria(i) } else { Vec::new() };
            if status != Status::Look {
                criteria.iter_mut().for_each(|j| j.look.clear());
            }
            let total = criteria.iter().map(|j| j.marks).sum::<Option<f64>>().filter(|_| read);
            let why = if status == Status::Unreadable {
                vec!["Fewer than three of the four corner marks were found.".into()]
            } else {
                vec![]
            };
            Row {
                code: format!("KX-{i:02}"),
                name: names[i % 6].into(),
                status,
                total,
                out_of: 9.0,
                grade: None,
                criteria,
                why,
                spot: i == 14,
                feedback: read.then(|| format!("feedback/KX-{i:02}.html")),
                source: if read { format!("class.pdf, page {}", i + 1) } else { String::new() },
            }
        })
        .collect();
    ClassSet {
        worksheet: "Between two unlike poles".into(),
        rubric: "Direction, meeting, spacing, shape, ends".into(),
        out_of: 9.0,
        criteria: criteria(0)
            .into_iter()
            .map(|j| Heading { column: j.column, title: j.title, out_of: j.out_of })
            .collect(),
        rows,
        codeless: vec![Codeless { source: "class.pdf, page 31".into(), guess: Some("KX-20".into()) }],
        strays: vec![Stray {
            source: "notes.jpg".into(),
            what: "is no image: its content looks like text".into(),
            fix: "take it out of scans/".into(),
        }],
        ideas: vec![IdeaShare {
            title: "Lines cross".into(),
            teacher: "Set a compass on a crossing.".into(),
            source: "common practice".into(),
            count: 2,
            examples: vec![Example {
                code: "KX-03".into(),
                feedback: Some("feedback/KX-03.html".into()),
                panels: vec![sheet()],
                at: vec![[147.0, 160.0]],
            }],
        }],
        density: Density::new(&[vec![sheet()], vec![sheet()]]),
        field: vec![vec![Point::new(30.0, 50.0), Point::new(200.0, 150.0)]],
        earlier: Some(Earlier {
            name: "9a".into(),
            students: [28, 24],
            rows: vec![("Arrows".into(), Some(0.5), Some(0.75)), ("Shape".into(), None, None)],
        }),
    }
}

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
            if !["meta", "br", "input"].contains(&name) {
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
