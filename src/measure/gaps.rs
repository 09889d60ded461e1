//! The gaps from each drawn line to its neighbours, along the drawn normal. Millimetres.
//!
//! Every 2 mm along a line a ray goes out to both sides; the neighbour is the first other line it meets
//! within 40 mm, and the gap counts when a magnet does not lie between. The pieces of the lines lie in a
//! grid, through which the rays walk (J. Amanatides and A. Woo, Eurographics 1987), so that the search
//! grows with the length drawn and not with its square.

use std::ops::Range;

use super::region::{GROWN_MM, Region, crossing};
use crate::geometry::polyline::{resample, tangents};
use crate::geometry::{Point, Rect, Vec2};

/// Gaps are taken this far apart along a line (contract).
pub const PLACE_STEP_MM: f64 = 2.0;
/// A wider gap parts no neighbours (contract).
pub const GAP_MM: f64 = 40.0;
/// What lies nearer is the same stroke, or touches it (contract).
const LEAST_MM: f64 = 0.6;
/// Side of the grid's cells. Empirical: a few strokes a cell on a full sheet.
const CELL_MM: f64 = 4.0;
/// Most cells to a side: a panel is no larger than a page.
const MOST_CELLS: f64 = 512.0;

/// A place on a line from which gaps are taken.
#[derive(Clone, Debug)]
pub struct Place {
    /// Index into [`Region::lines`].
    pub line: usize,
    /// Counted over all pieces of all lines.
    pub piece: usize,
    /// Its neighbours to the left and right: ranges of [`Gaps::hits`], the nearest first. More than one where
    /// the nearer may not be there.
    pub sides: [Range<usize>; 2],
}

/// A line met by a ray.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Hit {
    pub line: usize,
    pub width_mm: f64,
    /// A magnet lies between: no gap, nor is anything beyond.
    pub blocked: bool,
    /// The middle of the gap.
    pub middle: Point,
}

/// The places in order along the pieces, and what their rays meet.
#[derive(Clone, Debug, Default)]
pub struct Gaps {
    pub places: Vec<Place>,
    pub hits: Vec<Hit>,
    /// Each piece with places: its points [`PLACE_STEP_MM`] apart, ends included, and the index of its
    /// first place, which is that of its second point.
    pub pieces: Vec<(Vec<Point>, usize)>,
}

impl Gaps {
    /// The gaps between the lines that are in some of the sets.
    pub fn new(region: &Region, sets: &[Vec<bool>]) -> Self {
        let some: Vec<bool> = (0..region.lines.len()).map(|i| sets.iter().any(|s| s[i])).collect();
        let always: Vec<bool> = (0..region.lines.len()).map(|i| sets.iter().all(|s| s[i])).collect();
        let grid = Grid::new(region, &some);
        let mut gaps = Self::default();
        let there = region.lines.iter().enumerate().filter(|(i, _)| some[*i]);
        for (line, traced) in there {
            for piece in &traced.pieces {
                let points = resample(&traced.points[piece.clone()], PLACE_STEP_MM);
                if points.len() >= 3 {
                    gaps.add(region, &grid, &always, line, points);
                }
            }
        }
        gaps
    }

    fn add(&mut self, region: &Region, grid: &Grid, always: &[bool], line: usize, points: Vec<Point>) {
        let steps = tangents(&points);
        let (piece, first) = (self.pieces.len(), self.places.len());
        for (at, d) in points.iter().zip(&steps).take(points.len() - 1).skip(1) {
            let sides = [Vec2::new(-d.y, d.x), Vec2::new(d.y, -d.x)].map(|way| {
                let from = self.hits.len();
                for (width_mm, line) in grid.cast(*at, way, line, always) {
                    let end = *at + way * width_mm;
                    let blocked = region.outlines.iter().any(|s| !s.clear_of(*at, end, GROWN_MM));
                    self.hits.push(Hit { line, width_mm, blocked, middle: at.midpoint(end) });
                    if blocked {
                        break;
                    }
                }
                from..self.hits.len()
            });
            self.places.push(Place { line, piece, sides });
        }
        self.pieces.push((points, first));
    }

    /// The gap to one side of a place, among the lines of a set.
    pub fn gap(&self, place: &Place, side: usize, set: &[bool]) -> Option<usize> {
        let first = place.sides[side].clone().find(|h| set[self.hits[*h].line])?;
        (!self.hits[first].blocked).then_some(first)
    }
}

/// Short straight parts of the lines, by the cells they touch.
struct Grid {
    bounds: Rect,
    cell_mm: f64,
    columns: usize,
    rows: usize,
    parts: Vec<(Point, Point, usize)>,
    /// For each cell, where its list in `items` begins; one more at the end.
    starts: Vec<usize>,
    /// Indices of parts.
    items: Vec<usize>,
}

impl Grid {
    fn new(region: &Region, some: &[bool]) -> Self {
        let bounds = region.panel.frame.inflate(CELL_MM, CELL_MM);
        let cell_mm = CELL_MM.max(bounds.width().max(bounds.height()) / MOST_CELLS);
        let cells = |mm: f64| (mm / cell_mm).ceil().max(1.0) as usize;
        let (columns, rows) = (cells(bounds.width()), cells(bounds.height()));
        let mut grid = Self { bounds, cell_mm, columns, rows, parts: vec![], starts: vec![], items: vec![] };
        for (line, traced) in region.lines.iter().enumerate().filter(|(i, _)| some[*i]) {
            for piece in &traced.pieces {
                grid.parts.extend(traced.points[piece.clone()].windows(2).map(|w| (w[0], w[1], line)));
            }
        }
        let touched: Vec<Vec<usize>> = grid.parts.iter().map(|(a, b, _)| grid.cells_of(*a, *b)).collect();
        let mut counts = vec![0usize; columns * rows + 1];
        for c in touched.iter().flatten() {
            counts[c + 1] += 1;
        }
        for i in 1..counts.len() {
            counts[i] += counts[i - 1];
        }
        grid.starts = counts.clone();
        grid.items = vec![0; counts[columns * rows]];
        for (part, cells) in touched.iter().enumerate() {
            for c in cells {
                grid.items[counts[*c]] = part;
                counts[*c] += 1;
            }
        }
        grid
    }

    fn column(&self, x: f64) -> usize {
        (((x - self.bounds.x0) / self.cell_mm).max(0.0) as usize).min(self.columns - 1)
    }

    fn row(&self, y: f64) -> usize {
        (((y - self.bounds.y0) / self.cell_mm).max(0.0) as usize).min(self.rows - 1)
    }

    /// The cells of the box round a part.
    fn cells_of(&self, a: Point, b: Point) -> Vec<usize> {
        let columns = self.column(a.x.min(b.x))..=self.column(a.x.max(b.x));
        let rows = self.row(a.y.min(b.y))..=self.row(a.y.max(b.y));
        rows.flat_map(|r| columns.clone().map(move |c| r * self.columns + c)).collect()
    }

    /// The other lines that a ray meets, each where it does first, the nearest first, up to the first that is
    /// always there.
    fn cast(&self, at: Point, way: Vec2, own: usize, always: &[bool]) -> Vec<(f64, usize)> {
        let (a, b) = (at + way * LEAST_MM, at + way * GAP_MM);
        let mut found: Vec<(f64, usize)> = Vec::new();
        let mut surely = GAP_MM;
        let mut walk = Walk::new(self, a, way);
        while let Some(cell) = walk.cell() {
            for part in &self.items[self.starts[cell]..self.starts[cell + 1]] {
                let (c, d, line) = self.parts[*part];
                if line == own {
                    continue;
                }
                let Some(share) = crossing(a, b, c, d) else { continue };
                let width = LEAST_MM + share * (GAP_MM - LEAST_MM);
                match found.iter_mut().find(|(_, l)| *l == line) {
                    Some(f) => f.0 = f.0.min(width),
                    None => found.push((width, line)),
                }
                if always[line] {
                    surely = surely.min(width);
                }
            }
            // Nothing in later cells lies nearer than this one's far side.
            if LEAST_MM + walk.leaves_at() > surely {
                break;
            }
            walk.step();
        }
        found.retain(|(width, _)| *width <= surely);
        found.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
        found
    }
}

/// A ray on its way through the grid.
struct Walk<'a> {
    grid: &'a Grid,
    column: isize,
    row: isize,
    step: (isize, isize),
    /// Distance along the ray at which the next column, the next row begins.
    next: (f64, f64),
    /// Distance along the ray from one column, one row to the next.
    stride: (f64, f64),
}

impl<'a> Walk<'a> {
    fn new(grid: &'a Grid, from: Point, way: Vec2) -> Self {
        let axis = |at: f64, low: f64, way: f64| {
            let cell = ((at - low) / grid.cell_mm).floor();
            let edge = low + (cell + if way > 0.0 { 1.0 } else { 0.0 }) * grid.cell_mm;
            let (next, stride) = if way == 0.0 {
                (f64::INFINITY, f64::INFINITY)
            } else {
                ((edge - at) / way, grid.cell_mm / way.abs())
            };
            (cell as isize, if way > 0.0 { 1 } else { -1 }, next, stride)
        };
        let (column, sx, nx, dx) = axis(from.x, grid.bounds.x0, way.x);
        let (row, sy, ny, dy) = axis(from.y, grid.bounds.y0, way.y);
        Self { grid, column, row, step: (sx, sy), next: (nx, ny), stride: (dx, dy) }
    }

    /// The cell the ray is in; `None` outside the grid, which it then never enters again: every ray begins
    /// on a line that counts.
    fn cell(&self) -> Option<usize> {
        let (c, r) = (usize::try_from(self.column).ok()?, usize::try_from(self.row).ok()?);
        (c < self.grid.columns && r < self.grid.rows).then_some(r * self.grid.columns + c)
    }

    fn leaves_at(&self) -> f64 {
        self.next.0.min(self.next.1)
    }

    fn step(&mut self) {
        if self.next.0 < self.next.1 {
            self.column += self.step.0;
            self.next.0 += self.stride.0;
        } else {
            self.row += self.step.1;
            self.next.1 += self.stride.1;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::measure::made;
    use proptest::prelude::*;

    /// Every ray against every part of every other line.
    fn plain_search(region: &Region, at: Point, way: Vec2, own: usize) -> Vec<(f64, usize)> {
        let (a, b) = (at + way * LEAST_MM, at + way * GAP_MM);
        let mut found = Vec::new();
        for (line, traced) in region.lines.iter().enumerate().filter(|(i, _)| *i != own) {
            let parts = traced.pieces.iter().flat_map(|p| traced.points[p.clone()].windows(2));
            let shares = parts.filter_map(|w| crossing(a, b, w[0], w[1]));
            if let Some(least) = shares.reduce(f64::min) {
                found.push((LEAST_MM + least * (GAP_MM - LEAST_MM), line));
            }
        }
        found.sort_by(|a, b| a.0.total_cmp(&b.0));
        found
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(40))]
        #[test]
        fn the_grid_finds_what_the_plain_search_finds(
            ends in prop::collection::vec(prop::array::uniform4(1.0..199.0f64), 2..9), ways in prop::collection::vec(0.0..360.0f64, 1..20)
        ) {
            let panel = made::uniform(0.0);
            let field = panel.field();
            let d = made::drawing(ends.iter().map(|e| made::straight((e[0], e[1]), (e[2], e[3]))).collect());
            let region = Region::new(&panel, &field, &d);
            let n = region.lines.len();
            let grid = Grid::new(&region, &vec![true; n]);
            for (line, traced) in region.lines.iter().enumerate() {
                for (i, deg) in ways.iter().enumerate() {
                    let (at, way) = (traced.points[i % traced.points.len()], crate::geometry::towards(*deg));
                    let want = plain_search(&region, at, way, line);
                    let close = |a: &[(f64, usize)], b: &[(f64, usize)]| {
                        a.len() == b.len() && a.iter().zip(b).all(|(x, y)| (x.0 - y.0).abs() < 1e-9 && x.1 == y.1)
                    };
                    let got = grid.cast(at, way, line, &vec![false; n]);
                    prop_assert!(close(&got, &want), "{got:?} for {want:?}");
                    // Where every line is sure, the nearest is all that is asked.
                    let got = grid.cast(at, way, line, &vec![true; n]);
                    prop_assert!(close(&got, &want[..want.len().min(1)]), "{got:?} for {want:?}");
                }
            }
        }
    }
}
