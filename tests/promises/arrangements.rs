//! The ready arrangements: each can be begun with, prints with room to draw, and stands in docs/arrangements.md with its
//! picture.

use crate::classroom::{Classroom, Drawn, errors, run};
use crate::makers::{Dice, Scene, drawing, good_of, scene};
use image::{DynamicImage, imageops};
use lodemark::class::arrangements::{self, Arrangement};
use lodemark::drawing::{Line, Mark, MarkKind};
use lodemark::geometry::{Point, polyline};
use lodemark::ideas;
use lodemark::measure::measure_panel;
use lodemark::print::answer::{self, Answer};
use lodemark::print::layout::{Layout, What};
use lodemark::rubric::{CriterionMark, PanelFacts, Rubric, ready};
use lodemark::worksheet::answer::field_lines;
use lodemark::worksheet::{Outline, Source, Worksheet};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

/// White that a line needs between two sources, and round a source to its frame, mm. A sheet of three bars has 5 mm
/// below the lowest, whose S pole is not what it is about.
const BETWEEN_MM: f64 = 20.0;
const ROUND_MM: f64 = 5.0;
/// Greatest width and height of the pictures, pixels.
const PICTURE_PX: (f64, f64) = (240.0, 180.0);
/// Lines in them: as many as the width shows apart.
const PICTURE_LINES: usize = 16;
/// Most that all pictures may take, bytes.
const PICTURES_BYTES: u64 = 400_000;
/// Mean difference of a picture from its like, of 255: other machines round otherwise at the edges of lines. A picture
/// without its lines is off by about 20.
const ALIKE: f64 = 4.0;
/// Set this variable to make the pictures anew.
const REWRITE: &str = "LODEMARK_REWRITE";

fn sheet(arrangement: &Arrangement) -> Worksheet {
    Worksheet::parse(Path::new(arrangement.name), arrangement.worksheet).unwrap()
}

/// The computed lines themselves, drawn on the printed sheet with a dry pen, are the best answer there is: nowhere may the
/// program be sure that they deserve less than all marks.
#[test]
fn the_field_itself_is_never_surely_marked_down() {
    let mut in_full = 0;
    let mut report = String::new();
    for arrangement in arrangements::ALL {
        let room = Classroom::new(arrangement.name, 1);
        room.scan("1.png", Some("A01"), Drawn::Arrows);
        room.marked();
        let findings: lodemark::measure::findings::Findings =
            serde_json::from_str(&room.read("findings/A01.json")).unwrap();
        let rubric = Rubric::parse(Path::new(arrangement.name), &room.read("rubric.yaml"), &["A"]).unwrap();
        let row = room.row("A01");
        for (column, mark) in &findings.marks {
            let out_of = rubric.columns(&["A"]).into_iter().find(|c| c.0 == *column).unwrap().1;
            let sure = mark.chance >= rubric.look_below;
            let full = mark.marks.is_some_and(|m| m >= out_of);
            if !full && sure {
                report += &format!("{}: {column} {mark:?}\n", arrangement.name);
            }
        }
        in_full += usize::from(row["total"] == row["out_of"]);
    }
    assert!(report.is_empty(), "{report}");
    assert!(in_full >= 18, "only {in_full} of {} have all marks", arrangements::ALL.len());
}

/// Gaps round one wire tell nothing by the measure of the basics: who marks by it all the same is told.
#[test]
fn where_a_measure_tells_nothing_a_person_looks_and_is_told_why() {
    let room = Classroom::new("straight-wire", 1);
    room.write("rubric.yaml", ready::find("basics").unwrap().text);
    room.scan("1.png", Some("A01"), Drawn::Arrows);
    let summary = room.marked();
    let row = room.row("A01");
    assert_eq!(row["status"], "look", "{row:?}");
    assert!(row["flags"].contains("spacing:measure-silent"), "{row:?}");
    let people = serde_json::to_string(&summary["people"]).unwrap();
    assert!(people.contains("choose a rubric that fits the arrangement"), "{people}");
}

#[test]
fn each_can_be_begun_with_its_rubric_and_printed() {
    for arrangement in arrangements::ALL {
        let room = Classroom::new(arrangement.name, 1);
        assert_eq!(room.read("worksheet.yaml"), arrangement.worksheet);
        assert_eq!(room.read("rubric.yaml"), ready::find(arrangement.rubric).unwrap().text);
        let printed = run(&["print", room.dir.to_str().unwrap()]);
        assert_eq!(printed.status.code(), Some(0), "{}: {}", arrangement.name, errors(&printed));
    }
}

#[test]
fn another_rubric_can_be_asked_for() {
    let home = tempfile::tempdir().unwrap();
    let dir = home.path().join("class");
    let asked = ["new", dir.to_str().unwrap(), "--from", "coil", "--rubric", "self-check"];
    assert_eq!(run(&asked).status.code(), Some(0));
    let rubric = std::fs::read_to_string(dir.join("rubric.yaml")).unwrap();
    assert_eq!(rubric, ready::find("self-check").unwrap().text);
}

#[test]
fn the_list_shows_all_and_makes_nothing() {
    let listed = run(&["new", "--list"]);
    let text = String::from_utf8(listed.stdout).unwrap();
    let json: serde_json::Value = serde_json::from_slice(&run(&["new", "--list", "--json"]).stdout).unwrap();
    let rows = json["arrangements"].as_array().unwrap();
    assert_eq!(rows.len(), arrangements::ALL.len());
    for (arrangement, row) in arrangements::ALL.iter().zip(rows) {
        for (key, words) in
            [("name", arrangement.name), ("about", arrangement.about), ("note", arrangement.note)]
        {
            assert!(row[key] == words && text.contains(words), "{words}");
        }
    }
    assert_eq!(run(&["new", "--list", "--from", "coil"]).status.code(), Some(2));
    assert_eq!(run(&["new"]).status.code(), Some(2));
}

/// Sources lie apart and off the frame, and so do the letters and signs beside them.
#[test]
fn there_is_room_to_draw() {
    for arrangement in arrangements::ALL {
        let sheet = sheet(&arrangement);
        for panel in &sheet.panels {
            let outlines: Vec<Outline> = panel.sources.iter().map(Source::outline).collect();
            for (n, a) in outlines.iter().enumerate() {
                let apart = |b: &Outline| b.polygon.iter().map(|p| a.distance(*p)).fold(f64::MAX, f64::min);
                let nearest = outlines[..n].iter().map(apart).fold(f64::MAX, f64::min);
                assert!(nearest >= BETWEEN_MM, "{}: {nearest} mm between two", arrangement.name);
            }
        }
        for shape in Layout::of(&sheet).shapes {
            let (Some(panel), false) = (shape.panel, shape.what == What::Frame) else { continue };
            let (inner, ink) = (sheet.panels[panel].frame.inset(-ROUND_MM), shape.bounds().inset(-0.3));
            assert!(inner.union(ink) == inner, "{}: {:?} near the frame", arrangement.name, shape.what);
        }
    }
}

/// A small picture of the first panel's field, without words.
fn picture(arrangement: &Arrangement) -> DynamicImage {
    let sheet = sheet(arrangement);
    let answer = |panel: &lodemark::worksheet::Panel| {
        let field = panel.field();
        let lines = field_lines(panel, &field, PICTURE_LINES).into_iter().map(|l| l.points).collect();
        Answer { lines, neutral: field.neutral_points().to_vec() }
    };
    let svg = answer::svg(&sheet, &sheet.panels.iter().map(answer).collect::<Vec<_>>());
    let frame = sheet.panels[0].frame;
    // A millimetre more on each side, for the frame's own line.
    let (wide, high) = (frame.width() + 2.0, frame.height() + 2.0);
    let dpi = (PICTURE_PX.0 / wide).min(PICTURE_PX.1 / high) * 25.4;
    // Twice as many dots, made half as large: strokes keep an even weight.
    let png = answer::png(&svg, 2.0 * dpi).unwrap();
    let whole = image::load_from_memory(&png).unwrap();
    // The picture stands in the middle of equal edges left and right, its title above.
    let corner = view_box(&svg);
    let px = |mm: f64| (mm * 2.0 * dpi / 25.4).round().max(0.0) as u32;
    let (x, y) = (px(frame.x0 - 1.0 - corner.x), px(frame.y0 - 1.0 - corner.y));
    let (w, h) = (px(wide) / 2 * 2, px(high) / 2 * 2);
    let cut = whole.crop_imm(x, y, w, h).to_rgb8();
    imageops::resize(&cut, w / 2, h / 2, imageops::FilterType::Triangle).into()
}

/// The upper left corner of an SVG, in its own units.
fn view_box(svg: &str) -> Point {
    let (_, rest) = svg.split_once("viewBox=\"").unwrap();
    let mut numbers = rest.split([' ', '"']).map(|n| n.parse::<f64>().unwrap());
    Point::new(numbers.next().unwrap(), numbers.next().unwrap())
}

#[test]
fn each_has_its_picture_in_the_docs() {
    let folder = PathBuf::from(concat!(env!("CARGO_MANIFEST_DIR"), "/docs/pictures/arrangements"));
    let mut bytes = 0;
    for arrangement in arrangements::ALL {
        let path = folder.join(format!("{}.png", arrangement.name));
        let made = picture(&arrangement);
        if std::env::var_os(REWRITE).is_some() {
            made.save(&path).unwrap();
        }
        bytes += path.metadata().map_or(0, |m| m.len());
        let kept = image::open(&path).unwrap_or_else(|e| panic!("{e}: run with {REWRITE}=1")).to_rgb8();
        let made = made.to_rgb8();
        assert_eq!(kept.dimensions(), made.dimensions());
        let off: f64 = kept.iter().zip(made.iter()).map(|(a, b)| f64::from(a.abs_diff(*b))).sum();
        let off = off / kept.len() as f64;
        assert!(off < ALIKE, "{}: the picture is off by {off}; run with {REWRITE}=1", arrangement.name);
    }
    assert!(bytes < PICTURES_BYTES, "{bytes} bytes of pictures");
    let kept = std::fs::read_dir(&folder).unwrap().count();
    assert_eq!(kept, arrangements::ALL.len(), "pictures of no arrangement");
}

/// A good drawing: field lines by a shaking hand, as many as the prompt asks for or more, but none that would touch another
/// or run into a neutral point: nobody draws these.
fn well_drawn(scene: &Scene, seed: u64) -> Vec<Line> {
    const APART_MM: f64 = 2.5;
    let outlines: Vec<Outline> = scene.panel.sources.iter().map(Source::outline).collect();
    let free = |p: &&Point| outlines.iter().all(|o| o.distance(**p) > 3.0);
    let mut kept: Vec<Line> = Vec::new();
    for line in good_of(scene, 12 + (seed % 8) as usize, &mut Dice(seed)) {
        let near = |p: &Point| kept.iter().any(|other| polyline::distance(*p, &other.points) < APART_MM);
        let neutral = scene.field.neutral_points();
        let into = |p: &Point| neutral.iter().any(|n| (*n - *p).hypot() < APART_MM);
        let ends = [line.points.first(), line.points.last()];
        if !line.points.iter().filter(free).any(near) && !ends.into_iter().flatten().any(into) {
            kept.push(line);
        }
    }
    kept
}

#[test]
fn a_good_drawing_of_each_loses_no_mark_by_its_rubric_and_suggests_no_idea() {
    const DRAWINGS: u64 = 24;
    let mut report = String::new();
    let mut short = false;
    for arrangement in arrangements::ALL {
        let scene = scene(arrangement.name);
        let text = ready::find(arrangement.rubric).unwrap().text;
        let rubric = Rubric::parse(Path::new(arrangement.rubric), text, &["A"]).unwrap();
        let mut lost: BTreeMap<String, usize> = BTreeMap::new();
        let mut told = 0;
        for seed in 0..DRAWINGS {
            let mut drawn = drawing(well_drawn(&scene, seed));
            if arrangement.rubric == "earth" {
                let cross = |at: &Point| Mark { at: *at, kind: MarkKind::Cross, size_mm: 4.0, sure: 0.95 };
                drawn.marks = scene.field.neutral_points().iter().map(cross).collect();
            }
            let found = measure_panel(&scene.panel, &scene.field, &drawn, seed);
            let suggested = ideas::find(&scene.panel, &found.record, &found.measures);
            told += u64::from(!suggested.is_empty());
            let marks = rubric.mark(&[PanelFacts { measures: &found.measures, worst_line: None }]);
            // A mark that is left to a person is no wrong mark.
            let wrong =
                |m: &&CriterionMark| m.marks.is_some_and(|x| x < m.out_of) && m.chance >= rubric.look_below;
            marks.criteria.iter().filter(wrong).for_each(|m| *lost.entry(m.column.clone()).or_default() += 1);
        }
        short |= lost.values().any(|n| *n as u64 * 10 > DRAWINGS);
        short |= told * 10 > DRAWINGS;
        report +=
            &format!("{} by {}: lost {lost:?}, told of ideas {told}\n", arrangement.name, arrangement.rubric);
    }
    println!("{report}");
    assert!(!short, "more than one good drawing in ten loses a mark surely, or suggests an idea:\n{report}");
}
