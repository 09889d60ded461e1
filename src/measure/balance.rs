//! `balance.share`: where the computed pattern is its own mirror image, is as much drawn on either side?
//!
//! Mirror lines are level or upright and go through the mean of the sources' centres; the sense of the field
//! is left out. Drawn length on the emptier side over that on the fuller; the least over the mirror lines.

use super::Id;
use super::region::{Region, STEP_MM};
use super::worlds::Reading;
use crate::drawing::Drawing;
use crate::geometry::{Point, Vec2};
use crate::worksheet::{Panel, PanelField};

/// How well the share is read, one standard deviation. Empirical.
pub const SHARE_SD: f64 = 0.01;
/// The field at mirrored places is parallel to within acos of this (contract: 2.6 degrees).
const PARALLEL: f64 = 0.999;
/// Places at which the mirror is tried, spread evenly over the frame.
const TRIES: usize = 60;
/// Fewest of them with their image in the panel too; with fewer there is no mirror line (contract).
const MIN_TRIES: usize = 10;

/// A mirror line of the computed pattern.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Mirror {
    /// Level, at this y.
    Level(f64),
    /// Upright, at this x.
    Upright(f64),
}

impl Mirror {
    fn image(self, p: Point) -> Point {
        match self {
            Mirror::Level(y) => Point::new(p.x, 2.0 * y - p.y),
            Mirror::Upright(x) => Point::new(2.0 * x - p.x, p.y),
        }
    }

    fn turn(self, v: Vec2) -> Vec2 {
        match self {
            Mirror::Level(_) => Vec2::new(v.x, -v.y),
            Mirror::Upright(_) => Vec2::new(-v.x, v.y),
        }
    }

    /// Which side a place lies on; `None` on the line itself.
    fn side(self, p: Point) -> Option<usize> {
        let over = match self {
            Mirror::Level(y) => p.y - y,
            Mirror::Upright(x) => p.x - x,
        };
        (over != 0.0).then_some(usize::from(over > 0.0))
    }
}

/// Drawn length on both sides of each mirror line.
pub struct Balance {
    /// A mirror line an entry, then a line: mm before and behind.
    sides: Vec<Vec<[f64; 2]>>,
}

impl Balance {
    pub fn new(region: &Region) -> Self {
        let sides = mirrors(region).into_iter().map(|m| {
            region.lines.iter().map(move |l| {
                let mut sums = [0.0; 2];
                for p in l.pieces.iter().flat_map(|r| &l.points[r.clone()]) {
                    if let Some(side) = m.side(*p) {
                        sums[side] += STEP_MM;
                    }
                }
                sums
            })
        });
        Self { sides: sides.map(Iterator::collect).collect() }
    }

    /// `balance.share` of the lines that are there.
    pub fn share(&self, reading: &Reading) -> Option<f64> {
        if !reading.lines.contains(&true) {
            return None;
        }
        let one = |by_line: &Vec<[f64; 2]>| {
            let there = by_line.iter().zip(&reading.lines).filter(|(_, l)| **l);
            let [a, b] = there.fold([0.0, 0.0], |[a, b], (s, _)| [a + s[0], b + s[1]]);
            if a.max(b) > 0.0 { a.min(b) / a.max(b) } else { 0.0 }
        };
        let least = self.sides.iter().map(one).reduce(f64::min)?;
        Some((least + SHARE_SD * reading.noise[Id::BalanceShare as usize]).clamp(0.0, 1.0))
    }
}

/// Whether the computed pattern of a panel is its own mirror image.
pub fn has_mirror(panel: &Panel, field: &PanelField) -> bool {
    !mirrors(&Region::new(panel, field, &Drawing::default())).is_empty()
}

/// The mirror lines that leave the computed pattern as it is.
fn mirrors(region: &Region) -> Vec<Mirror> {
    let sources = &region.panel.sources;
    if sources.is_empty() {
        return Vec::new();
    }
    let n = sources.len() as f64;
    let middle = sources.iter().fold(Vec2::ZERO, |s, q| s + q.centre.to_vec2() / n);
    let places: Vec<Point> = spread(region).filter(|p| region.counts(*p)).collect();
    let here = region.directions(&places);
    let keeps = |m: &Mirror| {
        let pairs = places.iter().zip(&here).filter(|(p, _)| region.counts(m.image(**p)));
        let (images, here): (Vec<Point>, Vec<Vec2>) = pairs.map(|(p, d)| (m.image(*p), *d)).unzip();
        let there = region.directions(&images);
        images.len() >= MIN_TRIES && here.iter().zip(&there).all(|(a, b)| a.dot(m.turn(*b)).abs() > PARALLEL)
    };
    [Mirror::Level(middle.y), Mirror::Upright(middle.x)].into_iter().filter(keeps).collect()
}

/// [`TRIES`] places over the frame: J. H. Halton's sequence in bases 2 and 3, Numer. Math. 2 (1960) 84.
fn spread(region: &Region) -> impl Iterator<Item = Point> {
    let f = region.panel.frame;
    (1..=TRIES).map(move |i| Point::new(f.x0 + halton(i, 2) * f.width(), f.y0 + halton(i, 3) * f.height()))
}

/// The digits of `i` in the base, mirrored at the point.
fn halton(mut i: usize, base: usize) -> f64 {
    let (mut value, mut unit) = (0.0, 1.0);
    while i > 0 {
        unit /= base as f64;
        value += unit * (i % base) as f64;
        i /= base;
    }
    value
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::measure::made;
    use crate::worksheet::{Earth, Kind};

    #[test]
    fn the_emptier_side_over_the_fuller() {
        let panel = made::dipole();
        let field = panel.field();
        let d = made::drawing(vec![
            made::straight((80.0, 70.0), (120.0, 70.0)),
            made::straight((85.0, 130.0), (115.0, 130.0)),
        ]);
        let region = Region::new(&panel, &field, &d);
        let balance = Balance::new(&region);
        // A dipole's pattern has both mirror lines: 61 points below for 81 above; left and right alike.
        assert_eq!(balance.sides.len(), 2);
        assert_eq!(balance.share(&made::reading(&region, &d)), Some(61.0 / 81.0));
    }

    #[test]
    fn a_pattern_that_is_not_its_image_has_no_balance() {
        let earth = Earth { horizontal_ut: 20.0, north_deg: 70.0 };
        let panel = made::with_source(Kind::Dipole { moment_am2: 0.02 }, Some(earth));
        let field = panel.field();
        let d = made::drawing(vec![made::straight((80.0, 70.0), (120.0, 70.0))]);
        let region = Region::new(&panel, &field, &d);
        assert_eq!(Balance::new(&region).share(&made::reading(&region, &d)), None);
    }

    #[test]
    fn the_first_places_of_the_sequence() {
        assert_eq!([1, 2, 3, 4].map(|i| halton(i, 2)), [0.5, 0.25, 0.75, 0.125]);
        assert!((halton(5, 3) - 7.0 / 9.0).abs() < 1e-15);
    }
}
