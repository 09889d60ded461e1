//! What is drawn, and that it is drawn as meant.

use super::super::palette::tests::{apart, luminance};
use super::super::tests::bar;
use super::*;

fn level(y: f64) -> Vec<Point> {
    (0..=50).map(|i| Point::new(60.0 + f64::from(i), y)).collect()
}

fn heads(line: &[Point]) -> Vec<Head> {
    let mut heads = Vec::new();
    add_heads(line, &[], &mut heads);
    heads
}

/// Round a straight wire the heads of the three innermost rings once lay over one another.
#[test]
fn heads_of_near_rings_keep_apart() {
    let ring = |r: f64| -> Vec<Point> {
        (0..=120).map(|i| Point::new(100., 80.) + r * crate::geometry::towards(3.0 * f64::from(i))).collect()
    };
    let mut all = Vec::new();
    for r in [4.2, 4.9, 5.7, 6.6, 8.0] {
        add_heads(&ring(r), &[], &mut all);
    }
    assert_eq!(all.len(), 5);
    for (i, head) in all.iter().enumerate() {
        assert!(all[..i].iter().all(|other| !is_over(head, other) && !is_over(other, head)), "{all:?}");
    }
}

#[test]
fn arrowheads_point_along_the_line() {
    let [[tip, left, right]] = heads(&level(80.0)).try_into().unwrap();
    assert!(tip.x > left.x && (left.y + right.y) / 2.0 == tip.y && (tip.x + left.x) / 2.0 == 85.0);
    assert!(heads(&level(80.0)[..9]).is_empty());
}

/// The letters of a coil, in which field lines run, were once cut by lines and heads: they come last, with a rim of paper,
/// and heads make room.
#[test]
fn lines_and_heads_leave_the_letters_of_a_coil() {
    let panel = super::super::tests::panel(vec![super::super::tests::coil(85.0, 80.0)]);
    let middles = poles::letters(&panel.sources[0]);
    let boxes: Vec<Rect> = middles.iter().filter_map(|letter| bounds(letter)).collect();
    let right: Vec<Point> =
        level(80.0).iter().map(|p| *p + (boxes[0].center() - Point::new(85., 80.))).collect();
    let mut all = Vec::new();
    add_heads(&right, &boxes, &mut all);
    assert!(all.len() == 1 && all[0].iter().all(|corner| !boxes[0].contains(*corner)), "{all:?}");
    let layers = Layers {
        answer: crate::print::answer::Answer { lines: vec![right], neutral: Vec::new() },
        ..Layers::default()
    };
    let svg = picture(&super::super::tests::sheet(vec![panel]), &[layers]).svg();
    let letter = paths(middles.iter().flatten().map(Vec::as_slice), true);
    let places: Vec<usize> = svg.match_indices(&letter).map(|(at, _)| at).collect();
    // The rim, then the letters themselves.
    assert_eq!(places.len(), 2);
    assert!(places[0] > svg.rfind(LINE).unwrap());
}

#[test]
fn a_bars_north_half_is_half_of_it() {
    let source = bar(148.5, 115., 0.);
    let half = cut(&source.outline().polygon, north_side(&source).unwrap());
    assert_eq!(half.len(), 4);
    assert!(half.iter().all(|p| p.x >= 148.5 - 1e-9));
}

fn rgb(hex: &str) -> [u8; 3] {
    [1, 3, 5].map(|i| u8::from_str_radix(&hex[i..i + 2], 16).unwrap())
}

/// What lies side by side is told apart by every eye and in grey.
#[test]
fn tints_and_strokes_are_told_apart_by_every_eye() {
    for (a, b) in [
        (NORTH, SOUTH),
        (NORTH, PAPER),
        (LINE, PAPER),
        (LINE, SOUTH),
        (LINE, NORTH),
        (INK, NORTH),
        (INK, SOUTH),
        (NEUTRAL, PAPER),
        (FRAME, PAPER),
    ] {
        assert!(apart(rgb(a), rgb(b)) > 15.0, "{a} {b}: {}", apart(rgb(a), rgb(b)));
    }
    assert!(apart(rgb(SOUTH), rgb(PAPER)) > 5.5);
    // WCAG 2.2: graphics want a contrast of 3 to 1, text 4.5.
    let contrast = |a: &str, b: &str| {
        let (a, b) = (luminance(rgb(a)), luminance(rgb(b)));
        (a.max(b) + 0.05) / (a.min(b) + 0.05)
    };
    assert!(contrast(LINE, PAPER) > 4.5 && contrast(NEUTRAL, PAPER) > 4.5 && contrast(INK, NORTH) > 4.5);
}

/// Ink on pale shades, paper on dark ones.
#[test]
fn lines_between_shades_stand_out_on_both_sides() {
    for k in 1..=9 {
        let t = f64::from(k) / 9.0;
        let line = rgb(if t < DARK_FROM { INK } else { PAPER });
        assert!(apart(line, shade(t)) > 25.0, "{t}: {}", apart(line, shade(t)));
    }
}
