//! A cylinder magnetised evenly along its axis (the third axis), centre at the origin.
//!
//! N. Derby and S. Olbert, Cylindrical magnets and ideal solenoids, Am. J. Phys. 78 (2010) 229: the field of
//! the equal current sheet, so it is flux density inside as well as outside. On the end rims the answer is finite.
//!
//! Far off the integrals nearly cancel. There its two ends are evenly charged discs, each by the series of its potential in
//! Legendre polynomials, which its values on the axis give (J. D. Jackson, Classical Electrodynamics (3rd ed.), 3.3).

use super::elliptic::{Fixed, Integral, Tested};
use super::lane::{Lane, NearAndFar};
use super::{TINY, Triple};
use std::f64::consts::PI;

/// Beyond the cube root of so many of its volumes the integrals have lost about four digits; the series serves there.
const FAR_VOLUMES: f64 = 600.0;
/// It serves where both ends are at least so many radii away: its terms fall by the square of that.
const FAR_RADII: f64 = 6.0;
/// With these the first left out is below 1e-17 of the first.
const TERMS: usize = 10;

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
        if self.is_far(p) { self.far(p) } else { self.with::<f64, Tested>(p) }
    }

    /// The fast form.
    #[inline(always)]
    pub(crate) fn b_fast<L: Lane>(&self, p: [L; 3]) -> [L; 3] {
        self.either(p)
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

impl NearAndFar for CylinderAxial {
    #[inline(always)]
    fn is_far<L: Lane>(&self, [x, y, z]: [L; 3]) -> L::Mask {
        let radius = 0.5 * self.diameter;
        let volumes = FAR_VOLUMES * PI * radius * radius * self.length;
        let off_ends = FAR_RADII * radius + 0.5 * self.length;
        let rr = x * x + y * y + z * z;
        L::of(volumes * volumes).below(rr * rr * rr) & L::of(off_ends * off_ends).below(rr)
    }

    #[inline(always)]
    fn far<L: Lane>(&self, [x, y, z]: [L; 3]) -> [L; 3] {
        let radius = 0.5 * self.diameter;
        let (aa, half) = (L::of(radius * radius), L::of(0.5 * self.length));
        let across = x * x + y * y;
        let (upper, lower) = (disc(aa, across, z - half), disc(aa, across, z + half));
        let q = L::of(0.25 * self.polarisation) * aa;
        let radial = q * (upper.0 - lower.0);
        [radial * x, radial * y, q * (upper.1 - lower.1)]
    }

    #[inline(always)]
    fn near<L: Lane>(&self, p: [L; 3]) -> [L; 3] {
        self.with::<L, Fixed>(p)
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

/// The field of an evenly charged disc of charge 1 and squared radius `aa`, `zeta` below the place and `across` (squared)
/// beside it: radial over the distance beside, along.
///
/// Its potential is the sum of c_k a^2k P_2k / r^(2k+1), c_k = 2 binomial(1/2, k+1). Along the axis P_n / r^(n+1) falls by
/// (n+1) P_(n+1) / r^(n+2), across by sin P'_(n+1) / r^(n+2).
#[inline(always)]
fn disc<L: Lane>(aa: L, across: L, zeta: L) -> (L, L) {
    let one = L::of(1.0);
    let rr = across + zeta * zeta;
    let r = rr.sqrt();
    let (cos, fall) = (zeta / r, aa / rr);
    // P and P' of 2k and of 2k + 1.
    let (mut even, mut odd) = ((one, L::of(0.0)), (cos, one));
    let mut scale = one;
    let (mut radial, mut along) = (L::of(0.0), L::of(0.0));
    let mut c = 1.0;
    for k in 0..TERMS {
        let n = (2 * k) as f64;
        let term = L::of(c) * scale;
        radial = radial + term * odd.1;
        along = along + term * L::of(n + 1.0) * odd.0;
        even = next(n + 1.0, cos, odd, even);
        odd = next(n + 2.0, cos, even, odd);
        scale = scale * fall;
        c *= (0.5 - (k + 1) as f64) / (k + 2) as f64;
    }
    (radial / (rr * r), along / rr)
}

/// P and P' of n + 1 from those of n and n - 1.
#[inline(always)]
fn next<L: Lane>(n: f64, cos: L, here: (L, L), before: (L, L)) -> (L, L) {
    let p = (L::of(2.0 * n + 1.0) * cos * here.0 - L::of(n) * before.0) / L::of(n + 1.0);
    (p, L::of(2.0 * n + 1.0) * here.0 + before.1)
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
