//! The strength view: how strong the field along the paper is, in shades between round values, with a line at each.
//!
//! In steps of 1, 2, 5 or of 1, 3 or of tens where the field spans decades, else in equal steps. All panels of a sheet
//! that have one unit share their steps, so that they can be compared.

use super::contours::Grid;
use super::needles::{CASE_MM, Needle};
use crate::geometry::{Point, Vec2, polyline};
use crate::worksheet::PanelField;
use std::collections::VecDeque;

/// Spacing of the corners between which the lines of equal strength are drawn, mm: the straight pieces between do not
/// show.
const STEP_MM: f64 = 0.5;
/// Most steps: the shades of one more are still told apart by every eye (the palette's test).
const MOST_LEVELS: usize = 9;
/// Fewest steps in powers; below, equal steps tell more.
const FEWEST_LEVELS: usize = 4;
/// Shares of the places, from the weakest, between which the steps lie: the spots at neutral points, corners and wires
/// would else add decades that fill no area.
const WEAKEST_SHARE: f64 = 0.01;
const STRONGEST_SHARE: f64 = 0.985;
/// Below this factor between the strongest and the weakest nothing is stepped: the field is even.
const EVEN_FACTOR: f64 = 1.02;
/// Weaker than this counts as nothing, mT or kV/m.
const NOTHING: f64 = 1e-9;

/// Distance of a number on a line of equal strength from the frame, outlines, letters beside them and other numbers, mm.
const LABEL_CLEAR_MM: f64 = 7.0;
/// Distance of a number from the lines that are drawn, mm, where there is room; every third of their points, at most
/// 0.5 mm apart, is looked at.
const LABEL_OFF_LINE_MM: f64 = 3.4;
const LINE_POINTS: usize = 3;
/// Shortest line of equal strength that carries a number, mm.
const LABEL_FROM_MM: f64 = 24.0;
/// Spacing of the places that are tried for a number, mm.
const LABEL_STEP_MM: f64 = 2.0;
/// The line's way under a number is taken over this length to either side, mm.
const LABEL_WAY_MM: f64 = 2.5;

/// The strength of the in-plane field at the corners of a grid over a panel.
pub(super) struct Strength {
    grid: Grid,
    /// Strengths outside all outlines, ascending.
    outside: Vec<f64>,
}

/// A region where the field is at least so strong.
#[derive(Clone, Debug, PartialEq)]
pub struct Region {
    /// mT, or kV/m.
    pub level: f64,
    /// Its borders, to be filled by the even-odd rule.
    pub loops: Vec<Vec<Point>>,
}

/// A number on a line of equal strength.
#[derive(Clone, Debug, PartialEq)]
pub struct Label {
    pub level: f64,
    /// Its middle.
    pub at: Point,
    /// The way of the writing: rightwards.
    pub way: Vec2,
}

impl Strength {
    pub(super) fn of(field: &PanelField) -> Self {
        let mut grid = Grid::over(field.frame(), STEP_MM);
        let places = grid.places();
        let closed: Vec<_> = field.outlines().iter().filter(|o| !o.open).collect();
        let hidden: Vec<bool> = places.iter().map(|p| closed.iter().any(|o| o.contains(*p))).collect();
        let strength: Vec<f64> =
            field.b_many(&places).iter().map(|b| b[0].hypot(b[1]).max(NOTHING)).collect();
        let mut outside: Vec<f64> =
            strength.iter().zip(&hidden).filter(|(_, hidden)| !**hidden).map(|(v, _)| *v).collect();
        outside.sort_by(f64::total_cmp);
        // Crossings are sought on a logarithm: along a side of a cell it is nearly straight.
        grid.values = strength.iter().map(|v| v.ln()).collect();
        carry_in(&mut grid, &hidden);
        Self { grid, outside }
    }

    /// The region of each level, weakest first.
    pub(super) fn regions(&self, levels: &[f64]) -> Vec<Region> {
        levels.iter().map(|&level| Region { level, loops: self.grid.at_least(level.ln()) }).collect()
    }
}

/// Gives corners inside an outline the value of the nearest one outside, so that no line of equal strength runs along a
/// face, where the field jumps: what lies inside is covered by the source itself.
fn carry_in(grid: &mut Grid, hidden: &[bool]) {
    let columns = grid.columns;
    let mut known: Vec<bool> = hidden.iter().map(|h| !h).collect();
    let mut queue: VecDeque<usize> = (0..known.len()).filter(|k| known[*k]).collect();
    while let Some(k) = queue.pop_front() {
        let (i, j) = (k % columns, k / columns);
        let beside = [
            (i > 0).then(|| k - 1),
            (i + 1 < columns).then(|| k + 1),
            (j > 0).then(|| k - columns),
            (j + 1 < grid.rows).then(|| k + columns),
        ];
        for next in beside.into_iter().flatten().filter(|n| hidden[*n]) {
            if !known[next] {
                known[next] = true;
                grid.values[next] = grid.values[k];
                queue.push_back(next);
            }
        }
    }
}

/// Round values between which the field of these panels is shaded, ascending; none where it is even.
pub(super) fn levels(panels: &[&Strength]) -> Vec<f64> {
    let share = |of: &Strength, share: f64| {
        let last = of.outside.len().saturating_sub(1) as f64;
        of.outside.get((share * last).round() as usize).copied()
    };
    let ends = |at: f64| panels.iter().filter_map(move |p| share(p, at));
    let low = ends(WEAKEST_SHARE).fold(f64::INFINITY, f64::min);
    let high = ends(STRONGEST_SHARE).fold(0.0, f64::max);
    // Also where there is no place at all.
    if high.is_nan() || high < EVEN_FACTOR * low || high <= NOTHING {
        return Vec::new();
    }
    let series: [&[f64]; 3] = [&[1.0, 2.0, 5.0], &[1.0, 3.0], &[1.0]];
    let powers = |steps: &[f64]| -> Vec<f64> {
        let (first, last) = (low.log10().floor() as i32, high.log10().floor() as i32);
        let all = (first..=last).flat_map(|decade| steps.iter().map(move |step| round(*step, decade)));
        all.filter(|v| *v > low && *v < high).collect()
    };
    for steps in series {
        let found = powers(steps);
        if found.len() <= MOST_LEVELS {
            return if found.len() >= FEWEST_LEVELS { found } else { equal_steps(low, high) };
        }
    }
    // More decades than steps: the strongest ones.
    let all = powers(series[2]);
    all[all.len() - MOST_LEVELS..].to_vec()
}

/// `step` times ten to the `decade`, rounded as it is written.
fn round(step: f64, decade: i32) -> f64 {
    if decade < 0 { step / 10f64.powi(-decade) } else { step * 10f64.powi(decade) }
}

/// Multiples of 1, 2, 2.5 or 5 times a power of ten.
fn equal_steps(low: f64, high: f64) -> Vec<f64> {
    let decade = ((high - low) / MOST_LEVELS as f64).log10().floor() as i32;
    for (step, decade) in [(1.0, decade), (2.0, decade), (2.5, decade), (5.0, decade), (1.0, decade + 1)] {
        let (from, to) =
            ((low / round(step, decade)).ceil() as i64, (high / round(step, decade)).floor() as i64);
        if to - from < MOST_LEVELS as i64 {
            return (from..=to)
                .map(|n| round(step * n as f64, decade))
                .filter(|v| *v > low && *v < high)
                .collect();
        }
    }
    Vec::new()
}

/// One number for each region's longest border that has room for it, away from frame, outlines, `letters` (the middles of
/// those that stand beside their source) and other numbers, and off the lines and compasses that are drawn.
pub(super) fn labels(
    field: &PanelField,
    letters: &[Point],
    regions: &[Region],
    lines: &[Vec<Point>],
    needles: &[Needle],
) -> Vec<Label> {
    let drawn: Vec<Point> = lines.iter().flat_map(|line| line.iter().step_by(LINE_POINTS).copied()).collect();
    let on_line = |p: Point| {
        drawn.iter().any(|q| q.distance(p) < LABEL_OFF_LINE_MM)
            || needles.iter().any(|n| n.at.distance(p) < CASE_MM + LABEL_OFF_LINE_MM / 2.0)
    };
    let room = field.frame().inset(-LABEL_CLEAR_MM);
    let mut placed: Vec<Label> = Vec::new();
    for region in regions {
        let longest = region.loops.iter().map(|l| (polyline::length(l), l));
        let Some((length, line)) = longest.max_by(|a, b| a.0.total_cmp(&b.0)) else { continue };
        if length < LABEL_FROM_MM {
            continue;
        }
        let count = (length / LABEL_STEP_MM) as usize;
        let best = (0..count)
            .filter_map(|k| {
                let at = k as f64 * LABEL_STEP_MM;
                let p = polyline::point_at(line, at)?;
                let way = polyline::point_at(line, at + LABEL_WAY_MM)?
                    - polyline::point_at(line, at - LABEL_WAY_MM)?;
                let outlines = field.outlines().iter().map(|o| o.boundary_distance(p));
                let others = placed.iter().map(|l| &l.at).chain(letters).map(|at| at.distance(p));
                let clear = outlines.chain(others).fold(f64::INFINITY, f64::min);
                let inside = field.outlines().iter().any(|o| !o.open && o.contains(p));
                (room.contains(p) && clear > LABEL_CLEAR_MM && !inside && way.hypot() > LABEL_WAY_MM)
                    .then(|| (f64::from(u8::from(on_line(p))) + steepness(way), p, way))
            })
            .min_by(|a, b| a.0.total_cmp(&b.0));
        if let Some((_, at, way)) = best {
            let way = way / way.hypot();
            placed.push(Label { level: region.level, at, way: if way.x < 0.0 { -way } else { way } });
        }
    }
    placed
}

/// How far a way is from level, 0 to 1, in coarse steps: of places about as level the first is as good.
fn steepness(way: Vec2) -> f64 {
    (10.0 * (way.y / way.hypot()).abs()).round() / 10.0
}

/// A level as it is written.
pub fn written(level: f64) -> String {
    format!("{level}")
}

#[cfg(test)]
mod tests {
    use super::super::tests::{bar, panel, wire};
    use super::*;

    #[test]
    fn levels_are_round_and_few() {
        let of = |outside: Vec<f64>| Strength {
            grid: Grid::over(crate::geometry::Rect::new(0., 0., 1., 1.), 1.0),
            outside,
        };
        let spread = |low: f64, high: f64| {
            of((0..1000).map(|i| low * (high / low).powf(f64::from(i) / 999.0)).collect())
        };
        assert_eq!(levels(&[&spread(0.15, 31.0)]), [0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0]);
        assert_eq!(levels(&[&spread(0.0015, 31.0)]), [0.003, 0.01, 0.03, 0.1, 0.3, 1.0, 3.0, 10.0]);
        assert_eq!(levels(&[&spread(1.5, 3.1)]), [1.6, 1.8, 2.0, 2.2, 2.4, 2.6, 2.8, 3.0]);
        assert!(
            levels(&[&spread(1.0, 1.01)]).is_empty()
                && levels(&[&of(vec![])]).is_empty()
                && levels(&[]).is_empty()
        );
        assert!(levels(&[&spread(1e-9, 1e9)]).len() <= MOST_LEVELS);
        assert_eq!(levels(&[&spread(1.5, 3.1), &spread(0.15, 1.0)]), [0.2, 0.5, 1.0, 2.0]);
        assert_eq!(written(0.003), "0.003");
    }

    /// On the lines of equal strength the field is as strong as the scale says, by the plain form of the field.
    #[test]
    fn the_scale_is_the_field() {
        for panel in [panel(vec![bar(148.5, 115., 30.)]), panel(vec![wire(148.5, 115.)])] {
            let field = panel.field();
            let strength = Strength::of(&field);
            let levels = levels(&[&strength]);
            assert!(levels.len() >= FEWEST_LEVELS);
            let mut asked = 0;
            for region in strength.regions(&levels) {
                for p in region.loops.iter().flatten() {
                    let near = field.outlines().iter().any(|o| o.distance(*p) < 2.0 * STEP_MM);
                    // Along the frame a region ends though the field does not.
                    if near || !field.frame().inset(-0.01).contains(*p) {
                        continue;
                    }
                    let b = field.bodies().b_plain([p.x, -p.y, 0.0]);
                    let off = b[0].hypot(b[1]) / region.level;
                    assert!((off - 1.0).abs() < 0.02, "{off} of {} at {p:?}", region.level);
                    asked += 1;
                }
            }
            assert!(asked > 500, "{asked}");
        }
    }

    /// Flux density at r from a wire of 5 A is 2e-7 x 5 / r tesla (Feynman, Lectures II, 13-4): 0.05 mT at 20 mm.
    #[test]
    fn round_a_wire_the_lines_are_circles_at_the_textbooks_radii() {
        let panel = panel(vec![wire(148.5, 115.)]);
        let strength = Strength::of(&panel.field());
        let region = &strength.regions(&[0.05])[0];
        let centre = Point::new(148.5, 115.);
        assert!(region.loops[0].iter().all(|p| (p.distance(centre) - 20.0).abs() < 0.05));
    }

    #[test]
    fn numbers_stand_on_their_lines_apart_and_upright() {
        let field = panel(vec![bar(148.5, 115., 0.)]).field();
        let strength = Strength::of(&field);
        let found = labels(&field, &[], &strength.regions(&levels(&[&strength])), &[], &[]);
        assert!(found.len() >= 4, "{found:?}");
        for (i, label) in found.iter().enumerate() {
            let b = field.b(label.at);
            assert!((b[0].hypot(b[1]) / label.level - 1.0).abs() < 0.03 && label.way.x >= 0.0);
            assert!(found[..i].iter().all(|l| l.at.distance(label.at) > LABEL_CLEAR_MM));
        }
    }

    /// The number 50 once stood on the plus of a plate.
    #[test]
    fn numbers_keep_off_the_letters() {
        let field = panel(vec![bar(148.5, 115., 0.)]).field();
        let regions = Strength::of(&field).regions(&[1.0]);
        let [free] = labels(&field, &[], &regions, &[], &[]).try_into().unwrap();
        let [moved] = labels(&field, &[free.at], &regions, &[], &[]).try_into().unwrap();
        assert!(moved.at.distance(free.at) > LABEL_CLEAR_MM);
    }
}
