//! A rubric for one student: criteria left out, limits widened.

use super::{Criterion, Range, Rubric};
use crate::measure::{Measure, Unit};

impl Rubric {
    /// Without the criteria with these ids.
    pub fn without(&self, ids: &[String]) -> Self {
        let criteria = self.criteria.iter().filter(|c| !ids.contains(&c.id)).cloned().collect();
        Self { criteria, ..self.clone() }
    }

    /// With limits `factor` times as wide: those in degrees and millimetres, and what a ratio's are above 1, are multiplied;
    /// those of shares and orders, where more is better, divided. Counts stay as they are: three crossings are three crossings.
    pub fn widened(&self, factor: f64) -> Self {
        let mut rubric = self.clone();
        for criterion in &mut rubric.criteria {
            criterion.widen(factor);
        }
        rubric
    }
}

impl Criterion {
    fn widen(&mut self, factor: f64) {
        for need in &mut self.needs {
            need.condition.range.widen(need.condition.measure, factor);
        }
        for part in &mut self.parts {
            for band in &mut part.bands {
                if let Some(measure) = part.measure {
                    band.range.widen(measure, factor);
                }
                for condition in band.all_of.iter_mut().chain(&mut band.any_of) {
                    condition.range.widen(condition.measure, factor);
                }
            }
        }
        for condition in self.caps.iter_mut().flat_map(|c| &mut c.conditions) {
            condition.range.widen(condition.measure, factor);
        }
    }

    /// Whether a wider tolerance changes any of its limits.
    pub fn is_widened(&self, factor: f64) -> bool {
        let mut wide = self.clone();
        wide.widen(factor);
        let ranges = |c: &Criterion| {
            let needs = c.needs.iter().map(|n| n.condition.range);
            let bands = c.parts.iter().flat_map(|p| &p.bands);
            let bands = bands.flat_map(|b| {
                let conditions = b.all_of.iter().chain(&b.any_of).map(|c| c.range);
                std::iter::once(b.range).chain(conditions).collect::<Vec<_>>()
            });
            let caps = c.caps.iter().flat_map(|c| &c.conditions).map(|c| c.range);
            needs.chain(bands).chain(caps).collect::<Vec<Range>>()
        };
        ranges(self) != ranges(&wide)
    }
}

impl Range {
    fn widen(&mut self, measure: &Measure, factor: f64) {
        let (least, most) = measure.range;
        let wide = |limit: f64| match measure.unit {
            Unit::Count => limit,
            Unit::Degrees | Unit::Millimetres => (limit * factor).min(most),
            // What a ratio is above 1 is what is allowed.
            Unit::Ratio => (1.0 + (limit - 1.0) * factor).min(most),
            // Below nought a wider limit lies further below.
            Unit::Share | Unit::Rank if limit < 0.0 => (limit * factor).max(least),
            Unit::Share | Unit::Rank => limit / factor,
        };
        for limit in [&mut self.at_least, &mut self.at_most, &mut self.above, &mut self.below] {
            *limit = limit.map(wide);
        }
    }
}
