//! Thinning of a binary picture to lines one pixel wide, and the stroke's half-width along them.
//!
//! Zhang TY, Suen CY (1984) Comm. ACM 27(3) 236-239, and Guo Z, Hall RW (1989) Comm. ACM 32(3)
//! 359-373 (their first algorithm, A1). Both delete in two alternating parallel passes until
//! neither deletes. A pixel is looked at only when one of its neighbours has been deleted since the same pass looked at
//! it last, and at first only at the border of the ink. That changes nothing in the result: what is deleted depends on
//! the neighbours alone, and no rule deletes a pixel whose eight neighbours are all ink.

use super::Bitmap;

/// Which rule deletes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Rule {
    ZhangSuen,
    GuoHall,
}

/// Beside 1 for ink, a cell holds for which of the two passes the pixel is queued, so that none is queued twice.
const QUEUED: [u8; 2] = [2, 4];
const ALL_QUEUED: u8 = 1 | QUEUED[0] | QUEUED[1];

/// Thins `ink` in place.
pub fn thin(ink: &mut Bitmap, rule: Rule) {
    let tables = [deletable(rule, 0), deletable(rule, 1)];
    let steps = ink.ring_steps();
    let border: Vec<u32> =
        ink.runs().into_iter().flatten().filter(|&i| ring(ink, i) != 0xff).map(|i| i as u32).collect();
    for &i in &border {
        ink.cells[i as usize] = ALL_QUEUED;
    }
    let mut queues = [border.clone(), border];
    let mut doomed: Vec<u32> = Vec::new();
    while queues.iter().any(|q| !q.is_empty()) {
        for (pass, table) in tables.iter().enumerate() {
            doomed.clear();
            for i in queues[pass].drain(..) {
                let cell = &mut ink.cells[i as usize];
                *cell &= !QUEUED[pass];
                if *cell != 0 && table[usize::from(ring(ink, i as usize))] {
                    doomed.push(i);
                }
            }
            for &i in &doomed {
                ink.cells[i as usize] = 0;
            }
            for &i in &doomed {
                for s in steps {
                    let j = (i as isize + s) as usize;
                    let cell = ink.cells[j];
                    if cell == 0 || cell == ALL_QUEUED {
                        continue;
                    }
                    ink.cells[j] = ALL_QUEUED;
                    for (queue, mark) in queues.iter_mut().zip(QUEUED) {
                        if cell & mark == 0 {
                            queue.push(j as u32);
                        }
                    }
                }
            }
        }
    }
}

/// The eight neighbours as bits: bit 0 north, then clockwise (P2 .. P9 of both papers).
fn ring(ink: &Bitmap, i: usize) -> u8 {
    let stride = ink.stride();
    let row = |i: usize| {
        let three = &ink.cells[i - 1..i + 2];
        [three[0], three[1], three[2]].map(|c| u8::from(c != 0))
    };
    let ([nw, n, ne], [w, _, e], [sw, s, se]) = (row(i - stride), row(i), row(i + stride));
    n | ne << 1 | e << 2 | se << 3 | s << 4 | sw << 5 | w << 6 | nw << 7
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
        loop {
            let mut deleted = false;
            for table in &tables {
                let doomed: Vec<usize> = ink
                    .inner_indices()
                    .filter(|&i| ink.cells[i] != 0 && table[ring(ink, i) as usize])
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
