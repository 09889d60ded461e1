//! Checks of places on the sheet: frames in the printable area, magnets in their frame and apart.

use super::kinds::half_box_mm;
use super::{Kind, Outline, Source};
use crate::geometry::{Point, Rect};
use crate::problem::yaml::At;

/// Least distance of a frame from the page's left and right edges, mm: clear of the corner marks (discs of
/// 6 mm, 12 mm in) and of a copier's margin of 8 mm.
pub const FRAME_SIDE_MM: f64 = 18.0;
/// Smallest width and height of a frame, mm: below, no field pattern can be drawn by hand.
const LEAST_FRAME_MM: f64 = 40.0;
/// How near to its own mid-plane a disc magnetised through counts as cut in it, mm.
const MID_PLANE_MM: f64 = 0.5;

/// The frame that four numbers mean, if it lies on the page and clear of its sides. How near to the page's top and bottom
/// it may come hangs on what is printed there, which `print::layout::check` knows.
pub(super) fn frame(at: &At, page_mm: Option<(f64, f64)>) -> Option<Rect> {
    let [left, top, width, height] = at.numbers::<4>("left, top, width, height")?;
    if width < LEAST_FRAME_MM || height < LEAST_FRAME_MM {
        let fix = format!("write at least {LEAST_FRAME_MM} mm for width and height");
        at.problem(format!("a frame of {width} x {height} mm is too small to draw in"), fix);
        return None;
    }
    let (page_width, page_height) = page_mm?;
    let right = page_width - FRAME_SIDE_MM;
    // A hair for sums such as 20 + 239.4.
    const HAIR_MM: f64 = 1e-6;
    let inside = left >= FRAME_SIDE_MM - HAIR_MM
        && top >= 0.0
        && left + width <= right + HAIR_MM
        && top + height <= page_height + HAIR_MM;
    if !inside {
        let fix = format!(
            "keep left at {FRAME_SIDE_MM} or more, left + width at {right:.1} or less, and top and top + height on the page"
        );
        at.problem(
            format!("the frame leaves the printable area of the {page_width} x {page_height} mm page"),
            fix,
        );
        return None;
    }
    Some(Rect::new(left, top, left + width, top + height))
}

/// What a panel's sources must keep: own ids, inside the frame, apart, something to see in the paper's plane.
pub(super) fn sources(placed: &[(&At, &Source)], frame: Option<Rect>, plane_mm: Option<f64>) {
    for (n, (at, source)) in placed.iter().enumerate() {
        let before = &placed[..n];
        if before.iter().any(|(_, other)| other.id == source.id) {
            at.problem(format!("another source is called {}", source.id), "give each its own id");
        }
        if let Some(frame) = frame {
            inside(at, source, frame);
        }
        for (_, other) in before.iter().filter(|(_, other)| overlap(source, other)) {
            at.problem(format!("{} overlaps {}", source.id, other.id), "move one of the two");
        }
        // Told once a panel.
        let electric = |s: &Source| s.kind.is_electric();
        if let Some((_, first)) = before.first()
            && electric(first) != electric(source)
            && before.iter().all(|(_, other)| electric(other) == electric(first))
        {
            let (e, m) = if electric(source) { (*source, *first) } else { (*first, *source) };
            at.problem(
                format!("{} makes an electric field and {} a magnetic one", e.id, m.id),
                "give each a panel of its own",
            );
        }
        if matches!(source.kind, Kind::DiscThrough { .. }) && plane_mm.is_some_and(|p| p.abs() < MID_PLANE_MM)
        {
            at.problem(
                "in the mid-plane of a disc magnetised through, the field is at right angles to the paper",
                "give the panel a plane_mm, or leave out through: to magnetise the disc across",
            );
        }
    }
}

fn inside(at: &At, source: &Source, frame: Rect) {
    let (half_width, half_height) = half_box_mm(source);
    let c = source.centre;
    let fits = c.x - half_width >= frame.x0
        && c.x + half_width <= frame.x1
        && c.y - half_height >= frame.y0
        && c.y + half_height <= frame.y1;
    if !fits {
        let fix = format!(
            "keep its centre {half_width:.1} mm or more from the frame's left and right, {half_height:.1} mm from its \
             top and bottom"
        );
        at.problem(format!("{} sticks out of the frame", source.id), fix);
    }
}

/// Outlines that share no more than this touch, mm.
const TOUCH_MM: f64 = 0.05;

/// Whether two outlines share a place: two sides cross, or one has a corner in the other. Corners are drawn in a little, so
/// that outlines on one line count which share more than their rims.
fn overlap(a: &Source, b: &Source) -> bool {
    let (a, b) = (a.outline(), b.outline());
    let apart = a.bounds().intersect(b.bounds()).is_zero_area();
    let holds = |of: &Outline, corners: &Outline| {
        let middle = corners.bounds().center();
        let drawn_in = |p: &Point| *p + (middle - *p) * (TOUCH_MM / (middle - *p).hypot().max(TOUCH_MM));
        corners.polygon.iter().any(|p| of.contains(drawn_in(p)))
    };
    !apart
        && (holds(&b, &a)
            || holds(&a, &b)
            || a.sides().any(|(p, q)| b.sides().any(|(r, s)| cross(p, q, r, s))))
}

fn cross(p: Point, q: Point, r: Point, s: Point) -> bool {
    let side = |a: Point, b: Point, c: Point| (b - a).cross(c - a);
    side(p, q, r) * side(p, q, s) < 0.0 && side(r, s, p) * side(r, s, q) < 0.0
}
