//! Page image to flat page, and whose it is: fiducials, homography, code.

pub mod blank;
pub mod code;
pub mod fiducials;
pub mod flatten;
pub mod grey;
pub mod otsu;
pub mod page_map;
pub mod printed_lines;
pub mod register;
pub mod unbend;

use crate::geometry::homography::Homography;
use crate::geometry::{Point, Vec2};
use crate::print::code::Payload;
use crate::print::layout::{DOT_MM, FIDUCIAL_MM, Layout, RING_MM};
use crate::scan::GreyImage;
use page_map::PageMap;

/// By what a page was found.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FoundBy {
    /// All four discs.
    FourDiscs,
    /// Three discs; the fourth is torn off or covered.
    ThreeDiscs,
}

/// A page found on a scan.
#[derive(Clone, Debug)]
pub struct Located {
    /// Page mm to scan pixels (whole numbers are pixel centres).
    pub page_to_scan: PageMap,
    pub found_by: FoundBy,
    /// Scan pixels a millimetre, in the page's middle.
    pub scale_px_per_mm: f64,
    /// What is left at the printed frames, root mean square, mm; `None` where no frame was seen.
    pub residual_mm: Option<f64>,
    /// What the page's code says; `None` where it cannot be read.
    pub code: Option<Payload>,
}

/// Why a picture is no page of this worksheet.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum NotFound {
    /// Its code names another worksheet.
    OtherWorksheet(Payload),
    /// No three of the printed discs were found where they belong to one another.
    NoFiducials,
    /// Nor is there anything else on it.
    Blank,
}

/// Largest residual at the frames with which a page counts as laid rightly, mm.
const MOST_RESIDUAL_MM: f64 = 1.0;

/// A scanner sees every part of a page from straight above: over the page its scale changes by less than this share. A
/// telephone held a degree askew changes it by more.
const FLAT_SLANT: f64 = 0.003;
/// A scanned page whose frames are off by no more than this lies flat, mm. (A curl seen from above may move its frames
/// far less than its middle, so that in a photo this says nothing.)
const FLAT_RESIDUAL_MM: f64 = 0.06;
/// And of whose frames so much is seen where a flat page has it.
const MOST_SEEN: f64 = 0.7;

/// Finds the worksheet's page on a scan, any way up.
///
/// # Errors
/// [`NotFound`] where there is no page, or one of another worksheet.
pub fn locate(scan: &GreyImage, layout: &Layout, worksheet_key: &str) -> Result<Located, NotFound> {
    let printed = fiducials::Printed {
        centres: layout.fiducials.map(|f| f.centre),
        radius_mm: 0.5 * FIDUCIAL_MM,
        gap_radius_mm: 0.5 * (0.5 * FIDUCIAL_MM - RING_MM + 0.5 * DOT_MM),
    };
    let mut unread: Option<Located> = None;
    for placed in fiducials::find(scan, &printed) {
        let Some(located) = lay(scan, &placed, &printed, layout) else { continue };
        match &located.code {
            Some(p) if p.worksheet == worksheet_key => return Ok(located),
            Some(p) => return Err(NotFound::OtherWorksheet(p.clone())),
            None if unread.is_none() => unread = Some(located),
            None => {}
        }
    }
    if unread.is_none() && blank::is_blank(scan) {
        return Err(NotFound::Blank);
    }
    if let Some(p) = code::anywhere(scan).filter(|p| p.worksheet != worksheet_key) {
        return Err(NotFound::OtherWorksheet(p));
    }
    match unread {
        Some(l) if l.residual_mm.is_some_and(|r| r < MOST_RESIDUAL_MM) => Ok(l),
        _ => Err(NotFound::NoFiducials),
    }
}

fn lay(
    scan: &GreyImage,
    placed: &fiducials::Placed,
    printed: &fiducials::Printed,
    layout: &Layout,
) -> Option<Located> {
    let discs: Vec<(Point, Point)> =
        printed.centres.iter().zip(&placed.centres).filter_map(|(m, c)| c.map(|c| (*m, c))).collect();
    let mut pairs = discs.clone();
    if pairs.len() == 3 {
        // A scan is affine: the fourth corner completes the parallelogram.
        let missing = placed.centres.iter().position(Option::is_none)?;
        let corner = |k: usize| placed.centres[(missing + k) % 4];
        let (a, b, c) = (corner(1)?, corner(2)?, corner(3)?);
        pairs.push((printed.centres[missing], a + (c - b)));
    }
    let rough = Homography::fit(&pairs).ok()?;
    let (page_to_scan, residual_mm) = laid(scan, rough, &discs, layout);
    let middle = Point::new(0.5 * layout.page_mm.0, 0.5 * layout.page_mm.1);
    let step = |dx: f64, dy: f64| {
        page_to_scan.apply(middle).distance(page_to_scan.apply(middle + Vec2::new(dx, dy)))
    };
    Some(Located {
        page_to_scan,
        found_by: if discs.len() == 4 { FoundBy::FourDiscs } else { FoundBy::ThreeDiscs },
        scale_px_per_mm: (step(1.0, 0.0) * step(0.0, 1.0)).sqrt(),
        residual_mm,
        code: code::read(scan, &page_to_scan, layout),
    })
}

/// The map on the printed lines: of a plane where that is good enough, as for every scan, else of a page that curls.
fn laid(
    scan: &GreyImage,
    rough: Homography,
    discs: &[(Point, Point)],
    layout: &Layout,
) -> (PageMap, Option<f64>) {
    let flat = register::register(scan, rough, discs, layout);
    let (w, h) = layout.page_mm;
    let [_, _, [x, y, one]] = flat.map.rows();
    let slant = ((x * w).abs() + (y * h).abs()) / one.abs();
    let good = slant < FLAT_SLANT
        && flat.seen_share > MOST_SEEN
        && flat.residual_mm.is_some_and(|r| r < FLAT_RESIDUAL_MM);
    let bent = if good { None } else { unbend::unbend(scan, flat.map, discs, layout) };
    match bent {
        Some((map, left)) if flat.residual_mm.is_none_or(|r| left <= r || flat.seen_share < MOST_SEEN) => {
            (map, Some(left))
        }
        _ => (PageMap::flat(flat.map), flat.residual_mm),
    }
}
