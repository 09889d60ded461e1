//! class.html: the set on one page.

use maud::{Markup, html};

use super::plots::{self, Shares};
use super::{ClassSet, Heading, Judged, MARK_SLACK, PROPOSAL, Row, Status, marks, style, words};
use super::{class_parts, class_table, told};
use crate::rubric::Kind;

/// The class page, whole.
pub fn class_page(set: &ClassSet) -> String {
    let body = html! {
        (plots::patterns())
        header {
            h1 { (set.worksheet) }
            p class="sub" { (set.rubric) ", " (marks(set.out_of)) " marks, " (set.rows.len()) " students" }
        }
        main {
            p class="say" { (PROPOSAL) }
            (facts(set))
            (people(set))
            (strays(set))
            (totals(set))
            (criteria(set))
            (wrongs(set))
            (class_parts::ideas(set))
            (class_parts::overlay(set.density.as_ref(), &set.field))
            (class_parts::earlier(set.earlier.as_ref()))
            (class_table::table(set))
        }
        footer class="foot" { p { "Made by lodemark " (env!("CARGO_PKG_VERSION")) "." } }
    };
    style::page_with(&format!("{}: the class", set.worksheet), style::CLASS, &body, class_table::SCRIPT)
}

fn facts(set: &ClassSet) -> Markup {
    let with = |status: Status| set.rows.iter().filter(|row| row.status == status).count();
    let totals = known_totals(set);
    html! {
        ul class="facts" {
            li { b { (with(Status::Proposed)) } "proposed" }
            li { b { (with(Status::Look)) } "for a person to look at" }
            li { b { (with(Status::Unreadable)) } "cannot be read" }
            li { b { (with(Status::Absent)) } "without a page" }
            @if with(Status::Excused) > 0 { li { b { (with(Status::Excused)) } "excused" } }
            @if let Some(median) = median(&totals) { li { b { (marks(median)) } "median total" } }
        }
    }
}

fn known_totals(set: &ClassSet) -> Vec<f64> {
    set.rows.iter().filter_map(|row| row.total).collect()
}

/// The middle value, or the mean of the two in the middle.
pub(super) fn median(values: &[f64]) -> Option<f64> {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    let half = sorted.len() / 2;
    match sorted.len() {
        0 => None,
        n if n % 2 == 1 => Some(sorted[half]),
        _ => Some((sorted[half - 1] + sorted[half]) / 2.0),
    }
}

/// Who needs a person's look, and why.
fn people(set: &ClassSet) -> Markup {
    let rows: Vec<&Row> =
        set.rows.iter().filter(|row| matches!(row.status, Status::Look | Status::Unreadable)).collect();
    let spots: Vec<&Row> = set.rows.iter().filter(|row| row.spot).collect();
    html! {
        h2 { "Who needs a person" }
        @if rows.is_empty() && set.codeless.is_empty() { p { "Nobody: every mark was read surely enough." } }
        @if !rows.is_empty() {
            ul class="people" {
                @for row in rows {
                    li {
                        (words(row.status).0) " " (link(row)) @if !row.source.is_empty() { ", " (row.source) }
                        @for sentence in &row.why { br; (sentence) }
                        @for (titles, sentence) in reasons(&row.criteria) { br; em { (titles) ":" } " " (sentence) }
                    }
                }
            }
        }
        @if !set.codeless.is_empty() {
            h3 { "Pages without a readable code" }
            p { "Fill in the code in who.csv and mark again. The guess follows the order of the scan and is never taken by itself." }
            ul { @for page in &set.codeless { li { (page.source) @if let Some(guess) = &page.guess { ": perhaps " (guess) } } } }
        }
        @if !spots.is_empty() {
            h3 { "Spot checks" }
            p { "The machine is sure of these; look at them all the same, to see how sure its sureness is." }
            ul { @for row in spots { li { (link(row)) } } }
        }
    }
}

/// Each reason once, with the criteria that it is given for.
fn reasons(criteria: &[Judged]) -> Vec<(String, &str)> {
    let mut reasons: Vec<(String, &str)> = Vec::new();
    for judged in criteria {
        for sentence in &judged.look {
            match reasons.iter_mut().find(|(_, known)| known == sentence) {
                Some((titles, _)) => *titles = format!("{titles}; {}", judged.title),
                None => reasons.push((judged.title.clone(), sentence)),
            }
        }
    }
    reasons
}

/// A student's code and name, leading to the feedback page where there is one.
pub(super) fn link(row: &Row) -> Markup {
    let name = if row.name.is_empty() { row.code.clone() } else { format!("{} {}", row.code, row.name) };
    html! {
        @if let Some(feedback) = &row.feedback { a href=(feedback) { (name) } } @else { (name) }
    }
}

fn strays(set: &ClassSet) -> Markup {
    html! {
        @if !set.strays.is_empty() {
            h2 { "Files and pages left out" }
            ul class="people" {
                @for stray in &set.strays {
                    li { strong { (stray.source) } ": " (stray.what) @if !stray.fix.is_empty() { "; " (stray.fix) } }
                }
            }
        }
    }
}

fn totals(set: &ClassSet) -> Markup {
    let totals = known_totals(set);
    html! {
        h2 { "Totals" }
        @if totals.is_empty() { p { "No total is known yet." } } @else {
            (plots::distribution(&totals, set.out_of))
        }
    }
}

/// How the students of the class did at one criterion.
pub(super) fn shares(set: &ClassSet, index: usize) -> Shares {
    let mut shares = Shares { kind: set.criteria[index].kind, ..Shares::default() };
    for judged in set.rows.iter().filter_map(|row| row.of(&set.criteria[index])) {
        // The best and the worst that there is: of a penalty nothing, and the most that is taken off.
        let (best, worst) = (judged.out_of.max(0.0), judged.out_of.min(0.0));
        match judged.marks {
            None => shares.blank += 1,
            Some(got) if got >= best - MARK_SLACK => shares.full += 1,
            Some(got) if got > worst + MARK_SLACK => shares.part += 1,
            Some(_) => shares.none += 1,
        }
    }
    shares
}

fn criteria(set: &ClassSet) -> Markup {
    html! {
        h2 { "Criterion by criterion" }
        (plots::keys())
        ul class="bars" {
            @for (i, heading) in set.criteria.iter().enumerate() {
                @let shares = shares(set, i);
                li {
                    h3 { (heading.title) }
                    (shares.bar())
                    p class="sub" { @if shares.all() == 0 { "nobody judged" } @else { (shares.words()) " (" (most_of(heading)) ")" } }
                }
            }
        }
    }
}

/// What there is to win or to lose.
fn most_of(heading: &Heading) -> String {
    let most = marks(heading.out_of.abs());
    match heading.kind {
        Kind::Ordinary => format!("of {most}"),
        Kind::Bonus => format!("up to {most} extra"),
        Kind::Penalty => format!("up to {most} taken off"),
    }
}

fn wrongs(set: &ClassSet) -> Markup {
    let told = told::told(set);
    html! {
        h2 { "What the class got wrong most" }
        @if told.is_empty() { p { "Nothing: all that was judged has full marks." } }
        ul class="wrongs" {
            @for (titles, say, count) in told {
                li {
                    strong { (count) @if count == 1 { " student" } @else { " students" } } ", " (titles) ": \u{201C}"
                    (say) "\u{201D}"
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_median() {
        assert_eq!(
            (median(&[]), median(&[3.0, 1.0, 2.0]), median(&[4.0, 1.0])),
            (None, Some(2.0), Some(2.5))
        );
    }
}
