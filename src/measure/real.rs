//! How sure it is that an end read in free space is one: many are where a line was lost, or led into another.

use super::region::{Region, Traced};
use crate::drawing::THERE;
use crate::geometry::{Point, Vec2};
use crate::stats::logistic;

/// Another line this near to an end, mm: it runs into it, beside it, by it.
const INTO_MM: f64 = 0.6;
const BESIDE_MM: f64 = 2.0;
const BY_MM: f64 = 6.0;
/// A line ahead of an end, within 60 degrees of its way, this near, mm: the line may go on in it.
const AHEAD_MM: f64 = 1.2;
const AHEAD_COS: f64 = 0.5;
/// Another end ahead, mm: at a pen lift's distance, or a dash's.
const LIFT_MM: f64 = 2.0;
const DASH_MM: f64 = 8.0;
const FACING_COS: f64 = 0.6;
/// A line traced more surely than this is as sure as any.
const PLAIN: f64 = 0.98;
/// What each weighs ([`Features`]), and what is left when all are 0.
///
/// Logistic regression on 1361 ends read in free space, short of a pole, in generated drawings (1022 of them real),
/// classes left out of the fit in turn: log loss 0.290, where 0.388 was left by telling four kinds of ends. The
/// line's length would bring it to 0.239 there, but students do draw short lines that stop in space. Empirical.
const WEIGHTS: [f64; FEATURES] = [1.29, 1.37, -6.27, -0.9, -1.17, 1.25, 1.2, -1.07, 1.42];
const ELSE: f64 = -0.92;
/// Nothing is told more surely than this.
const BETWEEN: (f64, f64) = (0.1, 0.98);
const FEATURES: usize = 9;

/// What an end looks like: whether the line's other end is free, whether it has a head, how unsurely it was traced; how near
/// another line comes, and how near another end or a line lies ahead.
type Features = [f64; FEATURES];

/// How sure it is that an end of a line, at a place, is one. `free`: whether its other end lies in free space too.
pub fn sureness(region: &Region, line: &Traced, at: Point, outward: Vec2, free: bool) -> f64 {
    let features = features(region, line, at, outward, free);
    let odds = ELSE + WEIGHTS.iter().zip(features).map(|(w, f)| w * f).sum::<f64>();
    logistic(odds).clamp(BETWEEN.0, BETWEEN.1)
}

fn features(region: &Region, line: &Traced, at: Point, outward: Vec2, free: bool) -> Features {
    let others = || region.lines.iter().filter(|l| l.index != line.index && l.line.there >= THERE);
    let ahead = |p: &Point, cos: f64| {
        let step = *p - at;
        let far = step.hypot();
        (far > 0.0 && step.dot(outward) > cos * far).then_some(far)
    };
    let nearest = |distances: &mut dyn Iterator<Item = f64>| distances.fold(f64::INFINITY, f64::min);
    let points = || others().flat_map(|l| &l.points);
    let near = nearest(&mut points().map(|p| p.distance(at)));
    let line_ahead = nearest(&mut points().filter_map(|p| ahead(p, AHEAD_COS)));
    let ends = others().chain([line]).flat_map(|l| [l.points.first(), l.points.last()]).flatten();
    let end_ahead = nearest(&mut ends.filter_map(|p| ahead(p, FACING_COS)));
    let yes = |is: bool| f64::from(u8::from(is));
    [
        yes(free),
        yes(line.line.arrows.iter().any(|a| a.sure >= THERE)),
        (PLAIN - line.line.sure).max(0.0),
        yes(near < INTO_MM),
        yes((INTO_MM..BESIDE_MM).contains(&near)),
        if near >= BESIDE_MM { near.min(BY_MM) / BY_MM } else { 0.0 },
        yes(end_ahead < LIFT_MM),
        yes(line_ahead < AHEAD_MM),
        yes(free && (LIFT_MM..DASH_MM).contains(&end_ahead)),
    ]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::drawing::Arrow;
    use crate::measure::made;

    /// How sure it is that the right end of a level line is one, with other lines about; the left end lies on a magnet.
    fn right_end(length_mm: f64, head: bool, others: Vec<Vec<Point>>) -> f64 {
        let panel = made::uniform(0.0);
        let field = panel.field();
        let mut d =
            made::drawing([vec![made::straight((20.0, 50.0), (20.0 + length_mm, 50.0))], others].concat());
        if head {
            let towards = Vec2::new(1.0, 0.0);
            d.lines[0].arrows.push(Arrow { at: Point::new(25.0, 50.0), towards, sure: 0.9, way_sure: 0.9 });
        }
        let region = Region::new(&panel, &field, &d);
        let line = &region.lines[0];
        sureness(&region, line, line.points[line.points.len() - 1], Vec2::new(1.0, 0.0), false)
    }

    #[test]
    fn a_line_that_stops_in_the_clear_was_drawn_so() {
        assert!(right_end(80.0, true, vec![]) > 0.8);
        assert!(right_end(80.0, true, vec![]) > right_end(80.0, false, vec![]));
        assert_eq!(
            right_end(80.0, true, vec![]),
            right_end(20.0, true, vec![]),
            "students draw short lines too"
        );
    }

    #[test]
    fn one_that_runs_into_another_may_go_on_in_it() {
        let across = |x: f64| vec![made::straight((x, 20.0), (x, 80.0))];
        let (clear, near, into) = (
            right_end(60.0, true, across(110.0)),
            right_end(60.0, true, across(81.0)),
            right_end(60.0, true, across(80.2)),
        );
        assert!(clear > 0.8 && near < 0.5 && into < 0.5, "{clear} {near} {into}");
        let bare = right_end(60.0, false, across(80.2));
        assert!(bare < 0.2, "without a head it is likely a piece: {bare}");
    }
}
