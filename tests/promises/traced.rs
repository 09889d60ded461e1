//! Traced sheets: what is found on plain paper, and what is said where it is not.

use crate::classroom::{Classroom, errors, run, save};
use crate::makers::Dice;
use crate::tracing::{BAR, Letters, Page, Paper, page, photographed};
use lodemark::rectify::FoundBy;
use lodemark::scan::GreyImage;
use lodemark::traced::{self, Unfound};
use lodemark::worksheet::{Panel, Worksheet};
use std::path::Path;

const DPI: Option<(f64, f64)> = Some((200.0, 200.0));
const PAPERS: [Paper; 3] = [Paper::Blank, Paper::Ruled, Paper::Graph];

fn bar() -> Worksheet {
    Worksheet::parse(Path::new("w"), BAR).unwrap()
}

/// How far off a bar was found: mm, and degrees with N and S told apart.
fn off(page: &traced::Page, truth: &Panel) -> (f64, f64) {
    let (found, truth) = (&page.placed.sources[0], &truth.sources[0]);
    let [x, y] = found.centre_mm;
    let turn = (found.north_deg - truth.north_deg + 180.0).rem_euclid(360.0) - 180.0;
    ((x - truth.centre.x).hypot(y - truth.centre.y), turn.abs())
}

#[test]
fn a_traced_bar_is_found_to_a_millimetre_and_a_degree_with_its_poles_on_any_paper() {
    let worksheet = bar();
    for paper in PAPERS {
        for seed in 1..=4 {
            let (scan, truth) = page(&worksheet, paper, Letters::Right, seed);
            let found =
                traced::read(&scan, DPI, &worksheet).unwrap_or_else(|e| panic!("{paper:?} {seed}: {e:?}"));
            let (mm, deg) = off(&found, &truth);
            assert!(found.outlines_sure && found.poles_sure, "{paper:?} {seed}: {:?}", found.placed);
            assert!(mm < 1.0 && deg < 1.0, "{paper:?} {seed}: {mm} mm, {deg} degrees off");
            assert!(found.residual_mm() < 0.8);
            // Without a word of the resolution the paper's proportion does.
            let alone = traced::read(&scan, None, &worksheet).unwrap();
            assert!(off(&alone, &truth).0 < 1.0);
        }
    }
}

#[test]
fn poles_without_letters_or_with_wrong_ones_are_never_sure() {
    let worksheet = bar();
    for (n, letters) in [Letters::Missing, Letters::Mirrored, Letters::Twice].into_iter().enumerate() {
        for (seed, paper) in (10..).zip(PAPERS) {
            let (scan, truth) = page(&worksheet, paper, letters, seed + 10 * n as u64);
            let found = traced::read(&scan, DPI, &worksheet).unwrap();
            assert!(!found.poles_sure, "{letters:?} on {paper:?}: {:?}", found.placed);
            // The worksheet's own way is the guess; the outline is as right as ever.
            let (mm, deg) = off(&found, &truth);
            assert!(mm < 1.0 && deg.min(180.0 - deg) < 1.0, "{letters:?} on {paper:?}: {mm} mm, {deg}");
            assert!(found.placed.sources[0].north_deg.abs() <= 90.5);
        }
    }
}

#[test]
fn a_photo_of_a_traced_page_is_laid_by_the_papers_edges() {
    let worksheet = bar();
    for (seed, paper) in (31..).zip(PAPERS) {
        let (scan, truth) = page(&worksheet, paper, Letters::Right, seed);
        let found = traced::read(&photographed(&scan), Some((72.0, 72.0)), &worksheet).unwrap();
        assert_eq!(found.found_by, FoundBy::PaperEdges);
        let (mm, deg) = off(&found, &truth);
        assert!(mm < 1.0 && deg.min(180.0 - deg) < 1.0, "{paper:?}: {mm} mm, {deg} degrees off");
        assert!(deg < 1.0 || !found.poles_sure, "{paper:?}");
    }
}

#[test]
fn what_is_no_traced_magnet_is_said_to_be_none() {
    let worksheet = bar();
    for paper in PAPERS {
        let blank = Page::new(paper, 5).image;
        let none = Unfound::NoOutline(vec!["magnet".to_string()]);
        let said = traced::read(&blank, DPI, &worksheet).err().unwrap();
        // Rulings may leave a trace that is more than nothing; it is still no magnet.
        assert!(said == Unfound::Blank || (said == none && paper != Paper::Blank), "{paper:?}: {said:?}");
        // Another magnet than the worksheet's, and its field.
        let mut other = Page::new(paper, 6);
        let panel = crate::tracing::put_down(&worksheet, &mut other.dice);
        other.outline(&panel.sources[0], (70.0, 25.0));
        other.field(&panel, 12);
        let none = Some(Unfound::NoOutline(vec!["magnet".to_string()]));
        assert_eq!(traced::read(&other.image, DPI, &worksheet).err(), none, "{paper:?}");
    }
    let table = GreyImage { width: 1600, height: 1200, pixels: vec![90; 1600 * 1200] };
    assert_eq!(traced::read(&table, None, &worksheet).err(), Some(Unfound::NoPaper));
}

#[test]
fn a_class_on_plain_paper_is_marked_when_a_person_has_said_whose_page_is_whose() {
    let room = Classroom::new("single-bar", 3);
    room.write("worksheet.yaml", BAR);
    let worksheet = room.worksheet();
    for (n, paper) in PAPERS.into_iter().enumerate() {
        let (scan, _) = page(&worksheet, paper, Letters::Right, 41 + n as u64);
        save(&scan, &room.path(&format!("scans/{n}.png")));
    }
    let summary = room.marked();
    assert_eq!(room.row("A01")["status"], "absent");
    let people = serde_json::to_string(&summary["people"]).unwrap();
    assert!(people.contains("it is plain paper without a code"), "{people}");
    // The scan order is a guess, and a guess is nobody's mark.
    let who = room.read("who.csv");
    assert!(
        who.contains("0.png,1,,A01") && who.contains("1.png,1,,A02") && who.contains("2.png,1,,A03"),
        "{who}"
    );
    room.write("who.csv", "file,page,code,guess\n0.png,1,A01,\n1.png,1,A02,\n2.png,1,A03,\n");
    room.marked();
    for code in ["A01", "A02", "A03"] {
        let row = room.row(code);
        assert_eq!(row["total"], row["out_of"], "{code}: {row:?}");
        assert!(
            !row["flags"].contains("poles-unread") && !row["flags"].contains("outline-unsure"),
            "{row:?}"
        );
        let findings: lodemark::measure::findings::Findings =
            serde_json::from_str(&room.read(&format!("findings/{code}.json"))).unwrap();
        assert_eq!(findings.page.found_by, "whole scan");
        let placed = findings.panels[0].placed.as_ref().unwrap();
        assert_eq!((placed.sources[0].id.as_str(), placed.sources[0].poles.as_str()), ("magnet", "read"));
    }
}

#[test]
fn unread_poles_and_pages_without_an_outline_need_a_person() {
    let room = Classroom::new("single-bar", 2);
    room.write("worksheet.yaml", BAR);
    let (scan, _) = page(&room.worksheet(), Paper::Graph, Letters::Missing, 51);
    save(&scan, &room.path("scans/1.png"));
    let mut none = Page::new(Paper::Ruled, 52);
    let panel = crate::tracing::put_down(&room.worksheet(), &mut Dice(9));
    none.field(&panel, 8);
    save(&none.image, &room.path("scans/2.png"));
    room.write("who.csv", "file,page,code,guess\n1.png,1,A01,\n2.png,1,A02,\n");
    let summary = room.marked();
    let (first, second) = (room.row("A01"), room.row("A02"));
    assert_eq!(first["status"], "look");
    assert!(first["flags"].contains("poles-unread"), "{first:?}");
    assert_eq!((second["status"].as_str(), second["total"].as_str()), ("unreadable", ""));
    let people = serde_json::to_string(&summary["people"]).unwrap();
    assert!(people.contains("no traced outline of the shape and size of magnet"), "{people}");
}

#[test]
fn print_gives_one_page_of_instructions_and_says_so() {
    let room = Classroom::new("single-bar", 3);
    room.write("worksheet.yaml", BAR);
    let output = run(&["print", room.path("").to_str().unwrap()]);
    assert_eq!(output.status.code(), Some(0), "{}", errors(&output));
    let said = String::from_utf8_lossy(&output.stdout);
    assert!(said.contains("not a sheet to draw on"), "{said}");
    let pages = lodemark::scan::open(&room.path("worksheets.pdf")).unwrap();
    assert_eq!(pages.len(), 1);
}

#[test]
fn what_cannot_be_traced_is_refused_with_what_to_do() {
    let wrong = |from: &str, to: &str| {
        let text = BAR.replace(from, to);
        let problems = Worksheet::parse(Path::new("w"), &text).unwrap_err();
        problems.iter().map(ToString::to_string).collect::<Vec<_>>().join("\n")
    };
    let said = wrong("placement: traced", "placement: traced2");
    assert!(said.contains("placement") && said.contains("traced"), "{said}");
    let wire = "{ kind: wire, id: wire, centre_mm: [30, 40], current_a: 5, way: out }\n";
    let said = wrong("    sources:\n", &format!("    sources:\n      - {wire}"));
    assert!(said.contains("wire is nothing that one can draw round"), "{said}");
    let said = wrong("    sources:\n", "    earth: { horizontal_ut: 18, north_deg: 90 }\n    sources:\n");
    assert!(said.contains("which way it lay towards the north"), "{said}");
    // A printed sheet still needs its frame.
    let said = wrong("placement: traced", "placement: printed");
    assert!(said.contains("frame_mm"), "{said}");
}

/// Each drawn as the field asks, so that nowhere may the program be sure of less than all marks; the corners of the outlines are
/// overshot.
#[test]
fn good_drawings_on_plain_paper_are_never_surely_marked_down() {
    const SHEETS: u64 = 30;
    let room = Classroom::new("single-bar", SHEETS as usize);
    room.write("worksheet.yaml", BAR);
    let worksheet = room.worksheet();
    let mut who = String::from("file,page,code,guess\n");
    for n in 0..SHEETS {
        let paper = PAPERS[n as usize % PAPERS.len()];
        let (scan, _) = page(&worksheet, paper, Letters::Right, 1000 + n);
        save(&scan, &room.path(&format!("scans/{n:02}.png")));
        who += &format!("{n:02}.png,1,A{:02},\n", n + 1);
    }
    room.write("who.csv", &who);
    room.marked();
    let rows: Vec<_> = (1..=SHEETS).map(|n| room.row(&format!("A{n:02}"))).collect();
    let down: Vec<_> = rows.iter().filter(|r| r["status"] != "look" && r["total"] != r["out_of"]).collect();
    assert!(down.is_empty(), "{down:?}");
    let proposed = rows.iter().filter(|r| r["status"] == "proposed").count() as u64;
    assert!(proposed >= SHEETS / 2, "only {proposed} of {SHEETS}");
}
