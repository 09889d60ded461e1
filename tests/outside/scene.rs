//! Rows of the tables under data/, and the scenes that they describe in the keys of worksheet.yaml.

use lodemark::geometry::{Point, Rect};
use lodemark::worksheet::{Earth, Kind, Panel, Source};
use serde_json::Value;
use std::collections::BTreeMap;
use std::path::Path;

pub fn data(name: &str) -> String {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/outside/data").join(name);
    std::fs::read_to_string(&path).unwrap_or_else(|e| panic!("{}: {e}", path.display()))
}

/// A row by column name.
pub struct Row(BTreeMap<String, String>);

impl Row {
    pub fn text(&self, column: &str) -> &str {
        &self.0[column]
    }

    pub fn number(&self, column: &str) -> f64 {
        self.text(column).parse().unwrap_or_else(|e| panic!("{column}: {e}"))
    }
}

/// The rows of a table whose first lines are comments.
pub fn rows(name: &str) -> Vec<Row> {
    let text = data(name);
    let mut reader = csv::ReaderBuilder::new().comment(Some(b'#')).from_reader(text.as_bytes());
    let rows: Vec<Row> = reader.deserialize().map(|row| Row(row.unwrap())).collect();
    assert!(!rows.is_empty(), "{name} holds no row");
    rows
}

/// The panel that `params` (`{"sources": [...], "earth": {...}}`) and `frame` ([left, top, width, height]) describe.
pub fn panel(params: &str, frame: &str) -> Panel {
    let params: Value = serde_json::from_str(params).unwrap();
    let f: [f64; 4] = serde_json::from_str(frame).unwrap();
    Panel {
        id: "A".into(),
        prompt: String::new(),
        frame: Rect::new(f[0], f[1], f[0] + f[2], f[1] + f[3]),
        plane_mm: 0.0,
        sources: params["sources"].as_array().unwrap().iter().map(source).collect(),
        earth: params
            .get("earth")
            .map(|e| Earth { horizontal_ut: number(e, "horizontal_ut"), north_deg: number(e, "north_deg") }),
    }
}

fn number(v: &Value, key: &str) -> f64 {
    v[key].as_f64().unwrap_or_else(|| panic!("{key} in {v}"))
}

fn source(v: &Value) -> Source {
    let size = |i: usize| v["size_mm"][i].as_f64().unwrap();
    let remanence_mt = v["remanence_mt"].as_f64().unwrap_or(f64::NAN);
    let kind = match v["kind"].as_str().unwrap() {
        "bar" => {
            Kind::Bar { length: size(0), width: size(1), thickness: size(2), remanence_mt, pole_inset: 0.0 }
        }
        "rod" => Kind::Rod { length: size(0), diameter: size(1), remanence_mt, pole_inset: 0.0 },
        "disc" if v.get("north_deg").is_some() => {
            Kind::Disc { diameter: size(0), thickness: size(1), remanence_mt }
        }
        // The tables' disc without a direction shows its N face to the reader.
        "disc" => Kind::DiscThrough { diameter: size(0), thickness: size(1), remanence_mt, up: true },
        "horseshoe" => Kind::Horseshoe {
            width: size(0),
            depth: size(1),
            thickness: size(2),
            limb: v["limb_mm"].as_f64().unwrap(),
            remanence_mt,
            north_left: v["north_limb"] == "left",
        },
        "globe" => Kind::Globe { diameter: size(0), remanence_mt },
        "dipole" => Kind::Dipole { moment_am2: v["moment_am2"].as_f64().unwrap() },
        "wire" => Kind::Wire { current_a: number(v, "current_a"), out: v["way"] == "out" },
        "coil" => Kind::Coil {
            length: size(0),
            diameter: size(1),
            turns: number(v, "turns"),
            current_a: number(v, "current_a"),
        },
        "charge" => Kind::Charge { charge_nc: number(v, "charge_nc") },
        "plate" => Kind::Plate { length: size(0), depth: size(1), charge_nc: number(v, "charge_nc") },
        other => panic!("no such kind of source: {other}"),
    };
    let centre = Point::new(v["centre_mm"][0].as_f64().unwrap(), v["centre_mm"][1].as_f64().unwrap());
    Source {
        id: v["id"].as_str().unwrap().into(),
        kind,
        centre,
        north_deg: v["north_deg"].as_f64().or_else(|| v["angle_deg"].as_f64()).unwrap_or(0.0),
    }
}
