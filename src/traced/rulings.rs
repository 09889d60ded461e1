//! Printed rulings taken off a flat page: the lines of ruled and of graph paper.
//!
//! They are told from strokes by being many, straight, and evenly spaced. Page and lines may lie askew and curl, so the
//! page is looked at in strips; in each the rows are sought that are dark nearly from end to end, and of these the longest
//! ladder with even rungs. Ink absorbs what the ruling lets through: dividing by what the ruling lets through gives the ink
//! back, and a stroke across it or along it stays whole. Where a ruling is as dark as ink (a copy in black and white) it is
//! covered instead.

use crate::ink::Bitmap;
use crate::rectify::flatten::{Flat, PX_PER_MM};

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
/// A ruling's middle is sought over pieces of this length, and so far to either side, pixels.
const PIECE_PX: usize = 20;
const SEEK_PX: usize = 3;
/// A ruling is taken off so far to either side of its middle, pixels (0.6 mm).
const HALF_PX: isize = 5;
/// No ruling is taken for darker than this many times the page's usual one, and this much more: the rest is a stroke along it.
const DARKER: (f64, f64) = (1.25, 6.0);
/// Above this contrast nothing can be divided out any more: the ruling is covered.
const COVERED_FROM: f64 = 170.0;

/// What was taken off.
#[derive(Debug, Default)]
pub struct Rulings {
    /// Spacing of level and of upright rulings, mm.
    pub spacing_mm: [Option<f64>; 2],
    /// The usual ruling's contrast, 0 to 255; 0 where there is none.
    pub contrast: f64,
    /// Where they were as dark as ink, and are covered.
    pub covered: Option<Bitmap>,
}

/// Takes the rulings off; `levels` is the page's contrast, `noise` its standard deviation on blank paper.
pub fn remove(flat: &mut Flat, levels: &Bitmap, noise: f64) -> Rulings {
    let least = (NOISE_SDS * noise).max(LEAST_CONTRAST) as u8;
    let mut found = Rulings::default();
    let mut covered = Bitmap::new(flat.width, flat.height);
    // All are found before any is taken off: a crossing belongs to both.
    let mut sets: Vec<(bool, Vec<Rung>)> = Vec::new();
    for upright in [false, true] {
        if let Some((rungs, spacing)) = ladder(&View { levels, upright }, least) {
            found.spacing_mm[usize::from(upright)] = Some(spacing / PX_PER_MM);
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
    let enough = n >= LEAST_STEPS && n as f64 > EVEN_SHARE * steps.len() as f64;
    enough.then(|| near(usual).sum::<f64>() / n as f64)
}

/// Contrast across a ruling, by how far off its middle, in steps of a quarter of a pixel.
type Profile = [f64; 8 * HALF_PX as usize + 1];

/// The place in a profile of a distance off the middle, pixels.
fn step_of(off: f64) -> Option<usize> {
    let step = (4.0 * (off + HALF_PX as f64)).round();
    (0.0..=8.0 * HALF_PX as f64).contains(&step).then_some(step as usize)
}

/// The pixels along and beside a rung: place along, place across, and how far off the rung's middle.
fn beside<'a>(view: &'a View, rung: &'a Rung) -> impl Iterator<Item = (usize, usize, f64)> + 'a {
    (rung.from..rung.to).flat_map(move |x| {
        let middle = rung.y_at(x);
        let first = middle.round() as isize - HALF_PX;
        (first..=first + 2 * HALF_PX)
            .filter(|&y| y >= 0 && (y as usize) < view.depth())
            .map(move |y| (x, y as usize, y as f64 - middle))
    })
}

/// The rung laid on the middles of its darkness, piece by piece.
fn refined(view: &View, rung: Rung) -> Rung {
    let mut middles: Vec<(f64, f64)> = Vec::new();
    for from in (rung.from..rung.to).step_by(PIECE_PX) {
        let to = (from + PIECE_PX).min(rung.to);
        let piece = Rung { from: rung.from, to: rung.to, y: rung.y, slope: rung.slope };
        let mut sums = [0.0; 2 * SEEK_PX + 1];
        for x in from..to {
            let first = piece.y_at(x).round() as isize - SEEK_PX as isize;
            for (k, sum) in sums.iter_mut().enumerate() {
                let y = first + k as isize;
                if y >= 0 && (y as usize) < view.depth() {
                    *sum += f64::from(view.at(x, y as usize).min(96));
                }
            }
        }
        let floor = sums.iter().copied().fold(f64::INFINITY, f64::min);
        let weight: f64 = sums.iter().map(|s| s - floor).sum();
        if weight > 0.0 {
            let mean = sums.iter().enumerate().map(|(k, s)| k as f64 * (s - floor)).sum::<f64>() / weight;
            let x = 0.5 * (from + to) as f64;
            let y: f64 = (from..to).map(|x| piece.y_at(x).round()).sum::<f64>() / (to - from) as f64 + mean
                - SEEK_PX as f64;
            middles.push((x - 0.5 * (rung.from + rung.to) as f64, y));
        }
    }
    let mut fitted = (rung.y, rung.slope);
    // Strokes that cross pull pieces aside: the second time those far off are left out.
    for reach in [f64::INFINITY, 1.0] {
        let near = middles.iter().filter(|(x, y)| (y - fitted.0 - fitted.1 * x).abs() < reach);
        let (mut n, mut sx, mut sy, mut xx, mut xy) = (0.0, 0.0, 0.0, 0.0, 0.0);
        for (x, y) in near {
            n += 1.0;
            sx += x;
            sy += y;
            xx += x * x;
            xy += x * y;
        }
        let spread = n * xx - sx * sx;
        if n < 4.0 || spread <= 0.0 {
            break;
        }
        let slope = (n * xy - sx * sy) / spread;
        fitted = ((sy - slope * sx) / n, slope);
    }
    let far = (fitted.0 - rung.y).abs() > UNEVEN_PX || (fitted.1 - rung.slope).abs() > 2.0 * SLOPE_STEP;
    if far { rung } else { Rung { y: fitted.0, slope: fitted.1, ..rung } }
}

/// Across one rung: the median over its length at each distance.
fn profile(view: &View, rung: &Rung) -> Profile {
    let mut counts = vec![[0u32; 256]; 8 * HALF_PX as usize + 1];
    for (x, y, off) in beside(view, rung) {
        if let Some(step) = step_of(off) {
            // A pixel speaks for the steps beside it too: on a level ruling some steps have no pixel of their own.
            let level = usize::from(view.at(x, y));
            for near in step.saturating_sub(1)..=(step + 1).min(counts.len() - 1) {
                counts[near][level] += 1;
            }
        }
    }
    let own: Vec<Option<f64>> = counts.iter().map(median).collect();
    std::array::from_fn(|k| {
        let near = |d: usize| own.get(k + d).copied().flatten().or(k.checked_sub(d).and_then(|i| own[i]));
        (0..4).find_map(near).unwrap_or(0.0)
    })
}

fn median(counts: &[u32; 256]) -> Option<f64> {
    let n: u32 = counts.iter().sum();
    let mut seen = 0;
    let level = counts.iter().position(|&c| {
        seen += c;
        2 * seen >= n
    })?;
    (n > 0).then_some(level as f64)
}

/// The page's usual profile: the median over its rungs.
fn usual(profiles: &[Profile]) -> Profile {
    std::array::from_fn(|k| {
        let mut values: Vec<f64> = profiles.iter().map(|p| p[k]).collect();
        values.sort_by(f64::total_cmp);
        values[values.len() / 2]
    })
}

/// Takes one rung off the flat page, or covers it.
fn take_off(
    flat: &mut Flat,
    view: &View,
    (rung, own): (&Rung, &Profile),
    usual: &Profile,
    covered: &mut Bitmap,
) {
    // Off by a pixel the usual profile would cut the own one short.
    let most = |k: usize| {
        let beside = usual[k.saturating_sub(4)..(k + 5).min(usual.len())].iter().copied();
        beside.fold(0.0, f64::max) * DARKER.0 + DARKER.1
    };
    let contrasts: Vec<f64> = own.iter().enumerate().map(|(k, c)| c.min(most(k))).collect();
    let width = flat.width;
    for (x, y, off) in beside(view, rung) {
        let Some(step) = step_of(off) else { continue };
        let (u, v) = if view.upright { (y, x) } else { (x, y) };
        let pixel = &mut flat.grey[v * width + u];
        if contrasts[step] > COVERED_FROM {
            covered.set(u, v, true);
        }
        let through = 1.0 - contrasts[step].min(COVERED_FROM) / 255.0;
        *pixel = (f64::from(*pixel) / through).min(255.0) as u8;
    }
}
