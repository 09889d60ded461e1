//! `lodemark new`.

use super::{Done, tell, tell_json};
use crate::class::arrangements::{self, Arrangement};
use crate::class::create::create;
use crate::run::Failure;
use std::path::PathBuf;

/// Make a class folder from a ready arrangement, or list these.
///
/// Writes worksheet.yaml, rubric.yaml, roster.csv and an empty scans/. Nothing that is there is overwritten.
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:\n  \
    lodemark new --list\n  \
    lodemark new 9b-magnets --from unlike-poles\n  \
    lodemark new 7a-magnets --from single-bar --rubric lower-secondary")]
pub(super) struct Arguments {
    /// The folder to make.
    #[arg(required_unless_present = "list")]
    dir: Option<PathBuf>,
    /// The ready arrangement to begin with; --list shows them all.
    #[arg(long, value_name = "NAME", required_unless_present = "list")]
    from: Option<String>,
    /// The ready rubric to begin with: basics, lower-secondary, upper-secondary, self-check, plotting-compass, earth, wires,
    /// two-wires, coil, charges or plates [default: the one that fits the arrangement].
    #[arg(long, value_name = "NAME")]
    rubric: Option<String>,
    /// Show every ready arrangement: its name, what it is, and a note for the lesson. No folder is made.
    #[arg(long, conflicts_with_all = ["dir", "from", "rubric"])]
    list: bool,
    /// Give the list as JSON.
    #[arg(long, requires = "list")]
    json: bool,
}

pub(super) fn run(arguments: &Arguments) -> Result<Done, Failure> {
    match (&arguments.dir, &arguments.from) {
        (Some(dir), Some(from)) => {
            let arrangement = create(dir, from, arguments.rubric.as_deref())?;
            tell(&made(&dir.display().to_string(), arrangement))?;
        }
        _ if arguments.json => tell_json(&serde_json::json!({
            "arrangements": arrangements::ALL.map(|a| serde_json::json!({
                "name": a.name, "about": a.about, "note": a.note, "rubric": a.rubric
            }))
        }))?,
        _ => tell(&list())?,
    }
    Ok(Done::Fine)
}

fn made(dir: &str, arrangement: &Arrangement) -> String {
    format!(
        "Made {dir}: {}.\n{}\n\n\
         Next:\n  \
         1. Write your students into {dir}/roster.csv, a row each: a code (as R7K-01) and, if you like, a name.\n     \
         The rows in it are examples: replace them.\n  \
         2. Look through {dir}/worksheet.yaml and {dir}/rubric.yaml, and change what you like.\n  \
         3. lodemark print {dir}\n  \
         4. Put the scans of the drawn sheets into {dir}/scans, then: lodemark mark {dir}\n",
        arrangement.about, arrangement.note
    )
}

/// Every arrangement: its name and what it is, and below that the note.
fn list() -> String {
    let widest = arrangements::ALL.iter().map(|a| a.name.len()).max().unwrap_or(0);
    arrangements::ALL
        .iter()
        .map(|a| format!("{:widest$}  {}\n{:widest$}  {}\n", a.name, a.about, "", a.note))
        .collect()
}
