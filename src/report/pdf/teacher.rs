//! teacher.pdf: the answer to a worksheet, what is looked for, usual slips, equipment and risks.

use super::PdfError;
use super::bench;
use super::paper::{INDENT_MM, Item, Paper, WORDS_EM_MM};
use crate::class::arrangements;
use crate::geometry::{Point, Rect};
use crate::ideas;
use crate::print::answer::{self, Answer};
use crate::print::lettering::Face;
use crate::rubric::Rubric;
use crate::worksheet::answer::field_lines;
use crate::worksheet::{Panel, Worksheet};

/// Highest that the answer stands on the page, mm: what eight criteria look for still has room below it.
const MOST_HIGH_MM: f64 = 96.0;
/// Dots an inch of the answer at full size; reduced to this page they are 300 or more.
const DPI: f64 = 220.0;
/// About how many lines are drawn in each panel, as by `lodemark field`.
const LINES: usize = 20;
const FOR_WHOM: &str = "For the teacher. It holds the answer: do not hand it out.";
const RUBRIC_WORDS: &str = "The command lodemark rubric shows what each needs first, and what is said.";
const IDEAS_WORDS: &str = "What a drawing of this may suggest that its maker believes, and what to try then.";

/// The teacher's page of a worksheet and the rubric that it is marked by.
///
/// # Errors
/// In words: the font or the picture cannot be used.
pub fn teacher_pdf(worksheet: &Worksheet, rubric: &Rubric) -> Result<Vec<u8>, PdfError> {
    let mut paper = Paper::new();
    paper.title(&worksheet.title);
    paper.paragraph(FOR_WHOM);
    picture(&mut paper, worksheet)?;
    if let Some(note) = note(worksheet) {
        paper.heading("In the lesson");
        paper.paragraph(note);
    }
    looked_for(&mut paper, worksheet, rubric);
    // What is for marking stands on the front, what is for the lesson on the back.
    paper.page();
    paper.heading("Usual slips");
    paper.paragraph(IDEAS_WORDS);
    paper.gap(1.0);
    let ideas: Vec<String> = slips(worksheet).iter().map(|i| format!("{}. {}", i.title, i.teacher)).collect();
    items(&mut paper, "–", ideas.iter().map(String::as_str).chain(bench::slips(worksheet)));
    paper.heading("Equipment");
    items(&mut paper, "–", bench::equipment(worksheet));
    paper.heading("Risks, should the class try it");
    items(&mut paper, "!", bench::risks(worksheet));
    paper.finish(&format!("{}: for the teacher", worksheet.title), false)
}

/// The computed field of all panels, and where its neutral points lie on the sheet.
fn picture(paper: &mut Paper, worksheet: &Worksheet) -> Result<(), PdfError> {
    let answer = |panel: &Panel| {
        let field = panel.field();
        let lines = field_lines(panel, &field, LINES).into_iter().map(|line| line.points).collect();
        Answer { lines, neutral: field.neutral_points().to_vec() }
    };
    let answers: Vec<Answer> = worksheet.panels.iter().map(answer).collect();
    // The title stands on the page already.
    let untitled = Worksheet { title: String::new(), ..worksheet.clone() };
    let png = answer::png(&answer::svg(&untitled, &answers), DPI).map_err(|e| e.to_string())?;
    let (bytes, wide, high) = trimmed(&png).map_err(|e| e.to_string())?;
    let scale = (paper.width() / wide).min(MOST_HIGH_MM / high);
    let (wide, high) = (wide * scale, high * scale);
    paper.gap(3.0);
    let at = paper.room(high + 2.0);
    let left = at.x + (paper.width() - wide) / 2.0;
    paper.put(Item::Png { at: Rect::new(left, at.y, left + wide, at.y + high), bytes });
    let several = worksheet.panels.len() > 1;
    for (panel, answer) in worksheet.panels.iter().zip(answers).filter(|(_, a)| !a.neutral.is_empty()) {
        let mut points = answer.neutral;
        points.sort_by(|a, b| a.x.total_cmp(&b.x).then(a.y.total_cmp(&b.y)));
        let of = if several { format!(" of panel {}", panel.id) } else { String::new() };
        let s = if points.len() > 1 { "s" } else { "" };
        let places: Vec<String> = points.iter().map(|p| format!("{:.1} and {:.1}", p.x, p.y)).collect();
        paper.paragraph(&format!(
            "Neutral point{s}{of}, mm from the left and from the upper edge of the sheet: {}.",
            places.join("; ")
        ));
    }
    Ok(())
}

/// A PNG without its white edges, and its width and height in pixels.
fn trimmed(png: &[u8]) -> image::ImageResult<(Vec<u8>, f64, f64)> {
    let whole = image::load_from_memory(png)?.to_rgb8();
    let (mut x0, mut y0, mut x1, mut y1) = (u32::MAX, u32::MAX, 0, 0);
    for (x, y, _) in whole.enumerate_pixels().filter(|(_, _, p)| p.0 != [255; 3]) {
        (x0, y0, x1, y1) = (x0.min(x), y0.min(y), x1.max(x + 1), y1.max(y + 1));
    }
    let (wide, high) = (x1.saturating_sub(x0).max(1), y1.saturating_sub(y0).max(1));
    let inner = image::imageops::crop_imm(&whole, x0.min(whole.width()), y0.min(whole.height()), wide, high);
    let mut bytes = Vec::new();
    inner.to_image().write_to(&mut std::io::Cursor::new(&mut bytes), image::ImageFormat::Png)?;
    Ok((bytes, f64::from(wide), f64::from(high)))
}

/// The note of the ready arrangement that this sheet still is: sheets that were changed have none.
fn note(worksheet: &Worksheet) -> Option<&'static str> {
    let ready = arrangements::find(&worksheet.id)?;
    let fresh = Worksheet::parse(ready.name.as_ref(), ready.worksheet).ok()?;
    let physics = |w: &Worksheet| {
        let of = |p: &crate::worksheet::Panel| {
            format!("{:?} {:?} {:?} {}", p.sources, p.earth, p.frame, p.plane_mm)
        };
        w.panels.iter().map(of).collect::<Vec<_>>()
    };
    (physics(&fresh) == physics(worksheet)).then_some(ready.note)
}

/// The rubric's criteria, and what earns how many marks.
fn looked_for(paper: &mut Paper, worksheet: &Worksheet, rubric: &Rubric) {
    let panels: Vec<&str> = worksheet.panels.iter().map(|p| p.id.as_str()).collect();
    paper.heading("What to look for");
    let out_of = crate::class::marks::number(rubric.out_of(&panels));
    paper.paragraph(&format!("{}, out of {out_of}. {RUBRIC_WORDS}", rubric.title));
    for criterion in &rubric.criteria {
        let words = criterion.in_words().join(" ");
        let (title, marks) = (&criterion.title, criterion.counts());
        paper.gap(0.8);
        paper.keep(WORDS_EM_MM * 1.4 + paper.height(Face::Regular, WORDS_EM_MM, 0.0, &words));
        let at = paper.room(WORDS_EM_MM * 1.35);
        let right = at.x + paper.width() - Face::Regular.width_mm(&marks, WORDS_EM_MM);
        let mut put = |x, face, text| {
            let at = Point::new(x, at.y + WORDS_EM_MM);
            paper.put(Item::Text { at, face, em_mm: WORDS_EM_MM, text });
        };
        put(at.x, Face::Bold, Face::Bold.fit(title, WORDS_EM_MM, right - at.x - 4.0));
        put(right, Face::Regular, marks);
        paper.paragraph(&words);
    }
}

/// Sentences behind a sign, none of them broken by the end of a page.
fn items<'a>(paper: &mut Paper, sign: &str, sentences: impl IntoIterator<Item = &'a str>) {
    for sentence in sentences {
        paper.keep(paper.height(Face::Regular, WORDS_EM_MM, INDENT_MM, sentence));
        paper.item(sign, sentence);
    }
}

/// The usual ideas that drawings of any panel can suggest, each once. Their words to the teacher speak of compasses, so
/// none for an electric field.
fn slips(worksheet: &Worksheet) -> Vec<&'static ideas::Idea> {
    let found: Vec<&ideas::Idea> = worksheet
        .panels
        .iter()
        .filter(|p| !p.is_electric())
        .flat_map(|p| ideas::possible(p, &p.field()))
        .collect();
    ideas::CATALOGUE.iter().filter(|idea| found.iter().any(|f| f.id == idea.id)).collect()
}
