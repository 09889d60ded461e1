//! One criterion in one reading of the ink: what decides, and what it earns.

use super::adjust::eased;
use super::{Band, Cap, Condition, Criterion, Given, Part, SLACK};
use crate::measure::{Measured, PanelMeasures};

/// What decided a mark.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Why {
    /// This need was not met.
    Need(usize),
    /// The measure of this need is empty.
    NeedEmpty(usize),
    /// This band of this part holds.
    Band(usize, usize),
    /// A measure of this part is empty.
    Empty(usize),
    /// No band of this part holds.
    NoBand(usize),
}

/// How a criterion came out in one reading.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Outcome {
    pub why: Why,
    /// The cap that bites, or that may.
    pub cap: Option<usize>,
    /// Before weighting; `None` where it cannot be judged.
    pub marks: Option<f64>,
}

/// Values as they were measured.
const NO_EASE: f64 = 1.0;

/// A measure's value in a reading (`None`: the likeliest).
pub(super) fn value(measures: &PanelMeasures, name: &str, world: Option<usize>) -> Option<f64> {
    let Measured { value, worlds, .. } = measures.get(name)?;
    match world {
        None => *value,
        Some(w) => worlds.get(w).copied().flatten(),
    }
}

impl Condition {
    /// Whether it holds; `None` where its measure is empty.
    pub(super) fn state(&self, measures: &PanelMeasures, world: Option<usize>) -> Option<bool> {
        self.eased(measures, world, NO_EASE)
    }

    fn eased(&self, measures: &PanelMeasures, world: Option<usize>, ease: f64) -> Option<bool> {
        let v = value(measures, self.measure.name, world)?;
        Some(self.range.holds(eased(v, self.measure.unit, ease)))
    }
}

/// Whether all hold: no, as soon as one does not; not known, where one is not known.
pub(super) fn all(states: impl Iterator<Item = Option<bool>>) -> Option<bool> {
    let mut known = true;
    for state in states {
        match state {
            Some(false) => return Some(false),
            Some(true) => {}
            None => known = false,
        }
    }
    known.then_some(true)
}

/// Whether any holds: yes, as soon as one does; not known, where one is not known.
fn any(states: impl Iterator<Item = Option<bool>>) -> Option<bool> {
    all(states.map(|state| state.map(|s| !s))).map(|s| !s)
}

impl Cap {
    /// Whether its conditions hold.
    pub(super) fn state(&self, measures: &PanelMeasures, world: Option<usize>) -> Option<bool> {
        self.surely(measures, world, NO_EASE)
    }

    /// Whether they hold for every value within a factor.
    fn surely(&self, measures: &PanelMeasures, world: Option<usize>, factor: f64) -> Option<bool> {
        all(self.conditions.iter().map(|c| c.must_hold(measures, world, factor)))
    }
}

impl Band {
    fn state(
        &self,
        own: Option<f64>,
        measures: &PanelMeasures,
        world: Option<usize>,
        ease: f64,
    ) -> Option<bool> {
        let own = own.map_or(Some(true), |v| Some(self.range.holds(v)));
        let all_of = all(self.all_of.iter().map(|c| c.eased(measures, world, ease)));
        let any_of = match self.any_of.as_slice() {
            [] => Some(true),
            some => any(some.iter().map(|c| c.eased(measures, world, ease))),
        };
        all([own, all_of, any_of].into_iter())
    }
}

impl Part {
    fn decide(&self, n: usize, measures: &PanelMeasures, world: Option<usize>, ease: f64) -> Why {
        let own = self.measure.map(|m| value(measures, m.name, world).map(|v| eased(v, m.unit, ease)));
        if own == Some(None) {
            return Why::Empty(n);
        }
        for (b, band) in self.bands.iter().enumerate() {
            match band.state(own.flatten(), measures, world, ease) {
                Some(true) => return Why::Band(n, b),
                Some(false) => {}
                None => return Why::Empty(n),
            }
        }
        Why::NoBand(n)
    }
}

impl Criterion {
    /// How many readings all the measures used have.
    pub(super) fn worlds(&self, measures: &PanelMeasures) -> usize {
        let names = self.measures().into_iter().map(|m| m.name);
        names.map(|name| measures.get(name).map_or(0, |m| m.worlds.len())).min().unwrap_or(0)
    }

    /// What decides the mark in one reading (`None`: the likeliest), and the mark: with a tolerance, the best of what
    /// may decide within it.
    pub(super) fn decide(&self, measures: &PanelMeasures, world: Option<usize>) -> Outcome {
        let mut ways = Vec::new();
        for (n, need) in self.needs.iter().enumerate() {
            match need.condition.state(measures, world) {
                None => ways.push(Why::NeedEmpty(n)),
                Some(false) => ways.push(Why::Need(n)),
                Some(true) => continue,
            }
            if need.condition.may_hold(measures, world, self.tolerance) != Some(true) {
                return self.outcome(&ways, measures, world);
            }
        }
        ways.push(self.lowest(measures, world));
        self.outcome(&ways, measures, world)
    }

    fn outcome(&self, ways: &[Why], measures: &PanelMeasures, world: Option<usize>) -> Outcome {
        let why = self.kindest(ways.iter().copied());
        let marks = self.given(why).map(|given| given.marks);
        self.capped(why, marks, measures, world)
    }

    /// Of several ways in which a tolerance lets a mark be decided the first of those with most marks; not to know comes
    /// before less than full marks.
    fn kindest(&self, ways: impl Iterator<Item = Why>) -> Why {
        let most = self.marks.max(0.0);
        let rank = |why: &Why| match self.given(*why).map(|g| g.marks) {
            Some(marks) if marks < most => marks,
            Some(_) => f64::INFINITY,
            None => most,
        };
        ways.reduce(|a, b| if rank(&b) > rank(&a) { b } else { a }).unwrap_or(Why::NoBand(0))
    }

    /// The part with the lowest mark; one that cannot be judged counts as lowest, unless another gives the
    /// least that there is.
    fn lowest(&self, measures: &PanelMeasures, world: Option<usize>) -> Why {
        let least = self.marks.min(0.0);
        let rank = |why: &Why| match self.given(*why).map(|g| g.marks) {
            Some(marks) if marks <= least => f64::NEG_INFINITY,
            Some(marks) => marks,
            None => least - 1.0,
        };
        let parts = self.parts.iter().enumerate().map(|(n, part)| {
            if self.tolerance <= NO_EASE {
                return part.decide(n, measures, world, NO_EASE);
            }
            let easings = part.easings(measures, world, self.tolerance).into_iter();
            self.kindest(easings.map(|ease| part.decide(n, measures, world, ease)))
        });
        parts.reduce(|a, b| if rank(&b) < rank(&a) { b } else { a }).unwrap_or(Why::NoBand(0))
    }

    fn capped(
        &self,
        why: Why,
        marks: Option<f64>,
        measures: &PanelMeasures,
        world: Option<usize>,
    ) -> Outcome {
        let mut outcome = Outcome { why, cap: None, marks };
        for (n, cap) in self.caps.iter().enumerate() {
            let Some(now) = outcome.marks.filter(|m| *m > cap.at_most + SLACK) else { continue };
            match cap.surely(measures, world, self.tolerance) {
                Some(true) => outcome = Outcome { why, cap: Some(n), marks: Some(cap.at_most.min(now)) },
                Some(false) => {}
                None => outcome = Outcome { why, cap: Some(n), marks: None },
            }
        }
        outcome
    }

    pub(super) fn given(&self, why: Why) -> Option<&Given> {
        match why {
            Why::Need(n) => self.needs.get(n).map(|need| &need.otherwise),
            Why::Band(p, b) => self.parts.get(p)?.bands.get(b).map(|band| &band.given),
            Why::Empty(p) => self.parts.get(p)?.if_empty.as_ref(),
            Why::NeedEmpty(_) | Why::NoBand(_) => None,
        }
    }

    /// The part that decided: the first where a need did.
    pub(super) fn part(&self, why: Why) -> Option<&Part> {
        match why {
            Why::Band(p, _) | Why::Empty(p) | Why::NoBand(p) => self.parts.get(p),
            Why::Need(_) | Why::NeedEmpty(_) => self.parts.first(),
        }
    }
}
