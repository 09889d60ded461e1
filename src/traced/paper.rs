//! Where a sheet of plain paper lies on a picture: the whole of a scan, or four edges on a desk.
//!
//! Edges are steps from dark to bright. Each step votes for the straight lines that it may lie on, with the bright side
//! inwards (R. O. Duda and P. E. Hart, Comm. ACM 15 (1972) 11-15, with the direction of the step as in F. O'Gorman and
//! M. B. Clowes, IEEE Trans. Computers C-25 (1976) 449-456); of all fours of lines the one that is seen best is the sheet.

use crate::geometry::homography::Homography;
use crate::geometry::{Point, Vec2};
use crate::rectify::FoundBy;
use crate::rectify::grey;
use crate::scan::GreyImage;

/// A sheet on a picture.
#[derive(Clone, Debug)]
pub struct Paper {
    /// Page mm to pixels (whole numbers are pixel centres).
    pub map: Homography,
    /// Width and height as it lies on the picture, mm.
    pub page_mm: (f64, f64),
    pub found_by: FoundBy,
}

/// A scan whose stated resolution gives the paper's size within this share is the paper: scanners' glass and copiers'
/// rounding differ by less.
const DPI_SHARE: f64 = 0.03;
/// A picture whose sides have the paper's proportion within this share is a scan of it, whatever it says of its resolution:
/// no camera's sensor is so near to A4 or letter paper (4:3 is 3 % off letter).
const ASPECT_SHARE: f64 = 0.015;
/// And where no edges are seen on it, within this: a picture that was cut out at the paper's edges.
const CUT_OUT_SHARE: f64 = 0.04;
/// Long side of the picture on which edges are looked for, pixels: on a photo of A4 a pixel is less than half a millimetre.
const REDUCED_PX: usize = 900;
/// A step is taken between the means of this many pixels on either side.
const REACH_PX: usize = 5;
/// Least step of an edge, grey levels: paper beside a pale desk in shadow.
const LEAST_STEP: f64 = 10.0;
/// Beyond this a step counts no more, grey levels: black things on the desk are no better edges than the desk.
const FULL_STEP: f64 = 50.0;
/// Width of the cells in which lines are counted, pixels, and how far off the step's own direction a line may run, degrees.
const CELL_PX: f64 = 3.0;
const AWRY_DEG: i32 = 4;
/// So many of the likeliest lines are tried, each apart from the others by this, degrees and pixels.
const MOST_LINES: usize = 48;
const APART_DEG: f64 = 5.0;
const APART_PX: f64 = 9.0;
/// Two sides that meet may be so far from a right angle, degrees: a sheet tilted by 30 degrees and more.
const SKEW_DEG: f64 = 32.0;
/// Share of each side along which the edge must be seen.
const LEAST_SEEN: f64 = 0.55;
/// Least share of the picture that the sheet covers.
const LEAST_AREA: f64 = 0.2;
/// The long pair of sides over the short one, as seen: square on 1.29 or 1.41, tilted less or more.
const PROPORTION: (f64, f64) = (1.02, 1.95);
/// An edge's steps lie this near to its line, pixels (1.5 mm on a photo of A4: a curled sheet's edge).
const NEAR_PX: f64 = 4.0;
/// How often a side's line is fitted to the steps near it.
const ROUNDS: usize = 4;

/// Finds the sheet. `sides_mm`: the paper's short and long side; `dpi`: what the file says.
pub fn find(scan: &GreyImage, dpi: Option<(f64, f64)>, sides_mm: (f64, f64)) -> Option<Paper> {
    let (w, h) = (scan.width as f64, scan.height as f64);
    let page_mm = if w > h { (sides_mm.1, sides_mm.0) } else { sides_mm };
    if let Some((x, y)) = dpi {
        let (across, down) = (x / 25.4, y / 25.4);
        let off = (w / across / page_mm.0 - 1.0).abs().max((h / down / page_mm.1 - 1.0).abs());
        if off < DPI_SHARE {
            return Some(whole((across, down), page_mm, (w, h)));
        }
    }
    let off = (w / h / (page_mm.0 / page_mm.1) - 1.0).abs();
    let filling = || whole((w / page_mm.0, h / page_mm.1), page_mm, (w, h));
    if off < ASPECT_SHARE {
        return Some(filling());
    }
    on_a_desk(scan, sides_mm).or_else(|| (off < CUT_OUT_SHARE).then(filling))
}

/// The paper in the middle of a scan of the given resolution, pixels a mm.
fn whole((across, down): (f64, f64), page_mm: (f64, f64), (w, h): (f64, f64)) -> Paper {
    let (x, y) = (0.5 * (w - page_mm.0 * across) - 0.5, 0.5 * (h - page_mm.1 * down) - 0.5);
    let map = Homography::from_rows([[across, 0.0, x], [0.0, down, y], [0.0, 0.0, 1.0]]);
    Paper { map, page_mm, found_by: FoundBy::WholeScan }
}

/// A place where the picture steps from dark to bright.
struct Step {
    at: Point,
    /// The way to the bright side, degrees of the picture (x right, y down), 0 to 359.
    way_deg: f64,
    size: f64,
}

/// A straight line with its bright side in the way of its normal.
#[derive(Clone, Copy, Debug)]
struct Side {
    way_deg: f64,
    /// Along the normal from the picture's corner, pixels.
    offset: f64,
}

impl Side {
    fn normal(&self) -> Vec2 {
        Vec2::from_angle(self.way_deg.to_radians())
    }

    fn off(&self, p: Point) -> f64 {
        self.normal().dot(p.to_vec2()) - self.offset
    }

    fn along(&self, p: Point) -> f64 {
        let n = self.normal();
        Vec2::new(-n.y, n.x).dot(p.to_vec2())
    }

    fn meet(&self, other: &Side) -> Option<Point> {
        let (n, m) = (self.normal(), other.normal());
        let det = n.cross(m);
        (det.abs() > 0.1).then(|| {
            Point::new(
                (self.offset * m.y - other.offset * n.y) / det,
                (n.x * other.offset - m.x * self.offset) / det,
            )
        })
    }
}

fn on_a_desk(scan: &GreyImage, sides_mm: (f64, f64)) -> Option<Paper> {
    let (picture, factor) = grey::reduce(scan, REDUCED_PX);
    let steps = steps(&picture);
    let lines: Vec<Seen> =
        likely(&steps, &picture).into_iter().map(|l| Seen::new(l, &steps, &picture)).collect();
    let four = best_four(&lines, &picture)?;
    let sides = four.map(|side| fitted(side, &steps));
    let corners = corners(&sides)?;
    let length = |k: usize| corners[k].distance(corners[(k + 1) % 4]);
    let (across, down) = (length(0) + length(2), length(1) + length(3));
    let page_mm = if across > down { (sides_mm.1, sides_mm.0) } else { sides_mm };
    let places = [(0.0, 0.0), (page_mm.0, 0.0), page_mm, (0.0, page_mm.1)];
    let up = |p: Point| Point::new((p.x + 0.5) * factor - 0.5, (p.y + 0.5) * factor - 0.5);
    let pairs: Vec<(Point, Point)> =
        places.iter().zip(corners).map(|(&(x, y), c)| (Point::new(x, y), up(c))).collect();
    Some(Paper { map: Homography::fit(&pairs).ok()?, page_mm, found_by: FoundBy::PaperEdges })
}

/// Sums of the pixels above and to the left of each.
fn sums(picture: &GreyImage) -> Vec<u32> {
    let (w, h) = (picture.width, picture.height);
    let mut sums = vec![0u32; (w + 1) * (h + 1)];
    for y in 0..h {
        let mut row = 0;
        for x in 0..w {
            row += u32::from(picture.pixels[y * w + x]);
            sums[(y + 1) * (w + 1) + x + 1] = sums[y * (w + 1) + x + 1] + row;
        }
    }
    sums
}

/// The steps of a picture: places where it changes more than just before and just behind.
fn steps(picture: &GreyImage) -> Vec<Step> {
    let (w, h) = (picture.width, picture.height);
    let sums = sums(picture);
    let r = REACH_PX;
    if w < 4 * r || h < 4 * r {
        return Vec::new();
    }
    let mean = |x0: usize, y0: usize, x1: usize, y1: usize| {
        let at = |x: usize, y: usize| f64::from(sums[y * (w + 1) + x]);
        (at(x1, y1) - at(x0, y1) - at(x1, y0) + at(x0, y0)) / ((x1 - x0) * (y1 - y0)) as f64
    };
    let mut slopes = vec![Vec2::ZERO; w * h];
    for y in r..h - r {
        for x in r..w - r {
            let across = mean(x + 1, y - 2, x + r + 1, y + 3) - mean(x - r, y - 2, x, y + 3);
            let down = mean(x - 2, y + 1, x + 3, y + r + 1) - mean(x - 2, y - r, x + 3, y);
            slopes[y * w + x] = Vec2::new(across, down);
        }
    }
    let mut steps = Vec::new();
    for y in r + 2..h - r - 2 {
        for x in r + 2..w - r - 2 {
            let g = slopes[y * w + x];
            let size = g.hypot();
            if size < LEAST_STEP {
                continue;
            }
            let (dx, dy) = ((g.x / size).round() as isize, (g.y / size).round() as isize);
            let beside = |k: isize| {
                slopes[((y as isize + k * dy) as usize) * w + (x as isize + k * dx) as usize].hypot()
            };
            let (before, behind) = (beside(-1), beside(1));
            if size < before || size <= behind {
                continue;
            }
            // The top of the parabola through the three.
            let bend = before + behind - 2.0 * size;
            let shift = if bend < 0.0 { (0.5 * (before - behind) / bend).clamp(-0.5, 0.5) } else { 0.0 };
            let at = Point::new(x as f64 + shift * dx as f64, y as f64 + shift * dy as f64);
            steps.push(Step { at, way_deg: g.atan2().to_degrees().rem_euclid(360.0), size });
        }
    }
    steps
}

/// The likeliest lines, the most likely first.
fn likely(steps: &[Step], picture: &GreyImage) -> Vec<Side> {
    let reach = (picture.width as f64).hypot(picture.height as f64);
    let cells = (2.0 * reach / CELL_PX).ceil() as usize + 2;
    let mut votes = vec![0f32; 360 * cells];
    let turns: Vec<Vec2> = (0..360).map(|d| Vec2::from_angle(f64::from(d).to_radians())).collect();
    for step in steps {
        for d in -AWRY_DEG..=AWRY_DEG {
            let way = (step.way_deg.round() as i32 + d).rem_euclid(360) as usize;
            let cell = ((turns[way].dot(step.at.to_vec2()) + reach) / CELL_PX) as usize;
            votes[way * cells + cell.min(cells - 1)] += step.size.min(FULL_STEP) as f32;
        }
    }
    let least = 0.05 * reach * LEAST_STEP;
    let mut ranked: Vec<(f32, usize)> =
        votes.iter().copied().zip(0..).filter(|(v, _)| f64::from(*v) > least).collect();
    ranked.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
    let mut lines: Vec<Side> = Vec::new();
    for (_, i) in ranked {
        let line = Side { way_deg: (i / cells) as f64, offset: ((i % cells) as f64 + 0.5) * CELL_PX - reach };
        let near = |l: &Side| {
            turn(l.way_deg, line.way_deg).abs() < APART_DEG && (l.offset - line.offset).abs() < APART_PX
        };
        if !lines.iter().any(near) {
            lines.push(line);
            if lines.len() == MOST_LINES {
                break;
            }
        }
    }
    lines
}

/// From one direction to another, degrees, -180 to 180.
fn turn(a: f64, b: f64) -> f64 {
    (b - a + 180.0).rem_euclid(360.0) - 180.0
}

/// A line, and where along it an edge is seen.
struct Seen {
    side: Side,
    from: f64,
    /// How many of the pixels along it, up to each, have an edge; and the steps there, summed.
    count: Vec<(u32, f64)>,
}

impl Seen {
    fn new(side: Side, steps: &[Step], picture: &GreyImage) -> Self {
        let reach = (picture.width as f64).hypot(picture.height as f64);
        let mut best = vec![0.0f64; 2 * reach.ceil() as usize + 2];
        for step in steps {
            if side.off(step.at).abs() < NEAR_PX && turn(side.way_deg, step.way_deg).abs() < 25.0 {
                let at = (side.along(step.at) + reach) as usize;
                // A step speaks for its neighbours as well: a slanting line has no step in some pixels.
                for k in at.saturating_sub(1)..=(at + 1).min(best.len() - 1) {
                    best[k] = best[k].max(step.size.min(FULL_STEP));
                }
            }
        }
        let mut count = Vec::with_capacity(best.len() + 1);
        let mut sum = (0, 0.0);
        count.push(sum);
        for b in best {
            sum = (sum.0 + u32::from(b > 0.0), sum.1 + b);
            count.push(sum);
        }
        Self { side, from: -reach, count }
    }

    /// Share of the way between two places along which the edge is seen, and the mean step.
    fn between(&self, a: Point, b: Point) -> (f64, f64) {
        let at = |p: Point| ((self.side.along(p) - self.from).max(0.0) as usize).min(self.count.len() - 1);
        let (i, j) = (at(a).min(at(b)), at(a).max(at(b)));
        let n = (j - i).max(1) as f64;
        (f64::from(self.count[j].0 - self.count[i].0) / n, (self.count[j].1 - self.count[i].1) / n)
    }
}

/// The four lines that are seen best as the sides of a sheet: top, right, bottom, left, bright sides inwards.
fn best_four(lines: &[Seen], picture: &GreyImage) -> Option<[Side; 4]> {
    let mut best: Option<(f64, [Side; 4])> = None;
    let facing = |way: f64| {
        lines.iter().filter(move |l| turn(l.side.way_deg, way).abs() < SKEW_DEG + 12.0).collect::<Vec<_>>()
    };
    // The bright side of the top edge is below it.
    let (tops, rights, bottoms, lefts) = (facing(90.0), facing(180.0), facing(270.0), facing(0.0));
    for top in &tops {
        for bottom in &bottoms {
            if turn(top.side.way_deg + 180.0, bottom.side.way_deg).abs() > SKEW_DEG {
                continue;
            }
            for left in &lefts {
                if (turn(left.side.way_deg, top.side.way_deg) - 90.0).abs() > SKEW_DEG {
                    continue;
                }
                for right in &rights {
                    if turn(left.side.way_deg + 180.0, right.side.way_deg).abs() > SKEW_DEG {
                        continue;
                    }
                    let four = [*top, *right, *bottom, *left];
                    if let Some(score) = score(&four, picture)
                        && best.is_none_or(|(s, _)| score > s)
                    {
                        best = Some((score, four.map(|l| l.side)));
                    }
                }
            }
        }
    }
    best.map(|(_, four)| four)
}

/// Top left, top right, bottom right, bottom left.
fn corners(sides: &[Side; 4]) -> Option<[Point; 4]> {
    let [top, right, bottom, left] = sides;
    Some([top.meet(left)?, top.meet(right)?, bottom.meet(right)?, bottom.meet(left)?])
}

/// How well four lines are seen as a sheet; `None` where they can be none.
fn score(four: &[&Seen; 4], picture: &GreyImage) -> Option<f64> {
    let (w, h) = (picture.width as f64, picture.height as f64);
    let corners = corners(&[four[0].side, four[1].side, four[2].side, four[3].side])?;
    let inside = |p: &Point| p.x > -0.04 * w && p.x < 1.04 * w && p.y > -0.04 * h && p.y < 1.04 * h;
    if !corners.iter().all(inside) {
        return None;
    }
    let edge = |k: usize| corners[(k + 1) % 4] - corners[k];
    if (0..4).any(|k| edge(k).cross(edge((k + 1) % 4)) <= 0.0) {
        return None;
    }
    let area = 0.5 * (corners[2] - corners[0]).cross(corners[3] - corners[1]);
    let (across, down) = (edge(0).hypot() + edge(2).hypot(), edge(1).hypot() + edge(3).hypot());
    let proportion = across.max(down) / across.min(down).max(1.0);
    if area < LEAST_AREA * w * h || !(PROPORTION.0..PROPORTION.1).contains(&proportion) {
        return None;
    }
    let mut total = 0.0;
    for (k, line) in four.iter().enumerate() {
        let (share, step) = line.between(corners[k], corners[(k + 1) % 4]);
        if share < LEAST_SEEN {
            return None;
        }
        total += share * step;
    }
    // Of sheets that are seen equally well, the whole and not a part of it.
    Some(total * (area / (w * h)).sqrt())
}

/// The line through the steps near a side, those that lie off counting less and less.
fn fitted(mut side: Side, steps: &[Step]) -> Side {
    for round in 0..ROUNDS {
        let reach = NEAR_PX * if round == 0 { 1.5 } else { 1.0 };
        let (mut n, mut mean) = (0.0, Vec2::ZERO);
        let mut near = Vec::new();
        for step in steps {
            let off = side.off(step.at);
            if off.abs() < reach && turn(side.way_deg, step.way_deg).abs() < 25.0 {
                let weight = (1.0 - (off / reach).powi(2)).powi(2) * step.size.min(FULL_STEP);
                n += weight;
                mean += weight * step.at.to_vec2();
                near.push((step.at.to_vec2(), weight));
            }
        }
        if near.len() < 20 {
            return side;
        }
        mean /= n;
        let (mut xx, mut xy, mut yy) = (0.0, 0.0, 0.0);
        for (p, weight) in near {
            let d = p - mean;
            xx += weight * d.x * d.x;
            xy += weight * d.x * d.y;
            yy += weight * d.y * d.y;
        }
        let along = 0.5 * (2.0 * xy).atan2(xx - yy);
        let normal = (along.to_degrees() + 90.0).rem_euclid(360.0);
        let way_deg = if turn(side.way_deg, normal).abs() > 90.0 { normal - 180.0 } else { normal };
        side = Side { way_deg, offset: Vec2::from_angle(way_deg.to_radians()).dot(mean) };
    }
    side
}
