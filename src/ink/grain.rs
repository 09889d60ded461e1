//! Strokes that a black-and-white copier broke into grains are joined again.
//!
//! A grainy pencil line under a copier's fixed threshold is a row of blots. A blank pixel is filled when, along some
//! direction, ink stands close before it and close behind it: only what joins two pieces in one line is filled, so
//! that neither open ends grow nor neighbouring lines run together.

use super::Bitmap;

/// Directions that are tried: steps of 7.5 degrees, less than what a piece of this length bends on paper.
const DIRECTIONS: usize = 24;
/// Of the pixels before and behind, this many stroke widths and one more must be ink: more than a ray meets that crosses
/// a stroke instead of running along it.
const INK_WIDTHS: f64 = 1.3;
/// So many more are looked at, pixels: the widest gap, half a millimetre to each side.
const GAP_PX: usize = 4;
/// Longest reach, pixels; strokes wider than this leaves room for do not break.
const MOST_REACH_PX: usize = 20;
/// Dust is smaller than this, pixels; a page with more pieces than that is broken: lines, writing and heads that stand clear
/// of their lines make fewer (empirical: 20 to 40 on whole pages, over 80 on broken ones).
const PIECE_PX: usize = 13;
const MOST_PIECES: usize = 50;
/// Only pixels this close to ink are looked at, pixels.
const NEAR_PX: usize = 4;

/// Whether so many pieces lie about that strokes must have been broken up.
pub fn is_broken(ink: &Bitmap) -> bool {
    let mut left = ink.clone();
    let mut pieces = 0;
    let mut group = Vec::new();
    for start in ink.ink_indices() {
        if left.cells[start] == 0 {
            continue;
        }
        left.take_group(start, &mut group);
        pieces += usize::from(group.len() >= PIECE_PX);
    }
    pieces > MOST_PIECES
}

/// Fills what joins two pieces of one stroke.
pub fn join(ink: &mut Bitmap) {
    let least = (INK_WIDTHS * width_px(ink)).ceil() as usize + 1;
    let reach = least + GAP_PX;
    if reach > MOST_REACH_PX {
        return;
    }
    let stride = ink.stride() as isize;
    let rays: Vec<Vec<isize>> = (0..DIRECTIONS)
        .map(|k| {
            let t = k as f64 / DIRECTIONS as f64 * std::f64::consts::PI;
            let step = |r: usize| {
                let (x, y) = ((r as f64 * t.cos()).round() as isize, (r as f64 * t.sin()).round() as isize);
                y * stride + x
            };
            (1..=reach).map(step).collect()
        })
        .collect();
    let mut fill = Vec::new();
    for i in near(ink) {
        let (x, y) = ink.place(i);
        if x <= reach || y <= reach || x + reach + 1 >= ink.width || y + reach + 1 >= ink.height {
            continue;
        }
        let enough = |ray: &[isize], sign: isize| {
            ray.iter().filter(|&&o| ink.cells[(i as isize + sign * o) as usize] != 0).count() >= least
        };
        if rays.iter().any(|r| enough(r, 1) && enough(r, -1)) {
            fill.push(i);
        }
    }
    for i in fill {
        ink.cells[i] = 1;
    }
}

/// The usual stroke width, pixels: twice the ink's area over the length of its edge.
fn width_px(ink: &Bitmap) -> f64 {
    let stride = ink.stride();
    let pixels = ink.ink_indices();
    let open =
        |i: usize| [i - 1, i + 1, i - stride, i + stride].iter().filter(|&&j| ink.cells[j] == 0).count();
    let edge: usize = pixels.iter().map(|&i| open(i)).sum();
    2.0 * pixels.len() as f64 / edge.max(1) as f64
}

/// Blank pixels near ink, each once, in order.
fn near(ink: &Bitmap) -> Vec<usize> {
    let mut marked = ink.clone();
    let steps = ink.ring_steps();
    let mut rim = ink.ink_indices();
    let mut out = Vec::new();
    for _ in 0..NEAR_PX {
        let mut next = Vec::new();
        for &i in &rim {
            let (x, y) = ink.place(i);
            if x == 0 || y == 0 || x + 1 == ink.width || y + 1 == ink.height {
                continue;
            }
            for s in steps {
                let j = (i as isize + s) as usize;
                if marked.cells[j] == 0 {
                    marked.cells[j] = 1;
                    next.push(j);
                }
            }
        }
        out.extend_from_slice(&next);
        rim = next;
    }
    out.sort_unstable();
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn many_pieces_are_a_broken_page() {
        let mut b = Bitmap::new(300, 100);
        assert!(!is_broken(&b));
        (0..100).for_each(|k| (0..15).for_each(|d| b.set(3 + k % 10 * 25 + d, 3 + k / 10 * 9, true)));
        assert!(is_broken(&b));
    }

    /// Two collinear pieces four pixels apart are joined; the same two beside each other are not.
    #[test]
    fn joins_along_and_not_across() {
        let mut b = Bitmap::new(80, 60);
        for x in (15..32).chain(36..60) {
            b.set(x, 30, true);
        }
        for x in 15..60 {
            b.set(x, 36, true);
        }
        join(&mut b);
        assert!((32..36).all(|x| b.get(x, 30)));
        assert!((15..60).all(|x| !b.get(x, 33)));
        assert!(!b.get(64, 30), "an open end does not grow");
    }
}
