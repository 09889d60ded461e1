//! The outline of a source on the paper, and how far places lie from it.

use super::{Kind, PLATE_MM, RING_MM, Source};
use crate::geometry::{Point, Rect, Vec2, polyline};
use std::f64::consts::PI;

/// How far a circle's many-sided stand-in may lie inside it, mm: a tenth of what any printer can show.
const SAGITTA_MM: f64 = 0.01;
const FEWEST_SIDES: usize = 48;
/// A circle of 300 mm across needs 390 sides.
const MOST_SIDES: usize = 4096;

/// A closed outline on the page, mm.
#[derive(Clone, Debug, PartialEq)]
pub struct Outline {
    /// The corners in order, the first not repeated; a circle's lie on it.
    pub polygon: Vec<Point>,
    /// Field lines run through it, and what is drawn inside counts: a coil.
    pub open: bool,
    bounds: Rect,
}

impl Outline {
    /// The outline through the given corners, in order.
    pub fn of(polygon: Vec<Point>) -> Self {
        let mut bounds = Rect::new(f64::INFINITY, f64::INFINITY, f64::NEG_INFINITY, f64::NEG_INFINITY);
        for p in &polygon {
            bounds.x0 = bounds.x0.min(p.x);
            bounds.y0 = bounds.y0.min(p.y);
            bounds.x1 = bounds.x1.max(p.x);
            bounds.y1 = bounds.y1.max(p.y);
        }
        Self { polygon, open: false, bounds }
    }

    /// The box round it.
    pub fn bounds(&self) -> Rect {
        self.bounds
    }

    /// Whether a place lies inside. On the very line: either.
    pub fn contains(&self, p: Point) -> bool {
        let b = &self.bounds;
        if p.x < b.x0 || p.x > b.x1 || p.y < b.y0 || p.y > b.y1 {
            return false;
        }
        // A ray to the right crosses the outline an odd number of times.
        self.sides()
            .filter(|(a, b)| {
                (a.y > p.y) != (b.y > p.y) && p.x < a.x + (p.y - a.y) / (b.y - a.y) * (b.x - a.x)
            })
            .count()
            % 2
            == 1
    }

    /// Distance of a place from the outlined area, mm: 0 inside. Of an open one: from the outline, also from inside.
    pub fn distance(&self, p: Point) -> f64 {
        if !self.open && self.contains(p) { 0.0 } else { self.boundary_distance(p) }
    }

    /// Distance of a place from the outline itself, mm, from either side.
    pub fn boundary_distance(&self, p: Point) -> f64 {
        self.sides()
            .map(|(a, b)| (p - a.lerp(b, polyline::nearest_share(p, a, b))).hypot2())
            .fold(f64::INFINITY, f64::min)
            .sqrt()
    }

    /// A distance that the outline is at least away, mm, by the box round it: cheap, 0 when within the box.
    pub fn at_least_away(&self, p: Point) -> f64 {
        let b = &self.bounds;
        let dx = (b.x0 - p.x).max(p.x - b.x1).max(0.0);
        let dy = (b.y0 - p.y).max(p.y - b.y1).max(0.0);
        dx.hypot(dy)
    }

    /// The outline's length, mm.
    pub fn length(&self) -> f64 {
        self.sides().map(|(a, b)| (b - a).hypot()).sum()
    }

    /// The sides from corner to corner, the last back to the first.
    pub fn sides(&self) -> impl Iterator<Item = (Point, Point)> + '_ {
        let n = self.polygon.len();
        (0..n).map(move |i| (self.polygon[i], self.polygon[(i + 1) % n]))
    }

    /// Twice the signed area over its size: 1 when the corners run clockwise as seen on the page, else -1.
    pub(crate) fn turning(&self) -> f64 {
        let twice: f64 = self.sides().map(|(a, b)| a.to_vec2().cross(b.to_vec2())).sum();
        if twice < 0.0 { -1.0 } else { 1.0 }
    }
}

impl Source {
    /// The outline as printed and as ends are judged by.
    pub fn outline(&self) -> Outline {
        let box_of = |length: f64, width: f64| {
            let (a, b) = (length / 2.0, width / 2.0);
            Outline::of([(-a, -b), (a, -b), (a, b), (-a, b)].map(|(u, v)| self.place(u, v)).to_vec())
        };
        match self.kind {
            Kind::Bar { length, width, .. } => box_of(length, width),
            Kind::Rod { length, diameter, .. } => box_of(length, diameter),
            Kind::Coil { length, diameter, .. } => Outline { open: true, ..box_of(length, diameter) },
            Kind::Plate { length, .. } => box_of(length, PLATE_MM),
            Kind::Disc { diameter, .. }
            | Kind::DiscThrough { diameter, .. }
            | Kind::Globe { diameter, .. } => circle(self.centre, diameter),
            Kind::Dipole { .. } | Kind::Wire { .. } | Kind::Charge { .. } => circle(self.centre, RING_MM),
            Kind::Horseshoe { width, depth, limb, .. } => {
                let (u, v, inner) = (depth / 2.0, width / 2.0, width / 2.0 - limb);
                let corners = [
                    (-u, -v),
                    (u, -v),
                    (u, -inner),
                    (-u + limb, -inner),
                    (-u + limb, inner),
                    (u, inner),
                    (u, v),
                    (-u, v),
                ];
                Outline::of(corners.map(|(u, v)| self.place(u, v)).to_vec())
            }
        }
    }
}

/// As many sides as keep the middle of each within [`SAGITTA_MM`] of the circle: r (1 - cos(pi / n)).
fn circle(centre: Point, diameter: f64) -> Outline {
    let r = diameter / 2.0;
    let sides = (PI / (1.0 - SAGITTA_MM / r).clamp(-1.0, 1.0).acos()).ceil();
    let sides =
        if sides.is_finite() { (sides as usize).clamp(FEWEST_SIDES, MOST_SIDES) } else { FEWEST_SIDES };
    let corner = |i: usize| {
        let (s, c) = (std::f64::consts::TAU * i as f64 / sides as f64).sin_cos();
        centre + r * Vec2::new(c, s)
    };
    Outline::of((0..sides).map(corner).collect())
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn source(kind: Kind, north_deg: f64) -> Source {
        Source { id: "m".into(), kind, centre: Point::new(100., 80.), north_deg }
    }

    fn horseshoe(north_deg: f64) -> Source {
        let kind = Kind::Horseshoe {
            width: 60.,
            depth: 80.,
            thickness: 10.,
            limb: 16.,
            remanence_mt: 400.,
            north_left: true,
        };
        source(kind, north_deg)
    }

    fn bar(north_deg: f64) -> Source {
        source(
            Kind::Bar { length: 50., width: 15., thickness: 10., remanence_mt: 400., pole_inset: 0.0 },
            north_deg,
        )
    }

    proptest! {
        #[test]
        fn a_bar_is_where_its_own_axes_say(deg in -360.0..360.0f64, u in -60.0..60.0f64, v in -30.0..30.0f64) {
            let s = bar(deg);
            let o = s.outline();
            let p = s.place(u, v);
            let (du, dv) = (u.abs() - 25.0, v.abs() - 7.5);
            let outside = du.max(0.0).hypot(dv.max(0.0));
            prop_assert!((o.distance(p) - outside).abs() < 1e-9);
            let edge = if du < 0.0 && dv < 0.0 { -du.max(dv) } else { outside };
            prop_assert!((o.boundary_distance(p) - edge).abs() < 1e-9);
            prop_assert_eq!(o.contains(p), du < 0.0 && dv < 0.0);
            prop_assert!(o.at_least_away(p) <= o.distance(p) + 1e-9);
        }

        #[test]
        fn a_circle_is_round_to_a_hundredth(angle in 0.0..7.0f64, r in 1.0..120.0f64) {
            let o = source(Kind::Globe { diameter: 2.0 * r, remanence_mt: 1. }, 0.).outline();
            let way = Vec2::new(angle.cos(), angle.sin());
            let c = Point::new(100., 80.);
            prop_assert!(o.contains(c + (r - 0.0101) * way) && !o.contains(c + (r + 1e-9) * way));
            prop_assert!((o.distance(c + (r + 4.0) * way) - 4.0).abs() < 0.0101);
        }
    }

    #[test]
    fn a_horseshoe_is_open_between_its_limbs() {
        for deg in [0.0, 90.0, 200.0] {
            let s = horseshoe(deg);
            let o = s.outline();
            assert!(
                o.contains(s.place(0., 22.))
                    && o.contains(s.place(0., -22.))
                    && o.contains(s.place(-35., 0.))
            );
            assert!(
                !o.contains(s.place(0., 0.))
                    && !o.contains(s.place(39., 13.))
                    && !o.contains(s.place(41., 20.))
            );
            assert!((o.distance(s.place(0., 0.)) - 14.0).abs() < 1e-9);
            assert!((o.length() - (60. + 80. * 2. + 16. * 2. + 64. * 2. + 28.)).abs() < 1e-9);
        }
    }
}
