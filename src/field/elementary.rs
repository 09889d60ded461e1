//! Logarithm and arctangent without branches or calls, of one number or several side by side.
//!
//! The same bits on every machine, unlike the system's own. The polynomials are those of
//! fdlibm (Sun Microsystems 1993: `e_log.c`, `s_atan.c`); the error stays below 2 units in the last place.

// The constants stand as published, digit for digit.
#![allow(clippy::excessive_precision)]

use super::lane::Lane;
use std::f64::consts::{FRAC_PI_2, FRAC_PI_4, PI};

/// Natural logarithm of positive normal numbers. Nonsense, but no panic, for anything else.
#[inline(always)]
pub fn ln<L: Lane>(x: L) -> L {
    /// High part of ln 2: its last 32 bits are 0, so that its product with an exponent is exact.
    const LN2_HIGH: f64 = 6.931_471_803_691_238_164_90e-1;
    const LN2_LOW: f64 = 1.908_214_929_270_587_700_02e-10;
    let (exponent, mantissa) = x.split();
    let f = mantissa - L::of(1.0);
    let s = f / (L::of(2.0) + f);
    let half_square = L::of(0.5) * f * f;
    let tail = s * (half_square + log_series(s)) + exponent * L::of(LN2_LOW);
    exponent * L::of(LN2_HIGH) - ((half_square - tail) - f)
}

/// ln(over / under) from what `over` has `more` than `under`, of which nothing is lost where the two are nearly alike; for a
/// ratio from sqrt(1/2) to sqrt(2).
#[inline(always)]
pub fn ln_of_nearly_alike<L: Lane>(over: L, under: L, more: L) -> L {
    let s = more / (over + under);
    s * (L::of(2.0) + log_series(s))
}

/// (ln((1 + s) / (1 - s)) - 2 s) / s for |s| up to 0.1716.
#[inline(always)]
fn log_series<L: Lane>(s: L) -> L {
    const EVEN: [f64; 3] =
        [3.999_999_999_940_941_908e-1, 2.222_219_843_214_978_396e-1, 1.531_383_769_920_937_332e-1];
    const ODD: [f64; 4] = [
        6.666_666_666_666_735_130e-1,
        2.857_142_874_366_239_149e-1,
        1.818_357_216_161_805_012e-1,
        1.479_819_860_511_658_591e-1,
    ];
    let z = s * s;
    let w = z * z;
    w * polynomial(w, EVEN) + z * polynomial(w, ODD)
}

/// The angle of (x, y) from the first axis, in (-pi, pi]; 0 for (0, 0).
#[inline(always)]
pub fn atan2<L: Lane>(y: L, x: L) -> L {
    /// tan(pi / 8): beyond it the ratio is turned by an eighth of a circle, to stay in the polynomial's range.
    const TAN_PI_8: f64 = 0.414_213_562_373_095_03;
    const ODD: [f64; 6] = [
        3.333_333_333_333_293_180_27e-1,
        1.428_571_427_250_346_637_11e-1,
        9.090_887_133_436_506_561_96e-2,
        6.661_073_137_387_531_206_69e-2,
        4.976_877_994_615_932_360_17e-2,
        1.628_582_011_536_578_236_23e-2,
    ];
    const EVEN: [f64; 5] = [
        -1.999_999_999_987_648_324_76e-1,
        -1.111_111_040_546_235_578_80e-1,
        -7.691_876_205_044_829_994_95e-2,
        -5.833_570_133_790_573_486_45e-2,
        -3.653_157_274_421_691_552_70e-2,
    ];
    let zero = L::of(0.0);
    let (ax, ay) = (x.abs(), y.abs());
    let steep = ax.below(ay);
    let high = L::choose(steep, ay, ax);
    let low = L::choose(steep, ax, ay);
    let far = (high * L::of(TAN_PI_8)).below(low);
    let numerator = L::choose(far, low - high, low);
    let denominator = L::choose(far, low + high, high);
    let start = L::choose(far, L::of(FRAC_PI_4), zero);
    let t = numerator / L::choose(zero.below(denominator), denominator, L::of(1.0));
    let z = t * t;
    let w = z * z;
    let angle = start + (t - t * (z * polynomial(w, ODD) + w * polynomial(w, EVEN)));
    let angle = L::choose(steep, L::of(FRAC_PI_2) - angle, angle);
    let angle = L::choose(x.below(zero), L::of(PI) - angle, angle);
    L::choose(y.below(zero), -angle, angle)
}

/// c[0] + w (c[1] + w (c[2] + ...)).
#[inline(always)]
fn polynomial<L: Lane, const N: usize>(w: L, c: [f64; N]) -> L {
    let mut sum = L::of(c[N - 1]);
    for k in (0..N - 1).rev() {
        sum = L::of(c[k]) + w * sum;
    }
    sum
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(4000))]

        #[test]
        fn ln_is_the_logarithm(e in -200.0..200.0f64, near in -1e-3..1e-3f64) {
            let x = e.exp();
            prop_assert!((ln(x) - x.ln()).abs() <= 4e-16 * x.ln().abs().max(1e-3));
            let x = 1.0 + near;
            prop_assert!((ln(x) - x.ln()).abs() <= 1e-15 * x.ln().abs());
            for more in [near, 300.0 * near] {
                let (want, got) = (more.ln_1p(), ln_of_nearly_alike(1.0 + more, 1.0, more));
                prop_assert!((got - want).abs() <= 1e-15 * want.abs(), "{} {} {}", more, got, want);
            }
        }

        #[test]
        fn atan2_is_the_angle(y in -9.0..9.0f64, x in -9.0..9.0f64, e in -30.0..30.0f64) {
            for (y, x) in [(y, x), (y * e.exp(), x), (x, y * e.exp())] {
                let want = y.atan2(x);
                prop_assert!((atan2(y, x) - want).abs() <= 4e-16 * want.abs(), "{} {}: {} {}", y, x, atan2(y, x), want);
            }
        }
    }

    #[test]
    fn axes_and_diagonals() {
        assert_eq!(ln(1.0), 0.0);
        for (y, x) in [(0., 0.), (0., 1.), (1., 0.), (0., -1.), (-1., 0.), (1., 1.), (-1., -1.), (1., -1.)] {
            let (y, x): (f64, f64) = (y, x);
            assert!((atan2(y, x) - y.atan2(x)).abs() < 1e-15, "{y} {x}");
        }
    }
}
