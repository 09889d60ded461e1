//! A sphere magnetised evenly along its first axis, centre at the origin.
//!
//! Outside exactly the dipole of its whole moment, inside 2/3 of the polarisation everywhere:
//! J. D. Jackson, Classical Electrodynamics, sect. 5.10.

use super::lane::Lane;
use super::{Dipole, Triple};

#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sphere {
    pub diameter: f64,
    pub polarisation: f64,
}

impl Sphere {
    #[inline(always)]
    fn dipole(&self) -> Dipole {
        // J V / (4 pi), V = pi d³ / 6.
        Dipole { strength: self.polarisation * (self.diameter * self.diameter * self.diameter) / 24.0 }
    }

    pub fn b(&self, p: Triple) -> Triple {
        let [x, y, z] = p;
        let inside = x * x + y * y + z * z < 0.25 * self.diameter * self.diameter;
        if inside { [self.polarisation * (2.0 / 3.0), 0.0, 0.0] } else { self.dipole().b(p) }
    }

    #[inline(always)]
    pub(crate) fn b_fast<L: Lane>(&self, p: [L; 3]) -> [L; 3] {
        let [x, y, z] = p;
        let out = self.dipole().b_fast(p);
        let inside = (x * x + y * y + z * z).below(L::of(0.25 * self.diameter * self.diameter));
        let (core, zero) = (L::of(self.polarisation * (2.0 / 3.0)), L::of(0.0));
        [L::choose(inside, core, out[0]), L::choose(inside, zero, out[1]), L::choose(inside, zero, out[2])]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn two_thirds_at_the_poles_a_third_on_the_equator() {
        let s = Sphere { diameter: 60., polarisation: 0.09 };
        assert!((s.b([30.0 + 1e-9, 0., 0.])[0] - 0.06).abs() < 1e-9);
        assert!((s.b([0., 30.0 + 1e-9, 0.])[0] + 0.03).abs() < 1e-9);
        assert_eq!(s.b([1., 2., 3.]), [0.06, 0., 0.]);
    }
}
