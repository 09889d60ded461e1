//! A point charge at the origin: Coulomb's law.
//!
//! E = q / (4 pi eps0) r / r³: J. D. Jackson, Classical Electrodynamics, eq. 1.3. At the origin itself, where it is
//! infinite, the answer is finite.

use super::lane::Lane;
use super::{TINY, Triple};

/// `strength` = q / (4 pi eps0), in field strength times length squared.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PointCharge {
    pub strength: f64,
}

impl PointCharge {
    pub fn b(&self, [x, y, z]: Triple) -> Triple {
        let rr = (x * x + y * y + z * z).max(TINY);
        let k = self.strength / (rr * rr.sqrt());
        [k * x, k * y, k * z]
    }

    #[inline(always)]
    pub(crate) fn b_fast<L: Lane>(&self, [x, y, z]: [L; 3]) -> [L; 3] {
        let rr = (x * x + y * y + z * z).at_least(L::of(TINY));
        let k = L::of(self.strength) / (rr * rr.sqrt());
        [k * x, k * y, k * z]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn it_falls_with_the_square() {
        let charge = PointCharge { strength: 9.0 };
        assert_eq!(charge.b([3., 0., 0.]), [1., 0., 0.]);
        assert_eq!(charge.b_fast([0., 0., -6.]), [0., 0., -0.25]);
        assert!(charge.b([0.; 3]).iter().all(|x| x.is_finite()));
    }
}
