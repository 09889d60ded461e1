//! `dots.count`, `dots.off_mm`, `dots.step_mm`: plotted compass dots, how far they lie from the nearest drawn line and from
//! each other. Whether all are shifted the same way: [`super::shift`].

use super::Id;
use super::region::{Region, STEP_MM, Traced};
use super::worlds::Reading;
use crate::drawing::{Dot, Drawing};
use crate::geometry::Point;
use crate::stats::median;

/// How well `dots.off_mm` is read, one standard deviation. Empirical: a tenth of a pen's width.
pub const OFF_SD_MM: f64 = 0.05;

/// How well a step is read: the middles of two dots, each to a tenth of a millimetre. Empirical.
const STEP_SD_MM: f64 = 0.15;
/// A dot beside a line.
#[derive(Clone, Copy, Debug)]
pub struct Beside {
    /// Squared distance from the line, mm².
    pub(super) square: f64,
    /// Length along the line up to where the dot lies, mm.
    pub(super) along_mm: f64,
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
    Some(Beside { square: square(i), along_mm: i as f64 * STEP_MM })
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

    fn step_of(lines: Vec<Vec<Point>>, at: &[(f64, f64)]) -> Option<f64> {
        let panel = made::uniform(0.0);
        let field = panel.field();
        let mut d = made::drawing(lines);
        d.dots = dots(at);
        let region = Region::new(&panel, &field, &d);
        let (beside, reading) = (beside(&region, &d), made::reading(&region, &d));
        step(&beside, &reading)
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
        near(step_of(lines.clone(), &at), 12.0);
        // Two dots, each on a line of its own.
        assert_eq!(step_of(lines, &[(70.0, 50.0), (70.0, 80.0)]), None);
    }
}
