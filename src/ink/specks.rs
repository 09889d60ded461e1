//! Specks of dust and toner are taken away, pinholes in strokes filled.

use super::Bitmap;

/// Ink that hangs together in no more pixels than this is a speck (0.12 mm2).
const SPECK_PX: usize = 8;
/// Paper enclosed by ink in no more pixels than this is a pinhole: grain of paper or a starving pen (0.19 mm2).
const PINHOLE_PX: usize = 12;

/// Takes away specks; gives how many.
pub fn remove_specks(ink: &mut Bitmap) -> usize {
    let mut left = ink.clone();
    let mut group: Vec<usize> = Vec::new();
    let mut specks = 0;
    for i in ink.ink_indices() {
        if left.cells[i] == 0 {
            continue;
        }
        left.take_group(i, &mut group);
        if group.len() <= SPECK_PX {
            specks += 1;
            group.iter().for_each(|&j| ink.cells[j] = 0);
        }
    }
    specks
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
    let pixels = ink.ink_indices();
    let mut opened: Vec<usize> = Vec::new();
    for &i in &pixels {
        let start = i + 1;
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
}
