//! Places in a plane where the field vanishes.
//!
//! A coarse search, then Newton's method. A cell of the grid is tried where the field turns once round as
//! one goes round the cell (its index is not 0: a saddle -1, a source or sink +1), and where the field is
//! weaker than at all eight neighbours: two points in one cell cancel in the first test, not in the second.

use crate::geometry::{Point, Rect, Vec2};

/// Side of a cell, mm: neutral points of magnets on a sheet lie several millimetres apart.
const CELL_MM: f64 = 1.5;
/// Two answers nearer than this are one.
const SAME_MM: f64 = 0.1;
/// Half the base of the difference quotients, mm.
const SHIFT_MM: f64 = 1e-3;
/// Newton stops at a step below this, mm.
const DONE_MM: f64 = 1e-10;
const MOST_STEPS: usize = 40;
/// A step beyond this many cells leaves the neighbourhood that was searched.
const LONGEST_STEP_MM: f64 = 2.0 * CELL_MM;
/// Most cells a side: a frame is at most some 300 mm.
const MOST_CELLS: f64 = 2000.0;

/// The neutral points inside `region` where `allowed`, from top to bottom, then left to right.
///
/// `b` gives the in-plane field at many places; only its zeros matter, not its unit.
pub fn find(b: impl Fn(&[Point]) -> Vec<Vec2>, region: Rect, allowed: impl Fn(Point) -> bool) -> Vec<Point> {
    if !(region.width() > 0.0 && region.height() > 0.0 && region.is_finite()) {
        return Vec::new();
    }
    let grid = Grid::over(region);
    let field = b(&grid.points());
    let scale = median_size(&field);
    let mut found: Vec<Point> = Vec::new();
    for start in grid.candidates(&field) {
        if !allowed(start) && !grid.near(start).any(&allowed) {
            continue;
        }
        if let Some(p) = newton(&b, start, scale)
            && region.contains(p)
            && allowed(p)
            && found.iter().all(|q| (p - *q).hypot() > SAME_MM)
        {
            found.push(p);
        }
    }
    found.sort_by(|p, q| p.y.total_cmp(&q.y).then(p.x.total_cmp(&q.x)));
    found
}

/// Places evenly over a rectangle, a row after the other, one beyond each side.
struct Grid {
    origin: Point,
    step: Vec2,
    columns: usize,
    rows: usize,
}

impl Grid {
    fn over(region: Rect) -> Self {
        let cells = |side: f64| (side / CELL_MM).ceil().clamp(1.0, MOST_CELLS);
        let (nx, ny) = (cells(region.width()), cells(region.height()));
        let step = Vec2::new(region.width() / nx, region.height() / ny);
        Self {
            origin: Point::new(region.x0, region.y0) - step,
            step,
            columns: nx as usize + 3,
            rows: ny as usize + 3,
        }
    }

    fn at(&self, i: usize, j: usize) -> Point {
        self.origin + Vec2::new(self.step.x * i as f64, self.step.y * j as f64)
    }

    fn points(&self) -> Vec<Point> {
        (0..self.rows).flat_map(|j| (0..self.columns).map(move |i| self.at(i, j))).collect()
    }

    /// The corners of a cell about `p`.
    fn near(&self, p: Point) -> impl Iterator<Item = Point> {
        let s = self.step;
        [(-1., -1.), (1., -1.), (-1., 1.), (1., 1.)]
            .into_iter()
            .map(move |(x, y)| p + Vec2::new(x * s.x, y * s.y))
    }

    /// Where Newton's method is worth a start.
    fn candidates(&self, field: &[Vec2]) -> Vec<Point> {
        let at = |i: usize, j: usize| field[j * self.columns + i];
        let mut out = Vec::new();
        for j in 0..self.rows - 1 {
            for i in 0..self.columns - 1 {
                let round = [at(i, j), at(i + 1, j), at(i + 1, j + 1), at(i, j + 1)];
                if index(round) != 0 {
                    out.push(self.at(i, j) + 0.5 * self.step);
                }
                if i > 0 && j > 0 {
                    let here = at(i, j).hypot2();
                    let weakest = (j - 1..=j + 1)
                        .flat_map(|y| (i - 1..=i + 1).map(move |x| (x, y)))
                        .all(|(x, y)| here <= at(x, y).hypot2());
                    if weakest {
                        out.push(self.at(i, j));
                    }
                }
            }
        }
        out
    }
}

/// How often the field turns round along the four corners, anticlockwise as the corners go.
fn index(round: [Vec2; 4]) -> i32 {
    // A component of one sign all round leaves half the circle out.
    let one_sign =
        |part: fn(Vec2) -> f64| round.iter().all(|v| part(*v) > 0.0) || round.iter().all(|v| part(*v) < 0.0);
    if one_sign(|v| v.x) || one_sign(|v| v.y) {
        return 0;
    }
    let turn: f64 = (0..4)
        .map(|k| {
            let (a, b) = (round[k], round[(k + 1) % 4]);
            a.cross(b).atan2(a.dot(b))
        })
        .sum();
    (turn / std::f64::consts::TAU).round() as i32
}

fn median_size(field: &[Vec2]) -> f64 {
    let mut sizes: Vec<f64> = field.iter().map(|v| v.hypot()).collect();
    let middle = sizes.len() / 2;
    *sizes.select_nth_unstable_by(middle, f64::total_cmp).1
}

/// The zero near `start`; `None` if the steps run off or end where the field does not vanish beside `scale`.
fn newton(b: &impl Fn(&[Point]) -> Vec<Vec2>, start: Point, scale: f64) -> Option<Point> {
    /// Field left at a zero, of the median in the frame; a jump of the field at a face leaves far more.
    const VANISHES: f64 = 1e-6;
    let mut p = start;
    for _ in 0..MOST_STEPS {
        let (dx, dy) = (Vec2::new(SHIFT_MM, 0.0), Vec2::new(0.0, SHIFT_MM));
        let v = b(&[p, p + dx, p - dx, p + dy, p - dy]);
        let (jx, jy) = ((v[1] - v[2]) / (2.0 * SHIFT_MM), (v[3] - v[4]) / (2.0 * SHIFT_MM));
        let det = jx.cross(jy);
        let step = Vec2::new(v[0].cross(jy), jx.cross(v[0])) / -det;
        if !step.is_finite() || step.hypot() > LONGEST_STEP_MM {
            return None;
        }
        p += step;
        if step.hypot() < DONE_MM {
            break;
        }
    }
    let left = b(&[p])[0].hypot();
    (left <= VANISHES * scale).then_some(p)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A field whose zeros algebra gives: each is found, once.
    #[test]
    fn zeros_of_a_polynomial_field_are_found_once_each() {
        // z² - c² as a complex number, c = 30 + 12i, about (100, 80): zeros at ± c; index +1 each.
        let (c, middle) = ((30.0, 12.0), Point::new(100.0, 80.0));
        let b = |ps: &[Point]| {
            ps.iter()
                .map(|p| {
                    let (x, y) = (p.x - middle.x, p.y - middle.y);
                    Vec2::new(x * x - y * y - (c.0 * c.0 - c.1 * c.1), 2.0 * (x * y - c.0 * c.1))
                })
                .collect::<Vec<_>>()
        };
        let found = find(b, Rect::new(20., 20., 180., 140.), |_| true);
        assert_eq!(found.len(), 2);
        assert!((found[0] - Point::new(70., 68.)).hypot() < 1e-9);
        assert!((found[1] - Point::new(130., 92.)).hypot() < 1e-9);
        assert_eq!(find(b, Rect::new(20., 20., 180., 140.), |p| p.x > 100.).len(), 1);
        assert!(find(b, Rect::new(90., 20., 110., 140.), |_| true).is_empty());
    }

    #[test]
    fn an_even_field_and_an_empty_region_have_none() {
        let even = |ps: &[Point]| vec![Vec2::new(0.018, 0.0); ps.len()];
        assert!(find(even, Rect::new(0., 0., 100., 100.), |_| true).is_empty());
        assert!(find(even, Rect::ZERO, |_| true).is_empty());
    }
}
