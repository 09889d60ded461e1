//! worksheet.yaml to a checked [`Worksheet`]: every key read with its place, all problems told at once.

use super::earth::read_earth;
use super::kinds::read_source;
use super::{Panel, Placement, Source, Worksheet, check};
use crate::geometry::Rect;
use crate::problem::Problem;
use crate::problem::yaml::{At, Document};
use std::path::Path;

/// Furthest the paper may lie above the magnets, mm: beyond, nothing of the pattern is left to draw.
const MAX_PLANE_MM: f64 = 100.0;
/// Longest title and prompt that the sheet has room for, characters.
const MAX_TITLE_CHARS: usize = 80;
const MAX_PROMPT_CHARS: usize = 400;
/// Most panels a sheet and sources a panel: more find no room on A4, and each costs time.
const MAX_PANELS: usize = 8;
const MAX_SOURCES: usize = 12;

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

    /// The panels' ids of a worksheet that may have problems elsewhere, so that a rubric can be checked beside it. Empty where
    /// they cannot be told: any panel may then be meant.
    pub fn panel_ids(path: &Path) -> Vec<String> {
        let read = || {
            let document = Document::read(path).ok()?;
            let root = document.root().is_group().then(|| document.root())?;
            let (_, panels) = root.entries()?.into_iter().find(|(key, _)| *key == "panels")?;
            let items = panels.is_list().then(|| panels.items())??;
            items
                .iter()
                .map(|item| read_panel_id(&item.entries()?.iter().find(|(key, _)| *key == "id")?.1))
                .collect()
        };
        let ids: Option<Vec<String>> = read();
        ids.unwrap_or_default()
    }
}

fn read_worksheet(root: &At) -> Option<Worksheet> {
    let keys = root.fields(&["worksheet", "id", "title", "paper", "orientation", "placement", "panels"])?;
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
    let placement = keys.get("placement").map_or(Some(Placement::Printed), read_placement);
    let page = Page { mm: page_mm, traced: placement == Some(Placement::Traced) };
    let panels =
        keys.need("panels", "add panels: with at least one panel").and_then(|p| read_panels(p, page));
    Some(Worksheet { id: id?, title: title?, page_mm: page_mm?, placement: placement?, panels: panels? })
}

/// Width and height of the sheet as printed, mm (ISO 216; ANSI Y14.1 size A).
fn page_size(paper: &str, orientation: &str) -> (f64, f64) {
    let (short, long) = if paper == "letter" { (215.9, 279.4) } else { (210.0, 297.0) };
    if orientation == "landscape" { (long, short) } else { (short, long) }
}

pub(super) fn read_id(at: &At) -> Option<String> {
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

fn read_placement(at: &At) -> Option<Placement> {
    at.word(&["printed", "traced"]).map(|word| match word {
        "traced" => Placement::Traced,
        _ => Placement::Printed,
    })
}

/// What a panel must know of its page.
#[derive(Clone, Copy)]
struct Page {
    mm: Option<(f64, f64)>,
    traced: bool,
}

fn read_panels(at: &At, page: Page) -> Option<Vec<Panel>> {
    let items = at.items()?;
    if page.traced && items.len() > 1 {
        at.problem("a traced sheet is one drawing", "give one panel");
    }
    if items.is_empty() || items.len() > MAX_PANELS {
        at.problem(format!("{} panels", items.len()), format!("give 1 to {MAX_PANELS}"));
    }
    let mut seen: Vec<(String, Option<Rect>)> = Vec::new();
    let mut panels = Vec::new();
    for item in items.iter().take(MAX_PANELS) {
        let read = read_panel(item, page, &mut seen);
        panels.push(read);
    }
    panels.into_iter().collect()
}

fn read_panel(at: &At, page: Page, seen: &mut Vec<(String, Option<Rect>)>) -> Option<Panel> {
    let keys = at.fields(&["id", "prompt", "frame_mm", "plane_mm", "sources", "earth"])?;
    let id_at = keys.need("id", "add id: A");
    let id = id_at.and_then(read_panel_id);
    let prompt = keys
        .need("prompt", "add prompt: and what the student is asked to draw")
        .and_then(|p| words(p, MAX_PROMPT_CHARS));
    let frame_at = match page.traced {
        true => keys.get("frame_mm"),
        false => keys.need("frame_mm", "add frame_mm: [left, top, width, height]"),
    };
    let frame = match frame_at {
        Some(at) => check::frame(at, page.mm),
        // Plain paper has no frame but its edges.
        None => page.mm.filter(|_| page.traced).map(|(w, h)| Rect::new(0.0, 0.0, w, h)),
    };
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
    let earth_at = keys.get("earth");
    let earth = earth_at.map(read_earth);
    let sources = keys
        .need("sources", "add sources: with at least one magnet")
        .and_then(|s| read_sources(s, frame, plane_mm, page.traced));
    if let (Some(at), Some(sources)) = (earth_at, &sources)
        && sources.iter().any(|s| s.kind.is_electric())
    {
        at.problem("the Earth's magnetic field does nothing to charges at rest", "leave out earth:");
    }
    if let (Some(at), true) = (earth_at, page.traced) {
        at.problem(
            "plain paper does not tell which way it lay towards the north",
            "leave out earth:, or use placement: printed",
        );
    }
    let earth = match earth {
        Some(read) => Some(read?),
        None => None,
    };
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

pub(super) fn degrees(at: &At) -> Option<f64> {
    at.number_in(-360.0..=360.0, "degrees")
}

fn read_sources(at: &At, frame: Option<Rect>, plane_mm: Option<f64>, traced: bool) -> Option<Vec<Source>> {
    let items = at.items()?;
    if items.is_empty() || items.len() > MAX_SOURCES {
        at.problem(format!("{} sources", items.len()), format!("give 1 to {MAX_SOURCES} in each panel"));
    }
    let read: Vec<Option<Source>> = items.iter().take(MAX_SOURCES).map(read_source).collect();
    let placed: Vec<(&At, &Source)> =
        items.iter().zip(&read).filter_map(|(at, source)| source.as_ref().map(|s| (at, s))).collect();
    check::sources(&placed, frame, plane_mm);
    for (at, source) in placed.iter().filter(|(_, s)| traced && !s.kind.is_traceable()) {
        let what = format!("{} is nothing that one can draw round on paper", source.id);
        at.problem(what, "use bar, rod, disc or horseshoe, or placement: printed");
    }
    read.into_iter().collect()
}
