//! A number, or several side by side: what the fast forms are written in.
//!
//! Every operation is one that IEEE 754 rounds exactly and none is fused, so several numbers side by side give the
//! same bits as one after the other, on every machine.

use std::ops::{Add, BitAnd, Div, Mul, Neg, Sub};

/// One or more f64 that are worked on together. Where a form serves some places alone, it is worked out if any of
/// those side by side needs it, and then chosen for these: so a place's answer does not depend on its neighbours.
pub trait Lane:
    Copy + Add<Output = Self> + Sub<Output = Self> + Mul<Output = Self> + Div<Output = Self> + Neg<Output = Self>
{
    /// A yes or no for each number.
    type Mask: Copy + BitAnd<Output = Self::Mask>;

    /// The same number in every place.
    fn of(x: f64) -> Self;
    fn sqrt(self) -> Self;
    fn abs(self) -> Self;
    /// self < other.
    fn below(self, other: Self) -> Self::Mask;
    /// Whether the mask says yes anywhere.
    fn any(mask: Self::Mask) -> bool;
    /// `yes` where the mask says so, else `no`.
    fn choose(mask: Self::Mask, yes: Self, no: Self) -> Self;
    /// Of a positive normal number x = m 2^e with m from sqrt(1/2) to sqrt(2): (e, m).
    fn split(self) -> (Self, Self);

    /// The larger; `other` where one is not a number.
    #[inline(always)]
    fn at_least(self, other: Self) -> Self {
        Self::choose(other.below(self), self, other)
    }

    /// -1 below 0, else 1.
    #[inline(always)]
    fn sign(self) -> Self {
        Self::choose(self.below(Self::of(0.0)), Self::of(-1.0), Self::of(1.0))
    }
}

/// A body whose field is had by one form near it and by another, in which nothing cancels, far off.
pub(super) trait NearAndFar {
    /// Where the far form serves.
    fn is_far<L: Lane>(&self, p: [L; 3]) -> L::Mask;
    fn near<L: Lane>(&self, p: [L; 3]) -> [L; 3];
    fn far<L: Lane>(&self, p: [L; 3]) -> [L; 3];

    /// Each place by the form that serves it.
    #[inline(always)]
    fn either<L: Lane>(&self, p: [L; 3]) -> [L; 3] {
        let near = self.near(p);
        let is_far = self.is_far(p);
        if !L::any(is_far) {
            return near;
        }
        choose_each(is_far, self.far(p), near)
    }
}

/// [`Lane::choose`] for each component.
#[inline(always)]
pub(super) fn choose_each<L: Lane>(mask: L::Mask, yes: [L; 3], no: [L; 3]) -> [L; 3] {
    [L::choose(mask, yes[0], no[0]), L::choose(mask, yes[1], no[1]), L::choose(mask, yes[2], no[2])]
}

/// Bits of sqrt(1/2), of 1, of the mantissa, and of 2^52: or-ing a small whole number into the last makes it
/// a float without a conversion.
pub(super) const ROOT_HALF: u64 = 0x3fe6_a09e_667f_3bcd;
pub(super) const ONE: u64 = 0x3ff0_0000_0000_0000;
pub(super) const MANTISSA: u64 = 0x000f_ffff_ffff_ffff;
pub(super) const TWO52: u64 = 0x4330_0000_0000_0000;
/// 2^52 and the exponent's bias.
pub(super) const TWO52_BIASED: f64 = 4_503_599_627_370_496.0 + 1023.0;

impl Lane for f64 {
    type Mask = bool;

    #[inline(always)]
    fn of(x: f64) -> Self {
        x
    }

    #[inline(always)]
    fn sqrt(self) -> Self {
        f64::sqrt(self)
    }

    #[inline(always)]
    fn abs(self) -> Self {
        f64::abs(self)
    }

    #[inline(always)]
    fn below(self, other: Self) -> bool {
        self < other
    }

    #[inline(always)]
    fn any(mask: bool) -> bool {
        mask
    }

    #[inline(always)]
    fn choose(mask: bool, yes: Self, no: Self) -> Self {
        if mask { yes } else { no }
    }

    #[inline(always)]
    fn split(self) -> (Self, Self) {
        let shifted = self.to_bits().wrapping_sub(ROOT_HALF).wrapping_add(ONE);
        let exponent = f64::from_bits((shifted >> 52) | TWO52) - TWO52_BIASED;
        (exponent, f64::from_bits((shifted & MANTISSA).wrapping_add(ROOT_HALF)))
    }
}
