//! Four numbers side by side in AVX2 registers, eight in AVX-512 registers.
//!
//! The one place with processor instructions. A [`Four`] may only be made and used inside a function compiled
//! for AVX2, an [`Eight`] in one for AVX-512 F, and called where the processor has it: [`super::many`] sees to that.

use super::lane::{Lane, MANTISSA, ONE, ROOT_HALF, TWO52, TWO52_BIASED};
use std::arch::x86_64::*;
use std::ops::{Add, BitAnd, Div, Mul, Neg, Sub};

/// Most numbers side by side.
pub(super) const MOST: usize = 8;

/// A [`Lane`] of several numbers.
pub(super) trait Wide: Lane {
    /// How many; at most [`MOST`].
    const COUNT: usize;
    fn load(x: &[f64; MOST]) -> Self;
    fn store(self, out: &mut [f64; MOST]);
}

/// Four f64.
#[derive(Clone, Copy)]
pub(super) struct Four(__m256d);

/// Four answers, all bits set for yes.
#[derive(Clone, Copy)]
pub(super) struct FourMask(__m256d);

/// Eight f64.
#[derive(Clone, Copy)]
pub(super) struct Eight(__m512d);

/// Eight answers, a bit each.
#[derive(Clone, Copy)]
pub(super) struct EightMask(__mmask8);

// SAFETY of every block in this file: the instructions are AVX2 or AVX-512 F and touch registers only, but for `load` and
// `store`, whose arrays are as long as the register or longer; no `Four` or `Eight` exists where the processor lacks them
// (see above).

impl Wide for Four {
    const COUNT: usize = 4;

    #[inline(always)]
    fn load(x: &[f64; MOST]) -> Self {
        Self(unsafe { _mm256_loadu_pd(x.as_ptr()) })
    }

    #[inline(always)]
    fn store(self, out: &mut [f64; MOST]) {
        unsafe { _mm256_storeu_pd(out.as_mut_ptr(), self.0) };
    }
}

impl Wide for Eight {
    const COUNT: usize = 8;

    #[inline(always)]
    fn load(x: &[f64; MOST]) -> Self {
        Self(unsafe { _mm512_loadu_pd(x.as_ptr()) })
    }

    #[inline(always)]
    fn store(self, out: &mut [f64; MOST]) {
        unsafe { _mm512_storeu_pd(out.as_mut_ptr(), self.0) };
    }
}

macro_rules! operator {
    ($wide:ident, $trait:ident, $method:ident, $instruction:ident) => {
        impl $trait for $wide {
            type Output = Self;

            #[inline(always)]
            fn $method(self, other: Self) -> Self {
                Self(unsafe { $instruction(self.0, other.0) })
            }
        }
    };
}

operator!(Four, Add, add, _mm256_add_pd);
operator!(Four, Sub, sub, _mm256_sub_pd);
operator!(Four, Mul, mul, _mm256_mul_pd);
operator!(Four, Div, div, _mm256_div_pd);
operator!(FourMask, BitAnd, bitand, _mm256_and_pd);
operator!(Eight, Add, add, _mm512_add_pd);
operator!(Eight, Sub, sub, _mm512_sub_pd);
operator!(Eight, Mul, mul, _mm512_mul_pd);
operator!(Eight, Div, div, _mm512_div_pd);

impl BitAnd for EightMask {
    type Output = Self;

    #[inline(always)]
    fn bitand(self, other: Self) -> Self {
        Self(self.0 & other.0)
    }
}

impl Neg for Four {
    type Output = Self;

    #[inline(always)]
    fn neg(self) -> Self {
        Self(unsafe { _mm256_xor_pd(self.0, _mm256_set1_pd(-0.0)) })
    }
}

impl Neg for Eight {
    type Output = Self;

    #[inline(always)]
    fn neg(self) -> Self {
        // Exact, zeros and their signs too; a xor of floats needs AVX-512 DQ.
        Self(unsafe { _mm512_sub_pd(_mm512_set1_pd(-0.0), self.0) })
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
    fn any(mask: FourMask) -> bool {
        unsafe { _mm256_movemask_pd(mask.0) != 0 }
    }

    #[inline(always)]
    fn choose(mask: FourMask, yes: Self, no: Self) -> Self {
        Self(unsafe { _mm256_blendv_pd(no.0, yes.0, mask.0) })
    }

    #[inline(always)]
    fn split(self) -> (Self, Self) {
        unsafe {
            let lowest = _mm256_set1_epi64x(ROOT_HALF.wrapping_sub(ONE).cast_signed());
            let shifted = _mm256_sub_epi64(_mm256_castpd_si256(self.0), lowest);
            let exponent =
                _mm256_or_si256(_mm256_srli_epi64::<52>(shifted), _mm256_set1_epi64x(TWO52.cast_signed()));
            let kept = _mm256_and_si256(shifted, _mm256_set1_epi64x(MANTISSA.cast_signed()));
            let mantissa = _mm256_add_epi64(kept, _mm256_set1_epi64x(ROOT_HALF.cast_signed()));
            (
                Self(_mm256_castsi256_pd(exponent)) - Self::of(TWO52_BIASED),
                Self(_mm256_castsi256_pd(mantissa)),
            )
        }
    }
}

impl Lane for Eight {
    type Mask = EightMask;

    #[inline(always)]
    fn of(x: f64) -> Self {
        Self(unsafe { _mm512_set1_pd(x) })
    }

    #[inline(always)]
    fn sqrt(self) -> Self {
        Self(unsafe { _mm512_sqrt_pd(self.0) })
    }

    #[inline(always)]
    fn abs(self) -> Self {
        Self(unsafe { _mm512_abs_pd(self.0) })
    }

    #[inline(always)]
    fn below(self, other: Self) -> EightMask {
        EightMask(unsafe { _mm512_cmp_pd_mask::<_CMP_LT_OQ>(self.0, other.0) })
    }

    #[inline(always)]
    fn any(mask: EightMask) -> bool {
        mask.0 != 0
    }

    #[inline(always)]
    fn choose(mask: EightMask, yes: Self, no: Self) -> Self {
        Self(unsafe { _mm512_mask_blend_pd(mask.0, no.0, yes.0) })
    }

    #[inline(always)]
    fn split(self) -> (Self, Self) {
        unsafe {
            let lowest = _mm512_set1_epi64(ROOT_HALF.wrapping_sub(ONE).cast_signed());
            let shifted = _mm512_sub_epi64(_mm512_castpd_si512(self.0), lowest);
            let exponent =
                _mm512_or_si512(_mm512_srli_epi64::<52>(shifted), _mm512_set1_epi64(TWO52.cast_signed()));
            let kept = _mm512_and_si512(shifted, _mm512_set1_epi64(MANTISSA.cast_signed()));
            let mantissa = _mm512_add_epi64(kept, _mm512_set1_epi64(ROOT_HALF.cast_signed()));
            (
                Self(_mm512_castsi512_pd(exponent)) - Self::of(TWO52_BIASED),
                Self(_mm512_castsi512_pd(mantissa)),
            )
        }
    }
}
