//! Specks of dust and toner are taken away, pinholes in strokes filled.

use super::Bitmap;
use std::ops::Range;

/// Ink that hangs together in no more pixels than this is a speck (0.12 mm2).
const SPECK_PX: usize = 8;
/// Paper enclosed by ink in no more pixels than this is a pinhole: grain of paper or a starving pen (0.19 mm2).
const PINHOLE_PX: usize = 12;

/// Takes away specks; gives how many.
pub fn remove_specks(ink: &mut Bitmap) -> usize {
    let runs = ink.runs();
    let groups = groups(&runs, ink.stride());
    let mut sizes = vec![0; runs.len()];
    for (run, &group) in runs.iter().zip(&groups) {
        sizes[group] += run.len();
    }
    for (run, &group) in runs.iter().zip(&groups) {
        if sizes[group] <= SPECK_PX {
            ink.cells[run.clone()].fill(0);
        }
    }
    sizes.iter().filter(|&&s| s > 0 && s <= SPECK_PX).count()
}

/// For each run, the first run of all that hangs together with it (eight neighbours).
fn groups(runs: &[Range<usize>], stride: usize) -> Vec<usize> {
    let mut parents: Vec<usize> = (0..runs.len()).collect();
    let mut above = 0;
    for (k, run) in runs.iter().enumerate() {
        // Runs of the row above, moved down by a row, that touch this one or its corners.
        while runs[above].end + stride < run.start {
            above += 1;
        }
        let touching = runs[above..k].iter().take_while(|r| r.start + stride <= run.end);
        for j in (above..).zip(touching).map(|(j, _)| j) {
            let (a, b) = (root(&mut parents, j), root(&mut parents, k));
            parents[a.max(b)] = a.min(b);
        }
    }
    (0..runs.len()).map(|k| root(&mut parents, k)).collect()
}

/// The first of a group; the way there is halved for the next who asks.
fn root(parents: &mut [usize], mut k: usize) -> usize {
    while parents[k] != k {
        parents[k] = parents[parents[k]];
        k = parents[k];
    }
    k
}

/// Fills pinholes.
pub fn fill_pinholes(ink: &mut Bitmap) {
    // 3: paper known to be open.
    const OPEN: u8 = 3;
    let stride = ink.stride() as isize;
    let cross = [-stride, 1, stride, -1];
    let inside = |i: usize, b: &Bitmap| {
        let (x, y) = (i % b.stride(), i / b.stride());
        x > 0 && y > 0 && x <= b.width && y <= b.height
    };
    let mut group: Vec<usize> = Vec::new();
    let mut opened: Vec<usize> = Vec::new();
    let runs = ink.runs();
    // Only a gap between two runs can be a pinhole, and none that is longer than all of a pinhole: most are.
    for gap in runs.windows(2).filter(|r| r[1].start - r[0].end <= PINHOLE_PX) {
        let start = gap[0].end;
        if ink.cells[start] != 0 {
            continue;
        }
        group.clear();
        group.push(start);
        // 2: in this group.
        ink.cells[start] = 2;
        let mut next = 0;
        let mut open = !inside(start, ink);
        while next < group.len() && !open {
            for s in cross {
                let j = (group[next] as isize + s) as usize;
                match ink.cells[j] {
                    0 => {
                        open |= !inside(j, ink);
                        ink.cells[j] = 2;
                        group.push(j);
                    }
                    OPEN => open = true,
                    _ => {}
                }
            }
            open |= group.len() > PINHOLE_PX;
            next += 1;
        }
        for &j in &group {
            ink.cells[j] = if open { OPEN } else { 1 };
        }
        if open {
            opened.extend_from_slice(&group);
        }
    }
    for j in opened {
        ink.cells[j] = 0;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn picture(rows: &[&str]) -> Bitmap {
        let mut b = Bitmap::new(rows[0].len(), rows.len());
        for (y, row) in rows.iter().enumerate() {
            for (x, c) in row.bytes().enumerate() {
                b.set(x, y, c == b'#');
            }
        }
        b
    }

    #[test]
    fn a_pinhole_is_filled_and_a_bay_is_not() {
        let mut b = picture(&["#######..", "#.#...#..", "#######..", "#........", "#####...."]);
        fill_pinholes(&mut b);
        assert_eq!(b, picture(&["#######..", "#######..", "#######..", "#........", "#####...."]));
    }

    #[test]
    fn a_speck_goes_and_a_stroke_stays() {
        let mut b = picture(&["##......", "##......", "........", "########", "########"]);
        assert_eq!(remove_specks(&mut b), 1);
        assert_eq!(b, picture(&["........", "........", "........", "########", "########"]));
    }

    proptest! {
        #[test]
        fn equals_the_plain_form(cells in proptest::collection::vec(0u8..5, 22 * 14), most in 0u8..4) {
            let mut fast = Bitmap::new(22, 14);
            for (i, c) in cells.iter().enumerate() {
                fast.set(i % 22, i / 22, *c <= most);
            }
            let mut plain = fast.clone();
            let specks = remove_specks(&mut fast);
            let (mut left, mut group, mut plain_specks) = (plain.clone(), Vec::new(), 0);
            for i in plain.inner_indices() {
                if left.cells[i] == 0 {
                    continue;
                }
                left.take_group(i, &mut group);
                if group.len() <= SPECK_PX {
                    plain_specks += 1;
                    group.iter().for_each(|&j| plain.cells[j] = 0);
                }
            }
            prop_assert_eq!((&fast, specks), (&plain, plain_specks));

            // Pinholes: paper that hangs together (four neighbours) in few pixels and does not reach the border.
            let mut paper = Bitmap::new(22, 14);
            for i in fast.inner_indices() {
                paper.cells[i] = 1 - fast.cells[i];
            }
            fill_pinholes(&mut fast);
            for start in plain.inner_indices() {
                let mut hole = if paper.cells[start] != 0 { vec![start] } else { Vec::new() };
                let mut next = 0;
                while next < hole.len() {
                    for j in [hole[next] - 24, hole[next] + 1, hole[next] + 24, hole[next] - 1] {
                        if (paper.cells[j] != 0 || is_border(j)) && !hole.contains(&j) {
                            hole.push(j);
                        }
                    }
                    next = if hole.iter().any(|&j| is_border(j)) { hole.len() } else { next + 1 };
                }
                let is_pinhole = hole.len() <= PINHOLE_PX && !hole.iter().any(|&j| is_border(j));
                hole.iter().filter(|_| is_pinhole).for_each(|&j| plain.cells[j] = 1);
            }
            prop_assert_eq!(fast, plain);
        }
    }

    fn is_border(i: usize) -> bool {
        let (x, y) = (i % 24, i / 24);
        x == 0 || y == 0 || x == 23 || y == 15
    }
}
