//! The class folder: its files, the ready arrangements, the tables that a person fills in, marks.csv, and
//! writing that leaves either the old file or the new one.
//!
//! - [`arrangements`], [`create`]: a new folder
//! - [`table`], [`roster`], [`who`], [`changes`]: tables that people write
//! - [`marks`] writes marks.csv
//! - [`whole`]: files written whole or not at all

pub mod arrangements;
pub mod changes;
pub mod create;
pub mod marks;
pub mod roster;
pub mod table;
pub mod who;
pub mod whole;

use std::path::{Path, PathBuf};

/// A class folder and the places of its files.
#[derive(Clone, Debug)]
pub struct Folder {
    root: PathBuf,
}

impl Folder {
    /// The class folder at `root`; nothing is looked at yet.
    pub fn new(root: impl Into<PathBuf>) -> Self {
        Self { root: root.into() }
    }
    /// The folder itself.
    pub fn root(&self) -> &Path {
        &self.root
    }
    /// The printed page.
    pub fn worksheet(&self) -> PathBuf {
        self.root.join("worksheet.yaml")
    }
    /// Criteria, bands, marks, words.
    pub fn rubric(&self) -> PathBuf {
        self.root.join("rubric.yaml")
    }
    /// The students.
    pub fn roster(&self) -> PathBuf {
        self.root.join("roster.csv")
    }
    /// What the copier or the phones gave.
    pub fn scans(&self) -> PathBuf {
        self.root.join("scans")
    }
    /// Pages without a readable code, for a person to fill in.
    pub fn who(&self) -> PathBuf {
        self.root.join("who.csv")
    }
    /// A person's marks.
    pub fn changes(&self) -> PathBuf {
        self.root.join("changes.csv")
    }
    /// The sheets to print.
    pub fn sheets(&self) -> PathBuf {
        self.root.join("worksheets.pdf")
    }
    /// The page for the teacher.
    pub fn teacher(&self) -> PathBuf {
        self.root.join("teacher.pdf")
    }
    /// The marks, a row a student.
    pub fn marks(&self) -> PathBuf {
        self.root.join("marks.csv")
    }
    /// Where new marks go when marks.csv was edited or is held open.
    pub fn marks_beside(&self) -> PathBuf {
        self.root.join("marks.new.csv")
    }
    /// All that was measured, a file a student.
    pub fn findings(&self) -> PathBuf {
        self.root.join("findings")
    }
    /// A page a student.
    pub fn feedback(&self) -> PathBuf {
        self.root.join("feedback")
    }
    /// The set on one page.
    pub fn class_page(&self) -> PathBuf {
        self.root.join("class.html")
    }
    /// What may be deleted at any time.
    pub fn cache(&self) -> PathBuf {
        self.root.join("cache")
    }
}
