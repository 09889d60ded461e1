//! The files in scans/, in the order in which a person would count them.

use super::Failure;
use crate::class::Folder;
use crate::problem::Problem;
use std::cmp::Ordering;
use std::path::PathBuf;
use std::time::UNIX_EPOCH;

/// A file that may hold pages.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ScanFile {
    /// The name inside scans/.
    pub name: String,
    pub path: PathBuf,
    pub bytes: u64,
    /// When it was last written, nanoseconds since 1970; 0 where the disk does not tell.
    pub modified_ns: u64,
}

/// The files of a class's scans/, in natural order (2 before 10).
///
/// Left out: hidden files and what operating systems leave in folders. Folders are kept as files, so that
/// they are named as unreadable and not forgotten.
///
/// # Errors
/// [`Failure::Unusable`] where there is nothing to read.
pub fn list(folder: &Folder) -> Result<Vec<ScanFile>, Failure> {
    let place = folder.scans();
    let unusable = |what: String| {
        let fix = "put the copier's PDF or the photos there";
        Failure::Unusable(vec![Problem::of_file(&place, what, fix)])
    };
    let entries = std::fs::read_dir(&place).map_err(|e| unusable(format!("cannot be read ({e})")))?;
    let mut files = Vec::new();
    for entry in entries {
        let entry = entry.map_err(|e| unusable(format!("cannot be read ({e})")))?;
        let name = entry.file_name().to_string_lossy().into_owned();
        if is_noise(&name) {
            continue;
        }
        let path = entry.path();
        // Follows links; what cannot be looked at is named later, when it cannot be opened.
        let data = std::fs::metadata(&path).ok();
        let modified = data.as_ref().and_then(|d| d.modified().ok()?.duration_since(UNIX_EPOCH).ok());
        let modified_ns = modified.and_then(|m| u64::try_from(m.as_nanos()).ok()).unwrap_or(0);
        files.push(ScanFile { name, path, bytes: data.map_or(0, |d| d.len()), modified_ns });
    }
    if files.is_empty() {
        return Err(unusable("holds no scans".into()));
    }
    files.sort_by(|a, b| natural(&a.name, &b.name));
    Ok(files)
}

fn is_noise(name: &str) -> bool {
    name.starts_with('.') || ["thumbs.db", "desktop.ini"].contains(&name.to_ascii_lowercase().as_str())
}

/// Natural order: runs of digits by their number, all else by letters without case; ties by the plain text.
pub fn natural(a: &str, b: &str) -> Ordering {
    let (mut x, mut y) = (a, b);
    loop {
        let order = match (x.is_empty(), y.is_empty()) {
            (true, true) => return a.cmp(b),
            (true, false) => return Ordering::Less,
            (false, true) => return Ordering::Greater,
            _ => {
                let (p, q) = (digits(x), digits(y));
                if p > 0 && q > 0 {
                    let (m, n) = (x[..p].trim_start_matches('0'), y[..q].trim_start_matches('0'));
                    let order = m.len().cmp(&n.len()).then(m.cmp(n));
                    (x, y) = (&x[p..], &y[q..]);
                    order
                } else {
                    let (c, d) = (first(&mut x), first(&mut y));
                    c.cmp(&d)
                }
            }
        };
        if order != Ordering::Equal {
            return order;
        }
    }
}

fn digits(text: &str) -> usize {
    text.bytes().take_while(u8::is_ascii_digit).count()
}

/// Takes the first letter off, lower case.
fn first(text: &mut &str) -> Vec<char> {
    let mut chars = text.chars();
    let letter = chars.next();
    *text = chars.as_str();
    letter.into_iter().flat_map(char::to_lowercase).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn two_comes_before_ten() {
        let mut names = ["scan10.jpg", "Scan2.jpg", "scan1.jpg", "b", "scan 3.jpg", "scan02.jpg", "a100"];
        names.sort_by(|a, b| natural(a, b));
        assert_eq!(names, ["a100", "b", "scan 3.jpg", "scan1.jpg", "Scan2.jpg", "scan02.jpg", "scan10.jpg"]);
    }

    #[test]
    fn any_two_names_have_an_order() {
        for (a, b) in [("é1", "É2"), ("1", "a"), ("", "0"), ("9".repeat(40).as_str(), "10")] {
            assert_eq!(natural(a, b), natural(b, a).reverse());
        }
    }
}
