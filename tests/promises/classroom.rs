//! A class folder to try things on, and sheets with field lines drawn on them.

use lodemark::geometry::{Point, Vec2, polyline};
use lodemark::print::sheet::{Sheet, pdf};
use lodemark::scan::{self, GreyImage, Wanted};
use lodemark::worksheet::Worksheet;
use lodemark::worksheet::answer::field_lines;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};
use tempfile::TempDir;

/// Pixels a millimetre of a page of a PDF without images.
const PX_PER_MM: f64 = 200.0 / 25.4;

/// A class folder in a folder of its own.
pub struct Classroom {
    _home: TempDir,
    pub dir: PathBuf,
}

/// What is drawn on a sheet.
#[derive(Clone, Copy, PartialEq, Eq)]
pub enum Drawn {
    Nothing,
    /// A dozen computed field lines, without arrows.
    Lines,
    /// The same, an open arrowhead of 3 mm on the middle of each.
    Arrows,
    /// The same, those in the panel of this id the wrong way round.
    Against(&'static str),
    /// As [`Drawn::Arrows`], in the panel of this id alone.
    Only(&'static str),
}

impl Classroom {
    /// Made by `lodemark new`, with students A01, A02, ...
    pub fn new(arrangement: &str, students: usize) -> Self {
        let home = tempfile::tempdir().unwrap();
        let dir = home.path().join("class");
        let made = run(&["new", dir.to_str().unwrap(), "--from", arrangement]);
        assert_eq!(made.status.code(), Some(0), "{}", errors(&made));
        let room = Self { _home: home, dir };
        let rows: String = (1..=students).map(|n| format!("A{n:02},Student {n}\r\n")).collect();
        room.write("roster.csv", format!("code,name\r\n{rows}"));
        room
    }

    pub fn path(&self, name: &str) -> PathBuf {
        self.dir.join(name)
    }

    pub fn read(&self, name: &str) -> String {
        std::fs::read_to_string(self.path(name)).unwrap()
    }

    pub fn write(&self, name: &str, text: impl AsRef<[u8]>) {
        std::fs::write(self.path(name), text).unwrap();
    }

    pub fn worksheet(&self) -> Worksheet {
        Worksheet::load(&self.path("worksheet.yaml")).unwrap()
    }

    /// `lodemark mark`, with options.
    pub fn mark(&self, options: &[&str]) -> Output {
        let dir = self.dir.to_str().unwrap();
        run(&[&["mark", dir], options].concat())
    }

    /// As [`Classroom::mark`]; it must succeed, and its summary is given as JSON.
    pub fn marked(&self) -> serde_json::Value {
        let output = self.mark(&["--json"]);
        assert_eq!(output.status.code(), Some(0), "{}", errors(&output));
        serde_json::from_slice(&output.stdout).unwrap()
    }

    /// The cells of a student's row of marks.csv by column.
    pub fn row(&self, code: &str) -> std::collections::BTreeMap<String, String> {
        let mut reader = csv::Reader::from_path(self.path("marks.csv")).unwrap();
        let header = reader.headers().unwrap().clone();
        let found = reader.records().map(Result::unwrap).find(|r| &r[0] == code);
        let record = found.unwrap_or_else(|| panic!("no row {code}"));
        header.iter().zip(record.iter()).map(|(h, c)| (h.to_string(), c.to_string())).collect()
    }

    /// Puts a sheet of this class into scans/.
    pub fn scan(&self, name: &str, code: Option<&str>, drawn: Drawn) -> GreyImage {
        let image = sheet(&self.worksheet(), code, drawn);
        save(&image, &self.path("scans").join(name));
        image
    }
}

/// Runs the program.
pub fn run(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_lodemark")).args(arguments).output().unwrap()
}

/// What a run said on standard error.
pub fn errors(output: &Output) -> String {
    String::from_utf8_lossy(&output.stderr).into_owned()
}

/// A sheet as a copier gives it.
pub fn sheet(worksheet: &Worksheet, code: Option<&str>, drawn: Drawn) -> GreyImage {
    let home = tempfile::tempdir().unwrap();
    let path = home.path().join("sheet.pdf");
    let who = Sheet { code: code.map(str::to_string), name: String::new() };
    std::fs::write(&path, pdf(worksheet, &[who]).unwrap()).unwrap();
    let mut image = scan::open(&path).unwrap().page(1, Wanted::default()).unwrap().grey;
    if drawn != Drawn::Nothing {
        draw(worksheet, drawn, &mut image);
    }
    image
}

fn draw(worksheet: &Worksheet, drawn: Drawn, image: &mut GreyImage) {
    let arrows = drawn != Drawn::Lines;
    for panel in &worksheet.panels {
        if matches!(drawn, Drawn::Only(id) if panel.id != id) {
            continue;
        }
        for mut line in field_lines(panel, &panel.field(), 12) {
            if matches!(drawn, Drawn::Against(id) if panel.id == id) {
                line.points.reverse();
            }
            if arrows {
                head(&line.points).into_iter().for_each(|point| blot(image, point));
            }
            line.points.into_iter().for_each(|point| blot(image, point));
        }
        if arrows && panel.prompt.contains("neutral point") {
            let crosses = panel.field().neutral_points().to_vec();
            let stroke =
                |at: Point, up: f64| (-20..=20).map(move |k| at + 0.1 * f64::from(k) * Vec2::new(1.0, up));
            let strokes = crosses.into_iter().flat_map(|at| stroke(at, 1.0).chain(stroke(at, -1.0)));
            strokes.collect::<Vec<_>>().into_iter().for_each(|point| blot(image, point));
        }
    }
}

/// The two barbs of an arrowhead with its tip at the middle of a line.
fn head(line: &[Point]) -> Vec<Point> {
    let evenly = polyline::resample(line, 0.5);
    let middle = evenly.len() / 2;
    let (tip, way) = (evenly[middle], polyline::tangents(&evenly)[middle]);
    let barb = |side: f64| {
        let aside = Vec2::new(-way.y, way.x) * side * 25f64.to_radians().sin();
        let out = aside - way * 25f64.to_radians().cos();
        (0..=20).map(move |k| tip + 3.0 * f64::from(k) / 20.0 * out)
    };
    barb(1.0).chain(barb(-1.0)).collect()
}

/// A dot of half a millimetre.
pub fn blot(image: &mut GreyImage, at: Point) {
    dot(image, at, 0.25);
}

/// A dot of this radius.
pub fn dot(image: &mut GreyImage, at: Point, radius_mm: f64) {
    let (x, y, r) = (at.x * PX_PER_MM, at.y * PX_PER_MM, radius_mm * PX_PER_MM);
    let range = |c: f64, most: usize| ((c - r).max(0.0) as usize)..((c + r).max(0.0) as usize + 1).min(most);
    for row in range(y, image.height) {
        for column in range(x, image.width) {
            if (column as f64 - x).hypot(row as f64 - y) <= r {
                image.pixels[row * image.width + column] = 60;
            }
        }
    }
}

/// Writes an image as PNG.
pub fn save(image: &GreyImage, path: &Path) {
    let (w, h) = (image.width as u32, image.height as u32);
    image::GrayImage::from_raw(w, h, image.pixels.clone()).unwrap().save(path).unwrap();
}
