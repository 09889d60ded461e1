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
use super::lane::{Lane, choose_each};
use super::{TINY, Triple};
use std::f64::consts::{PI, TAU};
use std::sync::LazyLock;

/// Near the axis, far out and far above, the closed form divides nearly nothing and loses digits; there the same integrals
/// by the periodic trapezoid rule, which is as quick. Its error is exp(-eta) to the power [`TRAPEZOIDS`] with cosh eta =
/// (r² + 1 + zeta²)/(2 r) where the integrand becomes infinite off the circle (L. N. Trefethen and J. A. C. Weideman, SIAM
/// Review 56 (2014) 385); it serves where 2 cosh eta is at least this, where that bound is 2e-17.
const OFF_RIM: f64 = 0.3 + 1.0 / 0.3;
const TRAPEZOIDS: usize = 32;

/// Cosines and sines of the places round the mantle.
static ROUND: LazyLock<[(f64, f64); TRAPEZOIDS]> = LazyLock::new(|| {
    std::array::from_fn(|i| {
        let (sin, cos) = (TAU * i as f64 / TRAPEZOIDS as f64).sin_cos();
        (cos, sin)
    })
});

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
        if self.is_at_rim(p) { self.with::<f64, Tested>(p) } else { self.summed(p) }
    }

    /// The fast form.
    #[inline(always)]
    pub(crate) fn b_fast<L: Lane>(&self, p: [L; 3]) -> [L; 3] {
        let summed = self.summed(p);
        let at_rim = self.is_at_rim(p);
        if !L::any(at_rim) {
            return summed;
        }
        choose_each(at_rim, self.with::<L, Fixed>(p), summed)
    }

    /// Whether a place is too near to a rim for [`CylinderDiametral::summed`].
    #[inline(always)]
    fn is_at_rim<L: Lane>(&self, [x, y, z]: [L; 3]) -> L::Mask {
        let radius = L::of(0.5 * self.diameter);
        let beyond = (z.abs() - L::of(0.5 * self.length)).at_least(L::of(0.0));
        let rr = x * x + y * y;
        (rr + radius * radius + beyond * beyond).below(L::of(OFF_RIM) * radius * rr.sqrt())
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
    #[inline(always)]
    fn summed<L: Lane>(&self, [x, y, z]: [L; 3]) -> [L; 3] {
        let radius = L::of(0.5 * self.diameter);
        let half = L::of(self.length / self.diameter);
        let (x, y) = (x / radius, y / radius);
        let (over, under) = (z / radius + half, z / radius - half);
        let (over2, under2) = (over * over, under * under);
        // over² - under², of which nothing is lost.
        let more = L::of(4.0) * (z / radius) * half;
        let beside = z.abs().below(L::of(0.5 * self.length));
        let mut sum = [L::of(0.0); 3];
        for &(cos, sin) in ROUND.iter() {
            let cos = L::of(cos);
            let (dx, dy) = (x - cos, y - L::of(sin));
            let dd = dx * dx + dy * dy;
            let (u, l) = (L::of(1.0) / (dd + over2).sqrt(), L::of(1.0) / (dd + under2).sqrt());
            let (a, b, ul) = (over * u, under * l, u * l);
            // Beyond the ends (a - b)/D² by the third binomial formula: D² goes out.
            let ends = L::choose(beside, (a - b) / dd, more * (ul * ul) / (a + b));
            let across = cos * ends;
            sum = [sum[0] + across * dx, sum[1] + across * dy, sum[2] + cos * (more * (ul * ul) / (u + l))];
        }
        let q = L::of(self.polarisation / (2.0 * TRAPEZOIDS as f64));
        // Off the rim and inside is near the axis.
        let inside = (x * x + y * y).below(L::of(1.0)) & (z.abs()).below(L::of(0.5 * self.length));
        let within = L::choose(inside, L::of(self.polarisation), L::of(0.0));
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
    fn the_two_forms_meet_off_the_rim() {
        let disc = CylinderDiametral { diameter: 30., length: 6., polarisation: 1200. };
        for r in [0.3 * 15.0, 15.0 / 0.3] {
            for z in [0.0, 2.0, 5.0, -20.0] {
                let p = [0.6 * r, -0.8 * r, z];
                let (a, b) = (disc.summed(p), disc.b_fast(p));
                let size = a.iter().map(|v| v * v).sum::<f64>().sqrt();
                assert!((0..3).all(|i| (a[i] - b[i]).abs() < 1e-11 * size), "{a:?} {b:?}");
            }
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
