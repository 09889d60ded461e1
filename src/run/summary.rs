//! What a person is told at the end of a run.

use serde::Serialize;
use std::fmt;

/// A run in numbers, and every page that needs a person.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Summary {
    pub counts: Counts,
    pub people: Vec<Person>,
    /// How files were read or written where that is worth saying.
    pub notes: Vec<String>,
    /// Where the marks are.
    pub marks: String,
    pub class_page: String,
    /// Whether the marks went beside marks.csv.
    pub kept_beside: bool,
    pub seconds: f64,
}

/// Rows by status, and what was read.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Counts {
    pub students: usize,
    pub proposed: usize,
    pub look: usize,
    pub unreadable: usize,
    pub absent: usize,
    pub excused: usize,
    pub files: usize,
    pub pages: usize,
    /// Pages read in this run, the others being known from an earlier one.
    pub pages_read: usize,
    /// Blank pages, the backs of sheets scanned on both sides, that were passed over.
    pub blank: usize,
}

/// A page or file that needs a person.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Person {
    /// The student, where known.
    pub code: Option<String>,
    /// File and page.
    pub source: String,
    /// Whole sentences.
    pub why: Vec<String>,
}

impl Summary {
    /// Whether something is left for a person to do.
    pub fn needs_person(&self) -> bool {
        !self.people.is_empty() || self.kept_beside
    }
}

/// As "1 page" and "2 pages".
fn counted(n: usize, what: &str) -> String {
    format!("{n} {what}{}", if n == 1 { "" } else { "s" })
}

impl fmt::Display for Summary {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let c = &self.counts;
        writeln!(
            f,
            "{} in {}{}, {} of them read now, in {:.1} s",
            counted(c.pages, "page"),
            counted(c.files, "file"),
            if c.blank > 0 { format!(" ({} blank)", c.blank) } else { String::new() },
            c.pages_read,
            self.seconds
        )?;
        writeln!(
            f,
            "{}: {} proposed, {} to look at, {} unreadable, {} absent, {} excused",
            counted(c.students, "student"),
            c.proposed,
            c.look,
            c.unreadable,
            c.absent,
            c.excused
        )?;
        if !self.people.is_empty() {
            writeln!(f, "\nA person is needed here:")?;
        }
        for person in &self.people {
            let who = person.code.as_ref().map(|code| format!("{code}, ")).unwrap_or_default();
            writeln!(f, "  {who}{}", person.source)?;
            for why in &person.why {
                writeln!(f, "      {why}")?;
            }
        }
        if !self.notes.is_empty() {
            writeln!(f)?;
        }
        for note in &self.notes {
            writeln!(f, "Note: {note}")?;
        }
        writeln!(f, "\nMarks: {}\nThe class on one page: {}", self.marks, self.class_page)?;
        write!(f, "These marks are a proposal. Put your own into changes.csv and run again: they win.")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_is_not_many() {
        let mut counts = Counts { students: 1, files: 1, pages: 24, ..Counts::default() };
        let mut summary = Summary {
            counts,
            people: vec![],
            notes: vec![],
            marks: "marks.csv".into(),
            class_page: "class.html".into(),
            kept_beside: false,
            seconds: 1.0,
        };
        let text = summary.to_string();
        assert!(
            text.starts_with("24 pages in 1 file, 0 of them read now, in 1.0 s\n1 student: 0 proposed"),
            "{text}"
        );
        counts.blank = 12;
        summary.counts = counts;
        assert!(summary.to_string().starts_with("24 pages in 1 file (12 blank), 0 of them read now"));
    }
}
