//! Candidates for arrowheads on the scans of a class, with what they look like, for benches/training/heads.py.
//!
//! `cargo run --release --example head_views -- CLASS OUT` writes OUT/CODE.json (lines; a candidate's place, way and
//! evidence) and OUT/CODE.views (a candidate's view after another, a byte a cell).

use lodemark::ink;
use lodemark::ink::print_removal::Covers;
use lodemark::print::{code, layout::Layout};
use lodemark::rectify::{self, flatten, grey};
use lodemark::run::read::MARGIN_MM;
use lodemark::scan::{self, Wanted};
use lodemark::vectorise::{Candidate, candidates};
use lodemark::worksheet::Worksheet;
use rayon::prelude::*;
use serde_json::{Value, json};
use std::path::{Path, PathBuf};

type Fails = Box<dyn std::error::Error + Send + Sync>;

fn main() -> Result<(), Fails> {
    let arguments: Vec<PathBuf> = std::env::args_os().skip(1).map(PathBuf::from).collect();
    let [class, out] = &arguments[..] else { return Err("give CLASS and OUT".into()) };
    let worksheet = Worksheet::load(&class.join("worksheet.yaml")).map_err(|p| format!("{p:?}"))?;
    std::fs::create_dir_all(out)?;
    let mut files: Vec<PathBuf> =
        std::fs::read_dir(class.join("scans"))?.flatten().map(|f| f.path()).collect();
    files.sort();
    files.par_iter().try_for_each(|file| each_page(file, &worksheet, out))
}

fn each_page(file: &Path, worksheet: &Worksheet, out: &Path) -> Result<(), Fails> {
    let layout = Layout::of(worksheet);
    let pages = scan::open(file).map_err(|e| format!("{e:?}"))?;
    for number in 1..=pages.len() {
        let page = pages.page(number, Wanted::default()).map_err(|e| format!("{e:?}"))?.grey;
        let Ok(located) = rectify::locate(&page, &layout, &code::key(&worksheet.id)) else { continue };
        let Some(code) = located.code.and_then(|c| c.code) else { continue };
        let look = ink::Look { bilevel: grey::is_bilevel(&page), blur_mm: located.blur_mm };
        let region = worksheet.panels[0].frame.inflate(MARGIN_MM, MARGIN_MM);
        let flat = flatten::flatten(&page, &located.page_to_scan, region);
        let (lines, found) = candidates(ink::read(&flat, &Covers::of(&layout, region), look));
        let lines: Vec<Vec<[f64; 2]>> =
            lines.iter().map(|l| l.iter().map(|p| [p.x, p.y]).collect()).collect();
        let told: Vec<Value> = found.iter().map(tell).collect();
        std::fs::write(out.join(format!("{code}.json")), json!({"lines": lines, "heads": told}).to_string())?;
        let cells = found.iter().flat_map(|c| c.view.iter()).map(|v| (v * 255.0).round() as u8);
        std::fs::write(out.join(format!("{code}.views")), cells.collect::<Vec<u8>>())?;
    }
    Ok(())
}

fn tell(candidate: &Candidate) -> Value {
    let (arrow, e) = (&candidate.head.arrow, &candidate.head.evidence);
    json!({
        "line": candidate.head.line,
        "at": [arrow.at.x, arrow.at.y],
        "towards": [arrow.towards.x, arrow.towards.y],
        "sure": arrow.sure, "way_sure": arrow.way_sure,
        "evidence": [
            f64::from(u8::from(e.swelling)), e.barbs as f64, e.angle_deg, e.length_mm, e.beside_mm, e.attached as f64,
            e.at_print as f64, e.area_mm2, e.lean, e.other_line_mm, e.end_mm,
            e.round.behind[0], e.round.behind[1], e.round.ahead[0], e.round.ahead[1],
        ],
    })
}
