//! How far apart two curves lie, taken over their vertices.

use super::Point;

/// The discrete Fréchet distance: the shortest leash with which two walkers, each going from vertex to
/// vertex of its own curve and never back, get from start to end.
///
/// T. Eiter and H. Mannila, Computing discrete Fréchet distance, TU Wien report CD-TR 94/64 (1994): their
/// recurrence, row by row, so memory grows with one curve only. `None` when either curve is empty.
pub fn discrete_frechet(p: &[Point], q: &[Point]) -> Option<f64> {
    if p.is_empty() || q.is_empty() {
        return None;
    }
    let mut row = vec![0.0f64; q.len()];
    for (i, a) in p.iter().enumerate() {
        // `row[j]` still holds the row above when it is read.
        let mut diagonal = 0.0;
        for (j, b) in q.iter().enumerate() {
            let above = row[j];
            let reach = match (i, j) {
                (0, 0) => 0.0,
                (0, _) => row[j - 1],
                (_, 0) => above,
                _ => above.min(row[j - 1]).min(diagonal),
            };
            row[j] = reach.max((*a - *b).hypot());
            diagonal = above;
        }
    }
    row.last().copied()
}

/// The largest distance of a vertex of `p` from its nearest vertex of `q`. `None` when either is empty.
pub fn directed_hausdorff(p: &[Point], q: &[Point]) -> Option<f64> {
    if q.is_empty() {
        return None;
    }
    p.iter()
        .map(|a| q.iter().map(|b| (*a - *b).hypot2()).fold(f64::INFINITY, f64::min))
        .reduce(f64::max)
        .map(f64::sqrt)
}

/// The Hausdorff distance over vertices: the larger of the two directed ones. `None` when either is empty.
pub fn hausdorff(p: &[Point], q: &[Point]) -> Option<f64> {
    Some(directed_hausdorff(p, q)?.max(directed_hausdorff(q, p)?))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// The definition, literally: try every coupling.
    fn frechet_reference(p: &[Point], q: &[Point]) -> f64 {
        let here = (p[0] - q[0]).hypot();
        let mut best = f64::INFINITY;
        if p.len() > 1 {
            best = best.min(frechet_reference(&p[1..], q));
        }
        if q.len() > 1 {
            best = best.min(frechet_reference(p, &q[1..]));
        }
        if p.len() > 1 && q.len() > 1 {
            best = best.min(frechet_reference(&p[1..], &q[1..]));
        }
        if p.len() == 1 && q.len() == 1 { here } else { here.max(best) }
    }

    fn curve() -> impl Strategy<Value = Vec<Point>> {
        prop::collection::vec((-9.0..9.0f64, -9.0..9.0f64).prop_map(|(x, y)| Point::new(x, y)), 1..7)
    }

    proptest! {
        #[test]
        fn the_recurrence_equals_trying_every_coupling(p in curve(), q in curve()) {
            prop_assert_eq!(discrete_frechet(&p, &q).unwrap(), frechet_reference(&p, &q));
        }

        #[test]
        fn hausdorff_is_symmetric_and_below_frechet(p in curve(), q in curve()) {
            let h = hausdorff(&p, &q).unwrap();
            prop_assert_eq!(h, hausdorff(&q, &p).unwrap());
            prop_assert!(h <= discrete_frechet(&p, &q).unwrap() + 1e-12);
        }
    }

    #[test]
    fn nothing_has_no_distance() {
        assert_eq!(discrete_frechet(&[], &[Point::ZERO]), None);
        assert_eq!(hausdorff(&[Point::ZERO], &[]), None);
        assert_eq!(directed_hausdorff(&[], &[Point::ZERO]), None);
    }
}
