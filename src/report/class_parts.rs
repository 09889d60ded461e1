//! Parts of the class page: usual ideas with examples, all drawings over one another, an earlier class.

use maud::{Markup, html};

use super::density::Density;
use super::overlay::{drawn, smooth};
use super::picture::Picture;
use super::{ClassSet, Earlier, IdeaShare, Sheet};
use crate::drawing::THERE;
use crate::geometry::{Point, Rect};

/// Step between points of a line in a small picture, mm.
const SMALL_STEP_MM: f64 = 2.0;

/// The usual ideas by frequency, with example drawings.
pub(super) fn ideas(set: &ClassSet) -> Markup {
    html! {
        h2 { "Ideas that the drawings suggest" }
        @if set.ideas.is_empty() { p { "No drawing suggests one of the usual ideas." } }
        @for idea in &set.ideas { (one_idea(idea)) }
    }
}

fn one_idea(idea: &IdeaShare) -> Markup {
    html! {
        section class="idea" {
            h3 { (idea.title) ": " (idea.count) @if idea.count == 1 { " student" } @else { " students" } }
            p { em { "To try: " } (idea.teacher) }
            @if idea.source != "common practice" { p class="sub" { "Described by " (idea.source) "." } }
            ul class="examples" {
                @for example in &idea.examples {
                    li {
                        @let shown = example.panel_words();
                        (small(&example.panels, &example.at, &format!("{}{shown}: {}", example.code, idea.title)))
                        @match &example.feedback { Some(href) => a href=(href) { (example.code) }, None => (example.code) } (shown)
                    }
                }
            }
        }
    }
}

/// A student's lines, small, with places ringed.
fn small(panels: &[Sheet], at: &[[f64; 2]], words: &str) -> Markup {
    let region = Picture::region_of(panels.iter().map(|p| p.frame)).unwrap_or_default();
    html! {
        svg class="small" viewBox=(view(region)) role="img" aria-label=(words) {
            @for panel in panels {
                (frame(panel.frame))
                @for line in panel.record.lines.iter().filter(|l| l.sure >= THERE) {
                    path class="thin" d=(drawn(&line.points_mm, SMALL_STEP_MM)) {}
                }
            }
            @for p in at { circle class="ring" cx=(format!("{:.1}", p[0])) cy=(format!("{:.1}", p[1])) r="6" {} }
        }
    }
}

fn frame(frame: Rect) -> Markup {
    let mm = |v: f64| format!("{v:.1}");
    html! { rect class="frame" x=(mm(frame.x0)) y=(mm(frame.y0)) width=(mm(frame.width())) height=(mm(frame.height())) {} }
}

fn view(region: Rect) -> String {
    format!("{:.1} {:.1} {:.1} {:.1}", region.x0, region.y0, region.width(), region.height())
}

/// All students' lines as a density picture under the computed field.
pub(super) fn overlay(density: Option<&Density>, field: &[Vec<Point>]) -> Markup {
    html! {
        @if let Some(density) = density {
            h2 { "All drawings over one another" }
            figure {
                    svg class="all" viewBox=(view(density.region)) role="img" aria-labelledby="all-title" {
                        title id="all-title" { "The lines of " (density.students) " students over one another, the darker the more of them; the computed field dashed" }
                        image x=(density.region.x0) y=(density.region.y0) width=(density.region.width()) height=(density.region.height())
                            preserveAspectRatio="none" href=(density.address()) {}
                        @for f in &density.frames { (frame(*f)) }
                        @for line in field { path class="field" d=(smooth(line)) {} }
                    }
                figcaption class="sub" {
                    "Grey: lines of " (density.students) " students, the darker the more of them drew there. Dashes: the computed field. "
                    "Dark bands that cross the dashes show where the class goes astray."
                }
            }
        }
    }
}

/// This class beside an earlier one.
pub(super) fn earlier(earlier: Option<&Earlier>) -> Markup {
    let percent =
        |share: Option<f64>| share.map_or("\u{2013}".to_string(), |s| format!("{:.0} %", 100.0 * s));
    html! {
        @if let Some(earlier) = earlier {
            h2 { "Beside " (earlier.name) }
            p id="beside" class="sub" { "Share of the marks won at each criterion, and share of the drawings that suggest an idea. Other students, another day: a difference need not come from the teaching." }
            div class="scroll" tabindex="0" role="region" aria-label="Comparison; it scrolls sideways where the screen is narrower" {
                table aria-describedby="beside" {
                    thead { tr { th scope="col" { "" } th scope="col" class="n" { (earlier.name) " (" (earlier.students[0]) ")" } th scope="col" class="n" { "This class (" (earlier.students[1]) ")" } } }
                    tbody {
                        @for row in &earlier.rows {
                            tr { th scope="row" { (row.0) } td class="n" { (percent(row.1)) } td class="n" { (percent(row.2)) } }
                        }
                    }
                }
            }
        }
    }
}
