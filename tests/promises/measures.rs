//! Drawings by hand (a few corners a line) measured as an independent implementation of the definitions
//! measures them. The expected values in data/measures/*.json are that implementation's (Python, with its
//! own field and its own geometry library), none of them this program's.

use lodemark::drawing::{Arrow, Dot, Drawing, Line, MeetKind, Meeting};
use lodemark::geometry::{Point, towards};
use lodemark::measure::findings::{Cached, Findings, PageFacts, SourcePage};
use lodemark::measure::{ALL, PanelFindings, Unit, WORLDS, measure_panel};
use lodemark::worksheet::Worksheet;
use serde::Deserialize;
use std::collections::BTreeMap;
use std::path::PathBuf;

const NAMES: [&str; 4] = ["upright-bar", "two-norths", "horseshoe", "rod-and-disc"];
/// A line that is surely there, but not beyond all doubt.
const SURE: f64 = 0.97;

#[derive(Deserialize)]
struct Case {
    drawing: Drawn,
    expected: Expected,
}

#[derive(Deserialize)]
struct Drawn {
    lines: Vec<DrawnLine>,
    dots_mm: Vec<[f64; 2]>,
    meets: Vec<DrawnMeet>,
}

#[derive(Deserialize)]
struct DrawnLine {
    width_mm: f64,
    points_mm: Vec<[f64; 2]>,
    arrows: Vec<DrawnArrow>,
}

#[derive(Deserialize)]
struct DrawnArrow {
    at_mm: [f64; 2],
    towards_deg: f64,
}

#[derive(Deserialize)]
struct DrawnMeet {
    at_mm: [f64; 2],
    kind: String,
    lines: (usize, usize),
    sure: f64,
}

#[derive(Deserialize)]
struct Expected {
    lines: Vec<ExpectedLine>,
    measures: BTreeMap<String, Option<f64>>,
}

#[derive(Deserialize)]
struct ExpectedLine {
    line: usize,
    ends: Vec<String>,
    agrees: Vec<bool>,
}

fn place(p: [f64; 2]) -> Point {
    Point::new(p[0], p[1])
}

impl Drawn {
    fn drawing(&self) -> Drawing {
        let arrow = |a: &DrawnArrow| Arrow {
            at: place(a.at_mm),
            towards: towards(a.towards_deg),
            sure: SURE,
            way_sure: SURE,
        };
        let line = |l: &DrawnLine| Line {
            points: l.points_mm.iter().copied().map(place).collect(),
            width_mm: l.width_mm,
            arrows: l.arrows.iter().map(arrow).collect(),
            sure: SURE,
            there: SURE,
        };
        let meet = |m: &DrawnMeet| Meeting {
            at: place(m.at_mm),
            run: [place(m.at_mm); 2],
            kind: if m.kind == "cross" { MeetKind::Cross } else { MeetKind::Touch },
            lines: m.lines,
            sure: m.sure,
        };
        Drawing {
            lines: self.lines.iter().map(line).collect(),
            meets: self.meets.iter().map(meet).collect(),
            dots: self.dots_mm.iter().map(|p| Dot { at: place(*p), radius_mm: 0.6, sure: SURE }).collect(),
            ..Drawing::default()
        }
    }
}

fn data(name: &str) -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("tests/promises/data/measures").join(name)
}

fn case(name: &str) -> (Worksheet, Case) {
    let text = std::fs::read_to_string(data(&format!("{name}.json"))).unwrap();
    (Worksheet::load(&data(&format!("{name}.yaml"))).unwrap(), serde_json::from_str(&text).unwrap())
}

fn measured(sheet: &Worksheet, drawing: &Drawing, seed: u64) -> PanelFindings {
    let panel = &sheet.panels[0];
    measure_panel(panel, &panel.field(), drawing, seed)
}

/// How far a value may lie from the other implementation's: its computed lines go in fixed steps of half a
/// millimetre and run on into a magnet by up to one, ours stop at the outline.
fn may_differ(name: &str, unit: Unit) -> f64 {
    match (name, unit) {
        ("lines.off_mm", _) => 0.3,
        (_, Unit::Degrees) => 0.02,
        (_, Unit::Rank) => 0.01,
        (_, Unit::Millimetres) => 0.001,
        _ => 1e-3,
    }
}

/// Measures that the other implementation does not have: their worked values stand in the tests beside them.
const ONLY_HERE: [&str; 5] =
    ["dots.step_mm", "dots.shift_mm", "lines.kinks", "spacing.even", "neutral.marked"];

#[test]
fn every_measure_is_what_an_independent_program_finds() {
    for name in NAMES {
        let (sheet, case) = case(name);
        let found = measured(&sheet, &case.drawing.drawing(), 1);
        assert_eq!(case.expected.measures.len() + ONLY_HERE.len(), ALL.len());
        for m in ALL.iter().filter(|m| !ONLY_HERE.contains(&m.name)) {
            let (want, got) = (case.expected.measures[m.name], found.measures.get(m.name).unwrap().value);
            let same = match (want, got) {
                (Some(a), Some(b)) => (a - b).abs() <= may_differ(m.name, m.unit),
                (a, b) => a == b,
            };
            assert!(same, "{name}: {} should be {want:?}, is {got:?}", m.name);
        }
    }
}

#[test]
fn every_end_and_arrow_is_what_an_independent_program_finds() {
    for name in NAMES {
        let (sheet, case) = case(name);
        let found = measured(&sheet, &case.drawing.drawing(), 1).record;
        assert_eq!(found.lines.len(), case.expected.lines.len(), "{name}");
        for (want, got) in case.expected.lines.iter().zip(&found.lines) {
            let drawn = &case.drawing.lines[want.line];
            let ends: Vec<&str> = got.ends.iter().map(|e| e.on.as_str()).collect();
            let agrees: Vec<bool> = got.arrows.iter().map(|a| a.agrees).collect();
            assert_eq!((ends, agrees), (want.ends.iter().map(String::as_str).collect(), want.agrees.clone()));
            assert_eq!(Some(&got.points_mm[0]), drawn.points_mm.first(), "{name} {}", got.id);
            assert_eq!(got.points_mm.last(), drawn.points_mm.last(), "{name} {}", got.id);
        }
    }
}

#[test]
fn the_same_drawing_and_seed_give_the_same_findings() {
    let (sheet, case) = case("horseshoe");
    let drawing = case.drawing.drawing();
    let (a, b) = (measured(&sheet, &drawing, 5), measured(&sheet, &drawing, 5));
    assert_eq!((&a.measures, &a.record), (&b.measures, &b.record));
    let other = measured(&sheet, &drawing, 6);
    assert_ne!(a.measures, other.measures);
    for (x, y) in a.measures.measures.iter().zip(&other.measures.measures) {
        assert_eq!(x.value, y.value);
    }
}

#[test]
fn a_line_in_doubt_is_left_out_of_as_many_worlds_and_changes_them() {
    let (sheet, case) = case("upright-bar");
    let drawing = case.drawing.drawing();
    for doubtful in [1, 2, 4] {
        let mut unsure = drawing.clone();
        for (i, l) in unsure.lines.iter_mut().enumerate() {
            l.there = if i == doubtful { 0.6 } else { 1.0 };
        }
        let mut without = unsure.clone();
        without.lines[doubtful].there = 0.0;
        let (with, found, without) =
            (measured(&sheet, &drawing, 3), measured(&sheet, &unsure, 3), measured(&sheet, &without, 3));
        let count = found.measures.get("lines.count").unwrap();
        assert_eq!(count.worlds.len(), WORLDS);
        let absent = count.worlds.iter().filter(|w| **w == Some(8.0)).count() as f64;
        assert!((absent - 80.0).abs() < 4.0 * (WORLDS as f64 * 0.24).sqrt(), "{absent}");
        for name in ["spacing.widen", "angle.median_deg", "balance.share", "lines.off_mm"] {
            let value = |f: &PanelFindings| f.measures.get(name).unwrap().value.unwrap();
            // The worlds without the line lie round the value without it, those with it round that with it.
            let worlds = &found.measures.get(name).unwrap().worlds;
            for (lines, centre) in [(8.0, value(&without)), (9.0, value(&with))] {
                let here: Vec<f64> = worlds
                    .iter()
                    .zip(&count.worlds)
                    .filter(|(_, n)| **n == Some(lines))
                    .filter_map(|(w, _)| *w)
                    .collect();
                let mean = here.iter().sum::<f64>() / here.len() as f64;
                assert!((mean - centre).abs() < 0.12, "{name} without line {doubtful}: {mean} for {centre}");
            }
        }
    }
}

#[test]
fn an_unsure_arrow_turns_in_some_worlds_as_the_others_on_the_sheet_let_it() {
    let (sheet, case) = case("two-norths");
    let mut drawing = case.drawing.drawing();
    for l in &mut drawing.lines {
        (l.sure, l.there) = (1.0, 1.0);
        for a in &mut l.arrows {
            (a.sure, a.way_sure) = (1.0, 1.0);
        }
    }
    let turned = |way_sure: f64, turn: bool| {
        let mut drawing = drawing.clone();
        let arrow = &mut drawing.lines[1].arrows[0];
        arrow.way_sure = way_sure;
        arrow.towards = if turn { -arrow.towards } else { arrow.towards };
        let found = measured(&sheet, &drawing, 9);
        let wrong = found.measures.get("arrows.wrong").unwrap();
        wrong.worlds.iter().filter(|w| **w == Some(2.0)).count()
    };
    // Read as the others are, it is seldom wrong; read against them it is more doubtful than it is by itself.
    let (with, doubtful) = (turned(0.7, false), turned(0.5, false));
    assert!(0 < with && with < doubtful && doubtful < 60, "{with} {doubtful}");
    let (against, clear) = (turned(0.7, true), turned(1.0, true));
    assert!(20 < against && against < 120 && clear == WORLDS, "{against} {clear}");
}

#[test]
fn no_drawing_at_all_is_measured_too() {
    let (sheet, _) = case("upright-bar");
    let found = measured(&sheet, &Drawing::default(), 1);
    for m in &ALL {
        let got = found.measures.get(m.name).unwrap();
        let zero = m.unit == Unit::Count && m.name != "neutral.through";
        assert_eq!(got.value, zero.then_some(0.0), "{}", m.name);
        assert_eq!(got.worlds.len(), WORLDS);
    }
}

#[test]
fn lines_that_are_points_or_nonsense_do_no_harm() {
    let (sheet, case) = case("upright-bar");
    let mut drawing = case.drawing.drawing();
    let line = |points: Vec<Point>| Line { points, width_mm: 0.5, arrows: vec![], sure: 1.0, there: 1.0 };
    let p = Point::new(60.0, 100.0);
    drawing.lines.push(line(vec![p, p]));
    drawing.lines.push(line(vec![p]));
    drawing.lines.push(line(vec![]));
    drawing.lines.push(line(vec![p, Point::new(f64::NAN, 1.0), Point::new(80.0, 100.0)]));
    drawing.lines.push(line(vec![Point::new(-1e6, 3.0), Point::new(-1e6, 90.0)]));
    drawing.meets.push(Meeting { at: p, run: [p; 2], kind: MeetKind::Cross, lines: (90, 91), sure: 1.0 });
    let (with, without) = (measured(&sheet, &drawing, 1), measured(&sheet, &case.drawing.drawing(), 1));
    assert_eq!(with.record, without.record);
}

#[test]
fn what_the_cache_gives_back_is_what_was_measured() {
    let (sheet, case) = case("rod-and-disc");
    let found = measured(&sheet, &case.drawing.drawing(), 2);
    let findings = Findings {
        findings: lodemark::measure::findings::VERSION,
        program: "0".into(),
        rubric: "r".into(),
        code: "A12".into(),
        source: SourcePage { file: "class.pdf".into(), page: 3 },
        page: PageFacts { found_by: "fiducials".into(), scale_px_per_mm: 7.9, residual_mm: 0.1 },
        panels: vec![found.record.clone()],
        marks: BTreeMap::new(),
        flags: vec![],
        ideas: vec![],
    };
    let cached = Cached::new(findings, std::slice::from_ref(&found.measures));
    let text = serde_json::to_string(&cached).unwrap();
    let back: Cached = serde_json::from_str(&text).unwrap();
    assert_eq!(back.measures(), Some(vec![found.measures.clone()]));
    assert_eq!(back.findings.panels[0], found.record);
    assert!(text.len() < 60_000, "{}", text.len());
    // Written for another table of measures: read the page again.
    let other: Cached = serde_json::from_str(&text.replace("spacing.widen", "spacing.wide")).unwrap();
    assert_eq!(other.measures(), None);
}
