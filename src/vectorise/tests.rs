//! Drawings made of thick strokes, read back.

use super::*;
use crate::drawing::MeetKind;
use crate::geometry::{Point, Vec2};
use crate::ink::print_removal::Covers;
use crate::ink::{self, Bitmap};
use crate::rectify::flatten::{Flat, PX_PER_MM};
use std::sync::Arc;

const WIDTH_MM: f64 = 80.0;
const HEIGHT_MM: f64 = 60.0;
const PEN_MM: f64 = 0.5;
/// Half the width of what a printed line covers.
const COVER_MM: f64 = 0.45;

/// Strokes through places, mm, on white paper.
fn read(strokes: &[Vec<Point>]) -> Drawing {
    read_on(&[], strokes)
}

/// The same on a sheet with printed lines, which cover what lies under them.
fn read_on(printed: &[Vec<Point>], strokes: &[Vec<Point>]) -> Drawing {
    let (width, height) = ((WIDTH_MM * PX_PER_MM) as usize, (HEIGHT_MM * PX_PER_MM) as usize);
    let mut flat = Flat { width, height, grey: vec![240; width * height], origin: Point::ORIGIN };
    let mut print = Bitmap::new(width, height);
    for stroke in printed.iter().chain(strokes) {
        for pair in stroke.windows(2) {
            let steps = (pair[0].distance(pair[1]) * 16.0).ceil().max(1.0) as usize;
            (0..=steps).for_each(|k| dab(&mut flat, pair[0].lerp(pair[1], k as f64 / steps as f64)));
        }
    }
    for pair in printed.iter().flat_map(|line| line.windows(2)) {
        for p in (0..=800).map(|k| pair[0].lerp(pair[1], f64::from(k) / 800.0)) {
            let around =
                |v: f64| ((v - COVER_MM) * PX_PER_MM) as usize..=((v + COVER_MM) * PX_PER_MM) as usize;
            around(p.y).for_each(|y| around(p.x).for_each(|x| print.set(x, y, true)));
        }
    }
    let print = Arc::new(print);
    let covers = Covers { narrow: print.clone(), middle: print.clone(), wide: print };
    vectorise(ink::read(&flat, &covers, ink::Look::default()))
}

fn dab(flat: &mut Flat, p: Point) {
    let (cx, cy, r) = (p.x * PX_PER_MM, p.y * PX_PER_MM, 0.5 * PEN_MM * PX_PER_MM);
    for y in (cy - r).floor() as usize..=(cy + r).ceil() as usize {
        for x in (cx - r).floor() as usize..=(cx + r).ceil() as usize {
            if (x as f64 - cx).hypot(y as f64 - cy) <= r {
                flat.grey[y * flat.width + x] = 40;
            }
        }
    }
}

fn way(places: &[(f64, f64)]) -> Vec<Point> {
    places.iter().map(|&(x, y)| Point::new(x, y)).collect()
}

/// Part of a circle, degrees anticlockwise as seen.
fn arc(centre: (f64, f64), radius: f64, from_deg: f64, to_deg: f64) -> Vec<Point> {
    let at = |k: i32| {
        let t = (from_deg + (to_deg - from_deg) * f64::from(k) / 90.0).to_radians();
        Point::new(centre.0 + radius * t.cos(), centre.1 - radius * t.sin())
    };
    (0..=90).map(at).collect()
}

/// The two barbs of an open head with its tip at a place, mm, pointing to the right or left.
fn head(tip: (f64, f64), right: bool, barb_mm: f64) -> Vec<Vec<Point>> {
    let back = if right { -1.0 } else { 1.0 };
    let barb = |up: f64| {
        let out = barb_mm * Vec2::new(back * 30f64.to_radians().cos(), up * 30f64.to_radians().sin());
        vec![Point::new(tip.0, tip.1), Point::new(tip.0, tip.1) + out]
    };
    vec![barb(1.0), barb(-1.0)]
}

/// Lengths of the lines that are there, mm, longest first.
fn lengths(drawing: &Drawing) -> Vec<f64> {
    let length = |l: &Line| l.points.windows(2).map(|w| w[0].distance(w[1])).sum::<f64>();
    let mut all: Vec<f64> =
        drawing.lines.iter().filter(|l| l.there >= crate::drawing::THERE).map(length).collect();
    all.sort_by(|a, b| b.total_cmp(a));
    all
}

#[track_caller]
fn assert_lengths(drawing: &Drawing, want: &[f64]) {
    let got = lengths(drawing);
    let near = got.len() == want.len() && got.iter().zip(want).all(|(a, b)| (a - b).abs() < 2.5);
    assert!(near, "{got:.1?} instead of {want:.1?}");
}

#[test]
fn ink_that_is_no_line_is_owned_up_to() {
    let line = read(&[way(&[(20.0, 30.0), (60.0, 30.0)])]);
    assert_eq!((line.lines.len(), line.unread_share), (1, 0.0));
    // 5 mm of half a millimetre, far from the line, on 4800 mm2.
    let stray = read(&[way(&[(20.0, 30.0), (60.0, 30.0)]), way(&[(30.0, 50.0), (35.0, 50.0)])]);
    assert_eq!(stray.lines.len(), 1);
    // About so much: the pen's round ends and the pixels at its rim count too.
    let share = stray.unread_share * WIDTH_MM * HEIGHT_MM / (5.0 * PEN_MM);
    assert!((0.8..2.0).contains(&share), "{share}");
}

#[test]
fn two_lines_whose_ends_run_together_stay_two() {
    let drawing = read(&[way(&[(40.0, 45.0), (25.0, 10.0)]), way(&[(40.3, 45.0), (52.0, 10.0)])]);
    assert_lengths(&drawing, &[38.1, 36.9]);
}

#[test]
fn a_line_keeps_its_square_corner() {
    let drawing = read(&[way(&[(15.0, 15.0), (60.0, 15.0), (60.0, 45.0)])]);
    assert_lengths(&drawing, &[75.0]);
}

#[test]
fn a_pen_lift_is_bridged_and_two_halves_of_a_loop_are_not() {
    let lifted = read(&[arc((40.0, 35.0), 22.0, 170.0, 95.0), arc((40.0, 35.0), 22.0, 90.5, 20.0)]);
    assert_lengths(&lifted, &[57.6]);
    let halves = read(&[arc((40.0, 30.0), 20.0, 3.0, 177.0), arc((40.0, 30.0), 20.0, 183.0, 357.0)]);
    assert_lengths(&halves, &[60.7, 60.7]);
}

/// From face to face of a disc 7 mm thick, with one lift of the pen.
#[test]
fn a_lifted_line_round_a_thin_magnet_stays_one() {
    let face = |y: f64| way(&[(12.0, y), (30.0, y)]);
    let line = [arc((40.0, 30.0), 20.0, 170.0, 92.0), arc((40.0, 30.0), 20.0, 87.0, -170.0)];
    // Nothing printed at its ends: two halves of a loop.
    assert_eq!(lengths(&read(&line)).len(), 2);
    // The ends stand on the two faces.
    let drawing = read_on(&[face(26.7), face(33.3)], &line);
    assert_eq!(lengths(&drawing).len(), 1, "{:?}", lengths(&drawing));
}

/// A level line at 30 mm and one 6 mm above it that comes down in the middle by so much, over about 20 mm to either side: their
/// middles' distances from 30 at both ends of what was traced of each, and the meetings.
fn beside_a_bump(by_mm: f64) -> (Vec<[f64; 2]>, Vec<MeetKind>) {
    let bump = |x: f64| 24.0 + by_mm * (-((x - 40.0) / 12.0).powi(2)).exp();
    let upper = (0..=140).map(|k| 5.0 + 0.5 * f64::from(k)).map(|x| Point::new(x, bump(x))).collect();
    let drawing = read(&[way(&[(5.0, 30.0), (75.0, 30.0)]), upper]);
    let lines = drawing.lines.iter().map(|l| {
        // In the middle and at the end: which strand goes with which.
        let y = |x: f64| {
            let near = l.points.iter().min_by(|p, q| (p.x - x).abs().total_cmp(&(q.x - x).abs()));
            near.map_or(0.0, |p| p.y - 30.0)
        };
        [y(40.0), y(70.0)]
    });
    (
        lines.collect(),
        drawing.meets.iter().filter(|m| m.sure > crate::drawing::THERE).map(|m| m.kind).collect(),
    )
}

#[test]
fn lines_that_cross_and_come_back_are_told_from_those_that_touch() {
    let (mut lines, meets) = beside_a_bump(8.5);
    lines.sort_by(|a, b| a[1].total_cmp(&b[1]));
    assert_eq!(meets, [MeetKind::Cross; 2]);
    let [bump, level] = lines[..] else { panic!("{lines:?}") };
    assert!((bump[0] - 2.5).abs() < 0.3 && level[0].abs() < 0.3, "{bump:?} {level:?}");
    // The middles come within 0.2 mm, less than half a pen's width. (At a pen's width less 0.1 mm the drawing leaves it open.)
    let (mut lines, meets) = beside_a_bump(5.8);
    lines.sort_by(|a, b| a[1].total_cmp(&b[1]));
    assert_eq!(meets, [MeetKind::Touch]);
    let [bump, level] = lines[..] else { panic!("{lines:?}") };
    assert!(bump[1] < -4.5 && level[1].abs() < 0.3, "{bump:?} {level:?}");
}

#[test]
fn a_barb_that_reaches_the_next_line_is_no_line_and_no_meeting() {
    let mut strokes = vec![way(&[(10.0, 25.0), (70.0, 25.0)]), way(&[(10.0, 28.0), (70.0, 28.0)])];
    strokes.extend(head((45.0, 25.0), true, 6.0));
    let drawing = read(&strokes);
    assert_lengths(&drawing, &[60.0, 60.0]);
    assert!(drawing.meets.iter().all(|m| m.sure < 0.5), "{:?}", drawing.meets);
    let heads: Vec<_> = drawing.lines.iter().flat_map(|l| &l.arrows).filter(|a| a.sure > 0.5).collect();
    assert_eq!(heads.len(), 1, "{heads:?}");
    assert!(heads[0].towards.x > 0.9 && heads[0].at.distance(Point::new(45.0, 25.0)) < 1.5, "{heads:?}");
}

#[test]
fn a_lift_right_behind_a_head_is_bridged_past_its_barbs() {
    let mut strokes = vec![way(&[(10.0, 30.0), (43.2, 30.0)]), way(&[(45.0, 30.0), (70.0, 30.0)])];
    strokes.extend(head((45.0, 30.0), true, 4.0));
    let drawing = read(&strokes);
    assert_lengths(&drawing, &[60.0]);
    assert!(drawing.lines[0].arrows.iter().any(|a| a.sure > 0.8 && a.towards.x > 0.9));
}

#[test]
fn a_line_is_followed_along_under_a_printed_one() {
    let frame = way(&[(5.0, 40.0), (75.0, 40.0)]);
    let drawn = way(&[
        (10.0, 32.0),
        (20.0, 36.6),
        (28.0, 39.0),
        (34.0, 39.9),
        (50.0, 39.9),
        (56.0, 39.0),
        (64.0, 36.6),
        (74.0, 32.0),
    ]);
    let drawing = read_on(&[frame], &[drawn]);
    assert_lengths(&drawing, &[67.0]);
    assert!(drawing.lines[0].sure < 0.9, "what runs under print was not seen: {}", drawing.lines[0].sure);
}

#[test]
fn a_line_that_ends_at_a_corner_does_not_go_on_along_the_outline() {
    let outline = way(&[(40.0, 8.0), (40.0, 36.0)]);
    let drawing =
        read_on(&[outline], &[way(&[(40.2, 58.0), (40.0, 36.8)]), way(&[(40.75, 33.5), (40.75, 20.5)])]);
    assert!(lengths(&drawing)[0] < 25.0, "{:?}", lengths(&drawing));
}

/// Lines that arrive at two corners of an outline along the side between them end there.
#[test]
fn two_lines_that_end_at_an_outlines_corners_stay_two() {
    let outline = way(&[(20.0, 22.0), (60.0, 22.0), (60.0, 36.0), (20.0, 36.0), (20.0, 22.0)]);
    let lines = [way(&[(20.2, 2.0), (20.1, 21.2)]), way(&[(20.2, 57.0), (20.1, 36.8)])];
    let drawing = read_on(&[outline], &lines);
    assert_eq!(lengths(&drawing).len(), 2, "{:?}", lengths(&drawing));
}

/// Three X's across a line, one of which lost an arm; heads, also two that meet tip to tip, are no X's.
#[test]
fn a_line_that_was_crossed_out_is_no_line() {
    let line = || way(&[(10.0, 30.0), (70.0, 30.0)]);
    let cross = |x: f64, whole: bool| {
        let far = if whole { (x + 2.0, 32.2) } else { (x, 30.0) };
        [way(&[(x - 2.0, 27.8), far]), way(&[(x - 2.0, 32.2), (x + 2.0, 27.8)])]
    };
    let crossed: Vec<_> =
        [vec![line()], cross(22.0, true).to_vec(), cross(40.0, false).to_vec(), cross(58.0, true).to_vec()]
            .concat();
    let drawing = read(&crossed);
    assert!(lengths(&drawing).is_empty(), "{:?}", lengths(&drawing));
    assert!(drawing.dropped.iter().any(|d| d.why == Clutter::CrossedOut));
    assert!(drawing.unread_share * WIDTH_MM * HEIGHT_MM > 50.0 * PEN_MM, "{}", drawing.unread_share);
    let headed = [
        vec![line()],
        head((25.0, 30.0), true, 3.0),
        head((45.0, 30.0), true, 3.0),
        head((46.0, 30.0), false, 3.0),
        head((62.0, 30.0), true, 3.0),
    ]
    .concat();
    assert_lengths(&read(&headed), &[60.0]);
}

/// Dashes of 4 mm with 4 mm between, one under an arrowhead; pieces as long that leave other gaps stay pieces.
#[test]
fn dashes_further_apart_than_a_pen_lift_are_one_line() {
    let dashes = |y: f64, gaps: &[f64]| {
        let mut from = 8.0;
        let dash = |gap: &f64| {
            let dash = way(&[(from, y), (from + 4.0, y)]);
            from += 4.0 + gap;
            dash
        };
        gaps.iter().map(dash).collect::<Vec<_>>()
    };
    let mut dashed = [dashes(20.0, &[4.0; 8]), dashes(40.0, &[4.0; 8])].concat();
    assert_lengths(&read(&dashed), &[60.0, 60.0]);
    dashed.extend(head((36.0, 40.0), true, 4.0));
    let drawing = read(&dashed);
    assert_lengths(&drawing, &[60.0, 60.0]);
    let arrows: Vec<_> = drawing.lines.iter().flat_map(|l| &l.arrows).filter(|a| a.sure > 0.5).collect();
    assert!(arrows.len() == 1 && arrows[0].towards.x > 0.9, "{arrows:?}");
    assert!(lengths(&read(&dashes(30.0, &[4.0, 9.0, 4.0, 9.0, 4.0]))).iter().all(|l| *l < 15.0));
}

/// Three slashes, and a zigzag to and fro; two slashes, heads, and two lines that run along it are neither.
#[test]
fn a_line_that_was_struck_through_or_scribbled_over_is_no_line() {
    let line = || way(&[(10.0, 30.0), (70.0, 30.0)]);
    let slash = |x: f64| way(&[(x - 1.5, 32.5), (x + 1.5, 27.5)]);
    let zigzag = |from: f64, to: f64| {
        let turns = (to - from) as usize;
        let at = |k: usize| (from + k as f64, if k.is_multiple_of(2) { 28.0 } else { 32.0 });
        way(&(0..=turns).map(at).collect::<Vec<_>>())
    };
    for over in [vec![slash(25.0), slash(32.0), slash(38.0)], vec![zigzag(25.0, 45.0)]] {
        let drawing = read(&[vec![line()], over].concat());
        assert!(lengths(&drawing).is_empty(), "{:?}", lengths(&drawing));
        assert!(drawing.dropped.iter().any(|d| d.why == Clutter::CrossedOut));
    }
    assert_lengths(&read(&[line(), slash(25.0), slash(38.0)]), &[60.0]);
    let heads = (0..4).flat_map(|k| head((20.0 + 9.0 * f64::from(k), 30.0), true, 5.0));
    assert_lengths(&read(&[line()].into_iter().chain(heads).collect::<Vec<_>>()), &[60.0]);
    let along = [-1.6, 1.6].map(|y| way(&[(12.0, 30.0 + y), (68.0, 30.0 + y)]));
    assert_lengths(&read(&[&[line()][..], &along].concat()), &[60.0, 56.0, 56.0]);
}

#[test]
fn a_short_stroke_that_is_taken_for_no_line_is_owned_up_to() {
    let drawing = read(&[way(&[(30.0, 30.0), (44.0, 30.0)])]);
    assert!(lengths(&drawing).is_empty() && drawing.lines.len() == 1);
    assert!(drawing.unread_share * WIDTH_MM * HEIGHT_MM > 14.0 * PEN_MM, "{}", drawing.unread_share);
}

#[test]
fn lines_that_cross_close_to_their_ends_meet_once() {
    let drawing = read(&[way(&[(10.0, 20.0), (64.0, 38.0)]), way(&[(10.0, 40.0), (64.0, 34.0)])]);
    assert_lengths(&drawing, &[56.9, 54.3]);
    let sure: Vec<_> = drawing.meets.iter().filter(|m| m.sure > 0.5).collect();
    assert_eq!(sure.len(), 1, "{sure:?}");
    assert_eq!(sure[0].kind, MeetKind::Cross);
    assert!(sure[0].at.distance(Point::new(55.0, 35.0)) < 2.0, "{sure:?}");
}

#[test]
fn a_head_is_surer_than_barbs_both_ways() {
    let line = || way(&[(10.0, 30.0), (70.0, 30.0)]);
    let sure = |barbs: &[Vec<Point>]| {
        let drawing = read(&[&[line()], barbs].concat());
        // That it is one and points as read.
        drawing.lines.iter().flat_map(|l| &l.arrows).map(|a| a.sure * a.way_sure).fold(0.0, f64::max)
    };
    let left = head((40.0, 30.0), false, 4.0);
    let star = [left.clone(), head((40.0, 30.0), true, 4.0)].concat();
    let (two, four) = (sure(&left), sure(&star));
    assert!(two > 0.99 && four < 0.9, "{two} {four}");
}

/// Two strokes of 3 to 8 mm that cross, upright or aslant, a blot and a small ring, near lines' height but by themselves.
#[test]
fn small_crosses_dots_and_rings_are_marks_and_no_lines_heads_or_meetings() {
    use crate::drawing::MarkKind;
    let line = way(&[(10.0, 10.0), (70.0, 10.0)]);
    let cross = |x: f64, y: f64, size: f64, deg: f64| {
        let arm = |t: f64| 0.5 * size * Vec2::new(t.to_radians().cos(), t.to_radians().sin());
        let at = Point::new(x, y);
        [deg, deg + 90.0].map(|t| vec![at - arm(t), at + arm(t)]).to_vec()
    };
    let mut strokes = vec![line];
    for (x, size, deg) in [(12.0, 3.5, 0.0), (25.0, 5.0, 45.0), (40.0, 7.5, 30.0)] {
        strokes.extend(cross(x, 25.0, size, deg));
    }
    let blot: Vec<Point> = (0..40).map(|k| arc((55.0, 25.0), 0.5, 0.0, 360.0)[2 * k]).collect();
    strokes.push([blot, way(&[(54.7, 25.0), (55.3, 25.0)])].concat());
    strokes.push(arc((66.0, 25.0), 2.0, 0.0, 360.0));
    let drawing = read(&strokes);
    let mut found: Vec<(i32, MarkKind)> =
        drawing.marks.iter().map(|m| (m.at.x.round() as i32, m.kind)).collect();
    found.sort_by_key(|f| f.0);
    let cross = MarkKind::Cross;
    assert_eq!(found, [(12, cross), (25, cross), (40, cross), (55, MarkKind::Dot), (66, MarkKind::Ring)]);
    assert!(drawing.marks.iter().all(|m| (m.at.y - 25.0).abs() < 0.4));
    assert_lengths(&drawing, &[60.0]);
    assert!(drawing.meets.is_empty() && drawing.lines.len() == 1 && drawing.lines[0].arrows.is_empty());
    assert_eq!(drawing.unread_share, 0.0);
}

/// The ring is cut at its arrowhead's tip, where four strokes meet.
#[test]
fn a_ring_keeps_its_arrowhead() {
    for radius in [9.0, 14.0, 20.0] {
        let tip = (40.0 - radius, 30.0);
        let barb = |side: f64| {
            let out = 3.2 * Vec2::new(side * 25f64.to_radians().sin(), -25f64.to_radians().cos());
            vec![Point::new(tip.0, tip.1), Point::new(tip.0, tip.1) + out]
        };
        let drawing = read(&[arc((40.0, 30.0), radius, 0.0, 360.0), barb(1.0), barb(-1.0)]);
        assert_lengths(&drawing, &[std::f64::consts::TAU * radius]);
        let arrows = &drawing.lines[0].arrows;
        assert!(arrows.len() == 1 && arrows[0].towards.y > 0.9, "{radius}: {arrows:?}");
    }
}

/// As inside a coil: what the heads' barbs leave behind must not be taken for a line of dots.
#[test]
fn heads_one_above_the_other_are_no_line() {
    let heights: Vec<f64> = (0..9).map(|k| 12.0 + 4.3 * f64::from(k)).collect();
    let strokes: Vec<Vec<Point>> = heights
        .iter()
        .flat_map(|&y| [vec![way(&[(5.0, y), (75.0, y)])], head((40.0, y), true, 3.2)].concat())
        .collect();
    let drawing = read(&strokes);
    assert_lengths(&drawing, &[70.0; 9]);
    assert!(drawing.meets.iter().all(|m| m.sure < crate::drawing::THERE), "{:?}", drawing.meets);
    assert!(drawing.lines.iter().all(|l| l.arrows.len() == 1));
}

/// Two dashed lines that cross in a dash of each, and a head on a line: none of them is a mark.
#[test]
fn what_crosses_in_lines_is_no_mark() {
    let dashes = |a: (f64, f64), b: (f64, f64)| {
        let (a, b) = (Point::new(a.0, a.1), Point::new(b.0, b.1));
        (0..7).map(move |k| vec![a.lerp(b, f64::from(k) / 6.6), a.lerp(b, (f64::from(k) + 0.6) / 6.6)])
    };
    let mut strokes: Vec<Vec<Point>> = dashes((10.0, 12.0), (70.0, 48.0)).collect();
    strokes.extend(dashes((10.0, 48.0), (70.0, 12.0)));
    assert!(read(&strokes).marks.is_empty());
    let mut strokes = vec![way(&[(10.0, 30.0), (70.0, 30.0)])];
    strokes.extend(head((40.0, 30.0), true, 3.0));
    assert!(read(&strokes).marks.is_empty());
}

#[test]
fn lines_that_cross_and_come_back_with_white_between_meet_twice() {
    let level = way(&[(8.0, 30.0), (72.0, 30.0)]);
    // Crosses it at 34.5 and 45.5 mm, half a millimetre of white between.
    let bowed: Vec<(f64, f64)> =
        (0..=80).map(|k| 20.0 + 0.5 * f64::from(k)).map(|x| (x, 31.0 - ((x - 40.0) / 5.5).powi(2))).collect();
    let drawing = read(&[level, way(&bowed)]);
    let mut at: Vec<f64> = drawing.meets.iter().filter(|m| m.sure >= 0.5).map(|m| m.at.x).collect();
    at.sort_by(f64::total_cmp);
    assert!(at.len() == 2 && (at[0] - 34.5).abs() < 2.0 && (at[1] - 45.5).abs() < 2.0, "{at:.1?}");
}

#[test]
fn a_head_between_two_lines_is_one_lines() {
    // 1.5 mm apart; the head stands on the upper one, and its lower barb reaches across the other.
    let mut strokes = vec![way(&[(8.0, 30.0), (72.0, 30.0)]), way(&[(8.0, 31.5), (72.0, 31.5)])];
    strokes.extend(head((40.0, 30.0), true, 5.0));
    let drawing = read(&strokes);
    let near = drawing.lines.iter().flat_map(|l| {
        l.arrows.iter().filter(|a| (a.at.x - 40.0).abs() < 3.0).map(|a| (l.points[0].y, a.sure))
    });
    let mut near: Vec<(f64, f64)> = near.collect();
    near.sort_by(|a, b| b.1.total_cmp(&a.1));
    let upper = near.first().is_some_and(|(y, sure)| (y - 30.0).abs() < 0.5 && *sure > 0.5);
    assert!(upper && near.iter().map(|n| n.1).sum::<f64>() < 1.1, "{near:.2?}");
}

#[test]
fn a_heads_tip_is_where_its_strokes_meet() {
    for (barb_mm, right) in [(3.0, true), (4.0, false), (6.0, true)] {
        let strokes = [vec![way(&[(8.0, 30.0), (72.0, 30.0)])], head((40.0, 30.0), right, barb_mm)].concat();
        let drawing = read(&strokes);
        let [arrow] = drawing.lines[0].arrows[..] else { panic!("{:?}", drawing.lines[0].arrows) };
        assert!((arrow.at.x - 40.0).abs() < 0.6, "{barb_mm}: {arrow:?}");
    }
}

#[test]
fn a_head_drawn_twice_is_one() {
    let again = head((41.2, 30.0), true, 5.0);
    let strokes = [vec![way(&[(8.0, 30.0), (72.0, 30.0)])], head((40.0, 30.0), true, 5.0), again].concat();
    let drawing = read(&strokes);
    let sure: f64 = drawing.lines[0].arrows.iter().map(|a| a.sure).sum();
    assert!(sure > 0.9 && sure < 1.1, "{:?}", drawing.lines[0].arrows);
}

#[test]
fn of_two_heads_against_each_other_on_one_spot_the_way_is_open() {
    let made = |x: f64, towards: f64, sure: f64| heads::Head {
        line: 0,
        arrow: crate::drawing::Arrow {
            at: Point::new(x, 30.0),
            towards: Vec2::new(towards, 0.0),
            sure,
            way_sure: 0.998,
        },
        strokes: vec![x as usize],
        evidence: evidence::Evidence::default(),
    };
    let merged = |other: heads::Head| {
        let mut all = vec![other, made(40.0, 1.0, 0.998)];
        heads::merge(&mut all);
        let [head] = &all[..] else { panic!("{} heads", all.len()) };
        assert_eq!((head.arrow.towards.x, head.strokes.len()), (1.0, 2));
        head.arrow.way_sure
    };
    assert!(merged(made(41.0, -1.0, 0.99)) < 0.6);
    assert!(merged(made(41.0, -1.0, 0.1)) > 0.99, "what is hardly a head says little");
    assert_eq!(merged(made(41.0, 1.0, 0.99)), 0.998);
}
