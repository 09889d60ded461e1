//! The PDFs of students, and what a person has written on them since: a teacher marks up a PDF on a tablet, and no later run
//! may take that away.

use super::class::Class;
use super::output::Staged;
use crate::class::marks::hash;
use crate::class::whole;
use crate::problem::Problem;
use std::path::{Path, PathBuf};

/// A student's PDF, made ready to be written; and what was there, where a person has changed it.
///
/// # Errors
/// The disk.
pub fn stage(class: &Class, code: &str, bytes: &[u8]) -> Result<Staged, Problem> {
    let path = class.folder.feedback().join(format!("{code}.pdf"));
    let mut staged = Vec::new();
    if let Ok(old) = std::fs::read(&path)
        && old != bytes
        && was_changed(class, &path, &old)
    {
        staged.push(whole::prepare(&kept_as(&path, &old), &old)?);
    }
    staged.push(whole::prepare(&known(class, &path), hash(bytes).as_bytes())?);
    staged.push(whole::prepare(&path, bytes)?);
    Ok(staged)
}

/// What a PDF that was changed is kept as, beside the new one: CODE.changed.pdf, the next CODE.changed-2.pdf.
fn kept_as(path: &Path, old: &[u8]) -> PathBuf {
    let names = std::iter::once("changed.pdf".to_string()).chain((2..).map(|n| format!("changed-{n}.pdf")));
    let mut places = names.map(|name| path.with_extension(name));
    let free = |place: &PathBuf| std::fs::read(place).map_or(true, |kept| kept == old);
    places.find(free).unwrap_or_else(|| path.to_owned())
}

/// Removes a PDF of an earlier run, which may say other marks; whether it is gone. One that a person changed since stays.
pub fn remove(class: &Class, path: &Path) -> bool {
    let changed = std::fs::read(path).map_or(true, |old| was_changed(class, path, &old));
    let gone = !changed && std::fs::remove_file(path).is_ok();
    if gone {
        // What is left of it only takes room.
        let _ = std::fs::remove_file(known(class, path));
    }
    gone
}

/// Whether it is another than was written; also where that is no longer known, as after cache/ was deleted.
fn was_changed(class: &Class, path: &Path, old: &[u8]) -> bool {
    std::fs::read_to_string(known(class, path)).map_or(true, |written| written.trim() != hash(old))
}

/// Where the hash of what was written is kept.
fn known(class: &Class, path: &Path) -> PathBuf {
    let name = path.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
    class.folder.cache().join(format!("{name}.sha256"))
}
