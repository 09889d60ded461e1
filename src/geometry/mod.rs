//! Places and steps on the paper, in millimetres: x to the right, y down, from the page's top-left corner.
//!
//! [`Point`] is a place, [`Vec2`] a step (kurbo's types). Angles in degrees run anticlockwise as the
//! page is seen although y points down; only [`angle_deg`], [`towards`] and
//! [`turn_deg`] know that.
//!
//! - [`polyline`]: length, even spacing, nearest place on a line
//! - [`homography`]: the projective map between two planes from four or more pairs
//! - [`distance`]: how far apart two curves lie (Hausdorff, discrete Fréchet)

pub mod distance;
pub mod homography;
pub mod polyline;

pub use kurbo::{Point, Rect, Vec2};

/// The way a step points, in degrees, anticlockwise as seen on the page, 0 = to the right, in (-180, 180].
pub fn angle_deg(step: Vec2) -> f64 {
    (-step.y).atan2(step.x).to_degrees()
}

/// The turn from one step to another, degrees in [-180, 180], positive clockwise as seen on the page; 0 where a step has no
/// length.
pub fn turn_deg(from: Vec2, to: Vec2) -> f64 {
    from.cross(to).atan2(from.dot(to)).to_degrees()
}

/// The unit step that points `deg` degrees anticlockwise from rightwards, as seen on the page.
pub fn towards(deg: f64) -> Vec2 {
    let t = deg.to_radians();
    Vec2::new(t.cos(), -t.sin())
}
