//! `lodemark new`: a class folder from a ready arrangement. Nothing that is there already is touched.

use super::arrangements::{self, Arrangement};
use super::{Folder, whole};
use crate::problem::{Problem, suggest};
use crate::rubric::ready;
use std::path::Path;

/// The roster that a new folder gets: invented rows to be replaced, so that printing and marking can be tried
/// at once.
const ROSTER: &str = "code,name,group,state\r\nA01,,,\r\nA02,,,\r\nA03,,,\r\nA04,,,\r\n";

/// Makes the folder with worksheet.yaml, rubric.yaml, roster.csv and an empty scans/. `rubric` names a ready rubric;
/// none: that which fits the arrangement.
///
/// # Errors
/// No arrangement or ready rubric has this name; the folder holds anything already; it cannot be written.
pub fn create(root: &Path, name: &str, rubric: Option<&str>) -> Result<&'static Arrangement, Vec<Problem>> {
    let names: Vec<&str> = arrangements::ALL.iter().map(|a| a.name).collect();
    let Some(arrangement) = arrangements::find(name) else {
        let what = format!("no arrangement is called \"{name}\"");
        return Err(vec![Problem::of_file(Path::new("--from"), what, suggest(name, &names))]);
    };
    let rubric = rubric.unwrap_or(arrangement.rubric);
    let Some(rubric) = ready::find(rubric) else {
        let names: Vec<&str> = ready::ALL.iter().map(|r| r.name).collect();
        let what = format!("no ready rubric is called \"{rubric}\"");
        return Err(vec![Problem::of_file(Path::new("--rubric"), what, suggest(rubric, &names))]);
    };
    let folder = Folder::new(root);
    let taken = |path: &Path| path.symlink_metadata().is_ok();
    let files = [
        (folder.worksheet(), arrangement.worksheet),
        (folder.rubric(), rubric.text),
        (folder.roster(), ROSTER),
    ];
    if taken(root) && !root.is_dir() {
        return Err(vec![Problem::of_file(root, "is there already and is no folder", "choose another name")]);
    }
    let there: Vec<Problem> = files
        .iter()
        .map(|(path, _)| path.clone())
        .chain([folder.scans()])
        .filter(|path| taken(path))
        .map(|path| {
            Problem::of_file(&path, "is there already and is not overwritten", "choose another folder")
        })
        .collect();
    if !there.is_empty() {
        return Err(there);
    }
    whole::folder(&folder.scans()).map_err(|problem| vec![problem])?;
    for (path, text) in files {
        whole::write(&path, text.as_bytes()).map_err(|problem| vec![problem])?;
    }
    Ok(arrangement)
}
