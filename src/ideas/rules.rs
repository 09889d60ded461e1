//! From a panel's findings to the ideas that they suggest.
//!
//! A rule on measures is as sure as the share of readings in which it holds; a rule on single lines as the lines
//! that it rests on. The limits are empirical, on generated drawings (tests/promises/makers.rs).

use super::pattern::{bulge, gap_ratio, has_sides, points, rings, sides};
use super::{CATALOGUE, TOLD_FROM};
use crate::measure::PanelMeasures;
use crate::measure::findings::{EndRecord, IdeaRecord, LineRecord, PanelRecord};
use crate::worksheet::{Panel, Source};

/// So many open ends are a habit; one less where each is on a line of its own.
const OPEN_ENDS: f64 = 4.0;
/// So many pairs of lines that cross are a habit.
const CROSSINGS: usize = 2;
/// So many rings.
const RINGS: usize = 2;
/// At most this share of the arrowed lines agrees, of at least so many.
const AGREE_AT_MOST: f64 = 0.35;
const ARROWED_AT_LEAST: f64 = 3.0;
/// Fewest lines for a pattern to be judged.
const LINES_AT_LEAST: f64 = 4.0;
/// The emptier side of the mirror line holds less than this share of the fuller one.
const BALANCE_BELOW: f64 = 0.45;
/// Gaps that vary by less than this factor, though the field asks for more, are equal.
const EQUAL_RATIO: f64 = 5.0;
/// The same beside a uniform background, whose own lines run evenly far from the magnets.
const EQUAL_RATIO_IN_BACKGROUND: f64 = 3.2;
/// The same where too few gaps are drawn to tell whether they open out.
const EQUAL_RATIO_ALONE: f64 = 2.0;
/// And the gaps do not open out.
const WIDEN_BELOW: f64 = 0.35;
/// Among more magnets the field's own lines keep gaps that neither vary nor open out by these limits.
const SPACED_MAGNETS: usize = 3;
/// A line that leaves its chord by less than this share of it is straight.
const STRAIGHT_BULGE: f64 = 0.03;
/// The field itself is not: the line lies so far from it, degrees (median).
const STRAIGHT_OFF_DEG: f64 = 6.0;
/// So many straight lines, and this share of the lines from pole to pole.
const STRAIGHT_LINES: usize = 3;
const STRAIGHT_SHARE: f64 = 0.5;
/// A line that leaves a magnet's middle leaves it at more than this angle to its axis: there the field runs along
/// the axis, degrees.
const OUT_OF_MIDDLE_DEG: f64 = 50.0;
/// Its way is that of its first millimetres.
const WAY_MM: f64 = 8.0;
/// So many of them.
const OUT_OF_MIDDLE: usize = 2;

/// The ideas that are wrong of any field. The others speak of magnets: round a wire rings are right, between plates straight lines
/// are.
const ANYWHERE: [&str; 1] = ["lines-cross"];

/// What a rule found: how sure, and the lines and places it rests on.
struct Found {
    sure: f64,
    lines: Vec<String>,
    at_mm: Vec<[f64; 2]>,
}

/// The ideas that a panel's findings suggest, in the order of the catalogue, those told that are at least
/// [`TOLD_FROM`] sure.
pub fn find(panel: &Panel, record: &PanelRecord, measures: &PanelMeasures) -> Vec<IdeaRecord> {
    let seen = Seen { panel, record, measures };
    let told = |idea: &super::Idea| {
        if !speaks_of(idea.id, panel) {
            return None;
        }
        let found = seen.rule(idea.id)?;
        let told = IdeaRecord {
            idea: idea.id.to_string(),
            panel: record.id.clone(),
            sure: (found.sure * 1000.0).round() / 1000.0,
            lines: found.lines,
            at_mm: found.at_mm,
        };
        (told.sure >= TOLD_FROM).then_some(told)
    };
    CATALOGUE.iter().filter_map(told).collect()
}

/// Whether an idea says anything of a panel with such sources.
pub(super) fn speaks_of(id: &str, panel: &Panel) -> bool {
    let crowded = id == "equal-spacing" && panel.sources.len() > SPACED_MAGNETS;
    ANYWHERE.contains(&id) || (panel.sources.iter().all(|s| s.kind.is_magnet()) && !crowded)
}

struct Seen<'a> {
    panel: &'a Panel,
    record: &'a PanelRecord,
    measures: &'a PanelMeasures,
}

impl Seen<'_> {
    fn rule(&self, id: &str) -> Option<Found> {
        match id {
            "stops-in-space" => self.stops_in_space(),
            "lines-cross" => self.lines_cross(),
            "closed-rings" => self.closed_rings(),
            "like-poles-joined" => self.like_poles_joined(),
            "only-in-front" => self.only_in_front(),
            "equal-spacing" => self.equal_spacing(),
            "south-to-north" => self.south_to_north(),
            "straight-between" => self.straight_between(),
            "out-of-the-middle" => self.out_of_the_middle(),
            "lopsided" => self.lopsided(),
            _ => None,
        }
    }

    /// Share of the readings in which a rule on measures holds.
    fn share(&self, rule: impl Fn(&dyn Fn(&str) -> Option<f64>) -> bool) -> f64 {
        let worlds = self.measures.measures.iter().map(|m| m.worlds.len()).min().unwrap_or(0);
        let holds = |w: &usize| rule(&|name| self.measures.get(name)?.worlds.get(*w).copied().flatten());
        (0..worlds).filter(holds).count() as f64 / worlds.max(1) as f64
    }

    /// Places and lines, and how sure the line that is least sure among the first so many is.
    fn on_lines(&self, mut lines: Vec<(&LineRecord, [f64; 2])>, least: usize) -> Option<Found> {
        if lines.len() < least {
            return None;
        }
        lines.sort_by(|a, b| b.0.sure.total_cmp(&a.0.sure));
        let sure = lines.get(least - 1).map_or(0.0, |(l, _)| l.sure);
        Some(Found {
            sure,
            lines: lines.iter().map(|(l, _)| l.id.clone()).collect(),
            at_mm: lines.iter().map(|(_, at)| *at).collect(),
        })
    }

    fn stops_in_space(&self) -> Option<Found> {
        let open: Vec<(&LineRecord, &EndRecord)> = self
            .record
            .lines
            .iter()
            .flat_map(|l| l.ends.iter().map(move |e| (l, e)))
            .filter(|(_, e)| e.on == "open")
            .collect();
        let mut ids: Vec<&str> = open.iter().map(|(l, _)| l.id.as_str()).collect();
        ids.dedup();
        let apart = ids.len() as f64 >= OPEN_ENDS - 1.0;
        let least = if apart { OPEN_ENDS - 1.0 } else { OPEN_ENDS };
        let sure = self.share(|of| of("ends.open").is_some_and(|n| n >= least));
        Some(Found {
            sure,
            lines: open.iter().map(|(l, _)| l.id.clone()).collect(),
            at_mm: open.iter().map(|(_, e)| e.at_mm).collect(),
        })
    }

    fn lines_cross(&self) -> Option<Found> {
        let mut crossings: Vec<_> = self.record.meets.iter().filter(|m| m.kind == "cross").collect();
        crossings.sort_by(|a, b| b.sure.total_cmp(&a.sure));
        // Two lines that cross twice were drawn wrong once.
        let mut pairs: Vec<&[String; 2]> = Vec::new();
        crossings.retain(|m| {
            let new = !pairs.contains(&&m.lines);
            pairs.push(&m.lines);
            new
        });
        if crossings.len() < CROSSINGS {
            return None;
        }
        Some(Found {
            sure: crossings[CROSSINGS - 1].sure,
            lines: crossings.iter().flat_map(|m| m.lines.clone()).collect(),
            at_mm: crossings.iter().map(|m| m.at_mm).collect(),
        })
    }

    fn closed_rings(&self) -> Option<Found> {
        let round = |l: &&LineRecord| self.panel.sources.iter().any(|s| rings(l, s));
        let rings: Vec<_> = self.record.lines.iter().filter(round).map(|l| (l, middle(l))).collect();
        self.on_lines(rings, RINGS)
    }

    fn like_poles_joined(&self) -> Option<Found> {
        let joins = |l: &&LineRecord| match l.ends.as_slice() {
            [a, b] => match (a.on.rsplit_once('.'), b.on.rsplit_once('.')) {
                (Some((one, half)), Some((other, half2))) => one != other && half == half2 && half != "mid",
                _ => false,
            },
            _ => false,
        };
        let lines: Vec<_> = self.record.lines.iter().filter(joins).map(|l| (l, middle(l))).collect();
        let mut found = self.on_lines(lines, 1)?;
        found.sure = found.sure.min(self.share(|of| of("joins.wrong").is_some_and(|n| n >= 1.0)));
        Some(found)
    }

    fn only_in_front(&self) -> Option<Found> {
        let magnets: Vec<&Source> = self.panel.sources.iter().filter(|s| has_sides(s)).collect();
        let sides: Vec<bool> = magnets.iter().flat_map(|s| sides(self.panel, s, self.record)).collect();
        if sides.is_empty() || sides.contains(&true) || magnets.len() < self.panel.sources.len() {
            return None;
        }
        let sure = self.share(|of| of("lines.count").is_some_and(|n| n >= LINES_AT_LEAST));
        Some(Found { sure, lines: Vec::new(), at_mm: Vec::new() })
    }

    fn equal_spacing(&self) -> Option<Found> {
        let ratio = gap_ratio(self.panel, self.record)?;
        let most = if self.panel.earth.is_some() { EQUAL_RATIO_IN_BACKGROUND } else { EQUAL_RATIO };
        if ratio > most {
            return None;
        }
        let flat = |of: &dyn Fn(&str) -> Option<f64>| match of("spacing.widen") {
            Some(widen) => widen < WIDEN_BELOW,
            None => ratio <= EQUAL_RATIO_ALONE,
        };
        let sure = self.share(|of| flat(of) && of("lines.count").is_some_and(|n| n >= LINES_AT_LEAST));
        Some(Found { sure, lines: Vec::new(), at_mm: Vec::new() })
    }

    fn south_to_north(&self) -> Option<Found> {
        let sure = self.share(|of| {
            let arrowed = of("lines.count").unwrap_or(0.0) * of("arrows.shown").unwrap_or(0.0);
            of("arrows.agree").is_some_and(|v| v <= AGREE_AT_MOST) && arrowed >= ARROWED_AT_LEAST - 0.5
        });
        let wrong = self.record.lines.iter().flat_map(|l| l.arrows.iter().map(move |a| (l, a)));
        let wrong: Vec<_> = wrong.filter(|(_, a)| !a.agrees).collect();
        Some(Found {
            sure,
            lines: wrong.iter().map(|(l, _)| l.id.clone()).collect(),
            at_mm: wrong.iter().map(|(_, a)| a.at_mm).collect(),
        })
    }

    fn straight_between(&self) -> Option<Found> {
        let pole = |e: &EndRecord| e.on.ends_with(".N") || e.on.ends_with(".S") || e.on.ends_with(".mid");
        let between: Vec<&LineRecord> =
            self.record.lines.iter().filter(|l| l.ends.len() == 2 && l.ends.iter().all(pole)).collect();
        let straight = |l: &&&LineRecord| {
            bulge(l).is_some_and(|b| b < STRAIGHT_BULGE)
                && l.angle_deg.median.is_some_and(|a| a > STRAIGHT_OFF_DEG)
        };
        let lines: Vec<_> = between.iter().filter(straight).map(|l| (*l, middle(l))).collect();
        if (lines.len() as f64) < STRAIGHT_SHARE * between.len() as f64 {
            return None;
        }
        self.on_lines(lines, STRAIGHT_LINES)
    }

    fn out_of_the_middle(&self) -> Option<Found> {
        let mut out = Vec::new();
        for line in &self.record.lines {
            let mut points = points(line);
            for end in &line.ends {
                let source = self.panel.sources.iter().find(|s| end.on == format!("{}.mid", s.id));
                if let Some(source) = source
                    && has_sides(source)
                    && leaves_across(&points, source)
                {
                    out.push((line, end.at_mm));
                }
                points.reverse();
            }
        }
        self.on_lines(out, OUT_OF_MIDDLE)
    }

    fn lopsided(&self) -> Option<Found> {
        let sure = self.share(|of| {
            let lines = of("lines.count").is_some_and(|n| n >= LINES_AT_LEAST);
            lines && of("balance.share").is_some_and(|v| v < BALANCE_BELOW)
        });
        Some(Found { sure, lines: Vec::new(), at_mm: Vec::new() })
    }
}

/// Whether a line's first millimetres lead across a magnet's axis.
fn leaves_across(points: &[crate::geometry::Point], source: &Source) -> bool {
    let (Some(first), Some(on)) = (points.first(), crate::geometry::polyline::point_at(points, WAY_MM))
    else {
        return false;
    };
    let way = source.local(on) - source.local(*first);
    let angle = way.y.abs().atan2(way.x.abs()).to_degrees();
    angle > OUT_OF_MIDDLE_DEG
}

fn middle(line: &LineRecord) -> [f64; 2] {
    line.points_mm.get(line.points_mm.len() / 2).copied().unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::measure::{made, measure_panel};
    use crate::worksheet::Kind;

    fn told(panel: &Panel) -> Vec<String> {
        let rings = [18.0, 24.0, 30.0].map(|radius| made::arc(radius, 0.0, 358.0));
        let found = measure_panel(panel, &panel.field(), &made::drawing(rings.to_vec()), 1);
        find(panel, &found.record, &found.measures).into_iter().map(|idea| idea.idea).collect()
    }

    #[test]
    fn rings_are_wrong_round_a_magnet_and_right_round_a_wire() {
        let bar =
            Kind::Bar { length: 20.0, width: 8.0, thickness: 8.0, remanence_mt: 400.0, pole_inset: 0.0 };
        assert!(told(&made::with_source(bar, None)).contains(&"closed-rings".to_string()));
        assert_eq!(told(&made::with_source(Kind::Wire { current_a: 5.0, out: true }, None)), [""; 0]);
    }
}
