//! Logarithm and arctangent without branches or calls, so that a loop over them becomes vector code.
//!
//! Only additions, multiplications, divisions and bit patterns, each rounded as IEEE 754 says and never
//! fused: the same bits on every machine, with or without wide registers. The polynomials are those of
//! fdlibm (Sun Microsystems 1993: `e_log.c`, `s_atan.c`); the error stays below 2 units in the last place.

// The constants stand as published, digit for digit.
#![allow(clippy::excessive_precision)]

use std::f64::consts::{FRAC_PI_2, FRAC_PI_4, PI};

/// Natural logarithm of a positive normal number. Nonsense, but no panic, for anything else.
#[inline(always)]
pub fn ln(x: f64) -> f64 {
    /// High part of ln 2: its last 32 bits are 0, so that its product with an exponent is exact.
    const LN2_HIGH: f64 = 6.931_471_803_691_238_164_90e-1;
    const LN2_LOW: f64 = 1.908_214_929_270_587_700_02e-10;
    const L: [f64; 7] = [
        6.666_666_666_666_735_130e-1,
        3.999_999_999_940_941_908e-1,
        2.857_142_874_366_239_149e-1,
        2.222_219_843_214_978_396e-1,
        1.818_357_216_161_805_012e-1,
        1.531_383_769_920_937_332e-1,
        1.479_819_860_511_658_591e-1,
    ];
    /// Bits of sqrt(1/2): the mantissa is taken from there to sqrt(2).
    const ROOT_HALF: u64 = 0x3fe6_a09e_667f_3bcd;
    const ONE: u64 = 0x3ff0_0000_0000_0000;
    /// 2^52 as bits: or-ing a small whole number into it makes it a float without a conversion.
    const TWO52: u64 = 0x4330_0000_0000_0000;
    let shifted = x.to_bits().wrapping_sub(ROOT_HALF).wrapping_add(ONE);
    let exponent = f64::from_bits((shifted >> 52) | TWO52) - (4_503_599_627_370_496.0 + 1023.0);
    let mantissa = f64::from_bits((shifted & 0x000f_ffff_ffff_ffff).wrapping_add(ROOT_HALF));
    let f = mantissa - 1.0;
    let s = f / (2.0 + f);
    let z = s * s;
    let w = z * z;
    let even = w * (L[1] + w * (L[3] + w * L[5]));
    let odd = z * (L[0] + w * (L[2] + w * (L[4] + w * L[6])));
    let half_square = 0.5 * f * f;
    let tail = s * (half_square + (even + odd)) + exponent * LN2_LOW;
    exponent * LN2_HIGH - ((half_square - tail) - f)
}

/// The angle of (x, y) from the first axis, in (-pi, pi]; 0 for (0, 0).
#[inline(always)]
pub fn atan2(y: f64, x: f64) -> f64 {
    /// tan(pi / 8): beyond it the ratio is turned by an eighth of a circle, to stay in the polynomial's range.
    const TAN_PI_8: f64 = 0.414_213_562_373_095_03;
    const A: [f64; 11] = [
        3.333_333_333_333_293_180_27e-1,
        -1.999_999_999_987_648_324_76e-1,
        1.428_571_427_250_346_637_11e-1,
        -1.111_111_040_546_235_578_80e-1,
        9.090_887_133_436_506_561_96e-2,
        -7.691_876_205_044_829_994_95e-2,
        6.661_073_137_387_531_206_69e-2,
        -5.833_570_133_790_573_486_45e-2,
        4.976_877_994_615_932_360_17e-2,
        -3.653_157_274_421_691_552_70e-2,
        1.628_582_011_536_578_236_23e-2,
    ];
    let (ax, ay) = (x.abs(), y.abs());
    let high = if ax > ay { ax } else { ay };
    let low = if ax > ay { ay } else { ax };
    let far = low > high * TAN_PI_8;
    let numerator = if far { low - high } else { low };
    let denominator = if far { low + high } else { high };
    let start = if far { FRAC_PI_4 } else { 0.0 };
    let denominator = if denominator > 0.0 { denominator } else { 1.0 };
    let t = numerator / denominator;
    let z = t * t;
    let w = z * z;
    let odd = z * (A[0] + w * (A[2] + w * (A[4] + w * (A[6] + w * (A[8] + w * A[10])))));
    let even = w * (A[1] + w * (A[3] + w * (A[5] + w * (A[7] + w * A[9]))));
    let angle = start + (t - t * (odd + even));
    let angle = if ay > ax { FRAC_PI_2 - angle } else { angle };
    let angle = if x < 0.0 { PI - angle } else { angle };
    if y < 0.0 { -angle } else { angle }
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
