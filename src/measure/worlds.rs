//! The readings that the same ink may stand for: the likeliest one, and [`WORLDS`] drawn from the sureness
//! of each thing that was read.
//!
//! Seeded, so that the same page gives the same marks. Lines, arrows, meetings and dots are taken to be
//! there or not independently of each other.

use std::collections::BTreeMap;

use rand_pcg::Pcg64Mcg;
use rand_pcg::rand_core::{Rng, SeedableRng};

use super::WORLDS;
use super::meets::Place;
use super::region::{LENGTH_DOUBT_MM, LENGTH_SD_MM, MIN_LINE_MM, Region};
use super::table::COUNT;
use super::trust::Trust;
use crate::drawing::{Arrow, Drawing, THERE};
use crate::geometry::Point;

/// A line at least this sure is taken to be there in every reading, so that measures of many lines need
/// not be taken anew for ever so many sets of them.
const ALWAYS_SURE: f64 = 0.98;
/// That a line on which no head was found carries one all the same: by itself, and where it runs close to another, whose ink
/// and heads hide its own. Empirical, on 420 generated drawings: 15 of 313 such lines did by themselves, 12 of 89 close to
/// another.
const UNSEEN: (f64, f64) = (0.05, 0.14);
/// A line runs close to another where it lies within so much of it, mm, for this share of its length or more (empirical).
const CLOSE_MM: f64 = 2.0;
const CLOSE_SHARE: f64 = 0.05;
/// Every so many of a line's points are tried for it.
const CLOSE_TRIED: usize = 4;
/// A line with a head this sure is never without one, or too seldom to look round for what would hide another.
const SURELY_SHOWN: f64 = 0.95;
/// Heads on two lines whose tips are this near, mm, and that point within 60 degrees of each other (its cosine): the same
/// strokes, read as either line's (guessed).
const ONE_HEAD_MM: f64 = 3.0;
const ONE_HEAD_COS: f64 = 0.5;
/// Most sets of lines for which the measures of the whole pattern are taken; other sets borrow from the
/// nearest. Twelve doubtful lines of sureness 0.95 make about this many frequent ones.
const MAX_SETS: usize = 12;
/// How well an end is read along its line, one standard deviation. Empirical: of 428 ends in free space of lines that were found, on
/// scans and photos, nine tenths were read within 0.3 mm; those beside print, where it decides what an end lies on, a tenth
/// by more than 1.3 mm.
pub const END_SD_MM: f64 = 0.5;
/// The measures up to here in the table draw their reading errors from one sequence of numbers, what was added later from
/// another: pages that were marked before keep their marks.
const FIRST_MEASURES: usize = 18;
/// Sets the second sequence apart from the first; any number does.
const LATER: u64 = 0x6c61_7465_7220_6f6e;
/// Ends are never taken to be misread by more.
pub const END_REACH_MM: f64 = 3.0 * END_SD_MM;

/// An arrowhead in one reading.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Head {
    Absent,
    /// There, and pointing as it was read.
    Kept,
    /// There, and pointing the other way.
    Turned,
}

/// One reading of the ink.
#[derive(Clone, Debug)]
pub struct Reading {
    /// Whether each of [`Region::lines`] is there and long enough to count.
    pub lines: Vec<bool>,
    /// A line an entry, then an arrow.
    pub heads: Vec<Vec<Head>>,
    /// Whether a line on which no head is there has one that was not seen.
    pub unseen: Vec<bool>,
    /// How much further out the two ends of each line lie than read, mm.
    pub ends: Vec<[f64; 2]>,
    /// How hard the two ends of each line are doubted, 0 to 1: an end in free space is real where it is surer than that.
    pub doubt: Vec<[f64; 2]>,
    /// How far each line lies from where it was read, in standard deviations.
    pub aside: Vec<f64>,
    /// Whether each of the meeting places is one.
    pub meets: Vec<bool>,
    pub dots: Vec<bool>,
    pub marks: Vec<bool>,
    /// A standard normal number for each measure: the rest of the reading error.
    pub noise: [f64; COUNT],
}

impl Reading {
    /// Everything more likely there than not, pointing the likelier way. `trust`: a line an entry, then an arrow.
    pub fn likeliest(region: &Region, trust: &[Vec<Trust>], drawing: &Drawing, meets: &[Place]) -> Self {
        let head = |t: &Trust| match (t.sure >= THERE, t.way_sure >= 0.5) {
            (false, _) => Head::Absent,
            (true, true) => Head::Kept,
            (true, false) => Head::Turned,
        };
        let lines = &region.lines;
        Self {
            lines: lines.iter().map(|l| l.line.there >= THERE && l.counted_mm >= MIN_LINE_MM).collect(),
            heads: trust.iter().map(|l| l.iter().map(head).collect()).collect(),
            unseen: vec![false; lines.len()],
            ends: vec![[0.0; 2]; lines.len()],
            doubt: vec![[THERE; 2]; lines.len()],
            aside: vec![0.0; lines.len()],
            meets: meets.iter().map(|m| m.sure >= THERE).collect(),
            dots: drawing.dots.iter().map(|d| d.sure >= THERE).collect(),
            marks: drawing.marks.iter().map(|m| m.sure >= THERE).collect(),
            noise: [0.0; COUNT],
        }
    }

    fn drawn(
        region: &Region,
        trust: &[Vec<Trust>],
        drawing: &Drawing,
        meets: &[Place],
        known: &Known,
        dice: &mut Dice,
        later: &mut Dice,
    ) -> Self {
        let mut lines = Vec::with_capacity(region.lines.len());
        for l in &region.lines {
            let there = dice.says(l.line.there) || l.line.there > ALWAYS_SURE;
            let surely_long = l.counted_mm >= MIN_LINE_MM + LENGTH_DOUBT_MM;
            let long = l.counted_mm + LENGTH_SD_MM * dice.normal() >= MIN_LINE_MM;
            lines.push(there && (surely_long || long));
        }
        let heads = drawn_heads(trust, &known.rivals, dice);
        let unseen = known.hidden.iter().map(|&chance| dice.says(chance)).collect();
        let mut end = || (END_SD_MM * dice.normal()).clamp(-END_REACH_MM, END_REACH_MM);
        let ends = lines.iter().map(|_| [end(), end()]).collect();
        Self {
            heads,
            unseen,
            ends,
            aside: lines.iter().map(|_| dice.normal()).collect(),
            meets: meets.iter().map(|m| dice.says(m.sure)).collect(),
            dots: drawing.dots.iter().map(|d| dice.says(d.sure)).collect(),
            marks: drawing.marks.iter().map(|m| later.says(m.sure)).collect(),
            noise: std::array::from_fn(|i| if i < FIRST_MEASURES { dice.normal() } else { later.normal() }),
            // Last, so that all else is drawn as it was.
            doubt: lines.iter().map(|_| [dice.even(), dice.even()]).collect(),
            lines,
        }
    }

    /// [`WORLDS`] readings.
    pub fn worlds(
        region: &Region,
        trust: &[Vec<Trust>],
        drawing: &Drawing,
        meets: &[Place],
        seed: u64,
    ) -> Vec<Self> {
        let (mut dice, mut later) = (Dice::new(seed), Dice::new(seed ^ LATER));
        let hidden = (0..region.lines.len()).map(|i| unseen(region, i, &trust[i])).collect();
        let known = Known { hidden, rivals: rivals(region) };
        (0..WORLDS)
            .map(|_| Self::drawn(region, trust, drawing, meets, &known, &mut dice, &mut later))
            .collect()
    }
}

/// What holds for all readings that are drawn.
struct Known {
    /// That each line carries a head that was not found, given that none was.
    hidden: Vec<f64>,
    rivals: Rivals,
}

/// For each head, a line an entry, the nearest on the last earlier line that is likely the same strokes read as that line's:
/// so that of heads on three lines, too, each is thrown after the one before it.
type Rivals = Vec<Vec<Option<(usize, usize)>>>;

fn rivals(region: &Region) -> Rivals {
    let arrows = |line: usize| region.lines[line].line.arrows.iter();
    let of = |line: usize, arrow: &Arrow| {
        let away = |other: &Arrow| (other.at - arrow.at).hypot();
        let same =
            |other: &Arrow| away(other) < ONE_HEAD_MM && other.towards.dot(arrow.towards) > ONE_HEAD_COS;
        let on = |l: usize| {
            let near = arrows(l).enumerate().filter(|(_, other)| same(other));
            near.min_by(|a, b| away(a.1).total_cmp(&away(b.1))).map(|(k, _)| (l, k))
        };
        (0..line).rev().find_map(on)
    };
    (0..region.lines.len()).map(|l| arrows(l).map(|a| of(l, a)).collect()).collect()
}

/// Each head there or not by its chance, and of two that are likely one not both, as far as their chances allow.
fn drawn_heads(trust: &[Vec<Trust>], rivals: &Rivals, dice: &mut Dice) -> Vec<Vec<Head>> {
    let mut thrown: Vec<Vec<f64>> = Vec::with_capacity(trust.len());
    let mut heads = Vec::with_capacity(trust.len());
    for (trust_of, rivals) in trust.iter().zip(rivals) {
        let (mut on, mut throws) = (Vec::with_capacity(rivals.len()), Vec::with_capacity(rivals.len()));
        for (t, rival) in trust_of.iter().zip(rivals) {
            let (fresh, as_read) = (dice.even(), dice.says(t.way_sure));
            let throw = rival.map_or(fresh, |(l, k)| (thrown[l][k] + 1.0 - trust[l][k].sure).rem_euclid(1.0));
            on.push(match (throw < t.sure, as_read) {
                (false, _) => Head::Absent,
                (true, true) => Head::Kept,
                (true, false) => Head::Turned,
            });
            throws.push(throw);
        }
        thrown.push(throws);
        heads.push(on);
    }
    heads
}

/// That a line carries a head that was not found, given that none was. `heads`: those on it.
fn unseen(region: &Region, line: usize, heads: &[Trust]) -> f64 {
    if heads.iter().any(|h| h.sure >= SURELY_SHOWN) {
        return UNSEEN.0;
    }
    let tried = || region.lines[line].points.iter().step_by(CLOSE_TRIED);
    let others = || region.lines.iter().enumerate().filter(|(k, _)| *k != line).flat_map(|(_, o)| &o.points);
    let close = |p: &&Point| others().any(|q| (*q - **p).hypot2() < CLOSE_MM * CLOSE_MM);
    let share = tried().filter(close).count() as f64 / tried().count().max(1) as f64;
    if share >= CLOSE_SHARE { UNSEEN.1 } else { UNSEEN.0 }
}

/// The sets of lines for which measures of the whole pattern are taken.
pub struct Sets {
    /// The first is that of the likeliest reading.
    pub sets: Vec<Vec<bool>>,
    /// For each world, the set it borrows from.
    pub of_world: Vec<usize>,
}

impl Sets {
    /// The likeliest set and the most frequent others.
    pub fn new(likeliest: &Reading, worlds: &[Reading]) -> Self {
        let mut times: BTreeMap<&[bool], usize> = BTreeMap::new();
        for w in worlds {
            *times.entry(&w.lines).or_default() += 1;
        }
        times.remove(likeliest.lines.as_slice());
        let mut frequent: Vec<(&[bool], usize)> = times.into_iter().collect();
        frequent.sort_by_key(|&(_, n)| std::cmp::Reverse(n));
        let others = frequent.iter().take(MAX_SETS - 1).map(|(s, _)| s.to_vec());
        let sets: Vec<Vec<bool>> = std::iter::once(likeliest.lines.clone()).chain(others).collect();
        let apart = |a: &[bool], b: &[bool]| a.iter().zip(b).filter(|(x, y)| x != y).count();
        let nearest = |w: &Reading| (0..sets.len()).min_by_key(|&i| apart(&sets[i], &w.lines)).unwrap_or(0);
        let of_world = worlds.iter().map(nearest).collect();
        Self { sets, of_world }
    }
}

/// Seeded chance.
struct Dice {
    pcg: Pcg64Mcg,
    spare: Option<f64>,
}

impl Dice {
    fn new(seed: u64) -> Self {
        Self { pcg: Pcg64Mcg::seed_from_u64(seed), spare: None }
    }

    /// Even in [0, 1).
    fn even(&mut self) -> f64 {
        (self.pcg.next_u64() >> 11) as f64 / (1u64 << 53) as f64
    }

    /// True with this chance. Always draws one number, so that one thing's sureness does not change what
    /// is drawn for the others.
    fn says(&mut self, chance: f64) -> bool {
        self.even() < chance
    }

    /// Standard normal: G. E. P. Box and M. E. Muller, Ann. Math. Stat. 29 (1958) 610.
    fn normal(&mut self) -> f64 {
        if let Some(z) = self.spare.take() {
            return z;
        }
        let r = (-2.0 * (1.0 - self.even()).ln()).sqrt();
        let (sin, cos) = (2.0 * std::f64::consts::PI * self.even()).sin_cos();
        self.spare = Some(r * sin);
        r * cos
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn chance_comes_out_as_asked() {
        let mut dice = Dice::new(7);
        let n = 20_000;
        let yes = (0..n).filter(|_| dice.says(0.3)).count() as f64 / n as f64;
        assert!((yes - 0.3).abs() < 4.0 * (0.21f64 / n as f64).sqrt(), "{yes}");
        let z: Vec<f64> = (0..n).map(|_| dice.normal()).collect();
        let mean = z.iter().sum::<f64>() / n as f64;
        let var = z.iter().map(|v| v * v).sum::<f64>() / n as f64;
        assert!(mean.abs() < 0.03 && (var - 1.0).abs() < 0.04, "{mean} {var}");
    }

    #[test]
    fn an_unseen_head_is_likelier_beside_another_line() {
        use crate::measure::made;
        let panel = made::uniform(0.0);
        let field = panel.field();
        let level = |y: f64| made::straight((20.0, y), (180.0, y));
        let d = made::drawing(vec![level(40.0), level(41.5), level(80.0)]);
        let region = Region::new(&panel, &field, &d);
        let chance = |line: usize, heads: &[Trust]| unseen(&region, line, heads);
        assert_eq!([0, 1, 2].map(|l| chance(l, &[])), [UNSEEN.1, UNSEEN.1, UNSEEN.0]);
        let shown = [Trust { sure: 0.99, way_sure: 0.99 }];
        assert_eq!(chance(0, &shown), UNSEEN.0, "one with a sure head is not looked round");
    }

    #[test]
    fn one_heads_strokes_are_not_read_twice() {
        use crate::geometry::Vec2;
        use crate::measure::made;
        let panel = made::uniform(0.0);
        let field = panel.field();
        let level = |y: f64| made::straight((20.0, y), (180.0, y));
        let mut d = made::drawing(vec![level(40.0), level(41.0), level(42.0), level(80.0)]);
        for (line, x, y) in [(0, 90.0, 40.0), (1, 90.5, 41.0), (2, 90.0, 42.0), (3, 90.0, 80.0)] {
            let towards = Vec2::new(1.0, 0.0);
            d.lines[line].arrows = vec![Arrow { at: Point::new(x, y), towards, sure: 0.5, way_sure: 1.0 }];
        }
        let region = Region::new(&panel, &field, &d);
        let rivals = rivals(&region);
        assert_eq!(rivals, [[None], [Some((0, 0))], [Some((1, 0))], [None]]);
        let trust: Vec<Vec<Trust>> =
            [0.4, 0.3, 0.2, 0.5].map(|sure| vec![Trust { sure, way_sure: 1.0 }]).into();
        let (mut dice, n) = (Dice::new(11), 4000);
        let mut times = [0; 4];
        for _ in 0..n {
            let heads = drawn_heads(&trust, &rivals, &mut dice);
            let there = [0, 1, 2, 3].map(|l| heads[l][0] != Head::Absent);
            assert!(there[..3].iter().filter(|t| **t).count() <= 1, "{there:?}");
            (0..4).for_each(|l| times[l] += usize::from(there[l]));
        }
        let share = times.map(|t| t as f64 / n as f64);
        assert!(share.iter().zip([0.4, 0.3, 0.2, 0.5]).all(|(s, e)| (s - e).abs() < 0.04), "{share:?}");
    }

    #[test]
    fn a_set_never_taken_borrows_from_the_nearest() {
        let reading = |bits: u32| Reading {
            lines: (0..20).map(|i| bits >> i & 1 == 1).collect(),
            heads: vec![],
            unseen: vec![],
            ends: vec![],
            doubt: vec![],
            aside: vec![],
            meets: vec![],
            dots: vec![],
            marks: vec![],
            noise: [0.0; COUNT],
        };
        let all = (1 << 20) - 1;
        // Each of twenty sets with one line missing twice, then one with lines 3 and 19 missing.
        let mut worlds: Vec<Reading> = (0..40).map(|k| reading(all & !(1 << (k % 20)))).collect();
        worlds.push(reading(all & !(1 << 3)));
        worlds.push(reading(all & !(1 << 3) & !(1 << 19)));
        let sets = Sets::new(&reading(all), &worlds);
        assert_eq!(sets.sets.len(), MAX_SETS);
        assert_eq!(sets.sets[0], reading(all).lines);
        assert_eq!(sets.sets[sets.of_world[41]], reading(all & !(1 << 3)).lines);
    }
}
