//! A rubric as a table that a person can read.

use super::{Band, Cap, Condition, Criterion, Kind, PanelChoice, Range, Rounding, Rubric};
use crate::measure::Unit;
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
        let above = if self.total.above_full { "; a bonus may lift it above full marks" } else { "" };
        line(format!("Total: {sum}{}{above}", rounded.unwrap_or_default()));
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
    /// Its marks, and how they count: `2 marks, each panel`.
    pub fn counts(&self) -> String {
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
            (1.0, false) => format!(", times {}", weights.join(" and ")),
            (all, false) => format!(", times {}, but {}", number(all), weights.join(" and ")),
        };
        let s = if self.marks.abs() == 1.0 { "" } else { "s" };
        format!("{} mark{s}{kind}{panel}{weight}", number(self.marks))
    }

    /// What is measured and what earns how many marks, a sentence a part; needs and caps left out.
    pub fn in_words(&self) -> Vec<String> {
        let lead = |n| match (self.parts.len(), n) {
            (1, _) => "",
            (_, 0) => "The lowest of: ",
            _ => "And of: ",
        };
        let words = |(n, part): (usize, &super::Part)| {
            // The measure is named by its sentence, so the limits need no name.
            let what = part.measure.map(|m| format!("{}: ", m.sentence.trim_end_matches('.')));
            let bands = part.bands.iter().enumerate().map(|(n, band)| {
                let marks = number(band.given.marks);
                let alone = band.all_of.is_empty() && band.any_of.is_empty();
                let s = if marks == "1" { "" } else { "s" };
                match part.measure {
                    _ if alone && band.range.is_open() => format!("else {marks}"),
                    Some(m) if alone && n == 0 => {
                        format!("{marks} mark{s} if {}", plainly(&band.range, m.unit))
                    }
                    Some(m) if alone => format!("{marks} if {}", plainly(&band.range, m.unit)),
                    _ => format!("{marks} if {}", when(band, part.measure.map(|m| m.name))),
                }
            });
            let bands: Vec<String> = bands.collect();
            format!("{}{}{}.", lead(n), what.unwrap_or_default(), bands.join(", "))
        };
        self.parts.iter().enumerate().map(words).collect()
    }

    fn write(&self, text: &mut String) {
        let _ = writeln!(text, "\n{} ({}, {})", self.title, self.id, self.counts());
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

/// Limits as one says them: of a count, none instead of at most 0.
fn plainly(r: &Range, unit: Unit) -> String {
    let none = Range { at_most: Some(0.0), ..Range::default() };
    if unit == Unit::Count && *r == none { "none".to_string() } else { range(r) }
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

    /// The numbers are those of rubrics/basics.yaml and rubrics/lower-secondary.yaml.
    #[test]
    fn a_criterion_in_words_tells_what_earns_how_many_marks() {
        let ready = |name: &str| {
            let text = crate::rubric::ready::find(name).unwrap().text;
            Rubric::parse(name.as_ref(), text, &["A"]).unwrap()
        };
        let basics = ready("basics");
        let of = |id: &str| basics.criterion(id).unwrap().in_words();
        let arrows = "Number of lines with an arrow that does not agree with the field";
        assert_eq!(of("direction"), [format!("{arrows}: 2 marks if none, 1 if at most 2, else 0.")]);
        assert!(of("arrows")[0].ends_with(": 1 mark if at least 0.8, else 0."), "{:?}", of("arrows"));
        let lowest = ready("lower-secondary").criterion("pattern").unwrap().in_words();
        assert!(lowest[0].starts_with("The lowest of: ") && lowest[1].starts_with("And of: "), "{lowest:?}");
        let both = ready("self-check").criterion("lines").unwrap().in_words();
        assert_eq!(
            both,
            [
                "2 if meets.count at most 0 and ends.open at most 0, 1 if meets.count at most 0 or ends.open at most 0, else 0."
            ]
        );
        assert_eq!(basics.criterion("direction").unwrap().counts(), "2 marks");
    }

    #[test]
    fn wraps_at_words() {
        assert_eq!(wrapped("one two three", 7), ["one two", "three"]);
        assert_eq!(wrapped("", 7), [""]);
    }
}
