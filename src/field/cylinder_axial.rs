//! A cylinder magnetised evenly along its axis (the third axis), centre at the origin.
//!
//! N. Derby and S. Olbert, Cylindrical magnets and ideal solenoids, Am. J. Phys. 78 (2010) 229: the field of
//! the equal current sheet, so it is flux density inside as well as outside. On the end rims the answer is finite.

use super::elliptic::{Fixed, Integral, Tested};
use super::lane::Lane;
use super::{TINY, Triple};
use std::f64::consts::PI;

#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CylinderAxial {
    pub diameter: f64,
    pub length: f64,
    /// Along the third axis.
    pub polarisation: f64,
}

impl CylinderAxial {
    /// The plain form.
    pub fn b(&self, p: Triple) -> Triple {
        self.with::<f64, Tested>(p)
    }

    /// The fast form.
    #[inline(always)]
    pub(crate) fn b_fast<L: Lane>(&self, p: [L; 3]) -> [L; 3] {
        self.with::<L, Fixed>(p)
    }

    /// The paper's equations 4 to 7; its letters: a radius, b half length, rho and z the place.
    #[inline(always)]
    fn with<L: Lane, I: Integral<L>>(&self, [x, y, z]: [L; 3]) -> [L; 3] {
        let (a, b) = (L::of(0.5 * self.diameter), L::of(0.5 * self.length));
        let rho = (x * x + y * y).sqrt();
        let (upper, lower) = (end::<L, I>(a, rho, z + b), end::<L, I>(a, rho, z - b));
        let b0 = L::of(self.polarisation / PI);
        let over_rho = b0 * (upper.0 - lower.0) / rho.at_least(L::of(TINY));
        [over_rho * x, over_rho * y, b0 * a / (a + rho) * (upper.1 - lower.1)]
    }
}

/// The two integrals of the end that lies `zeta` below the place: radial, along.
#[inline(always)]
fn end<L: Lane, I: Integral<L>>(a: L, rho: L, zeta: L) -> (L, L) {
    let (one, tiny) = (L::of(1.0), L::of(TINY));
    let gamma = (a - rho) / (a + rho);
    // On the mantle gamma is 0 and the integral's weight with it: any small p serves.
    let root_p = gamma.abs().at_least(tiny);
    let far = (zeta * zeta + (rho + a) * (rho + a)).sqrt();
    let near = (zeta * zeta + (a - rho) * (a - rho)).at_least(tiny).sqrt();
    let k = near / far;
    (a / far * I::cel(k, one, one, -one), zeta / far * I::cel(k, root_p, one, gamma))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// On the axis: J/2 ((L+z)/sqrt(R²+(L+z)²) - z/sqrt(R²+z²)), z from the N face, also inside.
    #[test]
    fn on_the_axis_of_a_rod() {
        let rod = CylinderAxial { diameter: 8., length: 50., polarisation: 1000. };
        for z in [-30.0f64, -1.0, 0.1, 15.0, 200.0] {
            let part = |z: f64| z / (16.0 + z * z).sqrt();
            let want = 500.0 * (part(50.0 + z) - part(z));
            for b in [rod.b([0., 0., 25. + z]), rod.b_fast([0., 0., 25. + z])] {
                assert!((b[2] - want).abs() < 1e-11 * want && b[0] == 0.0 && b[1] == 0.0, "{z} {b:?} {want}");
            }
        }
    }

    #[test]
    fn mantle_and_rim_give_finite_numbers() {
        let rod = CylinderAxial { diameter: 8., length: 50., polarisation: 1000. };
        for p in [[4., 0., 0.], [4., 0., 25.], [0., 4., -25.], [0., 0., 25.], [4., 0., 60.]] {
            assert!(rod.b(p).iter().chain(&rod.b_fast(p)).all(|x| x.is_finite()), "{p:?}");
        }
    }
}
