//! Printed rulings taken off a flat page: the lines of ruled and of graph paper.
//!
//! They are told from strokes by being many, straight, and evenly spaced. Page and lines may lie askew and curl, so the
//! page is looked at in strips; in each the rows are sought that are dark nearly from end to end, and of these the longest
//! ladder with even rungs. Ink absorbs what the ruling lets through: dividing by what the ruling lets through gives the ink
//! back, and a stroke across it or along it stays whole. Where a ruling is as dark as ink (a copy in black and white) it is
//! covered instead.

mod beyond;
mod profile;

use super::Bitmap;
use crate::rectify::flatten::{Flat, PX_PER_MM};
pub use beyond::run_beyond;
use profile::{HALF_PX, Profile, profile, refined, take_off, usual};

/// Length of a strip, pixels (30 mm): curled paper is straight over this.
const STRIP_PX: usize = 240;
/// Spacing of rulings, pixels: 3 to 15 mm (graph paper of 4 and 5 mm, ruled paper of 6 to 12 mm).
const SPACING_PX: std::ops::Range<f64> = 24.0..120.0;
/// Most slant of the rulings on the flat page, as a slope (3.4 degrees): a page fed askew, or printed so.
const MOST_SLOPE: f64 = 0.06;
const SLOPE_STEP: f64 = 1.0 / STRIP_PX as f64;
/// A ruling is dark along this share of a strip; one between two others along this much.
const DARK_SHARE: f64 = 0.6;
const BETWEEN_SHARE: f64 = 0.25;
/// A margin line is dark so in this share of the strips.
const MARGIN_SHARE: f64 = 0.8;
/// A ruling has at least this contrast, and so many standard deviations of the paper's noise; a paler one makes no ink.
const LEAST_CONTRAST: f64 = 9.0;
const NOISE_SDS: f64 = 2.5;
/// Rungs may lie off even by this much, pixels.
const UNEVEN_PX: f64 = 4.0;
/// So many rungs make a ladder, and so many even steps a ruled page.
const LEAST_RUNGS: usize = 5;
const LEAST_STEPS: usize = 24;
/// And they are so much of all steps between dark rows.
const EVEN_SHARE: f64 = 0.5;

/// What was taken off.
#[derive(Debug, Default)]
pub struct Rulings {
    /// Spacing of level and of upright rulings, mm.
    pub spacing_mm: [Option<f64>; 2],
    /// Of the level and of the upright rulings that this spacing puts on the page the share that was found.
    pub found_share: [f64; 2],
    /// The usual ruling's contrast, 0 to 255; 0 where there is none.
    pub contrast: f64,
    /// Where they were as dark as ink, and are covered.
    pub covered: Option<Bitmap>,
}

/// What is left of a ruling has less contrast than this share of its own.
const LEFT_SHARE: f64 = 0.5;
/// All were taken off where this share of them was found: at a page's rim strips see less.
const WHOLE_SHARE: f64 = 0.75;

impl Rulings {
    /// What is paler than this may be traces of them, contrast 0 to 255.
    pub fn traces(&self) -> f64 {
        LEFT_SHARE * self.contrast
    }

    /// Whether some may still be there, or strokes lie hidden under them, where such `ways` are known to be on the page.
    pub fn are_left(&self, ways: [bool; 2]) -> bool {
        self.covered.is_some() || (0..2).any(|k| ways[k] && self.found_share[k] < WHOLE_SHARE)
    }

    /// Whether there were any.
    pub fn any(&self) -> bool {
        self.spacing_mm.iter().any(Option::is_some)
    }
}

/// Takes the rulings off; `levels` is the page's contrast, `noise` its standard deviation on blank paper. `ways`: whether
/// level and whether upright ones are looked for.
pub fn remove(flat: &mut Flat, levels: &Bitmap, noise: f64, ways: [bool; 2]) -> Rulings {
    let least = (NOISE_SDS * noise).max(LEAST_CONTRAST) as u8;
    let mut found = Rulings::default();
    let mut covered = Bitmap::new(flat.width, flat.height);
    // All are found before any is taken off: a crossing belongs to both.
    let mut sets: Vec<(bool, Vec<Rung>)> = Vec::new();
    for upright in [false, true].into_iter().filter(|&upright| ways[usize::from(upright)]) {
        if let Some((rungs, spacing)) = ladder(&View { levels, upright }, least) {
            found.spacing_mm[usize::from(upright)] = Some(spacing / PX_PER_MM);
            let view = View { levels, upright };
            let all = strips(&view).len() as f64 * view.depth() as f64 / spacing;
            found.found_share[usize::from(upright)] = rungs.len() as f64 / all;
            sets.push((upright, rungs));
        }
    }
    if let [(upright, rungs)] = &sets[..] {
        // Ruled paper may have a margin line across its rulings.
        let slope = -rungs.iter().map(|r| r.slope).sum::<f64>() / rungs.len() as f64;
        let upright = !upright;
        sets.push((upright, margins(&View { levels, upright }, slope, least)));
    }
    for (upright, rungs) in sets.into_iter().filter(|(_, rungs)| !rungs.is_empty()) {
        let view = View { levels, upright };
        let rungs: Vec<Rung> = rungs.into_iter().map(|rung| refined(&view, rung)).collect();
        let profiles: Vec<Profile> = rungs.iter().map(|rung| profile(&view, rung)).collect();
        let usual = usual(&profiles);
        found.contrast = usual.iter().copied().fold(found.contrast, f64::max);
        for one in rungs.iter().zip(&profiles) {
            take_off(flat, &view, one, &usual, &mut covered);
        }
    }
    found.covered = covered.cells.iter().any(|&c| c != 0).then_some(covered);
    found
}

/// The page, or the page on its side, so that rulings run along x.
struct View<'a> {
    levels: &'a Bitmap,
    upright: bool,
}

impl View<'_> {
    fn length(&self) -> usize {
        if self.upright { self.levels.height } else { self.levels.width }
    }

    fn depth(&self) -> usize {
        if self.upright { self.levels.width } else { self.levels.height }
    }

    fn index(&self, x: usize, y: usize) -> usize {
        if self.upright { self.levels.index(y, x) } else { self.levels.index(x, y) }
    }

    fn at(&self, x: usize, y: usize) -> u8 {
        self.levels.cells[self.index(x, y)]
    }
}

/// One ruling in one strip.
struct Rung {
    /// The strip's pixels along the ruling.
    from: usize,
    to: usize,
    /// Across it, in the strip's middle.
    y: f64,
    slope: f64,
}

impl Rung {
    fn y_at(&self, x: usize) -> f64 {
        self.y + self.slope * (x as f64 - 0.5 * (self.from + self.to) as f64)
    }
}

/// All rungs of evenly spaced rulings one way, and their spacing, pixels; `None` where the page is not ruled that way.
fn ladder(view: &View, least: u8) -> Option<(Vec<Rung>, f64)> {
    let slope = slope(view);
    let rows: Vec<Rows> =
        strips(view).iter().map(|&(from, to)| Rows::of(view, from, to, slope, least)).collect();
    let spacing = spacing(&rows)?;
    let mut rungs = Vec::new();
    for rows in &rows {
        rungs.extend(rows.rungs(spacing));
    }
    (!rungs.is_empty()).then_some((rungs, spacing))
}

/// The page's length in strips.
fn strips(view: &View) -> Vec<(usize, usize)> {
    let count = (view.length() / STRIP_PX).max(1);
    (0..count).map(|k| (k * view.length() / count, (k + 1) * view.length() / count)).collect()
}

/// Single lines that run on from strip to strip over nearly all of the page.
fn margins(view: &View, slope: f64, least: u8) -> Vec<Rung> {
    let strips = strips(view);
    let rows: Vec<Rows> = strips.iter().map(|&(from, to)| Rows::of(view, from, to, slope, least)).collect();
    let middle = rows.len() / 2;
    let mut rungs = Vec::new();
    let mut begun: Vec<f64> = Vec::new();
    for start in rows.iter().enumerate().flat_map(|(k, r)| r.dark.iter().map(move |&y| (k, y))) {
        let at = |k: usize| slope * 0.5 * (strips[k].0 + strips[k].1) as f64;
        let foot = start.1 - at(start.0);
        if begun.iter().any(|b: &f64| (b - foot).abs() < 3.0 * UNEVEN_PX) || start.0 > middle {
            continue;
        }
        let mut y = foot;
        let mut run = Vec::new();
        for (k, row) in rows.iter().enumerate() {
            let near = row.dark.iter().map(|d| d - at(k)).find(|d| (d - y).abs() < UNEVEN_PX);
            y = near.unwrap_or(y);
            run.push((near.is_some(), y + at(k)));
        }
        begun.push(foot);
        let seen = run.iter().filter(|(seen, _)| *seen).count();
        if seen as f64 >= MARGIN_SHARE * rows.len() as f64 {
            rungs.extend(run.iter().zip(&rows).map(|(&(_, y), row)| Rung {
                from: row.from,
                to: row.to,
                y,
                slope: row.slope,
            }));
        }
    }
    rungs
}

/// The slope at which the page's rows differ most.
fn slope(view: &View) -> f64 {
    let steps = (MOST_SLOPE / SLOPE_STEP).round() as i32;
    let (length, depth) = (view.length(), view.depth());
    let mut best = (0.0, 0.0);
    for k in -steps..=steps {
        let slope = f64::from(k) * SLOPE_STEP;
        let mut sharp = 0.0;
        let mut sums = vec![0u32; depth];
        for from in (0..length.saturating_sub(STRIP_PX)).step_by(2 * STRIP_PX) {
            sums.fill(0);
            for x in (from..from + STRIP_PX).step_by(12) {
                let shift = (slope * (x as f64 - (from + STRIP_PX / 2) as f64)).round() as isize;
                for (y, sum) in sums.iter_mut().enumerate() {
                    let v = y as isize + shift;
                    if v >= 0 && (v as usize) < depth {
                        // Strokes are darker than rulings, and are not to decide.
                        *sum += u32::from(view.at(x, v as usize).min(48));
                    }
                }
            }
            sharp += sums.iter().map(|&s| f64::from(s).powi(2)).sum::<f64>();
        }
        if sharp > best.0 {
            best = (sharp, slope);
        }
    }
    best.1
}

/// The dark rows of a strip.
struct Rows {
    from: usize,
    to: usize,
    slope: f64,
    /// Share of the strip along which each row is dark.
    share: Vec<f64>,
    /// Rows that are dark nearly from end to end.
    dark: Vec<f64>,
}

impl Rows {
    /// With the slope, near the page's, at which most rows are dark.
    fn of(view: &View, from: usize, to: usize, slope: f64, least: u8) -> Self {
        let tries = [-1.0, -0.5, 0.0, 0.5, 1.0].map(|k| slope + k * SLOPE_STEP);
        let mut best: Option<(f64, Rows)> = None;
        for slope in tries {
            let share = shares(view, from, to, slope, least);
            let sharp: f64 = share.iter().filter(|s| **s > BETWEEN_SHARE).map(|s| s * s * s).sum();
            if best.as_ref().is_none_or(|(s, _)| sharp > *s) {
                let dark = peaks(&share);
                best = Some((sharp, Self { from, to, slope, share, dark }));
            }
        }
        best.map(|(_, rows)| rows).unwrap_or(Self { from, to, slope, share: Vec::new(), dark: Vec::new() })
    }

    /// The rulings in this strip: of the dark rows the longest run with even steps, and what lies between.
    fn rungs(&self, spacing: f64) -> Vec<Rung> {
        let n = self.dark.len();
        let mut best = vec![(1usize, None::<usize>); n];
        for i in 0..n {
            for j in 0..i {
                let gap = self.dark[i] - self.dark[j];
                let steps = (gap / spacing).round();
                if (1.0..=4.0).contains(&steps)
                    && (gap - steps * spacing).abs() < UNEVEN_PX
                    && best[j].0 + 1 > best[i].0
                {
                    best[i] = (best[j].0 + 1, Some(j));
                }
            }
        }
        let Some(last) = (0..n).max_by_key(|&i| (best[i].0, std::cmp::Reverse(i))) else { return Vec::new() };
        if best[last].0 < LEAST_RUNGS {
            return Vec::new();
        }
        let mut chain = vec![self.dark[last]];
        let mut at = last;
        while let Some(before) = best[at].1 {
            let gap = self.dark[at] - self.dark[before];
            let steps = (gap / spacing).round() as usize;
            chain.extend(
                (1..steps).filter_map(|k| self.snapped(self.dark[at] - gap * k as f64 / steps as f64)),
            );
            chain.push(self.dark[before]);
            at = before;
        }
        // And on from either end, where strokes or the paper's edge hide part of a ruling.
        let (mut first, mut end) = (chain[chain.len() - 1] - spacing, chain[0] + spacing);
        while let Some(y) = self.snapped(first) {
            chain.push(y);
            first = y - spacing;
        }
        while let Some(y) = self.snapped(end) {
            chain.push(y);
            end = y + spacing;
        }
        let rung = |y| Rung { from: self.from, to: self.to, y, slope: self.slope };
        chain.into_iter().map(rung).collect()
    }

    /// The darkest row near a place where a ruling should be, if it is dark enough.
    fn snapped(&self, y: f64) -> Option<f64> {
        // Beyond the page's edge there is none: else its last row would be found again and again.
        if !(0.0..self.share.len() as f64).contains(&y) {
            return None;
        }
        let near = (y - UNEVEN_PX).max(0.0) as usize..=(y + UNEVEN_PX) as usize;
        let mut best: Option<(usize, f64)> = None;
        for v in near.filter(|&v| v < self.share.len()) {
            if self.share[v] > best.map_or(BETWEEN_SHARE, |b| b.1) {
                best = Some((v, self.share[v]));
            }
        }
        best.map(|(v, _)| v as f64)
    }
}

/// For each row of a strip, the share of its length along which it, or a row beside it, is dark.
fn shares(view: &View, from: usize, to: usize, slope: f64, least: u8) -> Vec<f64> {
    let depth = view.depth();
    let mut counts = vec![0u32; depth];
    let columns = (from..to).step_by(3);
    let n = columns.len() as f64;
    for x in columns {
        let shift = (slope * (x as f64 - 0.5 * (from + to) as f64)).round() as isize;
        let dark = |y: isize| {
            let v = y + shift;
            v >= 0 && (v as usize) < depth && view.at(x, v as usize) >= least
        };
        let (mut before, mut here) = (false, dark(0));
        for (y, count) in counts.iter_mut().enumerate() {
            let behind = dark(y as isize + 1);
            *count += u32::from(before | here | behind);
            (before, here) = (here, behind);
        }
    }
    counts.into_iter().map(|c| f64::from(c) / n).collect()
}

/// Rows darker along more of the strip than those near them; the middle of equals.
fn peaks(share: &[f64]) -> Vec<f64> {
    let mut peaks = Vec::new();
    let mut y = 0;
    while y < share.len() {
        if share[y] < DARK_SHARE {
            y += 1;
            continue;
        }
        let end = (y..share.len()).find(|&v| share[v] < DARK_SHARE).unwrap_or(share.len());
        // A band wider than any ruling is a blot or the dark beside the paper.
        if end - y <= 3 * HALF_PX as usize {
            let weight: f64 = share[y..end].iter().sum();
            let mean = (y..end).map(|v| v as f64 * share[v]).sum::<f64>() / weight;
            peaks.push(mean);
        }
        y = end;
    }
    peaks
}

/// The step between dark rows that most of them keep, pixels.
fn spacing(strips: &[Rows]) -> Option<f64> {
    let mut steps: Vec<f64> = strips.iter().flat_map(|r| r.dark.windows(2).map(|w| w[1] - w[0])).collect();
    steps.sort_by(f64::total_cmp);
    let near = |s: f64| steps.iter().filter(move |t| (**t - s).abs() < 0.5 * UNEVEN_PX);
    let usual = steps
        .iter()
        .copied()
        .filter(|s| SPACING_PX.contains(s))
        .max_by(|a, b| near(*a).count().cmp(&near(*b).count()).then(b.total_cmp(a)))?;
    let n = near(usual).count();
    // A small panel has not so many.
    let all = strips.iter().map(|r| r.share.len() as f64 / usual).sum::<f64>();
    let least = LEAST_STEPS.min((EVEN_SHARE * all) as usize).max(LEAST_RUNGS);
    let enough = n >= least && n as f64 > EVEN_SHARE * steps.len() as f64;
    enough.then(|| near(usual).sum::<f64>() / n as f64)
}
