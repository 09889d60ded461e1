//! Drawing and field to named measures, each with the samples that say how sure it is.
//!
//! [`table::ALL`] names the measures; a file a family defines them: [`lines`], [`arrows`], [`meets`],
//! [`angle`], [`ends`], [`spacing`], [`cover`], [`balance`], [`neutral`], [`dots`]. All are taken inside the
//! frame and outside the sources' outlines grown by 3 mm, on lines of which at least 10 mm lie there
//! ([`region`]). Each is a function of one reading of the ink ([`worlds::Reading`]): the likeliest reading
//! gives the value, [`WORLDS`] readings drawn from the sureness of what was read give its spread.
//! [`findings`] is what is written of it.

pub mod findings;
pub mod table;

pub use table::{ALL, Id, Measure, Unit};

/// How many readings of the ink are drawn for each panel. The chance of a mark near 0.9 is then known to
/// 0.02 (one standard deviation).
pub const WORLDS: usize = 200;

/// One measure of one panel.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Measured {
    /// Of the likeliest reading; `None` where the measure is empty.
    pub value: Option<f64>,
    /// 5th and 95th percentile over the worlds that have a value.
    pub low: Option<f64>,
    pub high: Option<f64>,
    /// The same measure in each of [`WORLDS`] readings of the same ink; the nth entries of all measures of
    /// a panel belong to one reading.
    pub worlds: Vec<Option<f64>>,
}

/// All measures of one panel: what a rubric marks.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct PanelMeasures {
    /// The panel's id.
    pub id: String,
    /// In the order of [`ALL`].
    pub measures: Vec<Measured>,
}

impl PanelMeasures {
    /// A measure by its name in [`ALL`].
    pub fn get(&self, name: &str) -> Option<&Measured> {
        ALL.iter().position(|m| m.name == name).and_then(|i| self.measures.get(i))
    }
}

/// What was found in one panel.
#[derive(Clone, Debug)]
pub struct PanelFindings {
    /// The measures, worlds and all.
    pub measures: PanelMeasures,
    /// As written to findings/CODE.json.
    pub record: findings::PanelRecord,
}
