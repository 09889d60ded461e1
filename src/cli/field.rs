//! `lodemark field`.

use super::{Done, tell, tell_json};
use crate::class::table::Table;
use crate::class::{Folder, whole};
use crate::geometry::Point;
use crate::print::answer_pdf;
use crate::print::picture::Picture;
use crate::print::views::{self, View, Wish};
use crate::problem::Problem;
use crate::run::{Failure, class};
use crate::worksheet::answer::{FieldLine, field_lines};
use crate::worksheet::density::{self, Density};
use crate::worksheet::trace::Separatrix;
use crate::worksheet::{Panel, PanelField, Worksheet};
use std::fmt::Write;
use std::path::{Path, PathBuf};

/// Draw the computed field of the worksheet: an answer sheet, or a picture for the wall.
///
/// Writes DIR/field.svg and DIR/field.png. Lines start at equal steps of the flux through the magnets'
/// outlines. --show chooses what is drawn; several views lie over one another. With --json or --at, numbers go to
/// standard output and no picture is written.
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:\n  \
    lodemark field 9b-magnets --lines 24\n  \
    lodemark field 9b-magnets --out field.pdf\n  \
    lodemark field 9b-magnets --show filings --dpi 300 --out wall.png\n  \
    lodemark field 9b-magnets --show lines,strength,neutral,separatrices --out slide.svg\n  \
    lodemark field 9b-magnets --at points.csv > field.csv")]
pub(super) struct Arguments {
    /// The class folder.
    dir: PathBuf,
    /// About how many lines to draw in each panel.
    #[arg(long, value_name = "N", default_value_t = 20, value_parser = clap::value_parser!(u16).range(1..=400))]
    lines: u16,
    /// Write one picture, to this file, instead of the two: its ending, .svg, .png or .pdf, tells which.
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
    /// What is drawn, with commas between: lines (field lines with arrows), neutral (neutral points), separatrices
    /// (the lines through these), filings (grains as iron filings lie), needles (small compasses), strength (shades
    /// with a scale).
    #[arg(long, value_name = "VIEWS", value_delimiter = ',', default_value = "lines,neutral",
        conflicts_with_all = ["json", "density", "at"], value_parser = clap::builder::PossibleValuesParser::new(View::ALL.map(View::name)))]
    show: Vec<String>,
    /// How the filings are strewn: another number, another handful. It goes with --show filings.
    #[arg(long, value_name = "N", conflicts_with_all = ["json", "density", "at"])]
    seed: Option<u64>,
    /// Dots per inch of the PNG, and of the filings in the SVG and the PDF.
    #[arg(long, value_name = "DPI", default_value_t = 150, value_parser = clap::value_parser!(u16).range(30..=600))]
    dpi: u16,
    /// Give lines, neutral points, the lines through these and how far density means strength, as JSON.
    #[arg(long, conflicts_with_all = ["out", "at"])]
    json: bool,
    /// Say how far the density of the lines means strength, and where it is furthest off; no picture is written.
    #[arg(long, conflicts_with_all = ["out", "at", "json"])]
    density: bool,
    /// Give the flux density at the places in this table (x_mm,y_mm), as CSV with bx_mt,by_mt,bz_mt.
    #[arg(long, value_name = "FILE.csv", conflicts_with = "out")]
    at: Option<PathBuf>,
    /// The panel whose field is asked for, wherever the places lie [default: the panel whose frame holds them].
    #[arg(long, value_name = "ID", requires = "at")]
    panel: Option<String>,
}

/// Strews the filings where no seed is given.
const USUAL_SEED: u64 = 1;

pub(super) fn run(arguments: &Arguments) -> Result<Done, Failure> {
    let folder = Folder::new(&arguments.dir);
    let worksheet = class::worksheet(&folder)?;
    let fields: Vec<PanelField> = worksheet.panels.iter().map(|p| p.field()).collect();
    if let Some(places) = &arguments.at {
        let (text, electric) = densities(&worksheet, &fields, places, arguments.panel.as_deref())?;
        tell(&text)?;
        // The columns' names are fixed, and a program may read them.
        if electric {
            eprintln!(
                "lodemark: in a panel of charges bx_mt, by_mt and bz_mt hold the electric field, in kV/m"
            );
        }
        return Ok(Done::Fine);
    }
    let wish = wanted(&worksheet, arguments)?;
    // Lines that nobody sees are not followed.
    let seen = arguments.json || arguments.density || arguments.show.iter().any(|v| v == View::Lines.name());
    let count = if seen { usize::from(arguments.lines) } else { 0 };
    let panels = worksheet.panels.iter().zip(&fields);
    let lines: Vec<Vec<FieldLine>> = panels.map(|(panel, field)| field_lines(panel, field, count)).collect();
    if arguments.json {
        tell_json(&numbers(&worksheet, &fields, &lines))?;
        return Ok(Done::Fine);
    }
    if arguments.density {
        for ((panel, field), lines) in worksheet.panels.iter().zip(&fields).zip(&lines) {
            tell(&density_words(panel, density::against_strength(field, lines)))?;
        }
        return Ok(Done::Fine);
    }
    let points = |lines: Vec<FieldLine>| lines.into_iter().map(|line| line.points).collect();
    let layers = views::layers(&worksheet, &fields, lines.into_iter().map(points).collect(), &wish);
    let picture = views::picture(&worksheet, &layers);
    let targets = match &arguments.out {
        Some(out) => vec![out.clone()],
        None => vec![arguments.dir.join("field.svg"), arguments.dir.join("field.png")],
    };
    for target in targets {
        let bytes = written(&picture, &target, f64::from(arguments.dpi))?;
        whole::write(&target, &bytes).map_err(Failure::Stopped)?;
        tell(&format!("{}\n", target.display()))?;
    }
    Ok(Done::Fine)
}

/// What `--show` asks for.
fn wanted(worksheet: &Worksheet, arguments: &Arguments) -> Result<Wish, Failure> {
    let views =
        View::ALL.into_iter().filter(|v| arguments.show.iter().any(|name| name == v.name())).collect();
    let unusable = |option: &str, what: String, fix: &str| {
        Failure::Unusable(vec![Problem::of_file(option.as_ref(), what, fix)])
    };
    if let Some((what, fix)) = views::refused(worksheet, &views) {
        return Err(unusable("--show", what, fix));
    }
    if arguments.seed.is_some() && !views.contains(&View::Filings) {
        let what = "says how filings lie, and none are shown".into();
        return Err(unusable("--seed", what, "write --show filings, or leave --seed out"));
    }
    Ok(Wish { views, seed: arguments.seed.unwrap_or(USUAL_SEED), dpi: f64::from(arguments.dpi) })
}

/// The picture in the kind that the file's name asks for.
fn written(picture: &Picture, target: &Path, dpi: f64) -> Result<Vec<u8>, Failure> {
    let ending = target.extension().map(|e| e.to_string_lossy().to_ascii_lowercase());
    let unusable = |what: String, fix: &str| Failure::Unusable(vec![Problem::of_file(target, what, fix)]);
    match ending.as_deref() {
        Some("svg") => Ok(picture.svg().into_bytes()),
        Some("png") => picture.png(dpi).map_err(|e| unusable(e.to_string(), "ask for fewer dots with --dpi")),
        Some("pdf") => {
            answer_pdf::of(picture).map_err(|e| unusable(e.to_string(), "ask for another kind, as field.svg"))
        }
        _ => {
            let fix = "let its name end in .svg, .png or .pdf";
            Err(unusable("is no kind of picture that is written".into(), fix))
        }
    }
}

fn pair(p: &Point) -> [f64; 2] {
    [p.x, p.y]
}

/// What `--density` says of a panel.
fn density_words(panel: &Panel, found: Option<Density>) -> String {
    match found {
        None => format!("{}: no two lines beside each other, so nothing to compare\n", panel.id),
        Some(d) => format!(
            "{}: gap times field is off its median by a factor of {:.1} at worst, at ({:.1}, {:.1}) mm; half of the places \
             lie within a factor of {:.2} (1 would mean that density is strength)\n",
            panel.id, d.worst_factor, d.worst_at.x, d.worst_at.y, d.median_factor
        ),
    }
}

fn numbers(worksheet: &Worksheet, fields: &[PanelField], lines: &[Vec<FieldLine>]) -> serde_json::Value {
    let line = |l: &FieldLine| {
        let points: Vec<[f64; 2]> = l.points.iter().map(pair).collect();
        serde_json::json!({ "points_mm": points, "from": l.from, "to": l.to, "stops": l.stops })
    };
    let separatrix = |s: &Separatrix| {
        let points: Vec<[f64; 2]> = s.trace.points.iter().map(pair).collect();
        serde_json::json!({ "neutral_mm": pair(&s.neutral), "outwards": s.outwards, "points_mm": points })
    };
    let density = |d: Density| {
        serde_json::json!({
            "worst_factor": d.worst_factor, "worst_at_mm": pair(&d.worst_at), "median_factor": d.median_factor
        })
    };
    let panels = worksheet.panels.iter().zip(fields).zip(lines).map(|((panel, field), lines)| {
        serde_json::json!({
            "id": panel.id,
            "lines": lines.iter().map(line).collect::<Vec<_>>(),
            "neutral_mm": field.all_neutral_points().iter().map(pair).collect::<Vec<_>>(),
            "separatrices": field.separatrices(field.all_neutral_points()).iter().map(separatrix).collect::<Vec<_>>(),
            "density": density::against_strength(field, lines).map(density),
        })
    });
    serde_json::json!({ "worksheet": worksheet.id, "panels": panels.collect::<Vec<_>>() })
}

/// The flux density at the places of a table, as CSV with every digit that counts; whether any of it is an electric field.
fn densities(
    worksheet: &Worksheet,
    fields: &[PanelField],
    places: &Path,
    panel: Option<&str>,
) -> Result<(String, bool), Failure> {
    let chosen = match panel {
        Some(id) => Some(worksheet.panels.iter().position(|p| p.id == id).ok_or_else(|| {
            let ids: Vec<&str> = class::panel_ids(worksheet);
            let what = format!("worksheet.yaml has no panel \"{id}\"");
            let fix = format!("write {}", crate::problem::one_of(&ids));
            Failure::Unusable(vec![Problem::of_file("--panel".as_ref(), what, fix)])
        })?),
        None => None,
    };
    let table = Table::load(places, &["x_mm", "y_mm"], &[])?;
    let mut problems = Vec::new();
    let mut electric = false;
    let mut text = String::from("x_mm,y_mm,bx_mt,by_mt,bz_mt\r\n");
    for row in table.rows() {
        let mut number = |column: usize, name: &str| {
            let cell = table.cell(row, column);
            let value = cell.parse::<f64>().ok().filter(|v| v.is_finite());
            if value.is_none() {
                problems.push(table.problem(
                    row,
                    name,
                    format!("\"{cell}\" is no number"),
                    "write millimetres, as 105.5",
                ));
            }
            value
        };
        let (Some(x), Some(y)) = (number(0, "x_mm"), number(1, "y_mm")) else { continue };
        let at = Point::new(x, y);
        let holding = || worksheet.panels.iter().position(|p| holds(p.frame, at));
        let Some(n) = chosen.or_else(holding) else {
            let fix = "name the panel with --panel, or remove the row";
            problems.push(table.problem(row, "", format!("({x}, {y}) lies in no panel's frame"), fix));
            continue;
        };
        // Nothing is added to a zero but its sign.
        let [bx, by, bz] = fields[n].b(at).map(|b| b + 0.0);
        electric |= worksheet.panels[n].is_electric();
        // Writing to a string cannot fail.
        let _ = write!(text, "{x},{y},{bx},{by},{bz}\r\n");
    }
    if problems.is_empty() { Ok((text, electric)) } else { Err(Failure::Unusable(problems)) }
}

/// Whether a frame holds a place, its edge included.
fn holds(frame: crate::geometry::Rect, p: Point) -> bool {
    p.x >= frame.x0 && p.x <= frame.x1 && p.y >= frame.y0 && p.y <= frame.y1
}
