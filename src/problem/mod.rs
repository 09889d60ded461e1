//! The one error a user reads: where first, then what, then what to do.
//!
//! [`yaml`] reads a YAML file into values that know their place, so that checks made long after parsing
//! still name line, column and key path.

mod excerpt;
pub mod yaml;

use std::fmt;
use std::io::Read;
use std::path::{Path, PathBuf};

/// Something in a file that the user can put right.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Problem {
    /// The file, as the user would name it.
    pub file: PathBuf,
    /// Line and column, from 1, where known.
    pub place: Option<(usize, usize)>,
    /// The key's path, as `criteria[2].bands[0].at_least`; empty where none is meant.
    pub path: String,
    /// What is wrong.
    pub what: String,
    /// What to do.
    pub fix: String,
}

impl Problem {
    /// A problem of the whole file.
    pub fn of_file(file: &Path, what: impl Into<String>, fix: impl Into<String>) -> Self {
        Self { file: file.to_owned(), place: None, path: String::new(), what: what.into(), fix: fix.into() }
    }
}

impl fmt::Display for Problem {
    /// `rubric.yaml:14:19 criteria[2].bands[0].at_least: 1.5 is not a share; write 0 to 1`
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.file.display())?;
        if let Some((line, column)) = self.place {
            write!(f, ":{line}:{column}")?;
        }
        if !self.path.is_empty() {
            write!(f, " {}", self.path)?;
        }
        write!(f, ": {}", self.what)?;
        if !self.fix.is_empty() {
            write!(f, "; {}", self.fix)?;
        }
        Ok(())
    }
}

impl std::error::Error for Problem {}

/// The bytes of a file of at most `max_bytes`.
///
/// # Errors
/// The file cannot be opened or read, or is larger: never more than `max_bytes` + 1 are read.
pub fn read_capped(file: &Path, max_bytes: u64) -> Result<Vec<u8>, Problem> {
    let unreadable = |error: std::io::Error| {
        let fix = match error.kind() {
            std::io::ErrorKind::NotFound => "check the folder and the spelling of the name",
            _ => "check that it is a file and that you may read it",
        };
        Problem::of_file(file, format!("cannot be read ({error})"), fix)
    };
    let mut bytes = Vec::new();
    std::fs::File::open(file)
        .and_then(|opened| opened.take(max_bytes + 1).read_to_end(&mut bytes))
        .map_err(unreadable)?;
    if bytes.len() as u64 > max_bytes {
        let what = format!("is larger than {} kB", max_bytes / 1024);
        return Err(Problem::of_file(file, what, "check that it is the right file"));
    }
    Ok(bytes)
}

/// The one of `known` that somebody who typed `word` most likely meant, if any is near.
///
/// Near: at most a third of its letters (at least one) changed, by the optimal string alignment
/// distance (insert, delete, replace, swap neighbours). Case does not count.
pub fn nearest<'a>(word: &str, known: &[&'a str]) -> Option<&'a str> {
    let word = word.to_lowercase();
    known
        .iter()
        .map(|k| (alignment_distance(&word, &k.to_lowercase()), *k))
        .min_by_key(|(distance, _)| *distance)
        .filter(|(distance, k)| *distance <= (k.chars().count() / 3).max(1))
        .map(|(_, k)| k)
}

/// Longest word that is compared, characters: longer ones are no slip of the finger.
const LONGEST_WORD: usize = 64;

fn alignment_distance(a: &str, b: &str) -> usize {
    let (a, b): (Vec<char>, Vec<char>) = (a.chars().collect(), b.chars().collect());
    if a.len().max(b.len()) > LONGEST_WORD {
        return usize::MAX;
    }
    let mut rows = vec![(0..=b.len()).collect::<Vec<usize>>()];
    for i in 1..=a.len() {
        let mut row = vec![i];
        for j in 1..=b.len() {
            let replace = rows[i - 1][j - 1] + usize::from(a[i - 1] != b[j - 1]);
            let mut least = replace.min(rows[i - 1][j] + 1).min(row[j - 1] + 1);
            if i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1] {
                least = least.min(rows[i - 2][j - 2] + 1);
            }
            row.push(least);
        }
        rows.push(row);
    }
    rows[a.len()][b.len()]
}

/// "did you mean ...?" where a known word is near, else the whole list.
pub fn suggest(word: &str, known: &[&str]) -> String {
    match nearest(word, known) {
        Some(meant) => format!("did you mean {meant}?"),
        None => format!("write {}", one_of(known)),
    }
}

/// `a`, `a or b`, `a, b or c`.
pub fn one_of(words: &[&str]) -> String {
    match words {
        [] => String::new(),
        [one] => (*one).to_string(),
        [first @ .., last] => format!("{} or {last}", first.join(", ")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn finds_the_word_that_was_meant() {
        let known = ["remanence_mt", "north_deg", "size_mm", "id"];
        assert_eq!(nearest("remanance_mt", &known), Some("remanence_mt"));
        assert_eq!(nearest("nroth_deg", &known), Some("north_deg"));
        assert_eq!(nearest("colour", &known), None);
        assert_eq!(nearest(&"x".repeat(10_000), &known), None);
    }

    #[test]
    fn reads_where_first() {
        let problem = Problem {
            file: "rubric.yaml".into(),
            place: Some((14, 19)),
            path: "criteria[2].bands[0].at_least".into(),
            what: "1.5 is not a share".into(),
            fix: "write 0 to 1".into(),
        };
        let text = "rubric.yaml:14:19 criteria[2].bands[0].at_least: 1.5 is not a share; write 0 to 1";
        assert_eq!(problem.to_string(), text);
    }
}
