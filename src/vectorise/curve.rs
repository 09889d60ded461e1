//! Pixel chains to smooth curves, evenly spaced along their length.

use crate::geometry::Point;

/// Spacing of a smooth curve's points, mm.
pub const STEP_MM: f64 = 0.25;
/// Standard deviation of the Gaussian that takes the pixels' steps off, mm: a circle of 5 mm radius shrinks by
/// sigma squared over twice its radius, 0.025 mm.
const SIGMA_MM: f64 = 0.5;

/// Arc length, mm.
pub fn length(points: &[Point]) -> f64 {
    points.windows(2).map(|w| w[0].distance(w[1])).sum()
}

/// Evenly spaced points along a chain, both ends kept. `step_mm` is met as nearly as a whole number of steps allows.
pub fn resample(points: &[Point], step_mm: f64) -> Vec<Point> {
    let total = length(points);
    if points.len() < 2 || total <= 0.0 {
        return points.to_vec();
    }
    let n = (total / step_mm).round().max(1.0) as usize;
    let step = total / n as f64;
    let mut out = Vec::with_capacity(n + 1);
    out.push(points[0]);
    let (mut i, mut before) = (0, 0.0);
    for k in 1..n {
        let s = k as f64 * step;
        while i + 2 < points.len() && before + points[i].distance(points[i + 1]) < s {
            before += points[i].distance(points[i + 1]);
            i += 1;
        }
        let piece = points[i].distance(points[i + 1]);
        out.push(
            points[i].lerp(points[i + 1], if piece > 0.0 { ((s - before) / piece).min(1.0) } else { 0.0 }),
        );
    }
    out.push(points[points.len() - 1]);
    out
}

/// Resamples and smooths. Towards the ends the kernel narrows so that it never reaches over them: the ends stay.
pub fn smooth(raw: &[Point]) -> Vec<Point> {
    let p = resample(raw, STEP_MM);
    let n = p.len();
    let sigma = SIGMA_MM / STEP_MM;
    let reach = (3.0 * sigma).ceil() as usize;
    let kernels: Vec<Vec<f64>> = (0..=reach)
        .map(|r| {
            let s = sigma * r as f64 / reach as f64;
            (0..=r).map(|k| if s > 0.0 { (-0.5 * (k as f64 / s).powi(2)).exp() } else { 1.0 }).collect()
        })
        .collect();
    (0..n)
        .map(|i| {
            let r = reach.min(i).min(n - 1 - i);
            let (mut x, mut y, mut w) = (p[i].x, p[i].y, 1.0);
            for (k, &g) in kernels[r].iter().enumerate().skip(1) {
                x += g * (p[i - k].x + p[i + k].x);
                y += g * (p[i - k].y + p[i + k].y);
                w += 2.0 * g;
            }
            Point::new(x / w, y / w)
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_ring_of_pixels_becomes_a_circle() {
        let raw: Vec<Point> = (0..=600)
            .map(|k| {
                let t = k as f64 / 600.0 * 6.0;
                let (x, y) = (15.0 * t.cos(), 15.0 * t.sin());
                Point::new((x * 8.0).round() / 8.0, (y * 8.0).round() / 8.0)
            })
            .collect();
        let p = smooth(&raw);
        for q in &p[12..p.len() - 12] {
            assert!((q.to_vec2().hypot() - 15.0).abs() < 0.06, "{q:?}");
        }
        assert_eq!((p[0], p[p.len() - 1]), (raw[0], raw[600]));
    }

    #[test]
    fn resampling_keeps_length_and_ends() {
        let p = [Point::new(0.0, 0.0), Point::new(3.0, 0.0), Point::new(3.0, 4.0)];
        let q = resample(&p, 0.5);
        assert_eq!(q.len(), 15);
        assert_eq!((q[0], q[14]), (p[0], p[2]));
        assert!((q[7] - Point::new(3.0, 0.5)).hypot() < 1e-12);
    }
}
