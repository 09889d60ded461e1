//! Plots as SVG with words and numbers in them: how the totals lie, and how a criterion went.

use maud::{Markup, PreEscaped, html};
use plotters::prelude::*;
use plotters::style::text_anchor::{HPos, Pos, VPos};

use super::marks;
use crate::rubric::Kind;

/// Most bars of a distribution; with more possible totals several share a bar.
const MAX_BARS: usize = 21;

/// Patterns that tell shares apart without colour; once a page.
pub(super) fn patterns() -> Markup {
    html! {
        svg width="0" height="0" aria-hidden="true" focusable="false" style="position:absolute" {
            defs {
                pattern id="stripes" width="6" height="6" patternUnits="userSpaceOnUse" patternTransform="rotate(45)" {
                    rect width="6" height="6" fill="#fff" {}
                    rect width="3" height="6" fill="#0a4a8f" {}
                }
                pattern id="dots" width="6" height="6" patternUnits="userSpaceOnUse" {
                    rect width="6" height="6" fill="#fff" {}
                    circle cx="3" cy="3" r="1.2" fill="#16181d" {}
                }
            }
        }
    }
}

/// Totals from 0 to `out_of` counted into bars: lower and upper total of each, and how many. A bar holds the totals
/// from its lower one up to, not including, the next bar's lower one.
pub(super) fn bars(totals: &[f64], out_of: f64) -> Vec<Bar> {
    if !(out_of.is_finite() && out_of > 0.0) {
        return Vec::new();
    }
    // Half marks have bars of their own, where they fit.
    let halves = totals.iter().any(|t| t.fract() != 0.0) && 2.0 * out_of < MAX_BARS as f64;
    let step = if halves { 0.5 } else { 1.0 };
    let values = (out_of / step).floor() as usize + 1;
    let each = values.div_ceil(MAX_BARS);
    let count = values.div_ceil(each);
    let low = |i: usize| (i * each) as f64 * step;
    let mut bars: Vec<Bar> = (0..count)
        .map(|i| Bar { low: low(i), high: (low(i + 1) - step).min((values - 1) as f64 * step), count: 0 })
        .collect();
    for total in totals.iter().filter(|t| t.is_finite()) {
        let bar = &mut bars[((total.max(0.0) / step).floor() as usize / each).min(count - 1)];
        bar.count += 1;
        // A total between two steps is named as it is.
        bar.high = bar.high.max(*total);
    }
    bars
}

/// Totals that share a bar.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Bar {
    pub low: f64,
    pub high: f64,
    pub count: usize,
}

/// Size of the plot of totals with upright bars, pixels; it is scaled to the page.
const UPRIGHT_PX: (u32, u32) = (640, 230);
/// Width of the plot with lying bars, for a narrow screen, and height of a bar and of the words on top, pixels.
const LYING_PX: (u32, u32, u32) = (288, 22, 24);
/// Room for the totals beside lying bars, pixels.
const NAMES_PX: u32 = 60;
/// Room beyond the longest bar for its number, as a share of the bar.
const HEADROOM: f64 = 1.2;
/// Share of a bar's step that is left white on either side.
const BAR_APART: f64 = 0.12;
/// Widest sign of the plot's words, pixels.
const SIGN_PX: f64 = 7.0;
/// The page's blue (`style.rs`).
const BAR: RGBColor = RGBColor(0x0a, 0x4a, 0x8f);
const WORDS: (&str, u32) = ("sans-serif", 14);

/// How the totals lie: a bar a mark, its number of students at its end. Twice, with upright bars and, for a narrow screen, where
/// their words would be too small to read, with lying ones; the page's rules show one of the two.
pub(super) fn distribution(totals: &[f64], out_of: f64) -> Markup {
    let bars = bars(totals, out_of);
    let description: Vec<String> = bars
        .iter()
        .filter(|b| b.count > 0)
        .map(|b| format!("{}: {}", span(b.low, b.high), b.count))
        .collect();
    let description = format!("Total and number of students. {}.", description.join("; "));
    let lying_px = (LYING_PX.0, LYING_PX.1 * bars.len() as u32 + LYING_PX.2);
    // Drawing into a string does not fail; what is said in words stands in any case.
    let plots = [
        ("upright", UPRIGHT_PX, upright(&bars, out_of).unwrap_or_default()),
        ("lying", lying_px, lying(&bars, out_of, lying_px).unwrap_or_default()),
    ];
    html! {
        @for (class, (width, height), drawn) in &plots {
            svg class=(format!("plot {class}")) viewBox=(format!("0 0 {width} {height}")) role="img" aria-labelledby=(format!("{class}-title {class}-desc")) {
                title id=(format!("{class}-title")) { "How many students reached which total" }
                desc id=(format!("{class}-desc")) { (description) }
                // What the library's own element holds: this page's has words in it.
                (PreEscaped(drawn.split_once('>').map_or("", |(_, rest)| rest).trim().trim_end_matches("</svg>")))
            }
        }
    }
}

type DrawError = DrawingAreaErrorKind<std::io::Error>;

fn upright(bars: &[Bar], out_of: f64) -> Result<String, DrawError> {
    let most = bars.iter().map(|b| b.count).max().unwrap_or(0).max(1) as f64;
    // Where the names of neighbouring bars would run into each other each bears its least total alone.
    let step_px = f64::from(UPRIGHT_PX.0 - 16) / bars.len().max(1) as f64;
    let fits = |b: &Bar| (span(b.low, b.high).chars().count() as f64 + 1.0) * SIGN_PX < step_px;
    let short = !bars.iter().all(fits);
    let axis = match short {
        true => format!("total, of {}: each bar from its number up to the next", marks(out_of)),
        false => format!("total, of {}", marks(out_of)),
    };
    let mut svg = String::new();
    {
        let area = SVGBackend::with_string(&mut svg, UPRIGHT_PX).into_drawing_area();
        let right = bars.len().max(1) as f64 - 0.5;
        let mut chart = ChartBuilder::on(&area)
            .margin(8)
            .x_label_area_size(44)
            .build_cartesian_2d(-0.5..right, 0.0..HEADROOM * most)?;
        chart
            .configure_mesh()
            .disable_mesh()
            .disable_y_axis()
            .x_labels(0)
            .axis_style(BLACK)
            .x_desc(axis)
            .axis_desc_style(WORDS)
            .draw()?;
        let middle = |v: VPos| TextStyle::from(WORDS.into_font()).pos(Pos::new(HPos::Center, v));
        let half = 0.5 - BAR_APART;
        let there = || bars.iter().enumerate().filter(|(_, b)| b.count > 0);
        chart.draw_series(there().map(|(i, b)| {
            let x = i as f64;
            Rectangle::new([(x - half, 0.0), (x + half, b.count as f64)], BAR.filled())
        }))?;
        chart.draw_series(there().map(|(i, b)| {
            Text::new(b.count.to_string(), (i as f64, 1.03 * b.count as f64), middle(VPos::Bottom))
        }))?;
        // One name a bar, below the axis.
        for (i, bar) in bars.iter().enumerate() {
            let (x, y) = chart.backend_coord(&(i as f64, 0.0));
            let name = if short { marks(bar.low) } else { span(bar.low, bar.high) };
            area.draw_text(&name, &middle(VPos::Top), (x, y + 5))?;
        }
        area.present()?;
    }
    Ok(svg)
}

fn lying(bars: &[Bar], out_of: f64, size_px: (u32, u32)) -> Result<String, DrawError> {
    let most = bars.iter().map(|b| b.count).max().unwrap_or(0).max(1) as f64;
    let mut svg = String::new();
    {
        let area = SVGBackend::with_string(&mut svg, size_px).into_drawing_area();
        let below = bars.len().max(1) as f64 - 0.5;
        let mut chart = ChartBuilder::on(&area)
            .margin_top(LYING_PX.2)
            .y_label_area_size(NAMES_PX)
            .build_cartesian_2d(0.0..HEADROOM * most, below..-0.5)?;
        let words = |h: HPos| TextStyle::from(WORDS.into_font()).pos(Pos::new(h, VPos::Center));
        let heading = format!("total, of {}, and number of students", marks(out_of));
        area.draw_text(&heading, &words(HPos::Left), (2, (LYING_PX.2 / 2) as i32))?;
        chart.configure_mesh().disable_mesh().disable_x_axis().y_labels(0).axis_style(BLACK).draw()?;
        let half = 0.5 - BAR_APART;
        let there = || bars.iter().enumerate().filter(|(_, b)| b.count > 0);
        chart.draw_series(there().map(|(i, b)| {
            let y = i as f64;
            Rectangle::new([(0.0, y - half), (b.count as f64, y + half)], BAR.filled())
        }))?;
        for (i, bar) in bars.iter().enumerate() {
            let (x, y) = chart.backend_coord(&(0.0, i as f64));
            area.draw_text(&span(bar.low, bar.high), &words(HPos::Right), (x - 6, y))?;
            if bar.count > 0 {
                let (end, _) = chart.backend_coord(&(bar.count as f64, i as f64));
                area.draw_text(&bar.count.to_string(), &words(HPos::Left), (end + 5, y))?;
            }
        }
        area.present()?;
    }
    Ok(svg)
}

fn span(low: f64, high: f64) -> String {
    if low == high { marks(low) } else { format!("{}\u{2013}{}", marks(low), marks(high)) }
}

/// How a criterion went: students with full marks, a part, none, not judged.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct Shares {
    pub kind: Kind,
    pub full: usize,
    pub part: usize,
    pub none: usize,
    pub blank: usize,
}

impl Shares {
    pub(super) fn all(self) -> usize {
        self.full + self.part + self.none + self.blank
    }

    fn parts(self) -> [(&'static str, &'static str, usize); 4] {
        let [full, part, none] = match self.kind {
            Kind::Ordinary => ["full marks", "some", "none"],
            Kind::Bonus => ["all of the extra", "some of it", "nothing extra"],
            Kind::Penalty => ["nothing taken off", "some taken off", "the most taken off"],
        };
        [
            ("bar", full, self.full),
            ("part", part, self.part),
            ("none", none, self.none),
            ("blank", "not judged", self.blank),
        ]
    }

    /// In words.
    pub(super) fn words(self) -> String {
        let said: Vec<String> = self
            .parts()
            .iter()
            .filter(|p| p.2 > 0)
            .map(|(_, name, count)| format!("{count} {name}"))
            .collect();
        said.join(", ")
    }

    /// One bar of four parts.
    pub(super) fn bar(self) -> Markup {
        let width = 640.0;
        let all = self.all().max(1) as f64;
        let mut x = 0.0;
        let cells: Vec<_> = self
            .parts()
            .into_iter()
            .filter(|part| part.2 > 0)
            .map(|(class, _, count)| {
                let wide = width * count as f64 / all;
                let from = x;
                x += wide;
                (class, from, wide)
            })
            .collect();
        html! {
            svg class="plot" viewBox="-1 -1 642 20" aria-hidden="true" focusable="false" {
                @for (class, from, wide) in cells {
                    rect class=(class) x=(format!("{from:.1}")) y="0" width=(format!("{wide:.1}")) height="18" {}
                }
            }
        }
    }
}

/// What the patterns of [`Shares::bar`] mean.
pub(super) fn keys() -> Markup {
    html! {
        ul class="keys" {
            @for (class, name, _) in Shares::default().parts() {
                li {
                    svg class="plot" viewBox="-1 -1 20 20" aria-hidden="true" focusable="false" {
                        rect class=(class) width="18" height="18" {}
                    }
                    (name)
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_total_is_counted_once() {
        let counted = bars(&[0.0, 1.0, 3.0, 12.0, 12.0], 12.0);
        assert_eq!(counted.len(), 13);
        assert_eq!((counted[0].count, counted[3].count, counted[12].count), (1, 1, 2));
        let wide = bars(&[99.0, 100.0, 0.0], 100.0);
        assert!(wide.len() <= MAX_BARS);
        assert_eq!(wide.iter().map(|b| b.count).sum::<usize>(), 3);
        assert!(bars(&[1.0], 0.0).is_empty());
    }

    #[test]
    fn a_total_between_two_whole_ones_is_not_shown_as_less() {
        let shown = |totals: &[f64], out_of| {
            let bars = bars(totals, out_of).into_iter().filter(|b| b.count > 0);
            bars.map(|b| (span(b.low, b.high), b.count)).collect::<Vec<_>>()
        };
        // With room for it half a mark has a bar of its own.
        assert_eq!(shown(&[2.5, 2.0, 7.0], 7.0), [("2".into(), 1), ("2.5".into(), 1), ("7".into(), 1)]);
        assert_eq!(shown(&[2.5, 2.0, 20.0], 20.0), [("2\u{2013}2.5".into(), 2), ("20".into(), 1)]);
    }
}
