//! Page image to flat page, and whose it is: fiducials, homography, code.

pub mod blank;
pub mod code;
pub mod fiducials;
pub mod flatten;
pub mod grey;
pub mod otsu;
pub mod register;

use crate::geometry::homography::Homography;
use crate::geometry::{Point, Vec2};
use crate::print::code::Payload;
use crate::print::layout::{DOT_MM, FIDUCIAL_MM, Layout, RING_MM};
use crate::scan::GreyImage;

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
    pub page_to_scan: Homography,
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
    let (page_to_scan, residual_mm) = register::register(scan, rough, &discs, layout);
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
