//! `spacing.even`: even lines where the field is even, inside a coil and between two plates of opposite charge.
//!
//! Three cuts are laid across the field there: through a coil at right angles to its axis, in its middle and a quarter
//! of its length to either side; between plates along them, at a quarter, a half and three quarters of the way over.
//! On each cut the largest gap between neighbouring lines is set over the smallest; the measure is the median of
//! the cuts with at least three lines.

use super::region::{Region, crossing};
use super::worlds::Reading;
use crate::geometry::Point;
use crate::stats::percentile_of_sorted;
use crate::worksheet::{Kind, Panel, Source};

/// Fewest lines on a cut, so that there are two gaps to compare.
const LEAST_LINES: usize = 3;
/// The cuts of a coil, as shares of its length from its middle.
const COIL_CUTS: [f64; 3] = [-0.25, 0.0, 0.25];
/// The cuts between plates, as shares of the way over.
const PLATE_CUTS: [f64; 3] = [0.25, 0.5, 0.75];
/// At either end of two plates the field bulges out: so much of the gap between them is left out there, as a share of it.
/// Even lines are asked for in the middle only.
const RIM_SHARE: f64 = 0.25;
/// Plates face each other when they are parallel within this, degrees.
const PARALLEL_DEG: f64 = 10.0;
/// How well a line's place is read, one standard deviation, mm. Empirical: a fifth of a pencil's stroke.
const PLACE_SD_MM: f64 = 0.1;
/// Lines that touch have a gap all the same, mm: the white that can just be seen.
const LEAST_GAP_MM: f64 = 0.2;

/// Two answers for one place differ by rounding only, mm.
const SAME_PLACE_MM: f64 = 1e-6;

/// Where the lines cross the cuts, mm along each cut, and which line it is.
pub struct Even {
    cuts: Vec<Vec<(f64, usize)>>,
}

impl Even {
    /// The cuts of every coil and every pair of plates.
    pub fn new(region: &Region) -> Self {
        let lay = |(a, b): (Point, Point)| -> Vec<(f64, usize)> {
            let length = (b - a).hypot();
            let mut on = Vec::new();
            for (line, traced) in region.lines.iter().enumerate() {
                for piece in &traced.pieces {
                    let parts = traced.points[piece.clone()].windows(2);
                    on.extend(parts.filter_map(|w| crossing(a, b, w[0], w[1])).map(|s| (s * length, line)));
                }
            }
            // A cut through a point of a line is met by both of the parts that end there.
            on.dedup_by(|x, y| x.1 == y.1 && (x.0 - y.0).abs() < SAME_PLACE_MM);
            on
        };
        Self { cuts: cuts(region.panel).into_iter().map(lay).collect() }
    }

    /// `spacing.even` in a reading.
    pub fn ratio(&self, reading: &Reading) -> Option<f64> {
        let mut ratios: Vec<f64> = self.cuts.iter().filter_map(|cut| ratio(cut, reading)).collect();
        ratios.sort_by(f64::total_cmp);
        percentile_of_sorted(&ratios, 50.0)
    }
}

fn ratio(cut: &[(f64, usize)], reading: &Reading) -> Option<f64> {
    let there = cut.iter().filter(|(_, line)| reading.lines[*line]);
    let mut at: Vec<f64> = there.map(|(s, line)| s + PLACE_SD_MM * reading.aside[*line]).collect();
    if at.len() < LEAST_LINES {
        return None;
    }
    at.sort_by(f64::total_cmp);
    let gaps = at.windows(2).map(|w| (w[1] - w[0]).max(LEAST_GAP_MM));
    let (least, most) = gaps.fold((f64::INFINITY, 0.0f64), |(l, m), g| (l.min(g), m.max(g)));
    Some(most / least)
}

/// From end to end, on the page.
fn cuts(panel: &Panel) -> Vec<(Point, Point)> {
    let mut cuts = Vec::new();
    for (i, source) in panel.sources.iter().enumerate() {
        match source.kind {
            Kind::Coil { length, diameter, .. } => {
                let across = |share: f64| {
                    (
                        source.place(share * length, -0.5 * diameter),
                        source.place(share * length, 0.5 * diameter),
                    )
                };
                cuts.extend(COIL_CUTS.map(across));
            }
            Kind::Plate { .. } => {
                cuts.extend(panel.sources[i + 1..].iter().filter_map(|o| between(source, o)).flatten());
            }
            _ => {}
        }
    }
    cuts
}

/// The cuts between two plates of opposite charge that face each other.
fn between(one: &Source, other: &Source) -> Option<[(Point, Point); 3]> {
    let (Kind::Plate { length: a, charge_nc: qa, .. }, Kind::Plate { length: b, charge_nc: qb, .. }) =
        (&one.kind, &other.kind)
    else {
        return None;
    };
    let turn = (one.north_deg - other.north_deg).rem_euclid(180.0);
    let away = one.local(other.centre);
    let (from, to) = ((-0.5 * a).max(away.x - 0.5 * b), (0.5 * a).min(away.x + 0.5 * b));
    let rim = RIM_SHARE * away.y.abs();
    let faces = turn.min(180.0 - turn) < PARALLEL_DEG && qa * qb < 0.0 && to - from > 2.0 * rim;
    let cut = |share: f64| (one.place(from + rim, share * away.y), one.place(to - rim, share * away.y));
    faces.then(|| PLATE_CUTS.map(cut))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::measure::made;

    fn even(panel: &Panel, lines: Vec<Vec<Point>>) -> Option<f64> {
        let field = panel.field();
        let d = made::drawing(lines);
        let region = Region::new(panel, &field, &d);
        Even::new(&region).ratio(&made::reading(&region, &d))
    }

    fn level(heights: &[f64]) -> Vec<Vec<Point>> {
        heights.iter().map(|y| made::straight((50.0, *y), (150.0, *y))).collect()
    }

    /// A coil 80 x 40 mm: x 60 to 140, y 80 to 120.
    #[test]
    fn largest_gap_over_smallest_inside_a_coil() {
        let coil = Kind::Coil { length: 80., diameter: 40., turns: 200., current_a: 1. };
        let panel = made::with_source(coil, None);
        let close = |got: Option<f64>, want: f64| assert!((got.unwrap() - want).abs() < 1e-9, "{got:?}");
        close(even(&panel, level(&[85.0, 95.0, 105.0, 115.0])), 1.0);
        close(even(&panel, level(&[85.0, 90.0, 105.0, 115.0])), 3.0);
        // Two inside and one outside.
        assert_eq!(even(&panel, level(&[85.0, 95.0, 130.0])), None);
        // Opening out from 5 mm to 15 mm beside a steady 10: on the cuts at 80, 100 and 120 mm 7, 10 and 12 mm.
        let mut fan = level(&[90.0, 100.0]);
        fan.push(made::straight((60.0, 105.0), (140.0, 115.0)));
        close(even(&panel, fan), 12.5 / 10.0);
    }

    #[test]
    fn between_plates_and_in_no_other_field() {
        let plate = |id: &str, y: f64, charge_nc: f64| Source {
            id: id.into(),
            kind: Kind::Plate { length: 100.0, depth: 100.0, charge_nc },
            centre: Point::new(100.0, y),
            north_deg: 0.0,
        };
        let mut panel = made::dipole();
        assert_eq!(even(&panel, level(&[85.0, 95.0, 105.0, 115.0])), None);
        panel.sources = vec![plate("top", 80.0, 50.0), plate("foot", 120.0, -50.0)];
        let upright =
            |xs: &[f64]| xs.iter().map(|x| made::straight((*x, 80.5), (*x, 119.5))).collect::<Vec<_>>();
        // The outermost stands 3 mm from the plates' ends, where nothing is asked.
        let got = even(&panel, upright(&[70.0, 85.0, 100.0, 120.0, 147.0]));
        assert!((got.unwrap() - 20.0 / 15.0).abs() < 1e-9, "{got:?}");
        panel.sources[1] = plate("foot", 120.0, 50.0);
        assert_eq!(even(&panel, upright(&[70.0, 85.0, 100.0])), None);
    }
}
