//! Checks of bands against what a measure can be: every value has a band, every band has a value.

use super::Band;
use crate::measure::{Measure, Unit};
use crate::problem::yaml::At;

/// Whether a limit is a value that the measure can take; records a problem where not.
pub(super) fn limit(at: &At, value: f64, measure: &Measure) -> bool {
    let (least, most) = measure.range;
    if value >= least && value <= most {
        return true;
    }
    let range = if most.is_finite() { format!("{least} to {most}") } else { format!("{least} or more") };
    let what = format!("{value} is no value of {}, which is {}", measure.name, measure.unit.words());
    at.problem(what, format!("write {range}"));
    false
}

/// Records a problem where some value meets no band, and for each band that no value reaches.
pub(super) fn bands(at: &At, items: &[At], bands: &[Band], measure: &Measure) {
    let values = telling_values(bands, measure);
    let first = |value: &f64| bands.iter().position(|band| band.range.holds(*value));
    if let Some(value) = values.iter().find(|value| first(value).is_none()) {
        let fix = "end the bands with { otherwise: true, marks: ..., say: ... }";
        at.problem(format!("no band holds for a value such as {value}"), fix);
    }
    for (n, item) in items.iter().enumerate().take(bands.len()) {
        if !values.iter().any(|value| first(value) == Some(n)) {
            item.problem("no value reaches this band", "put the narrower band first, or mend its limits");
        }
    }
}

/// As [`bands`], where bands combine several measures: the last must be `otherwise`, and nothing may follow one.
pub(super) fn combined(at: &At, items: &[At], bands: &[Band]) {
    let open = |band: &Band| band.range.is_open() && band.all_of.is_empty() && band.any_of.is_empty();
    if !bands.last().is_some_and(open) {
        let fix = "end the bands with { otherwise: true, marks: ..., say: ... }";
        at.problem("bands that combine measures do not meet every value", fix);
    }
    if let Some(first) = bands.iter().position(open) {
        for item in items.iter().take(bands.len()).skip(first + 1) {
            item.problem("no value reaches this band", "put otherwise last");
        }
    }
}

/// Values of a measure, one at least on every stretch between the bands' limits and one on each limit.
fn telling_values(bands: &[Band], measure: &Measure) -> Vec<f64> {
    let (least, most) = measure.range;
    let mut marks: Vec<f64> = bands.iter().flat_map(|band| band.range.limits()).collect();
    let greatest = marks.iter().copied().fold(least, f64::max);
    marks.push(least);
    marks.push(if most.is_finite() { most } else { greatest + 2.0 });
    marks.sort_by(f64::total_cmp);
    marks.dedup();
    if measure.unit == Unit::Count {
        let near = marks.iter().flat_map(|m| [m.floor() - 1.0, m.floor(), m.ceil(), m.ceil() + 1.0]);
        let mut whole: Vec<f64> = near.filter(|v| *v >= least && *v <= most).collect();
        whole.sort_by(f64::total_cmp);
        whole.dedup();
        return whole;
    }
    let between: Vec<f64> = marks.windows(2).map(|pair| (pair[0] + pair[1]) / 2.0).collect();
    marks.extend(between);
    marks.sort_by(f64::total_cmp);
    marks
}
