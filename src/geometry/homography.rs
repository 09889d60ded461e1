//! The projective map of one plane on another, from four or more pairs of places.
//!
//! Direct linear transformation with normalised places (R. Hartley and A. Zisserman, Multiple View Geometry,
//! 2nd ed. 2004, algorithm 4.2), in double precision. It minimises an algebraic error: with more than
//! four pairs it is a good start, not the maximum-likelihood fit.

use super::Point;
use nalgebra::{DMatrix, Matrix3, Vector3};

/// Below this (of the whole, after normalisation) a triangle counts as a line, a matrix as singular.
/// Four fiducials 4 mm from a common line on an A4 page still stand a hundred times above it.
const DEGENERATE: f64 = 1e-4;
/// A second vanishing direction of the equations, relative to the largest: places in a row, or repeated.
const SECOND_NULL: f64 = 1e-7;
/// Places to normalise to: mean distance from the middle (Hartley 1997).
const MEAN_DISTANCE: f64 = std::f64::consts::SQRT_2;

/// A projective map: `(x, y, 1)` goes to `m (x, y, 1)`, divided by its last component.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Homography {
    m: Matrix3<f64>,
}

/// Why no map could be fitted.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum FitError {
    #[error("{0} pairs of places do not fix a projective map; four are needed")]
    TooFew(usize),
    #[error("a place is not a finite number")]
    NotFinite,
    #[error("the places lie on a line or coincide: they fix no projective map")]
    Degenerate,
}

impl Homography {
    /// The map that takes each pair's first place to its second, as nearly as may be.
    ///
    /// # Errors
    /// Fewer than four pairs, a number that is not finite, or places that fix no map (three of four on a line).
    pub fn fit(pairs: &[(Point, Point)]) -> Result<Self, FitError> {
        if pairs.len() < 4 {
            return Err(FitError::TooFew(pairs.len()));
        }
        let from: Vec<Point> = pairs.iter().map(|p| p.0).collect();
        let to: Vec<Point> = pairs.iter().map(|p| p.1).collect();
        if from.iter().chain(&to).any(|p| !p.is_finite()) {
            return Err(FitError::NotFinite);
        }
        let (t, from) = normalise(&from).ok_or(FitError::Degenerate)?;
        let (u, to) = normalise(&to).ok_or(FitError::Degenerate)?;
        if pairs.len() == 4 && (has_three_in_a_row(&from) || has_three_in_a_row(&to)) {
            return Err(FitError::Degenerate);
        }
        let h = null_vector(&from, &to).ok_or(FitError::Degenerate)?;
        let h = h / h.norm();
        if h.determinant().abs() < DEGENERATE * DEGENERATE {
            return Err(FitError::Degenerate);
        }
        let u_inverse = u.try_inverse().ok_or(FitError::Degenerate)?;
        Ok(Self { m: scaled(u_inverse * h * t) })
    }

    /// The map with the given rows.
    pub fn from_rows(rows: [[f64; 3]; 3]) -> Self {
        Self { m: Matrix3::from_fn(|i, j| rows[i][j]) }
    }

    /// The rows of the matrix, scaled so that the last number is 1 where it is not nearly 0.
    pub fn rows(&self) -> [[f64; 3]; 3] {
        [0, 1, 2].map(|i| [0, 1, 2].map(|j| self.m[(i, j)]))
    }

    /// Where a place goes. A place on the map's horizon goes to infinity.
    pub fn apply(&self, p: Point) -> Point {
        let m = &self.m;
        let w = m[(2, 0)] * p.x + m[(2, 1)] * p.y + m[(2, 2)];
        Point::new(
            (m[(0, 0)] * p.x + m[(0, 1)] * p.y + m[(0, 2)]) / w,
            (m[(1, 0)] * p.x + m[(1, 1)] * p.y + m[(1, 2)]) / w,
        )
    }

    /// The map back; `None` where the matrix is singular.
    pub fn inverse(&self) -> Option<Self> {
        self.m.try_inverse().map(|m| Self { m: scaled(m) })
    }

    /// This map, then `next`.
    pub fn then(&self, next: &Self) -> Self {
        Self { m: scaled(next.m * self.m) }
    }
}

/// The same map with a last number of 1, where that number is not vanishing beside the others.
fn scaled(m: Matrix3<f64>) -> Matrix3<f64> {
    let last = m[(2, 2)];
    if last.abs() > f64::EPSILON * m.norm() { m / last } else { m / m.norm() }
}

/// Places moved to a middle of 0 and a mean distance of [`MEAN_DISTANCE`], and the matrix that does it.
fn normalise(places: &[Point]) -> Option<(Matrix3<f64>, Vec<Point>)> {
    let n = places.len() as f64;
    let middle = places.iter().fold(Point::ZERO, |s, p| s + p.to_vec2() / n).to_vec2();
    let mean = places.iter().map(|p| (p.to_vec2() - middle).hypot()).sum::<f64>() / n;
    let s = MEAN_DISTANCE / mean;
    if !(s.is_finite() && s > 0.0) {
        return None;
    }
    let t = Matrix3::new(s, 0., -s * middle.x, 0., s, -s * middle.y, 0., 0., 1.);
    Some((t, places.iter().map(|p| ((p.to_vec2() - middle) * s).to_point()).collect()))
}

fn has_three_in_a_row(four: &[Point]) -> bool {
    (0..4).any(|left_out| {
        let p: Vec<Point> = (0..4).filter(|&i| i != left_out).map(|i| four[i]).collect();
        (p[1] - p[0]).cross(p[2] - p[0]).abs() < DEGENERATE
    })
}

/// The map that makes the equations `to x (H from) = 0` vanish best; `None` where two different ones do.
fn null_vector(from: &[Point], to: &[Point]) -> Option<Matrix3<f64>> {
    // At least nine rows, or the decomposition leaves the null vector out.
    let mut a = DMatrix::<f64>::zeros((2 * from.len()).max(9), 9);
    for (i, (p, q)) in from.iter().zip(to).enumerate() {
        let v = Vector3::new(p.x, p.y, 1.0);
        for k in 0..3 {
            a[(2 * i, 3 + k)] = -v[k];
            a[(2 * i, 6 + k)] = q.y * v[k];
            a[(2 * i + 1, k)] = v[k];
            a[(2 * i + 1, 6 + k)] = -q.x * v[k];
        }
    }
    let svd = a.try_svd(false, true, f64::EPSILON, 1000)?;
    let v_t = svd.v_t?;
    let mut order: Vec<usize> = (0..9).collect();
    order.sort_by(|&i, &j| svd.singular_values[i].total_cmp(&svd.singular_values[j]));
    if svd.singular_values[order[1]] < SECOND_NULL * svd.singular_values[order[8]] {
        return None;
    }
    Some(Matrix3::from_fn(|i, j| v_t[(order[0], 3 * i + j)]))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn close(a: Point, b: Point, mm: f64) -> bool {
        (a - b).hypot() < mm
    }

    fn square() -> [Point; 4] {
        [(12., 12.), (285., 12.), (285., 198.), (12., 198.)].map(|(x, y)| Point::new(x, y))
    }

    proptest! {
        #[test]
        fn four_or_five_moved_corners_are_found_again(
            d in prop::array::uniform8(-60.0..60.0f64), inner in (30.0..250.0f64, 30.0..180.0f64)
        ) {
            let to: Vec<Point> =
                square().iter().enumerate().map(|(i, p)| Point::new(p.x * 8. + d[2 * i], p.y * 8. + d[2 * i + 1])).collect();
            let pairs: Vec<_> = square().into_iter().zip(to).collect();
            let h = Homography::fit(&pairs).unwrap();
            for (p, q) in &pairs {
                prop_assert!(close(h.apply(*p), *q, 1e-8));
                prop_assert!(close(h.inverse().unwrap().apply(*q), *p, 1e-8));
            }
            let inner = Point::new(inner.0, inner.1);
            let five: Vec<_> = pairs.iter().copied().chain([(inner, h.apply(inner))]).collect();
            let g = Homography::fit(&five).unwrap();
            prop_assert!(close(g.apply(Point::new(100., 50.)), h.apply(Point::new(100., 50.)), 1e-7));
            let back = h.then(&h.inverse().unwrap());
            prop_assert!(close(back.apply(inner), inner, 1e-8));
        }
    }

    #[test]
    fn noise_on_many_pairs_averages_out() {
        let h = Homography::from_rows([[8., 0.3, 20.], [-0.2, 8.1, 15.], [1e-4, 2e-4, 1.]]);
        let pairs: Vec<_> = (0..100)
            .map(|i| {
                let p = Point::new((i % 10) as f64 * 28., (i / 10) as f64 * 19.);
                let noise = Point::new((i as f64 * 1.7).sin(), (i as f64 * 2.3).cos()) - Point::ZERO;
                (p, h.apply(p) + noise)
            })
            .collect();
        let fitted = Homography::fit(&pairs).unwrap();
        let p = Point::new(120., 80.);
        assert!(close(fitted.apply(p), h.apply(p), 0.4), "{:?} {:?}", fitted.apply(p), h.apply(p));
    }

    #[test]
    fn places_that_fix_no_map_are_refused() {
        let p = square();
        let pair = |a: [Point; 4], b: [Point; 4]| a.into_iter().zip(b).collect::<Vec<_>>();
        assert_eq!(Homography::fit(&pair(p, p)[..3]), Err(FitError::TooFew(3)));
        let mut row = p;
        row[2] = p[0].lerp(p[1], 0.3);
        assert_eq!(Homography::fit(&pair(row, p)), Err(FitError::Degenerate));
        assert_eq!(Homography::fit(&pair(p, row)), Err(FitError::Degenerate));
        assert_eq!(Homography::fit(&pair([p[0]; 4], p)), Err(FitError::Degenerate));
        let mut nan = p;
        nan[1].x = f64::NAN;
        assert_eq!(Homography::fit(&pair(nan, p)), Err(FitError::NotFinite));
        let five_in_a_row: Vec<_> =
            (0..5).map(|i| (Point::new(i as f64, 2. * i as f64), Point::new(i as f64, 0.))).collect();
        assert_eq!(Homography::fit(&five_in_a_row), Err(FitError::Degenerate));
    }
}
