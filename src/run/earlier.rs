//! An earlier class folder, to be compared with: what was won at each criterion, and which ideas the drawings
//! suggested.

use super::Failure;
use super::class::Class;
use super::judge::Verdict;
use crate::ideas;
use crate::measure::findings::IdeaRecord;
use crate::problem::{Problem, read_capped};
use crate::report;
use serde::Deserialize;
use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

/// Largest marks.csv and findings that are read, bytes: a year's students fit.
const MAX_BYTES: u64 = 16 * 1024 * 1024;

/// Shares of an earlier class.
#[derive(Debug, Default)]
pub struct Past {
    name: String,
    students: usize,
    /// By column: share of the marks won.
    criteria: BTreeMap<String, f64>,
    /// By id: share of the drawings.
    ideas: BTreeMap<String, f64>,
}

/// The part of a student's findings that is compared.
#[derive(Deserialize)]
struct Found {
    #[serde(default)]
    ideas: Vec<IdeaRecord>,
}

/// Reads an earlier class folder: its rubric, marks.csv and findings.
///
/// # Errors
/// [`Failure::Unusable`]: it is no class folder, or was not marked.
pub fn read(root: &Path) -> Result<Past, Failure> {
    let class = Class::load(root, None)?;
    let path = class.folder.marks();
    let unusable = |problem: Problem| Failure::Unusable(vec![problem]);
    let bytes = read_capped(&path, MAX_BYTES).map_err(unusable)?;
    let mut reader = csv::ReaderBuilder::new().flexible(true).from_reader(bytes.as_slice());
    let wrong = |error: csv::Error| {
        unusable(Problem::of_file(&path, format!("is no table ({error})"), "mark that class again"))
    };
    let header = reader.headers().map_err(wrong)?.clone();
    let mut won: BTreeMap<String, (f64, f64)> = BTreeMap::new();
    let mut students = 0;
    for record in reader.records() {
        let record = record.map_err(wrong)?;
        let mut judged = false;
        for (name, cell) in header.iter().zip(&record) {
            let full = class.columns.iter().find(|(column, _)| column == name).map(|(_, full)| *full);
            if let (Some(full), Ok(marks)) = (full, cell.parse::<f64>()) {
                let sum = won.entry(name.to_string()).or_default();
                *sum = (sum.0 + marks, sum.1 + full);
                judged = true;
            }
        }
        students += usize::from(judged);
    }
    let mut counts: BTreeMap<String, usize> = BTreeMap::new();
    let mut drawings = 0;
    for student in &class.roster.students {
        let path = class.folder.findings().join(format!("{}.json", student.code));
        let Some(found) =
            read_capped(&path, MAX_BYTES).ok().and_then(|b| serde_json::from_slice::<Found>(&b).ok())
        else {
            continue;
        };
        drawings += 1;
        let ids: BTreeSet<String> = found.ideas.into_iter().map(|i| i.idea).collect();
        ids.into_iter().for_each(|id| *counts.entry(id).or_default() += 1);
    }
    let share = |n: usize| n as f64 / drawings.max(1) as f64;
    Ok(Past {
        name: root
            .file_name()
            .map(|n| n.to_string_lossy().into_owned())
            .unwrap_or_else(|| "the earlier class".into()),
        students,
        criteria: won
            .into_iter()
            .filter(|(_, (_, full))| *full != 0.0)
            .map(|(c, (got, full))| (c, got / full))
            .collect(),
        ideas: counts.into_iter().map(|(id, n)| (id, share(n))).collect(),
    })
}

impl Past {
    /// This class beside it: the criteria that both have, and every idea that either shows.
    pub fn beside(&self, class: &Class, verdicts: &[Verdict]) -> report::Earlier {
        let read: Vec<&Verdict> =
            verdicts.iter().filter(|v| v.marks.iter().any(|m| m.marks.is_some())).collect();
        let mut rows = Vec::new();
        for (column, full) in &class.columns {
            let Some(then) = self.criteria.get(column) else { continue };
            let got: Vec<f64> =
                read.iter().filter_map(|v| v.marks.iter().find(|m| m.column == *column)?.marks).collect();
            let now = got.iter().sum::<f64>() / (full * got.len() as f64);
            let title = class.title(column);
            rows.push((title, Some(*then), Some(now).filter(|n| n.is_finite())));
        }
        for idea in &ideas::CATALOGUE {
            let count = read.iter().filter(|v| v.ideas.iter().any(|i| i.idea == idea.id)).count();
            let (then, now) = (self.ideas.get(idea.id).copied(), count as f64 / read.len().max(1) as f64);
            if then.is_some() || count > 0 {
                rows.push((idea.title.to_string(), Some(then.unwrap_or(0.0)), Some(now)));
            }
        }
        report::Earlier { name: self.name.clone(), students: [self.students, read.len()], rows }
    }
}
