//! Where a quantity on a grid is at least a level: closed loops, by marching squares (W. Lorensen and H. Cline,
//! SIGGRAPH 87, in the plane). The two ways through a saddle cell are told by the mean of its corners.

use crate::geometry::{Point, Rect};
use std::collections::BTreeMap;

/// Values at the corners of equal cells over a rectangle.
pub(super) struct Grid {
    area: Rect,
    /// Corners a row and rows, at least two each.
    pub(super) columns: usize,
    pub(super) rows: usize,
    pub(super) values: Vec<f64>,
}

impl Grid {
    /// Corners about `step` mm apart over `area`, its border included; the values are still to come.
    pub(super) fn over(area: Rect, step: f64) -> Self {
        let corners = |side: f64| (side / step).ceil() as usize + 1;
        let (columns, rows) = (corners(area.width()).max(2), corners(area.height()).max(2));
        Self { area, columns, rows, values: vec![0.0; columns * rows] }
    }

    /// The corners, row by row.
    pub(super) fn places(&self) -> Vec<Point> {
        (0..self.rows).flat_map(|j| (0..self.columns).map(move |i| self.place(i, j))).collect()
    }

    fn place(&self, i: usize, j: usize) -> Point {
        let share = |n: usize, of: usize| n as f64 / (of - 1) as f64;
        Point::new(
            self.area.x0 + self.area.width() * share(i, self.columns),
            self.area.y0 + self.area.height() * share(j, self.rows),
        )
    }

    /// The value of a corner of the grid with one more corner all round, which lies below every level, and its place: on
    /// the border itself, so that loops close along it.
    fn padded(&self, i: usize, j: usize) -> (f64, Point) {
        let (ci, cj) = (i.clamp(1, self.columns) - 1, j.clamp(1, self.rows) - 1);
        let inside = ci + 1 == i && cj + 1 == j;
        let value = if inside { self.values[cj * self.columns + ci] } else { f64::NEG_INFINITY };
        (value, self.place(ci, cj))
    }

    /// The loops round where the value is at least `level`; filled by the even-odd rule they are that region.
    pub(super) fn at_least(&self, level: f64) -> Vec<Vec<Point>> {
        let mut next: BTreeMap<Side, Side> = BTreeMap::new();
        for j in 0..=self.rows {
            for i in 0..=self.columns {
                self.cell(i, j, level, &mut next);
            }
        }
        let mut loops = Vec::new();
        while let Some((first, mut side)) = next.pop_first() {
            let mut points = vec![self.crossing(first, level)];
            while side != first {
                points.push(self.crossing(side, level));
                let Some(after) = next.remove(&side) else { break };
                side = after;
            }
            points.dedup_by(|a, b| (*a - *b).hypot() < SAME_MM);
            if points.len() > 2 {
                loops.push(points);
            }
        }
        loops
    }

    /// The pieces of the loops in one cell, each from the side where it comes in to the side where it goes out, with what is
    /// at least the level to its right as seen on the page.
    fn cell(&self, i: usize, j: usize, level: f64, next: &mut BTreeMap<Side, Side>) {
        let corners = [(i, j), (i + 1, j), (i + 1, j + 1), (i, j + 1)];
        let values = corners.map(|(i, j)| self.padded(i, j).0);
        let in_it = values.map(|v| v >= level);
        // Side k leads from corner k to the next: clockwise as seen.
        let sides = [
            Side { upright: false, i, j },
            Side { upright: true, i: i + 1, j },
            Side { upright: false, i, j: j + 1 },
            Side { upright: true, i, j },
        ];
        let enters: Vec<usize> = (0..4).filter(|k| !in_it[*k] && in_it[(k + 1) % 4]).collect();
        let leaves: Vec<usize> = (0..4).filter(|k| in_it[*k] && !in_it[(k + 1) % 4]).collect();
        match (&enters[..], &leaves[..]) {
            ([enter], [leave]) => {
                next.insert(sides[*leave], sides[*enter]);
            }
            ([_, _], [_, _]) => {
                let joined = values.iter().sum::<f64>() / 4.0 >= level;
                for leave in leaves {
                    // Joined: round the corner that is outside; else round the corner that is inside.
                    let enter = if joined { (leave + 1) % 4 } else { (leave + 3) % 4 };
                    next.insert(sides[leave], sides[enter]);
                }
            }
            _ => {}
        }
    }

    /// Where the level is crossed on a side, between its two corners.
    fn crossing(&self, side: Side, level: f64) -> Point {
        let (i, j) = (side.i, side.j);
        let (a, at_a) = self.padded(i, j);
        let (b, at_b) = if side.upright { self.padded(i, j + 1) } else { self.padded(i + 1, j) };
        let share = (level - a) / (b - a);
        if share.is_finite() { at_a.lerp(at_b, share.clamp(0.0, 1.0)) } else { at_a.lerp(at_b, 0.5) }
    }
}

/// Points of a loop nearer than this are one, mm.
const SAME_MM: f64 = 1e-6;

/// A side between two corners of the padded grid: from (i, j) to the right, or down.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
struct Side {
    j: usize,
    i: usize,
    upright: bool,
}

#[cfg(test)]
mod tests {
    use super::*;

    fn grid(value: impl Fn(Point) -> f64) -> Grid {
        let mut grid = Grid::over(Rect::new(10., 20., 70., 60.), 0.5);
        grid.values = grid.places().into_iter().map(value).collect();
        grid
    }

    /// Twice the signed area, by the trapezoid formula.
    fn area(points: &[Point]) -> f64 {
        let n = points.len();
        (0..n).map(|i| points[i].to_vec2().cross(points[(i + 1) % n].to_vec2())).sum::<f64>() / 2.0
    }

    #[test]
    fn a_circle_is_round_and_closed() {
        let centre = Point::new(38., 41.);
        let loops = grid(|p| -p.distance(centre)).at_least(-12.0);
        assert_eq!(loops.len(), 1);
        assert!(loops[0].iter().all(|p| (p.distance(centre) - 12.0).abs() < 0.01));
        assert!((area(&loops[0]).abs() - std::f64::consts::PI * 144.0).abs() < 0.5);
    }

    #[test]
    fn a_region_that_meets_the_border_closes_along_it() {
        let loops = grid(|p| p.x).at_least(50.2);
        assert_eq!(loops.len(), 1);
        assert!((area(&loops[0]).abs() - 19.8 * 40.0).abs() < 1e-6, "{}", area(&loops[0]));
        assert!(grid(|p| p.x).at_least(99.0).is_empty());
        assert!((area(&grid(|p| p.x).at_least(0.0)[0]).abs() - 2400.0).abs() < 1e-6);
    }

    /// Two hills and the saddle between them, and a hole: areas of even-odd regions add up by sign.
    #[test]
    fn hills_join_or_part_and_holes_turn_the_other_way() {
        let hills = |p: Point| {
            let hill = |x: f64| (-(p.distance(Point::new(x, 40.)) / 6.0).powi(2)).exp();
            hill(32.) + hill(48.)
        };
        assert_eq!(grid(hills).at_least(0.9).len(), 2);
        assert_eq!(grid(hills).at_least(0.2).len(), 1);
        let ring = grid(|p| -(p.distance(Point::new(40., 40.)) - 10.0).abs()).at_least(-2.0);
        assert_eq!(ring.len(), 2);
        assert!(area(&ring[0]) * area(&ring[1]) < 0.0);
        let sum = (area(&ring[0]) + area(&ring[1])).abs();
        assert!((sum - std::f64::consts::PI * (144.0 - 64.0)).abs() < 1.0, "{sum}");
    }
}
