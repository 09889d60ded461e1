//! HEIC pictures of telephones: read where a converter is installed, told with what to do where not.

use crate::classroom::{Classroom, Drawn, errors, sheet};
use std::os::unix::fs::PermissionsExt;
use std::path::Path;
use std::process::{Command, Output};

const HEIC: &[u8] = b"\0\0\0\x18ftypheic\0\0\0\0mif1heic";

/// `lodemark mark` with this folder before the places of the system's own programs on PATH; `None`: with no place.
fn mark(room: &Classroom, tools: Option<&Path>) -> Output {
    let path = tools.map(|tools| format!("{}:/usr/bin:/bin", tools.display())).unwrap_or_default();
    let mut command = Command::new(env!("CARGO_BIN_EXE_lodemark"));
    command.args(["mark", room.dir.to_str().unwrap()]).env("PATH", path).output().unwrap()
}

#[test]
fn a_heic_picture_is_read_by_way_of_heif_convert_and_told_without_it() {
    let room = Classroom::new("unlike-poles", 2);
    room.scan("1.png", Some("A01"), Drawn::Lines);
    room.write("scans/2.heic", HEIC);
    let output = mark(&room, None);
    assert_eq!(output.status.code(), Some(0), "{}", errors(&output));
    let said = String::from_utf8(output.stdout).unwrap();
    assert!(said.contains("2.heic") && said.contains("apt install libheif-examples"), "{said}");
    assert_eq!(room.row("A02")["status"], "absent");

    // A script stands in for the converter: it writes a JPEG that lies beside it.
    let tools = tempfile::tempdir().unwrap();
    let page = sheet(&room.worksheet(), Some("A02"), Drawn::Lines);
    let (w, h) = (page.width as u32, page.height as u32);
    let jpeg = tools.path().join("page.jpg");
    image::GrayImage::from_raw(w, h, page.pixels).unwrap().save(&jpeg).unwrap();
    let program = tools.path().join("heif-convert");
    let script = |does: &str| {
        std::fs::write(&program, format!("#!/bin/sh\n{does}\n")).unwrap();
        std::fs::set_permissions(&program, std::fs::Permissions::from_mode(0o755)).unwrap();
    };
    script("exit 2");
    let output = mark(&room, Some(tools.path()));
    let said = String::from_utf8(output.stdout).unwrap();
    assert!(said.contains("2.heic page 1") && said.contains("heif-convert could not convert"), "{said}");

    // What could not be converted is tried again.
    script(&format!("cp {} \"$4\"", jpeg.display()));
    let output = mark(&room, Some(tools.path()));
    assert_eq!(output.status.code(), Some(0), "{}", errors(&output));
    let row = room.row("A02");
    assert_eq!(row["source"], "2.heic page 1");
    assert!(row["total"].parse::<f64>().unwrap() > 0.0, "{row:?}");
}
