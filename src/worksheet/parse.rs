//! worksheet.yaml to a checked [`Worksheet`]: every key read with its place, all problems told at once.

use super::check;
use super::{DIPOLE_RING_MM, Earth, Kind, Panel, Source, Worksheet};
use crate::geometry::{Point, Rect};
use crate::problem::yaml::{At, Document, Fields};
use crate::problem::{Problem, one_of, suggest};
use std::path::Path;

/// Strongest magnet material, mT: sintered neodymium-iron-boron stays below it.
pub const MAX_REMANENCE_MT: f64 = 1500.0;
/// Sizes of magnets, mm: below, the pole letters find no room; above, no sheet of A4 holds them.
const SIZE_MM: std::ops::RangeInclusive<f64> = 1.0..=250.0;
/// Furthest the paper may lie above the magnets, mm: beyond, nothing of the pattern is left to draw.
const MAX_PLANE_MM: f64 = 100.0;
/// Strongest moment, A m2: that of a neodymium block 80 mm a side is about 600.
const MAX_MOMENT_AM2: f64 = 1000.0;
/// Strongest uniform background, microtesla; the Earth's horizontal part is at most about 42.
const MAX_EARTH_UT: f64 = 100.0;
/// Longest title and prompt that the sheet has room for, characters.
const MAX_TITLE_CHARS: usize = 80;
const MAX_PROMPT_CHARS: usize = 400;
/// Most panels a sheet and sources a panel: more find no room on A4, and each costs time.
const MAX_PANELS: usize = 8;
const MAX_SOURCES: usize = 12;

const KINDS: [&str; 6] = ["bar", "rod", "disc", "horseshoe", "globe", "dipole"];
/// Kinds of the format that the program does not compute yet.
const LATER_KINDS: [&str; 4] = ["wire", "coil", "charge", "plate"];

impl Worksheet {
    /// Reads and checks worksheet.yaml.
    ///
    /// # Errors
    /// All problems found, in the order of their places; never a half-read worksheet.
    pub fn load(path: &Path) -> Result<Self, Vec<Problem>> {
        let document = Document::read(path).map_err(|problem| vec![problem])?;
        let worksheet = read_worksheet(&document.root());
        document.finish(worksheet)
    }

    /// As [`Worksheet::load`], from text; `path` is only named.
    ///
    /// # Errors
    /// As [`Worksheet::load`].
    pub fn parse(path: &Path, text: &str) -> Result<Self, Vec<Problem>> {
        let document = Document::parse(path, text).map_err(|problem| vec![problem])?;
        let worksheet = read_worksheet(&document.root());
        document.finish(worksheet)
    }
}

fn read_worksheet(root: &At) -> Option<Worksheet> {
    let keys = root.fields(&["worksheet", "id", "title", "paper", "orientation", "panels"])?;
    keys.version("worksheet");
    let id = keys.need("id", "add id: and a short name of a-z, 0-9 and -").and_then(read_id);
    let title =
        keys.need("title", "add title: and the sheet's heading").and_then(|t| words(t, MAX_TITLE_CHARS));
    let paper = keys.need("paper", "add paper: a4 or paper: letter").and_then(|p| p.word(&["a4", "letter"]));
    let orientation = keys
        .need("orientation", "add orientation: portrait or orientation: landscape")
        .and_then(|o| o.word(&["portrait", "landscape"]));
    let page_mm = match (paper, orientation) {
        (Some(paper), Some(orientation)) => Some(page_size(paper, orientation)),
        _ => None,
    };
    let panels =
        keys.need("panels", "add panels: with at least one panel").and_then(|p| read_panels(p, page_mm));
    Some(Worksheet { id: id?, title: title?, page_mm: page_mm?, panels: panels? })
}

/// Width and height of the sheet as printed, mm (ISO 216; ANSI Y14.1 size A).
fn page_size(paper: &str, orientation: &str) -> (f64, f64) {
    let (short, long) = if paper == "letter" { (215.9, 279.4) } else { (210.0, 297.0) };
    if orientation == "landscape" { (long, short) } else { (short, long) }
}

fn read_id(at: &At) -> Option<String> {
    let text = at.text()?;
    let fine = (2..=24).contains(&text.len())
        && text.bytes().all(|b| b.is_ascii_lowercase() || b.is_ascii_digit() || b == b'-');
    if !fine {
        at.problem(format!("\"{text}\" is no id"), "write 2 to 24 of a-z, 0-9 and -");
        return None;
    }
    Some(text.to_string())
}

/// Text to be printed: something to see, no control characters, not too long for the sheet.
fn words(at: &At, max_chars: usize) -> Option<String> {
    let text = at.text()?.trim();
    let count = text.chars().count();
    if count == 0 {
        at.problem("nothing is written here", "write the words to be printed");
    } else if count > max_chars {
        at.problem(format!("{count} characters find no room"), format!("write at most {max_chars}"));
    } else if text.chars().any(char::is_control) {
        at.problem("a line break or control character", "write it in one line");
    } else {
        return Some(text.to_string());
    }
    None
}

fn read_panels(at: &At, page_mm: Option<(f64, f64)>) -> Option<Vec<Panel>> {
    let items = at.items()?;
    if items.is_empty() || items.len() > MAX_PANELS {
        at.problem(format!("{} panels", items.len()), format!("give 1 to {MAX_PANELS}"));
    }
    let mut seen: Vec<(String, Option<Rect>)> = Vec::new();
    let mut panels = Vec::new();
    for item in items.iter().take(MAX_PANELS) {
        let read = read_panel(item, page_mm, &mut seen);
        panels.push(read);
    }
    panels.into_iter().collect()
}

fn read_panel(at: &At, page_mm: Option<(f64, f64)>, seen: &mut Vec<(String, Option<Rect>)>) -> Option<Panel> {
    let keys = at.fields(&["id", "prompt", "frame_mm", "plane_mm", "sources", "earth"])?;
    let id_at = keys.need("id", "add id: A");
    let id = id_at.and_then(read_panel_id);
    let prompt = keys
        .need("prompt", "add prompt: and what the student is asked to draw")
        .and_then(|p| words(p, MAX_PROMPT_CHARS));
    let frame_at = keys.need("frame_mm", "add frame_mm: [left, top, width, height]");
    let frame = frame_at.and_then(|f| check::frame(f, page_mm));
    if let (Some(id), Some(id_at)) = (&id, id_at)
        && seen.iter().any(|(other, _)| other.eq_ignore_ascii_case(id))
    {
        id_at.problem(format!("another panel is called {id}"), "give each panel its own id");
    }
    if let (Some(frame), Some(frame_at)) = (frame, frame_at)
        && let Some((other, _)) = seen.iter().find(|(_, f)| f.is_some_and(|f| f.overlaps(frame)))
    {
        frame_at
            .problem(format!("the frame overlaps that of panel {other}"), "move or shrink one of the two");
    }
    seen.push((id.clone().unwrap_or_default(), frame));
    let plane_at = keys.get("plane_mm");
    let plane_mm = plane_at.map_or(Some(0.0), |p| p.number_in(-MAX_PLANE_MM..=MAX_PLANE_MM, "mm"));
    let earth = match keys.get("earth") {
        Some(at) => Some(read_earth(at)?),
        None => None,
    };
    let sources = keys
        .need("sources", "add sources: with at least one magnet")
        .and_then(|s| read_sources(s, frame, plane_mm));
    let (id, prompt, frame, plane_mm) = (id?, prompt?, frame?, plane_mm?);
    Some(Panel { id, prompt, frame, plane_mm, sources: sources?, earth })
}

fn read_panel_id(at: &At) -> Option<String> {
    let text = at.text()?;
    let fine = (1..=8).contains(&text.len()) && text.bytes().all(|b| b.is_ascii_alphanumeric());
    if !fine {
        at.problem(format!("\"{text}\" is no panel id"), "write 1 to 8 letters and digits, as A");
        return None;
    }
    Some(text.to_string())
}

fn read_earth(at: &At) -> Option<Earth> {
    let keys = at.fields(&["horizontal_ut", "north_deg"])?;
    let horizontal = keys
        .need("horizontal_ut", "add horizontal_ut: and the horizontal flux density in microtesla")
        .and_then(|h| h.number_in(0.0..=MAX_EARTH_UT, "microtesla"));
    let north =
        keys.need("north_deg", "add north_deg: and where a compass needle's N end points").and_then(degrees);
    Some(Earth { horizontal_ut: horizontal?, north_deg: north? })
}

fn degrees(at: &At) -> Option<f64> {
    at.number_in(-360.0..=360.0, "degrees")
}

fn read_sources(at: &At, frame: Option<Rect>, plane_mm: Option<f64>) -> Option<Vec<Source>> {
    let items = at.items()?;
    if items.is_empty() || items.len() > MAX_SOURCES {
        at.problem(format!("{} sources", items.len()), format!("give 1 to {MAX_SOURCES} in each panel"));
    }
    let read: Vec<Option<Source>> = items.iter().take(MAX_SOURCES).map(read_source).collect();
    let placed: Vec<(&At, &Source)> =
        items.iter().zip(&read).filter_map(|(at, source)| source.as_ref().map(|s| (at, s))).collect();
    check::sources(&placed, frame, plane_mm);
    read.into_iter().collect()
}

fn read_source(at: &At) -> Option<Source> {
    let entries = at.entries()?;
    let Some((_, kind_at)) = entries.iter().find(|(key, _)| *key == "kind") else {
        at.problem("the key \"kind\" is missing", format!("add kind: {}", one_of(&KINDS)));
        return None;
    };
    let kind = kind_at.text()?;
    if LATER_KINDS.contains(&kind) {
        kind_at
            .problem(format!("sources of kind {kind} are not built yet"), format!("use {}", one_of(&KINDS)));
        return None;
    }
    let Some(kind) = KINDS.iter().copied().find(|k| *k == kind) else {
        kind_at.problem(format!("no source is of kind \"{kind}\""), suggest(kind, &KINDS));
        return None;
    };
    let mut known = vec!["kind", "id", "centre_mm", "north_deg"];
    known.extend_from_slice(match kind {
        "dipole" => &["moment_am2"],
        "horseshoe" => &["size_mm", "remanence_mt", "limb_mm", "north_limb"],
        "disc" => &["size_mm", "remanence_mt", "through"],
        _ => &["size_mm", "remanence_mt"],
    });
    let through = kind == "disc" && entries.iter().any(|(key, _)| *key == "through");
    let keys = at.fields(&known)?;
    let id = keys.need("id", "add id: and a short name of a-z, 0-9 and -").and_then(read_source_id);
    let centre = keys
        .need("centre_mm", "add centre_mm: [x, y]")
        .and_then(|c| c.numbers::<2>("x, y"))
        .map(|[x, y]| Point::new(x, y));
    let north = match keys.get("north_deg") {
        None if through => Some(0.0),
        None => {
            keys.need("north_deg", "add north_deg: and the way from the S to the N pole").and_then(degrees)
        }
        Some(at) => degrees(at),
    };
    let kind = read_kind(&keys, kind);
    Some(Source { id: id?, kind: kind?, centre: centre?, north_deg: north? })
}

fn read_source_id(at: &At) -> Option<String> {
    let id = read_id(at)?;
    if ["frame", "leaves", "open"].contains(&id.as_str()) {
        at.problem(format!("\"{id}\" already means where a line ends"), "give the magnet another id");
        return None;
    }
    Some(id)
}

fn read_kind(keys: &Fields, kind: &str) -> Option<Kind> {
    if kind == "dipole" {
        let at = keys.need("moment_am2", "add moment_am2: and the moment in A m2")?;
        return positive(at, MAX_MOMENT_AM2, "A m2").map(|moment_am2| Kind::Dipole { moment_am2 });
    }
    let remanence = keys
        .need("remanence_mt", "add remanence_mt: and the remanence in millitesla")
        .and_then(|r| positive(r, MAX_REMANENCE_MT, "mT"));
    let size = |what: &str| keys.need("size_mm", &format!("add size_mm: [{what}]"));
    match kind {
        "bar" => {
            let [length, width, thickness] =
                sizes(size("length, width, thickness"), "length, width, thickness")?;
            Some(Kind::Bar { length, width, thickness, remanence_mt: remanence? })
        }
        "rod" => {
            let [length, diameter] = sizes(size("length, diameter"), "length, diameter")?;
            Some(Kind::Rod { length, diameter, remanence_mt: remanence? })
        }
        "disc" => {
            let size = sizes(size("diameter, thickness"), "diameter, thickness");
            let through = match keys.get("through") {
                Some(at) => Some(at.word(&["up", "down"])? == "up"),
                None => None,
            };
            let ([diameter, thickness], remanence_mt) = (size?, remanence?);
            Some(match through {
                Some(up) => Kind::DiscThrough { diameter, thickness, remanence_mt, up },
                None => Kind::Disc { diameter, thickness, remanence_mt },
            })
        }
        "globe" => {
            let [diameter] = sizes(size("diameter"), "diameter")?;
            Some(Kind::Globe { diameter, remanence_mt: remanence? })
        }
        _ => read_horseshoe(keys, remanence),
    }
}

fn read_horseshoe(keys: &Fields, remanence: Option<f64>) -> Option<Kind> {
    let what = "overall width, overall depth, thickness";
    let size_at = keys.need("size_mm", &format!("add size_mm: [{what}]"));
    let size = sizes::<3>(size_at, what);
    let limb_at = keys.need("limb_mm", "add limb_mm: and the width of a limb");
    let limb = limb_at.and_then(|l| l.number_in(SIZE_MM, "mm"));
    let north_left = keys
        .need("north_limb", "add north_limb: left or right, seen looking out of the open side")
        .and_then(|n| n.word(&["left", "right"]))
        .map(|side| side == "left");
    let ([width, depth, thickness], limb) = (size?, limb?);
    // Below this gap between the limbs there is no room for one line of a pencil.
    const LEAST_GAP_MM: f64 = 2.0;
    if let Some(at) = limb_at
        && (2.0 * limb + LEAST_GAP_MM > width || limb >= depth)
    {
        let most = ((width - LEAST_GAP_MM) / 2.0).min(depth);
        at.problem(format!("two limbs of {limb} mm leave no gap"), format!("write less than {most} mm"));
        return None;
    }
    Some(Kind::Horseshoe { width, depth, thickness, limb, remanence_mt: remanence?, north_left: north_left? })
}

fn sizes<const N: usize>(at: Option<&At>, what: &str) -> Option<[f64; N]> {
    let at = at?;
    let numbers = at.numbers::<N>(what)?;
    let outside: Vec<f64> = numbers.iter().copied().filter(|n| !SIZE_MM.contains(n)).collect();
    for (item, _) in at.items()?.iter().zip(numbers).filter(|(_, n)| !SIZE_MM.contains(n)) {
        item.number_in(SIZE_MM, "mm");
    }
    outside.is_empty().then_some(numbers)
}

fn positive(at: &At, most: f64, unit: &str) -> Option<f64> {
    let number = at.number()?;
    if number > 0.0 && number <= most {
        return Some(number);
    }
    at.problem(
        format!("{number} {unit} is out of range"),
        format!("write more than 0 and at most {most} {unit}"),
    );
    None
}

/// Half the size of the upright box round a source's outline, mm.
pub(super) fn half_box_mm(source: &Source) -> (f64, f64) {
    let (sin, cos) = source.north_deg.to_radians().sin_cos();
    let (along, across) = match &source.kind {
        Kind::Bar { length, width, .. } => (*length, *width),
        Kind::Rod { length, diameter, .. } => (*length, *diameter),
        Kind::Horseshoe { width, depth, .. } => (*depth, *width),
        Kind::Disc { diameter, .. } | Kind::DiscThrough { diameter, .. } | Kind::Globe { diameter, .. } => {
            return (diameter / 2.0, diameter / 2.0);
        }
        Kind::Dipole { .. } => return (DIPOLE_RING_MM / 2.0, DIPOLE_RING_MM / 2.0),
    };
    let half = |a: f64, b: f64| (along * a.abs() + across * b.abs()) / 2.0;
    (half(cos, sin), half(sin, cos))
}
