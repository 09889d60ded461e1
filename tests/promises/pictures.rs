//! Pictures of the field are to scale in every kind of file, the same at any number of threads, and what cannot be shown
//! is refused with a reason.

use crate::classroom::{Classroom, errors, run};
use crate::page::Page;
use std::process::Command;

/// Asks for a picture of the room's field and gives the file.
fn picture(room: &Classroom, options: &[&str], name: &str) -> Vec<u8> {
    let out = room.path(name);
    let mut words = vec!["field", room.dir.to_str().unwrap(), "--out", out.to_str().unwrap()];
    words.extend(options);
    let said = run(&words);
    assert_eq!(said.status.code(), Some(0), "{}", errors(&said));
    std::fs::read(out).unwrap()
}

const DPI: f64 = 150.0;
const PX_PER_MM: f64 = DPI / 25.4;
/// The frame of the arrangement unlike-poles, mm, and the corner of the page at which its picture begins: 8 mm to the left of
/// it, and 8 + 12 mm above.
const FRAME_MM: [f64; 4] = [20.0, 45.0, 277.0, 185.0];
const CORNER_MM: [f64; 2] = [12.0, 25.0];

/// Darkness of every pixel, 0 to 1, and the width of a row.
struct Dark(Vec<f64>, usize);

impl Dark {
    fn of_png(png: &[u8]) -> Self {
        let picture = image::load_from_memory(png).unwrap().into_rgb8();
        let width = picture.width() as usize;
        Self(picture.pixels().map(|p| 1.0 - f64::from(p[1]) / 255.0).collect(), width)
    }

    fn of_pdf(pdf: &[u8]) -> Self {
        let page = Page::of(pdf, 0, DPI as f32);
        let all = (0..page.width * page.height).map(|k| page.dark(k % page.width, k / page.width));
        Self(all.collect(), page.width)
    }

    fn at(&self, x: usize, y: usize) -> f64 {
        self.0[y * self.1 + x]
    }
}

/// The mean product of two pictures about their means over a patch of the frame, the second moved by some pixels.
fn likeness(a: &Dark, b: &Dark, moved: (isize, isize)) -> f64 {
    let places = (150..1100usize).step_by(3).flat_map(|x| (150..400usize).step_by(3).map(move |y| (x, y)));
    let pairs: Vec<(f64, f64)> = places
        .map(|(x, y)| (a.at(x, y), b.at(x.strict_add_signed(moved.0), y.strict_add_signed(moved.1))))
        .collect();
    let n = pairs.len() as f64;
    let mean = |of: fn(&(f64, f64)) -> f64| pairs.iter().map(of).sum::<f64>() / n;
    let (ma, mb) = (mean(|p| p.0), mean(|p| p.1));
    pairs.iter().map(|(u, v)| (u - ma) * (v - mb)).sum::<f64>() / n
}

/// Where a picture of filings alone has ink on a frame's side: the frame's middle, mm from the picture's edge.
fn sides(dark: &Dark) -> [f64; 2] {
    // Between the picture's edge and 3 mm within the frame, along a row without words, the first ink is the frame.
    let middle = |pixels: &mut dyn Iterator<Item = (usize, f64)>| {
        let first: Vec<(usize, f64)> = pixels.skip_while(|(_, d)| *d < 0.1).take(2).collect();
        first.iter().map(|(k, d)| (*k as f64 + 0.5) * d).sum::<f64>()
            / first.iter().map(|(_, d)| d).sum::<f64>()
    };
    let (across, down) = (dark.1 / 2, dark.0.len() / dark.1 / 2);
    let x = middle(&mut (0..dark.1).map(|x| (x, dark.at(x, down))));
    // Below the title's baseline, 1 mm above the frame.
    let from = ((FRAME_MM[1] - CORNER_MM[1] - 2.0) * PX_PER_MM) as usize;
    let y = middle(&mut (from..from + 40).map(|y| (y, dark.at(across, y))));
    [x / PX_PER_MM, y / PX_PER_MM]
}

/// The grains of the PDF lie dot on dot on those of the PNG, and both keep to the millimetre.
#[test]
fn filings_lie_at_the_same_place_in_every_kind_of_file() {
    let room = Classroom::new("unlike-poles", 1);
    let options = ["--show", "filings", "--dpi", "150"];
    let png = picture(&room, &options, "a.png");
    let pdf = picture(&room, &options, "a.pdf");
    let (in_png, in_pdf) = (Dark::of_png(&png), Dark::of_pdf(&pdf));
    assert!(in_png.1.abs_diff(in_pdf.1) <= 1 && in_png.1 == (273.0 * PX_PER_MM).round() as usize);
    let here = likeness(&in_png, &in_pdf, (0, 0));
    assert!(here > 0.02, "{here}");
    for moved in [(1, 0), (-1, 0), (0, 1), (0, -1)] {
        assert!(here > likeness(&in_png, &in_pdf, moved), "the PDF's grains are off by {moved:?} dots");
    }
    for dark in [&in_png, &in_pdf] {
        let [x, y] = sides(dark);
        assert!((x - (FRAME_MM[0] - CORNER_MM[0])).abs() < 0.15, "left side {x} mm");
        assert!((y - (FRAME_MM[1] - CORNER_MM[1])).abs() < 0.15, "upper side {y} mm");
    }
    let svg = String::from_utf8(picture(&room, &options, "a.svg")).unwrap();
    let tag = svg.split("<image ").nth(1).unwrap();
    let number = |name: &str| -> f64 {
        tag.split(&format!("{name}=\"")).nth(1).unwrap().split('"').next().unwrap().parse().unwrap()
    };
    let [x, y, w, h] = ["x", "y", "width", "height"].map(number);
    let dot = 1.0 / PX_PER_MM;
    assert!(x <= FRAME_MM[0] && FRAME_MM[0] - x < dot && y <= FRAME_MM[1] && FRAME_MM[1] - y < dot);
    assert!(
        x + w >= FRAME_MM[2]
            && x + w - FRAME_MM[2] < dot
            && y + h >= FRAME_MM[3]
            && y + h - FRAME_MM[3] < dot
    );
}

#[test]
fn pictures_are_the_same_at_any_number_of_threads() {
    let room = Classroom::new("like-poles", 1);
    let show = "lines,neutral,separatrices,filings,needles,strength";
    let by = |threads: &str, name: &str, seed: &str| {
        let out = room.path(name);
        let done = Command::new(env!("CARGO_BIN_EXE_lodemark"))
            .env("RAYON_NUM_THREADS", threads)
            .args([
                "field",
                room.dir.to_str().unwrap(),
                "--dpi",
                "72",
                "--show",
                show,
                "--seed",
                seed,
                "--out",
            ])
            .arg(&out)
            .output()
            .unwrap();
        assert_eq!(done.status.code(), Some(0), "{}", errors(&done));
        std::fs::read(out).unwrap()
    };
    for kind in ["svg", "png", "pdf"] {
        let one = by("1", &format!("one.{kind}"), "7");
        assert!(one == by("4", &format!("four.{kind}"), "7"), "{kind} differs with threads");
        assert!(one != by("4", &format!("other.{kind}"), "8"), "{kind}: another seed strews the same grains");
    }
}

#[test]
fn what_cannot_be_shown_is_refused_with_a_reason() {
    let room = Classroom::new("single-bar", 1);
    let refused = |options: &[&str]| {
        let mut words = vec!["field", room.dir.to_str().unwrap()];
        words.extend(options);
        let said = run(&words);
        assert_eq!(said.status.code(), Some(2), "{options:?}");
        errors(&said)
    };
    let unknown = refused(&["--show", "lines,filing"]);
    assert!(
        unknown.contains("'filing'") && unknown.contains("filings") && unknown.contains("strength"),
        "{unknown}"
    );
    let seed = refused(&["--seed", "3"]);
    assert!(seed.contains("--seed") && seed.contains("--show filings"), "{seed}");
    let both = refused(&["--show", "filings", "--json"]);
    assert!(both.contains("--show") && both.contains("--json"), "{both}");
    let kind = refused(&["--show", "filings", "--out", "field.gif"]);
    assert!(kind.contains(".svg, .png or .pdf"), "{kind}");
    let electric = room.read("worksheet.yaml");
    let sources = electric.find("    sources:").unwrap();
    let charge = "    sources:\n      - { kind: charge, id: plus, centre_mm: [148.5, 115], charge_nc: 5 }\n";
    room.write("worksheet.yaml", format!("{}{charge}", &electric[..sources]));
    let needles = refused(&["--show", "lines,needles"]);
    assert!(needles.contains("no compass needle") && needles.contains("leave needles out"), "{needles}");
    assert!(!room.path("field.svg").exists() && !room.path("field.png").exists());
}

/// A wire beside a magnet: in the flat cut its lines are spirals. Drawn for 900 mm they were smears with blunt ends.
#[test]
fn a_line_that_winds_round_is_told_and_drawn_for_one_turn() {
    let room = Classroom::new("straight-wire", 1);
    let yaml = room.read("worksheet.yaml");
    let sources = yaml.find("    sources:").unwrap();
    let mixed = "    sources:\n      - { kind: wire, id: wire, centre_mm: [100, 115], current_a: 100, way: out }\n      \
        - { kind: bar, id: bar, centre_mm: [190, 115], size_mm: [40, 10, 5], north_deg: 0, remanence_mt: 5 }\n";
    room.write("worksheet.yaml", format!("{}{mixed}", &yaml[..sources]));
    let said = run(&["field", room.dir.to_str().unwrap(), "--json"]);
    let json: serde_json::Value = serde_json::from_slice(&said.stdout).unwrap();
    let panel = &json["panels"][0];
    let lines = panel["lines"].as_array().unwrap();
    let stops =
        |line: &serde_json::Value, word: &str| line["stops"].as_array().unwrap().iter().any(|s| s == word);
    let count = |word| lines.iter().filter(|line| stops(line, word)).count();
    assert!(count("round") >= 3 && count("closed") >= 2, "{} {}", count("round"), count("closed"));
    for line in lines.iter().filter(|line| stops(line, "round")) {
        for (stop, word) in [("from", 0), ("to", 1)].map(|(key, k)| (&line["stops"][k], &line[key])) {
            assert!(stop != "round" || word == "open", "{stop} {word}");
        }
    }
    // Nowhere but where it stops, abreast of itself, does a line run beside its own earlier turn.
    for line in lines.iter().chain(panel["separatrices"].as_array().unwrap()) {
        let points: Vec<[f64; 2]> = serde_json::from_value(line["points_mm"].clone()).unwrap();
        let inner = 40..points.len().saturating_sub(20);
        for i in inner.step_by(4).filter(|_| !stops_closed(line)) {
            let p = points[i];
            let near = |q: &[f64; 2]| (p[0] - q[0]).hypot(p[1] - q[1]) < 0.8;
            assert!(!points[20..i - 20].iter().any(near), "a line runs beside itself at {p:?}");
        }
    }
}

fn stops_closed(line: &serde_json::Value) -> bool {
    line["stops"][0] == "closed"
}
