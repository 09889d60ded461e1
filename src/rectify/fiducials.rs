//! The four printed discs: found on a reduced picture, told apart, and measured to a fraction of a pixel.
//!
//! One of them (top left on the sheet) is a ring with a dot in it, so that the way up is known. Any one may be
//! missing: the other three and the ring's place, or its absence, still fix page and way up.

use super::grey;
use crate::geometry::Point;
use crate::geometry::homography::Homography;
use crate::scan::GreyImage;

/// Long side of the reduced picture, pixels: a disc of 6 mm on a page that fills half of it is still eight across.
const REDUCED_PX: usize = 800;
/// A pixel this far below the brightest nearby is dark enough to be part of a disc.
const DARK_SHARE: f64 = 0.62;
/// The same beside a hard shadow's edge, where paper in the shade is as dark as that.
const DARK_SHARE_IN_SHADE: f64 = 0.42;
/// Squares over which the brightest pixel is taken, reduced pixels (about 9 mm of a page that fills the picture).
const BRIGHT_BLOCK_PX: usize = 24;
/// Smallest and largest disc, reduced pixels across.
const DISC_PX: (usize, usize) = (5, 70);
/// Most round dark things that are looked at; more come from a picture that is no page.
const MOST_CANDIDATES: usize = 400;
/// How far a disc's size may be off what the distance to the next disc says (perspective, thick toner).
const SIZE_TOLERANCE: f64 = 0.35;
/// How far a corner may be off where two others put it, as a share of their distance (perspective).
const CORNER_TOLERANCE: f64 = 0.14;
/// Rays along which a disc's edge is looked for; even, so that each has its opposite.
const RAYS: usize = 48;
/// A mark fills at least so much of its box: a disc pi/4 of it, a ring less.
const LEAST_FILL: f64 = 0.4;
/// What is seen in the shade is a mark that was seen in the light, if that has its middle and at least so many times its width.
const SAME_SIZE: f64 = 0.6;

/// Where the sheet's fiducials are printed, mm.
#[derive(Clone, Copy, Debug)]
pub struct Printed {
    /// Centres: top left (the ring), top right, bottom right, bottom left.
    pub centres: [Point; 4],
    /// Outer radius, mm.
    pub radius_mm: f64,
    /// Radius in the middle of the ring's white part, mm.
    pub gap_radius_mm: f64,
}

/// A way to lay the printed fiducials on the picture.
#[derive(Clone, Debug)]
pub struct Placed {
    /// Centres in scan pixels in the order of [`Printed::centres`]; `None` where the disc is missing.
    pub centres: [Option<Point>; 4],
    /// How well it fits; only for comparing.
    pub score: f64,
}

struct Candidate {
    centre: Point,
    diameter: f64,
    /// 0 solid to 1 clearly ringed.
    ring: f64,
    /// Its ink over that of an ellipse that fills its box.
    fill: f64,
}

/// The likeliest placements, best first; at most one for each of the four ways up.
pub fn find(scan: &GreyImage, printed: &Printed) -> Vec<Placed> {
    find_where(scan, printed, |_| true)
}

/// The same on discs at such places of the scan only.
pub fn find_where(scan: &GreyImage, printed: &Printed, there: impl Fn(Point) -> bool) -> Vec<Placed> {
    let (reduced, factor) = grey::reduce(scan, REDUCED_PX);
    let mut candidates = candidates(&reduced, factor, scan, printed, DARK_SHARE);
    candidates.retain(|c| there(c.centre));
    let mut best: Vec<(usize, Placed)> = Vec::new();
    for (i, a) in candidates.iter().enumerate() {
        let reach = edge_reach(a, printed);
        for (j, b) in candidates.iter().enumerate() {
            let apart = a.centre.distance_squared(b.centre);
            for edge in (0..4).filter(|&e| i != j && reach[e].contains(&apart)) {
                if let Some(placed) = place(&candidates, a, b, edge, printed) {
                    let turn = way_up(&placed, printed);
                    match best.iter_mut().find(|(t, _)| *t == turn) {
                        Some((_, p)) if p.score >= placed.score => {}
                        Some((_, p)) => *p = placed,
                        None => best.push((turn, placed)),
                    }
                }
            }
        }
    }
    let mut best: Vec<Placed> = best.into_iter().map(|(_, p)| p).collect();
    best.sort_by(|a, b| b.score.total_cmp(&a.score));
    for placed in &mut best {
        refine_all(scan, placed, printed);
    }
    best
}

/// Most rings, and most solid discs for each, that a slanted page is laid on.
const MOST_SLANTED: (usize, usize) = (8, 48);
/// Of a slanted page's discs, how far each one's size may be off what the others' places say; and how many times larger the
/// nearest may be than the farthest (a page at 30 degrees, filling the picture: 1.6).
const SLANTED_SIZE_TOLERANCE: f64 = 0.3;
const MOST_SLANT: f64 = 2.2;
/// An edge of the page may be so many times longer or shorter than the mean size of its two discs says: a disc at 30 degrees is
/// narrower one way only, by an eighth, and small discs are measured to a quarter.
const MOST_EDGE: f64 = 1.5;
/// So many of the likeliest are tried.
const SLANTED_TRIED: usize = 4;

/// Placements on all four discs of a page seen at a slant, for which [`find`] takes the page to be too nearly square; the
/// likeliest first. Any ring with any three discs is judged by whether the discs have the sizes that a page lying
/// there would give them.
pub fn find_slanted(scan: &GreyImage, printed: &Printed) -> Vec<Placed> {
    let (reduced, factor) = grey::reduce(scan, REDUCED_PX);
    let mut candidates = candidates(&reduced, factor, scan, printed, DARK_SHARE);
    for c in self::candidates(&reduced, factor, scan, printed, DARK_SHARE_IN_SHADE) {
        // The dot in the ring is another mark than the ring.
        let same = |k: &Candidate| {
            k.centre.distance(c.centre) < 0.5 * c.diameter && k.diameter > SAME_SIZE * c.diameter
        };
        if !candidates.iter().any(same) {
            candidates.push(c);
        }
    }
    let mut rings: Vec<&Candidate> = candidates.iter().filter(|c| c.ring > 0.5).collect();
    rings.sort_by(|a, b| b.ring.total_cmp(&a.ring));
    rings.truncate(MOST_SLANTED.0);
    let mut out: Vec<Placed> = Vec::new();
    for ring in rings {
        let alike = |c: &&Candidate| (1.0 / MOST_SLANT..MOST_SLANT).contains(&(c.diameter / ring.diameter));
        let mut solid: Vec<&Candidate> = candidates.iter().filter(|c| c.ring < 0.5).filter(alike).collect();
        solid.sort_by(|a, b| (a.fill - 1.0).abs().total_cmp(&(b.fill - 1.0).abs()));
        solid.truncate(MOST_SLANTED.1);
        // Clockwise as seen: ring, a, b, c. An edge too long or too short for its discs spares all that would follow.
        for a in solid.iter().filter(|a| may_be_edge(0, ring, a, printed)) {
            for b in solid.iter().filter(|b| may_be_edge(1, a, b, printed) && !turns_left(ring, a, b)) {
                let last = solid
                    .iter()
                    .filter(|c| may_be_edge(2, b, c, printed) && may_be_edge(3, c, ring, printed));
                for c in last {
                    if !turns_left(a, b, c) && !turns_left(b, c, ring) && !turns_left(c, ring, a) {
                        out.extend(slanted([ring, a, b, c], printed));
                    }
                }
            }
        }
        out.sort_by(|a, b| b.score.total_cmp(&a.score));
        out.truncate(SLANTED_TRIED);
    }
    for placed in &mut out {
        refine_all(scan, placed, printed);
    }
    out
}

/// Whether two discs may be the ends of an edge of the page: seen at a slant, edge and discs shrink nearly alike.
fn may_be_edge(edge: usize, a: &Candidate, b: &Candidate, printed: &Printed) -> bool {
    let length = printed.centres[edge].distance(printed.centres[(edge + 1) % 4]);
    let scale = 0.25 * (a.diameter + b.diameter) / printed.radius_mm;
    let ratio = a.centre.distance(b.centre) / (length * scale);
    (1.0 / MOST_EDGE..MOST_EDGE).contains(&ratio)
}

fn turns_left(a: &Candidate, b: &Candidate, c: &Candidate) -> bool {
    (b.centre - a.centre).cross(c.centre - b.centre) <= 0.0
}

/// The page laid on four discs, if it gives them about their sizes.
fn slanted(discs: [&Candidate; 4], printed: &Printed) -> Option<Placed> {
    let pairs: Vec<(Point, Point)> =
        printed.centres.iter().zip(&discs).map(|(m, c)| (*m, c.centre)).collect();
    let page = Homography::fit(&pairs).ok()?;
    let mut off = 0.0;
    let (mut least, mut most) = (f64::MAX, 0.0f64);
    for (m, c) in printed.centres.iter().zip(&discs) {
        let r = printed.radius_mm;
        let across = |dx: f64, dy: f64| {
            let step = crate::geometry::Vec2::new(dx, dy);
            page.apply(*m + step).distance(page.apply(*m - step))
        };
        let size = 0.5 * (across(r, 0.0) + across(0.0, r));
        let ratio = c.diameter / size - 1.0;
        if ratio.is_nan() || ratio.abs() > SLANTED_SIZE_TOLERANCE {
            return None;
        }
        off += ratio.abs();
        (least, most) = (least.min(size), most.max(size));
    }
    let score = discs[0].ring - off;
    (most < MOST_SLANT * least).then(|| Placed { centres: discs.map(|c| Some(c.centre)), score })
}

/// For each edge of the page, how far from a disc of this size its other end may lie: pixels squared, a little more than
/// [`SIZE_TOLERANCE`] lets through. Of many thousand pairs, most are told by this alone to be none.
fn edge_reach(c: &Candidate, printed: &Printed) -> [std::ops::Range<f64>; 4] {
    std::array::from_fn(|k| {
        let edge = printed.centres[k].distance(printed.centres[(k + 1) % 4]);
        let length = 0.5 * c.diameter / printed.radius_mm * edge;
        let of = |size: f64| (length / size).powi(2);
        0.999 * of(1.0 + SIZE_TOLERANCE)..1.001 * of(1.0 - SIZE_TOLERANCE)
    })
}

/// Quarter turns, as seen from where the page's top edge points.
fn way_up(placed: &Placed, printed: &Printed) -> usize {
    let along = |a: usize, b: usize| match (placed.centres[a], placed.centres[b]) {
        (Some(p), Some(q)) => Some(q - p),
        _ => None,
    };
    let _ = printed;
    let top = along(0, 1).or_else(|| along(3, 2)).unwrap_or_default();
    let angle = top.y.atan2(top.x).to_degrees();
    ((angle / 90.0).round() as i64).rem_euclid(4) as usize
}

/// Round dark things of the reduced picture, in scan pixels: darker than a share of the brightest nearby.
fn candidates(
    reduced: &GreyImage,
    factor: f64,
    scan: &GreyImage,
    printed: &Printed,
    dark_share: f64,
) -> Vec<Candidate> {
    let (w, h) = (reduced.width, reduced.height);
    let bright = grey::brightest_by_block(reduced, BRIGHT_BLOCK_PX);
    let bw = w.div_ceil(BRIGHT_BLOCK_PX);
    let mut dark = vec![false; w * h];
    for (y, (row, dark)) in reduced.pixels.chunks_exact(w).zip(dark.chunks_exact_mut(w)).enumerate() {
        let bright = &bright[y / BRIGHT_BLOCK_PX * bw..][..bw];
        let pieces = row.chunks(BRIGHT_BLOCK_PX).zip(dark.chunks_mut(BRIGHT_BLOCK_PX));
        for ((levels, dark), &b) in pieces.zip(bright) {
            let limit = (dark_share * f64::from(b)).ceil() as u8;
            dark.iter_mut().zip(levels).for_each(|(d, &l)| *d = l < limit);
        }
    }
    let mut out = Vec::new();
    let mut stack = Vec::new();
    for start in 0..w * h {
        if !dark[start] {
            continue;
        }
        dark[start] = false;
        stack.push((start % w, start / w));
        let (mut area, mut sx, mut sy) = (0usize, 0usize, 0usize);
        let (mut x0, mut x1, mut y0, mut y1) = (w, 0, h, 0);
        while let Some((x, y)) = stack.pop() {
            area += 1;
            sx += x;
            sy += y;
            (x0, x1, y0, y1) = (x0.min(x), x1.max(x), y0.min(y), y1.max(y));
            for v in y.saturating_sub(1)..(y + 2).min(h) {
                for u in x.saturating_sub(1)..(x + 2).min(w) {
                    if dark[v * w + u] {
                        dark[v * w + u] = false;
                        stack.push((u, v));
                    }
                }
            }
        }
        let (bw, bh) = (x1 + 1 - x0, y1 + 1 - y0);
        let (small, large) = (bw.min(bh), bw.max(bh));
        if small < DISC_PX.0 || large > DISC_PX.1 || large as f64 > 1.5 * small as f64 + 1.0 {
            continue;
        }
        if (area as f64) < LEAST_FILL * (bw * bh) as f64 || out.len() >= MOST_CANDIDATES {
            continue;
        }
        let centre = Point::new(
            (0.5 * (sx as f64 / area as f64 + 0.5 * (x0 + x1) as f64) + 0.5) * factor - 0.5,
            (0.5 * (sy as f64 / area as f64 + 0.5 * (y0 + y1) as f64) + 0.5) * factor - 0.5,
        );
        let diameter = 0.5 * (bw + bh) as f64 * factor;
        let ring = ringedness(scan, centre, diameter, printed);
        let fill = area as f64 / (std::f64::consts::FRAC_PI_4 * (bw * bh) as f64);
        out.push(Candidate { centre, diameter, ring, fill });
    }
    out
}

/// Cosine and sine of each ray's direction.
fn rays() -> [(f64, f64); RAYS] {
    std::array::from_fn(|k| {
        let t = k as f64 / RAYS as f64 * std::f64::consts::TAU;
        (t.cos(), t.sin())
    })
}

/// How white the circle is that runs in the ring's white part, between the paper outside (1) and black (0).
fn ringedness(scan: &GreyImage, centre: Point, diameter: f64, printed: &Printed) -> f64 {
    let scale = 0.5 * diameter / printed.radius_mm;
    let rays = rays();
    let mean = |radius: f64| {
        let at = |(c, s): &(f64, f64)| grey::sample(scan, centre.x + radius * c, centre.y + radius * s);
        rays.iter().map(at).sum::<f64>() / RAYS as f64
    };
    let rim = 0.5 * (printed.gap_radius_mm + printed.radius_mm) + 0.2;
    let (gap, rim, paper) =
        (mean(printed.gap_radius_mm * scale), mean(rim * scale), mean(1.3 * printed.radius_mm * scale));
    ((gap - rim) / (paper - rim).max(20.0)).clamp(0.0, 1.0)
}

/// Lays the page so that `a` and `b` are the ends of its edge number `edge`, and looks for the other two discs.
fn place(all: &[Candidate], a: &Candidate, b: &Candidate, edge: usize, printed: &Printed) -> Option<Placed> {
    let (ia, ib) = (edge, (edge + 1) % 4);
    let (ma, mb) = (printed.centres[ia], printed.centres[ib]);
    let (step, printed_step) = (b.centre - a.centre, mb - ma);
    let length = step.hypot();
    let scale = length / printed_step.hypot();
    let diameter = 2.0 * printed.radius_mm * scale;
    let fits = |c: &Candidate| (c.diameter / diameter - 1.0).abs() < SIZE_TOLERANCE;
    if !fits(a) || !fits(b) {
        return None;
    }
    // The similarity that takes the printed edge to the found one, as a complex factor.
    let norm = printed_step.hypot2();
    let re = (step.x * printed_step.x + step.y * printed_step.y) / norm;
    let im = (step.y * printed_step.x - step.x * printed_step.y) / norm;
    let mut centres = [None; 4];
    (centres[ia], centres[ib]) = (Some(a.centre), Some(b.centre));
    let mut score = ring_score(a, ia) + ring_score(b, ib);
    let size = |c: &Candidate| (c.diameter / diameter - 1.0).abs();
    score -= size(a) + size(b);
    for (k, centre) in centres.iter_mut().enumerate() {
        if k == ia || k == ib {
            continue;
        }
        let d = printed.centres[k] - ma;
        let guess = Point::new(a.centre.x + re * d.x - im * d.y, a.centre.y + im * d.x + re * d.y);
        let reach = 1.001 * CORNER_TOLERANCE * length;
        let near = all
            .iter()
            .filter(|c| (c.centre.x - guess.x).abs() < reach && (c.centre.y - guess.y).abs() < reach)
            .filter(|c| fits(c))
            .map(|c| (c.centre.distance(guess) / length, c))
            .filter(|(off, _)| *off < CORNER_TOLERANCE)
            .map(|(off, c)| (ring_score(c, k) + 1.0 - 3.0 * off - size(c), c))
            .max_by(|p, q| p.0.total_cmp(&q.0));
        if let Some((gain, c)) = near {
            *centre = Some(c.centre);
            score += gain;
        }
    }
    let found = centres.iter().flatten().count();
    (found >= 3).then_some(Placed { centres, score })
}

/// One for a disc that is what it should be at corner `k`, ring or solid.
fn ring_score(c: &Candidate, k: usize) -> f64 {
    if k == 0 { c.ring } else { 1.0 - c.ring }
}

fn refine_all(scan: &GreyImage, placed: &mut Placed, printed: &Printed) {
    let known: Vec<(usize, Point)> =
        placed.centres.iter().enumerate().filter_map(|(k, c)| c.map(|c| (k, c))).collect();
    let (i, p) = known[0];
    let (j, q) = known[1];
    let scale = p.distance(q) / printed.centres[i].distance(printed.centres[j]);
    for centre in placed.centres.iter_mut().flatten() {
        *centre = refine(scan, *centre, printed.radius_mm * scale);
    }
}

/// A disc's centre from its edge: the place through which opposite edge points are halved.
///
/// Each pair of opposite rays tells how far off the centre is along them; least squares over the pairs,
/// the worst quarter (ink that touches the disc, a speck) left out. Three rounds.
fn refine(scan: &GreyImage, start: Point, radius: f64) -> Point {
    let mut centre = start;
    let rays = rays();
    for _ in 0..3 {
        let edges = rays.map(|ray| edge(scan, centre, radius, ray));
        let mut pairs: Vec<(f64, f64, f64)> = (0..RAYS / 2)
            .filter_map(|k| Some((rays[k].0, rays[k].1, 0.5 * (edges[k]? - edges[k + RAYS / 2]?))))
            .collect();
        let mut shift = (0.0, 0.0);
        for keep in [1.0, 0.75] {
            let off = |p: &(f64, f64, f64)| (p.2 - p.0 * shift.0 - p.1 * shift.1).abs();
            pairs.sort_by(|a, b| off(a).total_cmp(&off(b)));
            let n = ((pairs.len() as f64 * keep).ceil() as usize).max(1).min(pairs.len());
            let (mut cc, mut cs, mut ss, mut cd, mut sd) = (0.0, 0.0, 0.0, 0.0, 0.0);
            for &(c, s, d) in &pairs[..n] {
                cc += c * c;
                cs += c * s;
                ss += s * s;
                cd += c * d;
                sd += s * d;
            }
            let det = cc * ss - cs * cs;
            if n < 6 || det < 1e-6 {
                return centre;
            }
            shift = ((cd * ss - sd * cs) / det, (sd * cc - cd * cs) / det);
        }
        centre = Point::new(centre.x + shift.0, centre.y + shift.1);
        if centre.distance(start) > radius {
            return start;
        }
    }
    centre
}

/// How far along a ray (its cosine and sine) the dark rim ends, pixels: where the grey level crosses the middle between rim and paper.
fn edge(scan: &GreyImage, centre: Point, radius: f64, (cos, sin): (f64, f64)) -> Option<f64> {
    let at = |r: f64| grey::sample(scan, centre.x + r * cos, centre.y + r * sin);
    let dark = at(0.86 * radius).min(at(0.75 * radius));
    let paper = at(1.35 * radius).max(at(1.45 * radius));
    if paper - dark < 30.0 {
        return None;
    }
    let middle = 0.5 * (dark + paper);
    let step = 0.5;
    let mut r = 0.75 * radius;
    let mut before = at(r);
    while r < 1.4 * radius {
        let next = at(r + step);
        if before < middle && next >= middle {
            return Some(r + step * (middle - before) / (next - before));
        }
        r += step;
        before = next;
    }
    None
}

#[cfg(test)]
mod tests;
