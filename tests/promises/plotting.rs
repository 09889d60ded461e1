//! A class that plotted with compasses: who looked at the needle from the side is told apart from what all have in common.

use crate::classroom::{Classroom, blot, dot, save, sheet};
use lodemark::geometry::{Point, Vec2, polyline};
use lodemark::worksheet::answer::field_lines;

/// Six students; the Earth, say, moves everybody's pattern by the same, and A04 looked from the side besides.
#[test]
fn who_looked_at_the_compass_from_the_side_is_told_from_the_class() {
    let room = Classroom::new("single-bar", 6);
    room.write("rubric.yaml", include_str!("../../rubrics/plotting-compass.yaml"));
    for student in 1..=6u32 {
        let aside = if student == 4 { Vec2::new(0.0, 2.4) } else { Vec2::ZERO };
        plot(&room, student, Vec2::new(1.0, -0.7) + aside);
    }
    let summary = room.marked();
    let shift = |student: u32| {
        let findings = room.read(&format!("findings/A{student:02}.json"));
        let findings: serde_json::Value = serde_json::from_str(&findings).unwrap();
        findings["panels"][0]["measures"]["dots.shift_mm"]["value"].as_f64().unwrap()
    };
    let shifts: Vec<f64> = (1..=6).map(shift).collect();
    for (k, shift) in shifts.iter().enumerate() {
        if k == 3 {
            assert!((shift - 2.4).abs() < 0.6, "{shifts:?} {summary}");
            assert_eq!(room.row("A04")["above"], "0");
        } else {
            assert!(*shift < 0.6, "{shifts:?}");
            let row = room.row(&format!("A{:02}", k + 1));
            assert_eq!(row["above"], "1", "{shifts:?}");
            // Most of the class might have looked from the same side: what takes its step off decides the mark.
            assert!(row["status"] == "look" && row["flags"].contains("above:near-edge"), "{row:?}");
        }
    }
    // Alone, the same page is held against the computed field: the class's part is in it.
    let alone = Classroom::new("single-bar", 1);
    alone.write("rubric.yaml", include_str!("../../rubrics/plotting-compass.yaml"));
    plot(&alone, 1, Vec2::new(1.0, -0.7));
    alone.marked();
    let findings: serde_json::Value = serde_json::from_str(&alone.read("findings/A01.json")).unwrap();
    let shift = findings["panels"][0]["measures"]["dots.shift_mm"]["value"].as_f64().unwrap();
    assert!((shift - 1.22).abs() < 0.5, "{shift}");
}

/// Lines with dots 12 mm apart through which they lead, scattered by a third of a millimetre, all moved by `step`.
fn plot(room: &Classroom, student: u32, step: Vec2) {
    let worksheet = room.worksheet();
    let code = format!("A{student:02}");
    let mut image = sheet(&worksheet, Some(&code), crate::classroom::Drawn::Nothing);
    let panel = &worksheet.panels[0];
    for (n, line) in field_lines(panel, &panel.field(), 12).into_iter().enumerate() {
        let plotted: Vec<Point> = polyline::resample(&line.points, 12.0)
            .into_iter()
            .enumerate()
            .map(|(k, p)| {
                // Even numbers between -1 and 1 that look like chance.
                let place = (1 + 500 * student as usize + 40 * n + k) as f64;
                let even = |m: f64| 2.0 * (place * m.sqrt()).fract() - 1.0;
                p + step + 0.55 * Vec2::new(even(2.0), even(3.0))
            })
            .collect();
        for at in &plotted {
            dot(&mut image, *at, 0.75);
        }
        for p in line.points {
            blot(&mut image, p + step);
        }
    }
    save(&image, &room.path("scans").join(format!("{code}.png")));
}
