//! A class folder, read and checked as a whole: all problems of all files at once, before anything is done.

use super::Failure;
use super::read::Reader;
use crate::class::Folder;
use crate::class::changes::Changes;
use crate::class::roster::Roster;
use crate::class::who::Who;
use crate::print::layout;
use crate::problem::Problem;
use crate::problem::yaml::Document;
use crate::rubric::Rubric;
use crate::worksheet::Worksheet;
use crate::worksheet::bodies::PanelField;
use std::path::Path;

/// A worksheet with all that reading its pages needs; shared by all threads.
pub struct Sheet {
    pub worksheet: Worksheet,
    /// A panel an entry.
    pub fields: Vec<PanelField>,
    pub reader: Reader,
}

impl Sheet {
    /// For a checked worksheet.
    pub fn new(worksheet: Worksheet) -> Self {
        let fields = worksheet.panels.iter().map(|p| p.field()).collect();
        let reader = Reader::new(&worksheet);
        Self { worksheet, fields, reader }
    }
}

/// Everything that a person wrote in a class folder.
pub struct Class {
    pub folder: Folder,
    pub sheet: Sheet,
    pub rubric: Rubric,
    pub roster: Roster,
    pub who: Who,
    pub changes: Changes,
    /// Full marks.
    pub out_of: f64,
    /// The criteria's columns in marks.csv, with their full marks.
    pub columns: Vec<(String, f64)>,
    /// How files were read where that is worth saying.
    pub notes: Vec<String>,
}

/// worksheet.yaml, checked, also for room on the page.
///
/// # Errors
/// All its problems.
pub fn worksheet(folder: &Folder) -> Result<Worksheet, Vec<Problem>> {
    let path = folder.worksheet();
    let worksheet = Worksheet::load(&path)?;
    let mut problems = layout::check(&worksheet, &path);
    if problems.is_empty() {
        return Ok(worksheet);
    }
    // Read again only here: a worksheet does not carry the places of its keys.
    let document = Document::read(&path).map_err(|problem| vec![problem])?;
    for problem in &mut problems {
        problem.place = document.place(&problem.path);
    }
    Err(problems)
}

/// The ids of a worksheet's panels.
pub fn panel_ids(worksheet: &Worksheet) -> Vec<&str> {
    worksheet.panels.iter().map(|p| p.id.as_str()).collect()
}

impl Class {
    /// Reads a class folder.
    ///
    /// # Errors
    /// [`Failure::Unusable`] with all problems of all files.
    pub fn load(root: &Path) -> Result<Self, Failure> {
        let folder = Folder::new(root);
        if !root.is_dir() {
            let fix = "make one with: lodemark new DIR --from unlike-poles";
            return Err(Failure::Unusable(vec![Problem::of_file(root, "is no folder", fix)]));
        }
        let mut problems = Vec::new();
        let worksheet = keep(worksheet(&folder), &mut problems);
        let roster = keep(Roster::load(&folder.roster()), &mut problems);
        let rubric = match &worksheet {
            Some(sheet) => keep(Rubric::load(&folder.rubric(), &panel_ids(sheet)), &mut problems),
            None => None,
        };
        let columns = match (&worksheet, &rubric) {
            (Some(sheet), Some(rubric)) => rubric.columns(&panel_ids(sheet)),
            _ => Vec::new(),
        };
        let who = roster.as_ref().and_then(|r| keep(Who::load(&folder.who(), r), &mut problems));
        let changes = match (&roster, columns.is_empty()) {
            (Some(roster), false) => keep(Changes::load(&folder.changes(), roster, &columns), &mut problems),
            _ => None,
        };
        let (Some(worksheet), Some(rubric), Some(roster), Some(who), Some(changes), true) =
            (worksheet, rubric, roster, who, changes, problems.is_empty())
        else {
            return Err(Failure::Unusable(problems));
        };
        let notes = [("roster.csv", &roster.notes), ("who.csv", &who.notes), ("changes.csv", &changes.notes)]
            .iter()
            .flat_map(|(file, notes)| notes.iter().map(move |note| format!("{file} {note}")))
            .collect();
        let out_of = columns.iter().map(|(_, marks)| marks).sum();
        Ok(Self {
            folder,
            sheet: Sheet::new(worksheet),
            rubric,
            roster,
            who,
            changes,
            out_of,
            columns,
            notes,
        })
    }
}

fn keep<T>(read: Result<T, Vec<Problem>>, problems: &mut Vec<Problem>) -> Option<T> {
    match read {
        Ok(value) => Some(value),
        Err(found) => {
            problems.extend(found);
            None
        }
    }
}
