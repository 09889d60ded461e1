//! Where the sheet's own print lies on the flat page, so that it is not taken for ink.
//!
//! The print is known exactly and the page is laid on it within a fraction of a stroke; hence it need not be
//! recognised, only covered. Ink under the cover is bridged when strokes are linked.

use super::Bitmap;
use crate::geometry::{Point, Rect};
use crate::print::layout::{Ink, Layout};
use crate::rectify::flatten::{PX_PER_MM, flat_size};
use std::sync::Arc;

/// How far beyond its true edge print is covered, mm: for a scanner's blur, and what registration leaves; for a page of
/// black and white only, whose threshold is lower and whose strokes come out wider; for a blurred photo and for faint ink,
/// which is paler than the blur beside print.
const NARROW_MM: f64 = 0.22;
const MIDDLE_MM: f64 = 0.34;
const WIDE_MM: f64 = 0.5;
/// Blur darkens the paper beside print like ink up to so many of its standard deviations, and registration leaves this, mm.
const BLURS: f64 = 1.5;
const REGISTERED_MM: f64 = 0.08;

/// What the print covers of a region, as far as it may be taken for ink, by how far beyond its edges.
#[derive(Clone, Debug)]
pub struct Covers {
    pub narrow: Arc<Bitmap>,
    pub middle: Arc<Bitmap>,
    pub wide: Arc<Bitmap>,
}

impl Covers {
    /// Of `region` (mm).
    pub fn of(layout: &Layout, region: Rect) -> Self {
        let cover = |beyond_mm| Arc::new(cover(layout, region, beyond_mm));
        Self { narrow: cover(NARROW_MM), middle: cover(MIDDLE_MM), wide: cover(WIDE_MM) }
    }

    /// Where nothing is printed.
    pub fn none(width: usize, height: usize) -> Self {
        let nothing = Arc::new(Bitmap::new(width, height));
        Self { narrow: nothing.clone(), middle: nothing.clone(), wide: nothing }
    }

    /// These and what else is covered, of the same size.
    pub fn with(&self, also: Option<&Bitmap>) -> Self {
        let Some(also) = also else { return self.clone() };
        let both = |cover: &Arc<Bitmap>| {
            let mut cover = Bitmap::clone(cover);
            cover.cells.iter_mut().zip(&also.cells).for_each(|(c, a)| *c |= a);
            Arc::new(cover)
        };
        Self { narrow: both(&self.narrow), middle: both(&self.middle), wide: both(&self.wide) }
    }

    /// The cover for a picture of this blur (standard deviation, mm on the page).
    pub fn for_blur(&self, blur_mm: f64) -> &Arc<Bitmap> {
        match BLURS * blur_mm + REGISTERED_MM {
            reach if reach <= NARROW_MM => &self.narrow,
            reach if reach <= MIDDLE_MM => &self.middle,
            _ => &self.wide,
        }
    }
}

/// The pixels of `region` (mm) that the sheet's print may have darkened, `beyond_mm` beyond its edges.
fn cover(layout: &Layout, region: Rect, beyond_mm: f64) -> Bitmap {
    let (width, height) = flat_size(region);
    let mut map = Bitmap::new(width, height);
    for shape in &layout.shapes {
        let closed = !matches!(shape.ink, Ink::Stroke { closed: false, .. });
        let reach = match shape.ink {
            Ink::Stroke { width_mm, .. } => 0.5 * width_mm + beyond_mm,
            Ink::Fill => beyond_mm,
        };
        for polygon in &shape.polygons {
            let n = polygon.len();
            for k in 0..if closed { n } else { n.saturating_sub(1) } {
                cover_segment(&mut map, region, polygon[k], polygon[(k + 1) % n], reach);
            }
        }
        if shape.ink == Ink::Fill {
            cover_inside(&mut map, region, &shape.polygons);
        }
    }
    map
}

/// The page place of a pixel's centre.
fn place(region: Rect, x: usize, y: usize) -> Point {
    Point::new(region.x0 + (x as f64 + 0.5) / PX_PER_MM, region.y0 + (y as f64 + 0.5) / PX_PER_MM)
}

/// The pixels that a box on the page may touch.
fn pixels(map: &Bitmap, region: Rect, of: Rect) -> (std::ops::Range<usize>, std::ops::Range<usize>) {
    let px = |mm: f64, origin: f64, most: usize| (((mm - origin) * PX_PER_MM).max(0.0) as usize).min(most);
    let xs = px(of.x0, region.x0, map.width)..px(of.x1 + 1.0 / PX_PER_MM, region.x0, map.width);
    let ys = px(of.y0, region.y0, map.height)..px(of.y1 + 1.0 / PX_PER_MM, region.y0, map.height);
    (xs, ys)
}

fn cover_segment(map: &mut Bitmap, region: Rect, a: Point, b: Point, reach: f64) {
    let (xs, ys) = pixels(map, region, Rect::from_points(a, b).inflate(reach, reach));
    let step = b - a;
    let norm = step.hypot2();
    for y in ys {
        for x in xs.clone() {
            let p = place(region, x, y);
            let t = if norm > 0.0 { ((p - a).dot(step) / norm).clamp(0.0, 1.0) } else { 0.0 };
            if p.distance_squared(a + t * step) <= reach * reach {
                map.set(x, y, true);
            }
        }
    }
}

fn cover_inside(map: &mut Bitmap, region: Rect, polygons: &[Vec<Point>]) {
    let all = polygons.iter().flatten();
    let Some(first) = polygons.iter().flatten().next() else { return };
    let bounds = all.fold(Rect::from_points(*first, *first), |r, p| r.union_pt(*p));
    let (xs, ys) = pixels(map, region, bounds);
    for y in ys {
        for x in xs.clone() {
            let p = place(region, x, y);
            if polygons.iter().map(|q| winding(q, p)).sum::<i32>() != 0 {
                map.set(x, y, true);
            }
        }
    }
}

/// How often a polygon runs round a place.
fn winding(polygon: &[Point], p: Point) -> i32 {
    let mut turns = 0;
    for (k, a) in polygon.iter().enumerate() {
        let b = polygon[(k + 1) % polygon.len()];
        let side = (b - *a).cross(p - *a);
        if a.y <= p.y && b.y > p.y && side > 0.0 {
            turns += 1;
        } else if a.y > p.y && b.y <= p.y && side < 0.0 {
            turns -= 1;
        }
    }
    turns
}
