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
