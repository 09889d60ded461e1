//! Words in one language or several: which is read, and which are offered.

use super::Words;
use crate::problem::yaml::At;
use std::cell::RefCell;

/// Longest words to a student, characters: they are read on one page.
const MAX_SAY_CHARS: usize = 500;

/// The choice of a language while a rubric is read.
pub(super) struct Speech {
    wanted: Option<String>,
    default: RefCell<Option<String>>,
    /// The languages of each group of words.
    groups: RefCell<Vec<Vec<String>>>,
}

impl Speech {
    /// Reads the words in this language, where one is wanted.
    pub(super) fn new(wanted: Option<&str>) -> Self {
        Self { wanted: wanted.map(str::to_string), default: RefCell::default(), groups: RefCell::default() }
    }

    /// Takes the rubric's own word for the language that is read where none is wanted.
    pub(super) fn set_default(&self, at: &At) {
        if let Some(tag) = at.text()
            && check_tag(at, tag)
        {
            *self.default.borrow_mut() = Some(tag.to_string());
        }
    }

    /// The language read, where it is known.
    pub(super) fn language(&self) -> Option<String> {
        let first = || self.groups.borrow().first().and_then(|g| g.first().cloned());
        self.wanted.clone().or_else(|| self.default.borrow().clone()).or_else(first)
    }

    /// The languages that every group of words has, in the order of the first.
    pub(super) fn offered(&self) -> Vec<String> {
        let groups = self.groups.borrow();
        let Some((first, others)) = groups.split_first() else { return Vec::new() };
        first.iter().filter(|l| others.iter().all(|g| g.contains(l))).cloned().collect()
    }

    /// Whether there are words in several languages, none of them in the one that is wanted.
    pub(super) fn is_foreign(&self) -> bool {
        let groups = self.groups.borrow();
        self.wanted.as_ref().is_some_and(|w| !groups.is_empty() && groups.iter().all(|g| !g.contains(w)))
    }

    /// The text at a place that holds it in one language or in several; every one is checked.
    fn text(&self, at: &At, check: &dyn Fn(&At) -> Option<String>) -> Option<String> {
        if !at.is_group() {
            return check(at);
        }
        let entries = at.entries()?;
        if entries.is_empty() {
            at.problem("no words", "write a language and its words, as en: \"...\"");
            return None;
        }
        let mut found: Vec<(String, String)> = Vec::new();
        for (tag, item) in &entries {
            if !check_tag(item, tag) {
                return None;
            }
            found.push(((*tag).to_string(), check(item)?));
        }
        self.groups.borrow_mut().push(found.iter().map(|(tag, _)| tag.clone()).collect());
        let chosen = self.language();
        let of = |tag: &String| found.iter().find(|(known, _)| known == tag).map(|(_, text)| text.clone());
        match (chosen.as_ref().and_then(of), &chosen) {
            (Some(text), _) => Some(text),
            (None, Some(tag)) => {
                at.problem(format!("no words in {tag} here"), format!("add {tag}: and the words"));
                None
            }
            (None, None) => found.into_iter().next().map(|(_, text)| text),
        }
    }
}

/// Whether a key names a language as BCP 47 does: two or three letters, perhaps more after hyphens.
fn check_tag(at: &At, tag: &str) -> bool {
    let mut parts = tag.split('-');
    let head = parts.next().unwrap_or_default();
    let fine = (2..=3).contains(&head.len())
        && head.bytes().all(|b| b.is_ascii_lowercase())
        && parts.all(|p| (1..=8).contains(&p.len()) && p.bytes().all(|b| b.is_ascii_alphanumeric()));
    if !fine {
        at.problem_at_key(
            format!("\"{tag}\" names no language"),
            "write a language code, as en, de or pt-BR",
        );
    }
    fine
}

/// A line of text, in one language or several, of at most so many characters.
pub(super) fn read_line(at: &At, max_chars: usize, speech: &Speech) -> Option<String> {
    speech.text(at, &|at| line(at, max_chars))
}

/// Words to a student, in one language or several.
pub(super) fn read_words(at: &At, speech: &Speech) -> Option<Words> {
    let text = speech.text(at, &|at| {
        let text = line(at, MAX_SAY_CHARS)?;
        Words::parse(&text).map_err(|(what, fix)| at.problem(what, fix)).ok()?;
        Some(text)
    })?;
    Words::parse(&text).ok()
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
