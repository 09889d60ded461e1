//! HEIC, HEIF and AVIF, the pictures of telephones: converted by the program `heif-convert` where it is installed.
//!
//! No decoder of these is part of lodemark. The converter is a child process that is fed a stranger's file, so it
//! works in a private folder that is removed afterwards, knows of the environment nothing but PATH, and is ended
//! when it takes too long or writes too much.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, ExitStatus, Stdio};
use std::time::{Duration, Instant};

use super::kind::{self, Kind};
use super::{PageImage, Reason, Wanted, jpeg, limits, still};

/// The program's name.
const CONVERTER: &str = "heif-convert";

/// What the picture is written as; the letters of faint pencil survive this quality (of 100).
const JPEG_QUALITY: &str = "95";

/// How often a running converter is looked at: small against the second that it takes for 12 million pixels.
const LOOK: Duration = Duration::from_millis(10);

/// What a converter may take.
#[derive(Clone, Copy, Debug)]
pub(super) struct Allowed {
    pub time: Duration,
    /// All that it writes, bytes.
    pub bytes: u64,
}

/// What is allowed by [`limits`].
pub(super) const ALLOWED: Allowed =
    Allowed { time: limits::MAX_CONVERSION, bytes: limits::MAX_IMAGE_FILE_BYTES };

/// The converter on PATH, if there is one. Places that are not absolute are passed over: what lies in the folder of
/// the scans is never run.
pub(super) fn converter() -> Option<PathBuf> {
    let path = std::env::var_os("PATH")?;
    let name = format!("{CONVERTER}{}", std::env::consts::EXE_SUFFIX);
    let mut places = std::env::split_paths(&path).filter(|place| place.is_absolute());
    places.find_map(|place| Some(place.join(&name)).filter(|program| is_program(program)))
}

fn is_program(path: &Path) -> bool {
    let Ok(data) = fs::metadata(path) else { return false };
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        data.is_file() && data.permissions().mode() & 0o111 != 0
    }
    #[cfg(not(unix))]
    data.is_file()
}

/// The picture in `file`, by way of the converter `program`.
pub(super) fn page(
    program: &Path,
    file: &Path,
    allowed: Allowed,
    wanted: Wanted,
) -> Result<PageImage, Reason> {
    let folder = tempfile::Builder::new().prefix("lodemark-").tempdir().map_err(Reason::io)?;
    // An absolute path is never taken for an option.
    let file = fs::canonicalize(file).map_err(Reason::io)?;
    let mut command = Command::new(program);
    command.args(["-q", JPEG_QUALITY]).arg(&file).arg(folder.path().join("page.jpg"));
    command.current_dir(folder.path()).env_clear();
    if let Some(path) = std::env::var_os("PATH") {
        command.env("PATH", path);
    }
    command.stdin(Stdio::null()).stdout(Stdio::null()).stderr(Stdio::null());
    let gave_up = |words: String| Reason::NotConverted(words);
    let child = command.spawn().map_err(|error| gave_up(format!("it cannot be started ({error})")))?;
    let status = wait(child, folder.path(), allowed)?;
    if !status.success() {
        return Err(gave_up(format!("it gave up ({status})")));
    }
    // Of a file with several pictures they are numbered; the first is the one that the telephone shows.
    let names = ["page.jpg", "page-1.jpg"].map(|name| folder.path().join(name));
    let written = names.iter().find(|name| name.is_file());
    let bytes =
        fs::read(written.ok_or_else(|| gave_up("it wrote no picture".into()))?).map_err(Reason::io)?;
    match kind::of(&bytes) {
        Ok(Kind::Jpeg) => jpeg::page(&bytes, wanted),
        Ok(Kind::Png) => still::page(&bytes, Kind::Png, wanted),
        _ => Err(gave_up("what it wrote is no JPEG".into())),
    }
}

/// Waits for the converter to end, and ends it when it passes what is allowed.
fn wait(mut child: Child, folder: &Path, allowed: Allowed) -> Result<ExitStatus, Reason> {
    let started = Instant::now();
    loop {
        let ended = child.try_wait().map_err(Reason::io)?;
        let passed = if written(folder) > allowed.bytes {
            Some(format!("it wrote more than {} MB", allowed.bytes >> 20))
        } else if ended.is_none() && started.elapsed() > allowed.time {
            Some(format!("it took longer than {} s", allowed.time.as_secs()))
        } else {
            None
        };
        match (passed, ended) {
            (Some(words), _) => {
                // One that has just ended by itself cannot be ended; it is waited for either way, so that none is
                // left over.
                let _ = child.kill();
                let _ = child.wait();
                return Err(Reason::NotConverted(words));
            }
            (None, Some(status)) => return Ok(status),
            (None, None) => std::thread::sleep(LOOK),
        }
    }
}

/// How much lies in a folder, bytes.
fn written(folder: &Path) -> u64 {
    let Ok(entries) = fs::read_dir(folder) else { return 0 };
    entries.flatten().filter_map(|entry| Some(entry.metadata().ok()?.len())).sum()
}
