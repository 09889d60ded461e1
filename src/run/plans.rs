//! How each student is marked: the worksheets and rubrics that the roster names for single students, each file read once.
//!
//! Made so that all problems come in one round: what one wrong file leaves unknown is taken to be in order while the others are
//! checked.

use super::class::{Plan, keep, panel_ids, worksheet_at};
use crate::class::Folder;
use crate::class::roster::{Student, is_file_name};
use crate::problem::{Problem, suggest};
use crate::rubric::Rubric;
use crate::worksheet::{Placement, Worksheet};
use std::collections::BTreeMap;

/// All worksheets in order (`None` where any has problems), the problems of worksheets and rubrics, those of roster.csv.
type Finished = (Option<Vec<Worksheet>>, Vec<Problem>, Vec<Problem>);

/// A worksheet as far as it could be read.
struct Looked {
    /// Its name in the roster; empty for the class's.
    name: String,
    sheet: Option<Worksheet>,
    /// Empty where they cannot be told: any panel may be meant.
    panels: Vec<String>,
}

/// Reads what the roster names.
pub(super) struct Plans<'a> {
    folder: &'a Folder,
    language: Option<&'a str>,
    /// The class's first.
    sheets: Vec<Looked>,
    /// By file and worksheet (`None`: no one can be told).
    rubrics: BTreeMap<(String, Option<usize>), Option<Rubric>>,
    /// By file.
    ids: BTreeMap<String, Option<Vec<String>>>,
    problems: Vec<Problem>,
    /// Those of roster.csv.
    wrong: Vec<Problem>,
}

impl<'a> Plans<'a> {
    /// For a class folder whose worksheet has been read, with the problems found in it and in its roster so far.
    pub(super) fn new(
        folder: &'a Folder,
        language: Option<&'a str>,
        class: Option<Worksheet>,
        problems: Vec<Problem>,
        wrong: Vec<Problem>,
    ) -> Self {
        let panels = panels_of(class.as_ref(), &folder.worksheet());
        let sheets = vec![Looked { name: String::new(), sheet: class, panels }];
        Self { folder, language, sheets, rubrics: BTreeMap::new(), ids: BTreeMap::new(), problems, wrong }
    }

    /// The class's rubric.
    pub(super) fn class_rubric(&mut self) -> Option<Rubric> {
        self.rubric_for("", Some(0))
    }

    /// How a student is marked, given the class's rubric; `None` where anything of it has a problem, which is kept.
    pub(super) fn of(&mut self, student: &Student, class: Option<&Rubric>) -> Option<Plan> {
        let sheet = self.sheet(student);
        let rubric = match student.rubric.as_str() {
            "" if student.sheet.is_empty() => class.cloned(),
            _ => self.rubric(student, sheet),
        };
        let exempt = self.exempt(student, rubric.as_ref());
        let (sheet, rubric) = (sheet?, rubric?);
        exempt?;
        let panels: Vec<&str> = self.sheets[sheet].panels.iter().map(String::as_str).collect();
        let spared =
            |column: &String| rubric.criterion(column).is_some_and(|c| student.exempt.contains(&c.id));
        let all = rubric.columns(&panels).into_iter().map(|(column, _)| column);
        Some(Plan {
            sheet,
            exempt: all.filter(spared).collect(),
            rubric: rubric.without(&student.exempt).widened(student.tolerance),
            tolerance: student.tolerance,
            own_rubric: (!student.rubric.is_empty()).then(|| student.rubric.clone()),
        })
    }

    /// What was read, when all students have been asked for.
    pub(super) fn finish(mut self) -> Finished {
        self.wrong.sort_by_key(|problem| problem.place);
        let sheets = self.sheets.into_iter().map(|looked| looked.sheet).collect();
        (sheets, self.problems, self.wrong)
    }

    /// Whether all that the student is exempt from is in the rubric: all that the rubric has can be known where it has a problem.
    fn exempt(&mut self, student: &Student, rubric: Option<&Rubric>) -> Option<()> {
        if student.exempt.is_empty() {
            return Some(());
        }
        let known: Vec<String> = match rubric {
            Some(rubric) => rubric.criteria.iter().map(|c| c.id.clone()).collect(),
            None => {
                let path = self.folder.root().join(&student.rubric);
                let path = if student.rubric.is_empty() { self.folder.rubric() } else { path };
                let look = || {
                    let there = is_file_name(&student.rubric) && path.is_file();
                    there.then(|| Rubric::criterion_ids(&path)).flatten()
                };
                self.ids.entry(student.rubric.clone()).or_insert_with(look).clone()?
            }
        };
        let known: Vec<&str> = known.iter().map(String::as_str).collect();
        let unknown: Vec<&String> =
            student.exempt.iter().filter(|id| !known.contains(&id.as_str())).collect();
        for id in &unknown {
            let what = format!("no criterion is called \"{id}\"");
            self.tell(student, "exempt", what, suggest(id, &known));
        }
        unknown.is_empty().then_some(())
    }

    fn sheet(&mut self, student: &Student) -> Option<usize> {
        if student.sheet.is_empty() {
            return Some(0);
        }
        if let Some(known) = self.sheets.iter().position(|looked| looked.name == student.sheet) {
            return Some(known);
        }
        let path = self.folder.root().join(&student.sheet);
        if !is_file_name(&student.sheet) {
            return None;
        }
        if !path.is_file() {
            self.missing(student, "sheet", &student.sheet);
            return None;
        }
        let sheet = keep(worksheet_at(&path), &mut self.problems);
        let panels = panels_of(sheet.as_ref(), &path);
        let Some(sheet) = sheet else {
            self.sheets.push(Looked { name: student.sheet.clone(), sheet: None, panels });
            return Some(self.sheets.len() - 1);
        };
        let class = self.sheets[0].sheet.as_ref();
        if [Some(&sheet), class].iter().flatten().any(|s| s.placement == Placement::Traced) {
            let what = "plain paper has no code that tells one worksheet from another".to_string();
            let fix = "give the student a class folder of their own, or use placement: printed for all";
            self.tell(student, "sheet", what, fix.into());
            return None;
        }
        let same = |looked: &Looked| looked.sheet.as_ref().is_some_and(|s| s.id == sheet.id);
        if let Some(known) = self.sheets.iter().position(same) {
            if format!("{:?}", self.sheets[known].sheet.as_ref()) == format!("{:?}", Some(&sheet)) {
                return Some(known);
            }
            let what = format!("{} has the id {} of another worksheet of the class", student.sheet, sheet.id);
            let fix = "give it an id of its own: it tells the pages apart";
            self.tell(student, "sheet", what, fix.into());
            return None;
        }
        self.sheets.push(Looked { name: student.sheet.clone(), sheet: Some(sheet), panels });
        Some(self.sheets.len() - 1)
    }

    fn rubric(&mut self, student: &Student, sheet: Option<usize>) -> Option<Rubric> {
        let name = &student.rubric;
        if !is_file_name(name) {
            return None;
        }
        if !name.is_empty() && !self.folder.root().join(name).is_file() {
            self.missing(student, "rubric", name);
            return None;
        }
        self.rubric_for(name, sheet)
    }

    /// A rubric of the class folder (no name: the class's) for a worksheet.
    fn rubric_for(&mut self, name: &str, sheet: Option<usize>) -> Option<Rubric> {
        let key = (name.to_string(), sheet);
        if !self.rubrics.contains_key(&key) {
            let path = if name.is_empty() { self.folder.rubric() } else { self.folder.root().join(name) };
            let panels: Vec<&str> =
                sheet.map(|n| self.sheets[n].panels.iter().map(String::as_str).collect()).unwrap_or_default();
            let read = keep(Rubric::load(&path, &panels, self.language), &mut self.problems);
            self.rubrics.insert(key.clone(), read);
        }
        self.rubrics.get(&key).cloned().flatten()
    }

    fn missing(&mut self, student: &Student, column: &str, name: &str) {
        let what = format!("there is no file {name} in the class folder");
        self.tell(student, column, what, "put it there, or leave the cell empty".into());
    }

    fn tell(&mut self, student: &Student, column: &str, what: String, fix: String) {
        let cell = ["sheet", "rubric", "exempt"].iter().position(|known| *known == column);
        let (file, place) = (self.folder.roster(), cell.map(|n| student.places[n]));
        self.wrong.push(Problem { file, place, path: column.to_string(), what, fix });
    }
}

fn panels_of(sheet: Option<&Worksheet>, path: &std::path::Path) -> Vec<String> {
    match sheet {
        Some(sheet) => panel_ids(sheet).into_iter().map(str::to_string).collect(),
        None => Worksheet::panel_ids(path),
    }
}
