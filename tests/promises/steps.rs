//! `check --steps`: why a drawing was read as it was, as pictures.

use crate::classroom::{Classroom, Drawn, errors, run, save, sheet};
use lodemark::scan::GreyImage;
use std::path::Path;
use std::process::Output;

const FILES: [&str; 6] = [
    "1-page-found.png",
    "2-light-evened-out.png",
    "3-ink.png",
    "4-skeleton.png",
    "5-lines.png",
    "6-arrowheads-and-meetings.png",
];

fn check(room: &Classroom, photo: &Path, out: &Path) -> Output {
    let [dir, photo, out] = [&room.dir, photo, out].map(|path| path.to_str().unwrap());
    run(&["check", dir, photo, "--steps", out])
}

fn names(folder: &Path) -> Vec<String> {
    let entries = std::fs::read_dir(folder).unwrap();
    let mut names: Vec<String> = entries.map(|e| e.unwrap().file_name().into_string().unwrap()).collect();
    names.sort();
    names
}

/// How many pixels are dark, and how many have a colour.
fn dark_and_coloured(path: &Path) -> (usize, usize) {
    let picture = image::open(path).unwrap().into_rgb8();
    let count = |of: fn(&[u8; 3]) -> bool| picture.pixels().filter(|p| of(&p.0)).count();
    (count(|p| p.iter().all(|&v| v < 128)), count(|p| p.iter().any(|v| p[0].abs_diff(*v) > 30)))
}

#[test]
fn every_step_is_a_picture_and_none_is_overwritten() {
    let room = Classroom::new("unlike-poles", 1);
    let (photo, out) = (room.path("photo.png"), room.path("why/steps"));
    save(&sheet(&room.worksheet(), Some("A01"), Drawn::Lines), &photo);
    let output = check(&room, &photo, &out);
    assert_eq!(output.status.code(), Some(0), "{}", errors(&output));
    assert!(String::from_utf8_lossy(&output.stdout).contains("6 pictures of the reading are in"));
    assert_eq!(names(&out), FILES);
    let seen = FILES.map(|name| dark_and_coloured(&out.join(name)));
    // The page with green outlines; the light, ink and skeleton without colour, the skeleton the thinnest; lines.
    assert!(seen[0].1 > 1_000, "{seen:?}");
    assert!(seen[1..4].iter().all(|s| s.1 == 0 && s.0 > 1_000), "{seen:?}");
    assert!(seen[2].0 > 2 * seen[3].0, "{seen:?}");
    assert!(seen[4].1 > 10_000, "{seen:?}");
    let before: Vec<_> = FILES.iter().map(|name| std::fs::read(out.join(name)).unwrap()).collect();

    std::fs::remove_file(out.join(FILES[1])).unwrap();
    std::fs::write(out.join(FILES[3]), "mine").unwrap();
    let output = check(&room, &photo, &out);
    assert_eq!(output.status.code(), Some(2));
    let told = errors(&output);
    assert!(told.contains("4-skeleton.png: is there already and is not overwritten"), "{told}");
    assert!(!out.join(FILES[1]).exists());
    assert_eq!(std::fs::read(out.join(FILES[3])).unwrap(), b"mine");
    assert_eq!(std::fs::read(out.join(FILES[0])).unwrap(), before[0]);

    let output = check(&room, &photo, &photo);
    assert_eq!(output.status.code(), Some(2));
    assert!(errors(&output).contains("is no folder"), "{}", errors(&output));
    assert!(!room.path("cache").exists() && !room.path("marks.csv").exists());
}

#[test]
fn a_sheet_of_several_panels_has_the_steps_of_each() {
    let room = Classroom::new("unlike-poles", 1);
    let sheets = crate::page::worksheets();
    let several = sheets.iter().find(|sheet| sheet.panels.len() == 4).unwrap();
    let frame = |x, y| format!("[{x}, {y}, 79, 90]");
    let panel = |id, x: i32, y: i32| {
        format!(
            "  - {{ id: {id}, prompt: Draw the lines of {id}., frame_mm: {}, sources: [{{ id: magnet, kind: bar, \
             size_mm: [40, 12, 10], centre_mm: [{}, {}], north_deg: 30, remanence_mt: 400 }}] }}\n",
            frame(x, y),
            x + 40,
            y + 45
        )
    };
    let panels: String = [("A", 20, 60), ("B", 111, 60), ("C", 20, 162), ("D", 111, 162)]
        .map(|(id, x, y)| panel(id, x, y))
        .concat();
    room.write(
        "worksheet.yaml",
        format!(
            "worksheet: 1\nid: test-sheet\ntitle: Test\npaper: a4\norientation: portrait\npanels:\n{panels}"
        ),
    );
    let rubric = room.read("rubric.yaml");
    room.write("rubric.yaml", rubric.replace("    measure:", "    panel: each\n    measure:"));
    let (photo, out) = (room.path("photo.png"), room.path("steps"));
    save(&sheet(several, None, Drawn::Lines), &photo);
    let output = check(&room, &photo, &out);
    assert_eq!(output.status.code(), Some(0), "{}", errors(&output));
    let names = names(&out);
    assert_eq!(names.len(), 21);
    assert!(
        ["3-ink-A.png", "3-ink-D.png", "6-arrowheads-and-meetings-C.png"]
            .iter()
            .all(|n| names.contains(&n.to_string()))
    );
}

#[test]
fn what_is_no_page_of_the_class_has_no_steps() {
    let room = Classroom::new("unlike-poles", 1);
    let (photo, out) = (room.path("photo.png"), room.path("steps"));
    let noise = |i: usize| if (i as u32).wrapping_mul(2_654_435_761) >> 29 == 0 { 30 } else { 240 };
    for (pixels, words) in [
        ((0..600 * 800).map(noise).collect(), "shows no page of this worksheet"),
        (vec![250; 600 * 800], "is a blank page; turn the sheet over"),
    ] {
        save(&GreyImage { width: 600, height: 800, pixels }, &photo);
        let output = check(&room, &photo, &out);
        assert_eq!(output.status.code(), Some(2));
        assert!(errors(&output).contains(words), "{}", errors(&output));
        assert!(!out.exists());
    }
}
