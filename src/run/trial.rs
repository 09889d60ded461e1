//! `lodemark rubric FILE --try CLASS`: how marks move under another rubric, from what was read earlier.

use super::cache::Cache;
use super::class::{Class, Sheet, panel_ids};
use super::judge::{judge, load, marks_of};
use super::mark::caches;
use super::pages::read_known;
use super::{Failure, scans, steady};
use crate::class::marks::number;
use crate::problem::Problem;
use crate::rubric::Rubric;
use rayon::prelude::*;
use serde::Serialize;
use std::fmt;
use std::path::Path;

/// Smallest change of a total that counts; marks are small decimals.
const MARK_SLACK: f64 = 1e-9;

/// A rubric tried on a class.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Trial {
    /// In roster order: students who have a page and follow the class's rubric.
    pub students: Vec<Move>,
    /// Codes of students who have a rubric or worksheet of their own: they are not moved.
    pub left_out: Vec<String>,
    /// Full marks under the rubric in force and under the other.
    pub out_of: [f64; 2],
}

/// A student's marks under both rubrics.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Move {
    pub code: String,
    pub before: Option<f64>,
    pub after: Option<f64>,
    pub before_percent: Option<f64>,
    pub after_percent: Option<f64>,
    /// What a person would have to look at, before and after.
    pub look: [bool; 2],
    /// Criteria whose marks differ, the greatest difference first.
    pub by: Vec<Differs>,
}

/// A criterion's marks under both rubrics.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Differs {
    pub column: String,
    pub before: Option<f64>,
    pub after: Option<f64>,
}

/// Marks a class's pages by its own rubric and by another; nothing is read from images, nothing is written.
///
/// Marks that a person set stand under both.
///
/// # Errors
/// [`Failure::Unusable`]: a wrong file, or pages that were not read yet.
pub fn trial(root: &Path, rubric: &Path, language: Option<&str>) -> Result<Trial, Failure> {
    let class = Class::load(root, None)?;
    let ids = panel_ids(&class.sheet().worksheet);
    let other = Rubric::load(rubric, &ids, language)?;
    let files = scans::list(&class.folder)?;
    let caches: Vec<(&Sheet, Cache)> = caches(&class);
    let Some(mut notes) = read_known(&caches, &files) else {
        let fix = format!("run lodemark mark {} first", root.display());
        let what = "has scans that were not read yet";
        return Err(Failure::Unusable(vec![Problem::of_file(&class.folder.scans(), what, fix)]));
    };
    let assignment = super::assign::assign(&notes, &class.roster, &class.who);
    steady::settle(&mut notes, &assignment);
    let cache = &caches[0].1;
    let own = |s: usize| class.plans[s].own_rubric.is_some() || class.plans[s].sheet > 0;
    let move_of = |s: usize| {
        let verdict = judge(&class, cache, &notes, &assignment, s);
        let page = load(cache, &notes[verdict.page?])?;
        let student = &class.roster.students[s];
        let rubric = other.without(&student.exempt).widened(student.tolerance);
        let mut marks = marks_of(&rubric, &page, &ids);
        for mark in &mut marks.criteria {
            if let Some(change) = class.changes.of(&student.code, &mark.column) {
                (mark.marks, mark.look) = (Some(change.marks), false);
                mark.worlds.clear();
            }
        }
        let total = rubric.total(&marks);
        let look = !total.flags.is_empty() || marks.criteria.iter().any(|m| m.look);
        let was_look = !verdict.total.flags.is_empty() || verdict.marks.iter().any(|m| m.look);
        let percent =
            |value: Option<f64>, out_of: f64| value.filter(|_| out_of > 0.0).map(|v| 100.0 * v / out_of);
        let pair = |column: &String| {
            let of = |list: &[crate::rubric::CriterionMark]| {
                list.iter().find(|m| m.column == *column).map(|m| m.marks)
            };
            (of(&verdict.marks), of(&marks.criteria))
        };
        let mut columns: Vec<String> = verdict.marks.iter().map(|m| m.column.clone()).collect();
        columns.extend(
            marks
                .criteria
                .iter()
                .map(|m| m.column.clone())
                .filter(|c| !verdict.marks.iter().any(|m| m.column == *c)),
        );
        let mut by: Vec<Differs> = columns
            .into_iter()
            .filter_map(|column| {
                let (before, after) = pair(&column);
                let (before, after) = (before.flatten(), after.flatten());
                (before != after).then_some(Differs { column, before, after })
            })
            .collect();
        let size = |d: &Differs| (d.after.unwrap_or(0.0) - d.before.unwrap_or(0.0)).abs();
        by.sort_by(|a, b| size(b).total_cmp(&size(a)));
        Some(Move {
            code: student.code.clone(),
            before: verdict.total.value,
            after: total.value,
            before_percent: percent(verdict.total.value, verdict.total.out_of),
            after_percent: percent(total.value, total.out_of),
            look: [was_look, look],
            by,
        })
    };
    let students = (0..class.roster.students.len()).into_par_iter();
    let moves: Vec<Option<Move>> = students.map(|s| if own(s) { None } else { move_of(s) }).collect();
    let left_out = (0..class.roster.students.len()).filter(|s| own(*s));
    Ok(Trial {
        students: moves.into_iter().flatten().collect(),
        left_out: left_out.map(|s| class.roster.students[s].code.clone()).collect(),
        out_of: [class.out_of, other.out_of(&ids)],
    })
}

impl Move {
    /// Above 0 for a student who gains, below for one who loses, by the total in per cent.
    fn change(&self) -> Option<f64> {
        Some(self.after_percent? - self.before_percent?)
    }
}

impl fmt::Display for Trial {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let [before, after] = self.out_of;
        let moved = |sign: f64| {
            let change = |m: &&Move| m.change().is_some_and(|c| c * sign > MARK_SLACK);
            let mut moves: Vec<&Move> = self.students.iter().filter(change).collect();
            moves.sort_by(|a, b| {
                let size = |m: &Move| m.change().unwrap_or(0.0).abs();
                size(b).total_cmp(&size(a)).then(a.code.cmp(&b.code))
            });
            moves
        };
        let (up, down) = (moved(1.0), moved(-1.0));
        let unknown: Vec<&Move> = self.students.iter().filter(|m| m.change().is_none()).collect();
        let same = self.students.len() - up.len() - down.len() - unknown.len();
        let (now, then) = (number(before), number(after));
        writeln!(f, "Out of {now} now, of {then} then: totals are compared in per cent.")?;
        writeln!(
            f,
            "{} up, {} down, {same} the same, {} without a total in one of the two.",
            up.len(),
            down.len(),
            unknown.len()
        )?;
        for (heading, moves) in [("Up", up), ("Down", down), ("Without a total", unknown)] {
            if moves.is_empty() {
                continue;
            }
            writeln!(f, "\n{heading}")?;
            for m in moves {
                let shown = |v: Option<f64>| v.map_or("-".to_string(), number);
                let percent = |v: Option<f64>| v.map_or("-".to_string(), |v| format!("{v:.0} %"));
                let mut by: Vec<String> =
                    m.by.iter()
                        .map(|d| format!("{} {} to {}", d.column, shown(d.before), shown(d.after)))
                        .collect();
                if by.is_empty() {
                    by.push("by the total's rule".to_string());
                }
                writeln!(
                    f,
                    "  {:<12} {:>5} to {:<5}  {}",
                    m.code,
                    percent(m.before_percent),
                    percent(m.after_percent),
                    by.join(", ")
                )?;
            }
        }
        let looks = |n: usize| self.students.iter().filter(|m| m.look[n]).count();
        writeln!(f, "\nWith a mark to look at: {} now, {} then.", looks(0), looks(1))?;
        if !self.left_out.is_empty() {
            writeln!(
                f,
                "Left out, as they have a rubric or sheet of their own: {}",
                self.left_out.join(", ")
            )?;
        }
        write!(f, "Nothing was changed.")
    }
}
