//! HEIC by way of a converter: scripts stand in for heif-convert, which need not be installed.

use std::os::unix::fs::PermissionsExt;
use std::path::Path;
use std::time::{Duration, Instant};

use super::super::heic::{self, Allowed};
use super::*;

const SOON: Allowed = Allowed { time: Duration::from_secs(20), bytes: 1 << 20 };

/// A picture of a kind that only its first bytes tell.
const PICTURE: &[u8] = b"\0\0\0\x18ftypheic\0\0\0\0mif1heic";

/// A folder with a picture, a JPEG beside it, and a converter that does this; `$3` is the picture, `$4` where to write.
struct Room {
    folder: TempDir,
}

impl Room {
    fn new(script: &str) -> Self {
        let folder = tempfile::tempdir().unwrap();
        let at = |name: &str| folder.path().join(name);
        std::fs::write(at("-IMG 1.heic"), PICTURE).unwrap();
        std::fs::write(at("true.jpg"), jpeg_of(&gradient(400, 300))).unwrap();
        std::fs::write(at("heif-convert"), format!("#!/bin/sh\n{script}\n")).unwrap();
        let runs = std::fs::Permissions::from_mode(0o755);
        std::fs::set_permissions(at("heif-convert"), runs).unwrap();
        Self { folder }
    }

    fn at(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    fn page(&self, allowed: Allowed) -> Result<PageImage, Reason> {
        heic::page(&self.at("heif-convert"), &self.at("-IMG 1.heic"), allowed, GREY)
    }
}

fn words(reason: Result<PageImage, Reason>) -> String {
    match reason {
        Err(Reason::NotConverted(words)) => words,
        other => panic!("{other:?}"),
    }
}

#[test]
fn what_the_converter_writes_is_read() {
    let copy = "cp \"$(dirname \"$3\")/true.jpg\"";
    for script in [format!("{copy} \"$4\""), format!("{copy} \"${{4%.jpg}}-1.jpg\"")] {
        let page = Room::new(&script).page(SOON).unwrap();
        assert_eq!((page.number, page.grey.width, page.grey.height), (1, 400, 300));
    }
}

#[test]
fn the_converter_knows_no_more_than_it_must_and_nothing_stays_behind() {
    let room = Room::new(
        "{ pwd; echo \"$4\"; env; } > \"$(dirname \"$3\")/seen\"; cp \"$(dirname \"$3\")/true.jpg\" \"$4\"",
    );
    room.page(SOON).unwrap();
    let seen = std::fs::read_to_string(room.at("seen")).unwrap();
    let mut lines = seen.lines();
    let (place, target) = (lines.next().unwrap(), lines.next().unwrap());
    assert!(target.starts_with(place) && target.ends_with(".jpg"), "{seen}");
    assert!(!Path::new(place).exists());
    // What a shell sets by itself besides.
    let known = ["PATH=", "PWD=", "OLDPWD=", "SHLVL=", "_="];
    assert!(lines.all(|line| known.iter().any(|name| line.starts_with(name))), "{seen}");
}

#[test]
fn a_converter_that_hangs_is_ended() {
    let started = Instant::now();
    let said = words(Room::new("exec sleep 60").page(Allowed { time: Duration::from_millis(300), ..SOON }));
    assert!(said.contains("longer than"), "{said}");
    assert!(started.elapsed() < Duration::from_secs(20));
}

#[test]
fn a_converter_that_fails_is_told() {
    assert!(words(Room::new("echo no >&2; exit 3").page(SOON)).contains("gave up (exit status: 3)"));
    assert!(words(Room::new("exit 0").page(SOON)).contains("wrote no picture"));
    assert!(words(Room::new("echo hello > \"$4\"").page(SOON)).contains("no JPEG"));
    let half = "head -c 900 \"$(dirname \"$3\")/true.jpg\" > \"$4\"";
    assert!(matches!(Room::new(half).page(SOON), Err(Reason::CutShort | Reason::Damaged(_))));
}

#[test]
fn a_converter_that_writes_too_much_is_ended() {
    let started = Instant::now();
    let said = words(Room::new("exec yes > \"$4\"").page(SOON));
    assert!(said.contains("more than 1 MB"), "{said}");
    assert!(started.elapsed() < Duration::from_secs(15));
    // Also one that has ended before it is looked at, and in another file.
    let said = words(Room::new("head -c 3000000 /dev/zero > other; echo > \"$4\"").page(SOON));
    assert!(said.contains("more than 1 MB"), "{said}");
}
