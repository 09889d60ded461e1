//! The pipeline behind `mark` and `check`.
//!
//! - [`class`]: the class folder, read and checked as a whole before anything is done; [`plans`]: by what each student is marked
//! - [`scans`]: the files in scans/, in the order in which a person would count them
//! - [`read`]: one page image to drawings; [`pages`]: all pages in parallel, by way of [`cache`]
//! - [`assign`]: whose page is whose; [`steady`]: what the plotted dots of all of them have in common
//! - [`judge`]: a student's page to marks, flags, findings and feedback
//! - [`mark`], [`check`]: the two runs; [`trial`]: another rubric tried on marks that are there; [`summary`]: what a person is told at the end
//! - [`output`]: what is written of a student, [`student_pdfs`] among it; [`exports`]: what is written of the class on request
//! - [`steps`]: each step of reading a page as a picture
//!
//! A page's marks are a function of its image, the worksheet and the rubric alone, but for `dots.shift_mm`, which is held
//! against the class: none depends on the number of threads or on what was read before. Pages are read, written to the
//! cache and let go, so that memory depends on the number of threads and not on the number of pages.

pub mod assign;
pub mod cache;
pub mod check;
pub mod class;
mod drawings;
pub mod earlier;
mod exports;
pub mod judge;
pub mod mark;
pub mod output;
pub mod pages;
mod plans;
pub mod read;
pub mod scans;
mod steady;
pub mod steps;
mod student_pdfs;
pub mod summary;
pub mod trial;

use crate::problem::Problem;

pub use check::{Checked, check};
pub use mark::mark;
pub use steps::steps;
pub use summary::Summary;
pub use trial::{Trial, trial};

/// Why a run gave nothing.
#[derive(Clone, Debug)]
pub enum Failure {
    /// What the user gave cannot be used: nothing was written.
    Unusable(Vec<Problem>),
    /// The run could not be finished (disk, permission); what was written before is whole.
    Stopped(Problem),
}

impl From<Vec<Problem>> for Failure {
    fn from(problems: Vec<Problem>) -> Self {
        Failure::Unusable(problems)
    }
}

/// How a run is done; none of it changes a mark.
#[derive(Clone, Debug, Default)]
pub struct Options {
    /// How many pages are read at once; `None`: as many as the machine has processors.
    pub threads: Option<usize>,
    /// Whether to show progress on standard error.
    pub progress: bool,
    /// The language of what is said to the students, where the rubric has several.
    pub language: Option<String>,
    /// When feedback shows the computed field lines.
    pub show_field: crate::report::ShowField,
    /// Feedback shows words and no marks.
    pub hide_marks: bool,
    /// PDF pages as well.
    pub pdf: bool,
    /// A table for spreadsheets as well.
    pub xlsx: bool,
    /// A package for school information systems as well.
    pub oneroster: bool,
    /// An earlier class folder to compare with.
    pub earlier: Option<std::path::PathBuf>,
}

impl Options {
    fn pool(&self) -> Result<rayon::ThreadPool, Failure> {
        let threads = self.threads.unwrap_or(0);
        rayon::ThreadPoolBuilder::new().num_threads(threads).build().map_err(|error| {
            let what = format!("{threads} threads cannot be started ({error})");
            Failure::Stopped(Problem::of_file("--threads".as_ref(), what, "ask for fewer"))
        })
    }
}
