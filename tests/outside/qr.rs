//! QR codes read back by another reader (rqrr) than the program's own, from the printed page.

use crate::page::{Page, worksheets};
use lodemark::print::code::{LONGEST_ID, Payload};
use lodemark::print::layout::{Layout, QUIET_MODULES};
use lodemark::print::sheet::{self, Sheet};
use rqrr::PreparedImage;

/// What the other reader finds on a page: all texts.
fn read(page: &Page) -> Vec<String> {
    let mut image =
        PreparedImage::prepare_from_greyscale(page.width, page.height, |x, y| page.grey[y * page.width + x]);
    image.detect_grids().iter().filter_map(|grid| grid.decode().ok()).map(|(_, text)| text).collect()
}

#[test]
fn the_code_on_a_sheet_says_whose_it_is() {
    let worksheet = worksheets().swap_remove(0);
    let mut sheets: Vec<Sheet> = ["R7K-01", "A1", "LONGESTCODE1"]
        .iter()
        .map(|code| Sheet { code: Some((*code).into()), name: String::new() })
        .collect();
    sheets.push(Sheet::default());
    let pdf = sheet::pdf(&worksheet, &sheets).unwrap();
    for (number, sheet) in sheets.iter().enumerate() {
        let texts = read(&Page::of(&pdf, number, 200.0));
        let expected = Payload::new(&worksheet.id, 1, sheet.code.as_deref());
        assert_eq!(texts, [expected.encode()]);
        assert_eq!(Payload::decode(&texts[0]), Ok(expected));
    }
}

#[test]
fn the_longest_id_is_still_read_and_its_modules_are_large_enough() {
    let mut worksheet = worksheets().swap_remove(0);
    worksheet.id = "x".repeat(LONGEST_ID);
    let layout = Layout::of(&worksheet);
    assert!(layout.module_mm >= 0.6, "{} mm", layout.module_mm);
    let sheet = Sheet { code: Some("LONGESTCODE1".into()), name: String::new() };
    let pdf = sheet::pdf(&worksheet, std::slice::from_ref(&sheet)).unwrap();
    assert_eq!(
        read(&Page::of(&pdf, 0, 200.0)),
        [Payload::new(&worksheet.id, 1, sheet.code.as_deref()).encode()]
    );
}

/// ISO/IEC 18004: four modules of white all round.
#[test]
fn the_quiet_zone_is_white() {
    for worksheet in worksheets() {
        let layout = Layout::of(&worksheet);
        let code = Sheet { code: Some("LONGESTCODE1".into()), name: "Maximiliane Beispiel".into() };
        let page = Page::of(&sheet::pdf(&worksheet, &[code]).unwrap(), 0, 200.0);
        let (zone, inner) = (layout.code_zone(), layout.code_box.inflate(0.2, 0.2));
        assert!(
            (zone.width() - layout.code_box.width() - 2.0 * QUIET_MODULES * layout.module_mm).abs() < 1e-9
        );
        for (y, x) in (0..page.height).flat_map(|y| (0..page.width).map(move |x| (y, x))) {
            let p = kurbo::Point::new((x as f64 + 0.5) / page.px_per_mm, (y as f64 + 0.5) / page.px_per_mm);
            if zone.contains(p) && !inner.contains(p) {
                assert!(page.dark(x, y) < 0.01, "print in the quiet zone at {p:?}");
            }
        }
    }
}
