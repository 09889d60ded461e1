//! rubrics/rubric.schema.json, by a general validator (boon, JSON Schema draft 2020-12): every ready rubric is
//! valid, and slips that lodemark refuses are found by the schema alone.

use lodemark::measure::ALL;
use lodemark::rubric::ready;
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

#[test]
fn the_schema_finds_slips() {
    let (schemas, index) = validator();
    let basics = ready::find("basics").unwrap().text;
    for (right, wrong) in [
        ("rubric: 1", "rubric: 2"),
        ("at_most: 0", "at_mots: 0"),
        ("measure: meets.count", "measure: meets.county"),
        ("lines.count:", "line.count:"),
        ("otherwise: true", "otherwise: false"),
        ("look_below: 0.9", "look_below: 9"),
        ("id: direction", "id: Direction"),
    ] {
        assert!(basics.contains(right));
        let broken = value(&basics.replacen(right, wrong, 1));
        assert!(schemas.validate(&broken, index).is_err(), "{wrong}");
    }
    let extends = value("rubric: 1\nextends: basics\ncriteria: [{ id: whole, remove: true }]");
    assert!(schemas.validate(&extends, index).is_ok());
}
