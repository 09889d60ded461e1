//! Made-up input for the tests of the pages.

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

pub(super) fn sheet() -> Sheet {
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
    Sheet { frame: Rect::new(20.0, 45.0, 277.0, 185.0), record, made_by: MadeBy::Magnets, named_line: None }
}

fn judged(column: &str, title: &str, got: Option<f64>, out_of: f64, say: &str, look: &[&str]) -> Judged {
    Judged {
        column: column.into(),
        title: title.into(),
        panel: None,
        kind: Kind::Ordinary,
        marks: got,
        out_of,
        chance: 0.95,
        say: say.into(),
        look: look.iter().map(|s| (*s).into()).collect(),
        by: None,
    }
}

pub(super) fn criteria(seed: usize) -> Vec<Judged> {
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

pub(super) fn student(name: &str) -> Student {
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
        unsure_total: vec![],
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

pub(super) fn class() -> ClassSet {
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
            .map(|j| Heading { column: j.column, title: j.title, kind: j.kind, out_of: j.out_of })
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
                shown_in: vec!["A".into()],
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
