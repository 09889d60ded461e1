//! The map from the page to a picture of it: a plane seen through a lens, and how far the paper stands out of the
//! plane.
//!
//! A pinhole camera takes a place (x, y) of a plane to `H (x, y, 1)`. A place that stands out of the plane by z looks as
//! if it lay on the plane further from the camera's foot N (the place straight below it), by 1 / (1 - z / D) where
//! D is the camera's height: so a curled page is the flat one, each place moved along the line through N, and then H.
//! Only z / D counts, not z, and the camera need not be known. (Common projective geometry: R. Hartley and
//! A. Zisserman, Multiple View Geometry, 2nd ed. 2004, section 8.1; that a sheet of paper moves along its own surface
//! as it curls, by half the square of its slope, is left out: a fifth of a millimetre at a slope of one in ten over
//! 40 mm.)

use crate::geometry::homography::Homography;
use crate::geometry::{Point, Vec2};

/// Curl along each of the page's two ways: Legendre polynomials of degree 2 to 6. What is level or tilted is the
/// plane's.
pub const BOWS: usize = 5;
/// Products of both: a page that is twisted, or curls more at one edge than at the other.
pub const TWISTS: usize = 3;
/// All numbers of a height.
pub const HEIGHTS: usize = 2 * BOWS + TWISTS;

/// How far the paper stands out of its plane, as a share of the camera's height over it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Curl {
    /// The page's size, mm.
    pub page_mm: (f64, f64),
    /// The place straight below the camera, mm.
    pub foot: Point,
    /// Bows along x, along y, then twists.
    pub heights: [f64; HEIGHTS],
}

impl Curl {
    /// The height's terms at a place, each within -1 to 1 on the page.
    fn terms(&self, p: Point) -> [f64; HEIGHTS] {
        // Beyond the page's edge a polynomial says nothing.
        let to_unit = |v: f64, size: f64| (2.0 * v / size - 1.0).clamp(-1.1, 1.1);
        let (x, y) = (to_unit(p.x, self.page_mm.0), to_unit(p.y, self.page_mm.1));
        let mut out = [0.0; HEIGHTS];
        out[..BOWS].copy_from_slice(&legendre(x));
        out[BOWS..2 * BOWS].copy_from_slice(&legendre(y));
        out[2 * BOWS..].copy_from_slice(&[x * y, x * x * y, x * y * y]);
        out
    }

    /// Where on the plane the paper's place seems to lie.
    pub fn lift(&self, p: Point) -> Point {
        let height: f64 = self.terms(p).iter().zip(&self.heights).map(|(t, h)| t * h).sum();
        self.foot + (p - self.foot) / (1.0 - height.clamp(-0.5, 0.5))
    }
}

/// Legendre polynomials of degree 2 to 6.
fn legendre(t: f64) -> [f64; BOWS] {
    let (mut before, mut last) = (1.0, t);
    std::array::from_fn(|k| {
        let n = (k + 1) as f64;
        let next = ((2.0 * n + 1.0) * t * last - n * before) / (n + 1.0);
        (before, last) = (last, next);
        next
    })
}

/// A lens that draws the picture's edges in or out: a place at distance r from the middle lands at `r (1 + k r^2)`, r in
/// half diagonals.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Lens {
    pub middle: Point,
    /// Half the picture's diagonal, pixels.
    pub reach_px: f64,
    pub k: f64,
}

impl Lens {
    fn apply(&self, p: Point) -> Point {
        let out: Vec2 = p - self.middle;
        p + self.k * out.hypot2() / (self.reach_px * self.reach_px) * out
    }
}

/// Page mm to scan pixels (whole numbers are pixel centres).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PageMap {
    pub plane: Homography,
    /// `None`: the page lies flat, or a scanner pressed it flat.
    pub bend: Option<(Curl, Lens)>,
}

impl PageMap {
    /// Of a page that lies flat.
    pub fn flat(plane: Homography) -> Self {
        Self { plane, bend: None }
    }

    /// Where a place of the page is seen.
    pub fn apply(&self, p: Point) -> Point {
        match &self.bend {
            None => self.plane.apply(p),
            Some((curl, lens)) => lens.apply(self.plane.apply(curl.lift(p))),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn legendre_polynomials_are_the_handbooks() {
        // Abramowitz and Stegun, table 8.2 forms: P2 = (3 t^2 - 1) / 2, P3 = (5 t^3 - 3 t) / 2.
        let t: f64 = 0.3;
        let p = legendre(t);
        assert!((p[0] - (3.0 * t * t - 1.0) / 2.0).abs() < 1e-15);
        assert!((p[1] - (5.0 * t * t * t - 3.0 * t) / 2.0).abs() < 1e-15);
        assert!(legendre(1.0).iter().all(|v| (v - 1.0).abs() < 1e-12));
    }

    /// A camera 400 mm over the page, 60 mm off its middle: the lifted place and the true one fall on the same pixel.
    #[test]
    fn a_place_above_the_plane_is_seen_further_from_the_foot() {
        let mut heights = [0.0; HEIGHTS];
        heights[0] = 10.0 / 400.0;
        let curl = Curl { page_mm: (297.0, 210.0), foot: Point::new(90.0, 80.0), heights };
        let edge = Point::new(297.0, 80.0);
        // P2(1) = 1: 10 mm high.
        let seen = 90.0 + (297.0 - 90.0) * 400.0 / (400.0 - 10.0);
        assert!((curl.lift(edge) - Point::new(seen, 80.0)).hypot() < 1e-9);
    }
}
