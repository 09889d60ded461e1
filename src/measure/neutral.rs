//! `neutral.through`: lines that run straight on through a neutral point, where the field has no direction.
//!
//! Nearer than 2.5 mm to it, and turning by less than 40 degrees from 8 mm before to 8 mm after.

use super::region::{Region, STEP_MM, Traced};
use super::worlds::Reading;
use crate::geometry::{Point, turn_deg};

/// A line passes through a neutral point when it comes nearer than this (contract).
const THROUGH_MM: f64 = 2.5;
/// It runs on when it turns by less (contract).
const STRAIGHT_DEG: f64 = 40.0;
/// Points from the nearest one to the inner and outer ends of the two parts whose ways are compared:
/// 6 to 10 mm before and after (contract).
const INNER: usize = (6.0 / STEP_MM) as usize;
const OUTER: usize = (10.0 / STEP_MM) as usize;
/// How well a line's place is read, one standard deviation. Empirical.
const PLACE_SD_MM: f64 = 0.3;

/// How near each line that runs straight on comes to a neutral point, mm; `None` where there is none in the panel.
pub fn nearest_mm(region: &Region) -> Option<Vec<f64>> {
    let points = region.field.neutral_points();
    (!points.is_empty()).then(|| {
        let least = |l: &Traced| points.iter().map(|q| passes(l, *q)).fold(f64::INFINITY, f64::min);
        region.lines.iter().map(least).collect()
    })
}

/// The least distance of the line from the point; infinite where it ends near it or turns away.
fn passes(line: &Traced, q: Point) -> f64 {
    let p = &line.points;
    let away = |i: &usize| (p[*i] - q).hypot2();
    let Some(i) = (0..p.len()).min_by(|a, b| away(a).total_cmp(&away(b))) else { return f64::INFINITY };
    if i < OUTER || i + OUTER >= p.len() {
        return f64::INFINITY;
    }
    let (before, after) = (p[i - INNER] - p[i - OUTER], p[i + OUTER] - p[i + INNER]);
    let turn = turn_deg(before, after).abs();
    if turn < STRAIGHT_DEG { away(&i).sqrt() } else { f64::INFINITY }
}

/// `neutral.through` in a reading.
pub fn through(nearest_mm: &[f64], reading: &Reading) -> f64 {
    let passes =
        |(i, d): &(usize, &f64)| reading.lines[*i] && **d + PLACE_SD_MM * reading.aside[*i] < THROUGH_MM;
    nearest_mm.iter().enumerate().filter(passes).count() as f64
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::measure::made;
    use crate::worksheet::{Earth, Kind};

    /// On a dipole's axis B = 2 k m / r³, k = 1e5 mT mm³/(A m²): against 20 microtesla that is 0 at 60 mm
    /// for m = 0.0216 A m².
    #[test]
    fn lines_through_a_neutral_point() {
        let earth = Earth { horizontal_ut: 20.0, north_deg: 180.0 };
        let panel = made::with_source(Kind::Dipole { moment_am2: 0.0216 }, Some(earth));
        let field = panel.field();
        let neutral = Point::new(made::MIDDLE.x + 60.0, made::MIDDLE.y);
        assert!(
            field.neutral_points().iter().any(|p| (*p - neutral).hypot() < 1e-6),
            "{:?}",
            field.neutral_points()
        );
        let bent = |deg: f64| {
            let out = 15.0 * crate::geometry::towards(90.0 + deg);
            vec![Point::new(neutral.x, neutral.y + 15.0), neutral, neutral + out]
        };
        let upright = |off: f64| made::straight((neutral.x + off, 80.0), (neutral.x + off, 120.0));
        let lines = vec![
            upright(0.0),
            upright(2.4),
            upright(-2.6),
            bent(30.0),
            bent(50.0),
            made::straight((neutral.x, 95.0), (neutral.x, 130.0)),
        ];
        let d = made::drawing(lines);
        let region = Region::new(&panel, &field, &d);
        let near = nearest_mm(&region).unwrap();
        let mut reading = made::reading(&region, &d);
        assert_eq!(through(&near, &reading), 3.0, "{near:?}");
        reading.aside.fill(-1.0);
        assert_eq!(through(&near, &reading), 4.0);
        reading.lines[0] = false;
        assert_eq!(through(&near, &reading), 3.0);
    }

    #[test]
    fn without_neutral_points_there_is_nothing_to_count() {
        let panel = made::dipole();
        let field = panel.field();
        let d = made::drawing(vec![]);
        assert_eq!(nearest_mm(&Region::new(&panel, &field, &d)), None);
    }
}
