//! A class folder, read and checked as a whole: all problems of all files at once, before anything is done.

use super::Failure;
use super::plans::Plans;
use super::read::Reader;
use crate::class::Folder;
use crate::class::changes::Changes;
use crate::class::roster::Roster;
use crate::class::who::Who;
use crate::print::layout;
use crate::problem::Problem;
use crate::problem::yaml::Document;
use crate::rubric::{Kind, Rubric};
use crate::worksheet::bodies::PanelField;
use crate::worksheet::{Placement, Worksheet};
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

/// How one student is marked.
#[derive(Clone, Debug)]
pub struct Plan {
    /// The student's worksheet, by its place in [`Class::sheets`].
    pub sheet: usize,
    /// What is exempt left out, limits widened.
    pub rubric: Rubric,
    /// Columns that are exempt.
    pub exempt: Vec<String>,
    /// How many times as wide the limits are.
    pub tolerance: f64,
    /// The student's own rubric, as in the roster.
    pub own_rubric: Option<String>,
}

/// Everything that a person wrote in a class folder.
pub struct Class {
    pub folder: Folder,
    /// The class's worksheet first, then those of single students.
    pub sheets: Vec<Sheet>,
    /// The class's rubric.
    pub rubric: Rubric,
    pub roster: Roster,
    /// A student an entry.
    pub plans: Vec<Plan>,
    pub who: Who,
    pub changes: Changes,
    /// Full marks of the class's rubric.
    pub out_of: f64,
    /// The criteria's columns in marks.csv, with their full marks: the class's, then those of single students.
    pub columns: Vec<(String, f64)>,
    /// How files were read where that is worth saying.
    pub notes: Vec<String>,
}

/// worksheet.yaml, checked, also for room on the page.
///
/// # Errors
/// All its problems.
pub fn worksheet(folder: &Folder) -> Result<Worksheet, Vec<Problem>> {
    worksheet_at(&folder.worksheet())
}

/// As [`worksheet`], of another file.
///
/// # Errors
/// All its problems.
pub fn worksheet_at(path: &Path) -> Result<Worksheet, Vec<Problem>> {
    let worksheet = Worksheet::load(path)?;
    if worksheet.placement == Placement::Traced {
        // Nothing is printed, so that nothing needs room.
        return Ok(worksheet);
    }
    let mut problems = layout::check(&worksheet, path);
    if problems.is_empty() {
        return Ok(worksheet);
    }
    // Read again only here: a worksheet does not carry the places of its keys.
    let document = Document::read(path).map_err(|problem| vec![problem])?;
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
    /// Reads a class folder, the words to students in a language where one is asked for.
    ///
    /// # Errors
    /// [`Failure::Unusable`] with all problems of all files.
    pub fn load(root: &Path, language: Option<&str>) -> Result<Self, Failure> {
        let folder = Folder::new(root);
        if !root.is_dir() {
            let fix = "make one with: lodemark new DIR --from unlike-poles";
            return Err(Failure::Unusable(vec![Problem::of_file(root, "is no folder", fix)]));
        }
        let mut problems = Vec::new();
        let worksheet = keep(worksheet(&folder), &mut problems);
        let (roster, wrong) = Roster::look(&folder.roster());
        // Each file is checked against what can be told of the others: whoever mends one round of problems is not shown another.
        let mut plans = Plans::new(&folder, language, worksheet, problems, wrong);
        let rubric = plans.class_rubric();
        let made: Vec<Option<Plan>> = roster.students.iter().map(|s| plans.of(s, rubric.as_ref())).collect();
        let (sheets, mut problems, wrong) = plans.finish();
        // Of a roster that was not read whole nobody can say whom it lacks.
        let who =
            if wrong.is_empty() { keep(Who::load(&folder.who(), &roster), &mut problems) } else { None };
        problems.extend(wrong);
        let plans: Option<Vec<Plan>> = made.into_iter().collect();
        let (Some(sheets), Some(rubric), Some(plans)) = (sheets, rubric, plans) else {
            return Err(Failure::Unusable(problems));
        };
        let columns = columns(&rubric, &sheets, &plans);
        let changes = match who {
            Some(_) => keep(Changes::load(&folder.changes(), &roster, &columns), &mut problems),
            None => None,
        };
        let (Some(who), Some(changes), true) = (who, changes, problems.is_empty()) else {
            return Err(Failure::Unusable(problems));
        };
        let notes = [("roster.csv", &roster.notes), ("who.csv", &who.notes), ("changes.csv", &changes.notes)]
            .iter()
            .flat_map(|(file, notes)| notes.iter().map(move |note| format!("{file} {note}")))
            .collect();
        let out_of = rubric.out_of(&panel_ids(&sheets[0]));
        let sheets = sheets.into_iter().map(Sheet::new).collect();
        Ok(Self { folder, sheets, rubric, roster, plans, who, changes, out_of, columns, notes })
    }

    /// The class's worksheet.
    pub fn sheet(&self) -> &Sheet {
        &self.sheets[0]
    }

    /// A student's worksheet.
    pub fn sheet_of(&self, student: usize) -> &Sheet {
        &self.sheets[self.plans[student].sheet]
    }

    /// The title of a column, of the class's rubric or of a single student's.
    pub fn title(&self, column: &str) -> String {
        let rubrics = std::iter::once(&self.rubric).chain(self.plans.iter().map(|p| &p.rubric));
        rubrics.map(|r| r.title_of(column)).find(|t| !t.is_empty()).unwrap_or_default()
    }

    /// How a column's marks count.
    pub fn kind(&self, column: &str) -> Kind {
        let rubrics = std::iter::once(&self.rubric).chain(self.plans.iter().map(|p| &p.rubric));
        rubrics.filter_map(|r| r.kind_of(column)).next().unwrap_or_default()
    }

    /// Whether any student is given a grade.
    pub fn is_graded(&self) -> bool {
        self.plans.iter().any(|p| !p.rubric.grades.is_empty())
    }
}

/// The columns of the class's rubric, then those that only single students have.
fn columns(rubric: &Rubric, sheets: &[Worksheet], plans: &[Plan]) -> Vec<(String, f64)> {
    let mut columns = rubric.columns(&panel_ids(&sheets[0]));
    for plan in plans {
        for (column, marks) in plan.rubric.columns(&panel_ids(&sheets[plan.sheet])) {
            if !columns.iter().any(|(known, _)| *known == column) {
                columns.push((column, marks));
            }
        }
    }
    columns
}

/// What was read, or its problems, each told once.
pub(super) fn keep<T>(read: Result<T, Vec<Problem>>, problems: &mut Vec<Problem>) -> Option<T> {
    match read {
        Ok(value) => Some(value),
        Err(found) => {
            for problem in found {
                if !problems.contains(&problem) {
                    problems.push(problem);
                }
            }
            None
        }
    }
}
