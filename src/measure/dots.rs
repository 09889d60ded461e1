//! `dots.count`, `dots.off_mm`, `dots.step_mm`, `dots.shift_mm`: plotted compass dots, how far they lie from the nearest
//! drawn line and from each other, and whether all are shifted the same way.
//!
//! Who looks at a compass from the side instead of from above sets every dot off by about the same step on the paper
//! (parallax); a shaking hand sets them off anyhow. The line that was drawn through the dots smooths the scatter out;
//! of the dots' offsets from it, that step is fitted which explains them best, and what scatter alone would make of
//! such a fit is taken off.

use super::Id;
use super::region::{Region, STEP_MM, Traced};
use super::worlds::Reading;
use crate::drawing::{Dot, Drawing};
use crate::geometry::{Point, Vec2};
use crate::stats::median;

/// How well `dots.off_mm` is read, one standard deviation. Empirical: a tenth of a pen's width.
pub const OFF_SD_MM: f64 = 0.05;

/// Fewest dots that tell a steady shift from scatter.
const LEAST_DOTS: usize = 6;
/// A way in which the lines' normals hardly point is not fitted: the mean square of their parts along it is at least this.
/// On one straight line nothing is known of a shift along it.
const LEAST_NORMAL: f64 = 0.1;
/// How well the middle of a dot is read, and that of the lines under all of them, one standard deviation, mm. Empirical.
const SHIFT_SD_MM: f64 = 0.05;
/// How well a step is read: the middles of two dots, each to a tenth of a millimetre. Empirical.
const STEP_SD_MM: f64 = 0.15;
/// The line's way at a dot is that of the chord over 2 mm about it: so many points to either side.
const CHORD_POINTS: usize = 2;

/// A dot beside a line.
#[derive(Clone, Copy, Debug)]
pub struct Beside {
    /// Squared distance from the line, mm².
    square: f64,
    /// Length along the line up to where the dot lies, mm.
    along_mm: f64,
    /// Unit normal of the line there, and the dot's offset along it, mm.
    normal: Vec2,
    off_mm: f64,
}

/// `dots.count`.
pub fn count(reading: &Reading) -> f64 {
    reading.dots.iter().filter(|d| **d).count() as f64
}

/// Each dot beside each line; `None` beside a line of which nothing counts.
pub fn beside(region: &Region, drawing: &Drawing) -> Vec<Vec<Option<Beside>>> {
    let from = |d: &Dot| region.lines.iter().map(|l| one_beside(l, d.at)).collect();
    drawing.dots.iter().map(from).collect()
}

/// From the half-millimetre points that count, as the other measures take them.
fn one_beside(line: &Traced, at: Point) -> Option<Beside> {
    let counted = line.pieces.iter().flat_map(Clone::clone);
    let square = |i: usize| (line.points[i] - at).hypot2();
    let i = counted.min_by(|i, j| square(*i).total_cmp(&square(*j)))?;
    let (a, b) = (i.saturating_sub(CHORD_POINTS), (i + CHORD_POINTS).min(line.points.len() - 1));
    let chord = line.points[b] - line.points[a];
    let size = chord.hypot();
    let normal = if size > 0.0 { Vec2::new(-chord.y, chord.x) / size } else { Vec2::ZERO };
    let off_mm = (at - line.points[i]).dot(normal);
    Some(Beside { square: square(i), along_mm: i as f64 * STEP_MM, normal, off_mm })
}

/// The dots that are there, each with the nearest line that is there and its place beside it.
fn nearest<'a>(
    dots: &'a [Vec<Option<Beside>>],
    reading: &'a Reading,
) -> impl Iterator<Item = (usize, Beside)> + 'a {
    let there = dots.iter().zip(&reading.dots).filter(|(_, there)| **there);
    there.filter_map(|(by_line, _)| {
        let lines = by_line.iter().enumerate().filter(|(i, _)| reading.lines[*i]);
        let beside = lines.filter_map(|(i, b)| Some((i, (*b)?)));
        beside.min_by(|a, b| a.1.square.total_cmp(&b.1.square))
    })
}

/// `dots.off_mm`: root mean square, of the dots and lines that are there.
pub fn off(dots: &[Vec<Option<Beside>>], reading: &Reading) -> Option<f64> {
    let squares: Vec<f64> = nearest(dots, reading).map(|(_, b)| b.square).collect();
    let mean = squares.iter().sum::<f64>() / squares.len() as f64;
    let noise = OFF_SD_MM * reading.noise[Id::DotsOff as usize];
    (!squares.is_empty()).then(|| (mean.sqrt() + noise).max(0.0))
}

/// `dots.step_mm`: the median step, along its line, from each dot to the next on the same line.
pub fn step(dots: &[Vec<Option<Beside>>], reading: &Reading) -> Option<f64> {
    let mut at: Vec<(usize, f64)> = nearest(dots, reading).map(|(line, b)| (line, b.along_mm)).collect();
    at.sort_by(|a, b| a.0.cmp(&b.0).then(a.1.total_cmp(&b.1)));
    let steps: Vec<f64> = at.windows(2).filter(|w| w[0].0 == w[1].0).map(|w| w[1].1 - w[0].1).collect();
    Some((median(&steps)? + STEP_SD_MM * reading.noise[Id::DotsStep as usize]).max(0.0))
}

/// `dots.shift_mm`: the length of the step on the paper by which all dots are shifted off their lines.
///
/// Least squares of the offsets along the lines' normals. The square of a fitted step is too long by the trace of its
/// covariance, on average; that is taken off, so that scatter alone gives about 0.
pub fn shift(dots: &[Vec<Option<Beside>>], reading: &Reading) -> Option<f64> {
    let all: Vec<Beside> = nearest(dots, reading).map(|(_, b)| b).collect();
    let n = all.len() as f64;
    if all.len() < LEAST_DOTS {
        return None;
    }
    let sum = |of: &dyn Fn(&Beside) -> f64| all.iter().map(of).sum::<f64>() / n;
    let (xx, xy, yy) =
        (sum(&|b| b.normal.x.powi(2)), sum(&|b| b.normal.x * b.normal.y), sum(&|b| b.normal.y.powi(2)));
    // The way in which the normals point most, and the one across it.
    let turn = 0.5 * (2.0 * xy).atan2(xx - yy);
    let main = Vec2::new(turn.cos(), turn.sin());
    let fitted: Vec<(Vec2, f64, f64)> = [main, Vec2::new(-main.y, main.x)]
        .into_iter()
        .map(|way| (way, sum(&|b| b.normal.dot(way).powi(2)), sum(&|b| b.normal.dot(way) * b.off_mm)))
        .filter(|(_, square, _)| *square >= LEAST_NORMAL)
        .collect();
    let step = fitted.iter().fold(Vec2::ZERO, |v, (way, square, off)| v + *way * (off / square));
    let free = n - fitted.len() as f64;
    let scatter = n * sum(&|b| (b.off_mm - b.normal.dot(step)).powi(2)) / free;
    let too_long: f64 = fitted.iter().map(|(_, square, _)| scatter / (n * square)).sum();
    let size = step.hypot();
    let along = |(way, square, _): &(Vec2, f64, f64)| way.dot(step).powi(2) * scatter / (n * square);
    let sd = if size > 0.0 { fitted.iter().map(along).sum::<f64>().sqrt() / size } else { too_long.sqrt() };
    let read = size + sd.hypot(SHIFT_SD_MM) * reading.noise[Id::DotsShift as usize];
    Some((read.max(0.0).powi(2) - too_long).max(0.0).sqrt())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::measure::made;

    #[test]
    fn root_mean_square_from_the_nearest_line() {
        let panel = made::uniform(0.0);
        let field = panel.field();
        let mut d = made::drawing(vec![
            made::straight((50.0, 50.0), (100.0, 50.0)),
            made::straight((50.0, 80.0), (100.0, 80.0)),
        ]);
        let dot = |x, y, sure| Dot { at: Point::new(x, y), radius_mm: 0.6, sure };
        d.dots = vec![dot(60.0, 51.0, 0.9), dot(70.0, 78.0, 0.9), dot(75.0, 65.0, 0.2)];
        let region = Region::new(&panel, &field, &d);
        let dots = beside(&region, &d);
        let mut reading = made::reading(&region, &d);
        assert_eq!(count(&reading), 2.0);
        assert_eq!(off(&dots, &reading), Some(2.5f64.sqrt()));
        // Without the second line its dot belongs to the first.
        reading.lines[1] = false;
        assert_eq!(off(&dots, &reading), Some((785.0f64 / 2.0).sqrt()));
        reading.lines[0] = false;
        assert_eq!(off(&dots, &reading), None);
    }

    fn dots(at: &[(f64, f64)]) -> Vec<Dot> {
        at.iter().map(|(x, y)| Dot { at: Point::new(*x, *y), radius_mm: 0.6, sure: 0.9 }).collect()
    }

    fn step_and_shift(lines: Vec<Vec<Point>>, at: &[(f64, f64)]) -> (Option<f64>, Option<f64>) {
        let panel = made::uniform(0.0);
        let field = panel.field();
        let mut d = made::drawing(lines);
        d.dots = dots(at);
        let region = Region::new(&panel, &field, &d);
        let (beside, reading) = (beside(&region, &d), made::reading(&region, &d));
        (step(&beside, &reading), shift(&beside, &reading))
    }

    fn near(got: Option<f64>, want: f64) {
        assert!(got.is_some_and(|v| (v - want).abs() < 1e-6), "{got:?} for {want}");
    }

    /// Steps 10, 10, 20 mm on one line and 14 mm on the other.
    #[test]
    fn the_median_step_from_dot_to_dot_along_a_line() {
        let lines =
            vec![made::straight((50.0, 50.0), (120.0, 50.0)), made::straight((50.0, 80.0), (120.0, 80.0))];
        let at = [(70.0, 50.3), (60.0, 50.0), (80.0, 49.8), (100.0, 50.0), (60.0, 80.0), (74.0, 80.0)];
        let (step, shift) = step_and_shift(lines.clone(), &at);
        near(step, 12.0);
        assert!(shift.is_some());
        // Two dots, each on a line of its own.
        assert_eq!(step_and_shift(lines, &[(70.0, 50.0), (70.0, 80.0)]), (None, None));
    }

    /// Eight dots 1 mm beside a straight line, 0.2 mm up and down by turns: the scatter's square is 8 x 0.04 / 7, the mean's
    /// 1/8 of that, and sqrt(1 - 0.04 / 7) is left of the shift. Up and down by 1 mm about the line it is nought.
    #[test]
    fn a_steady_shift_is_told_from_scatter() {
        let line = || vec![made::straight((40.0, 50.0), (150.0, 50.0))];
        let at = |steady: f64, scatter: f64| -> Vec<(f64, f64)> {
            (0..8)
                .map(|k| {
                    (50.0 + 10.0 * f64::from(k), 50.0 + steady + if k % 2 == 0 { scatter } else { -scatter })
                })
                .collect()
        };
        near(step_and_shift(line(), &at(1.0, 0.2)).1, (1.0 - 0.04 / 7.0f64).sqrt());
        near(step_and_shift(line(), &at(0.0, 1.0)).1, 0.0);
    }

    /// Dots on a half circle, all 1.2 mm further to the right and 0.5 mm further down: 1.3 mm, whichever way the line runs there.
    #[test]
    fn the_shift_is_one_step_on_the_paper_for_lines_of_every_way() {
        let arc = made::arc(30.0, 0.0, 180.0);
        let at: Vec<(f64, f64)> = (1..12)
            .map(|k| made::arc(30.0, 15.0 * f64::from(k), 180.0)[0])
            .map(|p| (p.x + 1.2, p.y + 0.5))
            .collect();
        let shift = step_and_shift(vec![arc.clone()], &at).1.unwrap();
        assert!((shift - 1.3).abs() < 0.06, "{shift}");
        // All to the outside of the half circle: nothing that one step of the eye explains but its part upwards.
        let out: Vec<(f64, f64)> =
            (1..12).map(|k| made::arc(31.0, 15.0 * f64::from(k), 180.0)[0]).map(|p| (p.x, p.y)).collect();
        assert!(step_and_shift(vec![arc], &out).1.unwrap() < 1.4);
    }
}
