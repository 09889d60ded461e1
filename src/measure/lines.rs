//! `lines.count`, `lines.off_mm`: how many lines, and how far each lies from the computed line that goes
//! through its middle. Millimetres.

use super::region::{Region, Traced};
use super::worlds::Reading;
use crate::geometry::Point;
use crate::geometry::polyline::segment_distance;
use crate::stats::{median, percentile};

/// How well `lines.off_mm` is read, one standard deviation. Empirical.
pub const OFF_SD_MM: f64 = 0.15;
/// Which of a line's distances counts: not the largest, which one slip of the hand decides (contract).
const OFF_PERCENTILE: f64 = 90.0;

/// `lines.count`.
pub fn count(reading: &Reading) -> f64 {
    reading.lines.iter().filter(|l| **l).count() as f64
}

/// The computed line through a place: from there against the field, and along it.
pub type Computed = [Vec<Point>; 2];

/// The points of a line that count.
fn counted(line: &Traced) -> Vec<Point> {
    line.pieces.iter().flat_map(|r| line.points[r.clone()].iter().copied()).collect()
}

/// For each line the computed one through the middle of what of it counts.
pub fn computed(region: &Region) -> Vec<Option<Computed>> {
    let one = |line: &Traced| {
        let counted = counted(line);
        let middle = *counted.get(counted.len() / 2)?;
        Some([-1.0, 1.0].map(|sense| region.field.follow(middle, sense).points))
    };
    region.lines.iter().map(one).collect()
}

/// Each line's 90th percentile of distance from the computed line through its middle (of what counts).
pub fn each_off_mm(region: &Region, computed: &[Option<Computed>]) -> Vec<Option<f64>> {
    let one = |(line, computed): (&Traced, &Option<Computed>)| {
        let [against, along] = computed.as_ref()?;
        let computed: Vec<Point> = against.iter().rev().chain(along.iter().skip(1)).copied().collect();
        percentile(&Chunks::new(&computed).distances(&counted(line)), OFF_PERCENTILE)
    };
    region.lines.iter().zip(computed).map(one).collect()
}

/// `lines.off_mm`: the median over the lines that are there.
pub fn off(each: &[Option<f64>], reading: &Reading) -> Option<f64> {
    let there: Vec<f64> =
        each.iter().zip(&reading.lines).filter(|(_, l)| **l).filter_map(|(v, _)| *v).collect();
    Some((median(&there)? + OFF_SD_MM * reading.noise[super::Id::LinesOff as usize]).max(0.0))
}

/// A polyline cut into short runs, each with the disc that holds it, so that most of it need not be looked
/// at for the place nearest to another.
struct Chunks<'a> {
    line: &'a [Point],
    discs: Vec<(Point, f64)>,
}

impl<'a> Chunks<'a> {
    /// Pieces a run.
    const RUN: usize = 16;

    fn new(line: &'a [Point]) -> Self {
        let disc = |run: usize| {
            let from = run * Self::RUN;
            let points = &line[from..(from + Self::RUN + 1).min(line.len())];
            let middle = points[points.len() / 2];
            (middle, points.iter().map(|p| (*p - middle).hypot()).fold(0.0, f64::max))
        };
        let runs = line.len().saturating_sub(1).div_ceil(Self::RUN);
        Self { line, discs: (0..runs).map(disc).collect() }
    }

    fn in_run(&self, run: usize, p: Point) -> f64 {
        let from = run * Self::RUN;
        let points = &self.line[from..(from + Self::RUN + 1).min(self.line.len())];
        points.windows(2).map(|w| segment_distance(p, w[0], w[1])).fold(f64::INFINITY, f64::min)
    }

    /// The distance of each place from the polyline. Places that follow one another are quickest.
    fn distances(&self, places: &[Point]) -> Vec<f64> {
        let mut last = 0;
        let mut out = Vec::with_capacity(places.len());
        for &p in places {
            if self.discs.is_empty() {
                out.push(self.line.first().map_or(f64::INFINITY, |q| (p - *q).hypot()));
                continue;
            }
            let mut best = self.in_run(last, p);
            for (run, (middle, radius)) in self.discs.iter().enumerate() {
                if (p - *middle).hypot() - radius < best {
                    let d = self.in_run(run, p);
                    if d < best {
                        (best, last) = (d, run);
                    }
                }
            }
            out.push(best);
        }
        out
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::towards;
    use crate::measure::made;

    /// A line at `a` degrees to a uniform field through its middle is s sin(a) off at s from there.
    #[test]
    fn a_straight_line_across_a_uniform_field_is_off_by_its_share() {
        let panel = made::uniform(0.0);
        let field = panel.field();
        let length = 80.0;
        for a in [0.0, 10.0, 45.0, 90.0] {
            let (from, to) =
                (made::MIDDLE - length / 2.0 * towards(a), made::MIDDLE + length / 2.0 * towards(a));
            let d = made::drawing(vec![vec![from, to]]);
            let region = Region::new(&panel, &field, &d);
            let each = each_off_mm(&region, &computed(&region));
            let want = 0.9 * length / 2.0 * f64::to_radians(a).sin();
            assert!((each[0].unwrap() - want).abs() < 1e-6, "{a}: {each:?}");
        }
    }

    #[test]
    fn computed_lines_are_not_off() {
        let panel = made::dipole();
        let field = panel.field();
        let d = made::drawing([30.0, 50.0, 75.0].map(|r| made::dipole_line(r, 0.45, 1.0)).to_vec());
        let region = Region::new(&panel, &field, &d);
        for off in each_off_mm(&region, &computed(&region)) {
            assert!(off.unwrap() < 0.01, "{off:?}");
        }
    }
    use crate::geometry::polyline::distance;
    use proptest::prelude::*;

    fn places(n: std::ops::Range<usize>) -> impl Strategy<Value = Vec<Point>> {
        prop::collection::vec((-50.0..50.0f64, -50.0..50.0f64).prop_map(|(x, y)| Point::new(x, y)), n)
    }

    proptest! {
        #[test]
        fn distances_equal_the_plain_search(line in places(1..90), from in places(1..20)) {
            let got = Chunks::new(&line).distances(&from);
            for (p, d) in from.iter().zip(got) {
                prop_assert!((d - distance(*p, &line)).abs() < 1e-9);
            }
        }
    }
}
