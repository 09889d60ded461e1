//! The words of a picture: its title, and below the frames what each view means.

use super::draw::EDGE_MM;
use super::scale::{self, Scale};
use super::{Layers, View};
use crate::geometry::{Point, Rect};
use crate::print::layout::TextLine;
use crate::print::lettering::Face;
use crate::worksheet::{Kind, Worksheet};

const TITLE_EM_MM: f64 = 6.0;
const WORDS_EM_MM: f64 = 3.4;
/// Distance of two baselines, in ems.
const LEADING: f64 = 1.3;
/// From the frames to the first scale, and from the last baseline to the picture's edge, mm.
const SCALE_TOP_MM: f64 = 3.6;
const BELOW_MM: f64 = 3.6;
/// Least height below the frames, mm: two lines of words.
const LEAST_MM: f64 = 2.0 * EDGE_MM;

const LINES_WORDS: &str = "Computed field lines, to scale.";
const PLAIN_WORDS: &str = "Computed field, to scale.";
/// What the arrows say, by what makes the field: magnets, coils, wires, charges.
const MAGNET_ARROWS: &str = "Arrows: from N to S outside a magnet.";
const GLOBE_ARROWS: &str = "Arrows: as a compass points, towards geographic north.";
const COIL_ARROWS: &str = "Arrows: out of a coil’s N end, through it from S to N.";
const WIRE_ARROWS: &str = "Arrows: round a wire by the right hand, thumb along the current.";
const CHARGE_ARROWS: &str = "Arrows: from plus to minus.";
const FILINGS_WORDS: &str =
    "Grains: along the field and more of them where it is stronger, as iron filings lie.";
const SEMOLINA_WORDS: &str =
    "Grains: along the field and more of them where it is stronger, as semolina in oil lies.";
const NEEDLES_WORDS: &str = "Needles: the filled half is the N end and points along the field.";
const SEPARATRIX_WORDS: &str =
    "Dashed: lines through neutral points, which part the field of one source from the next’s.";
const EVEN_WORDS: &str = "The field is about equally strong everywhere.";
const NEUTRAL_WORDS: &str = "Ringed cross: neutral point, no field in the paper’s plane.";

/// What stands below the frames.
pub(super) struct Foot {
    /// From the frames to the picture's lower edge, mm.
    pub(super) height_mm: f64,
    /// Scales of strength, and the top of each, mm on the page.
    pub(super) scales: Vec<(Scale, f64)>,
    pub(super) words: Vec<TextLine>,
}

/// What the picture is called.
pub(super) fn title(worksheet: &Worksheet, layers: &[Layers]) -> String {
    let what = if shown(layers, View::Lines) { "computed field lines" } else { "computed field" };
    format!("{}: {what}", worksheet.title)
}

/// The title above the frames.
pub(super) fn heading(worksheet: &Worksheet, frames: Rect) -> Option<TextLine> {
    let text = Face::Bold.fit(&worksheet.title, TITLE_EM_MM, frames.width());
    let at = Point::new(frames.x0, frames.y0 - EDGE_MM);
    Some(TextLine { at, face: Face::Bold, em_mm: TITLE_EM_MM, grey: 1.0, text })
}

pub(super) fn foot(worksheet: &Worksheet, layers: &[Layers], frames: Rect) -> Foot {
    let mut top = frames.y1 + SCALE_TOP_MM;
    let mut scales = Vec::new();
    for scale in [false, true].into_iter().filter_map(|electric| scale_of(worksheet, layers, electric)) {
        scales.push((scale, top));
        top += scale::HEIGHT_MM;
    }
    let first = if scales.is_empty() { frames.y1 + EDGE_MM } else { top + WORDS_EM_MM };
    let text = sentences(worksheet, layers).join(" ");
    let words: Vec<TextLine> = Face::Regular
        .wrap_evenly(&text, WORDS_EM_MM, frames.width())
        .into_iter()
        .enumerate()
        .map(|(i, text)| {
            let at = Point::new(frames.x0, first + i as f64 * LEADING * WORDS_EM_MM);
            TextLine { at, face: Face::Regular, em_mm: WORDS_EM_MM, grey: 1.0, text }
        })
        .collect();
    let last = words.last().map_or(top, |line| line.at.y);
    Foot { height_mm: (last + BELOW_MM - frames.y1).max(LEAST_MM), scales, words }
}

/// The levels that the panels of one unit share; none where no strength is shown or the field is even.
fn scale_of(worksheet: &Worksheet, layers: &[Layers], electric: bool) -> Option<Scale> {
    let of_unit = worksheet.panels.iter().zip(layers).filter(|(p, _)| p.is_electric() == electric);
    let (regions, _) = of_unit.filter_map(|(_, l)| l.strength.as_ref()).next()?;
    let levels: Vec<f64> = regions.iter().map(|r| r.level).collect();
    (!levels.is_empty()).then_some(Scale { levels, electric })
}

/// Whether a view is seen in any panel.
fn shown(layers: &[Layers], view: View) -> bool {
    layers.iter().any(|l| match view {
        View::Lines => !l.answer.lines.is_empty(),
        View::Neutral => !l.answer.neutral.is_empty(),
        View::Separatrices => !l.separatrices.is_empty(),
        View::Filings => l.filings.is_some(),
        View::Needles => !l.needles.is_empty(),
        View::Strength => l.strength.is_some(),
    })
}

fn sentences(worksheet: &Worksheet, layers: &[Layers]) -> Vec<&'static str> {
    let lines = shown(layers, View::Lines);
    let kinds = || worksheet.panels.iter().flat_map(|p| &p.sources).map(|s| &s.kind);
    let is = |has: fn(&Kind) -> bool| kinds().any(has);
    let electric = is(Kind::is_electric);
    let magnetic = !electric || worksheet.panels.iter().any(|p| !p.is_electric());
    let filings = shown(layers, View::Filings);
    let even = layers.iter().any(|l| l.strength.as_ref().is_some_and(|(regions, _)| regions.is_empty()));
    [
        (lines || !filings, if lines { LINES_WORDS } else { PLAIN_WORDS }),
        // On a globe the geographic poles are printed: N and S would mislead.
        (lines && is(|k| k.is_magnet() && !matches!(k, Kind::Globe { .. })), MAGNET_ARROWS),
        (lines && is(|k| matches!(k, Kind::Globe { .. })), GLOBE_ARROWS),
        (lines && is(|k| matches!(k, Kind::Coil { .. })), COIL_ARROWS),
        (lines && is(|k| matches!(k, Kind::Wire { .. })), WIRE_ARROWS),
        (lines && electric, CHARGE_ARROWS),
        (filings && !lines, PLAIN_WORDS),
        (filings && magnetic, FILINGS_WORDS),
        (filings && electric, SEMOLINA_WORDS),
        (shown(layers, View::Needles), NEEDLES_WORDS),
        (shown(layers, View::Separatrices), SEPARATRIX_WORDS),
        (even, EVEN_WORDS),
        (shown(layers, View::Neutral), NEUTRAL_WORDS),
    ]
    .into_iter()
    .filter_map(|(there, words)| there.then_some(words))
    .collect()
}

#[cfg(test)]
mod tests {
    use super::super::tests::{bar, charge, everything, panel, sheet, wire};
    use super::*;

    fn said(worksheet: &Worksheet, views: &[View]) -> String {
        sentences(worksheet, &everything(worksheet, views)).join(" ")
    }

    #[test]
    fn the_words_say_what_is_seen() {
        let magnets = sheet(vec![panel(vec![bar(88.5, 115., 0.), bar(208.5, 115., 180.), wire(40., 60.)])]);
        let lines = said(&magnets, &View::USUAL);
        assert_eq!(lines, [LINES_WORDS, MAGNET_ARROWS, WIRE_ARROWS, NEUTRAL_WORDS].join(" "));
        assert_eq!(said(&magnets, &[View::Needles]), [PLAIN_WORDS, NEEDLES_WORDS].join(" "));
        let charges = sheet(vec![panel(vec![charge(100., 5.)])]);
        assert_eq!(said(&charges, &[View::Filings]), [PLAIN_WORDS, SEMOLINA_WORDS].join(" "));
        assert_eq!(said(&charges, &[View::Lines]), [LINES_WORDS, CHARGE_ARROWS].join(" "));
    }

    /// However many words there are, the picture holds them.
    #[test]
    fn the_foot_holds_its_words_and_scales() {
        let mut narrow = panel(vec![bar(50., 100., 90.)]);
        narrow.frame = Rect::new(20., 60., 70., 140.);
        let worksheet = sheet(vec![narrow]);
        for views in [&[View::Lines][..], &[View::Lines, View::Filings, View::Needles, View::Strength]] {
            let layers = everything(&worksheet, views);
            let frames = worksheet.panels[0].frame;
            let foot = foot(&worksheet, &layers, frames);
            let last = foot.words.last().unwrap().at.y;
            assert!(frames.y1 + foot.height_mm >= last + 0.25 * WORDS_EM_MM + 1.0);
            for (_, top) in &foot.scales {
                assert!(*top > frames.y1 && top + scale::HEIGHT_MM < foot.words[0].at.y);
            }
            assert_eq!(foot.scales.len(), usize::from(views.contains(&View::Strength)));
        }
    }
}
