//! `arrows.shown`, `arrows.wrong`, `arrows.agree`: do the arrowheads point as the field does?
//!
//! On a line whose ends lie on an N and an S half (or on a positive and a negative charge) an arrow agrees when it points along the line from N to S;
//! on other lines when it is within 90 degrees of the computed field at its tip. What lies wholly inside a
//! magnet's outline is not judged and passes; inside a coil the computed field decides.

use super::ends::On;
use super::region::{Region, STEP_MM, Traced};
use super::worlds::{Head, Reading};
use crate::drawing::Arrow;
use crate::geometry::polyline::tangents;
use crate::geometry::{Point, Vec2, turn_deg};
use crate::stats::logistic;

/// A tip this deep inside an outline is not judged (contract).
const INSIDE_MM: f64 = 1.0;

/// One arrowhead against its line and the field, as it was read.
#[derive(Clone, Copy, Debug)]
pub struct Judged {
    inside: bool,
    /// In a coil, where the field runs from S to N.
    in_coil: bool,
    /// Points from the line's first point to its last.
    along: bool,
    /// Points within 90 degrees of the field.
    with_field: bool,
    /// That it does, or does not, the way of the line being read no better than it is ([`way_scale_deg`]).
    field_sure: f64,
}

/// How well the way of an arrow is read along its line, the scale of a logistic distribution, degrees: on a straight line, for
/// each degree that the line turns from [`TURN_MM`] before the tip to as much behind it, and at a line's end. Empirical, on 5801
/// heads of generated drawings: two thirds lie within 1.6 where it turns by less than 3, within 2.1 where by 10 to 15, within
/// 2.7 where by 15 to 25, and within 4.4 at ends; one in a hundred lies off by four times as much.
const WAY_SCALE_DEG: f64 = 0.85;
const WAY_SCALE_A_DEGREE: f64 = 0.042;
const WAY_SCALE_END_DEG: f64 = 2.7;
const TURN_MM: f64 = 4.0;
/// A tip this near to its line's end is at the end, mm.
const END_MM: f64 = 1.5;

/// Each arrow of a line.
pub fn of_line(region: &Region, line: &Traced) -> Vec<Judged> {
    if line.line.arrows.is_empty() {
        return Vec::new();
    }
    let steps = tangents(&line.points);
    line.line.arrows.iter().map(|a| judge(region, line, &steps, a)).collect()
}

fn judge(region: &Region, line: &Traced, steps: &[Vec2], arrow: &Arrow) -> Judged {
    let away = |i: &usize| (line.points[*i] - arrow.at).hypot2();
    let nearest = (0..line.points.len()).min_by(|a, b| away(a).total_cmp(&away(b))).unwrap_or(0);
    let b = region.field.b(arrow.at);
    let deep = |s: &super::region::Shape| {
        !s.outline.open && s.outline.contains(arrow.at) && s.outline.boundary_distance(arrow.at) > INSIDE_MM
    };
    let b = Vec2::new(b[0], b[1]);
    let from_across_deg = arrow.towards.dot(b).atan2(arrow.towards.cross(b).abs()).to_degrees();
    Judged {
        inside: region.outlines.iter().any(deep),
        in_coil: region.outlines.iter().any(|s| s.outline.open && s.outline.contains(arrow.at)),
        along: arrow.towards.dot(steps[nearest]) > 0.0,
        with_field: from_across_deg > 0.0,
        field_sure: logistic(from_across_deg.abs() / way_scale_deg(&line.points, nearest)),
    }
}

/// How well an arrow's way is read at this point of a line, the scale of a logistic distribution, degrees.
fn way_scale_deg(points: &[Point], at: usize) -> f64 {
    let k = (TURN_MM / STEP_MM) as usize;
    let (before, after) = (at.saturating_sub(k), (at + k).min(points.len() - 1));
    if ((at - before).min(after - at) as f64) * STEP_MM < END_MM {
        return WAY_SCALE_END_DEG;
    }
    WAY_SCALE_DEG
        + WAY_SCALE_A_DEGREE * turn_deg(points[at] - points[before], points[after] - points[at]).abs()
}

impl Judged {
    /// Whether it agrees, on a line with these ends.
    pub fn agrees(self, on: Option<[On; 2]>, turned: bool) -> bool {
        let right = match self.line_decides(on) {
            Some(forwards) => self.along == forwards,
            None => self.with_field,
        };
        self.inside || right != turned
    }

    /// That it is rightly said to agree, or not to, given that its way along the line is read rightly. `traced`: that the line
    /// is one, and has these ends; pieces of several lead elsewhere, and the field tells.
    pub fn sure(self, on: Option<[On; 2]>, traced: f64) -> f64 {
        match self.line_decides(on) {
            _ if self.inside => 1.0,
            None => self.field_sure,
            Some(forwards) => {
                let alike = (self.along == forwards) == self.with_field;
                let field = if alike { self.field_sure } else { 1.0 - self.field_sure };
                traced + (1.0 - traced) * field
            }
        }
    }

    /// Where its line leads, unless the field decides.
    fn line_decides(self, on: Option<[On; 2]>) -> Option<bool> {
        from_n_to_s(on).filter(|_| !self.in_coil)
    }
}

/// Whether a line leads from N to S, or from + to -, along its points (or against them); `None` where it leads elsewhere.
fn from_n_to_s(on: Option<[On; 2]>) -> Option<bool> {
    match on.map(|[a, b]| (a.sense(), b.sense())) {
        Some((1, -1)) => Some(true),
        Some((-1, 1)) => Some(false),
        _ => None,
    }
}

/// The three measures of one reading.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Arrows {
    pub shown: Option<f64>,
    pub wrong: f64,
    pub agree: Option<f64>,
}

/// Counts lines with arrows, and those whose every arrow agrees.
pub fn measure(each: &[Vec<Judged>], on: &[Option<[On; 2]>], reading: &Reading) -> Arrows {
    let (mut lines, mut arrowed, mut right) = (0u32, 0u32, 0u32);
    for (i, judged) in each.iter().enumerate().filter(|(i, _)| reading.lines[*i]) {
        let heads = || judged.iter().zip(&reading.heads[i]).filter(|(_, h)| **h != Head::Absent);
        lines += 1;
        if heads().next().is_some() {
            arrowed += 1;
            right += u32::from(heads().all(|(j, h)| j.agrees(on[i], *h == Head::Turned)));
        } else if reading.unseen[i] {
            // What was not seen is taken to be right: nobody is marked down for it.
            arrowed += 1;
            right += 1;
        }
    }
    let share = |a: u32, b: u32| (b > 0).then(|| f64::from(a) / f64::from(b));
    Arrows { shown: share(arrowed, lines), wrong: f64::from(arrowed - right), agree: share(right, arrowed) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::worksheet::Half;

    #[test]
    fn between_unlike_poles_the_line_decides_else_the_field() {
        let j = Judged { inside: false, in_coil: false, along: true, with_field: false, field_sure: 0.7 };
        let on = |a, b| Some([On::Source(0, a), On::Source(0, b)]);
        assert!(j.agrees(on(Half::N, Half::S), false));
        assert!(!j.agrees(on(Half::N, Half::S), true));
        assert!(!j.agrees(on(Half::S, Half::N), false));
        assert!(
            j.agrees(on(Half::Plus, Half::Minus), false) && !j.agrees(on(Half::Minus, Half::Plus), false)
        );
        assert!(!j.agrees(on(Half::Plus, Half::Plus), false) && !j.agrees(on(Half::None, Half::None), false));
        assert!(!j.agrees(on(Half::N, Half::Mid), false));
        assert!(!j.agrees(Some([On::Source(0, Half::N), On::Frame]), false));
        assert!(j.agrees(None, true));
        assert!(Judged { inside: true, ..j }.agrees(None, false));
        assert!(!Judged { in_coil: true, ..j }.agrees(on(Half::N, Half::S), false));
        assert_eq!((j.sure(on(Half::N, Half::S), 1.0), j.sure(None, 1.0)), (1.0, 0.7));
        // The line says that it agrees, the field that it does not.
        let in_pieces = j.sure(on(Half::N, Half::S), 0.3);
        assert!((in_pieces - (0.3 + 0.7 * 0.3)).abs() < 1e-12, "{in_pieces}");
    }

    #[test]
    fn an_arrows_way_is_read_worse_in_a_bend_and_at_an_end() {
        let level: Vec<Point> = (0..80).map(|k| Point::new(0.5 * f64::from(k), 0.0)).collect();
        // A ring of 10 mm radius turns by 23 degrees over 4 mm.
        let ring: Vec<Point> = (0..80)
            .map(|k| 0.05 * f64::from(k))
            .map(|t| Point::new(10.0 * t.cos(), 10.0 * t.sin()))
            .collect();
        let (straight, bent) = (way_scale_deg(&level, 40), way_scale_deg(&ring, 40));
        assert!((straight - WAY_SCALE_DEG).abs() < 1e-9 && (1.7..1.9).contains(&bent), "{straight} {bent}");
        assert_eq!(
            (way_scale_deg(&level, 2), way_scale_deg(&level, 79)),
            (WAY_SCALE_END_DEG, WAY_SCALE_END_DEG)
        );
    }
}
