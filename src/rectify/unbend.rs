//! Lays a curled page: the plane, the curl and the lens that put the printed lines where they are seen.
//!
//! Nonlinear least squares by Gauss and Newton, damped as by Levenberg and Marquardt (J. Nocedal and S. Wright, Numerical
//! Optimization, 2nd ed. 2006, section 10.3), in rounds: where the lines are looked for follows from the
//! round before. Places far from what the others say (ink along a frame, a shadow's edge) lose their weight (Tukey's
//! biweight, P. Huber and E. Ronchetti, Robust Statistics, 2nd ed. 2009, section 4.8).

use super::page_map::{BOWS, Curl, HEIGHTS, Lens, PageMap};
use super::printed_lines::{self, SeenAt, Stretch};
use crate::geometry::homography::Homography;
use crate::geometry::{Point, Vec2};
use crate::print::layout::{FRAME_STROKE_MM, Layout};
use crate::scan::GreyImage;
use nalgebra::{DMatrix, DVector};

/// How far from where the map puts them the lines are looked for in each round, mm: 9 mm of curl move a frame by 3.
const REACH_MM: [f64; 5] = [5.0, 3.0, 2.0, 1.4, 1.2];
/// The same in the first round where a disc is lost: the fourth corner of a tilted photo is off by that much.
const REACH_TORN_MM: f64 = 12.0;
/// Where a round leaves more than this at the frames, mm, or sees less than this share of them, there is no page.
const HOPELESS_MM: f64 = 1.0;
const HOPELESS_SHARE: f64 = 0.4;
/// Usual height of paper over its plane, as a share of the camera's: 15 mm of 400. A term of degree n is less by
/// (n - 1)^2.
const USUAL_HEIGHT: f64 = 0.04;
/// Usual height of a twist: less, paper does not stretch.
const USUAL_TWIST: f64 = 0.004;
/// How far the camera's foot is usually off where the plane alone puts it, mm.
const USUAL_FOOT_MM: f64 = 60.0;
/// Usual strength of a lens's distortion, at the corners, as a share: telephones take nearly all of it away.
const USUAL_LENS: f64 = 0.004;
/// The same for what is left of the plane's own eight numbers, page halves: as good as free.
const USUAL_PLANE: f64 = 1.0;
/// How exactly a place of a printed line is seen, mm.
const LINE_MM: f64 = 0.08;
/// How exactly a disc's middle is seen, mm.
const DISC_MM: f64 = 0.05;
/// Tukey's constant, in standard deviations.
const TUKEY: f64 = 4.685;
/// The median of absolute values is so much of a standard deviation.
const MAD: f64 = 1.4826;
/// Steps of the fit in a round.
const STEPS: usize = 6;
/// A telephone's main lens: focal length in long sides of the picture (26 mm on a 36 mm frame; common practice, no
/// source).
const USUAL_FOCUS: f64 = 0.72;

/// Numbers that are fitted: eight of the plane, the heights, the foot, the lens.
const PLANE: usize = 8;
const FOOT: usize = PLANE + HEIGHTS;
const LENS: usize = FOOT + 2;
const ALL: usize = LENS + 1;

/// A page laid with its curl.
#[derive(Clone, Copy, Debug)]
pub struct Unbent {
    pub map: PageMap,
    /// Root mean square of what is left at the frames, mm.
    pub residual_mm: f64,
    /// Share of the frames' places that are seen and agree with the map.
    pub seen_share: f64,
    /// Standard deviation of the blur, mm on the page: the lens's, the hand's shake, the paper that was not quite in focus.
    pub blur_mm: f64,
}

/// The median of how wide the frames are seen.
fn usual_spread(seen: &[SeenAt]) -> f64 {
    let mut spreads: Vec<f64> = seen.iter().filter(|s| s.frame).map(|s| s.spread_mm).collect();
    let middle = spreads.len() / 2;
    if spreads.is_empty() { 0.0 } else { *spreads.select_nth_unstable_by(middle, f64::total_cmp).1 }
}

/// The best map for a page that may curl.
///
/// `start` is a map of the plane, `discs` are printed centres and the found ones in scan pixels. `None` where the
/// lines are not seen well enough to say.
pub fn unbend(
    scan: &GreyImage,
    start: Homography,
    discs: &[(Point, Point)],
    layout: &Layout,
) -> Option<Unbent> {
    let stretches = printed_lines::stretches(layout);
    let middle = Point::new(0.5 * (scan.width - 1) as f64, 0.5 * (scan.height - 1) as f64);
    let curl =
        Curl { page_mm: layout.page_mm, foot: foot(&start, middle, scan, layout)?, heights: [0.0; HEIGHTS] };
    let lens = Lens { middle, reach_px: 0.5 * (scan.width as f64).hypot(scan.height as f64), k: 0.0 };
    let usual_foot = curl.foot;
    let mut map = PageMap { plane: start, bend: Some((curl, lens)) };
    let looked_for: usize = stretches.iter().filter(|s| s.frame).map(Stretch::places).sum();
    let mut left = None;
    let mut spread_mm = 0.0;
    for (round, &reach) in REACH_MM.iter().enumerate() {
        let reach = if round == 0 && discs.len() < 4 { REACH_TORN_MM } else { reach };
        // What is inside is looked for once the frame has been laid.
        let wanted = |s: &&Stretch| s.frame || round >= 2;
        let seen: Vec<SeenAt> = stretches
            .iter()
            .filter(wanted)
            .flat_map(|s| printed_lines::trace(scan, &map, s, reach))
            .collect();
        if seen.iter().filter(|s| s.frame).count() < 24 {
            return None;
        }
        let fit = Fit { seen: &seen, discs, layout, usual_foot };
        map = fit.improve(map)?;
        let (residual_mm, agreeing) = fit.left_at_frames(&map);
        let seen_share = agreeing as f64 / looked_for.max(1) as f64;
        // No page lies here: what comes after would be work for nothing.
        if residual_mm > HOPELESS_MM || seen_share < HOPELESS_SHARE {
            return None;
        }
        left = Some((residual_mm, seen_share));
        spread_mm = usual_spread(&seen);
    }
    let (residual_mm, seen_share) = left?;
    // What a sharp line's own width adds.
    let own = FRAME_STROKE_MM * FRAME_STROKE_MM / 12.0;
    let blur_mm = (spread_mm * spread_mm - own).max(0.0).sqrt();
    Some(Unbent { map, residual_mm, seen_share, blur_mm })
}

/// The place on the page straight below the camera, for a camera whose picture's middle is the lens's and whose focal
/// length is the one, near to the usual, that makes the page's two ways most nearly square and alike (Hartley and
/// Zisserman, example 8.18).
fn foot(plane: &Homography, middle: Point, scan: &GreyImage, layout: &Layout) -> Option<Point> {
    let rows = plane.rows();
    let long = scan.width.max(scan.height) as f64;
    // Page mm to rays, for a focal length.
    let column = |k: usize, focus: f64| {
        let w = rows[2][k];
        [(rows[0][k] - middle.x * w) / focus, (rows[1][k] - middle.y * w) / focus, w]
    };
    let dot = |a: [f64; 3], b: [f64; 3]| a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
    let skew = |focus: f64| {
        let (a, b) = (column(0, focus), column(1, focus));
        let (aa, bb, ab) = (dot(a, a), dot(b, b), dot(a, b));
        let off = (ab * ab + 0.25 * (aa - bb).powi(2)) / (aa * bb);
        off + 1e-4 * (focus / (USUAL_FOCUS * long)).ln().powi(2)
    };
    let focus = (0..40)
        .map(|k| USUAL_FOCUS * long * (f64::from(k - 14) / 14.0).exp2())
        .min_by(|a, b| skew(*a).total_cmp(&skew(*b)))?;
    let (a, b, t) = (column(0, focus), column(1, focus), column(2, focus));
    // The camera stands at x a + y b + t + z (a x b) = 0.
    let across = [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]];
    let m = nalgebra::Matrix3::from_fn(|i, k| [a[i], b[i], across[i]][k]);
    let solved = m.try_inverse()? * nalgebra::Vector3::new(-t[0], -t[1], -t[2]);
    let (w, h) = layout.page_mm;
    // No further off than a page: there a photo would be too slanted to be read.
    Some(Point::new(solved.x.clamp(-w, 2.0 * w), solved.y.clamp(-h, 2.0 * h)))
}

/// What the map is fitted to.
struct Fit<'a> {
    seen: &'a [SeenAt],
    discs: &'a [(Point, Point)],
    layout: &'a Layout,
    usual_foot: Point,
}

impl Fit<'_> {
    /// Levenberg and Marquardt from a map on.
    fn improve(&self, start: PageMap) -> Option<PageMap> {
        let mut map = start;
        let mut damping = 1e-3;
        for _ in 0..STEPS {
            let off = self.off(&map);
            let weights = weights(&off[..self.seen.len()]);
            let (normal, right) = self.normal_equations(&map, &off, &weights);
            let cost = self.cost(&map, &off, &weights);
            let mut gained = false;
            for _ in 0..6 {
                let mut damped = normal.clone();
                for k in 0..ALL {
                    damped[(k, k)] *= 1.0 + damping;
                }
                let step = damped.cholesky()?.solve(&right);
                let next = self.moved(&map, &step);
                let there = self.off(&next);
                if self.cost(&next, &there, &weights) < cost {
                    map = next;
                    damping = (damping * 0.2).max(1e-9);
                    gained = true;
                    break;
                }
                damping *= 8.0;
            }
            if !gained {
                break;
            }
        }
        Some(map)
    }

    /// How far the map is off, in standard deviations: a number a line's place, then two a disc.
    fn off(&self, map: &PageMap) -> Vec<f64> {
        let mut out = Vec::with_capacity(self.seen.len() + 2 * self.discs.len());
        for s in self.seen {
            let along = Vec2::new(s.across.y, -s.across.x);
            let way = map.apply(s.at + 0.5 * along) - map.apply(s.at - 0.5 * along);
            let step = map.apply(s.at + 0.5 * s.across) - map.apply(s.at - 0.5 * s.across);
            // Across the line as it is seen; a mm of the page is so many pixels there.
            let across = Vec2::new(-way.y, way.x).normalize();
            let px_per_mm = step.dot(across);
            out.push((map.apply(s.at) - s.seen).dot(across) / px_per_mm / LINE_MM);
        }
        for &(printed, found) in self.discs {
            let px_per_mm =
                (map.apply(printed + Vec2::new(0.5, 0.5)) - map.apply(printed - Vec2::new(0.5, 0.5))).hypot()
                    / std::f64::consts::SQRT_2;
            let off = (map.apply(printed) - found) / px_per_mm / DISC_MM;
            out.extend([off.x, off.y]);
        }
        out
    }

    /// Root mean square at the frames, mm, over the places that have not lost their weight; and how many those are.
    fn left_at_frames(&self, map: &PageMap) -> (f64, usize) {
        let off = self.off(map);
        let weights = weights(&off[..self.seen.len()]);
        let kept = self.seen.iter().zip(&off).zip(&weights).filter(|((s, _), w)| s.frame && **w > 0.0);
        let (sum, n) = kept.fold((0.0, 0), |(sum, n), ((_, o), _)| (sum + o * o, n + 1));
        (LINE_MM * (sum / n.max(1) as f64).sqrt(), n)
    }

    fn cost(&self, map: &PageMap, off: &[f64], weights: &[f64]) -> f64 {
        let lines: f64 = off.iter().zip(weights).map(|(o, w)| w * o * o).sum();
        let discs: f64 = off[weights.len()..].iter().map(|o| o * o).sum();
        lines + discs + self.unusual(map).iter().map(|u| u * u).sum::<f64>()
    }

    /// How far heights, foot and lens are from the usual, each in its own usual size, in the order of the numbers
    /// after the plane's.
    fn unusual(&self, map: &PageMap) -> [f64; ALL - PLANE] {
        let mut out = [0.0; ALL - PLANE];
        if let Some((curl, lens)) = &map.bend {
            for (k, height) in curl.heights.iter().enumerate() {
                out[k] = height / usual(PLANE + k);
            }
            let off = curl.foot - self.usual_foot;
            (out[HEIGHTS], out[HEIGHTS + 1]) = (off.x / USUAL_FOOT_MM, off.y / USUAL_FOOT_MM);
            out[HEIGHTS + 2] = lens.k / USUAL_LENS;
        }
        out
    }

    fn normal_equations(&self, map: &PageMap, off: &[f64], weights: &[f64]) -> (DMatrix<f64>, DVector<f64>) {
        /// Step of the difference quotients, in usual sizes.
        const DIFFERENCE: f64 = 1e-4;
        let mut jacobian = DMatrix::<f64>::zeros(off.len(), ALL);
        for k in 0..ALL {
            let step = DIFFERENCE * usual(k);
            let mut by = DVector::<f64>::zeros(ALL);
            by[k] = step;
            let there = self.off(&self.moved(map, &by));
            for (row, (a, b)) in there.iter().zip(off).enumerate() {
                jacobian[(row, k)] = (a - b) / step;
            }
        }
        let mut normal = DMatrix::<f64>::zeros(ALL, ALL);
        let mut right = DVector::<f64>::zeros(ALL);
        for (row, o) in off.iter().enumerate() {
            let weight = weights.get(row).copied().unwrap_or(1.0);
            let line = jacobian.row(row).transpose();
            right -= weight * *o * &line;
            normal.ger(weight, &line, &line, 1.0);
        }
        let unusual = self.unusual(map);
        for k in 0..ALL {
            normal[(k, k)] += usual(k).powi(-2);
            if k >= PLANE {
                right[k] -= unusual[k - PLANE] / usual(k);
            }
        }
        (normal, right)
    }

    /// The map with its numbers changed.
    fn moved(&self, map: &PageMap, step: &DVector<f64>) -> PageMap {
        let (w, h) = self.layout.page_mm;
        let (a, s) = (0.5 * w, 2.0 / w);
        // A small projective change in page halves: to them, change, back.
        let to = Homography::from_rows([[s, 0.0, -1.0], [0.0, s, -0.5 * h * s], [0.0, 0.0, 1.0]]);
        let change = Homography::from_rows([
            [1.0 + step[0], step[1], step[2]],
            [step[3], 1.0 + step[4], step[5]],
            [step[6], step[7], 1.0],
        ]);
        let back = Homography::from_rows([[a, 0.0, a], [0.0, a, 0.5 * h], [0.0, 0.0, 1.0]]);
        let plane = to.then(&change).then(&back).then(&map.plane);
        let bend = map.bend.map(|(mut curl, mut lens)| {
            for (k, height) in curl.heights.iter_mut().enumerate() {
                *height += step[PLANE + k];
            }
            curl.foot += Vec2::new(step[FOOT], step[FOOT + 1]);
            lens.k += step[LENS];
            (curl, lens)
        });
        PageMap { plane, bend }
    }
}

/// The usual size of a number.
fn usual(k: usize) -> f64 {
    match k {
        _ if k < PLANE => USUAL_PLANE,
        _ if k < PLANE + 2 * BOWS => USUAL_HEIGHT / (((k - PLANE) % BOWS + 1) as f64).powi(2),
        _ if k < FOOT => USUAL_TWIST,
        _ if k < LENS => USUAL_FOOT_MM,
        _ => USUAL_LENS,
    }
}

/// Tukey's biweight of each.
fn weights(off: &[f64]) -> Vec<f64> {
    let mut sizes: Vec<f64> = off.iter().map(|o| o.abs()).collect();
    if sizes.is_empty() {
        return Vec::new();
    }
    let middle = sizes.len() / 2;
    let (_, &mut median, _) = sizes.select_nth_unstable_by(middle, f64::total_cmp);
    let reach = TUKEY * (MAD * median).max(1.0);
    off.iter()
        .map(|o| {
            let share = o / reach;
            if share.abs() < 1.0 { (1.0 - share * share).powi(2) } else { 0.0 }
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rectify::register;
    use crate::worksheet::Worksheet;
    use std::path::Path;

    const SHEET: &str = include_str!("../class/arrangements/unlike-poles.yaml");

    /// What a camera sees of the sheet's frames and outlines, without its optics: each millimetre of a line is put where
    /// `seen` says, on a desk of even grey.
    fn photo(layout: &Layout, seen: impl Fn(Point) -> Point) -> GreyImage {
        let (width, height) = (2400, 1800);
        let mut scan = GreyImage { width, height, pixels: vec![200; width * height] };
        for shape in
            layout.shapes.iter().filter(|s| matches!(s.ink, crate::print::layout::Ink::Stroke { .. }))
        {
            for polygon in &shape.polygons {
                for (k, &a) in polygon.iter().enumerate() {
                    let b = polygon[(k + 1) % polygon.len()];
                    let n = (a.distance(b) / 0.04).ceil() as usize;
                    for (i, side) in (0..=n).flat_map(|i| (-3..=3).map(move |s| (i, s))) {
                        let along = (b - a).normalize();
                        let across = 0.05 * f64::from(side) * Vec2::new(-along.y, along.x);
                        let p = seen(a.lerp(b, i as f64 / n.max(1) as f64) + across);
                        let (x, y) = (p.x.round() as usize, p.y.round() as usize);
                        if x < width && y < height {
                            scan.pixels[y * width + x] = 60;
                        }
                    }
                }
            }
        }
        scan
    }

    /// A pinhole camera over a sheet that bows by 9 mm along its length, tilted: textbook projection with the heights
    /// themselves, and nothing of what is fitted.
    #[test]
    fn a_page_that_bows_by_nine_millimetres_is_laid_to_a_third_of_one() {
        let sheet = Worksheet::parse(Path::new("worksheet.yaml"), SHEET).unwrap();
        let layout = Layout::of(&sheet);
        let (w, h) = layout.page_mm;
        for (tilt_x, tilt_y, bow) in [(18.0f64, -12.0f64, 9.0), (-10.0, 20.0, -9.0), (4.0, 3.0, 5.0)] {
            let ((sx, cx), (sy, cy)) = (tilt_x.to_radians().sin_cos(), tilt_y.to_radians().sin_cos());
            let seen = |p: Point| {
                let (x, y) = (p.x - 0.5 * w, p.y - 0.5 * h);
                let z = bow * (std::f64::consts::PI * (x / w + 0.2)).sin();
                let (y, z) = (y * cx - z * sx, y * sx + z * cx);
                let (x, z) = (x * cy + z * sy, z * cy - x * sy);
                let scale = 2600.0 / (420.0 - z);
                Point::new(1200.0 + scale * x, 900.0 + scale * y)
            };
            let scan = photo(&layout, seen);
            let discs: Vec<(Point, Point)> =
                layout.fiducials.iter().map(|f| (f.centre, seen(f.centre))).collect();
            let flat = register::register(&scan, Homography::fit(&discs).unwrap(), &discs, &layout);
            let Unbent { map, residual_mm: left, seen_share, blur_mm } =
                unbend(&scan, flat.map, &discs, &layout).unwrap();
            assert!(seen_share > 0.9, "{seen_share}");
            assert!(blur_mm < 0.15, "{blur_mm}");
            let frame = sheet.panels[0].frame;
            let mut worst = 0.0f64;
            let mut worst_flat = 0.0f64;
            for k in 0..400 {
                let (i, j) = (f64::from(k % 20) / 19.0, f64::from(k / 20) / 19.0);
                let p = Point::new(frame.x0 + i * frame.width(), frame.y0 + j * frame.height());
                let scale = seen(p + Vec2::new(0.5, 0.0)).distance(seen(p - Vec2::new(0.5, 0.0)));
                worst = worst.max(map.apply(p).distance(seen(p)) / scale);
                worst_flat = worst_flat.max(flat.map.apply(p).distance(seen(p)) / scale);
            }
            assert!(worst_flat > 0.4, "nothing to take away: {worst_flat}");
            assert!(
                worst < 0.34,
                "{tilt_x} {tilt_y} {bow}: off by {worst} mm (flat: {worst_flat}), {left} at the frames"
            );
            assert!(left < 0.1, "{left}");
        }
    }
}
