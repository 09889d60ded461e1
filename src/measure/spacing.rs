//! `spacing.widen`, `spacing.outward`: do neighbouring lines open out as the field asks?
//!
//! Two near field lines keep gap x exp(-integral) constant, the integral being that of the divergence of
//! the in-plane unit field along the line (the gap w across a bundle of unit directions u grows as
//! d(ln w)/ds = div u). In a flat cut of a three-dimensional field this, and not 1/B, is the law.

use super::Id;
use super::gaps::{Gaps, PLACE_STEP_MM};
use super::lines::Computed;
use super::region::Region;
use super::worlds::Reading;
use crate::drawing::{Drawing, Line};
use crate::geometry::polyline::{start, tangents};
use crate::geometry::{Point, Vec2};
use crate::stats::{MEDIAN_OF_NORMAL, spearman};

/// Fewest gaps that give a value, and fewest places for `spacing.outward` (contract).
const MIN_GAPS: usize = 12;
/// Fewest gaps to one neighbour that are ranked (contract).
const MIN_RUN: usize = 6;
/// The computed gap must vary this much along them, or their order means nothing (contract).
const MIN_VARIATION: f64 = 1.3;
/// Two gaps at one place are different from this share of their mean (contract).
const GAPS_DIFFER: f64 = 0.15;
/// Two flux densities are different from this share of their mean (contract).
const FLUX_DIFFER: f64 = 0.1;
/// Drawn gaps that vary by less are all the same.
const SAME_GAP_MM: f64 = 1e-9;
/// Half the distance over which the divergence is taken. Small beside the 3 mm by which measures keep off
/// the outlines, large beside rounding.
const H_MM: f64 = 0.25;
/// How far `spacing.widen` is misread: so many times a standard normal number and its cube. Mostly by little, but a run
/// of gaps that is just long enough to count, or just not, changes it by much. Empirical: on 592 generated drawings half were
/// off by up to 0.007, nine tenths by 0.040, 97 in 100 by 0.092, 99 by 0.152.
const WIDEN_ERROR: (f64, f64) = (0.008, 0.0075);
/// A gap misread changes whether a run counts at all: `widen` is taken again with these shortest runs and least variations.
const AROUND: [(usize, f64); 4] = [(5, 1.3), (7, 1.3), (6, 1.2), (6, 1.4)];
/// In readings whose standard normal number is further from 0 than this, one in four, it is what lies furthest off among these.
const AROUND_FROM: f64 = 1.15;
/// How well `spacing.outward` is read, one standard deviation. Empirical.
const OUTWARD_SD: f64 = 0.04;

/// Where computed field lines themselves have less, `spacing.widen` tells nothing of drawn ones: neighbours that part to
/// different magnets are no bundle. Measured on computed lines through drawn ones' middles: 0.69 and more for one, two and
/// three bars, horseshoes, coils and plates, -0.5 among four bars; a round wire's have none.
const LEAST_IDEAL: f64 = 0.5;

/// The gaps of a drawing with what the field asks of them.
pub struct Spacing {
    gaps: Gaps,
    /// Of each place: the logarithm of how far the computed gap has opened along its piece.
    opened: Vec<f64>,
    /// In-plane flux density in the middle of each hit's gap, mT; empty unless there is just one source.
    flux: Vec<f64>,
}

/// The two measures of one set of lines.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Whole {
    pub widen: Option<f64>,
    pub outward: Option<f64>,
    /// The least and the most that `widen` comes to where runs a little shorter or longer count, or such as vary a little less or more.
    around: [f64; 2],
    /// Whether there are enough gaps for a value, if they vary.
    gaps: bool,
}

impl Spacing {
    /// For the lines that are in some of the sets.
    pub fn new(region: &Region, sets: &[Vec<bool>]) -> Self {
        let gaps = Gaps::new(region, sets);
        let opened = opened(region, &gaps);
        let flux = if region.panel.sources.len() == 1 {
            let middles: Vec<Point> = gaps.hits.iter().map(|h| h.middle).collect();
            region.field.b_many(&middles).into_iter().map(|b| b[0].hypot(b[1])).collect()
        } else {
            Vec::new()
        };
        Self { gaps, opened, flux }
    }

    /// Both measures of one set of lines.
    pub fn of_set(&self, set: &[bool]) -> Whole {
        let there = || self.gaps.places.iter().enumerate().filter(|(_, p)| set[p.line]);
        let mut all = Vec::new();
        for (i, place) in there() {
            for side in [0, 1] {
                if let Some(h) = self.gaps.gap(place, side, set) {
                    let hit = &self.gaps.hits[h];
                    all.push(Gap {
                        run: (place.piece, hit.line, side),
                        width: hit.width_mm,
                        opened: self.opened[i],
                    });
                }
            }
        }
        if all.len() < MIN_GAPS {
            return Whole::default();
        }
        all.sort_by_key(|g| g.run);
        let value = widen(&all, MIN_RUN, MIN_VARIATION);
        let others = AROUND.map(|(run, variation)| widen(&all, run, variation));
        let around = others.into_iter().chain([value]).flatten();
        let around = around.fold([f64::INFINITY, f64::NEG_INFINITY], |[l, m], v| [l.min(v), m.max(v)]);
        Whole { widen: value, around, outward: self.outward(set), gaps: true }
    }

    fn outward(&self, set: &[bool]) -> Option<f64> {
        if self.flux.is_empty() {
            return None;
        }
        let differ = |a: f64, b: f64, share: f64| (a - b).abs() >= share * (a + b) / 2.0;
        let (mut votes, mut count) = (0i64, 0usize);
        for place in self.gaps.places.iter().filter(|p| set[p.line]) {
            let [Some(i), Some(j)] = [0, 1].map(|side| self.gaps.gap(place, side, set)) else { continue };
            let (a, b) = (self.gaps.hits[i].width_mm, self.gaps.hits[j].width_mm);
            let (fa, fb) = (self.flux[i], self.flux[j]);
            if differ(a, b, GAPS_DIFFER) && differ(fa, fb, FLUX_DIFFER) {
                count += 1;
                votes += if (a > b) == (fb > fa) { 1 } else { -1 };
            }
        }
        (count >= MIN_GAPS).then(|| votes as f64 / count as f64)
    }
}

/// One gap in one reading.
struct Gap {
    /// Gaps of one piece to one neighbour on one side are ranked together.
    run: (usize, usize, usize),
    width: f64,
    opened: f64,
}

/// The mean of Spearman's rho of drawn gap and computed opening over the runs, by their gaps.
fn widen(sorted: &[Gap], min_run: usize, min_variation: f64) -> Option<f64> {
    let range = |v: &[f64]| {
        let (low, high) =
            v.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), x| (l.min(*x), h.max(*x)));
        high - low
    };
    let (mut sum, mut count) = (0.0, 0usize);
    for run in sorted.chunk_by(|a, b| a.run == b.run).filter(|r| r.len() >= min_run) {
        let opened: Vec<f64> = run.iter().map(|g| g.opened).collect();
        let widths: Vec<f64> = run.iter().map(|g| g.width).collect();
        if range(&opened) >= min_variation.ln() {
            let rho = if range(&widths) < SAME_GAP_MM { Some(0.0) } else { spearman(&widths, &opened) };
            if let Some(rho) = rho {
                sum += rho * run.len() as f64;
                count += run.len();
            }
        }
    }
    (count >= MIN_GAPS).then(|| sum / count as f64)
}

/// A gap that is narrower or wider than its neighbours ask by this factor stands out. Empirical: a careful hand stays
/// within a quarter.
const STANDS_OUT: f64 = 1.5;
/// Most such places that are told of a panel: more than a student can mend at once.
const MOST_TOLD: usize = 4;
/// Two such places are at least this far apart, mm.
const TOLD_APART_MM: f64 = 25.0;

/// A place where neighbouring lines lie too close or too far apart for the rest of their way.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Odd {
    /// The middle of the gap.
    pub at: Point,
    /// Drawn gap over what the rest of the way asks for.
    pub ratio: f64,
}

impl Spacing {
    /// Where the gaps of a set of lines stand out most, the worst first: along runs whose gaps do not follow the
    /// field.
    pub fn odd(&self, set: &[bool]) -> Vec<Odd> {
        let mut runs: std::collections::BTreeMap<(usize, usize, usize), Vec<(Point, f64)>> =
            Default::default();
        for (i, place) in self.gaps.places.iter().enumerate().filter(|(_, p)| set[p.line]) {
            for side in [0, 1] {
                if let Some(h) = self.gaps.gap(place, side, set) {
                    let hit = &self.gaps.hits[h];
                    let off = hit.width_mm.max(SAME_GAP_MM).ln() - self.opened[i];
                    runs.entry((place.piece, hit.line, side)).or_default().push((hit.middle, off));
                }
            }
        }
        let mut odd: Vec<Odd> = Vec::new();
        for run in runs.values().filter(|run| run.len() >= MIN_RUN) {
            let mut sorted: Vec<f64> = run.iter().map(|(_, off)| *off).collect();
            sorted.sort_by(f64::total_cmp);
            let usual = sorted[sorted.len() / 2];
            odd.extend(run.iter().map(|(at, off)| Odd { at: *at, ratio: (off - usual).exp() }));
        }
        let size = |o: &Odd| o.ratio.ln().abs();
        odd.retain(|o| size(o) > STANDS_OUT.ln());
        odd.sort_by(|a, b| size(b).total_cmp(&size(a)));
        let mut told: Vec<Odd> = Vec::new();
        for o in odd {
            if told.len() < MOST_TOLD && told.iter().all(|t| (t.at - o.at).hypot() > TOLD_APART_MM) {
                told.push(o);
            }
        }
        told
    }
}

/// The integral of the divergence along each piece, from its first point (trapezium rule), at each place.
fn opened(region: &Region, gaps: &Gaps) -> Vec<f64> {
    let points: Vec<Point> = gaps.pieces.iter().flat_map(|(p, _)| p.iter().copied()).collect();
    let steps: Vec<Vec2> = gaps.pieces.iter().flat_map(|(p, _)| tangents(p)).collect();
    let divergence = divergence(region, &points, &steps);
    let mut opened = Vec::with_capacity(gaps.places.len());
    let mut from = 0;
    for (piece, _) in &gaps.pieces {
        let d = &divergence[from..from + piece.len()];
        from += piece.len();
        let mut sum = 0.0;
        for w in d[..d.len() - 1].windows(2) {
            sum += (w[0] + w[1]) / 2.0 * PLACE_STEP_MM;
            opened.push(sum);
        }
    }
    opened
}

/// Divergence of the in-plane unit field at each point, 1/mm, as seen by one who goes the given way.
fn divergence(region: &Region, points: &[Point], steps: &[Vec2]) -> Vec<f64> {
    let around = [Vec2::new(H_MM, 0.0), Vec2::new(-H_MM, 0.0), Vec2::new(0.0, H_MM), Vec2::new(0.0, -H_MM)];
    let places: Vec<Point> = points.iter().flat_map(|p| around.map(|d| *p + d)).collect();
    let field = region.directions(&places);
    let one = |(u, t): (&[Vec2], &Vec2)| {
        let [right, left, down, up] = [u[0], u[1], u[2], u[3]];
        // The sum of the four points as the field does in the middle.
        let with = t.dot(right + left + down + up);
        let sign = if with == 0.0 { 0.0 } else { with.signum() };
        sign * (right.x - left.x + down.y - up.y) / (2.0 * H_MM)
    };
    field.chunks_exact(around.len()).zip(steps).map(one).collect()
}

/// Whether `spacing.widen` would find that the computed lines through the middles of a set of drawn ones, as long as those,
/// open out as they do.
pub fn tells(region: &Region, set: &[bool], computed: &[Option<Computed>]) -> bool {
    let drawn = region.lines.iter().zip(computed).zip(set).filter(|(_, there)| **there);
    let lines = drawn.filter_map(|((line, computed), _)| {
        let [against, along] = computed.as_ref()?.each_ref().map(|way| start(way, 0.5 * line.counted_mm));
        let points = against.into_iter().rev().chain(along.into_iter().skip(1)).collect();
        Some(Line { points, arrows: Vec::new(), ..line.line.clone() })
    });
    let drawing = Drawing { lines: lines.collect(), ..Drawing::default() };
    let region = Region::new(region.panel, region.field, &drawing);
    let all = vec![true; region.lines.len()];
    let ideal = Spacing::new(&region, std::slice::from_ref(&all)).of_set(&all).widen;
    ideal.is_some_and(|v| v >= LEAST_IDEAL)
}

impl Whole {
    /// Whether a value of `spacing.widen` would tell nothing.
    pub fn widen_is_silent(&self, tells: bool) -> bool {
        self.gaps && !tells
    }

    /// `spacing.widen` as read in this reading. Where it tells nothing, half of the readings have it at its best or at its
    /// worst, so that no mark that rests on it is sure; the likeliest stays that of the value.
    pub fn widen(&self, reading: &Reading, tells: bool) -> Option<f64> {
        let noise = reading.noise[Id::SpacingWiden as usize];
        if self.widen_is_silent(tells) && noise.abs() > MEDIAN_OF_NORMAL {
            return Some(noise.signum());
        }
        let doubted = noise.abs() > AROUND_FROM;
        let value = self.widen.map(|v| if doubted { self.around[usize::from(noise > 0.0)] } else { v });
        value.map(|v| (v + WIDEN_ERROR.0 * noise + WIDEN_ERROR.1 * noise.powi(3)).clamp(-1.0, 1.0))
    }

    /// `spacing.outward` as read in this reading.
    pub fn outward(&self, reading: &Reading) -> Option<f64> {
        self.outward.map(|v| (v + OUTWARD_SD * reading.noise[Id::SpacingOutward as usize]).clamp(-1.0, 1.0))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::measure::made;
    use crate::worksheet::{Kind, Source};

    /// Lines r = R sin² t of a dipole lie dR sin³ t / sqrt(1 + 3 cos² t) apart for a step dR: the computed
    /// opening along one of them is the logarithm of that, up to a constant.
    #[test]
    fn the_opening_along_a_dipole_line_is_that_of_its_neighbour() {
        let panel = made::dipole();
        let field = panel.field();
        let d = made::drawing(vec![made::dipole_line(60.0, 0.5, 1.0)]);
        let region = Region::new(&panel, &field, &d);
        let spacing = Spacing::new(&region, &[vec![true]]);
        let points = &spacing.gaps.pieces[0].0;
        let apart = |p: &Point| {
            let q = *p - made::MIDDLE;
            let (s, c) = (q.y.abs() / q.hypot(), q.x / q.hypot());
            (s.powi(3) / (1.0 + 3.0 * c * c).sqrt()).ln()
        };
        let n = spacing.opened.len();
        assert!(n > 30);
        // The trapezium rule over 2 mm near the dipole is good to a hundredth.
        for i in 0..n {
            let want = apart(&points[i + 1]) - apart(&points[1]);
            let got = spacing.opened[i] - spacing.opened[0];
            assert!((got - want).abs() < 0.02, "place {i}: {got} for {want}");
        }
    }

    /// From 0.9 rad on, where they are 1 mm apart: nearer than 0.6 mm is no neighbour.
    #[test]
    fn the_lines_of_a_dipole_open_out_as_they_should() {
        let panel = made::dipole();
        let field = panel.field();
        let d = made::drawing([40.0, 43.0, 46.0, 49.0].map(|r| made::dipole_line(r, 0.9, 1.0)).to_vec());
        let region = Region::new(&panel, &field, &d);
        let whole = Spacing::new(&region, &[vec![true; 4]]).of_set(&[true; 4]);
        assert!(whole.widen.unwrap() > 0.95, "{whole:?}");
    }

    /// On arcs round the source every place of the middle one has the weaker field outside.
    #[test]
    fn the_wider_gap_outside_is_outward() {
        let panel = made::dipole();
        let field = panel.field();
        let outward = |middle: f64, to_deg: f64| {
            let d = made::drawing([20.0, middle, 40.0].map(|r| made::arc(r, 45.0, to_deg)).to_vec());
            let region = Region::new(&panel, &field, &d);
            Spacing::new(&region, &[vec![true; 3]]).of_set(&[true; 3]).outward
        };
        assert_eq!((outward(26.0, 135.0), outward(34.0, 135.0)), (Some(1.0), Some(-1.0)));
        // Gaps of 10 and 10 mm do not differ; on 20 degrees of arc there are too few places.
        assert_eq!((outward(30.0, 135.0), outward(26.0, 65.0)), (None, None));
    }

    #[test]
    fn lines_that_keep_their_distance_do_not_open_out() {
        let panel = made::dipole();
        let field = panel.field();
        let d = made::drawing([20.0, 30.0, 40.0].map(|r| made::arc(r, 20.0, 160.0)).to_vec());
        let region = Region::new(&panel, &field, &d);
        let whole = Spacing::new(&region, &[vec![true; 3]]).of_set(&[true; 3]);
        assert!(whole.widen.unwrap().abs() < 0.3, "{whole:?}");
        assert_eq!(Spacing::new(&region, &[vec![true; 3]]).of_set(&[true, false, false]), Whole::default());
    }

    /// Rings round a wire keep their distance, and lines among four magnets part to different ones: however well drawn,
    /// their gaps earn no sure mark. Those of a dipole do.
    #[test]
    fn gaps_that_tell_nothing_are_told_as_either() {
        let panel = made::dipole();
        let round = [20.0, 27.0, 35.0, 44.0].map(|r| made::arc(r, 0.0, 340.0)).to_vec();
        let dipole = [40.0, 43.0, 46.0, 49.0].map(|r| made::dipole_line(r, 0.9, 1.0)).to_vec();
        let wire = made::with_source(Kind::Wire { current_a: 5.0, out: true }, None);
        let bar = |north_deg: f64| {
            let kind = Kind::Bar {
                length: 50.0,
                width: 15.0,
                thickness: 10.0,
                remanence_mt: 400.0,
                pole_inset: 0.0,
            };
            let centre = made::MIDDLE - 40.0 * crate::geometry::towards(north_deg);
            Source { id: format!("{north_deg}"), kind, centre, north_deg }
        };
        let mut four = made::uniform(0.0);
        four.earth = None;
        four.sources = [0.0, 90.0, 180.0, 270.0].map(bar).to_vec();
        let starts = [92.0, 95.0, 98.0, 102.0, 105.0, 108.0].map(|y| Point::new(91.0, y));
        let among: Vec<Vec<Point>> = starts.map(|p| four.field().follow(p, 1.0).points).to_vec();
        for (panel, lines, want) in [(panel, dipole, true), (wire, round, false), (four, among, false)] {
            let field = panel.field();
            let d = made::drawing(lines);
            let region = Region::new(&panel, &field, &d);
            let all = vec![true; region.lines.len()];
            let tells = tells(&region, &all, &super::super::lines::computed(&region));
            assert_eq!(tells, want, "{:?}", panel.sources);
            let whole = Spacing::new(&region, std::slice::from_ref(&all)).of_set(&all);
            let mut reading = made::reading(&region, &d);
            let either = [-0.7, 0.7].map(|noise| {
                reading.noise[Id::SpacingWiden as usize] = noise;
                whole.widen(&reading, tells)
            });
            assert_eq!(either == [Some(-1.0), Some(1.0)], !want, "{either:?}");
        }
    }

    /// Two runs of gaps, one of six that follow the field and one of thirteen that go against it: where runs of seven count and
    /// no shorter, the first is left out.
    #[test]
    fn a_run_that_just_counts_is_doubted() {
        let run = |n: usize, line: usize, sign: f64| {
            (0..n).map(move |k| Gap {
                run: (line, 0, 0),
                width: 20.0 + sign * k as f64,
                opened: 0.1 * k as f64,
            })
        };
        let all: Vec<Gap> = run(6, 0, 1.0).chain(run(13, 1, -1.0)).collect();
        let value = widen(&all, MIN_RUN, MIN_VARIATION).unwrap();
        assert!((value + 7.0 / 19.0).abs() < 1e-12, "{value}");
        let around = AROUND.map(|(run, variation)| widen(&all, run, variation).unwrap());
        assert!((around[1] + 1.0).abs() < 1e-12, "{around:?}");
        let whole = Whole { widen: Some(value), around: [-1.0, value], outward: None, gaps: true };
        let panel = made::dipole();
        let field = panel.field();
        let d = made::drawing(vec![made::dipole_line(40.0, 0.9, 1.0)]);
        let mut reading = made::reading(&Region::new(&panel, &field, &d), &d);
        let mut read = |noise: f64| {
            reading.noise[Id::SpacingWiden as usize] = noise;
            whole.widen(&reading, true).unwrap()
        };
        assert!((read(-1.0) - value).abs() < 0.03 && (read(1.2) - value).abs() < 0.03);
        assert!(read(-1.2) < -0.95, "{}", read(-1.2));
    }

    #[test]
    fn a_set_of_lines_is_measured_as_if_only_they_were_drawn() {
        let panel = made::dipole();
        let field = panel.field();
        let all = [20.0, 28.0, 33.0, 45.0, 60.0, 75.0].map(|r| made::arc(r, 15.0 + r / 5.0, 150.0 - r / 7.0));
        let d = made::drawing(all.to_vec());
        let region = Region::new(&panel, &field, &d);
        let sets: Vec<Vec<bool>> =
            (0u32..64).map(|bits| (0..6).map(|i| bits >> i & 1 == 1).collect()).collect();
        let spacing = Spacing::new(&region, &sets);
        for set in &sets {
            let some = all.iter().zip(set).filter(|(_, there)| **there).map(|(l, _)| l.clone()).collect();
            let alone = made::drawing(some);
            let region = Region::new(&panel, &field, &alone);
            let there = vec![true; alone.lines.len()];
            let want = Spacing::new(&region, std::slice::from_ref(&there)).of_set(&there);
            assert_eq!(spacing.of_set(set), want, "{set:?}");
        }
    }
}
