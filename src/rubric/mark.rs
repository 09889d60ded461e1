//! Measures to marks: every criterion judged in each reading of the ink.

use super::judge::{Outcome, Why, value};
use super::words::{Slot, spoken};
use super::{Criterion, Kind, PanelChoice, Rubric, Words};
use crate::measure::{PanelMeasures, Unit};

/// What the rubric needs to know of one panel.
#[derive(Clone, Copy, Debug)]
pub struct PanelFacts<'a> {
    pub measures: &'a PanelMeasures,
    /// The line with the greatest median angle to the computed field: its number, counted through all panels of the
    /// page, and the angle in degrees.
    pub worst_line: Option<(usize, f64)>,
}

/// One criterion's mark, a column of marks.csv.
#[derive(Clone, Debug, PartialEq)]
pub struct CriterionMark {
    /// The column: the criterion's id, with the panel's where it is judged in each.
    pub column: String,
    /// With the panel's id where the criterion is judged in each.
    pub title: String,
    /// That panel.
    pub panel: Option<String>,
    pub kind: Kind,
    /// Full marks, weighted; of a penalty the most that is taken off, below 0.
    pub out_of: f64,
    /// The likeliest mark, weighted; `None` where the criterion could not be judged.
    pub marks: Option<f64>,
    /// Share of the readings that give this mark, 0 to 1.
    pub chance: f64,
    /// The mark in each reading; empty where nothing was read.
    pub worlds: Vec<Option<f64>>,
    /// What is said to the student.
    pub say: String,
    /// Whether a person should look.
    pub look: bool,
    /// Why, as `spacing:near-edge`; empty where nobody need look.
    pub flags: Vec<String>,
}

impl CriterionMark {
    /// A column that was not judged.
    pub fn unjudged(criterion: &Criterion, column: String, out_of: f64) -> Self {
        Self {
            title: criterion.title_of(&column),
            panel: super::panel_of(&column).map(str::to_string),
            column,
            kind: criterion.kind,
            out_of,
            marks: None,
            chance: 0.0,
            worlds: Vec::new(),
            say: String::new(),
            look: true,
            flags: Vec::new(),
        }
    }

    /// The mark in a reading.
    pub(super) fn in_world(&self, world: usize) -> Option<f64> {
        self.worlds.get(world).copied().unwrap_or(self.marks)
    }
}

/// A page's marks.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Marks {
    pub criteria: Vec<CriterionMark>,
    /// For each cap on the total.
    pub(super) caps: Vec<CapState>,
}

/// A cap on the total.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct CapState {
    /// Whether it holds in the likeliest reading.
    pub likeliest: Option<bool>,
    /// And in each reading.
    pub worlds: Vec<Option<bool>>,
    /// What is said where it bites.
    pub say: String,
}

/// A way in which a criterion may come out, and the reading.
type Told = (Outcome, Option<usize>);

impl Rubric {
    /// Marks a page; `panels` holds every panel of the sheet.
    ///
    /// A criterion whose panel is missing from `panels` could not be judged.
    pub fn mark(&self, panels: &[PanelFacts]) -> Marks {
        let mut criteria = Vec::new();
        for criterion in &self.criteria {
            let find = |id: &str| panels.iter().find(|p| p.measures.id == id);
            let column = |id: &str| format!("{}.{id}", criterion.id);
            match &criterion.panel {
                PanelChoice::Only => {
                    criteria.push(self.judge(criterion, criterion.id.clone(), panels.first()))
                }
                PanelChoice::One(id) => criteria.push(self.judge(criterion, criterion.id.clone(), find(id))),
                PanelChoice::Each => criteria
                    .extend(panels.iter().map(|p| self.judge(criterion, column(&p.measures.id), Some(p)))),
                PanelChoice::Some(ids) => {
                    criteria.extend(ids.iter().map(|id| self.judge(criterion, column(id), find(id))));
                }
            }
        }
        Marks { criteria, caps: self.total_caps(panels) }
    }

    /// The marks of a page of which nothing could be judged.
    pub fn unjudged(&self, panels: &[&str]) -> Marks {
        let one = |(column, out_of): (String, f64)| {
            let criterion = self.criterion(&column)?;
            Some(CriterionMark::unjudged(criterion, column, out_of))
        };
        let criteria = self.columns(panels).into_iter().filter_map(one).collect();
        Marks { criteria, caps: vec![CapState::default(); self.caps.len()] }
    }

    fn judge(&self, criterion: &Criterion, column: String, panel: Option<&PanelFacts>) -> CriterionMark {
        let weight = criterion.weights.of(panel.map(|p| p.measures.id.as_str()));
        let mut mark = CriterionMark::unjudged(criterion, column, criterion.marks * weight);
        let Some(panel) = panel else {
            mark.flags.push(format!("{}:no-panel", mark.column));
            return mark;
        };
        let likeliest = criterion.decide(panel.measures, None);
        let worlds = (0..criterion.worlds(panel.measures))
            .map(|w| (criterion.decide(panel.measures, Some(w)), Some(w)))
            .collect::<Vec<_>>();
        let worlds = if worlds.is_empty() { vec![(likeliest, None)] } else { worlds };
        let (marks, count) = most_frequent(&worlds, likeliest);
        mark.marks = marks.map(|m| m * weight);
        mark.chance = count as f64 / worlds.len() as f64;
        mark.worlds = worlds.iter().map(|(outcome, _)| outcome.marks.map(|m| m * weight)).collect();
        let (outcome, world) = criterion.spokesman(&worlds, marks, likeliest, panel.measures);
        mark.say = criterion.says(outcome, panel, world);
        mark.look = marks.is_none() || mark.chance < self.look_below;
        if mark.look {
            mark.flags.push(format!("{}:{}", mark.column, reason(&worlds, marks)));
        }
        mark
    }
}

/// The mark that most readings give, and how many do. Ties go to the likeliest reading's mark, then to the
/// lower one.
fn most_frequent(worlds: &[Told], likeliest: Outcome) -> (Option<f64>, usize) {
    let mut counts: Vec<(Option<f64>, usize)> = Vec::new();
    for marks in worlds.iter().map(|(outcome, _)| outcome.marks) {
        match counts.iter_mut().find(|(seen, _)| *seen == marks) {
            Some((_, count)) => *count += 1,
            None => counts.push((marks, 1)),
        }
    }
    counts.sort_by(|(a, n), (b, m)| {
        let likes = (*b == likeliest.marks).cmp(&(*a == likeliest.marks));
        m.cmp(n).then(likes).then(a.partial_cmp(b).unwrap_or(std::cmp::Ordering::Equal))
    });
    counts.first().copied().unwrap_or((None, 0))
}

/// Why a person should look, in a word.
fn reason(worlds: &[Told], marks: Option<f64>) -> &'static str {
    if marks.is_none() {
        return "no-value";
    }
    let (mut need, mut empty, mut edge) = (0, 0, 0);
    for (outcome, _) in worlds.iter().filter(|(outcome, _)| outcome.marks != marks) {
        match outcome.why {
            Why::Need(_) | Why::NeedEmpty(_) => need += 1,
            Why::Empty(_) | Why::NoBand(_) => empty += 1,
            Why::Band(..) => edge += 1,
        }
    }
    // Where the mark itself comes from a need, the others come from bands beyond it.
    let by_need = worlds.iter().filter(|(o, _)| matches!(o.why, Why::Need(_)) && o.marks == marks);
    if need > edge.max(empty) || by_need.count() * 2 > worlds.len() {
        "need-near-edge"
    } else if empty > edge {
        "maybe-empty"
    } else {
        "near-edge"
    }
}

impl Criterion {
    /// The reading whose words and numbers stand for the mark: the likeliest one if it gives this mark, else
    /// the middle one (by the measure) of those decided in the most frequent way.
    fn spokesman(
        &self,
        worlds: &[Told],
        marks: Option<f64>,
        likeliest: Outcome,
        measures: &PanelMeasures,
    ) -> Told {
        if likeliest.marks == marks {
            return (likeliest, None);
        }
        let giving: Vec<&Told> = worlds.iter().filter(|(o, _)| o.marks == marks).collect();
        let way = |o: &Outcome| (o.why, o.cap);
        let count = |o: &Outcome| giving.iter().filter(|(other, _)| way(other) == way(o)).count();
        let Some(most) = giving.iter().map(|(o, _)| *o).max_by_key(|o| (count(o), std::cmp::Reverse(way(o))))
        else {
            return (likeliest, None);
        };
        let name = self.part(most.why).and_then(|p| p.measure).map_or("", |m| m.name);
        let key = |world: &Option<usize>| value(measures, name, *world).unwrap_or(f64::NEG_INFINITY);
        let same = giving.iter().filter(|(o, _)| way(o) == way(&most)).map(|(_, world)| *world);
        let mut same: Vec<Option<usize>> = same.collect();
        same.sort_by(|a, b| key(a).total_cmp(&key(b)).then(a.cmp(b)));
        (most, same.get(same.len() / 2).copied().flatten())
    }

    fn says(&self, outcome: Outcome, panel: &PanelFacts, world: Option<usize>) -> String {
        let own = self.given(outcome.why).map(|given| &given.say);
        let cap = outcome.cap.filter(|_| outcome.marks.is_some()).and_then(|n| self.caps.get(n));
        let measure = self.part(outcome.why).and_then(|p| p.measure);
        let words = own.into_iter().chain(cap.map(|c| &c.say));
        words.map(|w| fill(w, measure, panel, world)).collect::<Vec<_>>().join(" ")
    }
}

/// Words with the numbers of a reading.
pub(super) fn fill(
    words: &Words,
    own: Option<&'static crate::measure::Measure>,
    panel: &PanelFacts,
    world: Option<usize>,
) -> String {
    let of = |name: &str| value(panel.measures, name, world);
    let count = |name: &str| of(name).map(|v| spoken(v, Unit::Count));
    let arrowed = || Some(of("lines.count")? * of("arrows.shown").unwrap_or(0.0));
    words.fill(|slot| match slot {
        Slot::WrongArrows => count("arrows.wrong"),
        Slot::Crossings => count("meets.count"),
        Slot::OpenEnds => count("ends.open"),
        Slot::Lines => count("lines.count"),
        Slot::LikePoles => count("joins.wrong"),
        Slot::Dots => count("dots.count"),
        Slot::ArrowedLines => arrowed().map(|n| spoken(n, Unit::Count)),
        Slot::BareLines => Some(spoken(of("lines.count")? - arrowed()?, Unit::Count)),
        Slot::WorstAngleDeg => panel.worst_line.map(|(_, angle)| spoken(angle, Unit::Degrees)),
        Slot::Line => panel.worst_line.map(|(number, _)| number.to_string()),
        Slot::Value => own.and_then(|m| of(m.name).map(|v| spoken(v, m.unit))),
        Slot::Measure(m) => of(m.name).map(|v| spoken(v, m.unit)),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::measure::{ALL, Measured, WORLDS};
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
        PanelMeasures { id: "A".into(), measures: measures.collect(), shifts: None }
    }

    fn basics() -> Rubric {
        Rubric::parse(Path::new("basics.yaml"), include_str!("../../rubrics/basics.yaml"), &["A"]).unwrap()
    }

    fn one(page: &PanelMeasures, column: &str) -> CriterionMark {
        let facts = PanelFacts { measures: page, worst_line: Some((3, 31.4)) };
        basics().mark(&[facts]).criteria.into_iter().find(|m| m.column == column).unwrap()
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
        assert_eq!(mark.say, "Lines with an arrow the wrong way round: 2, ringed on the drawing.");
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
            "Lines with an arrow the wrong way round: 2, ringed on the drawing."
        );
    }

    #[test]
    fn each_panel_is_marked_by_itself() {
        let text =
            include_str!("../../rubrics/basics.yaml").replace("    marks: ", "    panel: each\n    marks: ");
        let rubric = Rubric::parse(Path::new("r.yaml"), &text, &["A", "B"]).unwrap();
        let (a, mut b) = (page(&[]), page(&[("lines.count", &|_| Some(8.0))]));
        b.id = "B".into();
        let facts = [&a, &b].map(|measures| PanelFacts { measures, worst_line: None });
        let marks = rubric.mark(&facts).criteria;
        let columns: Vec<String> = marks.iter().map(|m| m.column.clone()).collect();
        assert_eq!(columns, rubric.columns(&["A", "B"]).iter().map(|(c, _)| c.clone()).collect::<Vec<_>>());
        assert_eq!(rubric.out_of(&["A", "B"]), 22.0);
        let meeting: Vec<_> =
            marks.iter().filter(|m| m.column.starts_with("meeting")).map(|m| m.marks).collect();
        assert_eq!(meeting, [Some(0.0), Some(2.0)]);
    }
}
