//! rubric.yaml and measures to marks and words. Knows no image, and no file but rubrics.
//!
//! A [`Rubric`] is read and checked by [`Rubric::load`] and marks a page by [`Rubric::mark`]: every
//! criterion is judged in each reading that the ink may stand for (the worlds of
//! [`Measured`](crate::measure::Measured)); the mark given is the most frequent one, its chance is the
//! share of readings that give it. Combinations, caps, totals and grades are worked out reading by reading
//! too, so that their chance is as honest as that of a single measure. How often they come true: docs/figures.md.
//!
//! - [`parse`](self): `chain` (files that extend one another), `parse` (a rubric), `bands` (conditions and
//!   what they earn), `check` (every value has a band), `words` and `speech` (what is said)
//! - `judge` (one criterion in one reading), `mark` (a page), `total` (total and grade)
//! - `adjust`: a rubric for one student; `table`: a rubric for people to read; [`ready`]: ready rubrics

mod adjust;
mod bands;
mod chain;
mod check;
mod judge;
mod mark;
mod parse;
pub mod ready;
mod speech;
mod table;
#[cfg(test)]
mod tests;
mod total;
mod words;

pub use mark::{CriterionMark, Marks, PanelFacts};
pub use total::Total;
pub use words::Words;

use crate::measure::Measure;

/// A checked rubric.
#[derive(Clone, Debug)]
pub struct Rubric {
    pub title: String,
    /// A criterion whose mark is less sure than this is for a person to look at.
    pub look_below: f64,
    pub criteria: Vec<Criterion>,
    /// Limits on the total.
    pub caps: Vec<Cap>,
    pub total: TotalRule,
    /// Best first; empty where no grades are given.
    pub grades: Vec<Grade>,
    /// Feedback shows words and no marks.
    pub words_only: bool,
    /// The languages that words are given in; empty where there is only one, unnamed.
    pub languages: Vec<String>,
    /// That of the words here, where it is known.
    pub language: Option<String>,
    /// SHA-256 of the file, hexadecimal; of several files that extend one another, of their hashes.
    pub hash: String,
}

/// What is judged, and how.
#[derive(Clone, Debug)]
pub struct Criterion {
    pub id: String,
    pub title: String,
    /// Full marks before weighting (of each panel, where it is judged in each); of a penalty the most that is
    /// taken off, below 0.
    pub marks: f64,
    pub kind: Kind,
    pub panel: PanelChoice,
    pub weights: Weights,
    /// In this order; the first that fails decides.
    pub needs: Vec<Need>,
    /// One, or several of which the lowest mark counts.
    pub parts: Vec<Part>,
    /// Limits on this criterion's marks.
    pub caps: Vec<Cap>,
    /// How many times as wide its limits are, 1 or more ([`Rubric::widened`]).
    pub tolerance: f64,
}

/// How a criterion's marks count.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Kind {
    #[default]
    Ordinary,
    /// Adds to the total, not to what it is out of.
    Bonus,
    /// Takes off the total.
    Penalty,
}

/// What marks are multiplied with.
#[derive(Clone, Debug, PartialEq)]
pub struct Weights {
    pub all: f64,
    /// By panel, instead of `all`.
    pub panels: Vec<(String, f64)>,
}

impl Default for Weights {
    fn default() -> Self {
        Self { all: 1.0, panels: Vec::new() }
    }
}

impl Weights {
    /// That of a panel (`None`: of no one panel).
    pub fn of(&self, panel: Option<&str>) -> f64 {
        self.panels.iter().find(|(id, _)| Some(id.as_str()) == panel).map_or(self.all, |(_, weight)| *weight)
    }
}

impl Criterion {
    /// All that may be said of it.
    fn words(&self) -> impl Iterator<Item = &Words> {
        let needs = self.needs.iter().map(|need| &need.otherwise);
        let bands = self
            .parts
            .iter()
            .flat_map(|part| part.bands.iter().map(|band| &band.given).chain(&part.if_empty));
        needs.chain(bands).map(|given| &given.say).chain(self.caps.iter().map(|cap| &cap.say))
    }
}

/// A measure, or conditions on several, and what they earn.
#[derive(Clone, Debug)]
pub struct Part {
    /// What the bands' own limits are about.
    pub measure: Option<&'static Measure>,
    /// The first that holds decides.
    pub bands: Vec<Band>,
    pub if_empty: Option<Given>,
}

/// The panels that a criterion looks at.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum PanelChoice {
    /// The only one.
    Only,
    /// That with this id.
    One(String),
    /// Each by itself; the marks add up.
    Each,
    /// Each of these by itself.
    Some(Vec<String>),
}

/// What must hold before a criterion is judged at all.
#[derive(Clone, Debug)]
pub struct Need {
    pub condition: Condition,
    pub otherwise: Given,
}

/// A measure within limits.
#[derive(Clone, Debug)]
pub struct Condition {
    pub measure: &'static Measure,
    pub range: Range,
}

/// Values and what they earn.
#[derive(Clone, Debug)]
pub struct Band {
    /// Limits on the part's own measure.
    pub range: Range,
    /// All of these must hold as well.
    pub all_of: Vec<Condition>,
    /// One of these must hold as well, where there are any.
    pub any_of: Vec<Condition>,
    pub given: Given,
}

/// No more than so many marks while all conditions hold.
#[derive(Clone, Debug)]
pub struct Cap {
    pub conditions: Vec<Condition>,
    pub at_most: f64,
    pub say: Words,
}

/// Marks and what is said to the student.
#[derive(Clone, Debug)]
pub struct Given {
    pub marks: f64,
    pub say: Words,
}

/// How marks become a total.
#[derive(Clone, Debug, PartialEq)]
pub struct TotalRule {
    /// The total is scaled to this; `None`: to the sum of the full marks.
    pub out_of: Option<f64>,
    /// The total is a whole number of these steps.
    pub round_to: Option<f64>,
    pub rounding: Rounding,
    /// A bonus may lift the total above full marks.
    pub above_full: bool,
}

impl Default for TotalRule {
    fn default() -> Self {
        Self { out_of: None, round_to: None, rounding: Rounding::Nearest, above_full: false }
    }
}

/// Which way a total is rounded.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Rounding {
    /// To the nearest step, half a step up.
    #[default]
    Nearest,
    Up,
    Down,
}

/// A grade and the least per cent of the total that earns it.
#[derive(Clone, Debug, PartialEq)]
pub struct Grade {
    pub name: String,
    pub at_least_percent: f64,
}

/// Limits that all must hold; without any, every value fits (`otherwise`).
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Range {
    pub at_least: Option<f64>,
    pub at_most: Option<f64>,
    pub above: Option<f64>,
    pub below: Option<f64>,
}

/// Slack of `at_least` and `at_most`, so that a share such as 3 of 5 meets 0.6 whatever its last bit.
const SLACK: f64 = 1e-12;

impl Range {
    /// Whether a value meets all limits.
    pub fn holds(&self, value: f64) -> bool {
        self.at_least.is_none_or(|least| value >= least - SLACK)
            && self.at_most.is_none_or(|most| value <= most + SLACK)
            && self.above.is_none_or(|limit| value > limit)
            && self.below.is_none_or(|limit| value < limit)
    }

    /// Whether there is no limit at all.
    pub fn is_open(&self) -> bool {
        self.limits().next().is_none()
    }

    fn limits(&self) -> impl Iterator<Item = f64> {
        [self.at_least, self.at_most, self.above, self.below].into_iter().flatten()
    }
}

impl Rubric {
    /// The columns of marks.csv and their full marks, in order, on a sheet with these panels.
    pub fn columns(&self, panels: &[&str]) -> Vec<(String, f64)> {
        let one = |c: &Criterion| {
            let column =
                move |(column, panel): (String, Option<&str>)| (column, c.marks * c.weights.of(panel));
            c.columns(panels).into_iter().map(column).collect::<Vec<_>>()
        };
        self.criteria.iter().flat_map(one).collect()
    }

    /// Whether any words name the line that lies furthest from the field: then it is pointed out on the drawing.
    pub fn names_a_line(&self) -> bool {
        self.criteria.iter().flat_map(Criterion::words).any(|said| said.has(words::Slot::Line))
    }

    /// The criterion of a column.
    pub fn criterion(&self, column: &str) -> Option<&Criterion> {
        let id = column.split('.').next().unwrap_or(column);
        self.criteria.iter().find(|c| c.id == id)
    }

    /// The title of a column: its criterion's, and its panel where the criterion is judged in each.
    pub fn title_of(&self, column: &str) -> String {
        self.criterion(column).map(|c| c.title_of(column)).unwrap_or_default()
    }

    /// How a column's marks count.
    pub fn kind_of(&self, column: &str) -> Option<Kind> {
        self.criterion(column).map(|c| c.kind)
    }

    /// What a whole sheet with these panels is marked out of.
    pub fn out_of(&self, panels: &[&str]) -> f64 {
        self.total.out_of.unwrap_or_else(|| full_marks(&self.criteria, panels))
    }
}

/// The sum of the full marks of the ordinary criteria on a sheet with these panels.
fn full_marks(criteria: &[Criterion], panels: &[&str]) -> f64 {
    let one = |c: &Criterion| {
        let marks = |(_, panel): (String, Option<&str>)| c.marks * c.weights.of(panel);
        c.columns(panels).into_iter().map(marks).sum::<f64>()
    };
    // The sum of nothing is -0.
    criteria.iter().filter(|c| c.kind == Kind::Ordinary).map(one).sum::<f64>() + 0.0
}

/// The panel that a column is about, where its criterion is judged in each.
fn panel_of(column: &str) -> Option<&str> {
    column.split_once('.').map(|(_, panel)| panel)
}

impl Criterion {
    fn title_of(&self, column: &str) -> String {
        match panel_of(column) {
            Some(panel) => format!("{}, panel {panel}", self.title),
            None => self.title.clone(),
        }
    }

    /// The columns and the panel of each.
    fn columns<'a>(&'a self, panels: &[&'a str]) -> Vec<(String, Option<&'a str>)> {
        let each = |p: &'a str| (format!("{}.{p}", self.id), Some(p));
        match &self.panel {
            PanelChoice::Each => panels.iter().map(|p| each(p)).collect(),
            PanelChoice::Some(ids) => ids.iter().map(|id| each(id)).collect(),
            PanelChoice::One(id) => vec![(self.id.clone(), Some(id.as_str()))],
            PanelChoice::Only => vec![(self.id.clone(), panels.first().copied())],
        }
    }

    /// Every measure that the criterion looks at, in the order in which it does.
    pub fn measures(&self) -> Vec<&'static Measure> {
        let needs = self.needs.iter().map(|n| n.condition.measure);
        let parts = self.parts.iter().flat_map(|p| {
            let bands = p.bands.iter().flat_map(|b| b.all_of.iter().chain(&b.any_of));
            p.measure.into_iter().chain(bands.map(|c| c.measure))
        });
        let caps = self.caps.iter().flat_map(|c| &c.conditions).map(|c| c.measure);
        let mut found: Vec<&'static Measure> = Vec::new();
        for measure in needs.chain(parts).chain(caps) {
            if !found.iter().any(|known| known.name == measure.name) {
                found.push(measure);
            }
        }
        found
    }
}
