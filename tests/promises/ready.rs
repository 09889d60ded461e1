//! The ready rubrics on drawings with known faults: a good drawing has full marks, a fault costs marks at the
//! criterion that it belongs to.

use crate::makers::{Dice, Scene, drawing, good, scenes, with_idea};
use lodemark::drawing::Line;
use lodemark::measure::measure_panel;
use lodemark::rubric::{Marks, PanelFacts, Rubric, ready};
use std::path::Path;

/// Drawings tried for each; most must come out as they should: an idea does not always show in every measure.
const TRIES: u64 = 10;

fn marked(rubric: &Rubric, scene: &Scene, lines: Vec<Line>, seed: u64) -> Marks {
    let found = measure_panel(&scene.panel, &scene.field, &drawing(lines), seed);
    rubric.mark(&[PanelFacts { measures: &found.measures, worst_line: None }])
}

fn lost(marks: &Marks, id: &str) -> bool {
    let mark = marks.criteria.iter().find(|m| m.column == id).unwrap_or_else(|| panic!("no criterion {id}"));
    mark.marks.is_none_or(|m| m < mark.out_of)
}

/// Of the drawings, how many lose marks at a criterion; the idea is put in, or none.
fn losing(rubric: &Rubric, arrangement: &str, idea: Option<&str>, id: &str) -> usize {
    let scenes = scenes();
    let (_, scene) = scenes.iter().find(|(name, _)| *name == arrangement).unwrap();
    let lines = |seed: u64| match idea {
        Some(idea) => with_idea(idea, scene, &mut Dice(seed)).unwrap(),
        None => good(scene, &mut Dice(seed)),
    };
    (0..TRIES).filter(|seed| lost(&marked(rubric, scene, lines(*seed), *seed), id)).count()
}

#[test]
fn faults_cost_marks_where_they_belong_and_good_drawings_lose_none() {
    let faults = [
        ("basics", "direction", "south-to-north"),
        ("basics", "meeting", "lines-cross"),
        ("basics", "ends", "stops-in-space"),
        ("basics", "whole", "only-in-front"),
        ("basics", "shape", "equal-spacing"),
        ("lower-secondary", "direction", "south-to-north"),
        ("lower-secondary", "pattern", "equal-spacing"),
        ("upper-secondary", "direction", "south-to-north"),
        ("upper-secondary", "symmetry", "lopsided"),
        ("upper-secondary", "ends", "stops-in-space"),
        ("self-check", "arrows", "south-to-north"),
        ("self-check", "lines", "lines-cross"),
        ("self-check", "lines", "stops-in-space"),
    ];
    for (name, id, idea) in faults {
        let rubric = Rubric::parse(Path::new(name), ready::find(name).unwrap().text, &["A"]).unwrap();
        let (with, without) =
            (losing(&rubric, "unlike-poles", Some(idea), id), losing(&rubric, "unlike-poles", None, id));
        assert!(with as u64 * 10 >= TRIES * 9, "{name}: {idea} costs marks at {id} in {with} of {TRIES}");
        assert!(without as u64 * 10 <= TRIES, "{name}: {id} is lost in {without} of {TRIES} good drawings");
    }
}

#[test]
fn every_ready_rubric_is_tried_on_faults() {
    let here = include_str!("ready.rs");
    for ready in ready::ALL {
        assert!(here.contains(&format!("(\"{}\", ", ready.name)), "{} has no fault in this file", ready.name);
    }
}
