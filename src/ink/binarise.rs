//! Contrast to ink and paper: two thresholds with hysteresis, so that a stroke that fades keeps its
//! continuity (Canny J (1986) IEEE Trans. Pattern Anal. Mach. Intell. 8, 679-698, for the idea).

use super::Bitmap;
use super::illumination::Contrast;
use super::print_removal::Covers;
use super::{Look, illumination};
use std::sync::Arc;

/// Ink is at least this many standard deviations of the paper's noise.
const NOISE_SDS: f64 = 5.0;
/// Ink is at least this much contrast, whatever the noise: below it lie smears and the show-through of the back.
const LEAST_CONTRAST: f64 = 24.0;
/// A stroke's edge is where its contrast falls to this share of the page's usual ink.
const EDGE_SHARE: f64 = 0.45;
/// And at most this, so that no blot keeps a pencil's stroke from being ink.
const MOST_THRESHOLD: f64 = 160.0;
/// What hangs together with ink is ink down to this share of the threshold.
const WEAK_SHARE: f64 = 0.62;

/// A page whose usual ink has less contrast than this was drawn in hard or faint pencil. On such a page ink is looked for
/// down to this contrast (what is rubbed out on it is fainter still), so many standard deviations of the noise and this
/// share of its usual ink. Empirical.
const FAINT_LEVEL: f64 = 48.0;
const FAINT_LEAST_CONTRAST: f64 = 12.0;
const FAINT_NOISE_SDS: f64 = 6.0;
const FAINT_EDGE_SHARE: f64 = 0.55;

/// Ink and paper, and what separated them.
pub struct Binarised {
    pub ink: Bitmap,
    /// The page's usual ink, contrast 0 to 255; 0 where there is none.
    pub level: f64,
    /// The strong threshold.
    pub threshold: f64,
}

/// The same share on a page of black and white only, smoothed twice: what the copier's own threshold left of a grainy
/// stroke stands in pieces, and lies between 0 and 255 by smoothing alone.
const BILEVEL_EDGE_SHARE: f64 = 0.26;

/// Splits `contrast` into ink and paper; what the print covers is no ink. Gives the cover that was used as well.
pub fn binarise(contrast: &mut Contrast, covers: &Covers, look: Look) -> (Binarised, Arc<Bitmap>) {
    let (level, threshold, floor, print) = thresholds(contrast, covers, look);
    let strong = threshold as u8;
    let weak = (threshold * WEAK_SHARE).max(floor.min(threshold) * 0.8) as u8;
    let mut ink = contrast.levels.clone();
    let mut faint: Vec<u32> = Vec::new();
    for y in 0..ink.height {
        let base = ink.index(0, y);
        let cells = ink.row_mut(y);
        for (c, &p) in cells.iter_mut().zip(print.row(y)) {
            let kind = if *c >= strong { INK } else { FAINT };
            *c = if *c >= weak && p == 0 { kind } else { 0 };
        }
        where_reaching(cells, FAINT, |x, _| faint.push((base + x) as u32));
    }
    keep_what_hangs_on(&mut ink, &faint);
    (Binarised { ink, level, threshold }, Arc::clone(print))
}

/// The page's usual ink, the strong threshold, the least contrast of ink, and the cover of the print.
///
/// A faint page's contrast is smoothed once more.
fn thresholds<'a>(
    contrast: &mut Contrast,
    covers: &'a Covers,
    look: Look,
) -> (f64, f64, f64, &'a Arc<Bitmap>) {
    // Noise alone may be stronger than any ink.
    let floor = (NOISE_SDS * contrast.noise).max(look.least).clamp(LEAST_CONTRAST, MOST_THRESHOLD);
    let print = if look.bilevel { &covers.middle } else { covers.for_blur(look.blur_mm) };
    let level = usual_ink(&contrast.levels, print, floor);
    if look.bilevel || level >= FAINT_LEVEL {
        let share = if look.bilevel { BILEVEL_EDGE_SHARE } else { EDGE_SHARE };
        return (level, (share * level).clamp(floor, MOST_THRESHOLD), floor, print);
    }
    illumination::smooth_again(contrast);
    let floor =
        (FAINT_NOISE_SDS * contrast.noise_in_shade).max(look.least).clamp(FAINT_LEAST_CONTRAST, floor);
    let level = usual_ink(&contrast.levels, &covers.wide, floor);
    (level, (FAINT_EDGE_SHARE * level).clamp(floor, MOST_THRESHOLD), floor, &covers.wide)
}

/// A pixel from the strong threshold on.
const INK: u8 = 1;
/// A pixel between the thresholds, until ink is found beside it.
const FAINT: u8 = 2;

/// Makes ink of the faint pixels that hang together with ink, and paper of the others.
fn keep_what_hangs_on(ink: &mut Bitmap, faint: &[u32]) {
    let steps = ink.ring_steps();
    let beside = |i: u32, s: isize| (i as isize + s) as usize;
    let mut grown: Vec<u32> = Vec::new();
    for &start in faint {
        if ink.cells[start as usize] != FAINT || steps.iter().all(|&s| ink.cells[beside(start, s)] != INK) {
            continue;
        }
        ink.cells[start as usize] = INK;
        grown.push(start);
        while let Some(i) = grown.pop() {
            for s in steps {
                let j = beside(i, s);
                if ink.cells[j] == FAINT {
                    ink.cells[j] = INK;
                    grown.push(j as u32);
                }
            }
        }
    }
    for &i in faint {
        ink.cells[i as usize] &= INK;
    }
}

/// Calls `see` with each place of a row that reaches a level, and its level, from the left. Most of a page is paper,
/// which is passed over eight pixels at a time.
#[inline(always)]
fn where_reaching(levels: &[u8], from: u8, mut see: impl FnMut(usize, u8)) {
    const EACH: u64 = 0x0101_0101_0101_0101;
    const TOPS: u64 = 0x80 * EACH;
    // A level's top bit is set when it is 128 or more, or when the rest of it, raised by `lift`, carries into it. Where
    // more than 128 is asked for that tells too many, hence the comparison below.
    let lift = u64::from(128 - from.min(128)) * EACH;
    let (eights, rest) = levels.as_chunks::<8>();
    for (k, eight) in eights.iter().enumerate() {
        let bits = u64::from_le_bytes(*eight);
        let mut reaching = ((bits & !TOPS).wrapping_add(lift) | bits) & TOPS;
        while reaching != 0 {
            let x = reaching.trailing_zeros() as usize / 8;
            if eight[x] >= from {
                see(8 * k + x, eight[x]);
            }
            reaching &= reaching - 1;
        }
    }
    let done = levels.len() - rest.len();
    rest.iter().enumerate().filter(|(_, l)| **l >= from).for_each(|(x, &l)| see(done + x, l));
}

/// The median contrast of what is darker than `floor` and not print.
fn usual_ink(levels: &Bitmap, print: &Bitmap, floor: f64) -> f64 {
    let mut counts = [0u32; 256];
    let from = floor.ceil().min(255.0) as u8;
    for y in 0..levels.height {
        let shown = print.row(y);
        where_reaching(levels.row(y), from, |x, level| {
            counts[usize::from(level)] += u32::from(shown[x] == 0);
        });
    }
    let total: u32 = counts.iter().sum();
    let mut seen = 0;
    for (level, &n) in counts.iter().enumerate() {
        seen += n;
        if 2 * seen > total {
            return level as f64;
        }
    }
    0.0
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn passes_over_nothing_that_reaches(levels in proptest::collection::vec(0u8..=255, 0..40), from in 1u8..=255) {
            let mut seen = Vec::new();
            where_reaching(&levels, from, |x, l| seen.push((x, l)));
            let plain: Vec<(usize, u8)> =
                levels.iter().copied().enumerate().filter(|(_, l)| *l >= from).collect();
            prop_assert_eq!(seen, plain);
        }
    }

    #[test]
    fn what_hangs_on_to_ink_stays_and_a_faint_page_is_read_fainter() {
        let blank = Arc::new(Bitmap::new(12, 3));
        let covers = Covers { narrow: blank.clone(), middle: blank.clone(), wide: blank };
        let split = |row: [u8; 12]| {
            let mut levels = Bitmap::new(12, 3);
            (0..3).for_each(|y| levels.row_mut(y).copy_from_slice(&row));
            binarise(&mut Contrast { levels, noise: 1.0, noise_in_shade: 1.0 }, &covers, Look::default()).0
        };
        let usual = split([0, 30, 100, 100, 100, 30, 0, 30, 0, 0, 0, 0]);
        assert_eq!((usual.level, usual.threshold), (100.0, 45.0));
        assert_eq!(usual.ink.row(1), [0, 1, 1, 1, 1, 1, 0, 0, 0, 0, 0, 0]);
        let faint = split([0, 11, 22, 22, 22, 11, 0, 11, 0, 0, 0, 0]);
        assert_eq!(faint.level, 22.0);
        assert_eq!(faint.ink.row(1), [0, 1, 1, 1, 1, 1, 0, 0, 0, 0, 0, 0]);
        // Next to real ink the same is nothing.
        let both = split([0, 0, 100, 100, 100, 0, 0, 22, 22, 22, 0, 0]);
        assert_eq!(both.ink.row(1), [0, 0, 1, 1, 1, 0, 0, 0, 0, 0, 0, 0]);
    }
}
