//! Four numbers side by side in AVX2 registers.
//!
//! The one place with processor instructions. A [`Four`] may only be made and used inside a function compiled
//! for AVX2 and called where the processor has it: [`super::many`] sees to that.

use super::lane::{Lane, MANTISSA, ONE, ROOT_HALF, TWO52, TWO52_BIASED};
use std::arch::x86_64::*;
use std::ops::{Add, BitAnd, Div, Mul, Neg, Sub};

/// Four f64.
#[derive(Clone, Copy)]
pub(super) struct Four(__m256d);

/// Four answers, all bits set for yes.
#[derive(Clone, Copy)]
pub(super) struct FourMask(__m256d);

// SAFETY of every block in this file: the instructions are AVX or AVX2 and touch registers only, but for
// `to_array`, which writes to an array of the right size; no `Four` exists where the processor lacks them (see above).

impl Four {
    #[inline(always)]
    pub fn new(x: [f64; 4]) -> Self {
        Self(unsafe { _mm256_setr_pd(x[0], x[1], x[2], x[3]) })
    }

    #[inline(always)]
    pub fn to_array(self) -> [f64; 4] {
        let mut out = [0.0; 4];
        unsafe { _mm256_storeu_pd(out.as_mut_ptr(), self.0) };
        out
    }
}

macro_rules! operator {
    ($trait:ident, $method:ident, $instruction:ident) => {
        impl $trait for Four {
            type Output = Self;

            #[inline(always)]
            fn $method(self, other: Self) -> Self {
                Self(unsafe { $instruction(self.0, other.0) })
            }
        }
    };
}

operator!(Add, add, _mm256_add_pd);
operator!(Sub, sub, _mm256_sub_pd);
operator!(Mul, mul, _mm256_mul_pd);
operator!(Div, div, _mm256_div_pd);

impl Neg for Four {
    type Output = Self;

    #[inline(always)]
    fn neg(self) -> Self {
        Self(unsafe { _mm256_xor_pd(self.0, _mm256_set1_pd(-0.0)) })
    }
}

impl BitAnd for FourMask {
    type Output = Self;

    #[inline(always)]
    fn bitand(self, other: Self) -> Self {
        Self(unsafe { _mm256_and_pd(self.0, other.0) })
    }
}

impl Lane for Four {
    type Mask = FourMask;

    #[inline(always)]
    fn of(x: f64) -> Self {
        Self(unsafe { _mm256_set1_pd(x) })
    }

    #[inline(always)]
    fn sqrt(self) -> Self {
        Self(unsafe { _mm256_sqrt_pd(self.0) })
    }

    #[inline(always)]
    fn abs(self) -> Self {
        Self(unsafe { _mm256_andnot_pd(_mm256_set1_pd(-0.0), self.0) })
    }

    #[inline(always)]
    fn below(self, other: Self) -> FourMask {
        FourMask(unsafe { _mm256_cmp_pd::<_CMP_LT_OQ>(self.0, other.0) })
    }

    #[inline(always)]
    fn choose(mask: FourMask, yes: Self, no: Self) -> Self {
        Self(unsafe { _mm256_blendv_pd(no.0, yes.0, mask.0) })
    }

    #[inline(always)]
    fn split(self) -> (Self, Self) {
        let whole = |x: u64| unsafe { _mm256_set1_epi64x(x.cast_signed()) };
        unsafe {
            let shifted = _mm256_sub_epi64(_mm256_castpd_si256(self.0), whole(ROOT_HALF.wrapping_sub(ONE)));
            let exponent = _mm256_or_si256(_mm256_srli_epi64::<52>(shifted), whole(TWO52));
            let mantissa = _mm256_add_epi64(_mm256_and_si256(shifted, whole(MANTISSA)), whole(ROOT_HALF));
            (
                Self(_mm256_castsi256_pd(exponent)) - Self::of(TWO52_BIASED),
                Self(_mm256_castsi256_pd(mantissa)),
            )
        }
    }
}
