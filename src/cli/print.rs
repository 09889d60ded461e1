//! `lodemark print`.

use super::{Done, tell, tell_json};
use crate::class::roster::Roster;
use crate::class::{Folder, whole};
use crate::print::sheet::{Sheet, pdf};
use crate::problem::Problem;
use crate::run::{Failure, class};
use std::path::PathBuf;

/// Most spare sheets of one print.
const MAX_SPARES: u16 = 200;

/// Print the sheets of a class: one a student, in roster order, then the spares.
///
/// Print the file at 100 % ("actual size"); the line at the foot of each sheet then measures 100 mm.
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:\n  \
    lodemark print 9b-magnets --spares 3\n  \
    lodemark print 9b-magnets --master --out master.pdf")]
pub(super) struct Arguments {
    /// The class folder.
    dir: PathBuf,
    /// So many sheets more, with codes of their own; write their owners into who.csv after scanning.
    #[arg(long, value_name = "N", default_value_t = 0, value_parser = clap::value_parser!(u16).range(..=i64::from(MAX_SPARES)))]
    spares: u16,
    /// One sheet without a code, with a line for the name, to be copied freely.
    #[arg(long, conflicts_with = "spares")]
    master: bool,
    /// Where to write instead of DIR/worksheets.pdf.
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
    /// Tell what was written as JSON.
    #[arg(long)]
    json: bool,
}

pub(super) fn run(arguments: &Arguments) -> Result<Done, Failure> {
    let folder = Folder::new(&arguments.dir);
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
    let bytes = pdf(&worksheet, &sheets).map_err(|error| {
        let fix = "change the part of worksheet.yaml that it names";
        Failure::Unusable(vec![Problem::of_file(&folder.worksheet(), error.to_string(), fix)])
    })?;
    let out = arguments.out.clone().unwrap_or_else(|| folder.sheets());
    whole::write(&out, &bytes).map_err(Failure::Stopped)?;
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

/// The students' sheets, then spares under codes that no student has.
fn sheets(roster: &Roster, spares: usize) -> Vec<Sheet> {
    let own = roster.students.iter().map(|s| Sheet { code: Some(s.code.clone()), name: s.name.clone() });
    let taken = |sheet: &Sheet| sheet.code.as_deref().is_some_and(|code| roster.position(code).is_some());
    let spare = Sheet::spares(spares + roster.students.len()).filter(|sheet| !taken(sheet)).take(spares);
    own.chain(spare).collect()
}
