//! rubric.yaml to a checked [`Rubric`]: every key read with its place, all problems told at once.

use super::{Band, Criterion, Given, Need, PanelChoice, Range, Rubric, Words, check};
use crate::measure::{ALL, Measure};
use crate::problem::Problem;
use crate::problem::suggest;
use crate::problem::yaml::{At, Document, Fields};
use std::path::Path;

/// What is `look` where the rubric does not say.
const LOOK_BELOW: f64 = 0.9;
/// Most marks of one criterion: a slip of the keyboard, not a mark scheme, gives more.
const MAX_MARKS: f64 = 100.0;
/// Longest words to a student and longest title, characters: they are read on one page.
const MAX_SAY_CHARS: usize = 500;
const MAX_TITLE_CHARS: usize = 120;
/// Most criteria, needs and bands: more fit no marks table.
const MAX_CRITERIA: usize = 40;
const MAX_NEEDS: usize = 12;
const MAX_BANDS: usize = 20;
/// The other columns of marks.csv, which no criterion may be called.
const RESERVED: [&str; 9] =
    ["code", "name", "status", "total", "out_of", "percent", "flags", "feedback", "source"];
const LIMITS: [&str; 4] = ["at_least", "at_most", "above", "below"];

impl Rubric {
    /// Reads and checks rubric.yaml for a sheet with these panels.
    ///
    /// # Errors
    /// All problems found, in the order of their places.
    pub fn load(path: &Path, panels: &[&str]) -> Result<Self, Vec<Problem>> {
        let document = Document::read(path).map_err(|problem| vec![problem])?;
        let rubric = read_rubric(&document, panels);
        document.finish(rubric)
    }

    /// As [`Rubric::load`], from text; `path` is only named.
    ///
    /// # Errors
    /// As [`Rubric::load`].
    pub fn parse(path: &Path, text: &str, panels: &[&str]) -> Result<Self, Vec<Problem>> {
        let document = Document::parse(path, text).map_err(|problem| vec![problem])?;
        let rubric = read_rubric(&document, panels);
        document.finish(rubric)
    }
}

fn read_rubric(document: &Document, panels: &[&str]) -> Option<Rubric> {
    let keys = document.root().fields(&["rubric", "title", "look_below", "criteria"])?;
    keys.version("rubric");
    let title = keys.need("title", "add title:").and_then(|t| line(t, MAX_TITLE_CHARS));
    let look_below = match keys.get("look_below") {
        Some(at) => at.number_in(0.0..=1.0, ""),
        None => Some(LOOK_BELOW),
    };
    let at = keys.need("criteria", "add criteria: with at least one criterion")?;
    let items = at.items()?;
    if items.is_empty() || items.len() > MAX_CRITERIA {
        at.problem(format!("{} criteria", items.len()), format!("give 1 to {MAX_CRITERIA}"));
    }
    let mut ids: Vec<String> = Vec::new();
    let criteria: Vec<Option<Criterion>> =
        items.iter().take(MAX_CRITERIA).map(|item| read_criterion(item, panels, &mut ids)).collect();
    let criteria = criteria.into_iter().collect::<Option<Vec<_>>>();
    Some(Rubric { title: title?, look_below: look_below?, criteria: criteria?, hash: document.hash() })
}

fn read_criterion(at: &At, panels: &[&str], ids: &mut Vec<String>) -> Option<Criterion> {
    let known = ["id", "title", "marks", "measure", "panel", "needs", "bands", "if_empty"];
    let keys = at.fields(&known)?;
    let id = keys.need("id", "add id: and a short name of a-z, 0-9 and -").and_then(|i| read_id(i, ids));
    let title = keys.need("title", "add title: and what is judged").and_then(|t| line(t, MAX_TITLE_CHARS));
    let marks_at = keys.need("marks", "add marks: and the full marks");
    let marks = marks_at.and_then(|m| m.number_in(0.0..=MAX_MARKS, "marks"));
    if let (Some(at), Some(0.0)) = (marks_at, marks) {
        at.problem("a criterion without marks", "write more than 0, or remove the criterion");
    }
    let measure = keys
        .need("measure", "add measure: and the name of a measure")
        .and_then(|m| Some((m, read_measure(m, m.text()?)?)));
    let panel = read_panel(&keys, panels);
    let needs = match keys.get("needs") {
        Some(at) => read_needs(at, marks),
        None => Some(Vec::new()),
    };
    let bands_at = keys.need("bands", "add bands: the values and what they earn");
    let bands = bands_at.and_then(|b| read_bands(b, marks, measure.as_ref().map(|(_, m)| *m)));
    let if_empty = match keys.get("if_empty") {
        Some(at) => Some(read_given(&at.fields(&["marks", "say"])?, "marks", marks)?),
        None => None,
    };
    if let (Some((_, measure)), Some(at)) = (&measure, keys.get("if_empty"))
        && measure.empty.is_empty()
    {
        at.problem_at_key(format!("{} always has a value", measure.name), "remove if_empty");
    }
    let (measure, marks) = (measure?.1, marks?);
    Some(Criterion {
        id: id?,
        title: title?,
        marks,
        measure,
        panel: panel?,
        needs: needs?,
        bands: bands?,
        if_empty,
    })
}

fn read_id(at: &At, ids: &mut Vec<String>) -> Option<String> {
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
    if ids.iter().any(|id| id == text) {
        at.problem(format!("another criterion is called {text}"), "give each its own id");
    }
    ids.push(text.to_string());
    Some(text.to_string())
}

fn line(at: &At, max_chars: usize) -> Option<String> {
    let text = at.text()?.trim();
    let count = text.chars().count();
    if count == 0 || count > max_chars {
        at.problem(format!("{count} characters"), format!("write 1 to {max_chars}"));
        return None;
    }
    Some(text.split_whitespace().collect::<Vec<_>>().join(" "))
}

fn read_measure(at: &At, name: &str) -> Option<&'static Measure> {
    let found = ALL.iter().find(|m| m.name == name);
    if found.is_none() {
        let names: Vec<&str> = ALL.iter().map(|m| m.name).collect();
        at.problem(format!("no measure is called \"{name}\""), suggest(name, &names));
    }
    found
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
    let text = at.text()?;
    if text == "each" {
        return Some(if panels.len() > 1 { PanelChoice::Each } else { PanelChoice::Only });
    }
    if !panels.contains(&text) {
        let fix = format!("write each, or one of {}", panels.join(", "));
        at.problem(format!("worksheet.yaml has no panel \"{text}\""), fix);
        return None;
    }
    Some(PanelChoice::One(text.to_string()))
}

fn read_needs(at: &At, marks: Option<f64>) -> Option<Vec<Need>> {
    let entries = at.entries()?;
    if entries.len() > MAX_NEEDS {
        at.problem(format!("{} needs", entries.len()), format!("give at most {MAX_NEEDS}"));
    }
    let needs: Vec<Option<Need>> =
        entries.iter().take(MAX_NEEDS).map(|(name, item)| read_need(name, item, marks)).collect();
    needs.into_iter().collect()
}

fn read_need(name: &str, at: &At, marks: Option<f64>) -> Option<Need> {
    let names: Vec<&str> = ALL.iter().map(|m| m.name).collect();
    let measure = ALL.iter().find(|m| m.name == name);
    if measure.is_none() {
        at.problem_at_key(format!("no measure is called \"{name}\""), suggest(name, &names));
    }
    let mut known = LIMITS.to_vec();
    known.extend(["else_marks", "say"]);
    let keys = at.fields(&known)?;
    let range = read_range(&keys, measure);
    if let Some(range) = range
        && keys.all_known()
        && range.limits().next().is_none()
    {
        at.problem("nothing is needed here", "add at_least, at_most, above or below");
    }
    let otherwise = read_given(&keys, "else_marks", marks);
    Some(Need { measure: measure?, range: range?, otherwise: otherwise? })
}

fn read_bands(at: &At, marks: Option<f64>, measure: Option<&'static Measure>) -> Option<Vec<Band>> {
    let items = at.items()?;
    if items.is_empty() || items.len() > MAX_BANDS {
        at.problem(format!("{} bands", items.len()), format!("give 1 to {MAX_BANDS}"));
    }
    let read: Vec<Option<Band>> =
        items.iter().take(MAX_BANDS).map(|item| read_band(item, marks, measure)).collect();
    let bands = read.into_iter().collect::<Option<Vec<_>>>()?;
    if let Some(measure) = measure {
        check::bands(at, &items, &bands, measure);
    }
    if let Some(marks) = marks
        && !bands.iter().any(|band| band.given.marks == marks)
    {
        at.problem(format!("no band gives the full marks, {marks}"), "let one band give them");
    }
    Some(bands)
}

fn read_band(at: &At, marks: Option<f64>, measure: Option<&'static Measure>) -> Option<Band> {
    let mut known = LIMITS.to_vec();
    known.extend(["otherwise", "marks", "say"]);
    let keys = at.fields(&known)?;
    let range = read_range(&keys, measure);
    let otherwise = match keys.get("otherwise") {
        Some(at) => {
            if at.flag()? {
                true
            } else {
                at.problem("otherwise is either true or not there", "write true, or remove it");
                return None;
            }
        }
        None => false,
    };
    if let Some(range) = range.filter(|_| keys.all_known()) {
        match (otherwise, range.limits().next().is_some()) {
            (true, true) => {
                at.problem("otherwise beside a limit", "keep one of the two");
                return None;
            }
            (false, false) => {
                at.problem("a band without a limit", "add at_least, at_most, above, below or otherwise: true")
            }
            _ => {}
        }
    }
    let given = read_given(&keys, "marks", marks);
    Some(Band { range: range.filter(|_| keys.all_known())?, given: given? })
}

/// The limits among these keys; each must be a value that the measure can take.
fn read_range(keys: &Fields, measure: Option<&'static Measure>) -> Option<Range> {
    let mut fine = true;
    let mut limit = |key: &str| {
        let at = keys.get(key)?;
        let value = match measure {
            Some(m) => at.number().filter(|v| check::limit(at, *v, m)),
            None => at.number(),
        };
        fine &= value.is_some();
        value
    };
    let range = Range {
        at_least: limit("at_least"),
        at_most: limit("at_most"),
        above: limit("above"),
        below: limit("below"),
    };
    fine.then_some(range)
}

fn read_given(keys: &Fields, marks_key: &str, full: Option<f64>) -> Option<Given> {
    let marks_at = keys.need(marks_key, &format!("add {marks_key}: and the marks given"));
    let marks = marks_at.and_then(|m| match full {
        Some(full) => m.number_in(0.0..=full, "marks"),
        None => m.number_in(0.0..=MAX_MARKS, "marks"),
    });
    let say = keys.need("say", "add say: and the words to the student").and_then(|at| {
        let text = line(at, MAX_SAY_CHARS)?;
        Words::parse(&text).map_err(|(what, fix)| at.problem(what, fix)).ok()
    });
    Some(Given { marks: marks?, say: say? })
}
