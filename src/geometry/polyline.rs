//! Lines as points joined by straight pieces: length, even spacing, nearest place.
//!
//! Lengths in the unit of the points (millimetres on the page everywhere in this program). All functions
//! are total: an empty line gives an empty line or `None`.

use super::{Point, Vec2};

/// Most points that [`resample`] gives: a page-long line at a hundredth of a millimetre has 30 000.
pub const MAX_POINTS: usize = 1 << 18;

/// Length along the line.
pub fn length(line: &[Point]) -> f64 {
    line.windows(2).map(|w| (w[1] - w[0]).hypot()).sum()
}

/// Length along the line up to each of its points; the first is 0.
pub fn arc_lengths(line: &[Point]) -> Vec<f64> {
    let mut at = Vec::with_capacity(line.len());
    let mut sum = 0.0;
    for (i, p) in line.iter().enumerate() {
        if i > 0 {
            sum += (*p - line[i - 1]).hypot();
        }
        at.push(sum);
    }
    at
}

/// The same line with evenly spaced points, about `step` apart: both ends kept, `round(length / step)` pieces,
/// at least one, at most [`MAX_POINTS`] points.
///
/// An empty line, or a length or step that is no positive finite number, gives back what came in.
///
/// ```
/// # use lodemark::geometry::{Point, polyline::resample};
/// let bent = [Point::new(0., 0.), Point::new(3., 0.), Point::new(3., 1.)];
/// assert_eq!(resample(&bent, 2.0), [Point::new(0., 0.), Point::new(2., 0.), Point::new(3., 1.)]);
/// ```
pub fn resample(line: &[Point], step: f64) -> Vec<Point> {
    let total = length(line);
    if line.len() < 2 || !(total.is_finite() && step > 0.0) {
        return line.to_vec();
    }
    let pieces = (total / step).round_ties_even().clamp(1.0, (MAX_POINTS - 1) as f64) as usize;
    let mut out = Vec::with_capacity(pieces + 1);
    out.push(line[0]);
    let (mut i, mut before, mut piece) = (0, 0.0, (line[1] - line[0]).hypot());
    for k in 1..pieces {
        let want = total * k as f64 / pieces as f64;
        while before + piece < want && i + 2 < line.len() {
            before += piece;
            i += 1;
            piece = (line[i + 1] - line[i]).hypot();
        }
        let t = if piece > 0.0 { ((want - before) / piece).clamp(0.0, 1.0) } else { 0.0 };
        out.push(line[i].lerp(line[i + 1], t));
    }
    out.push(line[line.len() - 1]);
    out
}

/// The place `at` along the line, held to its two ends.
pub fn point_at(line: &[Point], at: f64) -> Option<Point> {
    let mut left = at;
    for w in line.windows(2) {
        let piece = (w[1] - w[0]).hypot();
        if left <= piece {
            let t = if piece > 0.0 { (left / piece).max(0.0) } else { 0.0 };
            return Some(w[0].lerp(w[1], t));
        }
        left -= piece;
    }
    line.last().copied()
}

/// The line's first part, as long as given; all of a line that is no longer.
pub fn start(line: &[Point], long: f64) -> Vec<Point> {
    let mut part: Vec<Point> = line.first().copied().into_iter().collect();
    let mut left = long;
    for w in line.windows(2) {
        let piece = (w[1] - w[0]).hypot();
        if piece >= left {
            part.push(w[0].lerp(w[1], if piece > 0.0 { left / piece } else { 0.0 }));
            break;
        }
        part.push(w[1]);
        left -= piece;
    }
    part
}

/// The place on the straight piece from `a` to `b` that is nearest to `p`, as the share of the way from `a`.
pub fn nearest_share(p: Point, a: Point, b: Point) -> f64 {
    let d = b - a;
    let square = d.hypot2();
    if square > 0.0 { ((p - a).dot(d) / square).clamp(0.0, 1.0) } else { 0.0 }
}

/// Distance of a place from the straight piece between `a` and `b`.
pub fn segment_distance(p: Point, a: Point, b: Point) -> f64 {
    (p - a.lerp(b, nearest_share(p, a, b))).hypot()
}

/// The place on a line that is nearest to some other place.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Nearest {
    pub point: Point,
    /// Index of the first point of the piece it lies on.
    pub segment: usize,
    /// How far along that piece, 0 to 1.
    pub share: f64,
    pub distance: f64,
}

/// The nearest place of the line; of several the first. `None` for an empty line.
pub fn nearest(p: Point, line: &[Point]) -> Option<Nearest> {
    let first = *line.first()?;
    let mut best = Nearest { point: first, segment: 0, share: 0.0, distance: (p - first).hypot2() };
    for (segment, w) in line.windows(2).enumerate() {
        let share = nearest_share(p, w[0], w[1]);
        let point = w[0].lerp(w[1], share);
        let distance = (p - point).hypot2();
        if distance < best.distance {
            best = Nearest { point, segment, share, distance };
        }
    }
    best.distance = best.distance.sqrt();
    Some(best)
}

/// Distance of a place from a line; infinite for an empty line.
pub fn distance(p: Point, line: &[Point]) -> f64 {
    nearest(p, line).map_or(f64::INFINITY, |n| n.distance)
}

/// Unit steps along the line at each of its points: the chord between the neighbours (one-sided at the ends).
/// Zero where the neighbours coincide.
pub fn tangents(line: &[Point]) -> Vec<Vec2> {
    let last = line.len().saturating_sub(1);
    (0..line.len())
        .map(|i| {
            let d = line[(i + 1).min(last)] - line[i.saturating_sub(1)];
            let n = d.hypot();
            if n > 0.0 { d / n } else { Vec2::ZERO }
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn line(xy: &[(f64, f64)]) -> Vec<Point> {
        xy.iter().map(|&(x, y)| Point::new(x, y)).collect()
    }

    #[test]
    fn the_start_of_a_line_is_as_long_as_asked_for() {
        let bent = [Point::new(0., 0.), Point::new(3., 0.), Point::new(3., 4.)];
        assert_eq!(start(&bent, 5.0), [Point::new(0., 0.), Point::new(3., 0.), Point::new(3., 2.)]);
        assert_eq!(start(&bent, 9.0), bent);
        assert_eq!(start(&[], 1.0), []);
    }

    #[test]
    fn length_of_a_three_four_five_corner() {
        let l = line(&[(0., 0.), (3., 4.), (3., 10.)]);
        assert_eq!(length(&l), 11.0);
        assert_eq!(arc_lengths(&l), [0.0, 5.0, 11.0]);
        assert_eq!(length(&l[..1]), 0.0);
    }

    #[test]
    fn resampled_points_lie_evenly_on_the_line_and_keep_the_ends() {
        let l: Vec<Point> = (0..200)
            .map(|i| (i as f64 / 30.0).sin_cos())
            .map(|(s, c)| Point::new(40.0 * c, 25.0 * s))
            .collect();
        for step in [0.3, 0.5, 2.0, 7.0] {
            let r = resample(&l, step);
            assert_eq!((r[0], r[r.len() - 1]), (l[0], l[l.len() - 1]));
            assert!(r.iter().all(|p| distance(*p, &l) < 1e-9));
            let at: Vec<f64> = r
                .iter()
                .map(|p| {
                    let n = nearest(*p, &l).unwrap();
                    arc_lengths(&l)[n.segment] + n.share * (l[n.segment + 1] - l[n.segment]).hypot()
                })
                .collect();
            let even = length(&l) / (r.len() - 1) as f64;
            // The ellipse's parameter turns past a full round: skip where two rounds lie on each other.
            for (k, w) in at.windows(2).enumerate() {
                let d = w[1] - w[0];
                assert!((d - even).abs() < 1e-6 || d.abs() > 100.0, "piece {k}: {d} for {even}");
            }
        }
    }

    #[test]
    fn degenerate_lines_come_back_unharmed() {
        assert!(resample(&[], 0.5).is_empty());
        let one = line(&[(1., 2.)]);
        assert_eq!(resample(&one, 0.5), one);
        let still = line(&[(1., 2.), (1., 2.), (1., 2.)]);
        assert_eq!(resample(&still, 0.5), line(&[(1., 2.), (1., 2.)]));
        assert_eq!(resample(&line(&[(0., 0.), (9e9, 0.)]), 1e-6).len(), MAX_POINTS);
        assert_eq!(resample(&line(&[(0., 0.), (f64::NAN, 0.)]), 1.0).len(), 2);
        assert!(nearest(Point::ZERO, &[]).is_none());
        assert_eq!(distance(Point::ZERO, &[]), f64::INFINITY);
    }

    #[test]
    fn nearest_place_lies_on_the_right_piece() {
        let l = line(&[(0., 0.), (10., 0.), (10., 10.)]);
        let n = nearest(Point::new(12., 4.), &l).unwrap();
        assert_eq!((n.point, n.segment, n.share, n.distance), (Point::new(10., 4.), 1, 0.4, 2.0));
        assert_eq!(segment_distance(Point::new(-3., 4.), l[0], l[1]), 5.0);
        assert_eq!(segment_distance(Point::new(3., 4.), l[0], l[0]), 5.0);
        assert_eq!(point_at(&l, 14.0), Some(Point::new(10., 4.)));
        assert_eq!(point_at(&l, 99.0), Some(Point::new(10., 10.)));
    }
}
