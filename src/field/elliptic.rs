//! Bulirsch's complete elliptic integral, which holds all three of Legendre's.
//!
//! `cel(k, p, a, b)` is the integral over 0 to pi/2 of (a cos² + b sin²) / (cos² + p sin²) / sqrt(cos² + k² sin²).
//! R. Bulirsch, Numerische Mathematik 13 (1969) 305, as written by N. Derby and S. Olbert, Am. J. Phys. 78
//! (2010) 229, appendix. For k > 0 and p > 0, given as its root. The steps are those of the
//! arithmetic-geometric mean: the number of correct digits doubles with each.

use super::lane::Lane;
use std::f64::consts::FRAC_PI_2;

/// Where the plain form stops: the relative error left is about the square of it.
const TOLERANCE: f64 = 1e-8;
/// Most steps of the plain form; 60 orders of magnitude of k need fewer.
const MOST_STEPS: usize = 40;

/// State of the recurrence; letters as in the paper.
#[derive(Clone, Copy)]
struct Cel<L> {
    c: L,
    s: L,
    p: L,
    em: L,
    k: L,
    kk: L,
}

impl<L: Lane> Cel<L> {
    #[inline(always)]
    fn start(k: L, root_p: L, a: L, b: L) -> Self {
        Self { c: a, s: b / root_p, p: root_p, em: L::of(1.0), k, kk: k }.turn()
    }

    #[inline(always)]
    fn turn(self) -> Self {
        let g = self.kk / self.p;
        Self {
            c: self.c + self.s / self.p,
            s: L::of(2.0) * (self.s + self.c * g),
            p: self.p + g,
            em: self.em + self.k,
            ..self
        }
    }

    #[inline(always)]
    fn step(self) -> Self {
        let k = L::of(2.0) * self.kk.sqrt();
        Self { k, kk: k * self.em, ..self }.turn()
    }

    #[inline(always)]
    fn value(self) -> L {
        L::of(FRAC_PI_2) * (self.s + self.c * self.em) / (self.em * (self.em + self.p))
    }
}

/// Two ways to the same integral; `root_p` is the square root of p.
pub(super) trait Integral<L: Lane> {
    fn cel(k: L, root_p: L, a: L, b: L) -> L;
}

/// Steps until nothing changes: for the plain forms.
pub(super) struct Tested;

/// Six steps, no branches: for the fast forms. Enough for every k above 1e-5, which is the rim of a disc of 30 mm
/// from a third of a micrometre away; nearer the rim digits are lost bit by bit.
pub(super) struct Fixed;

impl Integral<f64> for Tested {
    fn cel(k: f64, root_p: f64, a: f64, b: f64) -> f64 {
        let mut state = Cel::start(k, root_p, a, b);
        for _ in 0..MOST_STEPS {
            let before = state.em - state.k;
            if (before - state.k).abs() <= before * TOLERANCE {
                break;
            }
            state = state.step();
        }
        state.value()
    }
}

impl<L: Lane> Integral<L> for Fixed {
    #[inline(always)]
    fn cel(k: L, root_p: L, a: L, b: L) -> L {
        // Written out: a loop might keep the numbers from staying in registers.
        Cel::start(k, root_p, a, b).step().step().step().step().step().step().value()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// The integral by the trapezoid rule on a periodic, smooth integrand: converges geometrically.
    fn by_trapezoids(k: f64, p: f64, a: f64, b: f64) -> f64 {
        const N: usize = 4000;
        let f = |t: f64| {
            let (s2, c2) = (t.sin().powi(2), t.cos().powi(2));
            (a * c2 + b * s2) / (c2 + p * s2) / (c2 + k * k * s2).sqrt()
        };
        (0..N).map(|i| f(FRAC_PI_2 * (i as f64 + 0.5) / N as f64)).sum::<f64>() * FRAC_PI_2 / N as f64
    }

    proptest! {
        #[test]
        fn agrees_with_the_integral(k in 0.02..3.0f64, p in 0.01..5.0f64, a in -2.0..2.0f64, b in -2.0..2.0f64) {
            let want = by_trapezoids(k, p, a, b);
            let scale = by_trapezoids(k, p, a.abs(), b.abs()).max(1e-3);
            prop_assert!((Tested::cel(k, p.sqrt(), a, b) - want).abs() < 1e-13 * scale);
        }

        #[test]
        fn six_steps_equal_tested_steps(e in -11.5..1.0f64, p in 1e-6..5.0f64, a in 0.1..2.0f64, b in 0.1..2.0f64) {
            let k = e.exp();
            let want = Tested::cel(k, p.sqrt(), a, b);
            prop_assert!((Fixed::cel(k, p.sqrt(), a, b) - want).abs() < 4e-15 * want);
        }
    }

    /// K(k = sin 30 deg) and E of the same (M. Abramowitz and I. Stegun, table 17.1): k' = cos 30 deg.
    #[test]
    fn legendre_integrals() {
        let k = 0.75f64.sqrt();
        assert!((Tested::cel(k, 1.0, 1.0, 1.0) - 1.685_750_354_812_596).abs() < 1e-14);
        assert!((Tested::cel(k, 1.0, 1.0, k * k) - 1.467_462_209_339_427).abs() < 1e-14);
    }
}
