//! Whose page is whose: by what a person wrote in who.csv, else by the sheet's code; never by a guess.

use super::cache::SheetCode;
use super::pages::{Note, Seen};
use crate::class::roster::Roster;
use crate::class::who::{Owner, Who};

/// A page that a person must give to a student, and why.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Open {
    /// Its place in the notes.
    pub note: usize,
    pub why: Why,
    /// The code that the scan order suggests.
    pub guess: Option<String>,
}

/// Why a sheet's owner is not known.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Why {
    Unreadable,
    /// The code is not on the roster; a spare sheet among them.
    NotOnRoster(String),
    /// A sheet without a student's code.
    Master,
    /// Plain paper.
    Plain,
}

impl Why {
    /// In words.
    pub fn words(&self) -> String {
        match self {
            Why::Unreadable => "its code cannot be read".to_string(),
            Why::NotOnRoster(code) if code.starts_with("SPARE") => format!("it is the spare sheet {code}"),
            Why::NotOnRoster(code) => format!("its code {code} is not on the roster"),
            Why::Master => "it is a sheet without a student's code".to_string(),
            Why::Plain => "it is plain paper without a code".to_string(),
        }
    }
}

/// Pages and their students.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Assignment {
    /// A student of the roster an entry: the places of the student's pages in the notes, in scan order.
    pub pages: Vec<Vec<usize>>,
    pub open: Vec<Open>,
    /// Notes that are no page of this class.
    pub strays: Vec<usize>,
    /// Notes of blank pages that nobody gave to a student: nobody needs to look at them.
    pub blank: Vec<usize>,
}

/// Gives every page to a student, to a person to decide, or to nobody.
pub fn assign(notes: &[Note], roster: &Roster, who: &Who) -> Assignment {
    let mut result = Assignment { pages: vec![Vec::new(); roster.students.len()], ..Assignment::default() };
    for (n, note) in notes.iter().enumerate() {
        let told = who.code_of(&note.file, note.page).and_then(|code| roster.position(code));
        if let Some(student) = told {
            result.pages[student].push(n);
            continue;
        }
        let mut open = |why| result.open.push(Open { note: n, why, guess: None });
        match &note.seen {
            Seen::Sheet(SheetCode::Code(code)) => match roster.position(code) {
                Some(student) => result.pages[student].push(n),
                None => open(Why::NotOnRoster(code.clone())),
            },
            Seen::Sheet(SheetCode::Unreadable) => open(Why::Unreadable),
            Seen::Sheet(SheetCode::Master) => open(Why::Master),
            Seen::Sheet(SheetCode::Plain) => open(Why::Plain),
            Seen::Blank => result.blank.push(n),
            Seen::OtherWorksheet(_) | Seen::NoPage | Seen::Refused { .. } => result.strays.push(n),
        }
    }
    guess(&mut result, notes, roster);
    result
}

/// Fills in guesses: stacks mostly lie in roster order, so a page between those of two neighbours is likely
/// that of the student between them, if that student has no page yet.
///
/// Blank backs do not count: in a stack scanned on both sides the next student's sheet is two pages on.
fn guess(result: &mut Assignment, notes: &[Note], roster: &Roster) {
    let pages = notes.len();
    let mut sheets = 0;
    let sheet: Vec<usize> = notes
        .iter()
        .map(|note| {
            sheets += usize::from(note.seen != Seen::Blank);
            sheets
        })
        .collect();
    let apart = |a: usize, b: usize| sheet[b] - sheet[a];
    let mut owner: Vec<Option<usize>> = vec![None; pages];
    for (student, places) in result.pages.iter().enumerate() {
        for place in places {
            owner[*place] = Some(student);
        }
    }
    let mut free: Vec<bool> = result.pages.iter().map(Vec::is_empty).collect();
    for open in &mut result.open {
        let n = open.note;
        let before = (0..n).rev().find_map(|m| owner[m].map(|student| student + apart(m, n)));
        let after =
            (n + 1..pages).find_map(|m| owner[m].and_then(|student| student.checked_sub(apart(n, m))));
        let is_free = |s: &usize| free.get(*s).copied().unwrap_or(false);
        let single = || {
            let mut missing = (0..free.len()).filter(|s| free[*s]);
            missing.next().filter(|_| missing.next().is_none())
        };
        let guess = match (before, after) {
            (Some(a), Some(b)) if a == b => Some(a).filter(is_free),
            // Where the neighbours disagree somebody is missing or out of order: the page before knows more.
            _ => before.filter(is_free).or(after.filter(is_free)),
        };
        // Where nobody's page is known the stack begins with the roster's first.
        let from_first = || Some(sheet[n] - 1).filter(|s| open.why == Why::Plain && is_free(s));
        let nobody = before.is_none() && after.is_none();
        if let Some(student) = guess.or_else(|| if nobody { from_first() } else { None }).or_else(single) {
            free[student] = false;
            owner[n] = Some(student);
            open.guess = roster.students.get(student).map(|s| s.code.clone());
        }
    }
}

/// The rows of who.csv after this run.
pub fn who_rows(assignment: &Assignment, notes: &[Note], who: &Who) -> Vec<Owner> {
    let open = assignment.open.iter().map(|open| Owner {
        file: notes[open.note].file.clone(),
        page: notes[open.note].page,
        code: String::new(),
        guess: open.guess.clone().unwrap_or_default(),
    });
    who.with_open(open.collect())
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::path::Path;

    fn roster() -> Roster {
        Roster::parse(Path::new("r"), b"code,name\nA1,\nA2,\nA3,\nA4,\n").unwrap()
    }

    fn note(n: usize, seen: Seen) -> Note {
        Note::new("class.pdf", n, None, seen)
    }

    fn code(n: usize, code: &str) -> Note {
        note(n, Seen::Sheet(SheetCode::Code(code.into())))
    }

    #[test]
    fn an_unreadable_code_is_guessed_and_never_taken() {
        let notes =
            [code(1, "A1"), note(2, Seen::Sheet(SheetCode::Unreadable)), code(3, "A3"), code(4, "A4")];
        let found = assign(&notes, &roster(), &Who::default());
        assert_eq!(found.open[0].guess.as_deref(), Some("A2"));
        assert!(found.pages[1].is_empty());
        let rows = who_rows(&found, &notes, &Who::default());
        assert_eq!((rows[0].code.as_str(), rows[0].guess.as_str(), rows[0].page), ("", "A2", 2));
    }

    #[test]
    fn a_person_wins_over_the_code_and_over_the_guess() {
        let notes = [code(1, "A1"), note(2, Seen::Sheet(SheetCode::Master)), code(3, "A3")];
        let owner = |page, code: &str| Owner {
            file: "class.pdf".into(),
            page,
            code: code.into(),
            guess: String::new(),
        };
        let who = Who { owners: vec![owner(2, "A4"), owner(3, "A2")], notes: Vec::new() };
        let found = assign(&notes, &roster(), &who);
        assert_eq!(found.pages, [vec![0], vec![2], vec![], vec![1]]);
        assert_eq!(who_rows(&found, &notes, &who), who.owners);
    }

    #[test]
    fn two_pages_of_one_student_are_both_kept_in_order() {
        let notes = [code(1, "A2"), code(2, "A1"), code(3, "A2")];
        assert_eq!(assign(&notes, &roster(), &Who::default()).pages[1], [0, 2]);
    }

    #[test]
    fn blank_backs_are_nobodys_and_do_not_count_in_the_scan_order() {
        let unread = note(3, Seen::Sheet(SheetCode::Unreadable));
        let notes = [code(1, "A1"), note(2, Seen::Blank), unread, note(4, Seen::Blank), code(5, "A3")];
        let found = assign(&notes, &roster(), &Who::default());
        assert_eq!((found.blank.as_slice(), found.strays.len()), ([1, 3].as_slice(), 0));
        assert_eq!(found.open[0].guess.as_deref(), Some("A2"));
    }

    #[test]
    fn an_unknown_code_and_a_foreign_page_are_nobodys() {
        let notes = [code(1, "B9"), note(2, Seen::OtherWorksheet("globe".into())), note(3, Seen::NoPage)];
        let found = assign(&notes, &roster(), &Who::default());
        assert_eq!(found.open[0].why, Why::NotOnRoster("B9".into()));
        assert_eq!(found.strays, [1, 2]);
        assert!(found.pages.iter().all(Vec::is_empty));
    }
}
