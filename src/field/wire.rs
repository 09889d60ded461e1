//! An infinitely long straight wire along the third axis through the origin.
//!
//! B = mu0 I / (2 pi r), round the wire by the right hand: R. P. Feynman, Lectures on Physics II, 13-4. On the wire
//! itself, where it is infinite, the answer is finite.

use super::lane::Lane;
use super::{TINY, Triple};

/// `strength` = mu0 I / (2 pi), in flux density times length; above 0 the current flows along the third axis.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Wire {
    pub strength: f64,
}

impl Wire {
    pub fn b(&self, [x, y, _]: Triple) -> Triple {
        let k = self.strength / (x * x + y * y).max(TINY);
        [-k * y, k * x, 0.0]
    }

    #[inline(always)]
    pub(crate) fn b_fast<L: Lane>(&self, [x, y, _]: [L; 3]) -> [L; 3] {
        let k = L::of(self.strength) / (x * x + y * y).at_least(L::of(TINY));
        [-(k * y), k * x, L::of(0.0)]
    }

    /// The third component of the vector potential, up to a constant: -mu0 I / (2 pi) ln r. Field lines are where it
    /// is constant, and the flux between two of them is their difference.
    pub fn potential(&self, [x, y, _]: Triple) -> f64 {
        -0.5 * self.strength * (x * x + y * y).max(TINY).ln()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 5 A at 20 mm: 50 microtesla; along the third axis means anticlockwise seen against it.
    #[test]
    fn five_amperes_at_two_centimetres() {
        // mu0/(2 pi) = 2e-7 T m/A = 0.2 mT mm/A.
        let wire = Wire { strength: 0.2 * 5.0 };
        assert!((wire.b([20., 0., 7.])[1] - 0.05).abs() < 1e-15 && wire.b([0., 20., 0.])[0] < 0.0);
        assert!(wire.b([0.; 3]).iter().all(|x| x.is_finite()));
    }

    /// B = (dA/dy, -dA/dx, 0).
    #[test]
    fn the_field_is_the_curl_of_the_potential() {
        const H: f64 = 1e-4;
        let wire = Wire { strength: 0.7 };
        let a = |x: f64, y: f64| wire.potential([x, y, 0.0]);
        for (x, y) in [(3.0, -8.0), (-20.0, 1.0), (0.5, 0.25)] {
            let [bx, by, _] = wire.b([x, y, 0.0]);
            assert!((bx - (a(x, y + H) - a(x, y - H)) / (2.0 * H)).abs() < 1e-6 * bx.abs());
            assert!((by + (a(x + H, y) - a(x - H, y)) / (2.0 * H)).abs() < 1e-6 * by.abs());
        }
    }
}
