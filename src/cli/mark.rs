//! `lodemark mark`.

use super::{Done, tell, tell_json};
use crate::report::ShowField;
use crate::run::{self, Failure, Options};
use std::io::IsTerminal;
use std::path::PathBuf;

/// Read the scans of a class and write marks, findings, feedback and the class page.
///
/// Reads DIR/scans (PDF, TIFF, JPEG, PNG, WebP) and writes marks.csv, findings/, feedback/, class.html, and
/// who.csv where a page's owner is not known. Pages read once are not read again while they stay the same:
/// after a change of rubric.yaml, changes.csv or who.csv, marking takes moments. The marks are a proposal;
/// rows marked `look` need a person.
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:\n  \
    lodemark mark 9b-magnets\n  \
    lodemark mark 9b-magnets --language de")]
pub(super) struct Arguments {
    /// The class folder.
    dir: PathBuf,
    /// How many pages are read at once [default: one a processor].
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=256))]
    threads: Option<u16>,
    /// The language of what is said to the students, where the rubric has several, as de.
    #[arg(long, value_name = "CODE")]
    language: Option<String>,
    /// When feedback shows the computed field lines: yes, faintly over the drawing; after, on request below all else.
    #[arg(long, value_name = "WHEN", default_value = "no")]
    show_field: Show,
    /// Leave marks out of the feedback: words only.
    #[arg(long)]
    no_marks: bool,
    /// Write feedback and the class page as PDF too: feedback/CODE.pdf, class.pdf.
    #[arg(long)]
    pdf: bool,
    /// Write marks.xlsx too: marks.csv as a spreadsheet, and a sheet a criterion.
    #[arg(long)]
    xlsx: bool,
    /// Write oneroster.zip too: line items and results in the columns of OneRoster 1.2 CSV.
    #[arg(long)]
    oneroster: bool,
    /// Compare with the class in this folder, marked earlier, on the class page.
    #[arg(long, value_name = "DIR")]
    earlier: Option<PathBuf>,
    /// End with exit code 1 where something needs a person.
    #[arg(long)]
    strict: bool,
    /// Tell the summary as JSON.
    #[arg(long)]
    json: bool,
}

/// When the computed field lines are shown.
#[derive(Clone, Copy, Debug, clap::ValueEnum)]
enum Show {
    Yes,
    No,
    After,
}

pub(super) fn run(arguments: &Arguments) -> Result<Done, Failure> {
    let options = Options {
        threads: arguments.threads.map(usize::from),
        progress: std::io::stderr().is_terminal(),
        language: arguments.language.clone(),
        show_field: match arguments.show_field {
            Show::Yes => ShowField::Yes,
            Show::No => ShowField::No,
            Show::After => ShowField::After,
        },
        hide_marks: arguments.no_marks,
        pdf: arguments.pdf,
        xlsx: arguments.xlsx,
        oneroster: arguments.oneroster,
        earlier: arguments.earlier.clone(),
    };
    let summary = run::mark(&arguments.dir, &options)?;
    if arguments.json {
        tell_json(&summary)?;
    } else {
        tell(&format!("{summary}\n"))?;
    }
    Ok(if arguments.strict && summary.needs_person() { Done::NeedsPerson } else { Done::Fine })
}
