//! One page image to what stands on it: whose page, how it lay, and the drawing in each panel.

use crate::drawing::Drawing;
use crate::geometry::Rect;
use crate::ink::print_removal::Covers;
use crate::ink::{self, Look, PanelInk, illumination, rulings};
use crate::print::code::{self, Payload};
use crate::print::layout::Layout;
use crate::rectify::flatten::Flat;
use crate::rectify::page_map::PageMap;
use crate::rectify::{self, FoundBy, NotFound, flatten};
use crate::scan::GreyImage;
use crate::traced::{self, Unfound};
use crate::vectorise;
use crate::worksheet::{Placed, Placement, Worksheet};

/// Round each frame this much is read as well, mm: lines that leave and come back; no print stands there.
pub const MARGIN_MM: f64 = 5.5;
/// All that reading a page needs to know of its worksheet; built once a class, shared by all threads.
pub struct Reader {
    pub layout: Layout,
    key: String,
    panels: Vec<PanelArea>,
    /// Where the students traced the magnets on plain paper: what they traced.
    traced: Option<Worksheet>,
}

struct PanelArea {
    region: Rect,
    print: Covers,
}

/// A page as read.
pub struct PageReading {
    /// What the sheet's code says; `None` where it cannot be read.
    pub code: Option<Payload>,
    pub found_by: FoundBy,
    pub scale_px_per_mm: f64,
    /// Whether the frames were found where the page should have them.
    pub registered: bool,
    /// What is left at the printed frames, mm; `None` where no frame was seen.
    pub residual_mm: Option<f64>,
    /// The page's mm to the scan's pixels, for cutting out pictures.
    pub page_to_scan: PageMap,
    /// In the worksheet's order.
    pub panels: Vec<Drawing>,
    /// Of a traced page: where its magnets lie.
    pub traced: Option<Traced>,
}

/// What is known of a traced page besides its drawing.
pub struct Traced {
    pub placed: Placed,
    /// Whether the outlines are surely the magnets'.
    pub outlines_sure: bool,
    /// Whether the letters tell which pole lies where.
    pub poles_sure: bool,
}

/// Why a page cannot be read.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Unread {
    /// No printed sheet.
    NotFound(NotFound),
    /// No traced one.
    Unfound(Unfound),
}

/// A panel from the flat page to the drawing.
pub struct PanelSteps {
    pub flat: Flat,
    pub ink: PanelInk,
    pub drawing: Drawing,
    /// Whether the scan was taken for one of black and white only.
    pub bilevel: bool,
}

impl Reader {
    /// For a checked worksheet.
    pub fn new(worksheet: &Worksheet) -> Self {
        let layout = Layout::of(worksheet);
        let panels = worksheet
            .panels
            .iter()
            .map(|p| {
                let region = p.frame.inflate(MARGIN_MM, MARGIN_MM);
                PanelArea { region, print: Covers::of(&layout, region) }
            })
            .collect();
        let traced = (worksheet.placement == Placement::Traced).then(|| worksheet.clone());
        Self { layout, key: code::key(&worksheet.id), panels, traced }
    }
}

/// Reads a page. `dpi`: what the file says of its resolution; only plain paper is found by it.
///
/// # Errors
/// [`Unread`] where the picture shows no page of this worksheet.
pub fn read_page(scan: &GreyImage, dpi: Option<(f64, f64)>, reader: &Reader) -> Result<PageReading, Unread> {
    if let Some(worksheet) = &reader.traced {
        return traced::read(scan, dpi, worksheet).map(traced_reading).map_err(Unread::Unfound);
    }
    let located = rectify::locate(scan, &reader.layout, &reader.key).map_err(Unread::NotFound)?;
    let look = Look { bilevel: rectify::grey::is_bilevel(scan), blur_mm: located.blur_mm, least: 0.0 };
    let panels = reader
        .panels
        .iter()
        .map(|area| vectorise::vectorise(read_ink(scan, &located.page_to_scan, area, look).1))
        .collect();
    Ok(PageReading {
        code: located.code,
        found_by: located.found_by,
        scale_px_per_mm: located.scale_px_per_mm,
        residual_mm: located.residual_mm,
        registered: located.registered,
        page_to_scan: located.page_to_scan,
        panels,
        traced: None,
    })
}

fn traced_reading(page: traced::Page) -> PageReading {
    PageReading {
        code: None,
        found_by: page.found_by,
        scale_px_per_mm: page.scale_px_per_mm,
        registered: true,
        residual_mm: Some(page.residual_mm()),
        page_to_scan: page.page_to_scan,
        panels: vec![vectorise::vectorise(page.ink)],
        traced: Some(Traced {
            placed: page.placed,
            outlines_sure: page.outlines_sure,
            poles_sure: page.poles_sure,
        }),
    }
}

/// A page with what each step gave.
pub struct Stepwise {
    pub page_to_scan: PageMap,
    /// Of a traced page: where its magnets lie.
    pub placed: Option<Placed>,
    pub panels: Vec<PanelSteps>,
}

/// Reads a page as [`read_page`] does, and keeps what each step gave, a panel an entry.
///
/// # Errors
/// As [`read_page`].
pub fn read_in_steps(scan: &GreyImage, dpi: Option<(f64, f64)>, reader: &Reader) -> Result<Stepwise, Unread> {
    if let Some(worksheet) = &reader.traced {
        let page = traced::read(scan, dpi, worksheet).map_err(Unread::Unfound)?;
        let drawing = vectorise::vectorise(page.ink.clone());
        let bilevel = rectify::grey::is_bilevel(scan);
        let steps = PanelSteps { flat: page.flat, ink: page.ink, drawing, bilevel };
        let (page_to_scan, placed) = (page.page_to_scan, Some(page.placed));
        return Ok(Stepwise { page_to_scan, placed, panels: vec![steps] });
    }
    let located = rectify::locate(scan, &reader.layout, &reader.key).map_err(Unread::NotFound)?;
    let look = Look { bilevel: rectify::grey::is_bilevel(scan), blur_mm: located.blur_mm, least: 0.0 };
    let panels = reader.panels.iter();
    let steps = panels
        .map(|area| {
            let (flat, ink) = read_ink(scan, &located.page_to_scan, area, look);
            PanelSteps { flat, drawing: vectorise::vectorise(ink.clone()), ink, bilevel: look.bilevel }
        })
        .collect();
    Ok(Stepwise { page_to_scan: located.page_to_scan, placed: None, panels: steps })
}

/// The flat panel and the ink on it. A worksheet may be printed on ruled or graph paper: the rulings are taken off.
fn read_ink(scan: &GreyImage, page_to_scan: &PageMap, area: &PanelArea, look: Look) -> (Flat, PanelInk) {
    let mut flat = flatten::flatten(scan, page_to_scan, area.region);
    let ways = rulings::run_beyond(&flat, (MARGIN_MM * flatten::PX_PER_MM) as usize);
    if !ways.contains(&true) {
        let ink = ink::read(&flat, &area.print, look);
        return (flat, ink);
    }
    let mut contrast = illumination::contrast(&flat, 1);
    // A ruling beside a printed line would be taken for one with it.
    contrast.levels.clear(&area.print.narrow);
    let rulings = rulings::remove(&mut flat, &contrast.levels, contrast.noise, ways);
    let look = Look { least: rulings.traces(), ..look };
    let mut ink = ink::read(&flat, &area.print.with(rulings.covered.as_ref()), look);
    ink.rulings_left = rulings.are_left(ways);
    (flat, ink)
}
