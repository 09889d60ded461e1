//! The class's drawings together: who shows which idea, with examples.

use super::cache::Cache;
use super::class::Class;
use super::judge::{Verdict, load};
use super::output::sheets;
use super::pages::Note;
use crate::ideas;
use crate::measure::findings::IdeaRecord;
use crate::report;

/// Drawings shown for an idea.
const EXAMPLES: usize = 3;

/// A student's drawing as read.
pub struct Drawn {
    pub code: String,
    /// Which of the class's worksheets it is on.
    pub sheet: usize,
    pub panels: Vec<report::Sheet>,
    pub ideas: Vec<IdeaRecord>,
}

impl Drawn {
    /// Whether its magnets lie where the student put them: then it cannot be laid over other students' drawings.
    pub fn traced(&self) -> bool {
        self.panels.iter().any(|p| p.record.placed.is_some())
    }
}

/// The drawings of all students whose page was read.
pub fn class_drawings(class: &Class, cache: &Cache, notes: &[Note], verdicts: &[Verdict]) -> Vec<Drawn> {
    let one = |v: &Verdict| {
        let note = &notes[v.page?];
        let page = load(cache, note)?;
        let placed = page.panels(&class.sheets[note.sheet].worksheet);
        Some(Drawn {
            code: class.roster.students[v.student].code.clone(),
            sheet: note.sheet,
            panels: sheets(&placed, page.cached.findings.panels, &class.plans[v.student].rubric),
            ideas: v.ideas.clone(),
        })
    };
    verdicts.iter().filter_map(one).collect()
}

/// Ideas by how many drawings suggest them, with the surest drawings; equals in the order of the catalogue.
pub fn idea_shares(drawings: &[Drawn]) -> Vec<report::IdeaShare> {
    let share = |idea: &ideas::Idea| {
        let shows = |d: &Drawn| d.ideas.iter().filter(|i| i.idea == idea.id).map(|i| i.sure).reduce(f64::max);
        let mut who: Vec<(&Drawn, f64)> = drawings.iter().filter_map(|d| Some((d, shows(d)?))).collect();
        who.sort_by(|a, b| b.1.total_cmp(&a.1));
        let example = |(d, _): &(&Drawn, f64)| report::Example {
            code: d.code.clone(),
            feedback: Some(format!("feedback/{}.html", d.code)),
            panels: d.panels.clone(),
            shown_in: d.ideas.iter().filter(|i| i.idea == idea.id).map(|i| i.panel.clone()).collect(),
            at: d.ideas.iter().filter(|i| i.idea == idea.id).flat_map(|i| i.at_mm.clone()).collect(),
        };
        (!who.is_empty()).then(|| report::IdeaShare {
            title: idea.title.to_string(),
            teacher: idea.teacher.to_string(),
            source: idea.source.to_string(),
            count: who.len(),
            examples: who.iter().take(EXAMPLES).map(example).collect(),
        })
    };
    let mut shares: Vec<report::IdeaShare> = ideas::CATALOGUE.iter().filter_map(share).collect();
    shares.sort_by_key(|s| std::cmp::Reverse(s.count));
    shares
}
