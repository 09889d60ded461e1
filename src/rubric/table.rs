//! A rubric as a table that a person can read.

use super::{Band, Cap, Condition, Criterion, Kind, PanelChoice, Range, Rounding, Rubric};
use std::fmt::Write;

/// Widest line, characters: a terminal as it opens.
const WIDTH_CHARS: usize = 100;
/// Width of the column of marks, and of that of conditions.
const MARKS_CHARS: usize = 7;
const WHEN_CHARS: usize = 34;

impl Rubric {
    /// Title, criteria with their bands and words, total, grades; `panels`: those of the sheet, where known.
    pub fn table(&self, panels: &[&str]) -> String {
        let mut text = format!("{}\n", self.title);
        let out_of = self.out_of(panels);
        for criterion in &self.criteria {
            criterion.write(&mut text);
        }
        let mut line = |words: String| {
            // Writing to a string cannot fail.
            let _ = writeln!(text, "{words}");
        };
        line(String::new());
        for cap in &self.caps {
            line(format!(
                "Total at most {} while {}: \"{}\"",
                number(cap.at_most),
                conditions(&cap.conditions, "and"),
                cap.say.pattern()
            ));
        }
        let each = panels.is_empty() && self.criteria.iter().any(|c| matches!(c.panel, PanelChoice::Each));
        let sum = match (self.total.out_of, each) {
            (Some(out_of), _) => format!("scaled to {}", number(out_of)),
            (None, true) => "the sum over the panels".to_string(),
            (None, false) => format!("out of {}", number(out_of)),
        };
        let rounded = self.total.round_to.map(|step| {
            let way = match self.total.rounding {
                Rounding::Nearest => "to the nearest",
                Rounding::Up => "up to",
                Rounding::Down => "down to",
            };
            format!(", rounded {way} {}", number(step))
        });
        line(format!("Total: {sum}{}", rounded.unwrap_or_default()));
        if !self.grades.is_empty() {
            let names: Vec<String> = self
                .grades
                .iter()
                .map(|g| format!("{} from {} %", g.name, number(g.at_least_percent)))
                .collect();
            line(format!("Grades: {}", names.join(", ")));
        }
        line(format!("A mark less sure than {} is left for a person to look at", self.look_below));
        if !self.languages.is_empty() {
            line(format!("Words in: {}", self.languages.join(", ")));
        }
        if self.words_only {
            line("Feedback shows words only, no marks".to_string());
        }
        text
    }
}

impl Criterion {
    fn write(&self, text: &mut String) {
        let kind = match self.kind {
            Kind::Ordinary => "",
            Kind::Bonus => ", bonus",
            Kind::Penalty => ", penalty",
        };
        let panel = match &self.panel {
            PanelChoice::Only => String::new(),
            PanelChoice::One(id) => format!(", panel {id}"),
            PanelChoice::Each => ", each panel".to_string(),
            PanelChoice::Some(ids) => format!(", panels {}", ids.join(" and ")),
        };
        let weights: Vec<String> =
            self.weights.panels.iter().map(|(id, w)| format!("{} in panel {id}", number(*w))).collect();
        let weight = match (self.weights.all, weights.is_empty()) {
            (1.0, true) => String::new(),
            (all, true) => format!(", times {}", number(all)),
            (_, false) => format!(", times {}", weights.join(" and ")),
        };
        let s = if self.marks.abs() == 1.0 { "" } else { "s" };
        let _ = writeln!(
            text,
            "\n{} ({}, {} mark{s}{kind}{panel}{weight})",
            self.title,
            self.id,
            number(self.marks)
        );
        for need in &self.needs {
            let when = format!("unless {}", condition(&need.condition));
            row(text, need.otherwise.marks, &when, &need.otherwise.say.pattern());
        }
        for (n, part) in self.parts.iter().enumerate() {
            if self.parts.len() > 1 {
                let lead = if n == 0 { "the lowest of" } else { "and of" };
                let _ = writeln!(text, "  {lead} ({})", part.measure.map_or("several measures", |m| m.name));
            }
            for band in &part.bands {
                row(
                    text,
                    band.given.marks,
                    &when(band, part.measure.map(|m| m.name)),
                    &band.given.say.pattern(),
                );
            }
            if let Some(given) = &part.if_empty {
                row(text, given.marks, "where there is too little to judge", &given.say.pattern());
            }
        }
        for Cap { conditions: list, at_most, say } in &self.caps {
            row(text, *at_most, &format!("at most, while {}", conditions(list, "and")), &say.pattern());
        }
    }
}

fn when(band: &Band, measure: Option<&str>) -> String {
    let mut parts = Vec::new();
    if let Some(name) = measure.filter(|_| !band.range.is_open()) {
        parts.push(format!("{name} {}", range(&band.range)));
    }
    if !band.all_of.is_empty() {
        parts.push(conditions(&band.all_of, "and"));
    }
    if !band.any_of.is_empty() {
        parts.push(conditions(&band.any_of, "or"));
    }
    if parts.is_empty() { "otherwise".to_string() } else { parts.join(" and ") }
}

fn conditions(list: &[Condition], joint: &str) -> String {
    list.iter().map(condition).collect::<Vec<_>>().join(&format!(" {joint} "))
}

fn condition(c: &Condition) -> String {
    format!("{} {}", c.measure.name, range(&c.range))
}

fn range(r: &Range) -> String {
    let one = |limit: Option<f64>, words: &str| limit.map(|l| format!("{words} {}", number(l)));
    let limits = [
        one(r.at_least, "at least"),
        one(r.at_most, "at most"),
        one(r.above, "above"),
        one(r.below, "below"),
    ];
    limits.into_iter().flatten().collect::<Vec<_>>().join(" and ")
}

/// Marks, when, and what is said, the last two wrapped under themselves.
fn row(text: &mut String, marks: f64, when: &str, say: &str) {
    let (when, say) = (wrapped(when, WHEN_CHARS), wrapped(say, WIDTH_CHARS - MARKS_CHARS - WHEN_CHARS - 4));
    for n in 0..when.len().max(say.len()) {
        let marks = if n == 0 { number(marks) } else { String::new() };
        let cell = |column: &[String]| column.get(n).cloned().unwrap_or_default();
        let line = format!("{marks:>MARKS_CHARS$}  {:<WHEN_CHARS$}  {}", cell(&when), cell(&say));
        let _ = writeln!(text, "{}", line.trim_end());
    }
}

/// A number as a person writes it: four decimals at most, none where none are needed.
fn number(value: f64) -> String {
    let text = format!("{value:.4}");
    text.trim_end_matches('0').trim_end_matches('.').to_string()
}

fn wrapped(text: &str, width: usize) -> Vec<String> {
    let mut lines = vec![String::new()];
    for word in text.split(' ') {
        let last = lines.len() - 1;
        let line = &mut lines[last];
        if line.is_empty() {
            line.push_str(word);
        } else if line.chars().count() + 1 + word.chars().count() <= width {
            line.push(' ');
            line.push_str(word);
        } else {
            lines.push(word.to_string());
        }
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn wraps_at_words() {
        assert_eq!(wrapped("one two three", 7), ["one two", "three"]);
        assert_eq!(wrapped("", 7), [""]);
    }
}
