//! Plots as SVG with words and numbers in them: how the totals lie, and how a criterion went.

use maud::{Markup, html};

use super::marks;

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

/// Totals from 0 to `out_of` counted into bars: lower and upper total of each, and how many.
pub(super) fn bars(totals: &[f64], out_of: f64) -> Vec<(f64, f64, usize)> {
    if !(out_of.is_finite() && out_of > 0.0) {
        return Vec::new();
    }
    let values = out_of.floor() as usize + 1;
    let each = values.div_ceil(MAX_BARS);
    let count = values.div_ceil(each);
    let mut bars: Vec<_> =
        (0..count).map(|i| ((i * each) as f64, ((i + 1) * each - 1).min(values - 1) as f64, 0)).collect();
    for total in totals.iter().filter(|t| t.is_finite()) {
        let at = (total.max(0.0).floor() as usize / each).min(count - 1);
        bars[at].2 += 1;
    }
    bars
}

/// How the totals lie: a bar a mark, its number of students on top.
pub(super) fn distribution(totals: &[f64], out_of: f64) -> Markup {
    let bars = bars(totals, out_of);
    let most = bars.iter().map(|b| b.2).max().unwrap_or(0).max(1);
    let (width, height, left, base) = (640.0, 210.0, 10.0, 170.0);
    let step = (width - 2.0 * left) / bars.len().max(1) as f64;
    let description: Vec<String> =
        bars.iter().filter(|b| b.2 > 0).map(|b| format!("{}: {}", span(b.0, b.1), b.2)).collect();
    html! {
        svg class="plot wide" viewBox=(format!("0 0 {width} {height}")) role="img" aria-labelledby="dist-title dist-desc" {
            title id="dist-title" { "How many students reached which total" }
            desc id="dist-desc" { "Total and number of students. " (description.join("; ")) "." }
            @for (i, bar) in bars.iter().enumerate() {
                @let x = left + step * i as f64;
                @let high = 130.0 * bar.2 as f64 / most as f64;
                @let middle = format!("{:.1}", x + step / 2.0);
                @if bar.2 > 0 {
                    rect class="bar" x=(format!("{:.1}", x + step * 0.12)) y=(format!("{:.1}", base - high))
                        width=(format!("{:.1}", step * 0.76)) height=(format!("{high:.1}")) {}
                    text x=(middle) y=(format!("{:.1}", base - high - 6.0)) text-anchor="middle" { (bar.2) }
                }
                text x=(middle) y="188" text-anchor="middle" { (span(bar.0, bar.1)) }
            }
            line class="axis" x1=(left) x2=(width - left) y1=(base) y2=(base) {}
            text x=(width / 2.0) y="206" text-anchor="middle" { "total, of " (marks(out_of)) }
        }
    }
}

fn span(low: f64, high: f64) -> String {
    if low == high { marks(low) } else { format!("{}\u{2013}{}", marks(low), marks(high)) }
}

/// How a criterion went: students with full marks, a part, none, not judged.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct Shares {
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
        [
            ("bar", "full marks", self.full),
            ("part", "some", self.part),
            ("none", "none", self.none),
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
        let counted = bars(&[0.0, 0.5, 3.0, 12.0, 12.0], 12.0);
        assert_eq!(counted.len(), 13);
        assert_eq!((counted[0].2, counted[3].2, counted[12].2), (2, 1, 2));
        let wide = bars(&[99.0, 100.0, 0.0], 100.0);
        assert!(wide.len() <= MAX_BARS);
        assert_eq!(wide.iter().map(|b| b.2).sum::<usize>(), 3);
        assert!(bars(&[1.0], 0.0).is_empty());
    }
}
