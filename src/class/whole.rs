//! Files written whole or not at all.
//!
//! New content goes to a temporary file in the same folder, is forced to the disk, and takes the old file's
//! name in one step (POSIX rename; `MoveFileEx` on Windows). [`Batch`] does the slow part of many files
//! first and the renaming last, so that a run that is stopped leaves the old set, seldom a mixed one, and
//! never a half file.

use crate::problem::Problem;
use std::fs;
use std::io::Write;
use std::path::{Path, PathBuf};
use tempfile::TempPath;

/// How the temporary files' names begin; what a killed run left of them is removed by [`sweep`].
const PREFIX: &str = ".lodemark-";

/// Writes one file.
///
/// # Errors
/// The folder is not there, is full, or may not be written to; the old file is then untouched.
pub fn write(path: &Path, bytes: &[u8]) -> Result<(), Problem> {
    let staged = stage(path, bytes)?;
    commit(staged, path)
}

/// Files ready to take their names.
#[derive(Debug, Default)]
pub struct Batch {
    staged: Vec<(TempPath, PathBuf)>,
}

impl Batch {
    /// An empty batch.
    pub fn new() -> Self {
        Self::default()
    }

    /// Adds a file whose content is on the disk already, under a temporary name.
    pub fn add(&mut self, staged: Option<(TempPath, PathBuf)>) {
        self.staged.extend(staged);
    }

    /// Gives every file its name.
    ///
    /// # Errors
    /// The first file that could not take its name; those before it have theirs.
    pub fn commit(self) -> Result<(), Problem> {
        for (file, path) in self.staged {
            commit(file, &path)?;
        }
        Ok(())
    }
}

/// Content on the disk under a temporary name beside `path`; `None` where `path` already holds just that.
///
/// # Errors
/// As [`write`].
pub fn prepare(path: &Path, bytes: &[u8]) -> Result<Option<(TempPath, PathBuf)>, Problem> {
    let same = fs::metadata(path).is_ok_and(|m| m.len() == bytes.len() as u64)
        && fs::read(path).is_ok_and(|old| old == bytes);
    if same {
        return Ok(None);
    }
    Ok(Some((stage(path, bytes)?, path.to_owned())))
}

/// Makes a folder, and those above it.
///
/// # Errors
/// It cannot be made.
pub fn folder(path: &Path) -> Result<(), Problem> {
    fs::create_dir_all(path).map_err(|error| {
        Problem::of_file(path, format!("cannot be made ({error})"), "check that you may write there")
    })
}

/// Removes temporary files that a killed run left in a folder; only while no other run works there.
pub fn sweep(folder: &Path) {
    let Ok(entries) = fs::read_dir(folder) else { return };
    for entry in entries.flatten() {
        if entry.file_name().to_string_lossy().starts_with(PREFIX) {
            // One that stays does no harm; the next run tries again.
            let _ = fs::remove_file(entry.path());
        }
    }
}

fn stage(path: &Path, bytes: &[u8]) -> Result<TempPath, Problem> {
    let parent = match path.parent() {
        Some(parent) if !parent.as_os_str().is_empty() => parent,
        _ => Path::new("."),
    };
    let mut builder = tempfile::Builder::new();
    builder.prefix(PREFIX);
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        // As any new file: the user's mask decides. Temporary files are private otherwise.
        builder.permissions(fs::Permissions::from_mode(0o666));
    }
    let staged = builder.tempfile_in(parent).and_then(|mut file| {
        file.write_all(bytes)?;
        file.as_file().sync_all()?;
        // Closed: a class of hundreds needs more files than a process may hold open.
        Ok(file.into_temp_path())
    });
    staged.map_err(|error| not_written(path, &error))
}

fn commit(staged: TempPath, path: &Path) -> Result<(), Problem> {
    staged.persist(path).map_err(|error| not_written(path, &error.error))?;
    Ok(())
}

fn not_written(path: &Path, error: &std::io::Error) -> Problem {
    let fix =
        "check that the disk has room, that you may write there, and that no other program holds it open";
    Problem::of_file(path, format!("could not be written ({error}); what was there is untouched"), fix)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn replaces_a_file_and_leaves_nothing_else() {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("marks.csv");
        write(&path, b"old").unwrap();
        let ready = prepare(&path, b"new").unwrap();
        assert_eq!(fs::read(&path).unwrap(), b"old");
        let mut batch = Batch::new();
        batch.add(ready);
        batch.commit().unwrap();
        assert_eq!(fs::read(&path).unwrap(), b"new");
        assert!(prepare(&path, b"new").unwrap().is_none());
        assert_eq!(fs::read_dir(dir.path()).unwrap().count(), 1);
    }

    #[test]
    fn a_batch_that_is_dropped_leaves_the_old_files() {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("class.html");
        write(&path, b"old").unwrap();
        drop(prepare(&path, b"new").unwrap());
        assert_eq!(fs::read(&path).unwrap(), b"old");
        assert_eq!(fs::read_dir(dir.path()).unwrap().count(), 1);
    }

    #[test]
    fn says_what_could_not_be_written() {
        let dir = tempfile::tempdir().unwrap();
        let problem = write(&dir.path().join("no/such/marks.csv"), b"x").unwrap_err();
        assert!(problem.to_string().contains("marks.csv: could not be written"), "{problem}");
    }

    #[test]
    fn sweeps_only_its_own_leavings() {
        let dir = tempfile::tempdir().unwrap();
        fs::write(dir.path().join(".lodemark-abc"), "half").unwrap();
        fs::write(dir.path().join("notes.txt"), "mine").unwrap();
        sweep(dir.path());
        assert_eq!(fs::read_dir(dir.path()).unwrap().count(), 1);
    }
}
