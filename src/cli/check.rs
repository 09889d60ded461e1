//! `lodemark check`.

use super::{Done, tell, tell_json};
use crate::class::marks::number;
use crate::class::whole;
use crate::report;
use crate::run::{self, Checked, Failure};
use std::fmt::Write;
use std::path::PathBuf;

/// Give feedback on one image of a drawn sheet, and record nothing.
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:\n  \
    lodemark check 9b-magnets photo.jpg\n  \
    lodemark check 9b-magnets photo.jpg --html feedback.html\n  \
    lodemark check 9b-magnets photo.jpg --steps photo-steps")]
pub(super) struct Arguments {
    /// The class folder: its worksheet.yaml and rubric.yaml are used, nothing in it is changed.
    dir: PathBuf,
    /// The image (of a file with several pages, the first).
    photo: PathBuf,
    /// Write the feedback page, with the drawing, to this file as well.
    #[arg(long, value_name = "FILE")]
    html: Option<PathBuf>,
    /// Write a picture of each step of the reading into this folder as well: why the drawing was read as it was.
    #[arg(long, value_name = "OUT")]
    steps: Option<PathBuf>,
    /// The language of what is said, where the rubric has several, as de.
    #[arg(long, value_name = "CODE")]
    language: Option<String>,
    /// Give the feedback as JSON.
    #[arg(long)]
    json: bool,
}

pub(super) fn run(arguments: &Arguments) -> Result<Done, Failure> {
    let mut checked = run::check(&arguments.dir, &arguments.photo, arguments.language.as_deref())?;
    if let Some(out) = &arguments.steps {
        let pictures = run::steps(&arguments.dir, &arguments.photo, out)?;
        checked.notes.push(format!("{} pictures of the reading are in {}", pictures.len(), out.display()));
    }
    if let Some(path) = &arguments.html {
        let page = report::feedback_page(&checked.student);
        whole::write(path, page.as_bytes()).map_err(Failure::Stopped)?;
    }
    if arguments.json {
        tell_json(&json(&checked))?
    } else {
        tell(&text(&checked))?
    }
    Ok(Done::Fine)
}

fn json(checked: &Checked) -> serde_json::Value {
    let student = &checked.student;
    let criterion = |c: &report::Judged| {
        serde_json::json!({
            "criterion": c.column, "title": c.title, "marks": c.marks, "out_of": c.out_of,
            "chance": c.chance, "say": c.say, "look": c.look,
        })
    };
    serde_json::json!({
        "worksheet": student.worksheet,
        "total": student.total,
        "out_of": student.out_of,
        "grade": student.grade,
        "criteria": student.criteria.iter().map(criterion).collect::<Vec<_>>(),
        "why": student.why.iter().chain(&student.unsure_total).collect::<Vec<_>>(),
        "notes": checked.notes,
    })
}

fn text(checked: &Checked) -> String {
    let student = &checked.student;
    let mut text = format!("{}\n", student.worksheet);
    let mut line = |words: String| {
        // Writing to a string cannot fail.
        let _ = writeln!(text, "{words}");
    };
    for why in student.reasons() {
        line(why.clone());
    }
    for c in &student.criteria {
        let got = if student.words_only { String::new() } else { format!(" ({})", c.earned()) };
        line(format!("\n{}{got}\n  {}", c.title, c.say));
        for why in &c.look {
            line(format!("  Not sure: {why}"));
        }
    }
    if let Some(total) = student.total.filter(|_| !student.words_only) {
        for say in &student.says {
            line(format!("\n{say}"));
        }
        let grade = student.grade.as_ref().map(|grade| format!(", grade {grade}")).unwrap_or_default();
        line(format!("\nTogether: {} of {}{grade}", number(total), number(student.out_of)));
    }
    for note in &checked.notes {
        line(format!("\nNote: {note}"));
    }
    line("\nThis is a proposal of a program. Nothing was recorded.".to_string());
    text
}
