//! What `print` makes of a traced worksheet: one page that tells how to trace the magnets on plain paper. It is to be read out,
//! shown or copied; nothing is drawn on it, and it carries no code.

use super::header;
use super::layout::{SIDE_MM, TextLine};
use super::lettering::Face;
use super::sheet::{self, PrintError};
use crate::geometry::Point;
use crate::worksheet::{Kind, Source, Worksheet};

/// Baseline of the title, mm, and its em.
const TITLE_BASE_MM: f64 = 30.0;
const TITLE_EM_MM: f64 = 7.5;
/// Em of prompt and steps, mm: to be read from a table's length away.
const EM_MM: f64 = 5.0;
const CAUTION_EM_MM: f64 = 3.6;
/// Distance of two baselines and of two paragraphs, in ems.
const LEADING: f64 = 1.35;
const APART: f64 = 2.1;

/// The page as a PDF.
///
/// # Errors
/// [`PrintError`]: the PDF could not be written.
pub fn pdf(worksheet: &Worksheet) -> Result<Vec<u8>, PrintError> {
    let (mut document, fonts) = sheet::begin(worksheet)?;
    sheet::page(&mut document, &fonts, worksheet.page_mm, |pen| {
        lines(worksheet).iter().for_each(|line| pen.text(line))
    })?;
    sheet::finish(document)
}

/// The page's words, line by line.
pub fn lines(worksheet: &Worksheet) -> Vec<TextLine> {
    let width = worksheet.page_mm.0 - 2.0 * SIDE_MM;
    let mut lines = Vec::new();
    let mut base = TITLE_BASE_MM;
    let mut put = |face: Face, em_mm: f64, text: &str| {
        for text in face.wrap(text, em_mm, width) {
            lines.push(TextLine { at: Point::new(SIDE_MM, base), face, em_mm, grey: 1.0, text });
            base += LEADING * em_mm;
        }
        base += (APART - LEADING) * em_mm;
    };
    put(Face::Bold, TITLE_EM_MM, &worksheet.title);
    for panel in &worksheet.panels {
        put(Face::Regular, EM_MM, &panel.prompt);
    }
    for (n, step) in steps(worksheet).into_iter().enumerate() {
        put(Face::Regular, EM_MM, &format!("{}. {step}", n + 1));
    }
    if let Some(cautions) = header::cautions(worksheet) {
        put(Face::Regular, CAUTION_EM_MM, &cautions);
    }
    lines
}

fn steps(worksheet: &Worksheet) -> Vec<String> {
    let sources = || worksheet.panels.iter().flat_map(|p| &p.sources);
    let (w, _) = worksheet.page_mm;
    let paper = if [210.0, 297.0].contains(&w) { "A4" } else { "letter" };
    let things: Vec<String> = sources().map(thing).collect();
    let one = things.len() == 1;
    let (it, them) = if one { ("it", "it") } else { ("them", "each of them") };
    let mut steps = vec![
        format!(
            "Take a sheet of plain, ruled or graph paper ({paper}). Lay on it {}, well away from the edges{}.",
            things.join(" and "),
            if one { "" } else { " and from each other" }
        ),
        format!("Hold {it} still and draw all the way round {them} with a dark pencil, close to the sides."),
    ];
    if sources().any(|s| !matches!(s.kind, Kind::DiscThrough { .. })) {
        steps.push(
            "Take it away. Write a large N and a large S inside the outline, each at its own pole, clear of the line."
                .to_string(),
        );
    }
    steps.push(
        "Draw the field lines. Write nothing else among them; your name and code go to the edge.".to_string(),
    );
    steps.push("Have the whole sheet scanned, or photograph it from straight above, all four edges on a darker table.".to_string());
    steps
}

/// A magnet in words.
fn thing(source: &Source) -> String {
    match source.kind {
        Kind::Bar { length, width, .. } => format!("the bar magnet of {length} x {width} mm"),
        Kind::Rod { length, diameter, .. } => format!("the rod magnet of {length} x {diameter} mm"),
        Kind::Horseshoe { width, depth, .. } => format!("the horseshoe magnet of {width} x {depth} mm"),
        Kind::Disc { diameter, .. } | Kind::DiscThrough { diameter, .. } => {
            format!("the disc magnet of {diameter} mm")
        }
        _ => format!("the magnet {}", source.id),
    }
}
