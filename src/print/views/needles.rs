//! The needle view: small plotting compasses on a grid, each along the field.

use crate::geometry::{Point, Vec2};
use crate::worksheet::PanelField;

/// Distance of two compasses, mm.
pub(super) const PITCH_MM: f64 = 12.0;
/// Radius of a compass's case, mm.
pub(super) const CASE_MM: f64 = 4.2;
/// Half the length of a needle and half its width at the pivot, mm.
const HALF_LENGTH_MM: f64 = 3.4;
const HALF_WIDTH_MM: f64 = 0.95;
/// Paper between a case and an outline or the frame, mm.
const CLEAR_MM: f64 = 0.8;

/// A compass.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Needle {
    /// Its pivot.
    pub at: Point,
    /// The way its N end points: a unit step.
    pub way: Vec2,
}

impl Needle {
    /// The half that ends in N (`true`) or in S: tip and the two corners beside the pivot.
    pub(super) fn half(&self, north: bool) -> [Point; 3] {
        let tip = self.way * if north { HALF_LENGTH_MM } else { -HALF_LENGTH_MM };
        let across = Vec2::new(-self.way.y, self.way.x) * HALF_WIDTH_MM;
        [self.at + tip, self.at + across, self.at - across]
    }
}

/// The compasses of a panel, row by row. The grid has a point in the middle of the frame, so that mirror images stay mirror
/// images; left out are those that would lie on an outline, across the frame or on a neutral point.
pub(super) fn needles(field: &PanelField) -> Vec<Needle> {
    let frame = field.frame();
    let room = frame.inset(-(CASE_MM + CLEAR_MM));
    let reach = |side: f64| (side / 2.0 / PITCH_MM).floor() as i32;
    let (across, down) = (reach(frame.width()), reach(frame.height()));
    let at = |i: i32, j: i32| frame.center() + PITCH_MM * Vec2::new(f64::from(i), f64::from(j));
    let free = |p: &Point| {
        room.contains(*p)
            && field.neutral_points().iter().all(|n| n.distance(*p) > CASE_MM)
            && field.outlines().iter().all(|o| {
                let inside = !o.open && o.contains(*p);
                !inside && o.boundary_distance(*p) > CASE_MM + CLEAR_MM
            })
    };
    let places: Vec<Point> =
        (-down..=down).flat_map(|j| (-across..=across).map(move |i| at(i, j))).filter(free).collect();
    let ways = field.direction_many(&places);
    places
        .into_iter()
        .zip(ways)
        .filter(|(_, way)| *way != Vec2::ZERO)
        .map(|(at, way)| Needle { at, way })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::super::tests::{bar, panel};
    use super::*;

    /// Off the N end of a bar a needle points away from it, off its S end towards it, beside it the other way (any textbook);
    /// and everywhere along the plain form of the field.
    #[test]
    fn needles_point_along_the_field() {
        let field = panel(vec![bar(148.5, 115., 0.)]).field();
        let all = needles(&field);
        assert!(all.len() > 100);
        for needle in &all {
            let b = field.bodies().b_plain([needle.at.x, -needle.at.y, 0.0]);
            let b = Vec2::new(b[0], -b[1]);
            assert!(needle.way.dot(b) > (1.0 - 1e-9) * b.hypot());
            let [tip, ..] = needle.half(true);
            assert!(
                ((tip - needle.at).hypot() - HALF_LENGTH_MM).abs() < 1e-9 && (tip - needle.at).dot(b) > 0.0
            );
        }
        let near = |x: f64, y: f64| {
            let p = Point::new(x, y);
            all.iter().min_by(|a, b| a.at.distance(p).total_cmp(&b.at.distance(p))).unwrap()
        };
        assert!(
            near(190., 115.).way.x > 0.9 && near(105., 115.).way.x > 0.9 && near(148.5, 139.).way.x < -0.9
        );
    }

    #[test]
    fn needles_keep_off_magnets_frame_and_neutral_points() {
        let field = panel(vec![bar(88.5, 115., 0.), bar(208.5, 115., 180.)]).field();
        let neutral = field.neutral_points()[0];
        let all = needles(&field);
        for n in &all {
            assert!(
                field.outlines().iter().all(|o| o.distance(n.at) > CASE_MM)
                    && n.at.distance(neutral) > CASE_MM
            );
            assert!(field.frame().inset(-CASE_MM).contains(n.at));
            assert!(
                all.iter().any(|m| m.at.distance(Point::new(297. - n.at.x, n.at.y)) < 1e-9),
                "no mirror image"
            );
        }
    }
}
