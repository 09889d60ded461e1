//! What the plotted dots of a whole class have in common: no student's parallax, but the Earth's field, a stronger magnet,
//! or iron in the bench. It is taken off each student's `dots.shift_mm`.

use super::assign::Assignment;
use super::pages::Note;
use crate::measure::shift::class_step;
use std::collections::BTreeMap;

/// Writes the class's own step in each panel into its notes: the median over the pages that are marked, sheet by sheet.
pub fn settle(notes: &mut [Note], assignment: &Assignment) {
    let mut steps: BTreeMap<(usize, usize), Vec<[f64; 2]>> = BTreeMap::new();
    for note in assignment.pages.iter().filter_map(|pages| Some(&notes[*pages.last()?])) {
        for (panel, step) in note.steps.iter().enumerate() {
            steps.entry((note.sheet, panel)).or_default().extend(step);
        }
    }
    for note in notes {
        let of = |panel: usize| steps.get(&(note.sheet, panel)).map_or([0.0; 2], |s| class_step(s));
        note.class_steps = (0..note.steps.len()).map(of).collect();
    }
}
