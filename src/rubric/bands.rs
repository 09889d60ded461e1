//! Conditions on measures and what they earn: needs, bands, combinations, caps.

use super::parse::{Context, read_if_empty};
use super::speech::read_words;
use super::words::Slot;
use super::{Band, Cap, Condition, Given, Need, Part, Range, check};
use crate::measure::{ALL, Measure};
use crate::problem::suggest;
use crate::problem::yaml::{At, Fields};

/// Most needs, conditions of a kind, bands, parts and caps: more fit nobody's head.
const MAX_NEEDS: usize = 12;
const MAX_BANDS: usize = 20;
const MAX_PARTS: usize = 6;
const MAX_CAPS: usize = 6;
const LIMITS: [&str; 4] = ["at_least", "at_most", "above", "below"];

/// A criterion's full marks, and where they are written.
#[derive(Clone, Copy)]
pub(super) struct Full<'a> {
    pub marks: f64,
    pub at: &'a At<'a>,
}

fn names() -> Vec<&'static str> {
    ALL.iter().map(|m| m.name).collect()
}

fn read_measure(at: &At) -> Option<&'static Measure> {
    let name = at.text()?;
    let found = ALL.iter().find(|m| m.name == name);
    if found.is_none() {
        at.problem(format!("no measure is called \"{name}\""), suggest(name, &names()));
    }
    found
}

/// A measure named by a key.
fn keyed_measure(name: &str, at: &At) -> Option<&'static Measure> {
    let measure = ALL.iter().find(|m| m.name == name);
    if measure.is_none() {
        at.problem_at_key(format!("no measure is called \"{name}\""), suggest(name, &names()));
    }
    measure
}

pub(super) fn read_needs(at: &At, full: Option<Full>, context: &Context) -> Option<Vec<Need>> {
    let entries = at.entries()?;
    if entries.len() > MAX_NEEDS {
        at.problem(format!("{} needs", entries.len()), format!("give at most {MAX_NEEDS}"));
    }
    let needs: Vec<Option<Need>> =
        entries.iter().take(MAX_NEEDS).map(|(name, item)| read_need(name, item, full, context)).collect();
    needs.into_iter().collect()
}

fn read_need(name: &str, at: &At, full: Option<Full>, context: &Context) -> Option<Need> {
    let measure = keyed_measure(name, at);
    let mut known = LIMITS.to_vec();
    known.extend(["else_marks", "say"]);
    let keys = at.fields(&known)?;
    let range = read_range(&keys, measure);
    if range.is_some_and(|r| r.is_open()) && keys.all_known() {
        at.problem("nothing is needed here", "add at_least, at_most, above or below");
    }
    let otherwise = read_given(&keys, "else_marks", full, context);
    Some(Need { condition: Condition { measure: measure?, range: range? }, otherwise: otherwise? })
}

/// `{ meets.count: { at_most: 0 }, ... }`
fn read_conditions(at: &At) -> Option<Vec<Condition>> {
    let entries = at.entries()?;
    if entries.is_empty() || entries.len() > MAX_NEEDS {
        at.problem(format!("{} conditions", entries.len()), format!("give 1 to {MAX_NEEDS}"));
        return None;
    }
    let one = |(name, item): &(&str, At)| {
        let measure = keyed_measure(name, item);
        let keys = item.fields(&LIMITS)?;
        let range = read_range(&keys, measure)?;
        if range.is_open() && keys.all_known() {
            item.problem("a condition without a limit", "add at_least, at_most, above or below");
            return None;
        }
        Some(Condition { measure: measure?, range })
    };
    let conditions: Vec<Option<Condition>> = entries.iter().map(one).collect();
    conditions.into_iter().collect()
}

/// A criterion's one part, or those of `lowest_of`.
pub(super) fn read_parts(keys: &Fields, full: Option<Full>, context: &Context) -> Option<Vec<Part>> {
    let Some(at) = keys.get("lowest_of") else {
        return Some(vec![read_part(keys, full, context)?]);
    };
    for key in ["measure", "bands", "if_empty"] {
        if let Some(other) = keys.get(key) {
            other.problem_at_key(format!("{key} beside lowest_of"), "keep one of the two");
            return None;
        }
    }
    let items = at.items()?;
    if items.len() < 2 || items.len() > MAX_PARTS {
        at.problem(format!("{} parts", items.len()), format!("give 2 to {MAX_PARTS}"));
        return None;
    }
    let one = |item: &At| read_part(&item.fields(&["measure", "bands", "if_empty"])?, full, context);
    let parts: Vec<Option<Part>> = items.iter().map(one).collect();
    parts.into_iter().collect()
}

fn read_part(keys: &Fields, full: Option<Full>, context: &Context) -> Option<Part> {
    let bands_at = keys.need("bands", "add bands: the values and what they earn");
    let combined = bands_at.is_some_and(is_combined);
    let measure = match keys.get("measure") {
        Some(at) => Some(read_measure(at)),
        None if combined => None,
        None => {
            keys.need("measure", "add measure: and the name of a measure");
            Some(None)
        }
    };
    let bands = bands_at.and_then(|b| read_bands(b, full, measure, context));
    let if_empty = match keys.get("if_empty") {
        Some(at) => Some(read_if_empty(at, full, context)?),
        None => None,
    };
    let measure = match measure {
        Some(measure) => Some(measure?),
        None => None,
    };
    let bands = bands?;
    // One that comes from the rubric that this extends does no harm, and cannot be mended here.
    if let Some(at) = keys.get("if_empty").filter(|at| at.is_beside(keys.at())) {
        let conditions = bands.iter().flat_map(|b| b.all_of.iter().chain(&b.any_of)).map(|c| c.measure);
        let mut used: Vec<&Measure> = measure.into_iter().chain(conditions).collect();
        used.retain(|m| !m.empty.is_empty());
        if used.is_empty() {
            let what = measure.map_or("every measure here".to_string(), |m| m.name.to_string());
            at.problem_at_key(format!("{what} always has a value"), "remove if_empty");
        }
    }
    Some(Part { measure, bands, if_empty })
}

/// Whether any band combines several measures.
fn is_combined(at: &At) -> bool {
    let has = |item: &At| {
        item.is_group()
            && item.entries().unwrap_or_default().iter().any(|(key, _)| ["all_of", "any_of"].contains(key))
    };
    at.is_list() && at.items().unwrap_or_default().iter().any(has)
}

fn read_bands(
    at: &At,
    full: Option<Full>,
    measure: Option<Option<&'static Measure>>,
    context: &Context,
) -> Option<Vec<Band>> {
    let items = at.items()?;
    if items.is_empty() || items.len() > MAX_BANDS {
        at.problem(format!("{} bands", items.len()), format!("give 1 to {MAX_BANDS}"));
    }
    let read: Vec<Option<Band>> =
        items.iter().take(MAX_BANDS).map(|item| read_band(item, full, measure, context)).collect();
    let bands = read.into_iter().collect::<Option<Vec<_>>>()?;
    if bands.iter().any(|b| !b.all_of.is_empty() || !b.any_of.is_empty()) {
        check::combined(at, &items, &bands);
    } else if let Some(Some(measure)) = measure {
        check::bands(at, &items, &bands, measure);
    }
    // A penalty must be able to take its most, any other criterion to give its most.
    if let Some(full) = full
        && !bands.iter().any(|band| band.given.marks == full.marks)
    {
        let what = format!("no band gives the full marks, {}", full.marks);
        if full.at.is_beside(at) {
            at.problem(what, "let one band give them");
        } else {
            full.at
                .problem(what, "write bands: here too, or leave the marks of the rubric that this extends");
        }
    }
    Some(bands)
}

fn read_band(
    at: &At,
    full: Option<Full>,
    measure: Option<Option<&'static Measure>>,
    context: &Context,
) -> Option<Band> {
    let mut known = LIMITS.to_vec();
    known.extend(["all_of", "any_of", "otherwise", "marks", "say"]);
    let keys = at.fields(&known)?;
    if measure.is_none()
        && let Some(limit) = LIMITS.iter().find_map(|key| keys.get(key))
    {
        limit.problem_at_key(
            "a limit, but the criterion has no measure",
            "add measure:, or put it into all_of",
        );
        return None;
    }
    let range = read_range(&keys, measure.flatten());
    let conditions = |key: &str| match keys.get(key) {
        Some(at) => read_conditions(at),
        None => Some(Vec::new()),
    };
    let (all_of, any_of) = (conditions("all_of"), conditions("any_of"));
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
        let limited = !range.is_open() || keys.get("all_of").is_some() || keys.get("any_of").is_some();
        match (otherwise, limited) {
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
    let given = read_given(&keys, "marks", full, context);
    let range = range.filter(|_| keys.all_known())?;
    Some(Band { range, all_of: all_of?, any_of: any_of?, given: given? })
}

/// `- { while: { meets.count: { above: 0 } }, at_most_marks: 2, say: "..." }`; `of_total`: limits on the total, which
/// have no measure of their own.
pub(super) fn read_caps(at: &At, most: f64, of_total: bool, context: &Context) -> Option<Vec<Cap>> {
    let items = at.items()?;
    if items.len() > MAX_CAPS {
        at.problem(format!("{} caps", items.len()), format!("give at most {MAX_CAPS}"));
        return None;
    }
    let one = |item: &At| {
        let keys = item.fields(&["while", "at_most_marks", "say"])?;
        let conditions = keys
            .need("while", "add while: and what must hold, as { meets.count: { above: 0 } }")
            .and_then(read_conditions);
        let at_most = keys
            .need("at_most_marks", "add at_most_marks: and the most that is then given")
            .and_then(|m| m.number_in(0.0..=most, "marks"));
        let say = keys.need("say", "add say: and the words to the student").and_then(|s| {
            let words = read_words(s, &context.speech)?;
            if of_total && words.has(Slot::Value) {
                s.problem("{value} stands for a criterion's measure: the total has none", "name the measure");
            }
            Some(words)
        });
        Some(Cap { conditions: conditions?, at_most: at_most?, say: say? })
    };
    let caps: Vec<Option<Cap>> = items.iter().map(one).collect();
    caps.into_iter().collect()
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

/// Marks between none and the full marks, and words.
pub(super) fn read_given(
    keys: &Fields,
    marks_key: &str,
    full: Option<Full>,
    context: &Context,
) -> Option<Given> {
    let marks_at = keys.need(marks_key, &format!("add {marks_key}: and the marks given"));
    let most = full.map_or(super::parse::MAX_MARKS, |f| f.marks);
    let range = most.min(0.0)..=most.max(0.0);
    let marks = marks_at.and_then(|m| match full.filter(|f| !f.at.is_beside(m)) {
        // The one who wrote the full marks did not write these, and cannot mend them.
        Some(full) => m.number().filter(|marks| range.contains(marks)).or_else(|| {
            let what = format!("the rubric that this extends gives other marks than {most}");
            full.at.problem(what, "write bands: here too, or leave the marks as they are there");
            None
        }),
        None => m.number_in(range, "marks"),
    });
    let say = keys
        .need("say", "add say: and the words to the student")
        .and_then(|at| read_words(at, &context.speech));
    Some(Given { marks: marks?, say: say? })
}
