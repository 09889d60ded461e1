//! A panel's sources as bodies of [`crate::field`], and the field in the plane of the paper.
//!
//! The page's y points down and its z to the reader: a left-handed triple. Here, and only here, it is turned into the
//! right-handed axes of `field` and back.

use super::outline::Outline;
use super::{Kind, Panel, Source};
use crate::field::{
    Body, COULOMB, ChargedRectangle, Cuboid, CylinderAxial, CylinderDiametral, Dipole, Field, MU0,
    PointCharge, Shape, Sphere, Triple, Wire, neutral,
};
use crate::geometry::{Point, Rect, Vec2};
use std::f64::consts::PI;
use std::sync::OnceLock;

/// Neutral points count from this far inside the frame, mm (contract).
pub const NEUTRAL_INSIDE_MM: f64 = 5.0;
/// A place nearer than this to a magnet is no neutral point, mm (contract's scorer).
const NEUTRAL_OFF_SOURCE_MM: f64 = 1.0;
/// Flux density below which there is no direction, mT: a billionth of the Earth's.
const NO_FIELD_MT: f64 = 1e-12;

/// 1/(4 pi eps0) for charges in nanocoulombs (1e-9), lengths in millimetres (1e6) and field strength in kV/m (1e-3).
const COULOMB_MM2: f64 = COULOMB * 1e-6;

/// The field of one panel in the plane of its paper: page millimetres in, millitesla along the page's axes out.
#[derive(Debug)]
pub struct PanelField {
    field: Field,
    plane_mm: f64,
    frame: Rect,
    outlines: Vec<Outline>,
    neutral: OnceLock<Neutral>,
}

/// Neutral points: those that count, and those that stop a line.
#[derive(Debug)]
struct Neutral {
    counted: Vec<Point>,
    all: Vec<Point>,
}

impl Panel {
    /// The panel's field, ready to be asked.
    pub fn field(&self) -> PanelField {
        let mut background = [0.0; 3];
        if let Some(earth) = &self.earth {
            let (s, c) = earth.north_deg.to_radians().sin_cos();
            // Microtesla to millitesla.
            background = [c, s, 0.0].map(|x| x * earth.horizontal_ut * 1e-3);
        }
        PanelField {
            field: Field { bodies: self.sources.iter().flat_map(bodies).collect(), background },
            plane_mm: self.plane_mm,
            frame: self.frame,
            outlines: self.sources.iter().map(Source::outline).collect(),
            neutral: OnceLock::new(),
        }
    }
}

/// The bodies that a source stands for, in right-handed axes: (x, -y, z) of the page.
fn bodies(source: &Source) -> Vec<Body> {
    let at = |p: Point| [p.x, -p.y, 0.0];
    let centre = at(source.centre);
    let deg = source.north_deg;
    let one = |shape| vec![Body::turned(shape, centre, deg)];
    match source.kind {
        // Poles inside the ends: magnetised from pole to pole only.
        Kind::Bar { length, width, thickness, remanence_mt, pole_inset } => {
            let size = [length * (1.0 - 2.0 * pole_inset), width, thickness];
            one(Shape::Cuboid(Cuboid { size, polarisation: remanence_mt }))
        }
        Kind::Rod { length, diameter, remanence_mt, pole_inset } => {
            let length = length * (1.0 - 2.0 * pole_inset);
            let rod = CylinderAxial { diameter, length, polarisation: remanence_mt };
            vec![Body::lying(Shape::CylinderAxial(rod), centre, deg)]
        }
        Kind::Disc { diameter, thickness, remanence_mt } => {
            let disc = CylinderDiametral { diameter, length: thickness, polarisation: remanence_mt };
            one(Shape::CylinderDiametral(disc))
        }
        Kind::DiscThrough { diameter, thickness, remanence_mt, up } => {
            let polarisation = if up { remanence_mt } else { -remanence_mt };
            one(Shape::CylinderAxial(CylinderAxial { diameter, length: thickness, polarisation }))
        }
        Kind::Horseshoe { width, depth, thickness, limb, remanence_mt, north_left } => {
            // Mitred corners: only the two open end faces carry pole strength (docs/field.md).
            let across = (width - limb) / 2.0;
            let left = if north_left { remanence_mt } else { -remanence_mt };
            [(across, left), (-across, -left)]
                .map(|(v, charge)| {
                    let face = ChargedRectangle { width: limb, height: thickness, charge };
                    Body::turned(Shape::ChargedRectangle(face), at(source.place(depth / 2.0, v)), deg)
                })
                .to_vec()
        }
        Kind::Globe { diameter, remanence_mt } => {
            one(Shape::Sphere(Sphere { diameter, polarisation: remanence_mt }))
        }
        Kind::Dipole { moment_am2 } => {
            // mu0/(4 pi) m / r³ with r in millimetres (1e9) and the answer in millitesla (1e3).
            one(Shape::Dipole(Dipole { strength: MU0 / (4.0 * PI) * 1e12 * moment_am2 }))
        }
        Kind::Wire { current_a, out } => {
            // mu0/(2 pi) I / r with r in millimetres (1e3) and the answer in millitesla (1e3).
            let strength = MU0 / (2.0 * PI) * 1e6 * current_a;
            one(Shape::Wire(Wire { strength: if out { strength } else { -strength } }))
        }
        Kind::Coil { length, diameter, turns, current_a } => {
            // A current sheet has the flux density, inside too, of a rod of polarisation mu0 N I / L; the length in
            // millimetres (1e3), the answer in millitesla (1e3).
            let polarisation = MU0 * 1e6 * turns * current_a / length;
            let sheet = CylinderAxial { diameter, length, polarisation };
            vec![Body::lying(Shape::CylinderAxial(sheet), centre, deg)]
        }
        Kind::Charge { charge_nc } => {
            one(Shape::PointCharge(PointCharge { strength: COULOMB_MM2 * charge_nc }))
        }
        Kind::Plate { length, depth, charge_nc } => {
            // The face's normal lies in the page, at right angles to the length.
            let charge = 4.0 * PI * COULOMB_MM2 * charge_nc / (length * depth);
            let face = ChargedRectangle { width: length, height: depth, charge };
            vec![Body::turned(Shape::ChargedRectangle(face), centre, deg - 90.0)]
        }
    }
}

impl PanelField {
    /// Flux density, mT along the page's axes: by > 0 points down the page, bz > 0 to the reader.
    pub fn b(&self, p: Point) -> [f64; 3] {
        let [x, y, z] = self.field.b(self.place(p));
        [x, -y, z]
    }

    /// [`PanelField::b`] at many places, several at once: the same bits.
    pub fn b_many(&self, places: &[Point]) -> Vec<[f64; 3]> {
        let places: Vec<Triple> = places.iter().map(|p| self.place(*p)).collect();
        let mut out = vec![[0.0; 3]; places.len()];
        self.field.b_many(&places, &mut out);
        for b in &mut out {
            b[1] = -b[1];
        }
        out
    }

    /// The way the field points in the paper's plane, as a unit step; zero where it has none.
    pub fn direction(&self, p: Point) -> Vec2 {
        unit(self.b(p))
    }

    /// [`PanelField::direction`] at many places, several at once: the same bits.
    pub fn direction_many(&self, places: &[Point]) -> Vec<Vec2> {
        self.b_many(places).into_iter().map(unit).collect()
    }

    /// The field of the bodies, in its own axes: (x, -y, z) of the page.
    pub fn bodies(&self) -> &Field {
        &self.field
    }

    /// The frame, mm.
    pub fn frame(&self) -> Rect {
        self.frame
    }

    /// The sources' outlines, in the order of [`Panel::sources`].
    pub fn outlines(&self) -> &[Outline] {
        &self.outlines
    }

    /// Places at least [`NEUTRAL_INSIDE_MM`] inside the frame and outside the sources where the field in the
    /// paper's plane vanishes, from top to bottom. Found at the first call, then remembered.
    pub fn neutral_points(&self) -> &[Point] {
        &self.neutral().counted
    }

    /// All places where the field in the paper's plane vanishes, in the frame and off the sources, from top to bottom: each
    /// stops a line.
    pub fn all_neutral_points(&self) -> &[Point] {
        &self.neutral().all
    }

    fn neutral(&self) -> &Neutral {
        self.neutral.get_or_init(|| {
            let in_plane =
                |places: &[Point]| self.b_many(places).into_iter().map(|b| Vec2::new(b[0], b[1])).collect();
            let off_sources = |p: Point| {
                self.outlines.iter().all(|o| {
                    o.at_least_away(p) > NEUTRAL_OFF_SOURCE_MM || o.distance(p) > NEUTRAL_OFF_SOURCE_MM
                })
            };
            let all = neutral::find(in_plane, self.frame, off_sources);
            let within = self.frame.inset(-NEUTRAL_INSIDE_MM);
            Neutral { counted: all.iter().copied().filter(|p| within.contains(*p)).collect(), all }
        })
    }

    /// The vector potential of its straight wires and of its background, mT mm: see [`Field::flat_potential`].
    pub(super) fn flat_potential(&self, p: Point) -> f64 {
        self.field.flat_potential(self.place(p))
    }

    fn place(&self, p: Point) -> Triple {
        [p.x, -p.y, self.plane_mm]
    }
}

fn unit(b: [f64; 3]) -> Vec2 {
    let v = Vec2::new(b[0], b[1]);
    let n = v.hypot();
    if n > NO_FIELD_MT { v / n } else { Vec2::ZERO }
}

#[cfg(test)]
mod tests {
    use super::super::Earth;
    use super::*;

    fn bar(id: &str, x: f64, north_deg: f64) -> Source {
        let kind = Kind::Bar { length: 50., width: 15., thickness: 10., remanence_mt: 400., pole_inset: 0.0 };
        Source { id: id.into(), kind, centre: Point::new(x, 115.), north_deg }
    }

    fn panel(sources: Vec<Source>) -> Panel {
        Panel {
            id: "A".into(),
            prompt: String::new(),
            frame: Rect::new(20., 45., 277., 185.),
            plane_mm: 0.0,
            sources,
            earth: None,
        }
    }

    #[test]
    fn axes_are_the_pages() {
        let field = panel(vec![bar("m", 148.5, 90.)]).field();
        // N end up: above it the field points up the page, beside it down.
        assert!(field.b(Point::new(148.5, 80.))[1] < 0.0 && field.b(Point::new(170., 115.))[1] > 0.0);
        assert!((field.direction(Point::new(148.5, 60.)) - Vec2::new(0., -1.)).hypot() < 1e-9);
        let earth = Panel { earth: Some(Earth { horizontal_ut: 18., north_deg: 90. }), ..panel(vec![]) };
        let b = earth.field().b(Point::new(50., 60.));
        assert!(b[0].abs() < 1e-15 && (b[1] + 0.018).abs() < 1e-15, "{b:?}");
        assert_eq!(panel(vec![]).field().direction(Point::ZERO), Vec2::ZERO);
    }

    #[test]
    fn many_places_give_the_same_bits_as_one() {
        let field = panel(vec![bar("a", 95., 10.), bar("b", 202., 200.)]).field();
        let places: Vec<Point> =
            (0..777).map(|i| Point::new(20. + (i % 31) as f64 * 8., 45. + i as f64 * 0.18)).collect();
        let (b, d) = (field.b_many(&places), field.direction_many(&places));
        for (i, p) in places.iter().enumerate() {
            assert_eq!((b[i], d[i]), (field.b(*p), field.direction(*p)));
        }
    }
}
