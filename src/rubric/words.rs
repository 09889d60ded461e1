//! What is said to a student: fixed words with places for what was counted.

use crate::measure::{ALL, Measure, Unit};
use crate::problem::{one_of, suggest};

/// A place in the words, filled with what was measured.
#[derive(Clone, Copy, Debug)]
pub enum Slot {
    /// Lines with an arrow the wrong way.
    WrongArrows,
    /// Places where lines meet.
    Crossings,
    /// Open ends.
    OpenEnds,
    /// Lines.
    Lines,
    /// The greatest of the lines' median angles to the field, degrees.
    WorstAngleDeg,
    /// The number of the line with that angle, as on the feedback page.
    Line,
    /// Lines with an arrow.
    ArrowedLines,
    /// Lines without an arrow.
    BareLines,
    /// Lines between like poles.
    LikePoles,
    /// Plotted dots.
    Dots,
    /// A measure by its name.
    Measure(&'static Measure),
    /// The criterion's own measure.
    Value,
}

const SLOTS: [(&str, Slot); 11] = [
    ("wrong_arrows", Slot::WrongArrows),
    ("crossings", Slot::Crossings),
    ("open_ends", Slot::OpenEnds),
    ("lines", Slot::Lines),
    ("worst_angle_deg", Slot::WorstAngleDeg),
    ("line", Slot::Line),
    ("arrowed_lines", Slot::ArrowedLines),
    ("bare_lines", Slot::BareLines),
    ("like_poles", Slot::LikePoles),
    ("dots", Slot::Dots),
    ("value", Slot::Value),
];

impl PartialEq for Slot {
    fn eq(&self, other: &Self) -> bool {
        match (self, other) {
            (Slot::Measure(a), Slot::Measure(b)) => a.name == b.name,
            _ => std::mem::discriminant(self) == std::mem::discriminant(other),
        }
    }
}

#[derive(Clone, Debug, PartialEq)]
enum Part {
    Text(String),
    Slot(Slot),
}

/// Words with slots, as `{wrong_arrows} of your lines have an arrow the wrong way.`
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Words {
    parts: Vec<Part>,
}

impl Words {
    /// Reads words; braces only hold the name of a slot.
    ///
    /// # Errors
    /// What is wrong and what to do: an unknown slot, or a brace without its partner.
    pub fn parse(text: &str) -> Result<Self, (String, String)> {
        let names: Vec<&str> = SLOTS.iter().map(|(name, _)| *name).collect();
        let mut parts = Vec::new();
        let mut rest = text;
        while let Some(open) = rest.find(['{', '}']) {
            let lone = || {
                ("a brace without its partner".to_string(), format!("use braces only as {{{}}}", names[0]))
            };
            let close = rest[open..].find('}').ok_or_else(lone)?;
            if rest[open..].starts_with('}') {
                return Err(lone());
            }
            if open > 0 {
                parts.push(Part::Text(rest[..open].to_string()));
            }
            let name = &rest[open + 1..open + close];
            let simple = SLOTS.iter().find(|(known, _)| *known == name).map(|(_, slot)| *slot);
            let measure = || ALL.iter().find(|m| m.name == name).map(Slot::Measure);
            let Some(slot) = simple.or_else(measure) else {
                let fix = match suggest(name, &names) {
                    near if near.starts_with("did") => near,
                    _ => format!("write {} or the name of a measure in the braces", one_of(&names)),
                };
                return Err((format!("nothing is called {{{name}}}"), fix));
            };
            parts.push(Part::Slot(slot));
            rest = &rest[open + close + 1..];
        }
        if !rest.is_empty() {
            parts.push(Part::Text(rest.to_string()));
        }
        Ok(Self { parts })
    }

    /// The words as written, slots in braces.
    pub fn pattern(&self) -> String {
        let name = |slot: &Slot| match slot {
            Slot::Measure(measure) => measure.name,
            other => SLOTS.iter().find(|(_, known)| known == other).map_or("", |(name, _)| name),
        };
        let part = |part: &Part| match part {
            Part::Text(text) => text.clone(),
            Part::Slot(slot) => format!("{{{}}}", name(slot)),
        };
        self.parts.iter().map(part).collect()
    }

    /// Whether they have such a slot.
    pub fn has(&self, slot: Slot) -> bool {
        self.parts.iter().any(|part| matches!(part, Part::Slot(s) if *s == slot))
    }

    /// The words with every slot filled; a slot without a value becomes a dash.
    pub fn fill(&self, value: impl Fn(Slot) -> Option<String>) -> String {
        self.parts
            .iter()
            .map(|part| match part {
                Part::Text(text) => text.clone(),
                Part::Slot(slot) => value(*slot).unwrap_or_else(|| "\u{2013}".to_string()),
            })
            .collect()
    }
}

/// A measure's value for a sentence: whole counts and degrees, shares in per cent, millimetres and ratios to a tenth.
pub(super) fn spoken(value: f64, unit: Unit) -> String {
    match unit {
        Unit::Count | Unit::Degrees => format!("{value:.0}"),
        Unit::Share => format!("{:.0} %", value * 100.0),
        Unit::Rank => format!("{value:.2}"),
        Unit::Millimetres | Unit::Ratio => format!("{value:.1}"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn fills_slots_and_refuses_unknown_ones() {
        let words = Words::parse("{wrong_arrows} of {lines} lines.").unwrap();
        let filled = words.fill(|slot| (slot == Slot::Lines).then(|| "8".to_string()));
        assert_eq!(filled, "\u{2013} of 8 lines.");
        let (what, fix) = Words::parse("{crosings}").unwrap_err();
        assert_eq!(
            (what.as_str(), fix.as_str()),
            ("nothing is called {crosings}", "did you mean crossings?")
        );
        for bad in ["{", "}", "a } b", "{lines", "{}", "{{lines}}"] {
            assert!(Words::parse(bad).is_err(), "{bad}");
        }
    }
}
