//! What candidates look like. For an arrowhead, seen along its line: the ink round its tip, turned so that it would
//! point right. For a meeting: the ink round the place and the two lines, turned so that they run from left to right.

use super::heads::{Head, Ruler};
use super::meets::Candidate;
use super::strokes::Stroke;
use crate::geometry::Vec2;
use crate::ink::{Bitmap, PanelInk};

/// Cells along the line and beside it, and the side of one, mm.
pub const ALONG: usize = 40;
pub const BESIDE: usize = 28;
pub const CELL_MM: f64 = 0.3;
/// Ink, ink that no line explains, print, how dark it is.
pub const LAYERS: usize = 4;
/// Cells ahead of the tip.
const AHEAD: usize = 15;
/// Places looked up along each side of a cell.
const LOOKS: usize = 2;

/// Layers of rows of cells, row by row from the left of the head's way to its right, each from behind to ahead; 0 to 1.
pub type View = [f32; LAYERS * BESIDE * ALONG];

/// The view of a candidate on the line of this ruler. `rest`: the ink that no line explains.
pub(super) fn of(ink: &PanelInk, rest: &Bitmap, ruler: &Ruler, head: &Head) -> View {
    let (tip_mm, way) = ruler.tip(&head.arrow).unwrap_or((0.0, 1.0));
    let mut out = [0.0; LAYERS * BESIDE * ALONG];
    let share = 1.0 / (LOOKS * LOOKS) as f32;
    let step = CELL_MM / LOOKS as f64;
    for a in 0..ALONG * LOOKS {
        let ahead = ((a as f64 + 0.5) / LOOKS as f64 - (ALONG - AHEAD) as f64) * CELL_MM;
        let (at, on) = ruler.place(tip_mm + way * ahead);
        let right = way * Vec2::new(-on.y, on.x);
        for b in 0..BESIDE * LOOKS {
            let beside = (b as f64 + 0.5 - 0.5 * (BESIDE * LOOKS) as f64) * step;
            let Some(i) = ink.index(at + beside * right) else { continue };
            let cell = (b / LOOKS) * ALONG + a / LOOKS;
            for (layer, picture) in [&ink.ink, rest, &*ink.print].into_iter().enumerate() {
                if picture.cells[i] != 0 {
                    out[layer * BESIDE * ALONG + cell] += share;
                }
            }
            out[(LAYERS - 1) * BESIDE * ALONG + cell] += share * ink.darkness(i);
        }
    }
    out
}

/// Cells of a place's side, and the side of one, mm.
pub const PLACE_SIDE: usize = 48;
pub const PLACE_CELL_MM: f64 = 0.25;
/// Ink, print, the one line's middle, the other's, how dark it is.
pub const PLACE_LAYERS: usize = 5;

/// Layers of rows of cells, as for a head; 0 to 1.
pub type PlaceView = [f32; PLACE_LAYERS * PLACE_SIDE * PLACE_SIDE];

/// The view of a place where two lines may meet.
pub(super) fn of_place(ink: &PanelInk, lines: &[Stroke], candidate: &Candidate) -> PlaceView {
    let (at, way) = (candidate.meeting.at, candidate.way);
    let right = Vec2::new(-way.y, way.x);
    let mut out = [0.0; PLACE_LAYERS * PLACE_SIDE * PLACE_SIDE];
    let layer = PLACE_SIDE * PLACE_SIDE;
    let share = 1.0 / (LOOKS * LOOKS) as f32;
    let middle = 0.5 * PLACE_SIDE as f64;
    for a in 0..PLACE_SIDE * LOOKS {
        for b in 0..PLACE_SIDE * LOOKS {
            let [along, beside] = [a, b].map(|k| ((k as f64 + 0.5) / LOOKS as f64 - middle) * PLACE_CELL_MM);
            let Some(i) = ink.index(at + along * way + beside * right) else { continue };
            let cell = (b / LOOKS) * PLACE_SIDE + a / LOOKS;
            for (k, picture) in [&ink.ink, &*ink.print].into_iter().enumerate() {
                if picture.cells[i] != 0 {
                    out[k * layer + cell] += share;
                }
            }
            out[(PLACE_LAYERS - 1) * layer + cell] += share * ink.darkness(i);
        }
    }
    let (first, second) = candidate.meeting.lines;
    for (k, line) in [(2, first), (3, second)] {
        for p in &lines[line].points {
            let off = *p - at;
            let [column, row] =
                [off.dot(way), off.dot(right)].map(|mm| (mm / PLACE_CELL_MM + middle).floor());
            let inside = |v: f64| (0.0..PLACE_SIDE as f64).contains(&v);
            if inside(column) && inside(row) {
                out[k * layer + row as usize * PLACE_SIDE + column as usize] = 1.0;
            }
        }
    }
    out
}
