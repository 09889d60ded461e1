//! A rubric for one student: criteria left out, limits widened.
//!
//! A wider tolerance `f` judges a value as kindly as any value that lies within a factor `f` of it, one way or the
//! other: for a limit such as at most 10 degrees this is a limit of `f` times 10. Limits themselves stay as they are, so
//! that it does not matter in which order and with which comparisons a rubric gives its bands, and a wider tolerance
//! never lowers a mark.

use super::judge::value;
use super::{Condition, Criterion, Part, Range, Rubric, SLACK};
use crate::measure::{Measure, PanelMeasures, Unit};

impl Rubric {
    /// Without the criteria with these ids.
    pub fn without(&self, ids: &[String]) -> Self {
        let criteria = self.criteria.iter().filter(|c| !ids.contains(&c.id)).cloned().collect();
        Self { criteria, ..self.clone() }
    }

    /// With limits `factor` times as wide: those in degrees and millimetres, what a ratio's are above 1, and those of shares
    /// and orders. Counts stay as they are: three crossings are three crossings. Limits on the total stay too.
    pub fn widened(&self, factor: f64) -> Self {
        let mut rubric = self.clone();
        for criterion in &mut rubric.criteria {
            criterion.tolerance = factor;
        }
        rubric
    }
}

impl Criterion {
    /// Whether its tolerance changes any of its limits.
    pub fn is_widened(&self) -> bool {
        let needs = self.needs.iter().map(|n| &n.condition);
        let conditions = needs.chain(self.caps.iter().flat_map(|c| &c.conditions));
        self.tolerance > 1.0
            && (conditions.flat_map(Condition::limits).any(moves)
                || self.parts.iter().flat_map(Part::limits).any(moves))
    }
}

impl Condition {
    fn limits(&self) -> impl Iterator<Item = (&'static Measure, f64)> {
        let measure = self.measure;
        self.range.limits().map(move |limit| (measure, limit)).collect::<Vec<_>>().into_iter()
    }

    /// The values within a factor of what was measured, lowest and highest; `None` where the measure is empty.
    fn near(&self, measures: &PanelMeasures, world: Option<usize>, factor: f64) -> Option<(f64, f64)> {
        let v = value(measures, self.measure.name, world)?;
        let (a, b) = (eased(v, self.measure.unit, factor), eased(v, self.measure.unit, 1.0 / factor));
        Some((a.min(b), a.max(b)))
    }

    /// Whether it holds for any value within a factor; `None` where its measure is empty.
    pub(super) fn may_hold(
        &self,
        measures: &PanelMeasures,
        world: Option<usize>,
        factor: f64,
    ) -> Option<bool> {
        self.near(measures, world, factor).map(|(low, high)| self.range.meets(low, high))
    }

    /// Whether it holds for every value within a factor; `None` where its measure is empty.
    pub(super) fn must_hold(
        &self,
        measures: &PanelMeasures,
        world: Option<usize>,
        factor: f64,
    ) -> Option<bool> {
        self.near(measures, world, factor).map(|(low, high)| self.range.holds(low) && self.range.holds(high))
    }
}

impl Part {
    /// Every limit and the measure that it is on.
    fn limits(&self) -> Vec<(&'static Measure, f64)> {
        let of_band = |band: &super::Band| {
            let own = self.measure.into_iter().flat_map(|m| band.range.limits().map(move |limit| (m, limit)));
            let others = band.all_of.iter().chain(&band.any_of).flat_map(Condition::limits);
            own.chain(others).collect::<Vec<_>>()
        };
        self.bands.iter().flat_map(of_band).collect()
    }

    /// The easings within a factor that may change what decides: those that bring a value onto a limit, and one between
    /// each two of them. None at all first, then the smaller before the larger.
    pub(super) fn easings(&self, measures: &PanelMeasures, world: Option<usize>, factor: f64) -> Vec<f64> {
        let within = |ease: &f64| ease.is_finite() && *ease > 1.0 / factor && *ease < factor;
        let onto = |(measure, limit): (&'static Measure, f64)| {
            let v = value(measures, measure.name, world)?;
            Some(easing_onto(v, limit, measure.unit)).filter(within)
        };
        let mut marks: Vec<f64> = self.limits().into_iter().filter_map(onto).collect();
        marks.extend([1.0 / factor, 1.0, factor]);
        marks.sort_by(f64::total_cmp);
        let between: Vec<f64> = marks.windows(2).map(|pair| (pair[0] * pair[1]).sqrt()).collect();
        marks.extend(between);
        let size = |ease: &f64| ease.ln().abs();
        marks.sort_by(|a, b| size(a).total_cmp(&size(b)).then(a.total_cmp(b)));
        marks
    }
}

impl Range {
    /// Whether it holds for any value between two.
    fn meets(&self, low: f64, high: f64) -> bool {
        self.at_least.is_none_or(|least| high >= least - SLACK)
            && self.at_most.is_none_or(|most| low <= most + SLACK)
            && self.above.is_none_or(|limit| high > limit)
            && self.below.is_none_or(|limit| low < limit)
    }
}

/// A value as it is judged where an easing above 1 makes it better: what is measured in degrees or millimetres, and
/// what a ratio is above 1, smaller; a share or order larger. Below 1, the other way.
pub(super) fn eased(value: f64, unit: Unit, ease: f64) -> f64 {
    match unit {
        Unit::Count => value,
        Unit::Degrees | Unit::Millimetres => value / ease,
        // What a ratio is above 1 is what is allowed.
        Unit::Ratio => 1.0 + (value - 1.0) / ease,
        // Below nought what is better lies nearer to nought.
        Unit::Share | Unit::Rank if value < 0.0 => value / ease,
        Unit::Share | Unit::Rank => value * ease,
    }
}

/// The easing that brings a value onto a limit; not finite or not above 0 where none does.
fn easing_onto(value: f64, limit: f64, unit: Unit) -> f64 {
    match unit {
        Unit::Count => f64::NAN,
        Unit::Degrees | Unit::Millimetres => value / limit,
        Unit::Ratio => (value - 1.0) / (limit - 1.0),
        Unit::Share | Unit::Rank if value < 0.0 => value / limit,
        Unit::Share | Unit::Rank => limit / value,
    }
}

/// Whether a tolerance moves a limit: not where it already lies at the end of what the measure can be.
fn moves((measure, limit): (&'static Measure, f64)) -> bool {
    match measure.unit {
        Unit::Count => false,
        Unit::Degrees | Unit::Millimetres => limit > 0.0 && limit < measure.range.1,
        Unit::Ratio => limit != 1.0 && limit < measure.range.1,
        Unit::Share | Unit::Rank => limit != 0.0 && limit > measure.range.0,
    }
}
