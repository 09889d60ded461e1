//! `print --teacher`: the answer, what to look for, slips, equipment and risks that fit the sheet, read back from the PDF.

use crate::classroom::{Classroom, errors, run};
use hayro::hayro_interpret::font::GlyphRun;
use hayro::hayro_interpret::{
    BlendMode, ClipPath, Context, Device, DrawMode, DrawProps, Image, ImageDrawProps, InterpreterCache,
    InterpreterSettings, SoftMask, hayro_cmap::BfString, interpret_page,
};
use hayro::hayro_syntax::Pdf;
use kurbo::{Affine, BezPath, Rect};
use lodemark::class::arrangements;
use lodemark::rubric::Rubric;

/// What a page says, its words in the order in which they stand in the file, and how many pictures it shows.
#[derive(Default)]
struct Reader {
    words: String,
    pictures: usize,
}

impl<'a> Device<'a> for Reader {
    fn draw_path(&mut self, _: &BezPath, _: DrawProps<'a>, _: &DrawMode) {}
    fn push_clip_path(&mut self, _: &ClipPath) {}
    fn push_transparency_group(&mut self, _: f32, _: Option<SoftMask<'a>>, _: BlendMode) {}
    fn draw_glyph_run(&mut self, run: &GlyphRun<'_, 'a>, _: DrawProps<'a>, _: &DrawMode) {
        for glyph in run.glyphs() {
            match glyph.as_unicode() {
                Some(BfString::Char(c)) => self.words.push(c),
                Some(BfString::String(s)) => self.words.push_str(&s),
                None => panic!("a letter that cannot be read"),
            }
        }
    }
    fn draw_image(&mut self, _: Image<'a, '_>, _: ImageDrawProps<'a>) {
        self.pictures += 1;
    }
    fn pop_clip(&mut self) {}
    fn pop_transparency_group(&mut self) {}
}

/// The words of a PDF without white space, as lines are broken anywhere; pages; pictures.
fn read(bytes: &[u8]) -> (String, usize, usize) {
    let pdf = Pdf::new(bytes.to_vec()).unwrap();
    let cache = InterpreterCache::new();
    let mut reader = Reader::default();
    for page in pdf.pages().iter() {
        let settings = InterpreterSettings::default();
        let whole = Rect::new(0.0, 0.0, 1000.0, 1000.0);
        let mut context = Context::new(Affine::IDENTITY, whole, &cache, page.xref(), settings);
        interpret_page(page, &mut context, &mut reader);
    }
    (bare(&reader.words), pdf.pages().len(), reader.pictures)
}

fn bare(text: &str) -> String {
    text.chars().filter(|c| !c.is_whitespace()).collect()
}

/// The page of a fresh class of an arrangement.
fn page_of(name: &str) -> (Classroom, Vec<u8>) {
    let room = Classroom::new(name, 2);
    let made = run(&["print", room.dir.to_str().unwrap(), "--teacher"]);
    assert_eq!(made.status.code(), Some(0), "{name}: {}", errors(&made));
    assert!(!room.path("worksheets.pdf").exists());
    let bytes = std::fs::read(room.path("teacher.pdf")).unwrap();
    (room, bytes)
}

#[test]
fn every_arrangement_has_a_page_for_the_teacher() {
    for arrangement in arrangements::ALL {
        let (room, bytes) = page_of(arrangement.name);
        let (words, pages, pictures) = read(&bytes);
        let says =
            |text: &str| assert!(words.contains(&bare(text)), "{}: no {text} in {words}", arrangement.name);
        let sheet = room.worksheet();
        says(&sheet.title);
        says(arrangement.note);
        says("Local rules decide");
        for heading in ["In the lesson", "What to look for", "Usual slips", "Equipment", "Risks"] {
            says(heading);
        }
        let rubric = Rubric::load(&room.path("rubric.yaml"), &["A"], None).unwrap();
        rubric.criteria.iter().for_each(|c| says(&c.title));
        rubric.criteria.iter().flat_map(|c| c.in_words()).for_each(|sentence| says(&sentence));
        for p in sheet.panels[0].field().neutral_points() {
            says(&format!("{:.1} and {:.1}", p.x, p.y));
        }
        // Front and back of one sheet of paper, the answer once.
        assert_eq!((pages, pictures), (2, 1), "{}", arrangement.name);
    }
}

/// A roster that is empty or missing once kept the page from being made, which no student has a part in.
#[test]
fn the_page_needs_no_roster() {
    let (room, page) = page_of("like-poles");
    for empty in [true, false] {
        if empty {
            room.write("roster.csv", "");
        } else {
            std::fs::remove_file(room.path("roster.csv")).unwrap();
        }
        let made = run(&["print", room.dir.to_str().unwrap(), "--teacher"]);
        assert_eq!(made.status.code(), Some(0), "{}", errors(&made));
        assert!(std::fs::read(room.path("teacher.pdf")).unwrap() == page);
        assert!(String::from_utf8_lossy(&made.stdout).contains("Note: roster.csv has no students yet"));
    }
    // A slip in it is told, as by every other command.
    room.write("roster.csv", "code,nme\nA01,\n");
    let made = run(&["print", room.dir.to_str().unwrap(), "--teacher"]);
    assert_eq!(made.status.code(), Some(2));
    assert!(errors(&made).contains("roster.csv:1:6") && errors(&made).contains("nme"), "{}", errors(&made));
}

/// The Earth alone has no neutral point: to ask for one would be a mark for nothing. Nor have wires poles.
#[test]
fn nothing_is_asked_that_the_sheet_does_not_show() {
    let neutral = bare("Neutral points are marked");
    assert!(!read(&page_of("earth").1).0.contains(&neutral));
    assert!(read(&page_of("bar-n-north").1).0.contains(&neutral));
    for name in ["straight-wire", "coil", "one-charge", "plates"] {
        let words = read(&page_of(name).1).0;
        assert!(!words.contains(&bare("gone on to a pole")), "{name}: {words}");
    }
}

#[test]
fn risks_and_slips_are_those_of_the_source() {
    let of = |name: &str| read(&page_of(name).1).0;
    let (magnets, wire, plates) = (of("like-poles"), of("straight-wire"), of("plates"));
    let swallowed = bare("Swallowed magnets can kill");
    let implants = bare("pacemakers and other implants");
    let filings = bare("iron filings in a closed tray and out of eyes");
    let (hot, voltage) = (bare("grows hot"), bare("High voltage can kill"));
    for risk in [&swallowed, &implants, &filings] {
        assert!(magnets.contains(risk) && !wire.contains(risk));
    }
    assert!(wire.contains(&hot) && !magnets.contains(&hot) && !plates.contains(&hot));
    assert!(plates.contains(&voltage) && !magnets.contains(&voltage) && !plates.contains(&swallowed));
    let like = bare("Like poles joined by lines");
    assert!(magnets.contains(&like) && !of("single-bar").contains(&like) && !wire.contains(&like));
    // A compass tells nothing of charges.
    let lesson = plates.split_once("Usualslips").unwrap().1;
    assert!(!lesson.contains("compass"), "{lesson}");
}

#[test]
fn the_note_goes_with_the_sheet_that_it_was_written_for_and_bytes_are_the_same() {
    let (room, first) = page_of("unequal-bars");
    let dir = room.dir.to_str().unwrap();
    let note = bare(arrangements::find("unequal-bars").unwrap().note);
    assert!(read(&first).0.contains(&note));
    assert_eq!(run(&["print", dir, "--teacher"]).status.code(), Some(0));
    assert!(std::fs::read(room.path("teacher.pdf")).unwrap() == first);
    // The same strength left and right: the note on the weaker magnet would be wrong.
    room.write(
        "worksheet.yaml",
        room.read("worksheet.yaml").replace("remanence_mt: 100", "remanence_mt: 400"),
    );
    let out = room.path("mine.pdf");
    assert_eq!(run(&["print", dir, "--teacher", "--out", out.to_str().unwrap()]).status.code(), Some(0));
    let (words, _, _) = read(&std::fs::read(&out).unwrap());
    assert!(!words.contains(&note) && words.contains(&bare("145.5 and 115.0")), "{words}");
    assert_eq!(run(&["print", dir, "--teacher", "--master"]).status.code(), Some(2));
}
