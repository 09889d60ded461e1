//! rubric.yaml to a checked [`Rubric`]: every key read with its place, all problems told at once.

use super::bands::{Full, read_caps, read_given, read_needs, read_parts};
use super::speech::{Speech, read_line};
use super::{Criterion, Grade, Kind, PanelChoice, Rounding, Rubric, TotalRule, Weights, chain};
use crate::problem::yaml::{At, Document, Fields};
use crate::problem::{Problem, one_of};
use std::path::Path;

/// What is `look` where the rubric does not say.
const LOOK_BELOW: f64 = 0.9;
/// Most marks of one criterion: a slip of the keyboard, not a mark scheme, gives more.
pub(super) const MAX_MARKS: f64 = 100.0;
/// Longest title, characters: it stands above a column or a page.
const MAX_TITLE_CHARS: usize = 120;
/// Longest name of a grade, characters: it is a cell of a table.
const MAX_GRADE_CHARS: usize = 24;
/// Most criteria and grades: more fit no marks table.
const MAX_CRITERIA: usize = 40;
const MAX_GRADES: usize = 20;
/// Greatest weight, and greatest total: beyond lies a slip of the keyboard.
const MAX_WEIGHT: f64 = 20.0;
const MAX_TOTAL: f64 = 1000.0;
/// The other columns of marks.csv, which no criterion may be called.
const RESERVED: [&str; 10] =
    ["code", "name", "status", "total", "out_of", "percent", "flags", "feedback", "source", "grade"];
/// Keys of a rubric.
pub(super) const TOP_KEYS: [&str; 10] = [
    "rubric",
    "extends",
    "title",
    "language",
    "look_below",
    "criteria",
    "caps",
    "total",
    "grades",
    "words_only",
];
/// Keys of a criterion.
pub(super) const CRITERION_KEYS: [&str; 13] = [
    "id",
    "title",
    "marks",
    "kind",
    "panel",
    "weight",
    "weights",
    "measure",
    "needs",
    "bands",
    "if_empty",
    "lowest_of",
    "caps",
];

/// What the reader of a rubric knows beforehand.
pub(super) struct Context<'a> {
    /// The sheet's panels; empty where the sheet is not known: every panel is then taken to be there.
    pub panels: &'a [&'a str],
    pub speech: Speech,
}

impl Rubric {
    /// Reads and checks rubric.yaml for a sheet with these panels (none: the sheet is not known), with the
    /// words in a language where one is asked for.
    ///
    /// # Errors
    /// All problems found, in the order of their places.
    pub fn load(path: &Path, panels: &[&str], language: Option<&str>) -> Result<Self, Vec<Problem>> {
        let document = Document::read(path).map_err(|problem| vec![problem])?;
        Self::read(document, path, panels, language)
    }

    /// As [`Rubric::load`], from text; files that it extends are looked for beside `path`.
    ///
    /// # Errors
    /// As [`Rubric::load`].
    pub fn parse(path: &Path, text: &str, panels: &[&str]) -> Result<Self, Vec<Problem>> {
        let document = Document::parse(path, text).map_err(|problem| vec![problem])?;
        Self::read(document, path, panels, None)
    }

    fn read(
        document: Document,
        path: &Path,
        panels: &[&str],
        language: Option<&str>,
    ) -> Result<Self, Vec<Problem>> {
        let documents = chain::read(document, path)?;
        let context = Context { panels, speech: Speech::new(language) };
        let rubric = read_rubric(&documents, &context);
        let unspoken = |wanted: &str, known: &[String]| {
            let fix = match known {
                [] => "its words are in one language only: leave --language out".to_string(),
                known => {
                    format!("choose {}", one_of(&known.iter().map(String::as_str).collect::<Vec<_>>()))
                }
            };
            vec![Problem::of_file(path, format!("has no words in {wanted}"), fix)]
        };
        // Else every sentence of the rubric would be a problem of its own.
        if let Some(wanted) = language.filter(|_| context.speech.is_foreign()) {
            return Err(unspoken(wanted, &context.speech.offered()));
        }
        let rubric = Document::finish_all(documents, rubric)?;
        if let Some(wanted) = language
            && !rubric.languages.iter().any(|l| l == wanted)
        {
            return Err(unspoken(wanted, &rubric.languages));
        }
        Ok(rubric)
    }
}

fn read_rubric(documents: &[Document], context: &Context) -> Option<Rubric> {
    let keys = chain::top(documents)?;
    keys.version("rubric");
    if let Some(at) = keys.get("language") {
        context.speech.set_default(at);
    }
    let title = keys.need("title", "add title:").and_then(|t| read_line(t, MAX_TITLE_CHARS, &context.speech));
    let look_below = match keys.get("look_below") {
        Some(at) => at.number_in(0.0..=1.0, ""),
        None => Some(LOOK_BELOW),
    };
    let at = keys.need("criteria", "add criteria: with at least one criterion")?;
    let (items, whole) = chain::criteria(documents)?;
    if items.is_empty() && whole || items.len() > MAX_CRITERIA {
        at.problem(format!("{} criteria", items.len()), format!("give 1 to {MAX_CRITERIA}"));
    }
    let criteria: Vec<Option<Criterion>> =
        items.iter().take(MAX_CRITERIA).map(|fields| read_criterion(fields, context)).collect();
    let criteria = criteria.into_iter().collect::<Option<Vec<_>>>();
    let caps = match keys.get("caps") {
        Some(at) if is_none(at) => Some(Vec::new()),
        Some(at) => read_caps(at, MAX_TOTAL, true, context),
        None => Some(Vec::new()),
    };
    if criteria.as_ref().is_some_and(|c| !c.is_empty() && c.iter().all(|c| c.kind != Kind::Ordinary)) {
        let fix = "add one that is neither bonus nor penalty: the total is out of its marks";
        at.problem("no criterion gives ordinary marks", fix);
    }
    let known = criteria.as_ref().filter(|_| !context.panels.is_empty());
    let most = known.map(|criteria| super::full_marks(criteria, context.panels));
    let total = match keys.get("total") {
        Some(at) => read_total(at, most),
        None => Some(TotalRule::default()),
    };
    let grades = match keys.get("grades") {
        Some(at) if is_none(at) => Some(Vec::new()),
        Some(at) => read_grades(at, &context.speech),
        None => Some(Vec::new()),
    };
    let words_only = keys.get("words_only").is_some_and(|at| at.flag().unwrap_or_default());
    Some(Rubric {
        title: title?,
        look_below: look_below?,
        criteria: criteria?,
        caps: caps?,
        total: total?,
        grades: grades?,
        words_only,
        languages: context.speech.offered(),
        language: context.speech.language(),
        hash: hash(documents),
    })
}

fn hash(documents: &[Document]) -> String {
    use sha2::Digest;
    match documents {
        [one] => one.hash(),
        several => {
            let hashes: Vec<String> = several.iter().map(Document::hash).collect();
            sha2::Sha256::digest(hashes.join("\n")).iter().map(|byte| format!("{byte:02x}")).collect()
        }
    }
}

fn read_criterion(keys: &Fields, context: &Context) -> Option<Criterion> {
    let id = keys.need("id", "add id: and a short name of a-z, 0-9 and -").and_then(read_id);
    let title = keys
        .need("title", "add title: and what is judged")
        .and_then(|t| read_line(t, MAX_TITLE_CHARS, &context.speech));
    let kind = match keys.get("kind") {
        Some(at) => {
            at.word(&["bonus", "penalty"]).map(|w| if w == "bonus" { Kind::Bonus } else { Kind::Penalty })
        }
        None => Some(Kind::Ordinary),
    };
    let marks_at = keys.need("marks", "add marks: and the full marks");
    let marks = marks_at.and_then(|at| read_marks(at, kind?));
    let full = marks_at.zip(marks).map(|(at, marks)| Full { marks, at });
    let panel = read_panel(keys, context.panels);
    let weights = read_weights(keys, panel.as_ref(), context.panels);
    let needs = match keys.get("needs") {
        Some(at) => read_needs(at, full, context),
        None => Some(Vec::new()),
    };
    let parts = read_parts(keys, full, context);
    let caps = match keys.get("caps") {
        Some(at) if is_none(at) => Some(Vec::new()),
        Some(at) if kind == Some(Kind::Penalty) => {
            at.problem_at_key("a penalty cannot be capped", "remove caps");
            None
        }
        Some(at) => read_caps(at, marks.unwrap_or(MAX_MARKS), false, context),
        None => Some(Vec::new()),
    };
    Some(Criterion {
        id: id?,
        title: title?,
        marks: marks?,
        kind: kind?,
        panel: panel?,
        weights: weights?,
        needs: needs?,
        parts: parts?,
        caps: caps?,
        tolerance: 1.0,
    })
}

/// Full marks: above 0, or below for a penalty.
fn read_marks(at: &At, kind: Kind) -> Option<f64> {
    let marks = match kind {
        Kind::Penalty => at.number_in(-MAX_MARKS..=0.0, "marks")?,
        _ => at.number_in(0.0..=MAX_MARKS, "marks")?,
    };
    if marks == 0.0 {
        let fix = if kind == Kind::Penalty { "less than 0" } else { "more than 0" };
        at.problem("a criterion without marks", format!("write {fix}, or remove the criterion"));
        return None;
    }
    Some(marks)
}

pub(super) fn read_id(at: &At) -> Option<String> {
    let text = at.text()?;
    let fine = (2..=24).contains(&text.len())
        && text.bytes().all(|b| b.is_ascii_lowercase() || b.is_ascii_digit() || b == b'-');
    if !fine {
        at.problem(format!("\"{text}\" is no id"), "write 2 to 24 of a-z, 0-9 and -");
        return None;
    }
    if RESERVED.contains(&text) {
        at.problem(format!("marks.csv has a column {text} already"), "give the criterion another id");
    }
    Some(text.to_string())
}

/// Whether the sheet has a panel; records a problem where not. Where the sheet is not known every one is there.
fn known_panel(at: &At, id: &str, panels: &[&str]) -> bool {
    let fine = panels.is_empty() || panels.contains(&id);
    if !fine {
        let fix = format!("write each, or one of {}", panels.join(", "));
        at.problem(format!("worksheet.yaml has no panel \"{id}\""), fix);
    }
    fine
}

fn read_panel(keys: &Fields, panels: &[&str]) -> Option<PanelChoice> {
    let Some(at) = keys.get("panel") else {
        if panels.len() > 1 {
            let fix = format!("add panel: each, or panel: and one of {}", panels.join(", "));
            keys.at().problem("the sheet has several panels", fix);
            return None;
        }
        return Some(PanelChoice::Only);
    };
    if !at.is_text() {
        let items = at.items()?;
        let mut ids = Vec::new();
        for item in &items {
            let id = item.text()?;
            if !known_panel(item, id, panels) {
                return None;
            }
            if ids.iter().any(|known| known == id) {
                item.problem("the panel stands here twice", "remove one of the two");
                return None;
            }
            ids.push(id.to_string());
        }
        if ids.is_empty() {
            at.problem("no panel", "name one at least");
            return None;
        }
        return Some(PanelChoice::Some(ids));
    }
    let text = at.text()?;
    if text == "each" {
        return Some(if panels.len() == 1 { PanelChoice::Only } else { PanelChoice::Each });
    }
    known_panel(at, text, panels).then(|| PanelChoice::One(text.to_string()))
}

/// Whether an empty list stands here: so a rubric takes off what the one that it extends gives.
fn is_none(at: &At) -> bool {
    at.is_list() && at.items().is_some_and(|items| items.is_empty())
}

fn read_weights(keys: &Fields, chosen: Option<&PanelChoice>, panels: &[&str]) -> Option<Weights> {
    let read = |at: &At| {
        let weight = at.number_in(0.0..=MAX_WEIGHT, "")?;
        if weight == 0.0 {
            at.problem("a weight of 0", "write more than 0, or remove the criterion");
            return None;
        }
        Some(weight)
    };
    let all = match keys.get("weight") {
        Some(at) => read(at)?,
        None => 1.0,
    };
    let mut weights = Weights { all, panels: Vec::new() };
    if let Some(at) = keys.get("weights") {
        for (id, item) in at.entries()? {
            if !known_panel(&item, id, panels) {
                return None;
            }
            let looked_at = match chosen {
                Some(PanelChoice::One(one)) => one == id,
                Some(PanelChoice::Some(ids)) => ids.iter().any(|known| known == id),
                _ => true,
            };
            if !looked_at {
                item.problem_at_key(
                    format!("a weight for panel {id}, which the criterion does not look at"),
                    "remove it, or name the panel under panel:",
                );
                return None;
            }
            weights.panels.push((id.to_string(), read(&item)?));
        }
    }
    Some(weights)
}

/// `most`: what the total is out of where the rubric does not say, if that is known.
fn read_total(at: &At, most: Option<f64>) -> Option<TotalRule> {
    let keys = at.fields(&["out_of", "round_to", "rounding", "above_full"])?;
    // The outer `None`: a problem was recorded.
    let positive = |key: &str, most: f64| match keys.get(key) {
        Some(at) => match at.number_in(0.0..=most, "")? {
            0.0 => {
                at.problem("0 is too little", "write more than 0");
                None
            }
            number => Some(Some(number)),
        },
        None => Some(None),
    };
    let (out_of, round_to) = (positive("out_of", MAX_TOTAL), positive("round_to", MAX_MARKS));
    if let (Some(Some(step)), Some(most)) = (round_to, out_of.and_then(|o| o.or(most)))
        && let Some(at) = keys.get("round_to").filter(|_| step > most)
    {
        let what = format!("steps of {step}, but the total is out of {most}: every total would be the same");
        at.problem(what, "write a smaller step, as 0.5 or 1");
    }
    let rounding = match keys.get("rounding") {
        Some(at) => at.word(&["nearest", "up", "down"]).map(|word| match word {
            "up" => Rounding::Up,
            "down" => Rounding::Down,
            _ => Rounding::Nearest,
        }),
        None => Some(Rounding::Nearest),
    };
    if let (Some(at), None) = (keys.get("rounding"), keys.get("round_to")) {
        at.problem_at_key("rounding without a step", "add round_to:, as 0.5 or 1");
    }
    let above_full = match keys.get("above_full") {
        Some(at) => at.flag(),
        None => Some(false),
    };
    Some(TotalRule { out_of: out_of?, round_to: round_to?, rounding: rounding?, above_full: above_full? })
}

fn read_grades(at: &At, speech: &Speech) -> Option<Vec<Grade>> {
    let items = at.items()?;
    if items.len() > MAX_GRADES {
        at.problem(format!("{} grades", items.len()), format!("give at most {MAX_GRADES}"));
    }
    let one = |item: &At| {
        let keys = item.fields(&["name", "at_least"])?;
        let name = keys
            .need("name", "add name: and what the grade is called")
            .and_then(|n| read_line(n, MAX_GRADE_CHARS, speech));
        let least = keys
            .need("at_least", "add at_least: and the least per cent of the total")
            .and_then(|l| l.number_in(0.0..=100.0, "per cent"));
        Some(Grade { name: name?, at_least_percent: least? })
    };
    let read: Vec<Option<Grade>> = items.iter().take(MAX_GRADES).map(one).collect();
    for (n, (item, grade)) in items.iter().zip(&read).enumerate() {
        let Some(grade) = grade else { continue };
        let before = || read[..n].iter().flatten();
        if before().last().is_some_and(|b| b.at_least_percent <= grade.at_least_percent) {
            item.problem("no total reaches this grade", "put the highest grade first");
        }
        if before().any(|b| b.name == grade.name) {
            item.problem(format!("another grade is called {}", grade.name), "give each its own name");
        }
    }
    let grades: Vec<Grade> = read.into_iter().collect::<Option<_>>()?;
    if grades.last().is_some_and(|last| last.at_least_percent > 0.0) {
        at.problem("the lowest totals have no grade", "end the grades with one of at_least: 0");
    }
    Some(grades)
}

/// What an empty measure gives.
pub(super) fn read_if_empty(at: &At, full: Option<Full>, context: &Context) -> Option<super::Given> {
    read_given(&at.fields(&["marks", "say"])?, "marks", full, context)
}
