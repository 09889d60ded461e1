//! rubrics/rubric.schema.json, by a general validator (boon, JSON Schema draft 2020-12): every ready rubric is
//! valid, and slips that lodemark refuses are found by the schema alone.

use lodemark::measure::ALL;
use lodemark::rubric::{Rubric, ready};
use serde_json::Value;
use std::path::Path;

const SCHEMA: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/rubrics/rubric.schema.json");

fn validator() -> (boon::Schemas, boon::SchemaIndex) {
    let mut schemas = boon::Schemas::new();
    let mut compiler = boon::Compiler::new();
    let index = compiler.compile(SCHEMA, &mut schemas).unwrap();
    (schemas, index)
}

fn value(yaml: &str) -> Value {
    serde_yaml::from_str(yaml).unwrap()
}

#[test]
fn every_ready_rubric_is_valid() {
    let (schemas, index) = validator();
    for ready in ready::ALL {
        schemas.validate(&value(ready.text), index).unwrap_or_else(|e| panic!("{}: {e:#}", ready.name));
    }
}

#[test]
fn every_file_in_rubrics_is_a_ready_rubric_or_the_schema() {
    let folder = Path::new(SCHEMA).parent().unwrap();
    let mut names: Vec<String> = std::fs::read_dir(folder)
        .unwrap()
        .map(|e| e.unwrap().file_name().into_string().unwrap())
        .filter(|n| n != "rubric.schema.json")
        .collect();
    names.sort();
    let mut known: Vec<String> = ready::ALL.iter().map(|r| format!("{}.yaml", r.name)).collect();
    known.sort();
    assert_eq!(names, known);
}

#[test]
fn the_schema_names_every_measure() {
    let schema: Value = serde_json::from_str(&std::fs::read_to_string(SCHEMA).unwrap()).unwrap();
    let listed: Vec<&str> =
        schema["$defs"]["measure"]["enum"].as_array().unwrap().iter().map(|v| v.as_str().unwrap()).collect();
    assert_eq!(listed, ALL.iter().map(|m| m.name).collect::<Vec<_>>());
}

/// A rubric without a fault, which the slips below are made in.
const RIGHT: &str = "\
rubric: 1
title: One of each
look_below: 0.9
total: { out_of: 20, round_to: 0.5, rounding: up }
grades: [{ name: Pass, at_least: 40 }, { name: Not yet, at_least: 0 }]
caps: [{ while: { meets.count: { above: 0 } }, at_most_marks: 6, say: \"Lines meet.\" }]
criteria:
  - id: direction
    title: Arrows
    marks: 2
    measure: arrows.wrong
    needs:
      lines.count: { at_least: 5, else_marks: 0, say: \"Draw more.\" }
    bands:
      - { at_most: 0, marks: 2, say: \"Right.\" }
      - { otherwise: true, marks: 0, say: \"Wrong: {wrong_arrows} and {ends.placed}.\" }
  - id: tidy
    title: { en: Tidy, de: Sauber }
    marks: 1
    weight: 2
    bands:
      - { all_of: { ends.placed: { at_least: 1 } }, marks: 1, say: \"Tidy.\" }
      - { otherwise: true, marks: 0, say: \"Loose.\" }
    if_empty: { marks: 0, say: \"Nothing.\" }
  - id: lowest
    title: The lowest
    marks: 1
    lowest_of:
      - { measure: angle.median_deg, bands: [{ at_most: 9, marks: 1, say: y }, { otherwise: true, marks: 0, say: z }] }
      - { measure: spacing.widen, bands: [{ above: 0, marks: 1, say: w }, { otherwise: true, marks: 0, say: z }] }
  - id: slips
    kind: penalty
    title: Slips
    marks: -2
    measure: lines.kinks
    bands:
      - { at_most: 0, marks: 0, say: \"None.\" }
      - { otherwise: true, marks: -2, say: \"{value} corners.\" }
";

/// Slips that both find.
const SLIPS: [(&str, &str); 60] = [
    ("rubric: 1", "rubric: 2"),
    ("title: One of each\n", ""),
    ("title: One of each", "title: \"  \""),
    ("look_below: 0.9", "look_below: 9"),
    ("look_below: 0.9", "look_below: .nan"),
    ("look_below: 0.9", "look_below: \"0.9\""),
    ("look_below: 0.9", "lok_below: 0.9"),
    ("out_of: 20", "out_of: 0"),
    ("out_of: 20", "out_of: .inf"),
    ("round_to: 0.5, ", ""),
    ("rounding: up", "rounding: upwards"),
    ("at_least: 40", "at_least: 140"),
    ("name: Not yet, at_least: 0", "name: Not yet, at_least: 1"),
    ("name: Pass", "name: This is called by more letters than a grade"),
    ("at_most_marks: 6", "at_most_marks: -1"),
    ("say: \"Lines meet.\"", "say: \"{value} lines meet.\""),
    ("say: \"Lines meet.\"", "say: { en: \"{value} lines meet.\" }"),
    ("above: 0 } }", "above: -1 } }"),
    ("above: 0 } }", "} }"),
    ("id: direction", "id: Direction"),
    ("id: direction", "id: total"),
    ("title: Arrows\n    ", ""),
    ("marks: 2\n    ", ""),
    ("marks: 2\n", "marks: 0\n"),
    ("marks: 2\n", "marks: -2\n"),
    ("marks: 2\n", "marks: 200\n"),
    ("marks: 2\n", "kind: extra\n    marks: 2\n"),
    ("marks: 2\n", "marks: 2\n    remove: true\n"),
    ("marks: 2\n", "marks: 2\n    panel: []\n"),
    ("marks: 2\n", "marks: 2\n    panel: [A, A]\n"),
    ("marks: 2\n", "marks: 2\n    weight: 0\n"),
    ("marks: 2\n", "marks: 2\n    if_empty: { marks: 0, say: Never. }\n"),
    ("measure: arrows.wrong\n    ", ""),
    ("measure: arrows.wrong", "measure: arrows.wrnog"),
    ("lines.count:", "line.count:"),
    ("at_least: 5, else", "at_least: -5, else"),
    ("at_least: 5, else", "else"),
    ("else_marks: 0", "else_marks: -1"),
    ("else_marks: 0", "else_marks: .nan"),
    ("at_most: 0, marks: 2", "at_mots: 0, marks: 2"),
    ("at_most: 0, marks: 2", "at_most: -1, marks: 2"),
    ("at_most: 0, marks: 2", "at_most: .nan, marks: 2"),
    ("at_most: 0, marks: 2", "marks: 2"),
    ("otherwise: true, marks: 0, say: \"Wrong", "otherwise: false, marks: 0, say: \"Wrong"),
    ("otherwise: true, marks: 0, say: \"Wrong", "otherwise: true, at_least: 1, marks: 0, say: \"Wrong"),
    ("otherwise: true, marks: 0, say: \"Wrong", "otherwise: true, marks: -1, say: \"Wrong"),
    ("otherwise: true, marks: 0, say: \"Wrong", "otherwise: true, marks: .nan, say: \"Wrong"),
    ("{wrong_arrows}", "{wrong_arows}"),
    ("{wrong_arrows}", "{wrong_arrows"),
    ("de: Sauber", "Deutsch: Sauber"),
    ("ends.placed: { at_least: 1 }", "ends.placed: { at_least: 2 }"),
    ("all_of: { ends.placed: { at_least: 1 } }", "all_of: {}"),
    ("all_of: { ends.placed: { at_least: 1 } }", "at_least: 3, all_of: { ends.placed: { at_least: 1 } }"),
    (
        "- { otherwise: true, marks: 0, say: \"Loose.\" }",
        "- { any_of: { meets.count: { at_most: 0 } }, marks: 0, say: \"Loose.\" }",
    ),
    ("lowest_of:", "measure: meets.count\n    lowest_of:"),
    ("at_most: 9, marks: 1", "at_most: 99, marks: 1"),
    ("above: 0, marks: 1", "above: -2, marks: 1"),
    ("measure: spacing.widen, ", ""),
    ("marks: -2\n", "marks: 2\n"),
    ("otherwise: true, marks: -2", "otherwise: true, marks: 2"),
];

/// Slips that a JSON Schema cannot tell, of each rule that docs/formats.md gives to the program alone.
const UNTOLD: [(&str, &str); 9] = [
    ("at_most: 0, marks: 2", "at_most: 0, marks: 3"),
    ("at_most: 0, marks: 2", "at_most: 0, marks: 1"),
    ("- { otherwise: true, marks: 0, say: \"Wrong", "- { at_least: 4, marks: 0, say: \"Wrong"),
    ("at_most: 0, marks: 2", "at_least: 0, marks: 2"),
    ("id: tidy", "id: direction"),
    ("name: Not yet, at_least: 0", "name: Pass, at_least: 0"),
    ("at_least: 40 }", "at_least: 0 }, { name: Good, at_least: 50 }"),
    ("round_to: 0.5", "round_to: 50"),
    ("say: \"Lines meet.\"", "say: \"Lines meet.\", say: \"Twice.\""),
];

/// How many times a slip is refused: by the program, and by the schema.
fn refused(text: &str, (schemas, index): &(boon::Schemas, boon::SchemaIndex)) -> (bool, bool) {
    let program = Rubric::parse(Path::new("rubric.yaml"), text, &[]).is_err();
    // A YAML reader that refuses a key given twice stands before the schema: an editor's own.
    let schema =
        serde_yaml::from_str(text).is_ok_and(|value: Value| schemas.validate(&value, *index).is_err());
    (program, schema)
}

#[test]
fn what_the_program_refuses_the_schema_refuses_where_it_can_tell() {
    let validator = validator();
    assert_eq!(
        refused(RIGHT, &validator),
        (false, false),
        "{:?}",
        Rubric::parse(Path::new("r"), RIGHT, &[]).err()
    );
    let mut report = String::new();
    for (slips, expected) in [(&SLIPS[..], (true, true)), (&UNTOLD[..], (true, false))] {
        for (from, to) in slips {
            assert!(RIGHT.contains(from), "{from}");
            let found = refused(&RIGHT.replacen(from, to, 1), &validator);
            if found != expected {
                report += &format!("{from} -> {to}: refused by program and schema {found:?}\n");
            }
        }
    }
    assert!(report.is_empty(), "{report}");
}

/// Each limit may be what the measure can be and nothing else, and words may hold its name.
#[test]
fn the_schema_knows_what_each_measure_can_be_and_may_be_called() {
    let validator = validator();
    for measure in ALL {
        let (least, most) = measure.range;
        for (limit, fits) in
            [(least, true), (least - 0.5, false), (most.min(1e6), true), (most + 0.5, most.is_infinite())]
        {
            let limit = if limit.is_finite() { limit } else { 1e7 };
            let need = format!(
                "{}: {{ at_least: {limit}, else_marks: 0, say: \"{{{}}}\" }}",
                measure.name, measure.name
            );
            let text =
                RIGHT.replacen("lines.count: { at_least: 5, else_marks: 0, say: \"Draw more.\" }", &need, 1);
            assert_eq!(refused(&text, &validator), (!fits, !fits), "{need}");
        }
        let band = format!("measure: {}\n    if_empty: {{ marks: 0, say: x }}", measure.name);
        let text = RIGHT.replacen("measure: arrows.wrong", &band, 1).replacen(
            "at_most: 0, marks: 2",
            &format!("at_most: {least}, marks: 2"),
            1,
        );
        let always = measure.empty.is_empty();
        assert_eq!(refused(&text, &validator), (always, always), "{band}");
    }
}

#[test]
fn a_rubric_that_extends_another_need_not_be_whole() {
    let validator = validator();
    for part in [
        "{ id: whole, remove: true }",
        "{ id: slips, marks: -3, bands: [{ otherwise: true, marks: -3, say: x }] }",
        "{ id: ends, panel: each }",
    ] {
        let text = format!("rubric: 1\nextends: basics\ncriteria: [{part}]");
        assert!(!refused(&text, &validator).1, "{part}");
        assert!(refused(&text.replace("extends: basics", "title: Alone"), &validator).1, "{part}");
    }
}
