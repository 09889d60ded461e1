//! `dots.count`, `dots.off_mm`: plotted compass dots, and how far they lie from the nearest drawn line.

use super::Id;
use super::region::{Region, Traced};
use super::worlds::Reading;
use crate::drawing::{Dot, Drawing};
use crate::geometry::Point;

/// How well `dots.off_mm` is read, one standard deviation. Empirical: a tenth of a pen's width.
pub const OFF_SD_MM: f64 = 0.05;

/// `dots.count`.
pub fn count(reading: &Reading) -> f64 {
    reading.dots.iter().filter(|d| **d).count() as f64
}

/// Squared distance of each dot from each line, mm².
pub fn squares(region: &Region, drawing: &Drawing) -> Vec<Vec<f64>> {
    let from = |d: &Dot| region.lines.iter().map(|l| square(l, d.at)).collect();
    drawing.dots.iter().map(from).collect()
}

/// From the half-millimetre points that count, as the other measures take them.
fn square(line: &Traced, at: Point) -> f64 {
    let counted = line.pieces.iter().flat_map(|r| &line.points[r.clone()]);
    counted.map(|p| (*p - at).hypot2()).fold(f64::INFINITY, f64::min)
}

/// `dots.off_mm`: root mean square, of the dots and lines that are there.
pub fn off(squares: &[Vec<f64>], reading: &Reading) -> Option<f64> {
    if !reading.lines.contains(&true) {
        return None;
    }
    let (mut sum, mut n) = (0.0, 0u32);
    for (by_line, _) in squares.iter().zip(&reading.dots).filter(|(_, there)| **there) {
        let there = by_line.iter().zip(&reading.lines).filter(|(_, l)| **l);
        sum += there.map(|(s, _)| *s).fold(f64::INFINITY, f64::min);
        n += 1;
    }
    (n > 0).then(|| ((sum / f64::from(n)).sqrt() + OFF_SD_MM * reading.noise[Id::DotsOff as usize]).max(0.0))
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
        let squares = squares(&region, &d);
        let mut reading = made::reading(&region, &d);
        assert_eq!(count(&reading), 2.0);
        assert_eq!(off(&squares, &reading), Some(2.5f64.sqrt()));
        // Without the second line its dot belongs to the first.
        reading.lines[1] = false;
        assert_eq!(off(&squares, &reading), Some((785.0f64 / 2.0).sqrt()));
        reading.lines[0] = false;
        assert_eq!(off(&squares, &reading), None);
    }
}
