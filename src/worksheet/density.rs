//! How far the density of computed lines means strength in the flat cut: gap times flux density, which would be the
//! same everywhere if it did.

use super::answer::FieldLine;
use super::bodies::PanelField;
use crate::geometry::{Point, Rect, polyline};

/// Spacing of the places along a line, mm.
const SPACING_MM: f64 = 4.0;
/// Places nearer to a source are left out, mm: there lines begin, and no pencil can part them.
const OFF_SOURCE_MM: f64 = 3.0;
/// Places nearer to a neutral point are left out, mm: there is no field to compare, and lines end there.
const OFF_NEUTRAL_MM: f64 = 2.0;
/// Narrower gaps are none, mm: the two lines are one stroke.
const NARROWEST_MM: f64 = 0.5;
/// Wider gaps have no neighbour, mm (as in spacing.widen).
const WIDEST_MM: f64 = 40.0;
/// Segments of a line that are passed over together when none of them can be near.
const RUN: usize = 32;

/// How far density is off strength.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Density {
    /// Greatest factor between a place's gap times field and the median of all, 1 or more.
    pub worst_factor: f64,
    /// Where.
    pub worst_at: Point,
    /// Half of the places lie within this factor.
    pub median_factor: f64,
}

/// Compares the gap to the nearest other line with the in-plane field, every 4 mm along every line. `None` where there are
/// fewer than two lines beside each other.
pub fn against_strength(field: &PanelField, lines: &[FieldLine]) -> Option<Density> {
    let others: Vec<Runs> = lines.iter().map(|l| Runs::of(&l.points)).collect();
    let mut places: Vec<(Point, f64)> = Vec::new();
    for (i, line) in lines.iter().enumerate() {
        for p in polyline::resample(&line.points, SPACING_MM) {
            let clear = field.outlines().iter().all(|o| o.distance(p) > OFF_SOURCE_MM)
                && field.all_neutral_points().iter().all(|q| q.distance(p) > OFF_NEUTRAL_MM);
            if !clear || !field.frame().contains(p) {
                continue;
            }
            let rest = others.iter().enumerate().filter(|(j, _)| *j != i);
            let gap = rest.fold(WIDEST_MM, |best, (_, runs)| runs.nearer(p, best));
            let b = field.b(p);
            if (NARROWEST_MM..WIDEST_MM).contains(&gap) {
                places.push((p, gap * b[0].hypot(b[1])));
            }
        }
    }
    let mut products: Vec<f64> = places.iter().map(|(_, v)| *v).collect();
    let median = middle(&mut products)?;
    let factor = |v: f64| if v > median { v / median } else { median / v };
    let mut factors: Vec<f64> = places.iter().map(|(_, v)| factor(*v)).filter(|f| f.is_finite()).collect();
    let worst = places
        .iter()
        .filter(|(_, v)| factor(*v).is_finite())
        .max_by(|a, b| factor(a.1).total_cmp(&factor(b.1)))?;
    Some(Density { worst_factor: factor(worst.1), worst_at: worst.0, median_factor: middle(&mut factors)? })
}

fn middle(values: &mut [f64]) -> Option<f64> {
    let half = values.len() / 2;
    (!values.is_empty()).then(|| *values.select_nth_unstable_by(half, f64::total_cmp).1)
}

/// A line in runs, each with the box round it.
struct Runs<'a>(Vec<(&'a [Point], Rect)>);

impl<'a> Runs<'a> {
    fn of(line: &'a [Point]) -> Self {
        let pieces = line.len().saturating_sub(1);
        let run = |from: usize| {
            let points = &line[from..(from + RUN + 1).min(line.len())];
            let first = Rect::from_points(points[0], points[0]);
            (points, points.iter().fold(first, |r, p| r.union_pt(*p)))
        };
        Self((0..pieces).step_by(RUN).map(run).collect())
    }

    /// The distance of a place from the line if it is less than `best`, else `best`.
    fn nearer(&self, p: Point, best: f64) -> f64 {
        self.0.iter().fold(best, |best, (points, around)| {
            let dx = (around.x0 - p.x).max(p.x - around.x1).max(0.0);
            let dy = (around.y0 - p.y).max(p.y - around.y1).max(0.0);
            if dx.hypot(dy) >= best { best } else { polyline::distance(p, points).min(best) }
        })
    }
}

#[cfg(test)]
mod tests {
    use super::super::answer::field_lines;
    use super::super::{Kind, Panel, Source};
    use super::*;

    fn panel(kind: Kind) -> Panel {
        let source = Source { id: "aa".into(), kind, centre: Point::new(148.5, 115.), north_deg: 0. };
        let frame = Rect::new(20., 45., 277., 185.);
        Panel {
            id: "A".into(),
            prompt: String::new(),
            frame,
            plane_mm: 0.,
            sources: vec![source],
            earth: None,
        }
    }

    fn density(kind: Kind) -> Density {
        let panel = panel(kind);
        let field = panel.field();
        against_strength(&field, &field_lines(&panel, &field, 40)).unwrap()
    }

    /// Rings at radii r q^k: the nearest gap is the inner one, r (1 - 1/q), and the field goes as 1/r; only the innermost,
    /// whose nearest is outside, differs, by q.
    #[test]
    fn round_a_wire_density_is_strength() {
        let wire = density(Kind::Wire { current_a: 5., out: true });
        assert!(wire.worst_factor < 1.3 && wire.median_factor < 1.02, "{wire:?}");
    }

    #[test]
    fn in_a_flat_cut_it_is_not() {
        let bar = Kind::Bar { length: 50., width: 15., thickness: 10., remanence_mt: 400., pole_inset: 0. };
        let bar = density(bar);
        assert!(bar.worst_factor > 3.0 && bar.median_factor > 1.2, "{bar:?}");
    }

    /// Once lines that end on a neutral point, and two that run into one stroke, gave factors of 1e15 and 68405.
    #[test]
    fn beside_neutral_points_and_within_a_stroke_nothing_is_compared() {
        for name in ["unequal-bars", "bars-parallel", "like-poles", "three-bars"] {
            let text = crate::class::arrangements::find(name).unwrap().worksheet;
            let sheet = super::super::Worksheet::parse(name.as_ref(), text).unwrap();
            let (panel, field) = (&sheet.panels[0], sheet.panels[0].field());
            for count in [8, 20, 40] {
                let found = against_strength(&field, &field_lines(panel, &field, count)).unwrap();
                assert!(found.worst_factor < 300.0, "{name}, {count} lines: {found:?}");
                let clear = |q: &Point| q.distance(found.worst_at) > OFF_NEUTRAL_MM;
                assert!(field.neutral_points().iter().all(clear), "{name}, {count} lines: {found:?}");
            }
        }
    }

    #[test]
    fn a_lone_line_has_no_density() {
        let panel = panel(Kind::Charge { charge_nc: 1. });
        let field = panel.field();
        let line = field_lines(&panel, &field, 8).remove(0);
        assert_eq!(against_strength(&field, &[line]), None);
        assert_eq!(against_strength(&field, &[]), None);
    }
}
