//! Sheets are true to the millimetre, leave the drawing its room, and come out the same every time.

use crate::page::{Page, worksheets};
use hayro::hayro_syntax::Pdf;
use hayro::hayro_syntax::object::{Array, Dict, Stream};
use lodemark::geometry::{Point, Rect};
use lodemark::print::answer::{self, Answer};
use lodemark::print::answer_pdf;
use lodemark::print::layout::{self, BLANK_MM, CHECK_LINE_MM, FIDUCIAL_INSET_MM, FIDUCIAL_MM, Layout};
use lodemark::print::sheet::{self, Sheet};
use lodemark::worksheet::Worksheet;
use std::path::Path;

/// What the promise allows, mm.
const TRUE_MM: f64 = 0.1;

fn one(code: &str) -> Sheet {
    Sheet { code: Some(code.into()), name: "Zoë Example".into() }
}

/// The middle of the ink, mm, on a level (or upright) line `at` mm from the page's edge, between two places.
fn ink_middle(page: &Page, level: bool, at: f64, from: f64, to: f64) -> f64 {
    let px = |mm: f64| (mm * page.px_per_mm) as usize;
    let (mut ink, mut moment) = (0.0, 0.0);
    for i in px(from)..px(to) {
        let dark = if level { page.dark(i, px(at)) } else { page.dark(px(at), i) };
        ink += dark;
        moment += dark * (i as f64 + 0.5);
    }
    assert!(ink > 0.5, "no ink between {from} and {to} mm at {at} mm");
    moment / ink / page.px_per_mm
}

/// The first worksheet of the tests: a bar of 50 x 15 mm in the middle of a landscape A4 sheet.
fn bar() -> Worksheet {
    worksheets().swap_remove(0)
}

#[test]
fn a_bar_of_50_by_15_mm_measures_so_at_600_dpi() {
    let worksheet = bar();
    let page = Page::of(&sheet::pdf(&worksheet, &[one("A1")]).unwrap(), 0, 600.0);
    let c = worksheet.panels[0].sources[0].centre;
    // Off the middle, where no letter stands.
    let edge = |x: f64| ink_middle(&page, true, c.y + 5.0, x - 2.0, x + 2.0);
    let length = edge(c.x + 25.0) - edge(c.x - 25.0);
    let side = |y: f64| ink_middle(&page, false, c.x, y - 2.0, y + 2.0);
    let width = side(c.y + 7.5) - side(c.y - 7.5);
    assert!((length - 50.0).abs() < TRUE_MM && (width - 15.0).abs() < TRUE_MM, "{length} x {width} mm");
    assert!(
        (edge(c.x - 25.0) - (c.x - 25.0)).abs() < TRUE_MM && (side(c.y - 7.5) - (c.y - 7.5)).abs() < TRUE_MM
    );
}

#[test]
fn frame_check_line_and_marks_stand_where_the_layout_says() {
    let worksheet = bar();
    let page = Page::of(&sheet::pdf(&worksheet, &[one("A1")]).unwrap(), 0, 600.0);
    let frame = worksheet.panels[0].frame;
    let edge = |x: f64| ink_middle(&page, true, frame.y0 + 30.0, x - 2.0, x + 2.0);
    assert!((edge(frame.x0) - frame.x0).abs() < TRUE_MM && (edge(frame.x1) - frame.x1).abs() < TRUE_MM);
    // Just above the line itself only its end ticks are cut.
    let above = worksheet.page_mm.1 - 10.0 - 0.7;
    let tick = |x: f64| ink_middle(&page, true, above, x - 3.0, x + 3.0);
    assert!((tick(20.0 + CHECK_LINE_MM) - tick(20.0) - CHECK_LINE_MM).abs() < TRUE_MM);
    for mark in Layout::of(&worksheet).fiducials {
        let p = mark.centre;
        let (x, y) = (
            ink_middle(&page, true, p.y, p.x - 4.0, p.x + 4.0),
            ink_middle(&page, false, p.x, p.y - 4.0, p.y + 4.0),
        );
        assert!((x - p.x).abs() < TRUE_MM && (y - p.y).abs() < TRUE_MM, "{mark:?}: {x}, {y}");
        let inset = p.x.min(worksheet.page_mm.0 - p.x).max(p.y.min(worksheet.page_mm.1 - p.y));
        assert!((inset - FIDUCIAL_INSET_MM).abs() < 1e-9 && mark.diameter_mm == FIDUCIAL_MM);
    }
}

#[test]
fn the_same_input_gives_the_same_bytes() {
    for worksheet in worksheets().iter().take(7) {
        let sheets: Vec<Sheet> = [one("A1"), one("B2")].into_iter().chain(Sheet::spares(2)).collect();
        assert_eq!(sheet::pdf(worksheet, &sheets).unwrap(), sheet::pdf(worksheet, &sheets).unwrap());
    }
}

#[test]
fn every_font_is_embedded() {
    let bytes = sheet::pdf(&bar(), &[one("A1"), Sheet::default()]).unwrap();
    let pdf = Pdf::new(bytes).unwrap();
    let mut fonts = 0;
    for page in pdf.pages().iter() {
        let dict = &page.resources().fonts;
        for name in dict.keys() {
            let font: Dict = dict.get(&*name).unwrap();
            let inner: Dict = font.get::<Array>("DescendantFonts").unwrap().iter::<Dict>().next().unwrap();
            let descriptor: Dict = inner.get("FontDescriptor").unwrap();
            assert!(descriptor.get::<Stream>("FontFile2").is_some(), "{name:?}");
            fonts += 1;
        }
    }
    assert_eq!(fonts, 4, "bold and regular on either page");
}

/// A millimetre at 150 dpi.
const CELL_PX: usize = 6;

/// The answer is the same picture as PDF and as PNG, with its words as letters.
#[test]
fn the_answer_as_pdf_is_the_answer_as_png() {
    let worksheet = bar();
    let line = (0..=80).map(|i| Point::new(40.0 + f64::from(i), 70.0 + 0.2 * f64::from(i))).collect();
    let answers = [Answer { lines: vec![line], neutral: vec![Point::new(250.0, 60.0)] }];
    let bytes = answer_pdf::pdf(&worksheet, &answers).unwrap();
    assert_eq!(bytes, answer_pdf::pdf(&worksheet, &answers).unwrap());
    let page = Page::of(&bytes, 0, 150.0);
    let png = answer::png(&answer::svg(&worksheet, &answers), 150.0).unwrap();
    let png = image::load_from_memory(&png).unwrap().into_rgb8();
    assert!(
        page.width.abs_diff(png.width() as usize) <= 1 && page.height.abs_diff(png.height() as usize) <= 1
    );
    // Millimetre by millimetre; two programs share an edge out to its pixels differently.
    let mean = |x: usize, y: usize, level: &dyn Fn(usize, usize) -> f64| {
        (0..CELL_PX * CELL_PX).map(|i| level(x + i % CELL_PX, y + i / CELL_PX)).sum::<f64>()
            / (CELL_PX * CELL_PX) as f64
    };
    let (mut inked, mut apart) = (0, 0);
    for (y, x) in (0..page.height - CELL_PX)
        .step_by(CELL_PX)
        .flat_map(|y| (0..page.width - CELL_PX).step_by(CELL_PX).map(move |x| (y, x)))
    {
        let in_pdf = mean(x, y, &|x, y| page.dark(x, y));
        let in_png = mean(x, y, &|x, y| {
            1.0 - f64::from(png.get_pixel_checked(x as u32, y as u32).map_or(255, |p| p[1])) / 255.0
        });
        inked += usize::from(in_png > 0.1);
        apart += usize::from((in_pdf - in_png).abs() > 0.15);
    }
    // Where a frame lies on the border of two cells, and the words, grey or black; a lost line would be as much again.
    assert!(inked > 1000 && apart < inked / 12, "{apart} of {inked}");
    assert_eq!(Pdf::new(bytes).unwrap().pages()[0].resources().fonts.keys().count(), 2);
}

/// Around each frame, and in it, nothing is printed but what the layout names.
#[test]
fn drawings_have_their_room() {
    for worksheet in worksheets() {
        let page = Page::of(&sheet::pdf(&worksheet, &[one("LONGESTCODE1")]).unwrap(), 0, 120.0);
        let shapes: Vec<Rect> =
            Layout::of(&worksheet).shapes.iter().skip(1).map(|s| s.bounds().inflate(0.4, 0.4)).collect();
        let frames: Vec<Rect> = worksheet.panels.iter().map(|p| p.frame).collect();
        for (y, x) in (0..page.height).flat_map(|y| (0..page.width).map(move |x| (y, x))) {
            let p = kurbo::Point::new((x as f64 + 0.5) / page.px_per_mm, (y as f64 + 0.5) / page.px_per_mm);
            let near = frames.iter().any(|f| f.inflate(BLANK_MM, BLANK_MM).contains(p));
            if !near || page.dark(x, y) < 0.01 {
                continue;
            }
            let on_frame =
                frames.iter().any(|f| f.inflate(0.4, 0.4).contains(p) && !f.inset(-0.4).contains(p));
            let in_shape = shapes.iter().any(|s| s.contains(p));
            assert!(
                on_frame || in_shape,
                "{:?} {:?}: print at {p:?}",
                worksheet.page_mm,
                worksheet.panels[0].sources
            );
        }
    }
}

#[test]
fn every_kind_finds_room_on_every_paper() {
    for worksheet in worksheets() {
        assert_eq!(layout::check(&worksheet, Path::new("worksheet.yaml")), []);
    }
}

#[test]
fn a_frame_that_leaves_no_room_for_the_words_is_told() {
    let mut worksheet = bar();
    worksheet.panels[0].frame.y0 = 40.0;
    worksheet.panels[0].frame.y1 = 205.0;
    let problems = layout::check(&worksheet, Path::new("worksheet.yaml"));
    assert_eq!(problems.len(), 2, "{problems:?}");
    assert!(problems.iter().all(|p| p.path == "panels[0].frame_mm" && !p.fix.is_empty()));
}

#[test]
fn nothing_is_printed_in_a_copiers_margin() {
    let page = Page::of(&sheet::pdf(&bar(), &[one("LONGESTCODE1")]).unwrap(), 0, 120.0);
    let margin = (layout::MARGIN_MM * page.px_per_mm) as usize;
    for y in 0..page.height {
        for x in
            (0..page.width).filter(|x| y.min(page.height - 1 - y).min(*x).min(page.width - 1 - x) < margin)
        {
            assert!(page.dark(x, y) < 0.01, "print at pixel {x}, {y}");
        }
    }
}
