//! A cylinder magnetised evenly along its axis (the third axis), centre at the origin.
//!
//! N. Derby and S. Olbert, Cylindrical magnets and ideal solenoids, Am. J. Phys. 78 (2010) 229: the field of
//! the equal current sheet, so it is flux density inside as well as outside. On the end rims the answer is finite.

use super::elliptic::{cel, cel_fast};
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
        self.with(p, cel)
    }

    /// The fast form.
    #[inline(always)]
    pub(crate) fn b_fast(&self, p: Triple) -> Triple {
        self.with(p, cel_fast)
    }

    /// The paper's equations 4 to 7; its letters: a radius, b half length, rho and z the place.
    #[inline(always)]
    fn with(&self, [x, y, z]: Triple, cel: impl Fn(f64, f64, f64, f64) -> f64) -> Triple {
        let (a, b) = (0.5 * self.diameter, 0.5 * self.length);
        let rho = (x * x + y * y).sqrt();
        let gamma = (a - rho) / (a + rho);
        // On the mantle gamma is 0 and the integral's weight with it: any small p serves.
        let root_p = if gamma.abs() > TINY { gamma.abs() } else { TINY };
        let end = |zeta: f64| {
            let far = (zeta * zeta + (rho + a) * (rho + a)).sqrt();
            let near = zeta * zeta + (a - rho) * (a - rho);
            let near = if near > TINY { near.sqrt() } else { TINY };
            let k = near / far;
            (a / far * cel(k, 1.0, 1.0, -1.0), zeta / far * cel(k, root_p, 1.0, gamma))
        };
        let (upper, lower) = (end(z + b), end(z - b));
        let b0 = self.polarisation / PI;
        let radial = b0 * (upper.0 - lower.0);
        let over_rho = if rho > TINY { radial / rho } else { 0.0 };
        [over_rho * x, over_rho * y, b0 * a / (a + rho) * (upper.1 - lower.1)]
    }
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
