//! The in-plane field on a fine grid over a panel, for pictures that ask for it at every dot several times over.
//!
//! Between corners the field is taken linearly, which also holds at neutral points. Where an outline runs through a cell
//! the field may jump: there it is asked for exactly.

use crate::geometry::{Point, Rect, Vec2};
use crate::worksheet::PanelField;
use rayon::prelude::*;

/// Spacing of the corners, mm: a fifth of the shortest grain.
const STEP_MM: f64 = 0.2;
/// The first corner lies so far outside the frame, mm: no row of corners then runs along the side of an outline that lies
/// at round millimetres.
const BEFORE_MM: [f64; 2] = [0.0937, 0.0871];
/// Of so many corners one is taken to tell how strong the field is over the panel.
const ONE_IN: usize = 7;
/// Shares of the places between which strength is told, from the weakest.
const WEAKEST_SHARE: f64 = 0.02;
const STRONGEST_SHARE: f64 = 0.985;
/// Factor between weakest and strongest below which a field is nearly even and shown as such.
const LEAST_FACTOR: f64 = 4.0;
/// Weaker than this counts as nothing, mT or kV/m.
const NOTHING: f64 = 1e-12;

#[derive(Clone, Copy, PartialEq, Eq)]
enum Cell {
    /// Outside all outlines.
    Clear,
    /// Inside one.
    Inside,
    /// An outline runs through.
    Edge,
}

/// The field of a panel, ready to be asked for often.
pub(super) struct Lattice<'a> {
    field: &'a PanelField,
    frame: Rect,
    first: Point,
    columns: usize,
    b: Vec<[f32; 2]>,
    cells: Vec<Cell>,
    /// Logarithms of the strengths that count as weakest and strongest.
    ends: [f64; 2],
}

impl<'a> Lattice<'a> {
    pub(super) fn of(field: &'a PanelField) -> Self {
        let frame = field.frame();
        let first = frame.origin() - Vec2::from((BEFORE_MM[0], BEFORE_MM[1]));
        // One more for what lies before the frame, and one to close the last cell.
        let corners = |side: f64| (side / STEP_MM).ceil() as usize + 2;
        let (columns, rows) = (corners(frame.width()), corners(frame.height()));
        let place = |i: usize, j: usize| first + STEP_MM * Vec2::new(i as f64, j as f64);
        let all: Vec<(Vec<[f32; 2]>, Vec<u32>)> = (0..rows)
            .into_par_iter()
            .map(|j| {
                let places: Vec<Point> = (0..columns).map(|i| place(i, j)).collect();
                let b = field.b_many(&places).iter().map(|b| [b[0] as f32, b[1] as f32]).collect();
                (b, places.iter().map(|p| inside(field, *p)).collect())
            })
            .collect();
        let (b, within): (Vec<_>, Vec<_>) = all.into_iter().unzip();
        let (b, within): (Vec<[f32; 2]>, Vec<u32>) = (b.concat(), within.concat());
        let closed = closed_mask(field);
        let cell = |k: usize| {
            let (i, j) = (k % columns, k / columns);
            if i + 1 == columns || j + 1 == rows {
                return Cell::Edge;
            }
            let corners = [k, k + 1, k + columns, k + columns + 1].map(|k| within[k]);
            match corners[0] {
                first if corners.iter().any(|c| *c != first) => Cell::Edge,
                first if first & closed != 0 => Cell::Inside,
                _ => Cell::Clear,
            }
        };
        let cells = (0..b.len()).map(cell).collect();
        let outside = b.iter().zip(&within).filter(|(_, within)| **within & closed == 0).step_by(ONE_IN);
        let ends = ends(outside.map(|(b, _)| f64::from(b[0]).hypot(f64::from(b[1]))).collect());
        Self { field, frame, first, columns, b, cells, ends }
    }

    pub(super) fn frame(&self) -> Rect {
        self.frame
    }

    /// The in-plane field; none inside an outline, outside the frame, or where there is no field.
    #[inline]
    pub(super) fn b(&self, p: Point) -> Option<Vec2> {
        if !self.frame.contains(p) {
            return None;
        }
        let (u, v) = ((p.x - self.first.x) / STEP_MM, (p.y - self.first.y) / STEP_MM);
        let (i, j) = (u as usize, v as usize);
        let k = j * self.columns + i;
        let b = match self.cells[k] {
            Cell::Inside => return None,
            Cell::Clear => {
                let (s, t) = (u - i as f64, v - j as f64);
                let corner = |k: usize| Vec2::new(f64::from(self.b[k][0]), f64::from(self.b[k][1]));
                let above = corner(k).lerp(corner(k + 1), s);
                above.lerp(corner(k + self.columns).lerp(corner(k + self.columns + 1), s), t)
            }
            Cell::Edge => {
                if inside(self.field, p) & closed_mask(self.field) != 0 {
                    return None;
                }
                let b = self.field.b(p);
                Vec2::new(b[0], b[1])
            }
        };
        (b.hypot2() > NOTHING * NOTHING).then_some(b)
    }

    /// How strong a field is among all of the panel, 0 to 1, by its logarithm.
    pub(super) fn strength(&self, b: Vec2) -> f64 {
        let [low, high] = self.ends;
        ((b.hypot().ln() - low) / (high - low)).clamp(0.0, 1.0)
    }
}

/// A bit for each outline that a place lies inside.
fn inside(field: &PanelField, p: Point) -> u32 {
    field.outlines().iter().enumerate().filter(|(_, o)| o.contains(p)).map(|(n, _)| 1 << n).sum()
}

/// The bits of the outlines that nothing is shown inside.
fn closed_mask(field: &PanelField) -> u32 {
    field.outlines().iter().enumerate().filter(|(_, o)| !o.open).map(|(n, _)| 1 << n).sum()
}

/// The logarithms of the weakest and the strongest, at least [`LEAST_FACTOR`] apart.
fn ends(mut strengths: Vec<f64>) -> [f64; 2] {
    if strengths.is_empty() {
        return [0.0, LEAST_FACTOR.ln()];
    }
    strengths.sort_by(f64::total_cmp);
    let at =
        |share: f64| strengths[(share * (strengths.len() - 1) as f64).round() as usize].max(NOTHING).ln();
    let (low, high) = (at(WEAKEST_SHARE), at(STRONGEST_SHARE));
    let lacking = (LEAST_FACTOR.ln() - (high - low)).max(0.0);
    [low - lacking / 2.0, high + lacking / 2.0]
}

#[cfg(test)]
mod tests {
    use super::super::tests::{bar, coil, panel};
    use super::*;

    #[test]
    fn the_lattice_is_the_field_and_empty_inside_outlines() {
        for panel in [panel(vec![bar(148.5, 115., 20.)]), panel(vec![coil(148.5, 115.)])] {
            let field = panel.field();
            let lattice = Lattice::of(&field);
            for n in 0..4000 {
                let p = Point::new(
                    20.0 + f64::from(n * 37 % 2570) / 10.0,
                    45.0 + f64::from(n * 53 % 1400) / 10.0,
                );
                let hidden = field.outlines().iter().any(|o| !o.open && o.contains(p));
                assert_eq!(lattice.b(p).is_none(), hidden, "{p:?}");
                if let Some(b) = lattice.b(p) {
                    let exact = field.b(p);
                    let far = (b - Vec2::new(exact[0], exact[1])).hypot() / exact[0].hypot(exact[1]);
                    assert!(far < 0.02, "{far} at {p:?}");
                }
            }
            assert_eq!(lattice.b(Point::new(10., 10.)), None);
        }
    }
}
