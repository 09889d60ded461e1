//! `lodemark check`: the feedback for one image; nothing is recorded.

use super::cache::{Outcome, SheetCode};
use super::class::{Sheet, panel_ids, worksheet};
use super::judge::{Verdict, marks_of};
use super::pages::{SEVERAL, read_one, seed_of};
use super::read::Unread;
use super::{Failure, cache, output};
use crate::class::Folder;
use crate::geometry::Rect;
use crate::problem::Problem;
use crate::rectify::NotFound;
use crate::report;
use crate::rubric::Rubric;
use crate::scan;
use std::path::Path;

/// What a self-check found.
#[derive(Clone, Debug)]
pub struct Checked {
    /// All that the feedback page shows.
    pub student: report::Student,
    /// What is worth saying about the file.
    pub notes: Vec<String>,
}

/// Reads one page and judges it by the class's worksheet and rubric. Nothing is recorded.
///
/// # Errors
/// [`Failure::Unusable`]: a wrong worksheet or rubric, no words in the language, an image that cannot be read, or no sheet of this class.
pub fn check(root: &Path, photo: &Path, language: Option<&str>) -> Result<Checked, Failure> {
    let folder = Folder::new(root);
    let sheet = Sheet::new(worksheet(&folder)?);
    let ids = panel_ids(&sheet.worksheet);
    let rubric = Rubric::load(&folder.rubric(), &ids, language)?;
    let unusable = |what: String, fix: String| Failure::Unusable(vec![Problem::of_file(photo, what, fix)]);
    let refused = |reason: &scan::Reason| unusable(reason.what(), reason.fix().to_string());
    let pages = scan::open(photo).map_err(|refusal| refused(&refusal.reason))?;
    let hash = pages.page_hash(1).map_err(|refusal| refused(&refusal.reason))?;
    let (outcome, shown) = read_one(&sheet, &pages, 1, seed_of(&cache::hex(&hash)));
    let page = match outcome {
        Outcome::Read(page) => page,
        Outcome::Refused { what, fix } => return Err(unusable(what, fix)),
        Outcome::OtherWorksheet { worksheet } => return Err(other_worksheet(photo, &worksheet)),
        Outcome::Blank => return Err(blank(photo)),
        Outcome::NoPage => return Err(no_page(photo)),
        Outcome::Unfound { what, fix } => return Err(unusable(what, fix)),
    };
    let marks = marks_of(&rubric, &page, &ids);
    let total = rubric.total(&marks);
    let marks = marks.criteria;
    let blank = marks.iter().all(|m| m.marks.is_none());
    let why: Vec<String> =
        super::judge::reading_flags(&page).into_iter().filter_map(super::judge::explain).collect();
    let unsure_total: Vec<String> =
        total.flags.iter().filter_map(|flag| super::judge::explain(flag)).collect();
    let look = blank || !why.is_empty() || !unsure_total.is_empty() || marks.iter().any(|m| m.look);
    let mut notes = Vec::new();
    if pages.len() > 1 {
        notes.push(format!("the file has {} pages: this is the first", pages.len()));
    }
    let name = photo.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
    let placed = page.panels(&sheet.worksheet);
    let student = report::Student {
        code: match &page.code {
            SheetCode::Code(code) => code.clone(),
            SheetCode::Master | SheetCode::Unreadable | SheetCode::Plain => "self-check".to_string(),
        },
        name: String::new(),
        worksheet: sheet.worksheet.title.clone(),
        status: if look { report::Status::Look } else { report::Status::Proposed },
        why,
        unsure_total,
        total: total.value,
        out_of: total.out_of,
        grade: total.grade,
        says: total.says,
        terms: Vec::new(),
        words_only: rubric.words_only,
        field: (report::ShowField::No, Vec::new()),
        ideas: super::judge::ideas_of(&sheet.worksheet, &page),
        language: rubric.language.clone(),
        criteria: if blank { Vec::new() } else { output::judged(&marks, &[]) },
        panels: output::sheets(&placed, page.cached.findings.panels, &rubric),
        picture: shown.map(|s| {
            let [x0, y0, x1, y1] = s.region;
            report::Picture::from_jpeg(Rect::new(x0, y0, x1, y1), s.jpeg)
        }),
        source: format!("{name} page 1"),
        recorded: false,
    };
    let unsure: Vec<&str> =
        marks.iter().filter(|m| !Verdict::mark_reasons(m).is_empty()).map(|m| m.title.as_str()).collect();
    if !blank && !unsure.is_empty() {
        notes.push(format!("not sure of: {}", unsure.join(", ")));
    }
    Ok(Checked { student, notes })
}

/// Why a picture that shows no page of the class cannot be checked.
pub(super) fn not_a_page(photo: &Path, why: &Unread) -> Failure {
    match why {
        Unread::NotFound(NotFound::OtherWorksheet(payload)) => {
            other_worksheet(photo, &payload.worksheet.to_ascii_lowercase())
        }
        Unread::NotFound(NotFound::Blank) => blank(photo),
        Unread::NotFound(NotFound::Several) => {
            Failure::Unusable(vec![Problem::of_file(photo, SEVERAL.0, SEVERAL.1)])
        }
        Unread::NotFound(NotFound::NoFiducials) => no_page(photo),
        Unread::Unfound(why) => Failure::Unusable(vec![Problem::of_file(photo, why.what(), why.fix())]),
    }
}

fn other_worksheet(photo: &Path, worksheet: &str) -> Failure {
    let what = format!("is a page of the worksheet {worksheet}");
    Failure::Unusable(vec![Problem::of_file(photo, what, "give the folder of that worksheet's class")])
}

fn blank(photo: &Path) -> Failure {
    Failure::Unusable(vec![Problem::of_file(photo, "is a blank page", "turn the sheet over")])
}

fn no_page(photo: &Path) -> Failure {
    let fix = "take the whole sheet, with all four corner discs, flat and in focus";
    Failure::Unusable(vec![Problem::of_file(photo, "shows no page of this worksheet", fix)])
}
