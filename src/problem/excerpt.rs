//! The place that a problem means, shown: the line of the file and a caret under the place.

use super::{Problem, read_capped};

/// Largest file that is read again to show a line of it, bytes: the largest table that is read at all.
const MAX_BYTES: u64 = 8 * 1024 * 1024;
/// Longest piece of a line that is shown, characters: what fits a terminal.
const WIDTH_CHARS: usize = 96;
/// At most so much of it stands before the place.
const BEFORE_CHARS: usize = 60;

impl Problem {
    /// The line that is meant and a caret under the place, two lines; `None` where no place is known or the
    /// file can no longer be read.
    pub fn excerpt(&self) -> Option<String> {
        let (line, column) = self.place?;
        let bytes = read_capped(&self.file, MAX_BYTES).ok()?;
        let text = String::from_utf8_lossy(&bytes);
        let text = text.strip_prefix('\u{feff}').unwrap_or(&text);
        Some(pointed(text.lines().nth(line.checked_sub(1)?)?, line, column))
    }
}

/// A line with its number, and a caret under a column (from 1).
fn pointed(line: &str, number: usize, column: usize) -> String {
    let signs: Vec<char> = line.chars().map(|c| if c.is_control() { ' ' } else { c }).collect();
    let at = column.saturating_sub(1).min(signs.len());
    let start = at.saturating_sub(BEFORE_CHARS);
    let end = signs.len().min(start + WIDTH_CHARS);
    let (lead, tail) = (if start > 0 { "..." } else { "" }, if end < signs.len() { "..." } else { "" });
    let shown: String = signs[start..end].iter().collect();
    let margin = format!("{number:>5} | ");
    let indent = " ".repeat(margin.len() - 2 + lead.len() + at - start);
    format!("{margin}{lead}{shown}{tail}\n{}| {}^", " ".repeat(margin.len() - 2), &indent[margin.len() - 2..])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_caret_stands_under_the_place() {
        assert_eq!(pointed("a: [1, x]", 7, 8), "    7 | a: [1, x]\n      |        ^");
        let long = format!("{}x{}", "a".repeat(200), "b".repeat(200));
        let shown = pointed(&long, 12, 201);
        let (line, caret) = shown.split_once('\n').unwrap();
        assert_eq!(line.chars().nth(caret.find('^').unwrap()), Some('x'));
        assert!(line.len() < 120);
        assert_eq!(pointed("", 1, 1).lines().last().unwrap().trim_end().chars().last(), Some('^'));
    }

    #[test]
    fn a_file_that_is_gone_is_no_failure() {
        let mut problem = Problem::of_file("no/such/file".as_ref(), "x", "y");
        problem.place = Some((1, 1));
        assert_eq!(problem.excerpt(), None);
    }
}
