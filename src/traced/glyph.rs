//! Whether a few strokes are an N, an S or neither, whichever way they lie.
//!
//! Strokes are set against drawn examples by their distances both ways (chamfer matching: H. G. Barrow and others, Proc. 5th
//! IJCAI (1977) 659-663). Examples are turned, stretched and slanted to fit, but not mirrored: turned by a quarter an N is a Z,
//! and what tells N from S then is which way round they turn. The mirrored letters, which children do write, are
//! examples too, as are signs that are often beside a magnet; a letter is read only where it is well ahead of every other. One
//! of these is not asked for: a mirrored S turned by a quarter is an N with round corners. Taken for one, it stands at the end
//! where S should, and two letters N on a magnet contradict each other ([`super::marks`]).

use crate::geometry::{Point, Vec2, polyline};
use std::f64::consts::PI;
use std::sync::OnceLock;

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
/// Root mean square distance between strokes and example, as a share of the letter's height: above, they are no such letter.
/// Of 160 letters of a generator's hands, thinned, the worst was off by 0.06, the usual one by 0.03.
const MOST_OFF: f64 = 0.075;
/// The other letter, and every other sign, must be off by at least this many times as much. The same letters keep twice.
const AHEAD_OF_OTHER: f64 = 1.5;
const AHEAD_OF_SIGNS: f64 = 1.15;
/// Places on an example, and most places of the strokes that are looked at.
const SAMPLES: usize = 48;
const MOST_PLACES: usize = 160;
/// How far the right side of a letter may stand below the left, as shares of its height: a slanting hand.
const SLANTS_N: [f64; 7] = [-0.45, -0.3, -0.15, 0.0, 0.15, 0.3, 0.45];
const SLANTS_S: [f64; 3] = [-0.3, 0.0, 0.3];

/// Strokes in a box of 1 by 1, y down.
type Strokes = &'static [(f64, f64)];

const N: Strokes = &[(0.0, 1.0), (0.0, 0.0), (1.0, 1.0), (1.0, 0.0)];
#[rustfmt::skip]
const S: [Strokes; 2] = [
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
#[rustfmt::skip]
const SIGNS: [Strokes; 8] = [
    &[(0.0, 0.0), (0.5, 1.0), (1.0, 0.0)],
    &[(0.0, 0.0), (0.0, 0.7), (0.2, 0.95), (0.5, 1.0), (0.8, 0.95), (1.0, 0.7), (1.0, 0.0)],
    &[(0.95, 0.1), (0.5, 0.0), (0.12, 0.2), (0.0, 0.5), (0.12, 0.8), (0.5, 1.0), (0.95, 0.9)],
    &[
        (0.5, 0.0), (0.12, 0.15), (0.0, 0.5), (0.12, 0.85), (0.5, 1.0), (0.88, 0.85), (1.0, 0.5), (0.88, 0.15),
        (0.5, 0.0),
    ],
    &[(0.0, 1.0), (0.5, 0.0), (1.0, 1.0), (0.0, 1.0)],
    &[(0.0, 0.0), (1.0, 0.0), (0.5, 0.0), (0.5, 1.0)],
    &[(0.0, 0.0), (1.0, 1.0), (0.5, 0.5), (1.0, 0.0), (0.0, 1.0)],
    &[(0.0, 0.0), (0.6, 0.0), (1.0, 0.4), (1.0, 1.0)],
];

/// Reads strokes, given as places on them (any order, y down). `None`: neither letter, or not surely.
pub fn read(places: &[Point]) -> Option<Letter> {
    let off = Off::of(places)?;
    let (letter, own, other, signs) = if off.n < off.s {
        (Letter::N, off.n, off.s, off.signs)
    } else {
        (Letter::S, off.s, off.n, off.signs.min(off.mirrored_s))
    };
    let sure = own < MOST_OFF && other > AHEAD_OF_OTHER * own && signs > AHEAD_OF_SIGNS * own;
    sure.then_some(letter)
}

/// What an example is of.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Of {
    Letter(Letter),
    MirroredS,
    /// Neither letter; a mirrored N among them.
    Sign,
}

/// All examples: what each is of, and places along it in a box of 1 by 1.
fn examples() -> &'static [(Of, Vec<Point>)] {
    static EXAMPLES: OnceLock<Vec<(Of, Vec<Point>)>> = OnceLock::new();
    EXAMPLES.get_or_init(|| {
        let mut all = Vec::new();
        for mirrored in [false, true] {
            let (n, s) = match mirrored {
                false => (Of::Letter(Letter::N), Of::Letter(Letter::S)),
                true => (Of::Sign, Of::MirroredS),
            };
            all.extend(SLANTS_N.map(|slant| (n, example(N, mirrored, slant))));
            for strokes in S {
                all.extend(SLANTS_S.map(|slant| (s, example(strokes, mirrored, slant))));
            }
        }
        for sign in SIGNS {
            let upright = example(sign, false, 0.0);
            // Signs look otherwise turned by half.
            let over = upright.iter().map(|p| Point::new(1.0 - p.x, 1.0 - p.y)).collect();
            all.extend([(Of::Sign, upright), (Of::Sign, over)]);
        }
        all
    })
}

fn example(strokes: Strokes, mirrored: bool, slant: f64) -> Vec<Point> {
    let line: Vec<Point> = strokes
        .iter()
        .map(|&(x, y)| Point::new(if mirrored { 1.0 - x } else { x }, y))
        .map(|p| Point::new(p.x, p.y + slant * (p.x - 0.5)))
        .collect();
    let (least, size) = bounds(&line);
    let boxed: Vec<Point> =
        line.iter().map(|p| Point::new((p.x - least.x) / size.x, (p.y - least.y) / size.y)).collect();
    polyline::resample(&boxed, polyline::length(&boxed) / SAMPLES as f64)
}

/// The upper left corner of the box round places, and its size.
fn bounds(places: &[Point]) -> (Point, Vec2) {
    let (mut least, mut most) = (Point::new(f64::MAX, f64::MAX), Point::new(f64::MIN, f64::MIN));
    for p in places {
        least = Point::new(least.x.min(p.x), least.y.min(p.y));
        most = Point::new(most.x.max(p.x), most.y.max(p.y));
    }
    (least, most - least)
}

/// How far strokes are off the nearest N, S, and other sign.
#[derive(Clone, Copy, Debug)]
struct Off {
    n: f64,
    s: f64,
    mirrored_s: f64,
    signs: f64,
}

impl Off {
    /// Of strokes of any size; `None` for less than a few places.
    fn of(places: &[Point]) -> Option<Self> {
        if places.len() < 8 {
            return None;
        }
        // Chosen by a hash of their number: in any order of their own, every second place may be one stroke of the letter.
        let every = places.len().div_ceil(MOST_PLACES);
        let hash = |i: usize| ((i as u32).wrapping_mul(2_654_435_761) >> 16) as usize;
        let chosen = places.iter().enumerate().filter(|(i, _)| hash(*i).is_multiple_of(every));
        let places: Vec<Point> = chosen.map(|(_, p)| *p).collect();
        let far = f64::INFINITY;
        let mut off = Self { n: far, s: far, mirrored_s: far, signs: far };
        for k in 0..TURNS {
            let (sin, cos) = (PI * k as f64 / TURNS as f64).sin_cos();
            let turned: Vec<Point> =
                places.iter().map(|p| Point::new(p.x * cos - p.y * sin, p.x * sin + p.y * cos)).collect();
            let (least, size) = bounds(&turned);
            if !(size.y > 0.0 && PROPORTION.contains(&(size.x / size.y))) {
                continue;
            }
            for (of, example) in examples() {
                let laid: Vec<Point> =
                    example.iter().map(|p| least + Vec2::new(p.x * size.x, p.y * size.y)).collect();
                let best = match of {
                    Of::Letter(Letter::N) => &mut off.n,
                    Of::Letter(Letter::S) => &mut off.s,
                    Of::MirroredS => &mut off.mirrored_s,
                    Of::Sign => &mut off.signs,
                };
                *best = best.min(apart(&turned, &laid) / size.y);
            }
        }
        Some(off)
    }
}

/// Root mean square distance to the nearest place of the other set, both ways.
fn apart(a: &[Point], b: &[Point]) -> f64 {
    let mut from_b = vec![f64::INFINITY; b.len()];
    let mut sum_a = 0.0;
    for p in a {
        let mut nearest = f64::INFINITY;
        for (q, best) in b.iter().zip(&mut from_b) {
            let d = p.distance_squared(*q);
            nearest = nearest.min(d);
            *best = best.min(d);
        }
        sum_a += nearest;
    }
    let sum_b: f64 = from_b.iter().sum();
    (0.5 * (sum_a / a.len() as f64 + sum_b / b.len() as f64)).sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A letter 4 mm wide and 5.5 mm high, its right side `slant` mm lower.
    fn drawn(strokes: &[(f64, f64)], turn_deg: f64, mirrored: bool, slant: f64) -> Vec<Point> {
        let (sin, cos) = turn_deg.to_radians().sin_cos();
        let line: Vec<Point> = strokes
            .iter()
            .map(|&(x, y)| {
                let (x, y) = (4.0 * if mirrored { -x } else { x }, 5.5 * y + slant * x);
                Point::new(x * cos - y * sin, x * sin + y * cos)
            })
            .collect();
        polyline::resample(&line, 0.125)
    }

    #[test]
    fn letters_are_read_whichever_way_they_lie() {
        for turn in 0..24 {
            let turn = f64::from(turn) * 15.0 + 3.0;
            for slant in [-1.0, 0.0, 1.0] {
                assert_eq!(read(&drawn(N, turn, false, slant)), Some(Letter::N), "N at {turn}, {slant}");
            }
            assert_eq!(read(&drawn(S[0], turn, false, 0.0)), Some(Letter::S), "S at {turn}");
        }
    }

    #[test]
    fn half_a_letter_is_not_left_out_because_its_places_come_from_both_its_ends_by_turns() {
        let along = polyline::resample(&drawn(N, 10.0, false, 0.0), 0.05);
        let (n, middle) = (along.len(), along.len() / 2);
        let by_turns = (0..n).map(|k| if k % 2 == 0 { middle + k / 2 } else { middle - 1 - k / 2 });
        let places: Vec<Point> = by_turns.filter_map(|i| along.get(i).copied()).collect();
        assert_eq!(read(&places), Some(Letter::N));
        assert!(n > MOST_PLACES);
    }

    #[test]
    fn mirrored_letters_and_other_signs_are_not_read() {
        for turn in 0..24 {
            let turn = f64::from(turn) * 15.0 + 3.0;
            assert_eq!(read(&drawn(N, turn, true, 0.0)), None, "mirrored N at {turn}");
            assert_ne!(read(&drawn(S[0], turn, true, 0.0)), Some(Letter::S), "mirrored S at {turn}");
            for (k, sign) in SIGNS.iter().enumerate() {
                assert_eq!(read(&drawn(sign, turn, false, 0.0)), None, "sign {k} at {turn}");
            }
        }
        assert_eq!(read(&[]), None);
    }
}
