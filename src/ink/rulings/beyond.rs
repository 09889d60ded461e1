//! Whether rulings run on beyond a printed frame, where no student's line and no print is expected.

use super::{SPACING_PX, UNEVEN_PX};
use crate::rectify::flatten::Flat;

/// So near the picture's end, and so near the frame, nothing is looked at, pixels.
const END_PX: usize = 4;
const FRAME_PX: usize = 8;
/// A ruling is so many grey levels darker than the paper to either side of it.
const LEAST_DIP: f64 = 5.0;
/// That far to either side, pixels (1 mm).
const ASIDE_PX: usize = 8;
/// So many make rulings: a low panel has no more. (Where no ladder is then found the sheet goes to a person.)
const LEAST_DIPS: usize = 3;
/// Rulings are seen over this share of the rim's length.
const SEEN_SHARE: f64 = 0.5;

/// Whether level and whether upright rulings run through the rim of this many pixels that surrounds a frame.
pub fn run_beyond(flat: &Flat, rim_px: usize) -> [bool; 2] {
    [false, true].map(|upright| {
        let (length, depth) = if upright { (flat.height, flat.width) } else { (flat.width, flat.height) };
        let Some(wide) = rim_px.checked_sub(END_PX + FRAME_PX) else { return false };
        if wide == 0 || length < 2 * rim_px {
            return false;
        }
        [END_PX, length - END_PX - wide].into_iter().all(|from| {
            let shade = |y: usize| {
                let at = |x: usize| if upright { x * flat.width + y } else { y * flat.width + x };
                (from..from + wide).map(|x| f64::from(flat.grey[at(x)])).sum::<f64>() / wide as f64
            };
            is_even(&dips(&(0..depth).map(shade).collect::<Vec<f64>>()), depth)
        })
    })
}

/// Where the shade is least and clearly less than to either side.
fn dips(shade: &[f64]) -> Vec<usize> {
    let is_dip = |&y: &usize| {
        let near = &shade[y - ASIDE_PX..=y + ASIDE_PX];
        let beside = shade[y - ASIDE_PX].min(shade[y + ASIDE_PX]);
        shade[y] < beside - LEAST_DIP
            && near[..ASIDE_PX].iter().all(|s| shade[y] < *s)
            && near[ASIDE_PX..].iter().all(|s| shade[y] <= *s)
    };
    (ASIDE_PX..shade.len().saturating_sub(ASIDE_PX)).filter(is_dip).collect()
}

/// Whether one step between the dips comes again and again, over most of the depth.
fn is_even(dips: &[usize], depth: usize) -> bool {
    let steps: Vec<f64> = dips.windows(2).map(|w| (w[1] - w[0]) as f64).collect();
    steps.iter().filter(|s| SPACING_PX.contains(s)).any(|s| {
        let alike = steps.iter().filter(|t| (*t - s).abs() < UNEVEN_PX).count() + 1;
        alike >= LEAST_DIPS && alike as f64 * s > SEEN_SHARE * depth as f64
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::Point;

    const RIM_PX: usize = 44;

    /// Level lines every 6 mm that begin and end so far from the picture's sides, pixels.
    fn ruled(from_side: usize) -> Flat {
        let (width, height) = (900, 700);
        let mut grey = vec![240; width * height];
        for y in (20..height).step_by(48) {
            grey[y * width + from_side..(y + 1) * width - from_side].fill(190);
        }
        Flat { width, height, grey, origin: Point::ORIGIN }
    }

    #[test]
    fn even_lines_are_rulings_only_where_they_leave_the_frame() {
        assert_eq!(run_beyond(&ruled(0), RIM_PX), [true, false]);
        assert_eq!(run_beyond(&ruled(RIM_PX), RIM_PX), [false, false]);
        let mut one_side = ruled(0);
        one_side.grey.chunks_mut(900).for_each(|row| row[900 - RIM_PX..].fill(240));
        assert_eq!(run_beyond(&one_side, RIM_PX), [false, false]);
    }
}
