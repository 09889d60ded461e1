//! `lines.kinks`: corners on the drawn lines, as where dots were joined by ruled pieces instead of a smooth curve.
//!
//! At each half-millimetre a stretch of 6 mm to either side is fitted twice by least squares: by two straight pieces
//! that meet there, and by an arc (a parabola). It is a corner where the pieces turn by 12 degrees or more, fit
//! better than the arc, and fit best of all places within 6 mm.

use super::region::{Region, STEP_MM, Traced};
use super::worlds::Reading;
use crate::geometry::Point;

/// Points to either side: 6 mm. Who plots with a compass sets dots 8 mm and more apart.
const REACH: usize = (6.0 / STEP_MM) as usize;
/// A smaller turn is the hand's own. Empirical, on generated drawings in smooth lines.
const LEAST_TURN_DEG: f64 = 12.0;
/// The pieces leave at most this share of the arc's squared residual. Empirical.
const BETTER: f64 = 0.45;
/// The arc misses by at least this (root mean square), mm, or the stroke's own grain decides: a corner
/// of 12 degrees misses the best arc by 0.045 mm.
const ARC_MISSES_MM: f64 = 0.035;
/// How well a turn is read, one standard deviation, degrees. Empirical.
const TURN_SD_DEG: f64 = 2.0;
/// Corners that turn by less than [`LEAST_TURN_DEG`] in the likeliest reading may do so in another.
const KEPT_DEG: f64 = LEAST_TURN_DEG - 3.0 * TURN_SD_DEG;

/// The turns at the corners of each line, degrees without sign, those that are corners in some reading.
pub fn turns_deg(region: &Region) -> Vec<Vec<f64>> {
    region.lines.iter().map(of_line).collect()
}

/// `lines.kinks` in a reading.
pub fn count(turns_deg: &[Vec<f64>], reading: &Reading) -> f64 {
    let corner = |i: usize, turn: f64| turn + TURN_SD_DEG * reading.aside[i] >= LEAST_TURN_DEG;
    let there = turns_deg.iter().enumerate().filter(|(i, _)| reading.lines[*i]);
    there.map(|(i, turns)| turns.iter().filter(|t| corner(i, **t)).count()).sum::<usize>() as f64
}

fn of_line(line: &Traced) -> Vec<f64> {
    let mut turns = Vec::new();
    for piece in &line.pieces {
        let fits: Vec<Fit> = line.points[piece.clone()].windows(2 * REACH + 1).map(Fit::of).collect();
        for (i, fit) in fits.iter().enumerate().filter(|(_, f)| f.is_corner()) {
            let near = i.saturating_sub(REACH)..(i + REACH + 1).min(fits.len());
            // The first of equals.
            let best = near.clone().all(|j| fits[j].gain < fit.gain || (fits[j].gain == fit.gain && j >= i));
            if best {
                turns.push(fit.turn_deg);
            }
        }
    }
    turns
}

/// Two straight pieces and an arc, fitted to the same points.
struct Fit {
    turn_deg: f64,
    /// Sums of squared residuals, mm².
    pieces: f64,
    arc: f64,
    gain: f64,
}

impl Fit {
    /// Of an odd number of evenly spaced points, the corner in their middle.
    fn of(points: &[Point]) -> Self {
        let n = points.len();
        let (first, last) = (points[0], points[n - 1]);
        let chord = last - first;
        let size = chord.hypot();
        if size < STEP_MM {
            return Self { turn_deg: 0.0, pieces: 0.0, arc: 0.0, gain: 0.0 };
        }
        let along = chord / size;
        let off: Vec<f64> = points.iter().map(|p| along.cross(*p - first)).collect();
        // Along the line, so that both models see the same places.
        let at = |k: usize| (k as f64 - (n / 2) as f64) * STEP_MM;
        let rest = |shape: &dyn Fn(f64) -> f64| even_fit(&off, at, shape);
        let (slope, pieces) = rest(&|s: f64| s.abs());
        let (_, arc) = rest(&|s: f64| s * s);
        Self { turn_deg: 2.0 * slope.abs().atan().to_degrees(), pieces, arc, gain: arc - pieces }
    }

    fn is_corner(&self) -> bool {
        let n = (2 * REACH + 1) as f64;
        self.turn_deg >= KEPT_DEG && self.pieces < BETTER * self.arc && (self.arc / n).sqrt() > ARC_MISSES_MM
    }
}

/// Least squares of `a + b s + c shape(s)` for an even shape on places symmetric about 0: c, and the sum of squared
/// residuals. The three parts are then orthogonal once their means are taken off.
fn even_fit(off: &[f64], at: impl Fn(usize) -> f64, shape: &dyn Fn(f64) -> f64) -> (f64, f64) {
    let n = off.len() as f64;
    let mean = off.iter().sum::<f64>() / n;
    let middle = (0..off.len()).map(|k| shape(at(k))).sum::<f64>() / n;
    let (mut yy, mut sy, mut ss, mut fy, mut ff) = (0.0, 0.0, 0.0, 0.0, 0.0);
    for (k, y) in off.iter().enumerate() {
        let (y, s, f) = (y - mean, at(k), shape(at(k)) - middle);
        yy += y * y;
        sy += s * y;
        ss += s * s;
        fy += f * y;
        ff += f * f;
    }
    let c = fy / ff;
    (c, (yy - sy * sy / ss - fy * fy / ff).max(0.0))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::measure::made;

    fn kinks(points: Vec<Point>) -> f64 {
        let panel = made::uniform(0.0);
        let field = panel.field();
        let d = made::drawing(vec![points]);
        let region = Region::new(&panel, &field, &d);
        count(&turns_deg(&region), &made::reading(&region, &d))
    }

    /// Chords of a circle of 40 mm radius, 12 mm long, turn by 2 asin(6/40) = 17.3 degrees at each of their corners.
    #[test]
    fn chords_of_a_circle_have_a_corner_where_they_meet_and_the_circle_has_none() {
        let step = 2.0 * (6.0f64 / 40.0).asin().to_degrees();
        let corner = |k: i32| made::MIDDLE + 40.0 * crate::geometry::towards(20.0 + step * f64::from(k));
        let ruled: Vec<Point> = (0..=8).map(corner).collect();
        assert_eq!(kinks(ruled.clone()), 7.0);
        // As the reader gives it back: corners rounded over half a millimetre.
        assert_eq!(kinks(crate::vectorise::curve::smooth(&ruled)), 7.0);
        for radius in [8.0, 20.0, 40.0, 80.0] {
            assert_eq!(kinks(made::arc(radius, 0.0, 300.0)), 0.0, "{radius}");
        }
        assert_eq!(kinks(made::straight((20.0, 30.0), (150.0, 90.0))), 0.0);
    }

    #[test]
    fn a_slight_turn_is_no_corner_and_a_clear_one_is() {
        let bent = |deg: f64| {
            let middle = Point::new(80.0, 80.0);
            let on = middle + 30.0 * crate::geometry::towards(deg);
            vec![Point::new(40.0, 80.0), middle, on]
        };
        assert_eq!([8.0, 16.0, 40.0].map(|deg| kinks(bent(deg))), [0.0, 1.0, 1.0]);
    }
}
