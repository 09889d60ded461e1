//! Flux density, field lines and neutral points of uniformly magnetised bodies and currents, in closed form; the
//! electric field of charges by the same means.
//!
//! Pure physics, f64 in and out: right-handed axes, lengths in any one unit (millimetres here), flux density
//! in the unit of the bodies' polarisation (millitesla here). No grid, no worksheet, no page.
//!
//! A shape a file, each with the same two functions about its own centre and axes:
//! `b`, the plain form as the papers print it, and `b_fast`, without branches and with few
//! logarithms and arctangents, which works on several places side by side ([`lane`], [`many`]).
//!
//! | shape | file | polarised |
//! |---|---|---|
//! | cuboid | [`cuboid`] | along its first axis |
//! | rectangle with a surface charge | [`charged_rectangle`] | - |
//! | cylinder along its axis, across it | [`cylinder_axial`], [`cylinder_diametral`] | along z, along x |
//! | sphere | [`sphere`] | along its first axis |
//! | dipole | [`dipole`] | along its first axis |
//! | straight wire | [`wire`] | current along its third axis |
//! | point charge | [`point_charge`] | - |
//!
//! A close-wound coil is a current sheet, and that is what [`cylinder_axial`] computes; a charged plate is a rectangle
//! with a surface charge.
//!
//! A uniform background is [`Field::background`]; the Earth's at a place and time is in [`wmm`]. On an edge, where the field of uniform magnetisation is
//! infinite, the answer is finite and large; on a face it is that of one of the two sides.

pub mod charged_rectangle;
pub mod cuboid;
pub mod cylinder_axial;
pub mod cylinder_diametral;
pub mod dipole;
pub mod elementary;
pub mod elliptic;
pub mod lane;
pub mod lines;
pub mod many;
pub mod neutral;
pub mod point_charge;
pub mod sphere;
#[cfg(target_arch = "x86_64")]
mod wide;
pub mod wire;
pub mod wmm;
mod wmm_2025;

pub use charged_rectangle::ChargedRectangle;
pub use cuboid::Cuboid;
pub use cylinder_axial::CylinderAxial;
pub use cylinder_diametral::CylinderDiametral;
pub use dipole::Dipole;
pub use point_charge::PointCharge;
pub use sphere::Sphere;
pub use wire::Wire;

use lane::Lane;

/// A place, a step or a flux density: three components along right-handed axes.
pub type Triple = [f64; 3];

/// Magnetic constant, T m/A (CODATA 2022). The older 4 pi 1e-7 is larger by 1.3e-10 of it.
pub const MU0: f64 = 1.256_637_061_27e-6;

/// 1/(4 pi eps0), N m²/C² (CODATA 2022).
pub const COULOMB: f64 = 8.987_551_786_2e9;

/// Squares of lengths, and lengths, are held above this in denominators: far below any printed size, far
/// above the point where f64 loses digits.
pub(crate) const TINY: f64 = 1e-30;

/// A body's form, about its own centre and axes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Shape {
    Cuboid(Cuboid),
    ChargedRectangle(ChargedRectangle),
    CylinderAxial(CylinderAxial),
    CylinderDiametral(CylinderDiametral),
    Sphere(Sphere),
    Dipole(Dipole),
    Wire(Wire),
    PointCharge(PointCharge),
}

/// A shape at its place, turned.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Body {
    pub shape: Shape,
    pub centre: Triple,
    /// The shape's three axes as unit vectors of the field's axes.
    pub axes: [Triple; 3],
}

impl Body {
    /// A body whose first axis points `deg` anticlockwise from the field's first, about the third.
    pub fn turned(shape: Shape, centre: Triple, deg: f64) -> Self {
        let (s, c) = deg.to_radians().sin_cos();
        Self { shape, centre, axes: [[c, s, 0.], [-s, c, 0.], [0., 0., 1.]] }
    }

    /// A body whose third axis lies in the field's first two, `deg` anticlockwise from the first: a rod
    /// lying on a table.
    pub fn lying(shape: Shape, centre: Triple, deg: f64) -> Self {
        let (s, c) = deg.to_radians().sin_cos();
        Self { shape, centre, axes: [[-s, c, 0.], [0., 0., 1.], [c, s, 0.]] }
    }

    // In these two no closures: one that is not inlined would be compiled without the wide registers.

    /// A place of the field in the body's own axes.
    #[inline(always)]
    pub(crate) fn inwards<L: Lane>(&self, p: [L; 3]) -> [L; 3] {
        let ([a, b, c], at) = (self.axes, self.centre);
        let (x, y, z) = (p[0] - L::of(at[0]), p[1] - L::of(at[1]), p[2] - L::of(at[2]));
        [
            L::of(a[0]) * x + L::of(a[1]) * y + L::of(a[2]) * z,
            L::of(b[0]) * x + L::of(b[1]) * y + L::of(b[2]) * z,
            L::of(c[0]) * x + L::of(c[1]) * y + L::of(c[2]) * z,
        ]
    }

    /// A flux density in the body's own axes, in the field's.
    #[inline(always)]
    pub(crate) fn outwards<L: Lane>(&self, [x, y, z]: [L; 3]) -> [L; 3] {
        let [a, b, c] = self.axes;
        [
            L::of(a[0]) * x + L::of(b[0]) * y + L::of(c[0]) * z,
            L::of(a[1]) * x + L::of(b[1]) * y + L::of(c[1]) * z,
            L::of(a[2]) * x + L::of(b[2]) * y + L::of(c[2]) * z,
        ]
    }

    fn b_plain(&self, p: Triple) -> Triple {
        let q = self.inwards(p);
        self.outwards(match &self.shape {
            Shape::Cuboid(s) => s.b(q),
            Shape::ChargedRectangle(s) => s.b(q),
            Shape::CylinderAxial(s) => s.b(q),
            Shape::CylinderDiametral(s) => s.b(q),
            Shape::Sphere(s) => s.b(q),
            Shape::Dipole(s) => s.b(q),
            Shape::Wire(s) => s.b(q),
            Shape::PointCharge(s) => s.b(q),
        })
    }
}

/// Bodies in a uniform background: what a panel's field is made of.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Field {
    pub bodies: Vec<Body>,
    /// Uniform flux density on top of the bodies'.
    pub background: Triple,
}

impl Field {
    /// Flux density at a place, by the forms as the papers print them. The slow twin of [`Field::b`].
    pub fn b_plain(&self, p: Triple) -> Triple {
        self.bodies.iter().fold(self.background, |sum, body| add(sum, body.b_plain(p)))
    }

    /// Flux density at a place: the fast form, bit for bit what [`Field::b_many`] gives for it.
    pub fn b(&self, p: Triple) -> Triple {
        many::one(self, p)
    }

    /// The third component of the vector potential of its straight wires along the third axis and of its background, up to a
    /// constant. Where the field has no other body its lines are where this is constant, and the flux between two lines,
    /// for each unit of depth, is their difference.
    pub fn flat_potential(&self, p: Triple) -> f64 {
        let mut sum = self.background[0] * p[1] - self.background[1] * p[0];
        for body in &self.bodies {
            if let Shape::Wire(wire) = &body.shape {
                sum += wire.potential(body.inwards(p));
            }
        }
        sum
    }

    /// Flux density at many places, several at once. Each answer depends on its own place alone.
    ///
    /// # Panics
    /// If the two slices differ in length.
    pub fn b_many(&self, places: &[Triple], out: &mut [Triple]) {
        many::many(self, places, out);
    }
}

pub(crate) fn add(a: Triple, b: Triple) -> Triple {
    [a[0] + b[0], a[1] + b[1], a[2] + b[2]]
}
