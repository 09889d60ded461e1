//! Crumbs of ink that a black-and-white copier left of faint strokes are followed like a trail.
//!
//! Where a copier's threshold lies near a pencil's darkness, a stroke comes out as crumbs with white between them, many of them
//! smaller than dust. One of them says nothing, but a row of them does: a blank place belongs to a stroke when along some arc
//! through it crumbs lie both before and behind, as many as along any arc beside it (the association field of Field DJ,
//! Hayes A, Hess RF (1993) Vision Res. 33, 173-193, for the idea).

use super::Bitmap;

/// Contrast from which on a pixel of a black-and-white page, smoothed, is part of a crumb: its paper has none.
const CRUMB_LEVEL: u8 = 8;
/// A crumb is no larger than this, pixels (12 mm2). Empirical: of a page's ink half hangs together in pieces of less than 700
/// pixels on pages that crumbled, of more than 1200, and mostly of some thousands, on others.
const CRUMB_PX: usize = 750;
/// With fewer of them a page shows dust, not strokes.
const LEAST_CRUMBS: usize = 60;
/// Side of a cell, pixels: a quarter of a millimetre.
const CELL_PX: usize = 2;
/// Arcs go so far to each side, cells (6 mm); so many directions are tried, and these bends, radians a cell (the
/// tightest is that of a circle of 12.5 mm radius).
const REACH: usize = 24;
const DIRECTIONS: usize = 24;
const BENDS: [f64; 7] = [-0.02, -0.01, -0.005, 0.0, 0.005, 0.01, 0.02];
/// On an arc so many cells to each side have a crumb in them or beside them, of which a small crumb makes three. Empirical, as
/// the next: on 96 faint pages 7 and 12 cells instead found as many lines and made more heads that were none.
const LEAST_ON_SIDE: u32 = 9;
/// The widest blank between the nearest crumbs before and behind, cells (4 mm).
const WIDEST_BLANK: usize = 16;
/// A place is filled that has this share of the crumbs along any arc through places so many cells across its own.
const RIDGE_SHARE: f64 = 0.85;
const ACROSS: usize = 3;
/// More cells with crumbs than this share of all, or more cells near to trails, are no trails but a picture or noise. Of 64
/// crumbled ones the fullest page had 0.028 and 167,000.
const MOST_SHARE: f64 = 0.05;
const MOST_PLACES: usize = 400_000;
/// Cells round the grid, so that no arc leaves it.
const RIM: usize = REACH + 2;

/// Whether at least half of a black-and-white page's ink hangs together in no more than crumbs. `contrast`: before it was
/// split into ink and paper.
pub fn is_crumbled(contrast: &Bitmap, print: &Bitmap) -> bool {
    let mut left = contrast.clone();
    for (cell, &covered) in left.cells.iter_mut().zip(&print.cells) {
        *cell = u8::from(*cell >= CRUMB_LEVEL && covered == 0);
    }
    let (mut crumbs, mut in_crumbs, mut all, mut group) = (0, 0, 0, Vec::new());
    for start in left.ink_indices() {
        if left.cells[start] != 0 {
            left.take_group(start, &mut group);
            all += group.len();
            if group.len() <= CRUMB_PX {
                crumbs += 1;
                in_crumbs += group.len();
            }
        }
    }
    crumbs >= LEAST_CRUMBS && 2 * in_crumbs >= all
}

/// Fills the blanks of trails. `contrast`: as for [`is_crumbled`].
pub fn follow(contrast: &Bitmap, print: &Bitmap, ink: &mut Bitmap) {
    let grid = Grid::of(contrast, print);
    let crumbs: Vec<usize> = (0..grid.crumbs.len()).filter(|&i| grid.crumbs[i] != 0).collect();
    if crumbs.len() as f64 > MOST_SHARE * grid.crumbs.len() as f64 {
        return;
    }
    let arcs = arcs(grid.stride as isize);
    // Dust lies on no trail: what is near to it need not be looked at.
    let on_trails: Vec<usize> = crumbs.into_iter().filter(|&i| grid.strongest(&arcs, i).crumbs > 0).collect();
    let places = grid.near(&on_trails);
    if places.len() > MOST_PLACES {
        return;
    }
    let mut best = vec![Trail::default(); grid.crumbs.len()];
    for &i in &places {
        best[i] = grid.strongest(&arcs, i);
    }
    for &i in places.iter().filter(|&&i| best[i].crumbs > 0 && grid.is_ridge(&best, i)) {
        let (x, y) = (i % grid.stride - RIM, i / grid.stride - RIM);
        for (px, py) in (0..CELL_PX * CELL_PX).map(|k| (CELL_PX * x + k % CELL_PX, CELL_PX * y + k / CELL_PX))
        {
            if px < ink.width && py < ink.height && !print.get(px, py) {
                ink.set(px, py, true);
            }
        }
    }
}

/// The cells with a crumb in them or beside them on both sides of an arc; its number among the directions.
#[derive(Clone, Copy, Default)]
struct Trail {
    crumbs: u32,
    direction: usize,
}

/// An arc through a cell: the cells before it and behind it as steps in a grid, nearest first.
struct Arc {
    direction: usize,
    sides: [Vec<isize>; 2],
}

fn arcs(stride: isize) -> Vec<Arc> {
    // A circle's chord turns half as much as the circle.
    let step = |way: f64, bend: f64, s: f64| {
        let (sin, cos) = (way + 0.5 * bend * s).sin_cos();
        (s * sin).round() as isize * stride + (s * cos).round() as isize
    };
    let of = |direction: usize, bend: f64| {
        let way = angle(direction);
        let side = |sign: f64| (1..=REACH).map(|r| step(way, bend, sign * r as f64)).collect();
        Arc { direction, sides: [side(-1.0), side(1.0)] }
    };
    (0..DIRECTIONS).flat_map(|k| BENDS.map(|bend| of(k, bend))).collect()
}

fn angle(direction: usize) -> f64 {
    direction as f64 / DIRECTIONS as f64 * std::f64::consts::PI
}

/// Crumbs by cell.
struct Grid {
    stride: usize,
    /// 1 where a crumb lies in the cell.
    crumbs: Vec<u8>,
    /// 1 where one lies in it or beside it.
    beside: Vec<u8>,
}

impl Grid {
    fn of(contrast: &Bitmap, print: &Bitmap) -> Self {
        let [columns, rows] = [contrast.width, contrast.height].map(|n| n.div_ceil(CELL_PX) + 2 * RIM);
        let mut crumbs = vec![0; columns * rows];
        for y in 0..contrast.height {
            let (levels, covered) = (contrast.row(y), print.row(y));
            for x in (0..contrast.width).filter(|&x| levels[x] >= CRUMB_LEVEL && covered[x] == 0) {
                crumbs[(y / CELL_PX + RIM) * columns + x / CELL_PX + RIM] = 1;
            }
        }
        let mut beside = crumbs.clone();
        for i in (0..crumbs.len()).filter(|&i| crumbs[i] != 0) {
            for row in [i - columns, i, i + columns] {
                beside[row - 1..=row + 1].fill(1);
            }
        }
        Self { stride: columns, crumbs, beside }
    }

    /// Cells in which half of a blank may lie, in order.
    fn near(&self, crumbs: &[usize]) -> Vec<usize> {
        let reach = WIDEST_BLANK / 2;
        let rows = self.crumbs.len() / self.stride;
        let span = |at: usize, cells: usize| (at - reach).max(RIM)..(at + reach + 1).min(cells - RIM);
        let mut marked = vec![false; self.crumbs.len()];
        for &i in crumbs {
            let columns = span(i % self.stride, self.stride);
            for row in span(i / self.stride, rows) {
                marked[row * self.stride..][columns.clone()].fill(true);
            }
        }
        (0..marked.len()).filter(|&i| marked[i]).collect()
    }

    /// Of the arcs through a cell that lead over a blank or along ink, the one with the most crumbs.
    fn strongest(&self, arcs: &[Arc], i: usize) -> Trail {
        let at = |o: isize| self.beside[(i as isize + o) as usize];
        let blank = |side: &[isize]| side[..=WIDEST_BLANK].iter().position(|&o| at(o) != 0);
        let count = |side: &[isize]| side.iter().map(|&o| u32::from(at(o))).sum::<u32>();
        let mut best = Trail::default();
        for Arc { direction, sides: [before, behind] } in arcs {
            let (Some(a), Some(b)) = (blank(before), blank(behind)) else { continue };
            if a + b > WIDEST_BLANK {
                continue;
            }
            let sides = [count(before), count(behind)];
            let crumbs = sides[0] + sides[1];
            if sides.iter().all(|&n| n >= LEAST_ON_SIDE) && crumbs > best.crumbs {
                best = Trail { crumbs, direction: *direction };
            }
        }
        best
    }

    /// Whether no place across the arc has many more crumbs along its own.
    fn is_ridge(&self, best: &[Trail], i: usize) -> bool {
        let (sin, cos) = angle(best[i].direction).sin_cos();
        let across = |r: f64| (r * cos).round() as isize * self.stride as isize - (r * sin).round() as isize;
        (1..=ACROSS).flat_map(|r| [r as f64, -(r as f64)]).all(|r| {
            let other = best[(i as isize + across(r)) as usize].crumbs;
            f64::from(best[i].crumbs) >= RIDGE_SHARE * f64::from(other)
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::ops::Range;

    /// Crumbs of 2 by 2 pixels every so many pixels along three level lines, 40 pixels apart.
    fn crumbs(every: usize) -> Bitmap {
        let mut b = Bitmap::new(600, 200);
        for y in [40, 80, 120] {
            (40..560).step_by(every).for_each(|x| darken(&mut b, x..x + 2, y..y + 2));
        }
        b
    }

    fn darken(b: &mut Bitmap, columns: Range<usize>, rows: Range<usize>) {
        rows.for_each(|y| b.row_mut(y)[columns.clone()].fill(90));
    }

    #[test]
    fn a_row_of_crumbs_is_a_stroke_and_its_ends_do_not_grow() {
        let (contrast, print) = (crumbs(10), Bitmap::new(600, 200));
        assert!(is_crumbled(&contrast, &print));
        let mut ink = Bitmap::new(600, 200);
        follow(&contrast, &print, &mut ink);
        for y in [40, 80, 120] {
            let filled = |x: usize| (y - 3..=y + 4).any(|y| ink.get(x, y));
            assert!((80..520).all(filled), "row {y}");
            assert!(!(0..34).any(filled) && !(570..600).any(filled), "row {y} grew");
        }
        assert!((0..600).all(|x| !ink.get(x, 60) && !ink.get(x, 100)), "rows ran together");
    }

    #[test]
    fn dust_is_no_trail_and_a_whole_stroke_no_crumb() {
        let print = Bitmap::new(600, 200);
        let mut ink = Bitmap::new(600, 200);
        follow(&crumbs(60), &print, &mut ink);
        assert!(ink.ink_indices().is_empty());
        let mut whole = crumbs(10);
        darken(&mut whole, 0..600, 150..160);
        assert!(!is_crumbled(&whole, &print));
    }
}
