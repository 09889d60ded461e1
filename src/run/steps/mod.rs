//! `lodemark check --steps`: each step of reading a page as a picture, so that anyone can see why a drawing was
//! read as it was.
//!
//! The pictures are made from what the reader itself made, step for step ([`read_in_steps`]); nothing is read anew
//! for them.

mod canvas;

use super::Failure;
use super::check::not_a_page;
use super::class::{Sheet, worksheet};
use super::read::{PanelSteps, read_in_steps};
use crate::class::{Folder, whole};
use crate::drawing::{Drawing, MeetKind, THERE};
use crate::geometry::{Point, Rect, Vec2};
use crate::ink::{Bitmap, illumination};
use crate::print::layout::{Layout, What};
use crate::problem::Problem;
use crate::rectify::flatten::PX_PER_MM;
use crate::rectify::grey;
use crate::rectify::page_map::PageMap;
use crate::scan::{self, GreyImage, Wanted};
use crate::worksheet::{Panel, Placed, Worksheet};
use canvas::{Canvas, Colour};
use std::path::{Path, PathBuf};

/// Long side of the picture of the whole page, pixels: a stroke can still be seen, and no photo's size is kept.
const PAGE_PX: usize = 1_600;
/// Side of the mark at an arrowhead and of the ring round a meeting, mm.
const MARK_MM: f64 = 2.4;
/// Width of what is drawn over the ink, pixels of the flat page (0.4 mm).
const PEN_PX: f64 = 3.2;
/// Shade of ink that lies under lines and marks.
const PALE: u8 = 200;
/// Shade of the places that the print covers, where no ink is looked for.
const COVERED: u8 = 238;

const FOUND: Colour = [0, 130, 70];
const HEAD: Colour = [213, 40, 0];
const CROSS: Colour = [0, 90, 200];
const TOUCH: Colour = [150, 0, 170];
const DROPPED: Colour = [120, 120, 120];
/// What is more likely not there than there.
const UNLIKELY: Colour = [230, 170, 60];

/// Colours of lines, in turn, apart in lightness too (after Okabe and Ito, Color Universal Design, 2008).
const LINES: [Colour; 8] = [
    [0, 114, 178],
    [213, 94, 0],
    [0, 158, 115],
    [204, 121, 167],
    [86, 180, 233],
    [120, 60, 20],
    [230, 159, 0],
    [70, 50, 150],
];

/// The steps of one panel after the page was found: the names of their pictures.
const PANEL_STEPS: [&str; 5] =
    ["2-light-evened-out", "3-ink", "4-skeleton", "5-lines", "6-arrowheads-and-meetings"];

/// The pictures' files in `out`, in order, for a worksheet: that of the page, then five a panel.
fn files(worksheet: &Worksheet, out: &Path) -> Vec<PathBuf> {
    let several = worksheet.panels.len() > 1;
    let mut files = vec![out.join("1-page-found.png")];
    for panel in &worksheet.panels {
        let of = if several { format!("-{}", panel.id) } else { String::new() };
        files.extend(PANEL_STEPS.iter().map(|step| out.join(format!("{step}{of}.png"))));
    }
    files
}

/// Reads the first page of `photo` and writes the picture of each step into the folder `out`, which is made if it is
/// not there. Gives the files.
///
/// # Errors
/// [`Failure::Unusable`]: a picture is there already, or there is no page of this class to be read; nothing was
/// written. [`Failure::Stopped`]: the disk.
pub fn steps(root: &Path, photo: &Path, out: &Path) -> Result<Vec<PathBuf>, Failure> {
    let sheet = Sheet::new(worksheet(&Folder::new(root))?);
    let files = files(&sheet.worksheet, out);
    refuse_taken(out, &files)?;
    let refused = |reason: &scan::Reason| {
        Failure::Unusable(vec![Problem::of_file(photo, reason.what(), reason.fix().to_string())])
    };
    let pages = scan::open(photo).map_err(|refusal| refused(&refusal.reason))?;
    let image = pages.page(1, Wanted::default()).map_err(|refusal| refused(&refusal.reason))?;
    let scan = image.grey;
    let read = read_in_steps(&scan, image.dpi, &sheet.reader).map_err(|why| not_a_page(photo, &why))?;
    let outlines = match &read.placed {
        Some(placed) => traced(&sheet.worksheet, placed),
        None => printed(&sheet.reader.layout),
    };
    let mut pictures = vec![page(&scan, &outlines, &read.page_to_scan)];
    pictures.extend(read.panels.iter().flat_map(panel));
    whole::folder(out).map_err(Failure::Stopped)?;
    let mut batch = whole::Batch::new();
    for (file, picture) in files.iter().zip(pictures) {
        let png = picture.png(file).map_err(Failure::Stopped)?;
        batch.add(whole::prepare(file, &png).map_err(Failure::Stopped)?);
    }
    batch.commit().map_err(Failure::Stopped)?;
    Ok(files)
}

/// Nobody's file is overwritten, be it a picture of another drawing or something else.
fn refuse_taken(out: &Path, files: &[PathBuf]) -> Result<(), Failure> {
    let taken = |path: &Path| path.symlink_metadata().is_ok();
    if taken(out) && !out.is_dir() {
        let what = "is there already and is no folder";
        return Err(Failure::Unusable(vec![Problem::of_file(out, what, "give the name of a folder")]));
    }
    let what = "is there already and is not overwritten";
    let there = files.iter().filter(|file| taken(file));
    let problems: Vec<Problem> =
        there.map(|file| Problem::of_file(file, what, "choose another folder, or delete it")).collect();
    if problems.is_empty() { Ok(()) } else { Err(Failure::Unusable(problems)) }
}

/// The scan, with what was found on it outlined where it was found to lie, mm on the page.
fn page(scan: &GreyImage, outlines: &[Vec<Point>], page_to_scan: &PageMap) -> Canvas {
    let (reduced, factor) = grey::reduce(scan, PAGE_PX);
    let mut canvas = Canvas::grey(reduced.width, reduced.pixels);
    let place = |p: Point| {
        let at = page_to_scan.apply(p);
        Point::new((at.x + 0.5) / factor - 0.5, (at.y + 0.5) / factor - 0.5)
    };
    for corners in outlines {
        let around: Vec<Point> = corners.iter().chain(corners.first()).map(|&p| place(p)).collect();
        canvas.line(&around, 3.0, FOUND);
    }
    canvas
}

/// Discs, code and frames of a printed sheet.
fn printed(layout: &Layout) -> Vec<Vec<Point>> {
    let disc = |disc: &crate::print::layout::Fiducial| {
        let on = |k: u32| disc.centre + 0.5 * disc.diameter_mm * Vec2::from_angle(f64::from(k).to_radians());
        (0..360).step_by(10).map(on).collect()
    };
    let mut outlines: Vec<Vec<Point>> = layout.fiducials.iter().map(disc).collect();
    outlines.push(corners(layout.code_box));
    let frames = layout.shapes.iter().filter(|shape| shape.what == What::Frame);
    outlines.extend(frames.flat_map(|frame| frame.polygons.iter().cloned()));
    outlines
}

/// The paper and the magnets of a traced sheet; on each magnet a line from its middle to its N end.
fn traced(worksheet: &Worksheet, placed: &Placed) -> Vec<Vec<Point>> {
    let panels: Vec<Panel> = worksheet.panels.iter().map(|p| p.placed(placed)).collect();
    let mut outlines: Vec<Vec<Point>> = panels.iter().map(|p| corners(p.frame)).collect();
    for source in panels.iter().flat_map(|p| &p.sources) {
        let outline = source.outline();
        let ahead = outline.polygon.iter().map(|&p| source.local(p).x).fold(0.0, f64::max);
        outlines.push(vec![source.centre, source.place(ahead, 0.0)]);
        outlines.push(outline.polygon);
    }
    outlines
}

fn corners(r: Rect) -> Vec<Point> {
    [(r.x0, r.y0), (r.x1, r.y0), (r.x1, r.y1), (r.x0, r.y1)].map(|(x, y)| Point::new(x, y)).to_vec()
}

/// The pictures of a panel, as in [`PANEL_STEPS`].
fn panel(steps: &PanelSteps) -> [Canvas; 5] {
    let PanelSteps { flat, ink, drawing, bilevel } = steps;
    let contrast = illumination::contrast(flat, if *bilevel { 2 } else { 1 }).levels;
    let levels = |bitmap: &Bitmap, level: fn(u8) -> u8| {
        let rows = (0..bitmap.height).flat_map(|y| bitmap.row(y).iter().map(|&c| level(c)));
        Canvas::grey(bitmap.width, rows)
    };
    let pale = || {
        let rows = (0..ink.ink.height).flat_map(|y| ink.ink.row(y).iter().zip(ink.print.row(y)));
        Canvas::grey(
            ink.ink.width,
            rows.map(|(&ink, &print)| match (ink, print) {
                (0, 0) => 255,
                (0, _) => COVERED,
                _ => PALE,
            }),
        )
    };
    let px = |p: Point| {
        let (x, y) = ink.to_px(p);
        Point::new(x, y)
    };
    [
        levels(&contrast, |c| 255 - c),
        levels(&ink.ink, |c| if c == 0 { 255 } else { 0 }),
        levels(&ink.thin, |c| if c == 0 { 255 } else { 0 }),
        lines(pale(), drawing, px),
        marks(pale(), drawing, px),
    ]
}

/// Each line in a colour, with a dot at its ends; a grey ring round each stroke that was taken for nothing.
fn lines(mut canvas: Canvas, drawing: &Drawing, px: impl Fn(Point) -> Point) -> Canvas {
    for dropped in &drawing.dropped {
        canvas.ring(px(dropped.at), MARK_MM * PX_PER_MM, 2.0, DROPPED);
    }
    for (line, &colour) in drawing.lines.iter().zip(LINES.iter().cycle()) {
        let points: Vec<Point> = line.points.iter().map(|&p| px(p)).collect();
        let width = if line.there < THERE { 0.5 * PEN_PX } else { PEN_PX };
        canvas.line(&points, width, colour);
        for end in [points.first(), points.last()].into_iter().flatten() {
            canvas.dot(*end, 1.5 * PEN_PX, colour);
        }
    }
    canvas
}

/// A head drawn over each arrowhead; a ring round each crossing, a square round each touch.
fn marks(mut canvas: Canvas, drawing: &Drawing, px: impl Fn(Point) -> Point) -> Canvas {
    let side = MARK_MM * PX_PER_MM;
    for arrow in drawing.lines.iter().flat_map(|line| &line.arrows) {
        let colour = if arrow.sure < THERE { UNLIKELY } else { HEAD };
        let (tip, back) = (px(arrow.at), -side * arrow.towards);
        let aside = 0.45 * Vec2::new(-back.y, back.x);
        canvas.line(&[tip + back + aside, tip, tip + back - aside], PEN_PX, colour);
    }
    for meet in &drawing.meets {
        let at = px(meet.at);
        let colour = |likely| if meet.sure < THERE { UNLIKELY } else { likely };
        match meet.kind {
            MeetKind::Cross => canvas.ring(at, side, PEN_PX, colour(CROSS)),
            MeetKind::Touch => {
                let corner = |x: f64, y: f64| at + side * Vec2::new(x, y);
                let around = [corner(-1.0, -1.0), corner(1.0, -1.0), corner(1.0, 1.0), corner(-1.0, 1.0)];
                canvas.line(&[&around[..], &around[..1]].concat(), PEN_PX, colour(TOUCH));
            }
        }
    }
    canvas
}
