//! What may be arrowheads, and places where lines may meet, on the scans of a class, with what they look like, for
//! benches/training/heads.py and meets.py.
//!
//! `cargo run --release --example views -- CLASS OUT` writes OUT/CODE.json (lines; a candidate's place, way and
//! evidence), OUT/CODE.views and OUT/CODE.places (a head's or a place's view after another, a byte a cell).

use lodemark::drawing::{Drawing, MeetKind, Meeting};
use lodemark::ink;
use lodemark::ink::print_removal::Covers;
use lodemark::measure::region::Region;
use lodemark::print::{code, layout::Layout};
use lodemark::rectify::{self, flatten, grey};
use lodemark::run::read::MARGIN_MM;
use lodemark::scan::{self, Wanted};
use lodemark::vectorise::{candidates, evidence::Whose, heads::Head, meets::Candidate};
use lodemark::worksheet::Worksheet;
use rayon::prelude::*;
use serde_json::{Value, json};
use std::path::{Path, PathBuf};

/// Where two lines share ink, it is looked up at so many places and one whether a part of it counts.
const RUN_LOOKS: u32 = 20;

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
    let panel = &worksheet.panels[0];
    let (field, nothing) = (panel.field(), Drawing::default());
    let region = Region::new(panel, &field, &nothing);
    let pages = scan::open(file).map_err(|e| format!("{e:?}"))?;
    for number in 1..=pages.len() {
        let page = pages.page(number, Wanted::default()).map_err(|e| format!("{e:?}"))?.grey;
        let Ok(located) = rectify::locate(&page, &layout, &code::key(&worksheet.id)) else { continue };
        let Some(code) = located.code.and_then(|c| c.code) else { continue };
        let look = ink::Look { bilevel: grey::is_bilevel(&page), blur_mm: located.blur_mm, least: 0.0 };
        let shown = panel.frame.inflate(MARGIN_MM, MARGIN_MM);
        let flat = flatten::flatten(&page, &located.page_to_scan, shown);
        let found = candidates(ink::read(&flat, &Covers::of(&layout, shown), look));
        let lines: Vec<Vec<[f64; 2]>> =
            found.lines.iter().map(|l| l.iter().map(|p| [p.x, p.y]).collect()).collect();
        let heads: Vec<Value> = found.heads.iter().map(|h| tell(&h.0)).collect();
        let counts = |m: &Meeting| {
            (0..=RUN_LOOKS)
                .any(|k| region.counts(m.run[0].lerp(m.run[1], f64::from(k) / f64::from(RUN_LOOKS))))
        };
        let counting =
            || found.meets.iter().filter(|m| region.counts(m.0.meeting.at) || counts(&m.0.meeting));
        let meets: Vec<Value> = counting().map(|m| tell_place(&m.0)).collect();
        let told = json!({"lines": lines, "heads": heads, "meets": meets});
        std::fs::write(out.join(format!("{code}.json")), told.to_string())?;
        std::fs::write(
            out.join(format!("{code}.views")),
            bytes(found.heads.iter().flat_map(|h| h.1.iter())),
        )?;
        std::fs::write(out.join(format!("{code}.places")), bytes(counting().flat_map(|m| m.1.iter())))?;
    }
    Ok(())
}

fn bytes<'a>(cells: impl Iterator<Item = &'a f32>) -> Vec<u8> {
    cells.map(|v| (v * 255.0).round() as u8).collect()
}

fn tell(head: &Head) -> Value {
    let (arrow, e) = (&head.arrow, &head.evidence);
    json!({
        "line": head.line,
        "at": [arrow.at.x, arrow.at.y],
        "towards": [arrow.towards.x, arrow.towards.y],
        "sure": arrow.sure, "way_sure": arrow.way_sure,
        "evidence": [
            f64::from(u8::from(e.swelling)), e.barbs as f64, e.angle_deg, e.length_mm, e.beside_mm, e.attached as f64,
            e.at_print as f64, e.area_mm2, e.lean, e.other_line_mm, e.end_mm,
            e.round.behind[0], e.round.behind[1], e.round.ahead[0], e.round.ahead[1],
            match e.whose {
                Whose::Its => 0.0,
                Whose::First => 1.0,
                Whose::Other => -1.0,
            },
        ],
    })
}

fn tell_place(candidate: &Candidate) -> Value {
    let (m, e) = (&candidate.meeting, &candidate.evidence);
    json!({
        "at": [m.at.x, m.at.y],
        "run": [[m.run[0].x, m.run[0].y], [m.run[1].x, m.run[1].y]],
        "lines": [m.lines.0, m.lines.1],
        "sure": m.sure,
        "evidence": [
            e.nearer_mm, f64::from(e.swelling), e.apart_mm, e.run_mm, e.near as f64, e.head_mm, e.end_mm, e.shorter_mm, e.width_mm,
            e.wider, e.traced[0], e.traced[1], e.angle_deg, f64::from(u8::from(m.kind == MeetKind::Touch)),
            f64::from(u8::from(m.lines.0 == m.lines.1)),
        ],
    })
}
