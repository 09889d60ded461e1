//! Lays the page on the scan more exactly than four discs can: the printed frames say how far the map is off.

use super::grey;
use super::page_map::PageMap;
use crate::geometry::homography::Homography;
use crate::geometry::{Point, Vec2};
use crate::print::layout::{Layout, What};
use crate::scan::GreyImage;
use nalgebra::{SMatrix, SVector};

/// Places along each frame edge at which its printed line is looked for.
const PLACES: usize = 24;
/// How far to either side it is looked for, mm.
const REACH_MM: f64 = 1.4;
/// Steps of the search, mm.
const STEP_MM: f64 = 0.07;
/// A printed line is at least this much darker than the paper beside it, grey levels.
const LEAST_DARK: f64 = 25.0;
/// Offsets beyond this many times the usual one are ink that crosses the frame, not the frame.
const OUTLIER: f64 = 3.0;
/// Weight of a disc's centre against a place on a frame: it is a mean over a whole edge.
const DISC_WEIGHT: f64 = 8.0;
/// A frame's line is seen where the map has it within this, mm.
const NEAR_MM: f64 = 0.5;
/// Rounds of improvement; the first takes nearly all.
const ROUNDS: usize = 3;

/// How far the printed line is from where the map puts it.
struct Offset {
    at: Point,
    normal: Vec2,
    mm: f64,
}

/// A page laid on a scan as a plane.
pub struct Registered {
    pub map: Homography,
    /// Root mean square of what is left at the frames, mm; `None` where no frame was seen.
    pub residual_mm: Option<f64>,
    /// Share of the places along the frames at which a line was seen and agrees with the others.
    pub seen_share: f64,
}

/// A better map.
///
/// `discs`: printed centre and the found one in scan pixels.
pub fn register(
    scan: &GreyImage,
    start: Homography,
    discs: &[(Point, Point)],
    layout: &Layout,
) -> Registered {
    let looked = |map: Homography| {
        let (seen, seen_share) = offsets(scan, &map, layout);
        (Registered { map, residual_mm: rms(&seen), seen_share }, seen)
    };
    let (mut best, mut seen) = looked(start);
    for _ in 0..ROUNDS {
        let Some(map) = improve(&best.map, &seen, discs, layout) else { break };
        let (next, next_seen) = looked(map);
        match (next.residual_mm, best.residual_mm) {
            (Some(l), Some(b)) if l < b => (best, seen) = (next, next_seen),
            _ => break,
        }
    }
    best
}

fn rms(offsets: &[Offset]) -> Option<f64> {
    if offsets.is_empty() {
        return None;
    }
    Some((offsets.iter().map(|o| o.mm * o.mm).sum::<f64>() / offsets.len() as f64).sqrt())
}

/// The sides of the frames, each with its places and the way across it.
fn sides(layout: &Layout) -> impl Iterator<Item = ([Point; PLACES], Vec2)> + '_ {
    let frames = layout.shapes.iter().filter(|s| s.what == What::Frame);
    frames.flat_map(|s| &s.polygons).flat_map(|polygon| {
        polygon.iter().enumerate().map(|(k, a)| {
            let b = polygon[(k + 1) % polygon.len()];
            let along = (b - *a).normalize();
            let at = std::array::from_fn(|i| a.lerp(b, (i as f64 + 0.5) / PLACES as f64));
            (at, Vec2::new(-along.y, along.x))
        })
    })
}

/// Of the frames' sides the one that is seen least where the map has it: the share of its places.
pub fn least_side_seen(scan: &GreyImage, map: &PageMap, layout: &Layout) -> f64 {
    let seen = |(places, normal): ([Point; PLACES], Vec2)| {
        let near =
            |at: &Point| offset(scan, |p| map.apply(p), *at, normal).is_some_and(|mm| mm.abs() < NEAR_MM);
        places.iter().filter(|at| near(at)).count() as f64 / PLACES as f64
    };
    sides(layout).map(seen).fold(1.0, f64::min)
}

/// The offsets that agree with one another, and which share of the places they are.
fn offsets(scan: &GreyImage, map: &Homography, layout: &Layout) -> (Vec<Offset>, f64) {
    let mut out = Vec::new();
    let mut places = 0;
    for (at, normal) in sides(layout) {
        places += PLACES;
        out.extend(at.into_iter().filter_map(|at| {
            let mm = offset(scan, |p| map.apply(p), at, normal)?;
            Some(Offset { at, normal, mm })
        }));
    }
    let mut sizes: Vec<f64> = out.iter().map(|o| o.mm.abs()).collect();
    sizes.sort_by(f64::total_cmp);
    let usual = sizes.get(sizes.len() / 2).copied().unwrap_or(0.0).max(0.03);
    out.retain(|o| o.mm.abs() <= OUTLIER * usual);
    let share = out.len() as f64 / places.max(1) as f64;
    (out, share)
}

/// Signed distance of the printed line from `at` along `normal`: the centre of what is dark round the darkest place.
fn offset(scan: &GreyImage, map: impl Fn(Point) -> Point, at: Point, normal: Vec2) -> Option<f64> {
    let n = (REACH_MM / STEP_MM) as i32;
    let (from, to) = (map(at - REACH_MM * normal), map(at + REACH_MM * normal));
    let levels: Vec<f64> = (-n..=n)
        .map(|k| {
            let p = from.lerp(to, (k + n) as f64 / (2 * n) as f64);
            grey::sample(scan, p.x, p.y)
        })
        .collect();
    let mut sorted = levels.clone();
    let (_, &mut paper, _) = sorted.select_nth_unstable_by(levels.len() * 3 / 4, f64::total_cmp);
    let (darkest, &low) = levels.iter().enumerate().min_by(|a, b| a.1.total_cmp(b.1))?;
    if paper - low < LEAST_DARK {
        return None;
    }
    let middle = 0.5 * (paper + low);
    let (mut lo, mut hi) = (darkest, darkest);
    while lo > 0 && levels[lo - 1] < middle {
        lo -= 1;
    }
    while hi + 1 < levels.len() && levels[hi + 1] < middle {
        hi += 1;
    }
    // Too wide for the frame's line: ink runs along or across it here.
    if lo == 0 || hi + 1 == levels.len() || (hi - lo) as f64 * STEP_MM > 0.9 {
        return None;
    }
    let (mut weight, mut sum) = (0.0, 0.0);
    for (k, level) in levels.iter().enumerate().take(hi + 1).skip(lo) {
        weight += paper - level;
        sum += (paper - level) * (k as f64 - n as f64) * STEP_MM;
    }
    Some(sum / weight)
}

/// Least squares for a small projective change of the page that takes the offsets away and keeps the discs.
fn improve(
    map: &Homography,
    seen: &[Offset],
    discs: &[(Point, Point)],
    layout: &Layout,
) -> Option<Homography> {
    let (w, h) = layout.page_mm;
    let unit = |p: Point| ((p.x - 0.5 * w) / w, (p.y - 0.5 * h) / w);
    let mut normal = SMatrix::<f64, 8, 8>::zeros();
    let mut right = SVector::<f64, 8>::zeros();
    let mut add = |at: Point, n: Vec2, mm: f64, weight: f64| {
        let (x, y) = unit(at);
        let s = n.x * x + n.y * y;
        let row = SVector::<f64, 8>::from([n.x, n.x * x, n.x * y, n.y, n.y * x, n.y * y, s * x, s * y]);
        normal += weight * row * row.transpose();
        right += weight * row * mm;
    };
    for o in seen {
        add(o.at, o.normal, o.mm, 1.0);
    }
    let back = map.inverse()?;
    for (printed, found) in discs {
        let off = back.apply(*found) - *printed;
        add(*printed, Vec2::new(1.0, 0.0), off.x, DISC_WEIGHT);
        add(*printed, Vec2::new(0.0, 1.0), off.y, DISC_WEIGHT);
    }
    // A whisper of stiffness, so that what nothing fixes (the tilt, with one disc lost and no frame) stays put.
    for k in 0..8 {
        normal[(k, k)] += 1e-6;
    }
    let a = normal.cholesky()?.solve(&right);
    // mm on the page as a projective map: centre, change, back.
    let moved = |p: Point| {
        let (x, y) = unit(p);
        let s = a[6] * x + a[7] * y;
        Point::new(p.x + a[0] + a[1] * x + a[2] * y + x * s, p.y + a[3] + a[4] * x + a[5] * y + y * s)
    };
    let corners =
        [(0.05, 0.05), (0.95, 0.05), (0.95, 0.95), (0.05, 0.95), (0.5, 0.5), (0.5, 0.05), (0.5, 0.95)];
    let pairs: Vec<(Point, Point)> = corners
        .iter()
        .map(|(u, v)| {
            let p = Point::new(u * w, v * h);
            (p, map.apply(moved(p)))
        })
        .collect();
    Homography::fit(&pairs).ok()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::worksheet::Worksheet;
    use std::path::Path;

    /// A map that has three sides of the frame where they are and the fourth elsewhere, as where the ring was mistaken for a
    /// letter of the title: most of the frame is seen, and agrees.
    #[test]
    fn a_side_that_lies_elsewhere_is_told() {
        const PX_PER_MM: f64 = 5.0;
        let text = include_str!("../class/arrangements/unlike-poles.yaml");
        let sheet = Worksheet::parse(Path::new("worksheet.yaml"), text).unwrap();
        let layout = Layout::of(&sheet);
        let frame = sheet.panels[0].frame;
        let [width, height] = [layout.page_mm.0, layout.page_mm.1].map(|mm| (mm * PX_PER_MM) as usize);
        let mut scan = GreyImage { width, height, pixels: vec![230; width * height] };
        for y in 0..height {
            for x in 0..width {
                let at = (Vec2::new(x as f64, y as f64) / PX_PER_MM).to_point();
                let outer = frame.inflate(0.2, 0.2).contains(at);
                if outer && !frame.inflate(-0.2, -0.2).contains(at) {
                    scan.pixels[y * width + x] = 60;
                }
            }
        }
        let laid = |pulled_mm: f64| {
            let corners = [
                (frame.x0, frame.y0, pulled_mm),
                (frame.x1, frame.y0, 0.0),
                (frame.x1, frame.y1, 0.0),
                (frame.x0, frame.y1, 0.0),
            ];
            let pairs =
                corners.map(|(x, y, off)| (Point::new(x, y), (PX_PER_MM * Vec2::new(x + off, y)).to_point()));
            let map = Homography::fit(&pairs).unwrap();
            (offsets(&scan, &map, &layout).1, least_side_seen(&scan, &PageMap::flat(map), &layout))
        };
        let ((_, right), (share, least)) = (laid(0.0), laid(20.0));
        assert!(right > 0.9, "{right}");
        assert!(share > 0.7 && least < 0.25, "{share} {least}");
    }
}
