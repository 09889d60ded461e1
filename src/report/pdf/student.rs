//! feedback/CODE.pdf: what the page on the screen says.

use super::PdfError;
use super::drawing::drawing;
use super::paper::{HEADING_EM_MM, Paper, WORDS_EM_MM};
use crate::print::lettering::Face;
use crate::report::{Status, Student, advice, gather, marks, notes, proposal};

/// A student's feedback, an even number of pages.
///
/// # Errors
/// In words: the font or a picture cannot be used.
pub fn feedback_pdf(student: &Student) -> Result<Vec<u8>, PdfError> {
    let mut paper = Paper::new();
    let who = if student.name.is_empty() {
        student.code.clone()
    } else {
        format!("{} ({})", student.name, student.code)
    };
    paper.title(&student.worksheet);
    paper.paragraph(&format!("Feedback for {who}. {}", proposal(student.words_only)));
    if matches!(student.status, Status::Look | Status::Unreadable) {
        paper.gap(1.0);
        paper.words(
            Face::Bold,
            WORDS_EM_MM,
            0.0,
            if student.words_only {
                "A person should look at this sheet before what is said here counts."
            } else {
                "A person should look at this sheet before the marks count."
            },
        );
        student.reasons().for_each(|why| paper.paragraph(why));
    }
    if !student.words_only
        && let Some(total) = student.total
    {
        let grade = student.grade.as_ref().map(|g| format!(", grade {g}")).unwrap_or_default();
        paper.gap(2.0);
        let words = format!("{} of {} marks{grade}", marks(total), marks(student.out_of));
        paper.words(Face::Bold, HEADING_EM_MM, 0.0, &words);
        student.says.iter().for_each(|say| paper.paragraph(say));
    }
    let good = advice::good(student);
    if !good.is_empty() {
        paper.heading("What is good");
        good.iter().for_each(|sentence| paper.item("+", sentence));
    }
    if let Some(next) = advice::next(student) {
        paper.heading("One thing to try next");
        paper.paragraph(&next.sentence);
    }
    let notes = notes::of(&student.panels);
    if !student.panels.is_empty() {
        paper.heading("Your drawing");
        drawing(&mut paper, student, &notes);
        for group in gather::groups(&notes) {
            let more = [&group.more, &group.doubt].into_iter().flatten().map(|said| format!(" {said}"));
            let more: String = more.collect();
            paper.paragraph(&format!("{}: {}{more}", group.listed, group.sentence));
        }
    }
    criteria(&mut paper, student);
    let title = format!("{}: {}", student.code, student.worksheet);
    paper.finish(&title, true)
}

fn criteria(paper: &mut Paper, student: &Student) {
    if student.criteria.is_empty() {
        return;
    }
    paper.heading(if student.words_only { "What was looked at" } else { "Marks" });
    student.terms.iter().for_each(|sentence| paper.paragraph(sentence));
    for judged in &student.criteria {
        paper.gap(1.2);
        let got = if student.words_only { String::new() } else { format!(": {}", judged.earned()) };
        let heading = format!("{}{got}", judged.title);
        // A heading does not part from its sentence at the end of a page.
        paper.keep(
            paper.height(Face::Bold, WORDS_EM_MM, 0.0, &heading)
                + paper.height(Face::Regular, WORDS_EM_MM, 0.0, &judged.say),
        );
        paper.words(Face::Bold, WORDS_EM_MM, 0.0, &heading);
        if !judged.say.is_empty() {
            paper.paragraph(&judged.say);
        }
        if let Some(by) = &judged.by {
            paper.paragraph(&format!("Set by a person: {by}"));
        } else {
            judged.look.iter().for_each(|why| paper.paragraph(&format!("Please look: {why}")));
        }
    }
}
