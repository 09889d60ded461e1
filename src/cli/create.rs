//! `lodemark new`.

use super::{Done, tell};
use crate::class::create::create;
use crate::run::Failure;
use std::path::PathBuf;

/// Make a class folder from a ready arrangement.
///
/// Writes worksheet.yaml, rubric.yaml, roster.csv and an empty scans/. Nothing that is there is overwritten.
///
/// Arrangements: single-bar, unlike-poles, like-poles, horseshoe, three-bars.
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:\n  \
    lodemark new 9b-magnets --from unlike-poles\n  \
    lodemark new 7a-magnets --from single-bar --rubric lower-secondary")]
pub(super) struct Arguments {
    /// The folder to make.
    dir: PathBuf,
    /// The ready arrangement to begin with.
    #[arg(long, value_name = "NAME")]
    from: String,
    /// The ready rubric to begin with: basics, lower-secondary, upper-secondary or self-check.
    #[arg(long, value_name = "NAME", default_value = "basics")]
    rubric: String,
}

pub(super) fn run(arguments: &Arguments) -> Result<Done, Failure> {
    let arrangement = create(&arguments.dir, &arguments.from, &arguments.rubric)?;
    let dir = arguments.dir.display();
    tell(&format!(
        "Made {dir}: {}.\n\n\
         Next:\n  \
         1. Write your students into {dir}/roster.csv, a row each: a code (as R7K-01) and, if you like, a name.\n     \
         The rows in it are examples: replace them.\n  \
         2. Look through {dir}/worksheet.yaml and {dir}/rubric.yaml, and change what you like.\n  \
         3. lodemark print {dir}\n  \
         4. Put the scans of the drawn sheets into {dir}/scans, then: lodemark mark {dir}\n",
        arrangement.about
    ))?;
    Ok(Done::Fine)
}
