//! Whether a few strokes are an N, an S or neither, whichever way they lie.
//!
//! Strokes are set against drawn examples by their mean distances both ways (chamfer matching: H. G. Barrow and others,
//! Proc. 5th IJCAI (1977) 659-663). Turned by a quarter an N is a Z, and an S drawn with corners is an N seen in a mirror; so the
//! mirrored letters are examples too, as are signs that are often beside a magnet, and a letter is read only where it is
//! well ahead of every other.

use crate::geometry::{Point, Vec2, polyline};
use std::f64::consts::PI;

/// A pole's letter.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Letter {
    N,
    S,
}

/// The turns that are tried, over half a turn: both letters look the same turned by half.
const TURNS: usize = 36;
/// Width over height of a letter.
const PROPORTION: std::ops::Range<f64> = 0.3..1.45;
/// Root mean square distance between strokes and example, as a share of the letter's height: above, they are no such
/// letter (empirical, on letters of our own).
const MOST_OFF: f64 = 0.085;
/// The other letter, and every other sign, must be off by at least this many times as much.
const AHEAD_OF_OTHER: f64 = 1.45;
const AHEAD_OF_SIGNS: f64 = 1.12;
/// Places on an example, and most places of the strokes that are looked at.
const SAMPLES: usize = 48;
const MOST_PLACES: usize = 120;

/// An example in a box of 1 by 1, y down.
type Example = &'static [(f64, f64)];

const N: [Example; 2] = [
    &[(0.0, 1.0), (0.0, 0.0), (1.0, 1.0), (1.0, 0.0)],
    &[(0.0, 1.0), (0.12, 0.0), (0.88, 1.0), (1.0, 0.0)],
];
const S: [Example; 2] = [
    &[
        (0.95, 0.17), (0.78, 0.04), (0.5, 0.0), (0.22, 0.04), (0.04, 0.2), (0.1, 0.37), (0.3, 0.45), (0.5, 0.5),
        (0.72, 0.55), (0.92, 0.64), (0.97, 0.8), (0.8, 0.96), (0.5, 1.0), (0.22, 0.96), (0.03, 0.83),
    ],
    &[
        (0.9, 0.05), (0.6, 0.0), (0.3, 0.05), (0.1, 0.22), (0.2, 0.38), (0.5, 0.5), (0.82, 0.65), (0.95, 0.8),
        (0.7, 0.95), (0.4, 1.0), (0.05, 0.93),
    ],
];
/// Neither: V (an arrowhead), U, C, O, a triangle, T, X, a hook.
const SIGNS: [Example; 8] = [
    &[(0.0, 0.0), (0.5, 1.0), (1.0, 0.0)],
    &[(0.0, 0.0), (0.0, 0.7), (0.2, 0.95), (0.5, 1.0), (0.8, 0.95), (1.0, 0.7), (1.0, 0.0)],
    &[(0.95, 0.1), (0.5, 0.0), (0.12, 0.2), (0.0, 0.5), (0.12, 0.8), (0.5, 1.0), (0.95, 0.9)],
    &[(0.5, 0.0), (0.12, 0.15), (0.0, 0.5), (0.12, 0.85), (0.5, 1.0), (0.88, 0.85), (1.0, 0.5), (0.88, 0.15), (0.5, 0.0)],
    &[(0.0, 1.0), (0.5, 0.0), (1.0, 1.0), (0.0, 1.0)],
    &[(0.0, 0.0), (1.0, 0.0), (0.5, 0.0), (0.5, 1.0)],
    &[(0.0, 0.0), (1.0, 1.0), (0.5, 0.5), (1.0, 0.0), (0.0, 1.0)],
    &[(0.0, 0.0), (0.6, 0.0), (1.0, 0.4), (1.0, 1.0)],
];

/// Reads strokes, given as places on them (any order, y down). `None`: neither letter, or not surely.
pub fn read(places: &[Point]) -> Option<Letter> {
    let off = Off::of(places)?;
    let (letter, own, other) =
        if off.n < off.s { (Letter::N, off.n, off.s) } else { (Letter::S, off.s, off.n) };
    let sure = own < MOST_OFF && other > AHEAD_OF_OTHER * own && off.signs > AHEAD_OF_SIGNS * own;
    sure.then_some(letter)
}

/// How far strokes are off the nearest N, S, and other sign.
#[derive(Clone, Copy, Debug)]
pub struct Off {
    pub n: f64,
    pub s: f64,
    pub signs: f64,
}

impl Off {
    /// Of strokes of any size; `None` for less than a few places.
    pub fn of(places: &[Point]) -> Option<Self> {
        if places.len() < 8 {
            return None;
        }
        let every = places.len().div_ceil(MOST_PLACES);
        let places: Vec<Point> = places.iter().step_by(every).copied().collect();
        let mut off = Self { n: f64::INFINITY, s: f64::INFINITY, signs: f64::INFINITY };
        for k in 0..TURNS {
            let Some(boxed) = Boxed::of(&places, PI * k as f64 / TURNS as f64) else { continue };
            let best = |examples: &[Example], mirrored: bool| {
                examples.iter().map(|e| boxed.off(e, mirrored, false)).fold(f64::INFINITY, f64::min)
            };
            off.n = off.n.min(best(&N, false));
            off.s = off.s.min(best(&S, false));
            off.signs = off.signs.min(best(&N, true)).min(best(&S, true));
            for sign in &SIGNS {
                off.signs = off.signs.min(boxed.off(sign, false, false)).min(boxed.off(sign, false, true));
            }
        }
        Some(off)
    }
}

/// Strokes turned, in their upright box.
struct Boxed {
    places: Vec<Point>,
    width: f64,
    height: f64,
}

impl Boxed {
    fn of(places: &[Point], turn: f64) -> Option<Self> {
        let (sin, cos) = turn.sin_cos();
        let turned: Vec<Point> =
            places.iter().map(|p| Point::new(p.x * cos - p.y * sin, p.x * sin + p.y * cos)).collect();
        let least = turned.iter().fold(Vec2::new(f64::INFINITY, f64::INFINITY), |m, p| {
            Vec2::new(m.x.min(p.x), m.y.min(p.y))
        });
        let places: Vec<Point> = turned.iter().map(|p| *p - least).collect();
        let (width, height) = places.iter().fold((0.0f64, 0.0f64), |(w, h), p| (w.max(p.x), h.max(p.y)));
        let fits = height > 0.0 && PROPORTION.contains(&(width / height));
        fits.then_some(Self { places, width, height })
    }

    /// Root mean square distance to an example, both ways, as a share of the height.
    fn off(&self, example: Example, mirrored: bool, over: bool) -> f64 {
        let line: Vec<Point> = example
            .iter()
            .map(|&(x, y)| {
                let (x, y) = if over { (1.0 - x, 1.0 - y) } else { (x, y) };
                let x = if mirrored { 1.0 - x } else { x };
                Point::new(x * self.width, y * self.height)
            })
            .collect();
        let there: f64 = self.places.iter().map(|p| polyline::distance(*p, &line).powi(2)).sum();
        let samples = polyline::resample(&line, polyline::length(&line) / SAMPLES as f64);
        let nearest =
            |q: &Point| self.places.iter().map(|p| p.distance_squared(*q)).fold(f64::INFINITY, f64::min);
        let back: f64 = samples.iter().map(nearest).sum();
        let mean = 0.5 * (there / self.places.len() as f64 + back / samples.len() as f64);
        mean.sqrt() / self.height
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn drawn(example: &[(f64, f64)], turn_deg: f64, mirrored: bool) -> Vec<Point> {
        let (sin, cos) = turn_deg.to_radians().sin_cos();
        let line: Vec<Point> = example
            .iter()
            .map(|&(x, y)| {
                let (x, y) = (4.0 * if mirrored { -x } else { x }, 5.5 * y);
                Point::new(x * cos - y * sin, x * sin + y * cos)
            })
            .collect();
        polyline::resample(&line, 0.125)
    }

    #[test]
    fn letters_are_read_whichever_way_they_lie() {
        for turn in 0..24 {
            let turn = f64::from(turn) * 15.0 + 3.0;
            assert_eq!(read(&drawn(N[0], turn, false)), Some(Letter::N), "N at {turn}");
            assert_eq!(read(&drawn(S[0], turn, false)), Some(Letter::S), "S at {turn}");
        }
    }

    #[test]
    fn mirrored_letters_and_other_signs_are_not_read() {
        for turn in 0..24 {
            let turn = f64::from(turn) * 15.0 + 3.0;
            assert_eq!(read(&drawn(N[0], turn, true)), None, "mirrored N at {turn}");
            assert_eq!(read(&drawn(S[0], turn, true)), None, "mirrored S at {turn}");
            for (k, sign) in SIGNS.iter().enumerate() {
                assert_eq!(read(&drawn(sign, turn, false)), None, "sign {k} at {turn}");
            }
        }
        assert_eq!(read(&[]), None);
    }
}
