//! Contrast to ink and paper: two thresholds with hysteresis, so that a stroke that fades keeps its
//! continuity (Canny J (1986) IEEE Trans. Pattern Anal. Mach. Intell. 8, 679-698, for the idea).

use super::Bitmap;
use super::illumination::Contrast;

/// Ink is at least this many standard deviations of the paper's noise.
const NOISE_SDS: f64 = 5.0;
/// Ink is at least this much contrast, whatever the noise: below it lie smears and the show-through of the back.
const LEAST_CONTRAST: f64 = 24.0;
/// A stroke's edge is where its contrast falls to this share of the page's usual ink.
const EDGE_SHARE: f64 = 0.45;
/// What hangs together with ink is ink down to this share of the threshold.
const WEAK_SHARE: f64 = 0.62;

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

/// Splits `contrast` into ink and paper; where `print` is set there is no ink. `bilevel`: the scan is black and white
/// only.
pub fn binarise(contrast: &Contrast, print: &Bitmap, bilevel: bool) -> Binarised {
    let floor = (NOISE_SDS * contrast.noise).max(LEAST_CONTRAST);
    let level = usual_ink(contrast, print, floor);
    let share = if bilevel { BILEVEL_EDGE_SHARE } else { EDGE_SHARE };
    let threshold = (share * level).clamp(floor, 160.0);
    let strong = threshold as u8;
    let weak = (threshold * WEAK_SHARE).max(floor.min(threshold) * 0.8) as u8;
    let (w, h) = (contrast.width, contrast.height);
    let mut ink = Bitmap::new(w, h);
    let mut seeds: Vec<u32> = Vec::new();
    for y in 0..h {
        let base = ink.index(0, y);
        let levels = &contrast.levels[y * w..][..w];
        let shown = &print.cells[base..base + w];
        let cells = &mut ink.cells[base..base + w];
        for (x, ((c, &l), &p)) in cells.iter_mut().zip(levels).zip(shown).enumerate() {
            if l >= weak && p == 0 {
                // 2: weak until something strong is found beside it.
                *c = if l >= strong { 1 } else { 2 };
                if l >= strong {
                    seeds.push((base + x) as u32);
                }
            }
        }
    }
    let steps = ink.ring_steps();
    while let Some(i) = seeds.pop() {
        for s in steps {
            let j = (i as isize + s) as usize;
            if ink.cells[j] == 2 {
                ink.cells[j] = 1;
                seeds.push(j as u32);
            }
        }
    }
    for c in &mut ink.cells {
        *c &= 1;
    }
    Binarised { ink, level, threshold }
}

/// The median contrast of what is darker than `floor` and not print.
fn usual_ink(contrast: &Contrast, print: &Bitmap, floor: f64) -> f64 {
    let mut counts = [0u32; 256];
    let w = contrast.width;
    for y in 0..contrast.height {
        let base = print.index(0, y);
        let shown = &print.cells[base..base + w];
        for (&l, &p) in contrast.levels[y * w..][..w].iter().zip(shown) {
            counts[l as usize] += u32::from(p == 0);
        }
    }
    let from = floor.ceil() as usize;
    let total: u32 = counts[from.min(255)..].iter().sum();
    let mut seen = 0;
    for (level, &n) in counts.iter().enumerate().skip(from.min(255)) {
        seen += n;
        if 2 * seen > total {
            return level as f64;
        }
    }
    0.0
}
