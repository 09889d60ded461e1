//! One page image to what stands on it: whose page, how it lay, and the drawing in each panel.

use crate::drawing::Drawing;
use crate::geometry::Rect;
use crate::geometry::homography::Homography;
use crate::ink::{self, Bitmap, PanelInk, print_removal};
use crate::print::code::{self, Payload};
use crate::print::layout::Layout;
use crate::rectify::flatten::Flat;
use crate::rectify::{self, FoundBy, Located, NotFound, flatten};
use crate::scan::GreyImage;
use crate::vectorise;
use crate::worksheet::Worksheet;
use std::sync::Arc;

/// Round each frame this much is read as well, mm: lines that leave and come back; no print stands there.
const MARGIN_MM: f64 = 5.5;
/// Most ends and forks of thinned ink that are followed. The sheets of the samples have at most 400, those still read
/// of 500 damaged ones 1,100; noise and photographs have many thousand, and the work grows with their cube.
const MOST_JOINTS: usize = 2_500;

/// All that reading a page needs to know of its worksheet; built once a class, shared by all threads.
pub struct Reader {
    pub layout: Layout,
    key: String,
    panels: Vec<PanelArea>,
}

struct PanelArea {
    region: Rect,
    print: Arc<Bitmap>,
    /// For pages of black and white only.
    bilevel_print: Arc<Bitmap>,
}

/// A page as read.
pub struct PageReading {
    /// What the sheet's code says; `None` where it cannot be read.
    pub code: Option<Payload>,
    pub found_by: FoundBy,
    pub scale_px_per_mm: f64,
    /// What is left at the printed frames, mm; `None` where no frame was seen.
    pub residual_mm: Option<f64>,
    /// The page's mm to the scan's pixels, for cutting out pictures.
    pub page_to_scan: Homography,
    /// In the worksheet's order.
    pub panels: Vec<Drawing>,
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
                let cover = |beyond_mm| Arc::new(print_removal::cover(&layout, region, beyond_mm));
                PanelArea {
                    region,
                    print: cover(print_removal::COVER_MM),
                    bilevel_print: cover(print_removal::BILEVEL_COVER_MM),
                }
            })
            .collect();
        Self { layout, key: code::key(&worksheet.id), panels }
    }
}

/// Reads a page.
///
/// # Errors
/// [`NotFound`] where the picture shows no page of this worksheet.
pub fn read_page(scan: &GreyImage, reader: &Reader) -> Result<PageReading, NotFound> {
    let located = rectify::locate(scan, &reader.layout, &reader.key)?;
    let bilevel = rectify::grey::is_bilevel(scan);
    let panels = reader
        .panels
        .iter()
        .map(|area| read_panel(scan, &located.page_to_scan, area, bilevel).drawing)
        .collect();
    Ok(PageReading {
        code: located.code,
        found_by: located.found_by,
        scale_px_per_mm: located.scale_px_per_mm,
        residual_mm: located.residual_mm,
        page_to_scan: located.page_to_scan,
        panels,
    })
}

/// Reads a page as [`read_page`] does, and keeps what each step gave, a panel an entry.
///
/// # Errors
/// As [`read_page`].
pub fn read_in_steps(scan: &GreyImage, reader: &Reader) -> Result<(Located, Vec<PanelSteps>), NotFound> {
    let located = rectify::locate(scan, &reader.layout, &reader.key)?;
    let bilevel = rectify::grey::is_bilevel(scan);
    let panels = reader.panels.iter();
    let steps = panels.map(|area| read_panel(scan, &located.page_to_scan, area, bilevel)).collect();
    Ok((located, steps))
}

fn read_panel(scan: &GreyImage, page_to_scan: &Homography, area: &PanelArea, bilevel: bool) -> PanelSteps {
    let flat = flatten::flatten(scan, page_to_scan, area.region);
    let print = if bilevel { &area.bilevel_print } else { &area.print };
    let ink = ink::read(&flat, print, bilevel);
    let drawing = if joints(&ink.thin) > MOST_JOINTS { unreadable(&ink) } else { vectorise::vectorise(&ink) };
    PanelSteps { flat, ink, drawing, bilevel }
}

/// How many pixels of thinned ink are ends, forks or stand alone.
fn joints(thin: &Bitmap) -> usize {
    let (stride, cells) = (thin.stride(), &thin.cells);
    let is_joint = |i: &usize| {
        let beside: u8 =
            [i - stride - 1, i - 1, i + stride - 1].iter().map(|&k| cells[k..k + 3].iter().sum::<u8>()).sum();
        // The pixel itself is counted too.
        cells[*i] != 0 && beside != 3
    };
    thin.ink_indices().iter().filter(|i| is_joint(i)).count()
}

/// No line is told apart in such a tangle: all its ink is unread, and a person looks.
fn unreadable(ink: &PanelInk) -> Drawing {
    let inked = ink.ink.inner_indices().filter(|&i| ink.ink.cells[i] != 0).count();
    let unread_share = inked as f64 * ink.mm_per_px().powi(2) / ink.area_mm2();
    Drawing { unread_share, ..Drawing::default() }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ends_forks_and_single_pixels_are_joints() {
        let mut thin = Bitmap::new(20, 10);
        (2..12).for_each(|x| thin.set(x, 5, true));
        assert_eq!(joints(&thin), 2);
        thin.set(16, 2, true);
        assert_eq!(joints(&thin), 3);
        (1..5).for_each(|y| thin.set(7, y, true));
        assert!(joints(&thin) > 4);
    }
}
