//! The outlines that are looked for: those of the worksheet's sources, as places along them in the source's own axes.

use crate::geometry::{Point, Vec2};
use crate::worksheet::{Kind, Source};

/// A place on an outline, from the source's middle, with `along` the outline and `out` of it, in axes of which the first lies
/// along `north_deg` and the second to its left, that is: y up.
#[derive(Clone, Copy, Debug)]
pub struct Rim {
    pub at: Vec2,
    pub along: Vec2,
    pub out: Vec2,
    /// The side of the outline it is on, from 0; a circle's are its quarters.
    pub side: usize,
}

/// How often a shape looks the same in one turn.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Likeness {
    /// Any turn: a disc.
    Round,
    /// Half a turn: a bar.
    Half,
    /// None but a whole one: a horseshoe.
    Whole,
}

/// An outline to be found.
#[derive(Clone, Debug, PartialEq)]
pub struct Shape {
    /// Corners, in the source's own axes, in order; empty for a circle.
    corners: Vec<Vec2>,
    /// Of a circle, mm.
    radius: f64,
    pub likeness: Likeness,
}

/// Where a shape lies on the page.
#[derive(Clone, Copy, Debug)]
pub struct Pose {
    pub centre: Point,
    /// Anticlockwise as seen.
    pub turn_deg: f64,
    /// How far the drawn outline lies outside the magnet's, mm: the pencil runs round it.
    pub beyond_mm: f64,
}

impl Pose {
    /// From the source's own axes to the page, a step.
    pub fn step(&self, v: Vec2) -> Vec2 {
        let (sin, cos) = self.turn_deg.to_radians().sin_cos();
        Vec2::new(v.x * cos - v.y * sin, -(v.x * sin + v.y * cos))
    }

    /// From the source's own axes to the page.
    pub fn place(&self, v: Vec2) -> Point {
        self.centre + self.step(v)
    }

    /// From the page to the source's own axes.
    pub fn local(&self, p: Point) -> Vec2 {
        let (sin, cos) = self.turn_deg.to_radians().sin_cos();
        let d = p - self.centre;
        Vec2::new(d.x * cos - d.y * sin, -d.x * sin - d.y * cos)
    }
}

impl Shape {
    /// Of a source that can be traced; `None` of any other.
    pub fn of(source: &Source) -> Option<Self> {
        match source.kind {
            Kind::Bar { .. } | Kind::Rod { .. } | Kind::Horseshoe { .. } => {
                let outline = source.outline();
                let corners = outline.polygon.iter().map(|&p| source.local(p)).collect();
                let whole = matches!(source.kind, Kind::Horseshoe { .. });
                let likeness = if whole { Likeness::Whole } else { Likeness::Half };
                Some(Self { corners, radius: 0.0, likeness })
            }
            Kind::Disc { diameter, .. } | Kind::DiscThrough { diameter, .. } => {
                Some(Self { corners: Vec::new(), radius: 0.5 * diameter, likeness: Likeness::Round })
            }
            _ => None,
        }
    }

    /// Whether a source has this shape.
    pub fn is_of(&self, source: &Source) -> bool {
        let close = |a: &Vec2, b: &Vec2| (*a - *b).hypot() < 1e-6;
        Shape::of(source).is_some_and(|s| {
            s.corners.len() == self.corners.len()
                && s.corners.iter().zip(&self.corners).all(|(a, b)| close(a, b))
                && (s.radius - self.radius).abs() < 1e-6
        })
    }

    /// Half the longest way across, mm.
    pub fn reach_mm(&self) -> f64 {
        self.corners.iter().map(|c| c.hypot()).fold(self.radius, f64::max)
    }

    /// The outline's length, mm.
    pub fn length_mm(&self) -> f64 {
        if self.corners.is_empty() {
            return std::f64::consts::TAU * self.radius;
        }
        let n = self.corners.len();
        (0..n).map(|k| (self.corners[(k + 1) % n] - self.corners[k]).hypot()).sum()
    }

    /// How many sides it has.
    pub fn sides(&self) -> usize {
        if self.corners.is_empty() { 4 } else { self.corners.len() }
    }

    /// Places along the outline, about `step` mm apart, in order round it.
    pub fn rim(&self, step: f64) -> Vec<Rim> {
        if self.corners.is_empty() {
            let n = (self.length_mm() / step).ceil().max(8.0) as usize;
            let place = |k: usize| {
                let share = k as f64 / n as f64;
                let out = Vec2::from_angle(share * std::f64::consts::TAU);
                Rim { at: self.radius * out, along: Vec2::new(-out.y, out.x), out, side: (4 * k / n).min(3) }
            };
            return (0..n).map(place).collect();
        }
        let n = self.corners.len();
        // Twice the area tells which way the corners run.
        let turning: f64 = (0..n).map(|k| self.corners[k].cross(self.corners[(k + 1) % n])).sum();
        let mut rim = Vec::new();
        for side in 0..n {
            let (a, b) = (self.corners[side], self.corners[(side + 1) % n]);
            let along = (b - a) / (b - a).hypot();
            let out = turning.signum() * Vec2::new(along.y, -along.x);
            let places = ((b - a).hypot() / step).round().max(1.0) as usize;
            rim.extend((0..places).map(|k| {
                let at = a + (k as f64 + 0.5) / places as f64 * (b - a);
                Rim { at, along, out, side }
            }));
        }
        rim
    }

    /// Whether a place, in the source's own axes, lies inside, `within` mm from the outline at least (below 0: or outside it).
    pub fn holds(&self, v: Vec2, within: f64) -> bool {
        if self.corners.is_empty() {
            return v.hypot() <= self.radius - within;
        }
        let n = self.corners.len();
        let mut inside = false;
        let mut nearest = f64::INFINITY;
        for k in 0..n {
            let (a, b) = (self.corners[k], self.corners[(k + 1) % n]);
            if (a.y > v.y) != (b.y > v.y) && v.x < a.x + (v.y - a.y) / (b.y - a.y) * (b.x - a.x) {
                inside = !inside;
            }
            let share = ((v - a).dot(b - a) / (b - a).hypot2()).clamp(0.0, 1.0);
            nearest = nearest.min((v - a - share * (b - a)).hypot());
        }
        let depth = if inside { nearest } else { -nearest };
        depth >= within
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn source(kind: Kind) -> Source {
        Source { id: "m".into(), kind, centre: Point::new(100.0, 80.0), north_deg: 37.0 }
    }

    #[test]
    fn a_rim_lies_on_the_outline_and_faces_out_of_it() {
        let bar = Kind::Bar { length: 50., width: 15., thickness: 10., remanence_mt: 400., pole_inset: 0.0 };
        let shoe = Kind::Horseshoe {
            width: 60.,
            depth: 80.,
            thickness: 10.,
            limb: 16.,
            remanence_mt: 400.,
            north_left: true,
        };
        let disc = Kind::Disc { diameter: 30., thickness: 5., remanence_mt: 400. };
        for kind in [bar, shoe, disc] {
            let source = source(kind);
            let shape = Shape::of(&source).unwrap();
            let pose = Pose { centre: source.centre, turn_deg: source.north_deg, beyond_mm: 0.0 };
            let outline = source.outline();
            assert!(shape.is_of(&source));
            assert!((shape.length_mm() - outline.length()).abs() < 0.1);
            for rim in shape.rim(1.0) {
                let p = pose.place(rim.at);
                assert!(outline.boundary_distance(p) < 0.02);
                assert!((pose.local(p) - rim.at).hypot() < 1e-9);
                assert!(!outline.contains(p + 0.5 * pose.step(rim.out)));
                assert!(outline.contains(p - 0.5 * pose.step(rim.out)));
                assert!(
                    shape.holds(rim.at - 0.5 * rim.out, 0.4) && !shape.holds(rim.at + 0.5 * rim.out, 0.0)
                );
            }
        }
    }
}
