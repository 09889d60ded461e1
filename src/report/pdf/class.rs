//! class.pdf: what the class page says, for a meeting.

use super::PdfError;
use super::drawing::{density, density_height, examples, examples_height};
use super::paper::{Item, Paper, WORDS_EM_MM};
use crate::geometry::{Point, Rect};
use crate::print::lettering::Face;
use crate::report::class_page::{median, shares};
use crate::report::{ClassSet, IdeaShare, PROPOSAL, Row, Status, marks, plots, told, words};
use crate::rubric::Kind;

/// Room for a heading and a line of words.
const HEADING_KEEP_MM: f64 = 16.0;

/// The class on paper.
///
/// # Errors
/// In words: the font or a picture cannot be used.
pub fn class_pdf(set: &ClassSet) -> Result<Vec<u8>, PdfError> {
    let mut paper = Paper::new();
    paper.title(&set.worksheet);
    paper.paragraph(&format!(
        "{}, {} marks, {} students. {PROPOSAL}",
        set.rubric,
        marks(set.out_of),
        set.rows.len()
    ));
    let with = |status: Status| set.rows.iter().filter(|r| r.status == status).count();
    let totals: Vec<f64> = set.rows.iter().filter_map(|r| r.total).collect();
    let middle = median(&totals).map(|m| format!(" Median total: {}.", marks(m))).unwrap_or_default();
    paper.paragraph(&format!(
        "{} proposed, {} for a person to look at, {} cannot be read, {} without a page, {} excused.{middle}",
        with(Status::Proposed),
        with(Status::Look),
        with(Status::Unreadable),
        with(Status::Absent),
        with(Status::Excused)
    ));
    let people: Vec<&Row> =
        set.rows.iter().filter(|r| matches!(r.status, Status::Look | Status::Unreadable)).collect();
    paper.heading("Who needs a person");
    if people.is_empty() {
        paper.paragraph("Nobody: every mark was read surely enough.");
    }
    for row in people {
        let why: Vec<&str> = row.why.iter().map(String::as_str).collect();
        let criteria = row.criteria.iter().filter(|j| !j.look.is_empty()).map(|j| j.title.as_str());
        let criteria: Vec<&str> = criteria.collect();
        paper.paragraph(&format!("{} {}: {} {}", row.code, row.name, why.join(" "), criteria.join("; ")));
    }
    let spots: Vec<&str> = set.rows.iter().filter(|r| r.spot).map(|r| r.code.as_str()).collect();
    if !spots.is_empty() {
        paper.paragraph(&format!(
            "Spot checks: look at these although the machine is sure of them: {}.",
            spots.join(", ")
        ));
    }
    if !totals.is_empty() {
        paper.heading("Totals");
        let bars = plots::bars(&totals, set.out_of).into_iter().filter(|b| b.count > 0);
        for plots::Bar { low, high, count } in bars {
            let span = if low == high { marks(low) } else { format!("{} to {}", marks(low), marks(high)) };
            bar(&mut paper, &span, count as f64 / totals.len() as f64, &count.to_string());
        }
    }
    paper.heading("Criterion by criterion: share of the marks won, or taken off");
    for (i, heading) in set.criteria.iter().enumerate() {
        let got: Vec<f64> = set.rows.iter().filter_map(|r| r.of(heading)?.marks).collect();
        if heading.out_of != 0.0 && !got.is_empty() {
            let share = got.iter().sum::<f64>() / (heading.out_of * got.len() as f64);
            let off = if heading.kind == Kind::Penalty { " off" } else { "" };
            let told = format!("{:.0} %{off}: {}", 100.0 * share, shares(set, i).words());
            bar(&mut paper, &heading.title, share, &told);
        }
    }
    let told = told::told(set);
    if !told.is_empty() {
        paper.heading("What the class got wrong most");
    }
    for (titles, say, count) in told {
        let s = if count == 1 { "" } else { "s" };
        paper.paragraph(&format!("{count} student{s}, {titles}: \u{201C}{say}\u{201D}"));
    }
    ideas(&mut paper, set);
    if let Some(picture) = &set.density {
        paper.keep(HEADING_KEEP_MM + density_height(&paper, picture.region));
        paper.heading("All drawings over one another");
        paper.paragraph("Grey: the darker, the more students drew there. Dashes: the computed field.");
        density(&mut paper, picture.png(), picture.region, &set.field);
    }
    if let Some(earlier) = &set.earlier {
        let percent = |s: Option<f64>| s.map_or("-".to_string(), |s| format!("{:.0} %", 100.0 * s));
        paper.heading(&format!("Beside {}", earlier.name));
        for (what, then, now) in &earlier.rows {
            paper.paragraph(&format!("{what}: {} then, {} now", percent(*then), percent(*now)));
        }
    }
    table(&mut paper, set);
    paper.finish(&format!("{}: the class", set.worksheet), false)
}

fn ideas(paper: &mut Paper, set: &ClassSet) {
    // A heading does not part from its pictures.
    let height = |paper: &Paper, idea: &IdeaShare| {
        let words = paper.height(Face::Regular, WORDS_EM_MM, 0.0, &to_try(idea)) + 2.0 * WORDS_EM_MM;
        words + examples_height(paper, &idea.examples)
    };
    if let Some(first) = set.ideas.first() {
        paper.keep(HEADING_KEEP_MM + height(paper, first));
    }
    paper.heading("Ideas that the drawings suggest");
    if set.ideas.is_empty() {
        paper.paragraph("No drawing suggests one of the usual ideas.");
    }
    for idea in &set.ideas {
        paper.gap(1.2);
        paper.keep(height(paper, idea));
        let s = if idea.count == 1 { "" } else { "s" };
        paper.words(Face::Bold, WORDS_EM_MM, 0.0, &format!("{}: {} student{s}", idea.title, idea.count));
        paper.paragraph(&to_try(idea));
        examples(paper, &idea.examples);
    }
}

fn to_try(idea: &IdeaShare) -> String {
    format!("To try: {}", idea.teacher)
}

fn table(paper: &mut Paper, set: &ClassSet) {
    paper.heading("Marks");
    for row in &set.rows {
        let total =
            row.total.map_or("no total".to_string(), |t| format!("{} of {}", marks(t), marks(row.out_of)));
        let each = row.criteria.iter().map(|j| format!("{} {}", j.column, j.marks.map_or("-".into(), marks)));
        let each: Vec<String> = each.collect();
        let grade = row.grade.as_ref().map(|g| format!(", {g}")).unwrap_or_default();
        let line = format!(
            "{} {}: {}, {total}{grade}. {}",
            row.code,
            row.name,
            words(row.status).1,
            each.join(", ")
        );
        paper.paragraph(&line);
    }
}

/// A word, a bar of a share's length, a word.
fn bar(paper: &mut Paper, name: &str, share: f64, told: &str) {
    const NAME_MM: f64 = 62.0;
    const BAR_MM: f64 = 42.0;
    const HIGH_MM: f64 = 5.0;
    let room = paper.width() - NAME_MM - BAR_MM - 2.0;
    let [name, told] =
        [(name, NAME_MM - 2.0), (told, room)].map(|(text, wide)| Face::Regular.wrap(text, WORDS_EM_MM, wide));
    let lines = name.len().max(told.len()).max(1);
    let at = paper.room(HIGH_MM * lines as f64);
    for (x, words) in [(0.0, name), (NAME_MM + BAR_MM + 2.0, told)] {
        for (n, text) in words.into_iter().enumerate() {
            let at = Point::new(at.x + x, at.y + WORDS_EM_MM + HIGH_MM * n as f64);
            paper.put(Item::Text { at, face: Face::Regular, em_mm: WORDS_EM_MM, text });
        }
    }
    let (x, y) = (at.x + NAME_MM, at.y + 0.6);
    let whole = Rect::new(x, y, x + BAR_MM, y + HIGH_MM - 1.6);
    paper.put(Item::Box { at: whole, grey: 0.12 });
    paper.put(Item::Box { at: Rect::new(x, y, x + BAR_MM * share.clamp(0.0, 1.0), whole.y1), grey: 0.7 });
}
