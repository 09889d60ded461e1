//! A point dipole at the origin, pointing along the first axis.
//!
//! B = k (3 (m.r) r / r⁵ - m / r³): J. D. Jackson, Classical Electrodynamics, eq. 5.56. At the origin itself, where
//! it is infinite, the answer is finite.

use super::lane::Lane;
use super::{TINY, Triple};

/// `strength` = mu0/(4 pi) times the moment, in flux density times length cubed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Dipole {
    pub strength: f64,
}

impl Dipole {
    pub fn b(&self, [x, y, z]: Triple) -> Triple {
        let rr = (x * x + y * y + z * z).max(TINY);
        let r = rr.sqrt();
        let along = 3.0 * x / (rr * rr * r);
        [self.strength * (along * x - 1.0 / (rr * r)), self.strength * along * y, self.strength * along * z]
    }

    #[inline(always)]
    pub(crate) fn b_fast<L: Lane>(&self, [x, y, z]: [L; 3]) -> [L; 3] {
        let rr = (x * x + y * y + z * z).at_least(L::of(TINY));
        let k = L::of(self.strength) / (rr * rr * rr.sqrt());
        let x3 = L::of(3.0) * x;
        [k * (x3 * x - rr), k * x3 * y, k * x3 * z]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// NCERT Physics XII, example 5.12: 0.48 A m², 10 cm: 0.96 G on the axis, 0.48 G across it.
    #[test]
    fn textbook_example() {
        // 1e-7 T m/A, in millitesla and millimetres: 1e5.
        let d = Dipole { strength: 0.48 * 1e5 };
        assert!((d.b([100., 0., 0.])[0] - 0.096).abs() < 1e-12);
        assert!((d.b([0., 100., 0.])[0] + 0.048).abs() < 1e-12);
        assert!(d.b([0.; 3]).iter().all(|x| x.is_finite()));
    }
}
