//! `new`, `print` and `field`: a class folder to begin with, its sheets, and their answers.

use crate::classroom::{Classroom, errors, run};
use lodemark::scan;

#[test]
fn new_overwrites_nothing() {
    let room = Classroom::new("horseshoe", 1);
    room.write("rubric.yaml", "mine");
    let again = run(&["new", room.dir.to_str().unwrap(), "--from", "single-bar"]);
    assert_eq!(again.status.code(), Some(2));
    for file in ["worksheet.yaml", "rubric.yaml", "roster.csv", "scans"] {
        assert!(
            errors(&again).contains(&format!("{file}: is there already and is not overwritten")),
            "{file}"
        );
    }
    assert_eq!(room.read("rubric.yaml"), "mine");
    assert!(room.read("worksheet.yaml").contains("id: horseshoe"));
}

#[test]
fn new_knows_its_arrangements() {
    let home = tempfile::tempdir().unwrap();
    let dir = home.path().join("c");
    let wrong = run(&["new", dir.to_str().unwrap(), "--from", "like-pole"]);
    assert_eq!(wrong.status.code(), Some(2));
    assert!(errors(&wrong).contains("did you mean like-poles?"), "{}", errors(&wrong));
    assert!(!dir.exists());
}

#[test]
fn print_makes_a_sheet_a_student_and_the_spares() {
    let room = Classroom::new("three-bars", 3);
    let dir = room.dir.to_str().unwrap();
    let pages = || scan::open(&room.path("worksheets.pdf")).unwrap().len();
    assert_eq!(run(&["print", dir, "--spares", "2"]).status.code(), Some(0));
    assert_eq!(pages(), 5);
    let first = std::fs::read(room.path("worksheets.pdf")).unwrap();
    assert_eq!(run(&["print", dir, "--spares", "2"]).status.code(), Some(0));
    assert_eq!(std::fs::read(room.path("worksheets.pdf")).unwrap(), first);
    assert_eq!(run(&["print", dir, "--master"]).status.code(), Some(0));
    assert_eq!(pages(), 1);
    assert_eq!(run(&["print", dir, "--master", "--spares", "2"]).status.code(), Some(2));
}

#[test]
fn where_nothing_can_be_written_the_exit_code_says_so() {
    let room = Classroom::new("three-bars", 1);
    let out = room.path("no/such/folder/out.pdf");
    let output = run(&["print", room.dir.to_str().unwrap(), "--out", out.to_str().unwrap()]);
    assert_eq!(output.status.code(), Some(3));
    assert!(errors(&output).contains("out.pdf: could not be written"), "{}", errors(&output));
}

#[test]
fn field_draws_lines_and_gives_them_as_numbers() {
    let room = Classroom::new("like-poles", 1);
    let dir = room.dir.to_str().unwrap();
    assert_eq!(run(&["field", dir, "--lines", "16"]).status.code(), Some(0));
    assert!(room.read("field.svg").trim_end().ends_with("</svg>"));
    let png = image::open(room.path("field.png")).unwrap().into_luma8();
    assert!(png.pixels().filter(|p| p.0[0] < 128).count() > 5000);
    let pdf = room.path("field.pdf");
    assert_eq!(run(&["field", dir, "--out", pdf.to_str().unwrap()]).status.code(), Some(0));
    assert_eq!(scan::open(&pdf).unwrap().len(), 1);
    let output = run(&["field", dir, "--json", "--lines", "16"]);
    let numbers: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
    let panel = &numbers["panels"][0];
    let lines = panel["lines"].as_array().unwrap();
    assert!((12..=20).contains(&lines.len()), "{}", lines.len());
    // N faces N: no line joins the two magnets, and between them is a place without field.
    for line in lines {
        let (from, to) = (line["from"].as_str().unwrap(), line["to"].as_str().unwrap());
        let other = |a: &str, b: &str| from.starts_with(a) && to.starts_with(b);
        assert!(!other("left", "right") && !other("right", "left"), "{from} to {to}");
    }
    let neutral = &panel["neutral_mm"][0];
    assert!(
        (neutral[0].as_f64().unwrap() - 148.5).abs() < 0.01
            && (neutral[1].as_f64().unwrap() - 115.0).abs() < 0.01
    );
    // Two separatrices run in from the N poles, two out to the frame; density is told in both ways.
    let ways: Vec<bool> =
        panel["separatrices"].as_array().unwrap().iter().map(|s| s["outwards"].as_bool().unwrap()).collect();
    assert_eq!((ways.len(), ways.iter().filter(|w| **w).count()), (4, 2));
    let worst = panel["density"]["worst_factor"].as_f64().unwrap();
    assert!(worst > 2.0 && panel["density"]["median_factor"].as_f64().unwrap() > 1.0);
    let said = run(&["field", dir, "--density", "--lines", "16"]);
    let said = String::from_utf8(said.stdout).unwrap();
    assert!(
        said.starts_with(&format!("A: gap times field is off its median by a factor of {worst:.1} at worst")),
        "{said}"
    );
}

#[test]
fn field_gives_the_flux_density_at_places_with_every_digit() {
    let room = Classroom::new("single-bar", 1);
    let dir = room.dir.to_str().unwrap();
    let at = room.path("at.csv");
    room.write("at.csv", "x_mm,y_mm\n60.25,100\n105,80.5\n");
    let output = run(&["field", dir, "--at", at.to_str().unwrap()]);
    let text = String::from_utf8(output.stdout).unwrap();
    let worksheet = room.worksheet();
    let field = worksheet.panels[0].field();
    let mut reader = csv::Reader::from_reader(text.as_bytes());
    assert_eq!(reader.headers().unwrap(), vec!["x_mm", "y_mm", "bx_mt", "by_mt", "bz_mt"]);
    let rows: Vec<Vec<f64>> =
        reader.records().map(|r| r.unwrap().iter().map(|c| c.parse().unwrap()).collect()).collect();
    assert_eq!(rows.len(), 2);
    for row in rows {
        let b = field.b(lodemark::geometry::Point::new(row[0], row[1]));
        assert_eq!(row[2..], b);
    }
    room.write("at.csv", "x_mm,y_mm\n5,100\nx,3\n");
    let refused = run(&["field", dir, "--at", at.to_str().unwrap()]);
    assert_eq!(refused.status.code(), Some(2));
    assert!(
        errors(&refused).contains("at.csv:2:1: (5, 100) lies in no panel's frame"),
        "{}",
        errors(&refused)
    );
    assert!(errors(&refused).contains("at.csv:3:1 x_mm: \"x\" is no number"));
    room.write("at.csv", "x_mm,y_mm\n5,100\n");
    let asked = run(&["field", dir, "--at", at.to_str().unwrap(), "--panel", "A"]);
    assert_eq!(asked.status.code(), Some(0), "{}", errors(&asked));
}

/// The columns' names are fixed: that they hold an electric field is said beside them, and no zero has a sign.
#[test]
fn of_charges_the_unit_is_said_and_no_zero_is_negative() {
    let room = Classroom::new("plates", 1);
    let at = room.path("at.csv");
    room.write("at.csv", "x_mm,y_mm\n148.5,115\n148.5,60\n");
    let asked = run(&["field", room.dir.to_str().unwrap(), "--at", at.to_str().unwrap()]);
    let text = String::from_utf8_lossy(&asked.stdout).into_owned();
    assert!(text.starts_with("x_mm,y_mm,bx_mt,by_mt,bz_mt"));
    assert!(text.contains(",0\r\n") && !text.contains("-0,") && !text.contains("-0\r"), "{text}");
    assert!(errors(&asked).contains("electric field, in kV/m"), "{}", errors(&asked));
    let magnets = Classroom::new("single-bar", 1);
    magnets.write("at.csv", "x_mm,y_mm\n60.25,100\n");
    let at = magnets.path("at.csv");
    let asked = run(&["field", magnets.dir.to_str().unwrap(), "--at", at.to_str().unwrap()]);
    assert_eq!(errors(&asked), "");
}
