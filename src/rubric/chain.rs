//! Rubrics that extend one another: the files, and their keys laid over each other.
//!
//! A key that a rubric gives replaces the same key of the rubric that it extends, whole; criteria are matched
//! by their id. Of `lowest_of` and `bands` with their measure the nearer one stands for both.

use super::parse::{CRITERION_KEYS, TOP_KEYS, read_id};
use super::{Rubric, ready};
use crate::problem::yaml::{At, Document, Fields};
use crate::problem::{Problem, nearest, suggest};
use std::path::{Path, PathBuf};

/// Most files in a chain: a standard, a department, a teacher, a class, a student.
const MAX_CHAIN: usize = 6;

impl Rubric {
    /// The criteria's ids of a rubric that may have problems elsewhere, so that a roster can be checked beside it. `None` where
    /// they cannot be told.
    pub fn criterion_ids(path: &Path) -> Option<Vec<String>> {
        let documents = read(Document::read(path).ok()?, path).ok()?;
        criteria(&documents)?.0.iter().map(|fields| read_id(fields.get("id")?)).collect()
    }
}

/// The files of a rubric, itself first, then what it extends.
///
/// # Errors
/// A file that cannot be read or is no YAML, a chain that is too long or runs in a circle.
pub(super) fn read(first: Document, path: &Path) -> Result<Vec<Document>, Vec<Problem>> {
    let mut chain = vec![first];
    let mut paths = vec![path.to_owned()];
    loop {
        let (document, here) = (&chain[chain.len() - 1], &paths[paths.len() - 1]);
        let next = match base(document, here, &paths) {
            Ok(next) => next,
            Err(()) => return Err(Document::finish_all::<()>(chain, None).unwrap_err()),
        };
        let Some((path, text)) = next else { return Ok(chain) };
        let read = match text {
            Some(text) => Document::parse(&path, text),
            None => Document::read(&path),
        };
        chain.push(read.map_err(|problem| vec![problem])?);
        paths.push(path);
    }
}

type Base = (PathBuf, Option<&'static str>);

/// What a rubric extends: its path, and its text where it is a ready one. A problem is recorded in it.
fn base(document: &Document, path: &Path, chain: &[PathBuf]) -> Result<Option<Base>, ()> {
    let root = document.root();
    if !root.is_group() {
        return Ok(None);
    }
    let entries = root.entries().unwrap_or_default();
    let Some((_, at)) = entries.into_iter().find(|(key, _)| *key == "extends") else { return Ok(None) };
    let Some(name) = at.text() else { return Err(()) };
    if chain.len() >= MAX_CHAIN {
        at.problem(
            format!("more than {MAX_CHAIN} rubrics extend one another"),
            "extend one nearer the beginning",
        );
        return Err(());
    }
    if !name.contains(['.', '/', '\\']) {
        let names: Vec<&str> = ready::ALL.iter().map(|r| r.name).collect();
        let Some(found) = ready::find(name) else {
            let what = format!("no ready rubric is called \"{name}\"");
            at.problem(what, format!("{}; or name a file, as department.yaml", suggest(name, &names)));
            return Err(());
        };
        return Ok(Some((PathBuf::from(format!("ready rubric {name}")), Some(found.text))));
    }
    let target = path.parent().unwrap_or(Path::new("")).join(name);
    let same = |other: &PathBuf| match (other.canonicalize(), target.canonicalize()) {
        (Ok(a), Ok(b)) => a == b,
        _ => *other == target,
    };
    if chain.iter().any(same) {
        at.problem("these rubrics extend one another in a circle", "remove extends from one of them");
        return Err(());
    }
    if !target.is_file() {
        let fix = "write its path as seen from this file, or the name of a ready rubric";
        at.problem(format!("there is no file {}", target.display()), fix);
        return Err(());
    }
    Ok(Some((target, None)))
}

/// The keys of the whole chain, the first file's over those of what it extends.
pub(super) fn top<'a>(chain: &'a [Document]) -> Option<Fields<'a>> {
    let levels = chain.iter().map(|d| d.root().fields(&TOP_KEYS)).collect::<Option<Vec<_>>>()?;
    levels.into_iter().reduce(|over, base| over.over(&base))
}

/// The criteria, each with its keys from the whole chain, in the order of the rubric furthest down; and whether none was left
/// out for a problem of its own.
pub(super) fn criteria<'a>(chain: &'a [Document]) -> Option<(Vec<Fields<'a>>, bool)> {
    let mut found: Vec<(String, Fields<'a>)> = Vec::new();
    let mut fine = true;
    for (level, document) in chain.iter().rev().enumerate() {
        let entries = document.root().entries()?;
        let Some((_, list)) = entries.into_iter().find(|(key, _)| *key == "criteria") else { continue };
        let mut here: Vec<String> = Vec::new();
        for item in list.items()? {
            fine &= merge(&item, level > 0, &mut found, &mut here).is_some();
        }
    }
    Some((found.into_iter().map(|(_, fields)| fields).collect(), fine))
}

fn merge<'a>(
    item: &At<'a>,
    extends: bool,
    found: &mut Vec<(String, Fields<'a>)>,
    here: &mut Vec<String>,
) -> Option<()> {
    let mut known = CRITERION_KEYS.to_vec();
    if extends {
        known.push("remove");
    }
    let fields = item.fields(&known)?;
    let id = match fields.get("id") {
        Some(at) => at.text()?.to_string(),
        // Told where the criterion is read.
        None => String::new(),
    };
    if !id.is_empty() && here.contains(&id) {
        fields.get("id")?.problem(format!("another criterion is called {id}"), "give each its own id");
        return None;
    }
    here.push(id.clone());
    let place = found.iter().position(|(known, _)| *known == id && !id.is_empty());
    if let Some(at) = fields.get("remove") {
        if !at.flag()? {
            at.problem("remove is either true or not there", "write true, or remove it");
            return None;
        }
        let Some(place) = place else {
            let names: Vec<&str> = found.iter().map(|(id, _)| id.as_str()).collect();
            at.problem(format!("the rubric that this extends has no criterion {id}"), suggest(&id, &names));
            return None;
        };
        found.remove(place);
        return Some(());
    }
    let names: Vec<&str> = found.iter().map(|(id, _)| id.as_str()).collect();
    if let (true, None, None, Some(name)) = (extends, place, fields.get("title"), nearest(&id, &names)) {
        let what = format!("the rubric that this extends has no criterion {id}, and a new one needs a title");
        fields.get("id")?.problem(what, format!("did you mean {name}?"));
        return None;
    }
    match place {
        Some(place) => found[place].1 = laid_over(fields, &found[place].1),
        None => found.push((id, fields)),
    }
    Some(())
}

/// A criterion's keys over those of the rubric that it extends. Who judges it otherwise need not mend what cannot stand beside.
fn laid_over<'a>(fields: Fields<'a>, base: &Fields<'a>) -> Fields<'a> {
    let gives = |key: &str| fields.get(key).is_some();
    let gone: &[&str] = match (gives("lowest_of"), gives("measure") || gives("bands")) {
        (true, false) => &["measure", "bands", "if_empty"],
        (false, true) => &["lowest_of"],
        _ => &[],
    };
    fields.over(&base.clone().without(gone))
}
