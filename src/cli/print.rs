//! `lodemark print`.

use super::{Done, tell, tell_json};
use crate::class::roster::Roster;
use crate::class::{Folder, whole};
use crate::print;
use crate::print::sheet::{Sheet, pdf};
use crate::problem::Problem;
use crate::report::teacher_pdf;
use crate::rubric::Rubric;
use crate::run::{Failure, class};
use crate::worksheet::{Placement, Worksheet};
use std::path::PathBuf;

/// Most spare sheets of one print.
const MAX_SPARES: u16 = 200;

/// Print the sheets of a class: one a student, in roster order, then the spares.
///
/// Print the file at 100 % ("actual size"); the line at the foot of each sheet then measures 100 mm.
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:\n  \
    lodemark print 9b-magnets --spares 3\n  \
    lodemark print 9b-magnets --master --out master.pdf\n  \
    lodemark print 9b-magnets --teacher")]
pub(super) struct Arguments {
    /// The class folder.
    dir: PathBuf,
    /// So many sheets more, with codes of their own; write their owners into who.csv after scanning.
    #[arg(long, value_name = "N", default_value_t = 0, value_parser = clap::value_parser!(u16).range(..=i64::from(MAX_SPARES)))]
    spares: u16,
    /// One sheet without a code, with a line for the name, to be copied freely.
    #[arg(long, conflicts_with = "spares")]
    master: bool,
    /// For the teacher: the answer, what to look for, usual slips, equipment and risks. Writes DIR/teacher.pdf.
    #[arg(long, conflicts_with_all = ["spares", "master"])]
    teacher: bool,
    /// Where to write instead of DIR/worksheets.pdf (with --teacher: DIR/teacher.pdf).
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
    /// Tell what was written as JSON.
    #[arg(long)]
    json: bool,
}

pub(super) fn run(arguments: &Arguments) -> Result<Done, Failure> {
    let folder = Folder::new(&arguments.dir);
    if arguments.teacher {
        return for_teacher(arguments, &folder);
    }
    let worksheet = class::worksheet(&folder);
    let mut notes = Vec::new();
    let sheets = if arguments.master {
        Ok(vec![Sheet::default()])
    } else {
        Roster::load(&folder.roster()).map(|roster| {
            notes = roster.notes.iter().map(|note| format!("roster.csv {note}")).collect();
            sheets(&roster, usize::from(arguments.spares))
        })
    };
    let own = if !arguments.master && has_own(&folder) { own_sheets(&folder)? } else { Vec::new() };
    let (worksheet, sheets) = match (worksheet, sheets) {
        (Ok(worksheet), Ok(sheets)) => (worksheet, sheets),
        (worksheet, sheets) => {
            let problems = worksheet.err().into_iter().chain(sheets.err()).flatten().collect();
            return Err(Failure::Unusable(problems));
        }
    };
    let unprintable = sheets.iter().filter(|sheet| !sheet.name_is_printable());
    notes.extend(unprintable.map(|sheet| {
        let code = sheet.code.as_deref().unwrap_or_default();
        format!("the sheet of {code} has a line for the name: the font has no sign for some of its letters")
    }));
    if worksheet.placement == Placement::Traced {
        return instructions(arguments, &folder, &worksheet);
    }
    let bytes = pdf(&worksheet, &sheets).map_err(|error| {
        let fix = "change the part of worksheet.yaml that it names";
        Failure::Unusable(vec![Problem::of_file(&folder.worksheet(), error.to_string(), fix)])
    })?;
    let out = arguments.out.clone().unwrap_or_else(|| folder.sheets());
    whole::write(&out, &bytes).map_err(Failure::Stopped)?;
    for (id, worksheet, codes) in &own {
        let theirs: Vec<Sheet> = codes.clone();
        let bytes = pdf(worksheet, &theirs).map_err(|error| {
            let fix = "change the part of that worksheet that it names";
            Failure::Unusable(vec![Problem::of_file(&folder.roster(), error.to_string(), fix)])
        })?;
        let path = out.with_file_name(format!("worksheets-{id}.pdf"));
        whole::write(&path, &bytes).map_err(Failure::Stopped)?;
        let s = if theirs.len() == 1 { "" } else { "s" };
        notes.push(format!(
            "{}: {} sheet{s} of students with a worksheet of their own",
            path.display(),
            theirs.len()
        ));
    }
    if arguments.json {
        tell_json(&serde_json::json!({ "file": out, "sheets": sheets.len(), "notes": notes }))?;
    } else {
        for note in &notes {
            tell(&format!("Note: {note}\n"))?;
        }
        let count = sheets.len();
        let s = if count == 1 { "" } else { "s" };
        tell(&format!("{}: {count} sheet{s}. Print at 100 % (actual size).\n", out.display()))?;
    }
    Ok(Done::Fine)
}

/// A worksheet, and the rubric that it is marked by.
type Lesson = (Worksheet, Rubric);

/// Each worksheet of the class with its rubric, the class's own first, and what is to be told. Before there are students in the
/// roster there is the class's own alone; a roster with a slip in it is refused, as everywhere.
fn taught(folder: &Folder) -> Result<(Vec<Lesson>, Vec<String>), Failure> {
    let rows = std::fs::read(folder.roster()).unwrap_or_default();
    let blank = |line: &&[u8]| line.iter().all(u8::is_ascii_whitespace);
    if rows.split(|b| *b == b'\n').filter(|line| !blank(line)).count() < 2 {
        let worksheet = class::worksheet(folder)?;
        let rubric = Rubric::load(&folder.rubric(), &class::panel_ids(&worksheet), None)?;
        let note = "roster.csv has no students yet: worksheets of their own have no page here";
        return Ok((vec![(worksheet, rubric)], vec![note.into()]));
    }
    let class = class::Class::load(folder.root(), None)?;
    let pages = class.sheets.iter().enumerate().map(|(n, sheet)| {
        let own = class.plans.iter().find(|plan| n > 0 && plan.sheet == n);
        (sheet.worksheet.clone(), own.map_or(&class.rubric, |plan| &plan.rubric).clone())
    });
    Ok((pages.collect(), class.notes.clone()))
}

/// The page for the teacher; one more for each worksheet that the roster gives to single students.
fn for_teacher(arguments: &Arguments, folder: &Folder) -> Result<Done, Failure> {
    let (pages, notes) = taught(folder)?;
    let out = arguments.out.clone().unwrap_or_else(|| folder.teacher());
    for (n, (worksheet, rubric)) in pages.iter().enumerate() {
        let bytes = teacher_pdf(worksheet, rubric).map_err(|what| {
            let fix = "change the part of the worksheet that it names";
            Failure::Unusable(vec![Problem::of_file(&folder.worksheet(), what, fix)])
        })?;
        let path = match n {
            0 => out.clone(),
            _ => out.with_file_name(format!("teacher-{}.pdf", worksheet.id)),
        };
        whole::write(&path, &bytes).map_err(Failure::Stopped)?;
        if !arguments.json {
            tell(&format!("{}: for the teacher, with the answer\n", path.display()))?;
        }
    }
    if arguments.json {
        tell_json(&serde_json::json!({ "file": out, "sheets": 0, "notes": notes }))?;
    } else {
        notes.iter().try_for_each(|note| tell(&format!("Note: {note}\n")))?;
    }
    Ok(Done::Fine)
}

/// Of a traced worksheet there are no sheets to draw on: one page tells the class how to trace the magnets.
fn instructions(arguments: &Arguments, folder: &Folder, worksheet: &Worksheet) -> Result<Done, Failure> {
    let bytes = print::instructions::pdf(worksheet).map_err(|error| {
        let fix = "change the part of worksheet.yaml that it names";
        Failure::Unusable(vec![Problem::of_file(&folder.worksheet(), error.to_string(), fix)])
    })?;
    let out = arguments.out.clone().unwrap_or_else(|| folder.sheets());
    whole::write(&out, &bytes).map_err(Failure::Stopped)?;
    let note = "the students draw on plain paper (placement: traced): this is one page of instructions for the class, \
                not a sheet to draw on";
    if arguments.json {
        tell_json(&serde_json::json!({ "file": out, "sheets": 0, "notes": [note] }))?;
    } else {
        tell(&format!("Note: {note}\n{}\n", out.display()))?;
    }
    Ok(Done::Fine)
}

/// Whether the roster gives any student a worksheet of their own.
fn has_own(folder: &Folder) -> bool {
    Roster::look(&folder.roster()).0.students.iter().any(|s| !s.sheet.is_empty())
}

/// The worksheets that the roster gives to single students: id, worksheet, and whose sheets.
fn own_sheets(folder: &Folder) -> Result<Vec<(String, Worksheet, Vec<Sheet>)>, Failure> {
    let class = class::Class::load(folder.root(), None)?;
    let mut own = Vec::new();
    for (n, sheet) in class.sheets.iter().enumerate().skip(1) {
        let students = class.roster.students.iter().zip(&class.plans).filter(|(_, plan)| plan.sheet == n);
        let sheets = students.map(|(s, _)| Sheet { code: Some(s.code.clone()), name: s.name.clone() });
        own.push((sheet.worksheet.id.clone(), sheet.worksheet.clone(), sheets.collect()));
    }
    Ok(own)
}

/// The students' sheets, then spares under codes that no student has.
fn sheets(roster: &Roster, spares: usize) -> Vec<Sheet> {
    let shared = roster.students.iter().filter(|s| s.sheet.is_empty());
    let own = shared.map(|s| Sheet { code: Some(s.code.clone()), name: s.name.clone() });
    let taken = |sheet: &Sheet| sheet.code.as_deref().is_some_and(|code| roster.position(code).is_some());
    let spare = Sheet::spares(spares + roster.students.len()).filter(|sheet| !taken(sheet)).take(spares);
    own.chain(spare).collect()
}
