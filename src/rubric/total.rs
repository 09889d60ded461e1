//! Marks to a total and a grade, reading by reading.

use super::judge::all;
use super::mark::{CapState, CriterionMark, Marks, PanelFacts, fill};
use super::{Cap, Kind, Rounding, Rubric, SLACK};
use crate::measure::WORLDS;

/// A page's total and grade.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Total {
    /// `None` as soon as one criterion could not be judged.
    pub value: Option<f64>,
    pub out_of: f64,
    /// By name, where the rubric gives grades and there is a total.
    pub grade: Option<String>,
    /// Share of the readings that give this grade, 0 to 1.
    pub grade_chance: f64,
    /// What caps on the total say to the student.
    pub says: Vec<String>,
    /// Why a person should look, as `total:near-edge`.
    pub flags: Vec<String>,
}

impl Rubric {
    /// Each cap on the total: where the sheet has several panels, it holds where it does in any of them, and what is
    /// said is about the first such panel.
    pub(super) fn total_caps(&self, panels: &[PanelFacts]) -> Vec<CapState> {
        let any = |cap: &Cap, world: Option<usize>| {
            let none = all(panels.iter().map(|p| cap.state(p.measures, world).map(|s| !s)));
            none.map(|n| !n)
        };
        let say = |cap: &Cap| {
            let mut readings = std::iter::once(None).chain((0..WORLDS).map(Some));
            let holds = |world: Option<usize>| {
                let panel = panels.iter().find(|p| cap.state(p.measures, world) == Some(true))?;
                Some(fill(&cap.say, None, panel, world))
            };
            readings.find_map(holds).unwrap_or_default()
        };
        let one = |cap: &Cap| CapState {
            likeliest: any(cap, None),
            worlds: (0..WORLDS).map(|w| any(cap, Some(w))).collect(),
            say: say(cap),
        };
        self.caps.iter().map(one).collect()
    }

    /// The total of a page's marks, some of which a person may have set.
    pub fn total(&self, marks: &Marks) -> Total {
        let full: f64 = marks.criteria.iter().filter(|m| m.kind == Kind::Ordinary).map(|m| m.out_of).sum();
        // The sum of nothing is -0.
        let full = full + 0.0;
        let out_of = self.total.out_of.unwrap_or(full);
        let sum = |of: &dyn Fn(&CriterionMark) -> Option<f64>| -> Option<f64> {
            if marks.criteria.is_empty() { None } else { marks.criteria.iter().map(of).sum() }
        };
        let likeliest = sum(&|m| m.marks);
        let capped: Vec<Capped> = marks.caps.iter().map(|c| Capped::of(c, self.look_below)).collect();
        let mut total = Total { out_of, ..Total::default() };
        let Some(raw) = likeliest else { return total };
        let now: Vec<Option<bool>> = capped.iter().map(|c| c.holds).collect();
        total.value = self.finish(raw, full, &now);
        for (n, cap) in self.caps.iter().enumerate() {
            let bites = raw > cap.at_most + SLACK;
            let settled = marks.criteria.iter().all(|m| m.flags.iter().any(|f| f.ends_with(":changed")));
            if bites && capped.get(n).is_some_and(|c| !c.sure) && !settled {
                total.flags.push("total:cap-near-edge".into());
            }
            if bites && now.get(n) == Some(&Some(true)) {
                total.says.extend(marks.caps.get(n).map(|c| c.say.clone()));
            }
        }
        total.flags.dedup();
        self.grade_of(marks, full, &mut total);
        total
    }

    fn grade_of(&self, marks: &Marks, full: f64, total: &mut Total) {
        let Some(value) = total.value else { return };
        if self.grades.is_empty() || total.out_of <= 0.0 {
            return;
        }
        let grade = |value: f64| {
            let percent = 100.0 * value / total.out_of;
            self.grades.iter().position(|g| percent >= g.at_least_percent - SLACK * 100.0)
        };
        let mine = grade(value);
        let same = |w: &usize| {
            let raw: Option<f64> = marks.criteria.iter().map(|m| m.in_world(*w)).sum();
            let caps: Vec<Option<bool>> =
                marks.caps.iter().map(|cap| cap.worlds.get(*w).copied().unwrap_or(cap.likeliest)).collect();
            raw.and_then(|raw| self.finish(raw, full, &caps)).and_then(grade) == mine
        };
        let count = (0..WORLDS).filter(same).count();
        total.grade = mine.and_then(|g| self.grades.get(g)).map(|g| g.name.clone());
        total.grade_chance = count as f64 / WORLDS as f64;
        if total.grade_chance < self.look_below {
            total.flags.push("grade:near-edge".into());
        }
    }

    /// A sum of marks to a total: caps first, then bounds, scale and steps; no step leads above full marks from below.
    /// `None` where a cap that would bite may hold or not.
    fn finish(&self, raw: f64, full: f64, caps: &[Option<bool>]) -> Option<f64> {
        let mut sum = raw;
        for (cap, holds) in self.caps.iter().zip(caps) {
            if sum > cap.at_most {
                match holds {
                    Some(true) => sum = cap.at_most,
                    Some(false) => {}
                    None => return None,
                }
            }
        }
        let rule = &self.total;
        let sum = if rule.above_full { sum.max(0.0) } else { sum.clamp(0.0, full.max(0.0)) };
        let scaled = match rule.out_of {
            Some(out_of) if full > 0.0 => sum * out_of / full,
            _ => sum,
        };
        let Some(step) = rule.round_to else { return Some(scaled + 0.0) };
        let steps = scaled / step;
        let steps = match rule.rounding {
            Rounding::Nearest => (steps + 0.5 + SLACK).floor(),
            Rounding::Up => (steps - SLACK).ceil(),
            Rounding::Down => (steps + SLACK).floor(),
        };
        let out_of = rule.out_of.unwrap_or(full);
        let most = if scaled > out_of { f64::INFINITY } else { out_of };
        // Rounding up gives -0 of 0.
        Some((steps * step).min(most) + 0.0)
    }
}

/// Whether a cap holds in most readings, and how surely.
struct Capped {
    holds: Option<bool>,
    sure: bool,
}

impl Capped {
    fn of(CapState { likeliest, worlds, .. }: &CapState, look_below: f64) -> Self {
        let count = |state: Option<bool>| worlds.iter().filter(|w| **w == state).count();
        let ways = [*likeliest, Some(false), Some(true), None];
        // Of equals the first: the likeliest reading's.
        let holds = ways.into_iter().rev().max_by_key(|w| count(*w)).flatten();
        let sure = holds.is_some() && count(holds) as f64 >= look_below * worlds.len() as f64;
        Self { holds, sure }
    }
}
