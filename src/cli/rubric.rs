//! `lodemark rubric`.

use super::{Done, tell, tell_json};
use crate::class::Folder;
use crate::problem::Problem;
use crate::rubric::Rubric;
use crate::run::{self, Failure, class};
use std::path::PathBuf;

/// The shape of rubric.yaml, for editors that check and complete by a JSON Schema.
const SCHEMA: &str = include_str!("../../rubrics/rubric.schema.json");

/// Check a rubric and show it as a table; or show how it would move a class's marks.
///
/// With --try nothing is read from images and nothing is changed: the class's pages must have been read by
/// `lodemark mark` before.
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:\n  \
    lodemark rubric 9b-magnets/rubric.yaml\n  \
    lodemark rubric stricter.yaml --try 9b-magnets\n  \
    lodemark rubric --schema > rubric.schema.json")]
pub(super) struct Arguments {
    /// The rubric. Where a worksheet.yaml lies beside it (or in CLASS), its panels are those of the sheet.
    #[arg(required_unless_present = "schema")]
    file: Option<PathBuf>,
    /// The class folder whose marks are compared.
    #[arg(long = "try", value_name = "CLASS")]
    trial: Option<PathBuf>,
    /// The language of the words, where the rubric has several, as de.
    #[arg(long, value_name = "CODE")]
    language: Option<String>,
    /// Give the comparison as JSON.
    #[arg(long, requires = "trial")]
    json: bool,
    /// Give the JSON Schema of rubric.yaml instead.
    #[arg(long, conflicts_with_all = ["file", "trial", "language"])]
    schema: bool,
}

pub(super) fn run(arguments: &Arguments) -> Result<Done, Failure> {
    let Some(file) = arguments.file.as_ref().filter(|_| !arguments.schema) else {
        tell(SCHEMA)?;
        return Ok(Done::Fine);
    };
    if let Some(root) = &arguments.trial {
        let trial = run::trial(root, file, arguments.language.as_deref())?;
        if arguments.json {
            tell_json(&trial)?
        } else {
            tell(&format!("{trial}\n"))?
        }
        return Ok(Done::Fine);
    }
    if file.is_dir() {
        let fix = format!("write {}", file.join("rubric.yaml").display());
        return Err(Failure::Unusable(vec![Problem::of_file(file, "is a folder", fix)]));
    }
    let beside = Folder::new(file.parent().map(PathBuf::from).unwrap_or_default());
    let sheet = if beside.worksheet().is_file() { Some(class::worksheet(&beside)?) } else { None };
    let panels = sheet.as_ref().map(class::panel_ids).unwrap_or_default();
    let rubric = Rubric::load(file, &panels, arguments.language.as_deref())?;
    tell(&rubric.table(&panels))?;
    Ok(Done::Fine)
}
