//! Traced sheets: magnets that the student laid on plain paper and drew round, found by the shape and size that the worksheet
//! gives them.
//!
//! There is no print to find the page by. The sheet is found by its edges or is the whole scan ([`paper`]); rulings are
//! taken off ([`crate::ink::rulings`]); outlines are found by their shape ([`vote`], [`fit`], [`which`]); which pole lies where is read off
//! the letters ([`marks`], [`glyph`]); and what belongs to the outlines is covered as print is ([`cover`]).

mod cover;
mod fit;
mod glyph;
mod marks;
mod paper;
mod places;
mod shape;
mod vote;
mod which;

use crate::geometry::{Point, Rect};
use crate::ink::print_removal::Covers;
use crate::ink::{self, Look, PanelInk, illumination, rulings};
use crate::rectify::flatten::{self, Flat};
use crate::rectify::page_map::PageMap;
use crate::rectify::{FoundBy, grey};
use crate::scan::GreyImage;
use crate::worksheet::{Kind, Panel, Placed, PlacedSource, Worksheet};
use marks::Poles;
use which::Found;

/// So much of the paper's rim is not looked at, mm: its edges, and what lies beyond where it curls.
const RIM_MM: f64 = 2.5;
/// A dark rim that a scanner leaves reaches no further in than this, mm.
const DARK_RIM_MM: f64 = 8.0;
/// Its inner edge is blurred over this, mm.
const RIM_BLUR_MM: f64 = 0.8;
/// And it is darker than this share of the paper.
const DARK_SHARE: f64 = 0.62;
/// Least share of a page that any drawing's ink covers: a bar's outline alone has a thousandth of A4.
const LEAST_INK_SHARE: f64 = 0.000_3;
/// On ruled paper, where a blank sheet's rulings leave traces: 280 mm of a stroke on A4.
const LEAST_INK_SHARE_RULED: f64 = 0.002;

/// Most places of thinned ink in which outlines are looked for: 50 m of strokes. Drawings have up to 8 m; noise and photographs of
/// other things have more, and the work grows with it.
const MOST_PLACES: usize = 400_000;

/// A traced page as far as it was read.
pub struct Page {
    pub page_to_scan: PageMap,
    pub found_by: FoundBy,
    /// Scan pixels a millimetre, in the page's middle.
    pub scale_px_per_mm: f64,
    /// The flat page, rulings taken off.
    pub flat: Flat,
    /// What is looked at, mm.
    pub region: Rect,
    /// Its ink, outlines and letters taken away.
    pub ink: PanelInk,
    /// Where the sources lie.
    pub placed: Placed,
    /// Whether the outlines are surely those of the sources.
    pub outlines_sure: bool,
    /// Whether the letters tell which pole lies where.
    pub poles_sure: bool,
}

impl Page {
    /// How far the drawn outlines lie off the magnets', root mean square, mm: the worst.
    pub fn residual_mm(&self) -> f64 {
        self.placed.sources.iter().map(|s| s.residual_mm).fold(0.0, f64::max)
    }
}

/// Why a traced page cannot be read.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Unfound {
    /// Neither the sheet's edges nor a scan of the paper's proportion.
    NoPaper,
    /// Next to no ink.
    Blank,
    /// No outline of the shape and size of these sources.
    NoOutline(Vec<String>),
}

impl Unfound {
    /// What is wrong.
    pub fn what(&self) -> String {
        match self {
            Self::NoPaper => "shows no whole sheet of paper".to_string(),
            Self::Blank => "is a blank page".to_string(),
            Self::NoOutline(ids) => {
                format!("shows no traced outline of the shape and size of {}", ids.join(" and "))
            }
        }
    }

    /// What to do.
    pub fn fix(&self) -> &'static str {
        match self {
            Self::NoPaper => "scan it, or photograph the whole sheet with all four edges on a darker table",
            Self::Blank => "turn the sheet over",
            Self::NoOutline(_) => {
                "trace all round the magnet in a dark pencil, check paper and size_mm in worksheet.yaml, or mark it by hand"
            }
        }
    }
}

/// Reads a traced page as far as its ink. `dpi`: what the file says of its resolution.
///
/// # Errors
/// [`Unfound`]: no sheet, nothing on it, or no such outlines.
pub fn read(scan: &GreyImage, dpi: Option<(f64, f64)>, worksheet: &Worksheet) -> Result<Page, Unfound> {
    let panel = worksheet.panels.first().ok_or(Unfound::Blank)?;
    let (w, h) = worksheet.page_mm;
    let paper = paper::find(scan, dpi, (w.min(h), w.max(h))).ok_or(Unfound::NoPaper)?;
    let page_to_scan = PageMap::flat(paper.map);
    let (w, h) = paper.page_mm;
    let region = Rect::new(RIM_MM, RIM_MM, w - RIM_MM, h - RIM_MM);
    let mut flat = flatten::flatten(scan, &page_to_scan, region);
    brighten_rim(&mut flat);
    let look = Look { bilevel: grey::is_bilevel(scan), blur_mm: 0.0, least: 0.0 };
    let contrast = illumination::contrast(&flat, 1);
    let rulings = rulings::remove(&mut flat, &contrast.levels, contrast.noise, [true; 2]);
    let covers = Covers::none(flat.width, flat.height).with(rulings.covered.as_ref());
    let ink = ink::read(&flat, &covers, look);
    let inked = ink.ink.ink_indices().len() as f64;
    let ruled = rulings.any();
    let least = if ruled { LEAST_INK_SHARE_RULED } else { LEAST_INK_SHARE };
    if inked < least * (flat.width * flat.height) as f64 {
        return Err(Unfound::Blank);
    }
    let none = || Unfound::NoOutline(panel.sources.iter().map(|s| s.id.clone()).collect());
    // All ink is so pale: it is what is left of the rulings, and no drawing. (On graph paper they make bars of any size.)
    if ruled && ink.level < rulings.traces() {
        return Err(none());
    }
    let places = places::Places::of(&ink, region);
    if places.all.len() > MOST_PLACES {
        return Err(none());
    }
    let found = which::outlines(&panel.sources, &places, region).map_err(|m| Unfound::NoOutline(m.ids))?;
    let middle = Point::new(0.5 * w, 0.5 * h);
    let step = |x: f64, y: f64| {
        page_to_scan.apply(middle).distance(page_to_scan.apply(middle + crate::geometry::Vec2::new(x, y)))
    };
    let scale_px_per_mm = (step(1.0, 0.0) * step(0.0, 1.0)).sqrt();
    let outlines_sure = found.iter().all(|f| f.sure);
    let fits: Vec<&fit::Fit> = found.iter().map(|f| &f.fit).collect();
    let mut cover = cover::outlines(&ink, &fits);
    cover::add_stubs(&mut cover, &ink);
    let pieces = marks::pieces(&ink, &cover, &found);
    let (placed, poles_sure) = placed(panel, &found, &pieces, (w, h));
    let writing = pieces.iter().filter(|p| found.iter().any(|f| marks::belongs(p, &f.shape, &f.fit)));
    cover::add_writing(&mut cover, &ink, writing.map(|p| p.cells.as_slice()));
    for (c, &ruled) in cover.cells.iter_mut().zip(&ink.print.cells) {
        *c |= ruled;
    }
    let ink = cover::apply(ink, cover);
    let found_by = paper.found_by;
    Ok(Page { page_to_scan, found_by, scale_px_per_mm, flat, region, ink, placed, outlines_sure, poles_sure })
}

/// Where the sources lie, with their poles as far as they were read, else as the worksheet has them; whether all were read.
fn placed(panel: &Panel, found: &[Found], pieces: &[marks::Piece], (w, h): (f64, f64)) -> (Placed, bool) {
    let mut all_read = true;
    let sources = panel.sources.iter().zip(found).map(|(source, found)| {
        let fit = &found.fit;
        let read = marks::poles(source, &found.shape, fit, pieces);
        let guess = which::nearer_turn(&found.shape, &fit.pose, source.north_deg);
        let mut north_limb = None;
        let (north_deg, sure) = match (&source.kind, read) {
            // Magnetised through: it looks the same from all sides.
            (Kind::DiscThrough { .. }, _) => (0.0, true),
            (Kind::Horseshoe { north_left, .. }, read) => {
                let (left, sure) = match read {
                    Poles::Read { along } => (along, true),
                    Poles::OneEnd { along } => (along, false),
                    _ => (*north_left, false),
                };
                north_limb = Some(if left { "left" } else { "right" }.to_string());
                (fit.pose.turn_deg, sure)
            }
            // Two letters tell roughly how a disc lies; how roughly is not known.
            (_, Poles::Towards(way)) => (way, false),
            (_, Poles::Read { along }) => (fit.pose.turn_deg + if along { 0.0 } else { 180.0 }, true),
            (_, Poles::OneEnd { along }) => (fit.pose.turn_deg + if along { 0.0 } else { 180.0 }, false),
            (_, Poles::Unread) => (guess, false),
        };
        all_read &= sure;
        let round = |v: f64| (v * 1e3).round() / 1e3;
        PlacedSource {
            id: source.id.clone(),
            centre_mm: [round(fit.pose.centre.x), round(fit.pose.centre.y)],
            north_deg: round((north_deg + 180.0).rem_euclid(360.0) - 180.0),
            north_limb,
            residual_mm: round(fit.residual_mm),
            outline_seen: round(fit.seen),
            poles: if sure || !matches!(read, Poles::Unread) { "read" } else { "guessed" }.to_string(),
        }
    });
    let sources = sources.collect();
    (Placed { frame_mm: [0.0, 0.0, w, h], sources }, all_read)
}

/// Makes paper of a dark rim that a scanner left at the page's edges.
fn brighten_rim(flat: &mut Flat) {
    let (w, h) = (flat.width, flat.height);
    let mut sample: Vec<u8> = flat.grey.iter().copied().step_by(97).collect();
    if sample.is_empty() {
        return;
    }
    let middle = sample.len() / 2;
    let paper = *sample.select_nth_unstable(middle).1;
    let dark = (DARK_SHARE * f64::from(paper)) as u8;
    let reach = marks::pixels(DARK_RIM_MM) as usize;
    let blur = marks::pixels(RIM_BLUR_MM) as usize;
    let was = flat.grey.clone();
    let mut clear = |places: &mut dyn Iterator<Item = usize>| {
        let places: Vec<usize> = places.take(reach).collect();
        let rim = places.iter().take_while(|&&i| was[i] < dark).count();
        // A stroke that runs off the page has no rim's width.
        let rim = if rim > blur { rim + blur } else { rim };
        places.iter().take(rim).for_each(|&i| flat.grey[i] = paper);
    };
    for y in 0..h {
        clear(&mut (0..w).map(|x| y * w + x));
        clear(&mut (0..w).rev().map(|x| y * w + x));
    }
    for x in 0..w {
        clear(&mut (0..h).map(|y| y * w + x));
        clear(&mut (0..h).rev().map(|y| y * w + x));
    }
}
