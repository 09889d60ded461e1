//! What rulings are like across: each laid on the middle of its darkness, and its usual contrast divided out of the page.

use super::{Rung, SLOPE_STEP, UNEVEN_PX, View};
use crate::ink::Bitmap;
use crate::rectify::flatten::Flat;

/// A ruling's middle is sought over pieces of this length, and so far to either side, pixels.
const PIECE_PX: usize = 20;
const SEEK_PX: usize = 3;
/// A ruling is taken off so far to either side of its middle, pixels (0.6 mm).
pub(super) const HALF_PX: isize = 5;
/// No ruling is taken for darker than this many times the page's usual one, and this much more: the rest is a stroke along it.
const DARKER: (f64, f64) = (1.25, 6.0);
/// Above this contrast nothing can be divided out any more: the ruling is covered.
const COVERED_FROM: f64 = 170.0;

/// Contrast across a ruling, by how far off its middle, in steps of a quarter of a pixel.
pub(super) type Profile = [f64; 8 * HALF_PX as usize + 1];

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
pub(super) fn refined(view: &View, rung: Rung) -> Rung {
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
pub(super) fn profile(view: &View, rung: &Rung) -> Profile {
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
pub(super) fn usual(profiles: &[Profile]) -> Profile {
    std::array::from_fn(|k| {
        let mut values: Vec<f64> = profiles.iter().map(|p| p[k]).collect();
        values.sort_by(f64::total_cmp);
        values[values.len() / 2]
    })
}

/// Takes one rung off the flat page, or covers it.
pub(super) fn take_off(
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
