//! `angle.median_deg`, `angle.close_share`: the angle between drawn tangent and computed field. Degrees.
//!
//! The drawn tangent is the chord over 4 mm, taken every half millimetre, so that a hand's shake does not
//! count and equal lengths weigh alike. Folded to 0-90: which way a line is meant to run is for its arrows.

use super::Id;
use super::findings::AngleRecord;
use super::region::{Region, STEP_MM};
use super::worlds::Reading;
use crate::geometry::{Point, Vec2};
use crate::stats::{median, percentile};

/// Length of the chord that stands for a tangent (contract).
const CHORD_MM: f64 = 4.0;
/// Points from a chord's middle to its end.
const HALF: usize = (CHORD_MM / 2.0 / STEP_MM) as usize;
/// Within this of the field a tangent is close (contract).
const CLOSE_DEG: f64 = 15.0;
/// How well the median is read, one standard deviation. Empirical.
pub const MEDIAN_SD_DEG: f64 = 0.25;
/// How well the share is read, one standard deviation. Empirical.
pub const CLOSE_SD: f64 = 0.01;

/// Each line's angles, degrees.
pub struct Angles {
    each: Vec<Vec<f64>>,
}

/// The pattern's, of one set of lines.
#[derive(Clone, Copy, Debug, Default)]
pub struct Whole {
    pub median_deg: Option<f64>,
    pub close_share: Option<f64>,
}

impl Angles {
    pub fn new(region: &Region) -> Self {
        let mut places: Vec<Point> = Vec::new();
        let mut chords: Vec<Vec2> = Vec::new();
        let mut until = Vec::new();
        for l in &region.lines {
            for piece in &l.pieces {
                let q = &l.points[piece.clone()];
                for i in HALF..q.len().saturating_sub(HALF) {
                    places.push(q[i]);
                    chords.push(q[i + HALF] - q[i - HALF]);
                }
            }
            until.push(places.len());
        }
        let field = region.directions(&places);
        let angle = |(c, f): (&Vec2, &Vec2)| c.cross(*f).abs().atan2(c.dot(*f).abs()).to_degrees();
        let all: Vec<f64> = chords.iter().zip(&field).map(angle).collect();
        let from = std::iter::once(0).chain(until.iter().copied());
        Self { each: from.zip(&until).map(|(a, b)| all[a..*b].to_vec()).collect() }
    }

    /// One line's.
    pub fn of_line(&self, line: usize) -> AngleRecord {
        let a = &self.each[line];
        AngleRecord { median: median(a), p90: percentile(a, 90.0) }
    }

    /// The whole pattern's, of the lines in the set.
    pub fn of_set(&self, set: &[bool]) -> Whole {
        let mut all: Vec<f64> =
            self.each.iter().zip(set).filter(|(_, l)| **l).flat_map(|(a, _)| a.iter().copied()).collect();
        let n = all.len();
        if n == 0 {
            return Whole::default();
        }
        let close = all.iter().filter(|a| **a <= CLOSE_DEG).count() as f64 / n as f64;
        let (below, upper, _) = all.select_nth_unstable_by(n / 2, f64::total_cmp);
        let upper = *upper;
        let lower = if n % 2 == 1 { upper } else { below.iter().copied().fold(0.0, f64::max) };
        Whole { median_deg: Some((lower + upper) / 2.0), close_share: Some(close) }
    }
}

impl Whole {
    /// `angle.median_deg` as read in this reading.
    pub fn median(&self, reading: &Reading) -> Option<f64> {
        self.median_deg
            .map(|v| (v + MEDIAN_SD_DEG * reading.noise[Id::AngleMedian as usize]).clamp(0.0, 90.0))
    }

    /// `angle.close_share` as read in this reading.
    pub fn close(&self, reading: &Reading) -> Option<f64> {
        self.close_share.map(|v| (v + CLOSE_SD * reading.noise[Id::AngleCloseShare as usize]).clamp(0.0, 1.0))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::towards;
    use crate::measure::made;

    #[test]
    fn straight_lines_in_a_uniform_field_make_the_angle_between_them() {
        let panel = made::uniform(30.0);
        let field = panel.field();
        for (way, want) in
            [(30.0, 0.0), (47.0, 17.0), (210.0, 0.0), (-35.0, 65.0), (135.0, 75.0), (120.0, 90.0)]
        {
            let d = made::drawing(vec![vec![made::MIDDLE, made::MIDDLE + 60.0 * towards(way)]]);
            let region = Region::new(&panel, &field, &d);
            let whole = Angles::new(&region).of_set(&[true]);
            assert!((whole.median_deg.unwrap() - want).abs() < 1e-9, "{way}: {whole:?}");
            assert_eq!(whole.close_share, Some(if want <= CLOSE_DEG { 1.0 } else { 0.0 }));
        }
    }

    #[test]
    fn the_pooled_median_is_the_middle_of_all() {
        let a = Angles { each: vec![vec![5.0, 1.0, 20.0], vec![90.0], vec![3.0, 16.0]] };
        assert_eq!(a.of_set(&[true, false, true]).median_deg, Some(5.0));
        assert_eq!(a.of_set(&[true, false, true]).close_share, Some(0.6));
        assert_eq!(a.of_set(&[true, true, true]).median_deg, Some(10.5));
        assert_eq!(a.of_set(&[false, false, false]).median_deg, None);
    }
}
