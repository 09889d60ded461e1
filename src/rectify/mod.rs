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
    /// The four edges of plain paper.
    PaperEdges,
    /// Nothing: the picture is a scan of the paper.
    WholeScan,
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
    /// Whether the frames were found where that puts them, nearly all and nearly exactly. Else the page may lie otherwise, and
    /// what is read off it may be another place.
    pub registered: bool,
    /// Standard deviation of the picture's blur, mm on the page; 0 for a page that lay flat on a scanner, whose blur is small
    /// and always the same.
    pub blur_mm: f64,
    /// What the page's code says; `None` where it cannot be read.
    pub code: Option<Payload>,
}

/// Why a picture is no page of this worksheet.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum NotFound {
    /// Its code names another worksheet.
    OtherWorksheet(Payload),
    /// Another sheet lies beside it: which one is meant, and what hides what?
    Several,
    /// No three of the printed discs were found where they belong to one another.
    NoFiducials,
    /// Nor is there anything else on it.
    Blank,
}

/// Largest residual at the frames with which something without a readable code counts as a page, mm.
const MOST_RESIDUAL_MM: f64 = 1.0;

/// A page whose frames are off by no more than this, curled or not, is where it was found, mm: 354 scans and photos that were laid
/// rightly had 0.045 at most, the least of those laid wrongly 0.12. Else other ways to lay it are tried as well.
const SURE_RESIDUAL_MM: f64 = 0.08;
/// A scanner sees every part of a page from straight above: over the page its scale changes by less than this share. A
/// telephone held a degree askew changes it by more.
const FLAT_SLANT: f64 = 0.003;
/// A scanned page whose frames are off by no more than this lies flat, mm. (A curl seen from above may move its frames
/// far less than its middle, so that in a photo this says nothing.)
const FLAT_RESIDUAL_MM: f64 = 0.06;
/// And of whose frames so much is seen where a flat page has it.
const MOST_SEEN: f64 = 0.7;

/// And at least this of each side of them: with one disc mistaken for another mark three sides may still be where they should.
const LEAST_SIDE_SEEN: f64 = 0.25;

/// Of a page whose code cannot be read, so much of the frames must be seen where the map has them: else it is a page only by
/// accident.
const LEAST_SEEN: f64 = 0.5;

/// A page that takes up more of the picture leaves no room for another.
const ALONE_SHARE: f64 = 0.6;

/// Finds the worksheet's page on a scan, any way up.
///
/// # Errors
/// [`NotFound`] where there is no page, one of another worksheet, or more than one.
pub fn locate(scan: &GreyImage, layout: &Layout, worksheet_key: &str) -> Result<Located, NotFound> {
    let printed = fiducials::Printed {
        centres: layout.fiducials.map(|f| f.centre),
        radius_mm: 0.5 * FIDUCIAL_MM,
        gap_radius_mm: 0.5 * (0.5 * FIDUCIAL_MM - RING_MM + 0.5 * DOT_MM),
    };
    let mut best: Option<(Located, f64)> = None;
    let square = std::iter::once_with(|| fiducials::find(scan, &printed));
    // Looked for only where no page that has a code and lies as it should was found.
    let slanted = std::iter::once_with(|| fiducials::find_slanted(scan, &printed));
    for placed in square.chain(slanted).flatten() {
        let Some(next) = lay(scan, &placed, &printed, layout) else { continue };
        if let Some(other) = next.0.code.as_ref().filter(|p| p.worksheet != worksheet_key) {
            return Err(NotFound::OtherWorksheet(other.clone()));
        }
        if next.0.registered && next.0.code.is_some() {
            return alone(scan, next.0, &printed, layout);
        }
        if best.as_ref().is_none_or(|b| is_better(&next, b)) {
            best = Some(next);
        }
    }
    // Whose it is can be read, but perhaps not where it lies: a person looks.
    let unread = match best {
        Some((located, _)) if located.code.is_some() => return alone(scan, located, &printed, layout),
        Some(laid) => lies_well(&laid).then_some(laid.0),
        None => None,
    };
    if unread.is_none() && blank::is_blank(scan) {
        return Err(NotFound::Blank);
    }
    if let Some(p) = code::anywhere(scan).filter(|p| p.worksheet != worksheet_key) {
        return Err(NotFound::OtherWorksheet(p));
    }
    unread.ok_or(NotFound::NoFiducials).and_then(|located| alone(scan, located, &printed, layout))
}

/// The page, unless another lies beside it.
fn alone(
    scan: &GreyImage,
    located: Located,
    printed: &fiducials::Printed,
    layout: &Layout,
) -> Result<Located, NotFound> {
    let (w, h) = layout.page_mm;
    let corners =
        [(0.0, 0.0), (w, 0.0), (w, h), (0.0, h)].map(|(x, y)| located.page_to_scan.apply(Point::new(x, y)));
    let sides = || (0..4).map(|k| (corners[k], corners[(k + 1) % 4]));
    let area = 0.5 * sides().map(|(a, b)| a.to_vec2().cross(b.to_vec2())).sum::<f64>();
    if area.abs() > ALONE_SHARE * (scan.width * scan.height) as f64 {
        return Ok(located);
    }
    let outside = |p: Point| sides().any(|(a, b)| (b - a).cross(p - a) * area < 0.0);
    let mut others = fiducials::find_where(scan, printed, outside).into_iter();
    // Not `lies_well`: the grain of a desk, to which a page that curls is fitted, agreed with 0.57 of the frames.
    let is_sheet = |(page, _): (Located, f64)| page.code.is_some() || page.registered;
    let other = others.any(|placed| lay(scan, &placed, printed, layout).is_some_and(is_sheet));
    if other { Err(NotFound::Several) } else { Ok(located) }
}

/// Whether the frames speak for a page where it was laid, at least in part.
fn lies_well((located, seen_share): &(Located, f64)) -> bool {
    *seen_share > LEAST_SEEN && located.residual_mm.is_some_and(|r| r < MOST_RESIDUAL_MM)
}

/// A code before none, a page that lies well before one that does not, the one whose frames are off least.
fn is_better(a: &(Located, f64), b: &(Located, f64)) -> bool {
    let order = |f: &(Located, f64)| (f.0.code.is_none(), !lies_well(f));
    let off = |(l, seen): &(Located, f64)| l.residual_mm.unwrap_or(f64::MAX) / seen.max(1e-3);
    order(a).cmp(&order(b)).then(off(a).total_cmp(&off(b))).is_lt()
}

/// Lays the page on the discs; gives the share of its frames that is seen where it then has them as well.
fn lay(
    scan: &GreyImage,
    placed: &fiducials::Placed,
    printed: &fiducials::Printed,
    layout: &Layout,
) -> Option<(Located, f64)> {
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
    let Laid { map, residual_mm, seen_share, blur_mm } = laid(scan, rough, &discs, layout);
    let middle = Point::new(0.5 * layout.page_mm.0, 0.5 * layout.page_mm.1);
    let step = |dx: f64, dy: f64| map.apply(middle).distance(map.apply(middle + Vec2::new(dx, dy)));
    let registered = seen_share > MOST_SEEN
        && residual_mm.is_some_and(|r| r < SURE_RESIDUAL_MM)
        && register::least_side_seen(scan, &map, layout) > LEAST_SIDE_SEEN;
    let located = Located {
        page_to_scan: map,
        registered,
        found_by: if discs.len() == 4 { FoundBy::FourDiscs } else { FoundBy::ThreeDiscs },
        scale_px_per_mm: (step(1.0, 0.0) * step(0.0, 1.0)).sqrt(),
        residual_mm,
        blur_mm,
        code: code::read(scan, &map, layout),
    };
    Some((located, seen_share))
}

/// How a page lies on a scan.
struct Laid {
    map: PageMap,
    /// What is left at the frames, mm; `None` where no frame was seen.
    residual_mm: Option<f64>,
    /// Share of the places along the frames at which they are seen.
    seen_share: f64,
    blur_mm: f64,
}

/// The map on the printed lines: of a plane where that is good enough, as for every scan, else of a page that curls.
fn laid(scan: &GreyImage, rough: Homography, discs: &[(Point, Point)], layout: &Layout) -> Laid {
    let flat = register::register(scan, rough, discs, layout);
    let (w, h) = layout.page_mm;
    let [_, _, [x, y, one]] = flat.map.rows();
    let slant = ((x * w).abs() + (y * h).abs()) / one.abs();
    let good = slant < FLAT_SLANT
        && flat.seen_share > MOST_SEEN
        && flat.residual_mm.is_some_and(|r| r < FLAT_RESIDUAL_MM);
    let bent = if good { None } else { unbend::unbend(scan, flat.map, discs, layout) };
    match bent {
        Some(bent)
            if flat.residual_mm.is_none_or(|r| bent.residual_mm <= r || flat.seen_share < MOST_SEEN) =>
        {
            Laid {
                map: bent.map,
                residual_mm: Some(bent.residual_mm),
                seen_share: bent.seen_share,
                blur_mm: bent.blur_mm,
            }
        }
        _ => Laid {
            map: PageMap::flat(flat.map),
            residual_mm: flat.residual_mm,
            seen_share: flat.seen_share,
            blur_mm: bent.map_or(0.0, |b| b.blur_mm),
        },
    }
}
