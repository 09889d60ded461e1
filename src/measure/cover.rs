//! `cover.share`: is the field shown on every side of each source?
//!
//! Of the 45-degree sectors round each source's centre (the first on `north_deg`) that have room (a point
//! 15 mm off the outline lies in the frame and off the other sources), the share in which a line passes 3
//! to 30 mm from that outline.

use super::region::{GROWN_MM, Region, Shape};
use super::worlds::Reading;
use crate::geometry::{Point, angle_deg, towards};

const SECTORS: usize = 8;
const SECTOR_DEG: f64 = 360.0 / SECTORS as f64;
/// A sector has room when the place so far off the outline is free (contract).
const ROOM_MM: f64 = 15.0;
/// A line shows a sector when it passes nearer than this, outside the grown outline (contract).
const NEAR_MM: f64 = 30.0;
/// How well a line's place is read, one standard deviation. Empirical.
const PLACE_SD_MM: f64 = 0.35;
/// Lines are never taken to be misplaced by more: only a line this near to deciding a sector leaves doubt.
const DOUBT_MM: f64 = 0.7;

/// The sectors that have room, and how deep each line goes into them.
pub struct Cover {
    /// A sector an entry, then a line: mm, below 0 where the line passes outside.
    depths: Vec<Vec<f64>>,
}

impl Cover {
    pub fn new(region: &Region) -> Self {
        let mut depths = Vec::new();
        for (i, shape) in region.outlines.iter().enumerate() {
            let by_line: Vec<[f64; SECTORS]> =
                region.lines.iter().map(|l| depth(region, i, shape, &l.points)).collect();
            for k in (0..SECTORS).filter(|k| has_room(region, i, *k)) {
                depths.push(by_line.iter().map(|d| d[k]).collect());
            }
        }
        Self { depths }
    }

    /// `cover.share` of the lines that are there.
    pub fn share(&self, reading: &Reading) -> Option<f64> {
        if self.depths.is_empty() || !reading.lines.contains(&true) {
            return None;
        }
        let aside = |line: usize| (PLACE_SD_MM * reading.aside[line]).clamp(-DOUBT_MM, DOUBT_MM);
        let shown = |by_line: &&Vec<f64>| {
            by_line.iter().enumerate().any(|(line, d)| reading.lines[line] && d + aside(line) >= 0.0)
        };
        Some(self.depths.iter().filter(shown).count() as f64 / self.depths.len() as f64)
    }
}

/// How deep a line goes into each sector of the ring round a source: the most, over its points, of the
/// distance from the sector's nearest edge.
fn depth(region: &Region, source: usize, shape: &Shape, line: &[Point]) -> [f64; SECTORS] {
    let mut best = [f64::NEG_INFINITY; SECTORS];
    let source = &region.panel.sources[source];
    for p in line {
        let Some(d) = shape.distance_within(*p, NEAR_MM + DOUBT_MM) else { continue };
        let in_ring = (d - GROWN_MM).min(NEAR_MM - d);
        let arm = *p - source.centre;
        let turn = (angle_deg(arm) - source.north_deg).rem_euclid(360.0) / SECTOR_DEG;
        let k = turn.round() as usize % SECTORS;
        let off = turn - turn.round();
        let to_edge = (0.5 - off.abs()) * SECTOR_DEG.to_radians() * arm.hypot();
        let beside = if off < 0.0 { (k + SECTORS - 1) % SECTORS } else { (k + 1) % SECTORS };
        best[k] = best[k].max(in_ring.min(to_edge));
        best[beside] = best[beside].max(in_ring.min(-to_edge));
    }
    best
}

fn has_room(region: &Region, source: usize, sector: usize) -> bool {
    let s = &region.panel.sources[source];
    let way = towards(s.north_deg + SECTOR_DEG * sector as f64);
    let Some(p) = farthest(&region.outlines[source], s.centre, way) else { return false };
    let f = region.panel.frame;
    let others = region.outlines.iter().enumerate().filter(|(i, _)| *i != source);
    (p.x > f.x0 && p.x < f.x1 && p.y > f.y0 && p.y < f.y1)
        && others.into_iter().all(|(_, o)| o.distance_within(p, GROWN_MM).is_none())
}

/// The farthest place on the ray that is [`ROOM_MM`] from the outline: walk in from far out, each time by as
/// much as the outline is too far (J. C. Hart, Sphere tracing, The Visual Computer 12 (1996) 527).
fn farthest(shape: &Shape, from: Point, way: crate::geometry::Vec2) -> Option<Point> {
    const FAR_MM: f64 = 400.0;
    const CLOSE_ENOUGH_MM: f64 = 1e-6;
    const MOST_STEPS: usize = 200;
    let mut t = FAR_MM;
    for _ in 0..MOST_STEPS {
        let over = shape.outline.distance(from + way * t) - ROOM_MM;
        if over < CLOSE_ENOUGH_MM {
            return Some(from + way * t);
        }
        t -= over;
        if t < 0.0 {
            return None;
        }
    }
    Some(from + way * t)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::measure::made;

    fn share(lines: Vec<Vec<Point>>, aside: f64) -> Option<f64> {
        let panel = made::dipole();
        let field = panel.field();
        let d = made::drawing(lines);
        let region = Region::new(&panel, &field, &d);
        let mut reading = made::reading(&region, &d);
        reading.aside.fill(aside);
        Cover::new(&region).share(&reading)
    }

    /// Sectors reach 22.5 degrees to either side of 0, 45, 90 ...
    #[test]
    fn an_arc_covers_the_sectors_it_passes() {
        assert_eq!(share(vec![made::arc(15.0, 0.0, 360.0)], 0.0), Some(1.0));
        assert_eq!(share(vec![made::arc(15.0, -60.0, 60.0)], 0.0), Some(3.0 / 8.0));
        assert_eq!(share(vec![made::arc(15.0, -70.0, 70.0)], 0.0), Some(5.0 / 8.0));
        assert_eq!(share(vec![], 0.0), None);
        // 2 mm outline: the ring is 5 to 32 mm from the middle.
        assert_eq!(share(vec![made::arc(33.0, 0.0, 360.0)], 0.0), Some(0.0));
    }

    /// At 15 mm, 68 degrees is 0.13 mm inside the sector that begins at 67.5.
    #[test]
    fn a_line_that_just_enters_a_sector_may_be_misread() {
        let line = || vec![made::arc(15.0, 0.0, 68.0)];
        assert_eq!([share(line(), 0.0), share(line(), -1.0)], [Some(3.0 / 8.0), Some(2.0 / 8.0)]);
        let line = || vec![made::arc(15.0, 0.0, 80.0)];
        assert_eq!([share(line(), 0.0), share(line(), -4.0)], [Some(3.0 / 8.0); 2]);
    }

    #[test]
    fn a_sector_without_room_does_not_count() {
        let mut panel = made::dipole();
        panel.sources[0].centre.x = 10.0;
        let field = panel.field();
        let d = made::drawing(vec![made::straight((40.0, 20.0), (40.0, 180.0))]);
        let region = Region::new(&panel, &field, &d);
        // The three sectors to the left reach the frame before 15 mm; of the five others the line passes one
        // within 30 mm of the outline (at x = 40 the ring spans 13 mm up and down: 22.5 degrees).
        let share = Cover::new(&region).share(&made::reading(&region, &d));
        assert_eq!(share, Some(1.0 / 5.0));
    }
}
