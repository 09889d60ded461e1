//! A picture with more than one sheet is refused with a reason: none of them is marked in another's place.

use crate::classroom::{Classroom, Drawn, errors, run, save, sheet};
use lodemark::scan::GreyImage;

/// Sheets on a dark table, each with its upper left corner at a place, the second upside down or not.
fn table(size: (usize, usize), sheets: &[(&GreyImage, (usize, usize), bool)]) -> GreyImage {
    let mut picture = GreyImage { width: size.0, height: size.1, pixels: vec![70; size.0 * size.1] };
    for (sheet, (x0, y0), turned) in sheets {
        for (y, row) in sheet.pixels.chunks_exact(sheet.width).enumerate() {
            for (x, &level) in row.iter().enumerate() {
                let (u, v) = if *turned { (sheet.width - 1 - x, sheet.height - 1 - y) } else { (x, y) };
                let (u, v) = (u + x0, v + y0);
                if u < size.0 && v < size.1 {
                    picture.pixels[v * size.0 + u] = level;
                }
            }
        }
    }
    picture
}

#[test]
fn two_sheets_in_one_picture_are_refused_and_one_beside_other_things_is_read() {
    let room = Classroom::new("unlike-poles", 3);
    let [a, b] = ["A01", "A02"].map(|code| sheet(&room.worksheet(), Some(code), Drawn::Arrows));
    let (w, h) = (a.width, a.height);
    let below = table((w + 200, 2 * h + 300), &[(&a, (100, 100), false), (&b, (100, h + 200), false)]);
    let turned = table((w + 200, 2 * h + 300), &[(&a, (100, 100), false), (&b, (100, h + 200), true)]);
    let aside = table((2 * w + 300, h + 200), &[(&a, (100, 100), false), (&b, (w + 200, 100), false)]);
    for (name, picture) in [("below", &below), ("turned", &turned), ("aside", &aside)] {
        let photo = room.path(&format!("{name}.png"));
        save(picture, &photo);
        let checked = run(&["check", room.dir.to_str().unwrap(), photo.to_str().unwrap()]);
        assert_eq!(checked.status.code(), Some(2), "{name}");
        let told = errors(&checked);
        assert!(told.contains("shows more than one sheet; take each sheet by itself"), "{name}: {told}");
    }
    save(&below, &room.path("scans/1.png"));
    // One sheet, half of another that has no ring left, and much table.
    let cut = table((w + 200, h + h / 2 + 200), &[(&a, (100, 100), false), (&b, (100, h + 180), true)]);
    save(&cut, &room.path("scans/2.png"));
    let summary = room.marked();
    assert_eq!(room.row("A01")["source"], "2.png page 1");
    assert_eq!(room.row("A02")["status"], "absent");
    let people = serde_json::to_string(&summary["people"]).unwrap();
    assert!(people.contains("1.png") && people.contains("shows more than one sheet"), "{people}");
}

/// What lies on the desk may look like a sheet by accident: grain of wood agreed with 0.57 of the frames.
#[test]
fn a_single_sheet_beside_what_agrees_with_half_the_frames_is_read() {
    let room = Classroom::new("unlike-poles", 3);
    let [a, mut b] = ["A01", "A02"].map(|code| sheet(&room.worksheet(), Some(code), Drawn::Arrows));
    let (w, h) = (a.width, a.height);
    // Without its code and the right part of its frames; the discs stay.
    let corner = h / 9;
    for (y, row) in b.pixels.chunks_exact_mut(w).enumerate() {
        let discs = y < corner || y >= h - corner;
        let until = if discs { w - corner } else { w };
        row[w * 3 / 5..until].fill(255);
    }
    let below = table((w + 200, 2 * h + 300), &[(&a, (100, 100), false), (&b, (100, h + 200), false)]);
    save(&below, &room.path("scans/1.png"));
    room.marked();
    assert_eq!(room.row("A01")["source"], "1.png page 1");
}
