//! The filings view: line integral convolution of strewn grains along the in-plane field (B. Cabral and L. Leedom,
//! SIGGRAPH 93, 263).
//!
//! The noise is not one of single dots but of round grains, strewn by a seed: each is drawn out along the field to a
//! streak a few tenths of a millimetre wide and one to two long. How many there are grows with the logarithm of the
//! strength, because filings gather where the field is strong. Real filings also join to chains and weaken what they
//! show; that is not modelled.

use super::lattice::Lattice;
use crate::geometry::{Point, Rect, Vec2};
use crate::worksheet::PanelField;
use rand_pcg::Pcg64Mcg;
use rand_pcg::rand_core::{Rng, SeedableRng};
use rayon::prelude::*;

/// Side of the cells in each of which one grain may lie, mm.
const CELL_MM: f64 = 0.46;
/// Radii of grains, mm.
const RADIUS_MM: [f64; 2] = [0.11, 0.19];
/// Darkness of the noise under a grain, of 1.
const WEIGHT: [f64; 2] = [0.65, 1.0];
/// Share of the cells that hold a grain where the field is weakest and strongest.
const FILLED: [f64; 2] = [0.10, 0.78];
/// The share grows with this power of the strength; above 1 it leaves the weak parts of the picture light.
const FILLED_POWER: f64 = 1.25;
/// Half the length along which the noise is summed, mm, where the field is weakest and strongest.
const HALF_LENGTH_MM: [f64; 2] = [0.75, 1.1];
/// Steps to either side along the field.
const STEPS: usize = 9;
/// Sums that show as nothing and as full ink. Empirical: so a lone grain is full in its middle and thin at its ends.
const TONE: [f64; 2] = [0.05, 0.24];
/// Shades that are told apart; fewer make the file smaller, and the paper's grain hides it.
const SHADES: f64 = 15.0;

/// A picture of grains: how much of each dot is covered by ink.
#[derive(Clone, Debug, PartialEq)]
pub struct Grains {
    /// What the dots cover, mm on the page.
    pub area: Rect,
    pub width: usize,
    pub height: usize,
    /// Row by row, 0 none to 255 all.
    pub cover: Vec<u8>,
}

/// The grains of a panel at `dpi` dots an inch, on a grid of dots that begins at `origin`, so that the dots are those of a
/// picture that begins there.
///
/// The same seed strews the same grains at any `dpi`, and gives the same dots at any number of threads.
pub(super) fn grains(field: &PanelField, origin: Point, dpi: f64, seed: u64) -> Grains {
    let lattice = Lattice::of(field);
    let side = 25.4 / dpi;
    let frame = lattice.frame();
    let first = |from: f64, zero: f64| ((from - zero) / side).floor();
    let last = |to: f64, zero: f64| ((to - zero) / side).ceil();
    let corner = Vec2::new(first(frame.x0, origin.x), first(frame.y0, origin.y));
    let width = (last(frame.x1, origin.x) - corner.x) as usize;
    let height = (last(frame.y1, origin.y) - corner.y) as usize;
    let dots = Dots { corner: origin + corner * side, side, width, height };
    let noise = Strewn::over(&lattice, seed).noise(&dots);
    let weights: [f64; STEPS + 1] =
        std::array::from_fn(|k| 0.5 + 0.5 * (std::f64::consts::PI * k as f64 / (STEPS + 1) as f64).cos());
    let mut cover = vec![0; width * height];
    cover.par_chunks_mut(width.max(1)).enumerate().for_each(|(y, row)| {
        for (x, dot) in row.iter_mut().enumerate() {
            *dot = summed(&lattice, &dots, &noise, dots.middle(x, y), &weights).map_or(0, tone);
        }
    });
    let to = dots.corner + side * Vec2::new(width as f64, height as f64);
    Grains { area: Rect::from_points(dots.corner, to), width, height, cover }
}

/// The mean of the noise along the field to either side of a place, the nearer the more (a Hann window).
fn summed(lattice: &Lattice, dots: &Dots, noise: &[u8], p: Point, weights: &[f64; STEPS + 1]) -> Option<f64> {
    let b = lattice.b(p)?;
    let t = lattice.strength(b);
    let step = between(HALF_LENGTH_MM, t) / STEPS as f64;
    let mut sum = weights[0] * dots.level(noise, p);
    for sense in [1.0, -1.0] {
        let (mut at, mut way) = (p, b * (sense / b.hypot()));
        for weight in &weights[1..] {
            at += way * step;
            // At an outline or the frame the grain ends.
            let Some(b) = lattice.b(at) else { break };
            sum += weight * dots.level(noise, at);
            way = b * (sense / b.hypot());
        }
    }
    Some(sum / (2.0 * weights.iter().sum::<f64>() - weights[0]))
}

/// A sum of noise as covering ink.
fn tone(sum: f64) -> u8 {
    let t = ((sum - TONE[0]) / (TONE[1] - TONE[0])).clamp(0.0, 1.0);
    let smooth = t * t * (3.0 - 2.0 * t);
    ((smooth * SHADES).round() * (255.0 / SHADES)).round() as u8
}

fn between(ends: [f64; 2], t: f64) -> f64 {
    ends[0] + (ends[1] - ends[0]) * t
}

/// The grid of dots of a picture.
struct Dots {
    corner: Point,
    side: f64,
    width: usize,
    height: usize,
}

impl Dots {
    fn middle(&self, x: usize, y: usize) -> Point {
        self.corner + self.side * Vec2::new(x as f64 + 0.5, y as f64 + 0.5)
    }

    /// The level of noise at a place, 0 to 1, linear between the middles of dots.
    #[inline]
    fn level(&self, noise: &[u8], p: Point) -> f64 {
        let u = ((p.x - self.corner.x) / self.side - 0.5).clamp(0.0, (self.width - 1) as f64);
        let v = ((p.y - self.corner.y) / self.side - 0.5).clamp(0.0, (self.height - 1) as f64);
        let (i, j) = (u as usize, v as usize);
        let (right, below) = (usize::from(i + 1 < self.width), self.width * usize::from(j + 1 < self.height));
        let k = j * self.width + i;
        let (s, t) = (u - i as f64, v - j as f64);
        let at = |k: usize| f64::from(noise[k]);
        let above = at(k) + s * (at(k + right) - at(k));
        let under = at(k + below) + s * (at(k + below + right) - at(k + below));
        (above + t * (under - above)) / 255.0
    }
}

/// A grain.
#[derive(Clone, Copy)]
struct Grain {
    at: Point,
    radius: f64,
    weight: f64,
}

/// Grains strewn over a frame, at most one a cell.
struct Strewn {
    frame: Rect,
    columns: usize,
    rows: usize,
    cells: Vec<Option<Grain>>,
}

impl Strewn {
    fn over(lattice: &Lattice, seed: u64) -> Self {
        let frame = lattice.frame();
        let cells = |side: f64| (side / CELL_MM).ceil() as usize;
        let (columns, rows) = (cells(frame.width()), cells(frame.height()));
        let mut pcg = Pcg64Mcg::seed_from_u64(seed);
        let mut even = || (pcg.next_u64() >> 11) as f64 / (1u64 << 53) as f64;
        // Five numbers a cell, taken or not: no grain depends on whether another shows.
        let mut cell = |k: usize| {
            let [x, y, size, dark, chance] = std::array::from_fn(|_| even());
            let at = frame.origin() + CELL_MM * Vec2::new((k % columns) as f64 + x, (k / columns) as f64 + y);
            let strength = lattice.strength(lattice.b(at)?);
            (chance < between(FILLED, strength.powf(FILLED_POWER))).then_some(Grain {
                at,
                radius: between(RADIUS_MM, size),
                weight: between(WEIGHT, dark),
            })
        };
        let cells = (0..columns * rows).map(&mut cell).collect();
        Self { frame, columns, rows, cells }
    }

    /// The grains as dots, each the darkest that covers it; at the rims the share that is covered.
    fn noise(&self, dots: &Dots) -> Vec<u8> {
        let mut noise = vec![0; dots.width * dots.height];
        noise.par_chunks_mut(dots.width.max(1)).enumerate().for_each(|(y, row)| {
            for (x, dot) in row.iter_mut().enumerate() {
                let p = dots.middle(x, y);
                let level = self.near(p).fold(0.0, |most: f64, grain| {
                    let covered = ((grain.radius - grain.at.distance(p)) / dots.side + 0.5).clamp(0.0, 1.0);
                    most.max(grain.weight * covered)
                });
                *dot = (level * 255.0).round() as u8;
            }
        });
        noise
    }

    /// The grains in the cell of a place and the eight round it.
    fn near(&self, p: Point) -> impl Iterator<Item = &Grain> {
        let cell = |from: f64, zero: f64, count: usize| {
            let at = ((from - zero) / CELL_MM).max(0.0) as usize;
            at.saturating_sub(1)..(at + 2).min(count)
        };
        let columns = cell(p.x, self.frame.x0, self.columns);
        cell(p.y, self.frame.y0, self.rows)
            .flat_map(move |j| columns.clone().map(move |i| (i, j)))
            .filter_map(|(i, j)| self.cells[j * self.columns + i].as_ref())
    }
}

#[cfg(test)]
mod tests {
    use super::super::tests::{bar, panel};
    use super::*;
    use crate::geometry::turn_deg;

    const DPI: f64 = 300.0;

    /// A bar in a small frame.
    fn of_bar(seed: u64) -> (PanelField, Grains) {
        let mut panel = panel(vec![bar(148.5, 115., 25.)]);
        panel.frame = Rect::new(88., 75., 208., 155.);
        let field = panel.field();
        let grains = grains(&field, Point::new(80., 55.), DPI, seed);
        (field, grains)
    }

    /// The way along which the picture changes least within `radius` dots of (x, y), by the structure tensor (W. Foerstner
    /// and E. Guelch, ISPRS Intercommission Workshop, Interlaken 1987; B. Jaehne, Digital Image Processing, chapter on simple neighbourhoods).
    fn streak(grains: &Grains, x: usize, y: usize, radius: usize) -> Option<Vec2> {
        let at = |x: usize, y: usize| f64::from(grains.cover[y * grains.width + x]);
        let (mut xx, mut xy, mut yy) = (0.0, 0.0, 0.0);
        for j in y - radius..=y + radius {
            for i in x - radius..=x + radius {
                // H. Scharr's weights (thesis, Heidelberg 2000): next to no way is preferred.
                let column = |i: usize| 3.0 * at(i, j - 1) + 10.0 * at(i, j) + 3.0 * at(i, j + 1);
                let row = |j: usize| 3.0 * at(i - 1, j) + 10.0 * at(i, j) + 3.0 * at(i + 1, j);
                let (gx, gy) = (column(i + 1) - column(i - 1), row(j + 1) - row(j - 1));
                xx += gx * gx;
                xy += gx * gy;
                yy += gy * gy;
            }
        }
        let across = 0.5 * (2.0 * xy).atan2(xx - yy);
        (xx + yy > 0.0).then(|| Vec2::new(-across.sin(), across.cos()))
    }

    /// Turns between the streaks and the plain form of the field, at places all over the picture, degrees, 0 to 90.
    fn turns(field: &PanelField, grains: &Grains, bend_deg: f64) -> Vec<f64> {
        let mut turns = Vec::new();
        for y in (30..grains.height - 30).step_by(41) {
            for x in (30..grains.width - 30).step_by(37) {
                let p = grains.area.origin() + (25.4 / DPI) * Vec2::new(x as f64 + 0.5, y as f64 + 0.5);
                let near = field.outlines().iter().any(|o| o.distance(p) < 4.0);
                if let Some(way) = streak(grains, x, y, 24).filter(|_| !near) {
                    let b = field.bodies().b_plain([p.x, -p.y, 0.0]);
                    let turn = turn_deg(Vec2::new(b[0], -b[1]), way) + bend_deg;
                    let turn = turn.rem_euclid(180.0);
                    turns.push(turn.min(180.0 - turn));
                }
            }
        }
        turns.sort_by(f64::total_cmp);
        turns
    }

    #[test]
    fn streaks_follow_the_field() {
        let (field, grains) = of_bar(1);
        let found = turns(&field, &grains, 0.0);
        let at = |share: f64| found[(share * (found.len() - 1) as f64) as usize];
        assert!(
            found.len() > 500 && at(0.5) < 2.0 && at(0.9) < 6.0,
            "{} {} {}",
            found.len(),
            at(0.5),
            at(0.9)
        );
        // The measure can fail: against a field turned by 30 degrees it finds those.
        let turned = turns(&field, &grains, 30.0);
        assert!((turned[turned.len() / 2] - 30.0).abs() < 3.0);
    }

    #[test]
    fn filings_gather_where_the_field_is_strong_and_none_lie_on_a_magnet() {
        let (field, grains) = of_bar(2);
        let (mut near, mut far) = ((0.0, 0.0), (0.0, 0.0));
        for (k, cover) in grains.cover.iter().enumerate() {
            let (x, y) = ((k % grains.width) as f64 + 0.5, (k / grains.width) as f64 + 0.5);
            let p = grains.area.origin() + (25.4 / DPI) * Vec2::new(x, y);
            let outline = &field.outlines()[0];
            if outline.contains(p) {
                assert_eq!(*cover, 0, "a grain on the magnet at {p:?}");
                continue;
            }
            let away = outline.distance(p);
            let sum = if away < 5.0 { &mut near } else { &mut far };
            if !(5.0..=35.0).contains(&away) {
                *sum = (sum.0 + f64::from(*cover) / 255.0, sum.1 + 1.0);
            }
        }
        let (near, far) = (near.0 / near.1, far.0 / far.1);
        assert!(near > 2.0 * far && far > 0.02 && near < 0.85, "{near} {far}");
    }

    #[test]
    fn the_same_seed_gives_the_same_grains_at_any_number_of_threads() {
        let one = rayon::ThreadPoolBuilder::new().num_threads(1).build().unwrap().install(|| of_bar(3).1);
        let five = rayon::ThreadPoolBuilder::new().num_threads(5).build().unwrap().install(|| of_bar(3).1);
        assert!(one == five && one != of_bar(4).1);
    }

    /// The picture holds about the same ink at half the dots.
    #[test]
    fn grains_do_not_depend_on_the_dots() {
        let (field, fine) = of_bar(5);
        let coarse = grains(&field, Point::new(80., 55.), DPI / 2.0, 5);
        let mean = |g: &Grains| g.cover.iter().map(|c| f64::from(*c)).sum::<f64>() / g.cover.len() as f64;
        let ratio = mean(&coarse) / mean(&fine);
        assert!((ratio - 1.0).abs() < 0.15, "{ratio}");
    }
}
