//! A cylinder (axis along the third axis, centre at the origin) magnetised evenly across, along the first axis.
//!
//! The charge J cos phi on its mantle, integrated along the axis by hand and round it by complete elliptic integrals:
//! A. Caciagli, R. J. Baars, A. P. Philipse and B. W. M. Kuipers, J. Magn. Magn. Mater. 456 (2018) 423, whose
//! result this is, derived anew for Bulirsch's integral. With D² = r² + 1 - 2 r cos psi and s² = D² + zeta²
//! (lengths in radii, psi the angle from the place to the charge) the sums over both ends hold
//!
//! - radial: cos psi (r - cos psi) / (D² s) = ((r⁴ - 1)/D² + 2 - D²) / (4 r² s)
//! - round: sin² psi / (D² s) = (-(r² - 1)²/D² + 2 (r² + 1) - D²) / (4 r² s)
//! - along the axis: cos psi / s
//!
//! and psi = pi - 2 theta turns each into `cel`. On the rims the answer is finite.

use super::elliptic::{Fixed, Integral, Tested};
use super::lane::Lane;
use super::{TINY, Triple};
use std::f64::consts::{PI, TAU};

/// Nearer to the axis than this share of the radius the closed form divides nearly nothing by r² and loses
/// digits; there the same integrals by the periodic trapezoid rule, whose error is r to the power
/// [`TRAPEZOIDS`] (L. N. Trefethen and J. A. C. Weideman, SIAM Review 56 (2014) 385).
pub(crate) const NEAR_AXIS: f64 = 0.1;
const TRAPEZOIDS: usize = 20;

#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CylinderDiametral {
    pub diameter: f64,
    pub length: f64,
    /// Along the first axis.
    pub polarisation: f64,
}

impl CylinderDiametral {
    /// The plain form.
    pub fn b(&self, p: Triple) -> Triple {
        if self.is_near_axis(p) { self.near_axis(p) } else { self.with::<f64, Tested>(p) }
    }

    /// The fast form, for places that are not [near the axis](Self::is_near_axis).
    #[inline(always)]
    pub(crate) fn b_fast<L: Lane>(&self, p: [L; 3]) -> [L; 3] {
        self.with::<L, Fixed>(p)
    }

    #[inline(always)]
    pub(crate) fn is_near_axis(&self, [x, y, _]: Triple) -> bool {
        let limit = 0.5 * self.diameter * NEAR_AXIS;
        x * x + y * y < limit * limit
    }

    #[inline(always)]
    fn with<L: Lane, I: Integral<L>>(&self, [x, y, z]: [L; 3]) -> [L; 3] {
        let radius = L::of(0.5 * self.diameter);
        let (x, y) = (x / radius, y / radius);
        let r = (x * x + y * y).sqrt().at_least(L::of(TINY));
        let (cos, sin) = (x / r, y / r);
        let half = L::of(self.length / self.diameter);
        let upper = end::<L, I>(r, z / radius + half);
        let lower = end::<L, I>(r, z / radius - half);
        let q = L::of(self.polarisation / PI);
        let over = q / (L::of(4.0) * r * r);
        let radial = over * cos * (upper[0] - lower[0]);
        let round = over * sin * (upper[1] - lower[1]);
        let inside = r.below(L::of(1.0)) & z.abs().below(L::of(0.5 * self.length));
        let within = L::choose(inside, L::of(self.polarisation), L::of(0.0));
        [radial * cos - round * sin + within, radial * sin + round * cos, q * cos * (lower[2] - upper[2])]
    }

    /// The same integrals summed round the mantle.
    pub(crate) fn near_axis(&self, [x, y, z]: Triple) -> Triple {
        let radius = 0.5 * self.diameter;
        let (x, y, z, half) = (x / radius, y / radius, z / radius, 0.5 * self.length / radius);
        let mut sum = [0.0; 3];
        for i in 0..TRAPEZOIDS {
            let (sin, cos) = (TAU * i as f64 / TRAPEZOIDS as f64).sin_cos();
            let (dx, dy) = (x - cos, y - sin);
            let dd = dx * dx + dy * dy;
            for (sign, zeta) in [(1.0, z + half), (-1.0, z - half)] {
                let s = (dd + zeta * zeta).sqrt();
                sum[0] += sign * cos * zeta * dx / (dd * s);
                sum[1] += sign * cos * zeta * dy / (dd * s);
                sum[2] -= sign * cos / s;
            }
        }
        let q = self.polarisation / (2.0 * TRAPEZOIDS as f64);
        let within = if z.abs() < half { self.polarisation } else { 0.0 };
        [q * sum[0] + within, q * sum[1], q * sum[2]]
    }
}

/// Integrals round the circle for the end that lies `zeta` below the place, over 4: radial and round times
/// 4 r² zeta, along the axis.
#[inline(always)]
fn end<L: Lane, I: Integral<L>>(r: L, zeta: L) -> [L; 3] {
    let (unit, two, tiny) = (L::of(1.0), L::of(2.0), L::of(TINY));
    let (rr, less, more) = (r * r, r - unit, r + unit);
    let root_p = (less / more).abs().at_least(tiny);
    let far = (zeta * zeta + more * more).sqrt();
    let k = (zeta * zeta + less * less).at_least(tiny).sqrt() / far;
    // Over 4 / far: of 1/s, of D²/s, of cos psi/s, of (r + 1)²/(D² s).
    let one = I::cel(k, unit, unit, unit);
    let square = far * far * I::cel(k, unit, unit, k * k) - zeta * zeta * one;
    let cosine = I::cel(k, unit, -unit, unit);
    let third = I::cel(k, root_p, unit, unit);
    let radial = (rr + unit) * (less / more) * third + two * one - square;
    let round = two * (rr + unit) * one - less * less * third - square;
    [zeta / far * radial, zeta / far * round, cosine / far]
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The mantle's charge as many point charges: the definition, converging geometrically round the circle.
    fn by_charges(c: &CylinderDiametral, p: Triple) -> Triple {
        const ROUND: usize = 2000;
        const ALONG: usize = 2000;
        let (r, step) = (c.diameter / 2.0, c.length / ALONG as f64);
        let mut sum = [0.0; 3];
        for i in 0..ROUND {
            let (sin, cos) = (TAU * i as f64 / ROUND as f64).sin_cos();
            for k in 0..ALONG {
                let d = [p[0] - r * cos, p[1] - r * sin, p[2] + c.length / 2.0 - (k as f64 + 0.5) * step];
                let rr = d.iter().map(|v| v * v).sum::<f64>();
                let w = cos * r * TAU / ROUND as f64 * step / (rr * rr.sqrt());
                (0..3).for_each(|a| sum[a] += w * d[a]);
            }
        }
        sum.map(|s| c.polarisation / (4.0 * PI) * s)
    }

    #[test]
    fn agrees_with_charges_on_the_mantle() {
        let disc = CylinderDiametral { diameter: 30., length: 6., polarisation: 1200. };
        for p in [[22., 8., 0.], [-18., 3., 2.], [4., -25., -9.], [3., 1., 12.], [60., 40., 5.]] {
            let (want, plain, fast) = (by_charges(&disc, p), disc.b(p), disc.b_fast(p));
            let size = want.iter().map(|v| v * v).sum::<f64>().sqrt();
            for i in 0..3 {
                assert!((plain[i] - want[i]).abs() < 1e-6 * size, "{p:?}: {plain:?} {want:?}");
                assert!((fast[i] - plain[i]).abs() < 1e-12 * size, "{p:?}: {fast:?} {plain:?}");
            }
        }
    }

    #[test]
    fn the_two_forms_meet_near_the_axis() {
        let disc = CylinderDiametral { diameter: 30., length: 6., polarisation: 1200. };
        for z in [0.0, 2.0, 5.0, -20.0] {
            let p = [1.2, -0.9, z];
            let (a, b) = (disc.near_axis(p), disc.b_fast(p));
            assert!((0..3).all(|i| (a[i] - b[i]).abs() < 1e-10 * 1200.0), "{a:?} {b:?}");
        }
        assert!(disc.b([0., 0., 0.])[0] > 900.0);
    }

    #[test]
    fn mantle_and_rim_give_finite_numbers() {
        let disc = CylinderDiametral { diameter: 30., length: 6., polarisation: 1200. };
        for p in [[15., 0., 0.], [15., 0., 3.], [0., 15., -3.], [0., 0., 3.], [15., 0., 9.]] {
            assert!(disc.b(p).iter().chain(&disc.b_fast(p)).all(|x| x.is_finite()), "{p:?}");
        }
    }
}
