//! feedback/CODE.html, and the page that a self-check gives: what was good first, one thing to try next, the
//! drawing with numbered places, then criterion by criterion.

use maud::{Markup, html};

use super::{Judged, ShowField, Status, Student, advice, marks, notes, overlay, proposal, style, words};

/// Most boxes that are drawn for a criterion's marks; above, the numbers alone tell.
const MAX_BOXES: f64 = 10.0;

/// The feedback page of one student, whole.
pub fn feedback_page(student: &Student) -> String {
    let title = format!("{}: {}", student.code, student.worksheet);
    let who = if student.name.is_empty() {
        student.code.clone()
    } else {
        format!("{} ({})", student.name, student.code)
    };
    let body = html! {
        header {
            h1 { (student.worksheet) }
            p class="sub" { "Feedback for " strong { (who) } }
        }
        main {
            (standing(student))
            (total(student))
            (advised(student))
            (drawing(student))
            @if !student.criteria.is_empty() {
                h2 { @if student.words_only { "What was looked at" } @else { "Marks" } }
                @for sentence in &student.terms { p class="sub" { (sentence) } }
                ul class="criteria" { @for judged in &student.criteria { (criterion(student, judged)) } }
            }
            (field_after(student))
        }
        footer class="foot" {
            p { "From " (student.source) ". Made by lodemark " (env!("CARGO_PKG_VERSION")) "." }
            @if !student.recorded { p { "A self-check: nothing was recorded." } }
        }
    };
    style::page(&title, style::FEEDBACK, &body)
}

/// What was good, and one thing to try next.
fn advised(student: &Student) -> Markup {
    let good = advice::good(student);
    let next = advice::next(student);
    html! {
        @if !good.is_empty() {
            h2 { "What is good" }
            ul { @for sentence in good { li lang=[student.language.as_deref()] { (sentence) } } }
        }
        @if let Some(next) = next {
            h2 { "One thing to try next" }
            p lang=[next.in_rubrics_words.then_some(student.language.as_deref()).flatten()] { (next.sentence) }
        }
    }
}

fn drawing(student: &Student) -> Markup {
    let notes = notes::of(&student.panels);
    let field: &[_] = if student.field.0 == ShowField::Yes { &student.field.1 } else { &[] };
    html! {
        @if let Some(picture) = overlay::overlay(student.picture.as_ref(), &student.panels, &notes, field) {
            h2 { "Your drawing" }
            figure {
                div class="scroll" tabindex="0" role="region" aria-label="The drawing; it scrolls sideways on a narrow screen" { (picture) }
                figcaption class="sub" {
                    "Thin lines: what was read as field lines. A dot: an arrow that agrees with the field."
                    @if !field.is_empty() { " Long dashes: the computed field." }
                    @if student.picture.is_none() { " The scan itself is not shown." }
                }
            }
            @if student.panels.iter().all(|panel| panel.record.lines.is_empty()) && notes.is_empty() {
            } @else if notes.is_empty() {
                p { "Nothing had to be pointed out on the drawing." }
            } @else {
                (overlay::list(&notes))
            }
        }
    }
}

/// The computed field beside what was drawn, closed until asked for.
fn field_after(student: &Student) -> Markup {
    let (when, lines) = &student.field;
    html! {
        @if *when == ShowField::After && !lines.is_empty() && !student.panels.is_empty() {
            details {
                summary { "Show the computed field beside my lines" }
                (overlay::compare(&student.panels, lines))
            }
        }
    }
}

/// What stands above everything: that it is a proposal, and who has to look and why.
fn standing(student: &Student) -> Markup {
    let (sign, _) = words(student.status);
    let opening = match student.status {
        Status::Look if student.words_only => {
            "A person should look at this sheet before what is said here counts."
        }
        Status::Look => "A person should look at this sheet before the marks count.",
        Status::Unreadable => "This page could not be read.",
        Status::Absent => "There is no page of this student.",
        Status::Excused => "This student is excused.",
        Status::Proposed => "",
    };
    html! {
        @if !opening.is_empty() {
            div class="say look" {
                p { strong { (sign) " " (opening) } }
                @for sentence in student.reasons() { p { (sentence) } }
            }
        }
        p class="say" {
            (proposal(student.words_only))
            @if !student.recorded { " Nothing is kept of this check." }
        }
    }
}

fn total(student: &Student) -> Markup {
    html! {
        @if student.words_only {} @else if let Some(total) = student.total {
            p class="total" {
                b { (marks(total)) } " of " (marks(student.out_of)) " marks"
                @if let Some(grade) = &student.grade { ", grade " b { (grade) } }
            }
            @for say in &student.says { p lang=[student.language.as_deref()] { (say) } }
        } @else if !student.criteria.is_empty() {
            p class="total" { "No total: at least one criterion could not be judged." }
        }
    }
}

fn criterion(student: &Student, judged: &Judged) -> Markup {
    let (sign, _) = words(Status::Look);
    let language = student.language.as_deref();
    html! {
        li {
            h3 lang=[language] { (judged.title) }
            @if !student.words_only {
                div class="got" {
                    @if let Some(got) = judged.marks.filter(|_| has_boxes(judged.out_of)) {
                        span class="boxes" aria-hidden="true" { (boxes(got, judged.out_of)) }
                    }
                    (judged.earned())
                }
            }
            @if !judged.say.is_empty() { p lang=[language] { (judged.say) } }
            @if let Some(by) = &judged.by { p class="why" { "Set by a person: " (by) } }
            @else if !judged.look.is_empty() {
                @for sentence in &judged.look { p class="why" { (sign) " " (sentence) } }
            }
        }
    }
}

/// Whether boxes tell what marks are out of: half a box too many would look like half a mark lost.
fn has_boxes(out_of: f64) -> bool {
    (0.0..=MAX_BOXES).contains(&out_of) && out_of.fract() == 0.0
}

/// A filled box a mark won, half filled for a part of one, empty for the rest.
fn boxes(got: f64, out_of: f64) -> String {
    (0..out_of.ceil() as usize)
        .map(|i| match got - i as f64 {
            rest if rest >= 1.0 => '\u{25A0}',
            rest if rest > 0.0 => '\u{25E7}',
            _ => '\u{25A1}',
        })
        .collect()
}
