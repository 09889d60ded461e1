//! `lodemark mark`.

use super::{Done, tell, tell_json};
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
    /// End with exit code 1 where something needs a person.
    #[arg(long)]
    strict: bool,
    /// Tell the summary as JSON.
    #[arg(long)]
    json: bool,
}

pub(super) fn run(arguments: &Arguments) -> Result<Done, Failure> {
    let options = Options {
        threads: arguments.threads.map(usize::from),
        progress: std::io::stderr().is_terminal(),
        language: arguments.language.clone(),
    };
    let summary = run::mark(&arguments.dir, &options)?;
    if arguments.json {
        tell_json(&summary)?;
    } else {
        tell(&format!("{summary}\n"))?;
    }
    Ok(if arguments.strict && summary.needs_person() { Done::NeedsPerson } else { Done::Fine })
}
