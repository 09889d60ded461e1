//! Field lines in a plane, by an embedded Runge-Kutta pair with error control and dense output.
//!
//! J. R. Dormand and P. J. Prince, J. Comput. Appl. Math. 6 (1980) 19 (orders 5 and 4); dense output of order 4 and
//! step control as in E. Hairer, S. P. Nørsett and G. Wanner, Solving Ordinary Differential Equations I,
//! 2nd ed. (1993), II.4 and II.6. Knows no frame and no magnet: whoever looks on says when to stop.

use crate::geometry::{Point, Vec2};
use std::ops::ControlFlow;

/// Error allowed in one step, mm: after 500 mm, in some sixty steps, a line is within a few thousandths of a millimetre of
/// where it should be (tests of closed lines, here and in `worksheet::trace`).
const TOLERANCE_MM: f64 = 1e-5;
/// Longest step, mm: the dense output between two places stays as good as the places.
const LONGEST_MM: f64 = 12.0;
/// Shortest step, mm: where the field jumps (a magnet's face) or vanishes the line goes on in such steps. A jump costs at
/// most the step that straddles it.
const SHORTEST_MM: f64 = 1e-4;
const FIRST_MM: f64 = 1.0;
/// No line needs so many steps; one that does circles a place where the field vanishes.
const MOST_STEPS: usize = 20_000;

/// One step of a line, a curve of order 4 between its two ends.
#[derive(Clone, Copy, Debug)]
pub struct Step {
    /// Length along the line where it begins, mm.
    pub from_mm: f64,
    /// Its length, mm.
    pub length_mm: f64,
    curve: [Vec2; 5],
}

impl Step {
    /// The place at `share` (0 to 1) of the step.
    pub fn at(&self, share: f64) -> Point {
        let [y, d, b, r4, r5] = self.curve;
        let back = 1.0 - share;
        (y + share * (d + back * (b + share * (r4 + back * r5)))).to_point()
    }
}

/// Follows the line through `from`, for at most `most_mm`. `direction` gives unit steps along it, and zero where
/// there is none; `look` sees every step and may stop.
pub fn follow(
    direction: impl Fn(Point) -> Vec2,
    from: Point,
    most_mm: f64,
    mut look: impl FnMut(&Step) -> ControlFlow<()>,
) {
    let (mut at, mut gone, mut h) = (from, 0.0, FIRST_MM);
    let mut k1 = direction(at);
    for _ in 0..MOST_STEPS {
        let left = most_mm - gone;
        if left <= 0.0 || k1 == Vec2::ZERO || !k1.is_finite() {
            return;
        }
        h = h.min(left);
        let (next, k7, error, curve) = try_step(&direction, at, k1, h);
        let ratio = error / TOLERANCE_MM;
        let grow = if ratio > 0.0 { (0.9 * ratio.powf(-0.2)).clamp(0.2, 5.0) } else { 5.0 };
        if !next.is_finite() {
            return;
        }
        if ratio > 1.0 && h > SHORTEST_MM {
            h = (h * grow).max(SHORTEST_MM);
            continue;
        }
        if look(&Step { from_mm: gone, length_mm: h, curve }).is_break() {
            return;
        }
        gone += h;
        (at, k1) = (next, k7);
        h = (h * grow).clamp(SHORTEST_MM, LONGEST_MM);
    }
}

/// A step of length `h`: where it ends, the direction there, the error's estimate, the dense output.
fn try_step(f: &impl Fn(Point) -> Vec2, y: Point, k1: Vec2, h: f64) -> (Point, Vec2, f64, [Vec2; 5]) {
    let k2 = f(y + h * (k1 / 5.0));
    let k3 = f(y + h * (3.0 / 40.0 * k1 + 9.0 / 40.0 * k2));
    let k4 = f(y + h * (44.0 / 45.0 * k1 - 56.0 / 15.0 * k2 + 32.0 / 9.0 * k3));
    let k5 =
        f(y + h
            * (19372.0 / 6561.0 * k1 - 25360.0 / 2187.0 * k2 + 64448.0 / 6561.0 * k3 - 212.0 / 729.0 * k4));
    let k6 = f(y + h
        * (9017.0 / 3168.0 * k1 - 355.0 / 33.0 * k2 + 46732.0 / 5247.0 * k3 + 49.0 / 176.0 * k4
            - 5103.0 / 18656.0 * k5));
    let step = h
        * (35.0 / 384.0 * k1 + 500.0 / 1113.0 * k3 + 125.0 / 192.0 * k4 - 2187.0 / 6784.0 * k5
            + 11.0 / 84.0 * k6);
    let next = y + step;
    let k7 = f(next);
    let error = h
        * (71.0 / 57600.0 * k1 - 71.0 / 16695.0 * k3 + 71.0 / 1920.0 * k4 - 17253.0 / 339_200.0 * k5
            + 22.0 / 525.0 * k6
            - 1.0 / 40.0 * k7);
    let b = h * k1 - step;
    let r5 = h
        * (-12_715_105_075.0 / 11_282_082_432.0 * k1 + 87_487_479_700.0 / 32_700_410_799.0 * k3
            - 10_690_763_975.0 / 1_880_347_072.0 * k4
            + 701_980_252_875.0 / 199_316_789_632.0 * k5
            - 1_453_857_185.0 / 822_651_844.0 * k6
            + 69_997_945.0 / 29_380_423.0 * k7);
    (next, k7, error.hypot(), [y.to_vec2(), step, b, step - h * k7 - b, r5])
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Round a wire the lines are circles: back where it began after a turn.
    #[test]
    fn circles_close() {
        for r in [3.0, 10.0, 80.0f64] {
            let turn = std::f64::consts::TAU * r;
            let mut worst = 0.0f64;
            let mut end = Point::ZERO;
            follow(
                |p| Vec2::new(-p.y, p.x) / p.to_vec2().hypot(),
                Point::new(r, 0.0),
                turn,
                |s| {
                    for i in 0..=10 {
                        worst = worst.max((s.at(i as f64 / 10.0).to_vec2().hypot() - r).abs());
                    }
                    end = s.at(1.0);
                    ControlFlow::Continue(())
                },
            );
            assert!(worst < 3e-4, "radius {r}: off by {worst}");
            assert!((end - Point::new(r, 0.0)).hypot() < 1e-3, "radius {r}: {end:?}");
        }
    }

    #[test]
    fn a_line_ends_where_there_is_no_direction() {
        let mut steps = 0;
        follow(
            |_| Vec2::ZERO,
            Point::ZERO,
            100.0,
            |_| {
                steps += 1;
                ControlFlow::Continue(())
            },
        );
        follow(
            |_| Vec2::new(f64::NAN, 0.0),
            Point::ZERO,
            100.0,
            |_| {
                steps += 1;
                ControlFlow::Continue(())
            },
        );
        assert_eq!(steps, 0);
    }

    /// Into a sink: the direction turns over at every step, and the walk still comes to its end.
    #[test]
    fn a_sink_does_not_hold_it_for_ever() {
        let mut last = Point::ZERO;
        follow(
            |p| -p.to_vec2() / p.to_vec2().hypot().max(1e-12),
            Point::new(5.0, 0.1),
            900.0,
            |s| {
                last = s.at(1.0);
                ControlFlow::Continue(())
            },
        );
        assert!(last.to_vec2().hypot() < 0.1);
    }
}
