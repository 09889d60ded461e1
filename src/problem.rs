//! The one error a user reads: where first, then what, then what to do.

use std::fmt;
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
