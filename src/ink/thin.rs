//! Thinning of a binary picture to lines one pixel wide, and the stroke's half-width along them.
//!
//! Zhang TY, Suen CY (1984) Comm. ACM 27(3) 236-239, and Guo Z, Hall RW (1989) Comm. ACM 32(3)
//! 359-373 (their first algorithm, A1). Both delete in two alternating parallel passes until
//! neither deletes. Only pixels at the border of the ink are visited, which changes nothing in the result:
//! no rule deletes a pixel whose eight neighbours are all ink.

use super::Bitmap;

/// Which rule deletes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Rule {
    ZhangSuen,
    GuoHall,
}

/// Thins `ink` in place.
pub fn thin(ink: &mut Bitmap, rule: Rule) {
    let tables = [deletable(rule, 0), deletable(rule, 1)];
    let steps = ink.ring_steps();
    let mut border: Vec<u32> = Vec::new();
    // Queued pixels are marked 2 so that none is queued twice.
    for i in ink.ink_indices() {
        if ring(ink, i, &steps) != 0xff {
            border.push(i as u32);
        }
    }
    for &i in &border {
        ink.cells[i as usize] = 2;
    }
    let mut doomed: Vec<u32> = Vec::new();
    loop {
        let mut deleted = false;
        for table in &tables {
            doomed.clear();
            doomed.extend(border.iter().copied().filter(|&i| table[ring(ink, i as usize, &steps) as usize]));
            for &i in &doomed {
                ink.cells[i as usize] = 0;
            }
            deleted |= !doomed.is_empty();
            border.retain(|&i| ink.cells[i as usize] != 0);
            for &i in &doomed {
                for s in steps {
                    let j = (i as isize + s) as usize;
                    if ink.cells[j] == 1 {
                        ink.cells[j] = 2;
                        border.push(j as u32);
                    }
                }
            }
        }
        if !deleted {
            break;
        }
    }
    for i in border {
        ink.cells[i as usize] = 1;
    }
}

/// The eight neighbours as bits: bit 0 north, then clockwise (P2 .. P9 of both papers).
fn ring(ink: &Bitmap, i: usize, steps: &[isize; 8]) -> u8 {
    let mut bits = 0;
    for (k, s) in steps.iter().enumerate() {
        bits |= u8::from(ink.cells[(i as isize + s) as usize] != 0) << k;
    }
    bits
}

/// For each ring of neighbours, whether the rule's pass deletes the pixel.
fn deletable(rule: Rule, pass: usize) -> [bool; 256] {
    let mut table = [false; 256];
    for (bits, entry) in table.iter_mut().enumerate() {
        let p = |k: usize| bits >> (k - 2) & 1 == 1; // P2 .. P9
        *entry = match rule {
            Rule::ZhangSuen => {
                let b = bits.count_ones();
                let a = (2..=9).filter(|&k| !p(k) && p(if k == 9 { 2 } else { k + 1 })).count();
                let (first, second) = if pass == 0 {
                    (p(2) && p(4) && p(6), p(4) && p(6) && p(8))
                } else {
                    (p(2) && p(4) && p(8), p(2) && p(6) && p(8))
                };
                (2..=6).contains(&b) && a == 1 && !first && !second
            }
            Rule::GuoHall => {
                let c = [(2, 3, 4), (4, 5, 6), (6, 7, 8), (8, 9, 2)]
                    .iter()
                    .filter(|(a, b, d)| !p(*a) && (p(*b) || p(*d)))
                    .count();
                let pairs = |q: [(usize, usize); 4]| q.iter().filter(|(a, b)| p(*a) || p(*b)).count();
                let n1 = pairs([(9, 2), (3, 4), (5, 6), (7, 8)]);
                let n2 = pairs([(2, 3), (4, 5), (6, 7), (8, 9)]);
                let kept =
                    if pass == 0 { (p(2) || p(3) || !p(5)) && p(4) } else { (p(6) || p(7) || !p(9)) && p(8) };
                c == 1 && (2..=3).contains(&n1.min(n2)) && !kept
            }
        };
    }
    table
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// The papers' wording, every pixel in every pass.
    fn thin_reference(ink: &mut Bitmap, rule: Rule) {
        let tables = [deletable(rule, 0), deletable(rule, 1)];
        let steps = ink.ring_steps();
        loop {
            let mut deleted = false;
            for table in &tables {
                let doomed: Vec<usize> = ink
                    .inner_indices()
                    .filter(|&i| ink.cells[i] != 0 && table[ring(ink, i, &steps) as usize])
                    .collect();
                deleted |= !doomed.is_empty();
                for i in doomed {
                    ink.cells[i] = 0;
                }
            }
            if !deleted {
                return;
            }
        }
    }

    proptest! {
        #[test]
        fn equals_the_plain_form(cells in proptest::collection::vec(0u8..5, 18 * 14)) {
            for rule in [Rule::ZhangSuen, Rule::GuoHall] {
                let mut fast = Bitmap::new(18, 14);
                for (i, c) in cells.iter().enumerate() {
                    fast.set(i % 18, i / 18, *c > 0);
                }
                let mut plain = fast.clone();
                thin(&mut fast, rule);
                thin_reference(&mut plain, rule);
                prop_assert_eq!(fast.cells, plain.cells);
            }
        }
    }
}
