//! rubric.yaml and measures to marks and words. Knows no image, and no file but the rubric.
//!
//! A [`Rubric`] is read and checked by [`Rubric::load`] and marks a page by [`Rubric::mark`]: every
//! criterion is judged in each reading that the ink may stand for (the worlds of
//! [`Measured`](crate::measure::Measured)); the mark given is the most frequent one, its chance is the
//! share of readings that give it. Chances are as honest as the readings' sureness: they are not calibrated.

mod check;
mod mark;
mod parse;
mod words;

pub use mark::{CriterionMark, PanelFacts};
pub use words::Words;

use crate::measure::Measure;

/// A checked rubric.
#[derive(Clone, Debug)]
pub struct Rubric {
    pub title: String,
    /// A criterion whose mark is less sure than this is for a person to look at.
    pub look_below: f64,
    pub criteria: Vec<Criterion>,
    /// SHA-256 of the file, hexadecimal.
    pub hash: String,
}

/// What is judged, and how.
#[derive(Clone, Debug)]
pub struct Criterion {
    pub id: String,
    pub title: String,
    /// Full marks (of each panel, where it is judged in each).
    pub marks: f64,
    pub measure: &'static Measure,
    pub panel: PanelChoice,
    /// In this order; the first that fails decides.
    pub needs: Vec<Need>,
    /// The first that holds decides.
    pub bands: Vec<Band>,
    pub if_empty: Option<Given>,
}

/// The panel that a criterion looks at.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum PanelChoice {
    /// The only one.
    Only,
    /// That with this id.
    One(String),
    /// Each by itself; the marks add up.
    Each,
}

/// What must hold before a criterion is judged at all.
#[derive(Clone, Debug)]
pub struct Need {
    pub measure: &'static Measure,
    pub range: Range,
    pub otherwise: Given,
}

/// Values and what they earn.
#[derive(Clone, Debug)]
pub struct Band {
    pub range: Range,
    pub given: Given,
}

/// Marks and what is said to the student.
#[derive(Clone, Debug)]
pub struct Given {
    pub marks: f64,
    pub say: Words,
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

    fn limits(&self) -> impl Iterator<Item = f64> {
        [self.at_least, self.at_most, self.above, self.below].into_iter().flatten()
    }
}

impl Rubric {
    /// The columns of marks.csv and their full marks, in order, on a sheet with these panels.
    pub fn columns(&self, panels: &[&str]) -> Vec<(String, f64)> {
        self.criteria.iter().flat_map(|c| c.columns(panels)).collect()
    }

    /// The title of a column's criterion.
    pub fn title_of(&self, column: &str) -> String {
        let id = column.split('.').next().unwrap_or(column);
        self.criteria.iter().find(|c| c.id == id).map(|c| c.title.clone()).unwrap_or_default()
    }

    /// Full marks of a sheet with these panels.
    pub fn out_of(&self, panels: &[&str]) -> f64 {
        self.columns(panels).iter().map(|(_, marks)| marks).sum()
    }
}

impl Criterion {
    fn columns(&self, panels: &[&str]) -> Vec<(String, f64)> {
        match self.panel {
            PanelChoice::Each => panels.iter().map(|p| (format!("{}.{p}", self.id), self.marks)).collect(),
            _ => vec![(self.id.clone(), self.marks)],
        }
    }
}
