//! Loops that were drawn as two halves.
//!
//! Loops round a magnet are often drawn as two half loops whose ends run into each other on one side and all but meet on the
//! other. Where they run into each other the stroke mostly makes a small step. So a stroke whose ends face each other is looked
//! at about opposite to its gap, and cut where it steps.

use super::curve::{self, STEP_MM};
use super::links::SHARED_DOUBT;
use super::strokes::Stroke;
use crate::geometry::Point;
use nalgebra::{Matrix3, Vector3};

/// Shortest loop that is looked at, mm, and the widest gap between its ends.
const LEAST_LOOP_MM: f64 = 60.0;
const WIDEST_GAP_MM: f64 = 6.0;
/// The cut lies in this part of the loop.
const OPPOSITE: (f64, f64) = (0.38, 0.62);
/// A step is told from the curves that fit the stroke before and after it, from here to here, mm.
const FITTED_MM: (f64, f64) = (1.25, 7.0);
/// Smallest step, mm. Empirical, on generated drawings: all 18 strokes whose ends faced each other were two halves, 16 of them
/// with such a step; but the hand's shake makes one in a seventh of all other lines of 60 mm and more, too.
const LEAST_STEP_MM: f64 = 0.55;
/// Places that seem to step by this share of the largest belong to the same step.
const NEARLY_SHARE: f64 = 0.7;

/// The two halves of a loop that was drawn as two, or the stroke as it is.
pub fn halves(stroke: Stroke) -> Vec<Stroke> {
    let (first, last) = (stroke.points[0], stroke.points[stroke.points.len() - 1]);
    if stroke.length_mm < LEAST_LOOP_MM || first.distance(last) > WIDEST_GAP_MM {
        return vec![stroke];
    }
    let Some(cut) = step(&stroke.points) else { return vec![stroke] };
    // That it was drawn so is a guess: each half is as doubtful as a stroke that shares ink with another.
    let half = |points: &[Point]| Stroke {
        length_mm: curve::length(points),
        points: points.to_vec(),
        astray: stroke.astray + SHARED_DOUBT,
        ..stroke.clone()
    };
    vec![half(&stroke.points[..=cut]), half(&stroke.points[cut..])]
}

/// Where a loop steps most, opposite to its gap, if that is a step.
fn step(points: &[Point]) -> Option<usize> {
    let reach = (FITTED_MM.1 / STEP_MM) as usize;
    let weights = weights();
    let n = points.len() as f64;
    let range = (OPPOSITE.0 * n) as usize..(OPPOSITE.1 * n) as usize;
    let size = |i: usize| {
        let (before, after) = (extrapolated(points, i, -1, &weights)?, extrapolated(points, i, 1, &weights)?);
        Some((before.distance(after), i))
    };
    let sizes: Vec<(f64, usize)> =
        range.filter(|&i| i >= reach && i + reach < points.len()).filter_map(size).collect();
    let most = sizes.iter().copied().max_by(|a, b| a.0.total_cmp(&b.0)).filter(|s| s.0 > LEAST_STEP_MM)?;
    // The fits overshoot to both sides of a step: it lies in the middle.
    let near = |s: &&(f64, usize)| s.1.abs_diff(most.1) < reach && s.0 > NEARLY_SHARE * most.0;
    let of = || sizes.iter().filter(near).map(|s| s.1);
    Some((of().min()? + of().max()?) / 2)
}

/// Where the stroke on one side of a point leads at that point.
fn extrapolated(points: &[Point], i: usize, side: isize, weights: &[(usize, f64)]) -> Option<Point> {
    let mut at = crate::geometry::Vec2::ZERO;
    for &(k, w) in weights {
        at += w * points.get(i.checked_add_signed(side * k as isize)?)?.to_vec2();
    }
    Some(at.to_point())
}

/// How much each point counts in the value at 0 of the parabola that fits best (least squares) the points [`FITTED_MM`] away:
/// (steps away, weight).
fn weights() -> Vec<(usize, f64)> {
    let steps = (FITTED_MM.0 / STEP_MM) as usize..=(FITTED_MM.1 / STEP_MM) as usize;
    let powers = |k: usize| Vector3::new(1.0, k as f64 * STEP_MM, (k as f64 * STEP_MM).powi(2));
    let normal: Matrix3<f64> = steps.clone().map(|k| powers(k) * powers(k).transpose()).sum();
    let Some(inverse) = normal.try_inverse() else { return Vec::new() };
    steps.map(|k| (k, (inverse * powers(k)).x)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn circle(radius: f64, shift: f64) -> Stroke {
        let n = (2.0 * std::f64::consts::PI * radius / STEP_MM) as usize - 12;
        let at = |i: usize| {
            let t = i as f64 * STEP_MM / radius;
            let aside = if i > n / 2 { shift } else { 0.0 };
            Point::new((radius + aside) * t.cos(), (radius + aside) * t.sin())
        };
        let points: Vec<Point> = (0..n).map(at).collect();
        Stroke {
            length_mm: curve::length(&points),
            points,
            width_mm: 0.5,
            edges: vec![0],
            nodes: [0, 1],
            white_mm: 0.0,
            bridges: 0,
            astray: 0.0,
            dotted: false,
        }
    }

    #[test]
    fn a_loop_with_a_step_opposite_to_its_gap_is_two_halves() {
        let halves = halves(circle(25.0, 0.8));
        assert_eq!(halves.len(), 2);
        let (a, b) = (halves[0].length_mm, halves[1].length_mm);
        assert!((a - b).abs() < 3.0, "{a} {b}");
    }

    #[test]
    fn a_loop_drawn_in_one_go_stays_one() {
        assert_eq!(halves(circle(25.0, 0.0)).len(), 1);
    }
}
