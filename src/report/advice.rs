//! What was good, and the one thing to try next, from a student's marks and ideas.

use super::{Judged, MARK_SLACK, Status, Student};
use crate::ideas;

/// Most sentences of praise: the surest first would all say the same.
const MOST_GOOD: usize = 3;
/// One thing to try next.
pub(super) struct Next {
    pub sentence: String,
    /// Whether the rubric says it, in its language.
    pub in_rubrics_words: bool,
}

/// Whether a person should look at the page as a whole: then nothing read off it is worth praise or advice yet. A total or
/// a grade that is not sure leaves what is sure of the criteria as it is.
fn is_doubted(student: &Student) -> bool {
    !student.why.is_empty()
}

/// What is said where a criterion has full marks, that with most marks first; nothing that is left to a person.
pub(super) fn good(student: &Student) -> Vec<String> {
    if !matches!(student.status, Status::Proposed | Status::Look) || is_doubted(student) {
        return Vec::new();
    }
    let full = |j: &&Judged| {
        j.out_of > 0.0
            && j.marks.is_some_and(|m| m >= j.out_of - MARK_SLACK)
            && j.look.is_empty()
            && !j.say.is_empty()
    };
    let mut full: Vec<&Judged> = student.criteria.iter().filter(full).collect();
    full.sort_by(|a, b| b.out_of.total_cmp(&a.out_of));
    let mut sentences: Vec<String> = Vec::new();
    for (n, judged) in full.iter().enumerate() {
        if full[..n].iter().any(|before| before.say == judged.say) {
            continue;
        }
        let panels: Vec<&str> =
            full.iter().filter(|j| j.say == judged.say).filter_map(|j| j.panel.as_deref()).collect();
        let all = student.criteria.iter().filter(|j| criterion(j) == criterion(judged)).count();
        sentences.push(in_panels(&panels, all, &judged.say));
    }
    sentences.truncate(MOST_GOOD);
    sentences
}

/// A sentence about some of so many panels; what holds in every panel needs no panel named.
fn in_panels(panels: &[&str], all: usize, sentence: &str) -> String {
    match panels {
        [one] if all > 1 => format!("Panel {one}: {sentence}"),
        [first @ .., last] if !first.is_empty() && panels.len() < all => {
            format!("Panels {} and {last}: {sentence}", first.join(", "))
        }
        _ => sentence.to_string(),
    }
}

/// The id of the criterion, without a panel.
fn criterion(judged: &Judged) -> &str {
    judged.column.split('.').next().unwrap_or_default()
}

/// The idea that the drawing suggests, else what is said where most marks were lost; nothing that is left to a
/// person.
pub(super) fn next(student: &Student) -> Option<Next> {
    if is_doubted(student) {
        return None;
    }
    if let Some(idea) = student.ideas.iter().find_map(|found| ideas::by_id(&found.idea)) {
        let shown = student.ideas.iter().filter(|found| found.idea == idea.id);
        let shown: Vec<&str> = shown.map(|found| found.panel.as_str()).collect();
        let sentence = in_panels(&shown, student.panels.len(), idea.student);
        return Some(Next { sentence, in_rubrics_words: false });
    }
    let lost = |j: &Judged| match j.marks {
        Some(marks) if j.look.is_empty() && !j.say.is_empty() => j.out_of.max(0.0) - marks,
        _ => 0.0,
    };
    let most = student.criteria.iter().fold(None::<&Judged>, |best, j| match best {
        Some(b) if lost(b) >= lost(j) => Some(b),
        _ => Some(j),
    })?;
    let sentence = match &most.panel {
        Some(panel) => format!("Panel {panel}: {}", most.say),
        None => most.say.clone(),
    };
    (lost(most) > MARK_SLACK).then_some(Next { sentence, in_rubrics_words: true })
}
