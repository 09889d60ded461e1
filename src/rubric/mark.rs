//! Measures to marks: every criterion judged in each reading of the ink.

use super::words::{Slot, spoken};
use super::{Criterion, Given, PanelChoice, Rubric, Words};
use crate::measure::{Measured, PanelMeasures, Unit};

/// What the rubric needs to know of one panel.
#[derive(Clone, Copy, Debug)]
pub struct PanelFacts<'a> {
    pub measures: &'a PanelMeasures,
    /// The greatest of the lines' median angles to the computed field, degrees.
    pub worst_angle_deg: Option<f64>,
}

/// One criterion's mark, a column of marks.csv.
#[derive(Clone, Debug, PartialEq)]
pub struct CriterionMark {
    /// The column: the criterion's id, with the panel's where it is judged in each.
    pub column: String,
    pub title: String,
    pub out_of: f64,
    /// The likeliest mark; `None` where the criterion could not be judged.
    pub marks: Option<f64>,
    /// Share of the readings that give this mark, 0 to 1.
    pub chance: f64,
    /// What is said to the student.
    pub say: String,
    /// Whether a person should look.
    pub look: bool,
    /// Why, as `spacing:near-edge`; empty where nobody need look.
    pub flags: Vec<String>,
}

/// What decided a mark.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Why {
    /// This need was not met.
    Need(usize),
    /// The measure of this need is empty.
    NeedEmpty(usize),
    /// This band holds.
    Band(usize),
    /// The measure is empty.
    Empty,
    /// No band holds.
    NoBand,
}

impl Rubric {
    /// Marks a page; `panels` holds every panel of the sheet.
    ///
    /// A criterion whose panel is missing from `panels` could not be judged.
    pub fn mark(&self, panels: &[PanelFacts]) -> Vec<CriterionMark> {
        let mut marks = Vec::new();
        for criterion in &self.criteria {
            match &criterion.panel {
                PanelChoice::Only => marks.push(self.judge(criterion, criterion.id.clone(), panels.first())),
                PanelChoice::One(id) => {
                    let panel = panels.iter().find(|p| p.measures.id == *id);
                    marks.push(self.judge(criterion, criterion.id.clone(), panel));
                }
                PanelChoice::Each => {
                    for panel in panels {
                        let column = format!("{}.{}", criterion.id, panel.measures.id);
                        marks.push(self.judge(criterion, column, Some(panel)));
                    }
                }
            }
        }
        marks
    }

    fn judge(&self, criterion: &Criterion, column: String, panel: Option<&PanelFacts>) -> CriterionMark {
        let mut mark = CriterionMark {
            column,
            title: criterion.title.clone(),
            out_of: criterion.marks,
            marks: None,
            chance: 0.0,
            say: String::new(),
            look: true,
            flags: Vec::new(),
        };
        let Some(panel) = panel else {
            mark.flags.push(format!("{}:no-panel", mark.column));
            return mark;
        };
        let likeliest = criterion.decide(panel.measures, None);
        let worlds = (0..criterion.worlds(panel.measures))
            .map(|w| (criterion.decide(panel.measures, Some(w)), Some(w)))
            .collect::<Vec<_>>();
        let worlds = if worlds.is_empty() { vec![(likeliest, None)] } else { worlds };
        let (marks, count) = criterion.most_frequent(&worlds, likeliest);
        mark.marks = marks;
        mark.chance = count as f64 / worlds.len() as f64;
        let (why, world) = criterion.spokesman(&worlds, marks, likeliest, panel.measures);
        if let Some(given) = criterion.given(why) {
            mark.say = say(&given.say, criterion, panel, world);
        }
        mark.look = marks.is_none() || mark.chance < self.look_below;
        if mark.look {
            mark.flags.push(format!("{}:{}", mark.column, criterion.reason(&worlds, marks)));
        }
        mark
    }
}

impl Criterion {
    /// How many readings all the measures used have.
    fn worlds(&self, measures: &PanelMeasures) -> usize {
        let names = self.needs.iter().map(|n| n.measure.name).chain([self.measure.name]);
        names.map(|name| measures.get(name).map_or(0, |m| m.worlds.len())).min().unwrap_or(0)
    }

    /// What decides the mark in one reading (`None`: the likeliest).
    fn decide(&self, measures: &PanelMeasures, world: Option<usize>) -> Why {
        for (n, need) in self.needs.iter().enumerate() {
            match value(measures, need.measure.name, world) {
                None => return Why::NeedEmpty(n),
                Some(v) if !need.range.holds(v) => return Why::Need(n),
                Some(_) => {}
            }
        }
        match value(measures, self.measure.name, world) {
            None => Why::Empty,
            Some(v) => self.bands.iter().position(|b| b.range.holds(v)).map_or(Why::NoBand, Why::Band),
        }
    }

    fn given(&self, why: Why) -> Option<&Given> {
        match why {
            Why::Need(n) => self.needs.get(n).map(|need| &need.otherwise),
            Why::Band(n) => self.bands.get(n).map(|band| &band.given),
            Why::Empty => self.if_empty.as_ref(),
            Why::NeedEmpty(_) | Why::NoBand => None,
        }
    }

    fn marks_of(&self, why: Why) -> Option<f64> {
        self.given(why).map(|given| given.marks)
    }

    /// The mark that most readings give, and how many do. Ties go to the likeliest reading's mark, then to
    /// the lower one.
    fn most_frequent(&self, worlds: &[(Why, Option<usize>)], likeliest: Why) -> (Option<f64>, usize) {
        let mut counts: Vec<(Option<f64>, usize)> = Vec::new();
        for marks in worlds.iter().map(|(why, _)| self.marks_of(*why)) {
            match counts.iter_mut().find(|(seen, _)| *seen == marks) {
                Some((_, count)) => *count += 1,
                None => counts.push((marks, 1)),
            }
        }
        let preferred = self.marks_of(likeliest);
        counts.sort_by(|(a, n), (b, m)| {
            let likes = (*b == preferred).cmp(&(*a == preferred));
            m.cmp(n).then(likes).then(a.partial_cmp(b).unwrap_or(std::cmp::Ordering::Equal))
        });
        counts.first().copied().unwrap_or((None, 0))
    }

    /// The reading whose words and numbers stand for the mark: the likeliest one if it gives this mark, else
    /// the middle one (by the measure) of those decided in the most frequent way.
    fn spokesman(
        &self,
        worlds: &[(Why, Option<usize>)],
        marks: Option<f64>,
        likeliest: Why,
        measures: &PanelMeasures,
    ) -> (Why, Option<usize>) {
        if self.marks_of(likeliest) == marks {
            return (likeliest, None);
        }
        let giving: Vec<_> = worlds.iter().filter(|(why, _)| self.marks_of(*why) == marks).collect();
        let count = |why: Why| giving.iter().filter(|(w, _)| *w == why).count();
        let Some(why) =
            giving.iter().map(|(why, _)| *why).max_by_key(|why| (count(*why), std::cmp::Reverse(*why)))
        else {
            return (likeliest, None);
        };
        let mut same: Vec<Option<usize>> =
            giving.iter().filter(|(w, _)| *w == why).map(|(_, world)| *world).collect();
        let key =
            |world: &Option<usize>| value(measures, self.measure.name, *world).unwrap_or(f64::NEG_INFINITY);
        same.sort_by(|a, b| key(a).total_cmp(&key(b)).then(a.cmp(b)));
        (why, same.get(same.len() / 2).copied().flatten())
    }

    /// Why a person should look, in a word.
    fn reason(&self, worlds: &[(Why, Option<usize>)], marks: Option<f64>) -> &'static str {
        if marks.is_none() {
            return "no-value";
        }
        let others = worlds.iter().map(|(why, _)| *why).filter(|why| self.marks_of(*why) != marks);
        let (mut need, mut empty, mut edge) = (0, 0, 0);
        for why in others {
            match why {
                Why::Need(_) | Why::NeedEmpty(_) => need += 1,
                Why::Empty | Why::NoBand => empty += 1,
                Why::Band(_) => edge += 1,
            }
        }
        // Where the mark itself comes from a need, the others come from bands beyond it.
        let by_need =
            worlds.iter().filter(|(why, _)| matches!(why, Why::Need(_)) && self.marks_of(*why) == marks);
        if need > edge.max(empty) || by_need.count() * 2 > worlds.len() {
            "need-near-edge"
        } else if empty > edge {
            "maybe-empty"
        } else {
            "near-edge"
        }
    }
}

fn value(measures: &PanelMeasures, name: &str, world: Option<usize>) -> Option<f64> {
    let Measured { value, worlds, .. } = measures.get(name)?;
    match world {
        None => *value,
        Some(w) => worlds.get(w).copied().flatten(),
    }
}

fn say(words: &Words, criterion: &Criterion, panel: &PanelFacts, world: Option<usize>) -> String {
    let of = |name: &str| value(panel.measures, name, world);
    let count = |name: &str| of(name).map(|v| spoken(v, Unit::Count));
    words.fill(|slot| match slot {
        Slot::WrongArrows => count("arrows.wrong"),
        Slot::Crossings => count("meets.count"),
        Slot::OpenEnds => count("ends.open"),
        Slot::Lines => count("lines.count"),
        Slot::ArrowedLines => {
            Some(spoken(of("lines.count")? * of("arrows.shown").unwrap_or(0.0), Unit::Count))
        }
        Slot::WorstAngleDeg => panel.worst_angle_deg.map(|v| spoken(v, Unit::Degrees)),
        Slot::Value => of(criterion.measure.name).map(|v| spoken(v, criterion.measure.unit)),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::measure::{ALL, WORLDS};
    use std::path::Path;

    type InWorld<'a> = &'a dyn Fn(usize) -> Option<f64>;

    /// Measures that are 0 in every reading, but for those named with their worlds.
    fn page(given: &[(&str, InWorld)]) -> PanelMeasures {
        let measures = ALL.iter().map(|m| {
            let world = |w| match given.iter().find(|(name, _)| *name == m.name) {
                Some((_, of)) => of(w),
                None => Some(0.0),
            };
            Measured { value: world(0), low: None, high: None, worlds: (0..WORLDS).map(world).collect() }
        });
        PanelMeasures { id: "A".into(), measures: measures.collect() }
    }

    fn basics() -> Rubric {
        Rubric::parse(Path::new("basics.yaml"), include_str!("../../rubrics/basics.yaml"), &["A"]).unwrap()
    }

    fn one(page: &PanelMeasures, column: &str) -> CriterionMark {
        let facts = PanelFacts { measures: page, worst_angle_deg: Some(31.4) };
        basics().mark(&[facts]).into_iter().find(|m| m.column == column).unwrap()
    }

    #[test]
    fn gives_the_mark_of_most_readings_with_their_share() {
        let lines: InWorld = &|_| Some(8.0);
        // The likeliest reading says 0 crossings, 110 of 200 say 1: the mark is 1, and nobody is sure of it.
        let page = page(&[("lines.count", lines), ("meets.count", &|w| Some(f64::from(u8::from(w >= 90))))]);
        let mark = one(&page, "meeting");
        assert_eq!((mark.marks, mark.chance, mark.look), (Some(1.0), 0.55, true));
        assert_eq!(mark.flags, ["meeting:near-edge"]);
        assert!(mark.say.starts_with("Almost all"), "{}", mark.say);
    }

    #[test]
    fn sure_marks_need_no_look() {
        let page = page(&[
            ("lines.count", &|_| Some(8.0)),
            ("arrows.shown", &|_| Some(1.0)),
            ("arrows.wrong", &|_| Some(2.0)),
        ]);
        let mark = one(&page, "direction");
        assert_eq!((mark.marks, mark.chance, mark.look), (Some(1.0), 1.0, false));
        assert_eq!(mark.say, "Lines with an arrow the wrong way round: 2. They are ringed.");
        assert!(mark.flags.is_empty());
    }

    #[test]
    fn the_first_need_that_fails_decides() {
        let page = page(&[("lines.count", &|_| Some(4.0)), ("arrows.shown", &|_| None)]);
        let mark = one(&page, "direction");
        assert_eq!((mark.marks, mark.chance), (Some(0.0), 1.0));
        assert!(mark.say.starts_with("There are too few lines"));
    }

    #[test]
    fn an_empty_measure_gives_what_if_empty_says_or_nothing() {
        let page = page(&[
            ("lines.count", &|_| Some(8.0)),
            ("spacing.widen", &|_| None),
            ("angle.median_deg", &|_| None),
        ]);
        assert_eq!(one(&page, "spacing").marks, Some(0.0));
        let shape = one(&page, "shape");
        assert_eq!((shape.marks, shape.look, shape.flags), (None, true, vec!["shape:no-value".to_string()]));
    }

    #[test]
    fn the_numbers_said_belong_to_the_mark_given() {
        let page = page(&[
            ("lines.count", &|_| Some(8.0)),
            ("arrows.shown", &|_| Some(1.0)),
            ("arrows.wrong", &|w| Some(if w < 60 { 0.0 } else { 2.0 })),
        ]);
        assert_eq!(
            one(&page, "direction").say,
            "Lines with an arrow the wrong way round: 2. They are ringed."
        );
    }

    #[test]
    fn each_panel_is_marked_by_itself() {
        let text =
            include_str!("../../rubrics/basics.yaml").replace("    marks: ", "    panel: each\n    marks: ");
        let rubric = Rubric::parse(Path::new("r.yaml"), &text, &["A", "B"]).unwrap();
        let (a, mut b) = (page(&[]), page(&[("lines.count", &|_| Some(8.0))]));
        b.id = "B".into();
        let facts = [&a, &b].map(|measures| PanelFacts { measures, worst_angle_deg: None });
        let marks = rubric.mark(&facts);
        let columns: Vec<String> = marks.iter().map(|m| m.column.clone()).collect();
        assert_eq!(columns, rubric.columns(&["A", "B"]).iter().map(|(c, _)| c.clone()).collect::<Vec<_>>());
        assert_eq!(rubric.out_of(&["A", "B"]), 22.0);
        let meeting: Vec<_> =
            marks.iter().filter(|m| m.column.starts_with("meeting")).map(|m| m.marks).collect();
        assert_eq!(meeting, [Some(0.0), Some(2.0)]);
    }
}
