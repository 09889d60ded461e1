//! Where lines round straight wires start: at equal steps of flux.
//!
//! The field of endless wires and of a uniform background is the same in every plane of the paper, and its lines are where
//! the vector potential is constant. Lines at equal steps of it have equal flux between them, so that here, and
//! only here, density means strength exactly. Beside other sources the potential of the wires still spaces their rings.

use super::bodies::PanelField;
use crate::field::Shape;
use crate::geometry::{Point, Vec2, towards};

/// Rings begin this far from a wire's middle, mm: nearer they would run into its printed ring.
const CLEAR_MM: f64 = 4.0;
/// Spacing of the places between which a step of flux is looked for, mm.
const SPACING_MM: f64 = 0.5;
/// The frame is walked this far inside, mm, so that a start on it lies in it.
const INSIDE_MM: f64 = 0.01;

/// Levels are taken from the potential less this share: the step is often so that the strongest and the weakest place of
/// all lie on a level, and of two alike but for rounding one would else begin a line.
const LESS_BY: f64 = 1e-6;

/// Places in order with the potential there, mT mm.
pub(super) struct Walk(Vec<(Point, f64)>);

/// Whether the field is that of wires and a background alone.
pub(super) fn is_flat(field: &PanelField) -> bool {
    let bodies = &field.bodies().bodies;
    !bodies.is_empty() && bodies.iter().all(|b| matches!(b.shape, Shape::Wire(_)))
}

/// From each wire to the right, up, left and down as far as the frame; where the field is flat, round the frame too.
pub(super) fn walks(field: &PanelField) -> Vec<Walk> {
    let frame = field.frame();
    let mut walks = Vec::new();
    for body in field.bodies().bodies.iter().filter(|b| matches!(b.shape, Shape::Wire(_))) {
        let wire = Point::new(body.centre[0], -body.centre[1]);
        for deg in [0.0, 90.0, 180.0, 270.0] {
            let way = towards(deg);
            let room = [(frame.x0, frame.x1, wire.x, way.x), (frame.y0, frame.y1, wire.y, way.y)].map(
                |(low, high, at, step)| {
                    // Rounding leaves 1e-17 of the other axis.
                    if step > 0.5 {
                        high - at
                    } else if step < -0.5 {
                        at - low
                    } else {
                        f64::INFINITY
                    }
                },
            );
            let reach = room[0].min(room[1]) - INSIDE_MM;
            walks.push(Walk::along(field, wire + CLEAR_MM * way, way, reach - CLEAR_MM));
        }
    }
    if is_flat(field) {
        let f = frame.inset(-INSIDE_MM);
        for (from, way, length) in [
            (Point::new(f.x0, f.y0), Vec2::new(1., 0.), f.width()),
            (Point::new(f.x1, f.y0), Vec2::new(0., 1.), f.height()),
            (Point::new(f.x1, f.y1), Vec2::new(-1., 0.), f.width()),
            (Point::new(f.x0, f.y1), Vec2::new(0., -1.), f.height()),
        ] {
            walks.push(Walk::along(field, from, way, length));
        }
    }
    walks
}

/// The flux between the least and the greatest potential on the walks, mT mm.
pub(super) fn flux(walks: &[Walk]) -> f64 {
    let all = || walks.iter().flat_map(|w| &w.0).map(|(_, a)| *a);
    let range = all().fold(f64::NEG_INFINITY, f64::max) - all().fold(f64::INFINITY, f64::min);
    (range / (1.0 - LESS_BY)).max(0.0)
}

impl Walk {
    fn along(field: &PanelField, from: Point, way: Vec2, length: f64) -> Self {
        let pieces = (length / SPACING_MM).ceil();
        if !(pieces > 0.0 && pieces.is_finite()) {
            return Self(Vec::new());
        }
        let at = |i: usize| from + way * (length * i as f64 / pieces);
        // Other sources in the way: a place inside them is no start.
        let free = |p: &Point| field.outlines().iter().all(|o| !o.contains(*p));
        let places = (0..=pieces as usize).map(at).filter(free);
        Self(places.map(|p| (p, (1.0 - LESS_BY) * field.flat_potential(p))).collect())
    }

    /// The places where the potential is a whole number of steps and a half.
    pub(super) fn starts(&self, step: f64) -> Vec<Point> {
        let mut out = Vec::new();
        for pair in self.0.windows(2) {
            let ((p, a), (q, b)) = (pair[0], pair[1]);
            if (q - p).hypot() > 2.0 * SPACING_MM {
                continue;
            }
            let (low, high) = (a.min(b) / step - 0.5, a.max(b) / step - 0.5);
            let most = low.ceil() + super::answer::MOST_LINES as f64;
            let mut level = low.ceil();
            while level < high && level < most {
                let share = ((level + 0.5) * step - a) / (b - a);
                out.push(p.lerp(q, share));
                level += 1.0;
            }
        }
        out
    }
}
