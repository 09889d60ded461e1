//! Draws the layers of a sheet: shades lowest, then grains, sources, lines, letters, needles, marks, numbers, frames.
//!
//! Tints and strokes differ in lightness too, so that a grey print tells them apart.

use super::palette::{hex, shade};
use super::strength::written;
use super::{Layers, scale, words};
use crate::geometry::{Point, Rect, Vec2};
use crate::print::layout::{FRAME_STROKE_MM, OUTLINE_STROKE_MM};
use crate::print::lettering::{Face, bounds};
use crate::print::picture::{INK, Mm, PAPER, Picture, escape, path, paths};
use crate::print::poles;
use crate::worksheet::{Kind, Panel, Source, Worksheet};

const LINE: &str = "#27566f";
const FRAME: &str = "#8b9297";
const NORTH: &str = "#d3a88c";
const SOUTH: &str = "#dfe6ea";
const NEUTRAL: &str = "#8c2f1b";

/// Blank round the frames, mm.
pub(super) const EDGE_MM: f64 = 8.0;
/// Room for the title above them, mm.
const HEAD_MM: f64 = 12.0;
/// Width of a field line, mm.
const LINE_MM: f64 = 0.5;
/// Width and cover of the paper-coloured band under a line where something lies beneath it.
const CASING_MM: f64 = 1.3;
const CASING_COVER: f64 = 0.75;
/// Width and dashes of a separatrix, mm.
const SEPARATRIX_MM: f64 = 0.45;
const SEPARATRIX_DASHES: &str = "2.4 1.4";
/// Width of the line between two shades, mm, and its cover.
const LEVEL_MM: f64 = 0.18;
const LEVEL_COVER: f64 = 0.6;
/// Shades from here on are dark: lines between them are drawn in the paper's colour.
const DARK_FROM: f64 = 0.6;
/// The em of a number on a line of equal strength and the paper-coloured rim round it, mm.
const NUMBER_EM_MM: f64 = 2.9;
const NUMBER_RIM_MM: f64 = 0.9;
/// Length and width of an arrowhead, mm.
const HEAD_LENGTH_MM: f64 = 3.4;
const HEAD_WIDTH_MM: f64 = 2.2;
/// A shorter line carries none, mm: there would be more head than line.
const HEAD_FROM_MM: f64 = 2.5 * HEAD_LENGTH_MM;
/// A line from this length on carries two arrowheads, mm.
const TWO_HEADS_FROM_MM: f64 = 110.0;
/// Radius of the mark of a neutral point, mm.
const NEUTRAL_MM: f64 = 1.7;

/// The picture of a sheet: its layers for each panel, in the worksheet's order.
pub fn picture(worksheet: &Worksheet, layers: &[Layers]) -> Picture {
    let frames = frames(worksheet);
    let foot = words::foot(worksheet, layers, frames);
    let view = Rect::new(
        frames.x0 - EDGE_MM,
        frames.y0 - EDGE_MM - HEAD_MM,
        frames.x1 + EDGE_MM,
        frames.y1 + foot.height_mm,
    );
    let mut picture = Picture::new(words::title(worksheet, layers), view);
    for (panel, layers) in worksheet.panels.iter().zip(layers) {
        draw_panel(&mut picture, panel, layers);
    }
    for (scale, top) in &foot.scales {
        scale::draw(&mut picture, scale, *top, frames);
    }
    picture.words.extend(words::heading(worksheet, frames));
    picture.words.extend(foot.words);
    picture
}

/// The box round all frames, mm.
fn frames(worksheet: &Worksheet) -> Rect {
    worksheet.panels.iter().map(|p| p.frame).reduce(|a, b| a.union(b)).unwrap_or_default()
}

/// The picture's upper left corner, mm: where its dots begin.
pub(super) fn origin(worksheet: &Worksheet) -> Point {
    frames(worksheet).origin() - Vec2::new(EDGE_MM, EDGE_MM + HEAD_MM)
}

fn draw_panel(picture: &mut Picture, panel: &Panel, layers: &Layers) {
    picture.put(format_args!("<g id=\"panel-{}\">", escape(&panel.id)));
    // Grains are a piece of their own, and a group cannot hold pieces.
    let apart = layers.filings.is_some();
    shades(picture, panel.frame, layers);
    if let Some(grains) = &layers.filings {
        picture.put(format_args!("</g>"));
        picture.grains(grains.clone());
    }
    let busy = apart || layers.strength.is_some();
    if apart {
        picture.put(format_args!("<g id=\"panel-{}-over\">", escape(&panel.id)));
    }
    // Under the sources, whose outlines it would cut.
    if busy {
        casing(picture, layers);
    }
    panel.sources.iter().for_each(|source| magnet(picture, source, busy));
    let beside = || panel.sources.iter().filter(|source| poles::stand_beside(source));
    let boxes = beside().flat_map(poles::letters).filter_map(|letter| bounds(&letter));
    lines(picture, layers, &boxes.collect::<Vec<_>>());
    beside().for_each(|source| letters(picture, source));
    needles(picture, layers);
    layers.answer.neutral.iter().for_each(|p| neutral(picture, *p));
    numbers(picture, layers);
    picture
        .rect(panel.frame, &format!("fill=\"none\" stroke=\"{FRAME}\" stroke-width=\"{FRAME_STROKE_MM}\""));
    picture.put(format_args!("</g>"));
}

/// The shades of strength, each region over the weaker one, with a thin line round it.
fn shades(picture: &mut Picture, frame: Rect, layers: &Layers) {
    let Some((regions, _)) = &layers.strength else { return };
    if regions.is_empty() {
        return;
    }
    picture.rect(frame, &format!("fill=\"{}\"", hex(shade(0.0))));
    for (k, region) in regions.iter().enumerate() {
        let t = (k + 1) as f64 / regions.len() as f64;
        let between = if t < DARK_FROM { INK } else { PAPER };
        picture.path(
            &paths(region.loops.iter().map(Vec::as_slice), true),
            &format!(
                "fill=\"{}\" fill-rule=\"evenodd\" stroke=\"{between}\" stroke-width=\"{LEVEL_MM}\" \
                 stroke-opacity=\"{LEVEL_COVER}\" stroke-linejoin=\"round\"",
                hex(shade(t))
            ),
        );
    }
}

/// The band of paper under lines that run over shades or grains.
fn casing(picture: &mut Picture, layers: &Layers) {
    let all = layers.answer.lines.iter().chain(&layers.separatrices);
    let casing = format!("stroke=\"{PAPER}\" stroke-opacity=\"{CASING_COVER}\" stroke-width=\"{CASING_MM}\"");
    picture.path(
        &paths(all.map(Vec::as_slice), false),
        &format!("fill=\"none\" {casing} stroke-linejoin=\"round\""),
    );
}

/// Field lines, their arrowheads and separatrices; no head where a letter will lie over it.
fn lines(picture: &mut Picture, layers: &Layers, letters: &[Rect]) {
    let field = paths(layers.answer.lines.iter().map(Vec::as_slice), false);
    let parting = paths(layers.separatrices.iter().map(Vec::as_slice), false);
    let mut all_heads: Vec<Head> = Vec::new();
    layers.answer.lines.iter().for_each(|line| add_heads(line, letters, &mut all_heads));
    let tips = paths(all_heads.iter().map(<[Point; 3]>::as_slice), true);
    let round = "stroke-linejoin=\"round\"";
    picture.path(
        &parting,
        &format!(
            "fill=\"none\" stroke=\"{NEUTRAL}\" stroke-width=\"{SEPARATRIX_MM}\" stroke-dasharray=\"{SEPARATRIX_DASHES}\" {round}"
        ),
    );
    picture.path(&field, &format!("fill=\"none\" stroke=\"{LINE}\" stroke-width=\"{LINE_MM}\" {round}"));
    picture.path(&tips, &format!("fill=\"{LINE}\""));
}

fn needles(picture: &mut Picture, layers: &Layers) {
    for needle in &layers.needles {
        picture.put(format_args!(
            "<circle cx=\"{}\" cy=\"{}\" r=\"{}\" fill=\"{PAPER}\" stroke=\"{FRAME}\" stroke-width=\"0.25\"/>",
            Mm(needle.at.x),
            Mm(needle.at.y),
            Mm(super::needles::CASE_MM),
        ));
        let look =
            |fill| format!("fill=\"{fill}\" stroke=\"{INK}\" stroke-width=\"0.2\" stroke-linejoin=\"round\"");
        picture.path(&path(&needle.half(false), true), &look(PAPER));
        picture.path(&path(&needle.half(true), true), &look(INK));
    }
}

fn neutral(picture: &mut Picture, p: Point) {
    let arm = NEUTRAL_MM * 0.55;
    let cross = [Vec2::new(arm, arm), Vec2::new(arm, -arm)].map(|v| path(&[p - v, p + v], false)).concat();
    picture.put(format_args!(
        "<circle cx=\"{}\" cy=\"{}\" r=\"{NEUTRAL_MM}\" fill=\"{PAPER}\" stroke=\"{NEUTRAL}\" stroke-width=\"0.4\"/>",
        Mm(p.x),
        Mm(p.y)
    ));
    picture.path(&cross, &format!("stroke=\"{NEUTRAL}\" stroke-width=\"0.4\""));
}

/// The numbers on lines of equal strength, along them, with a rim of paper.
fn numbers(picture: &mut Picture, layers: &Layers) {
    let labels = layers.strength.iter().flat_map(|(_, labels)| labels);
    for label in labels {
        let mut polygons = Face::Bold.polygons(&written(label.level), NUMBER_EM_MM, Point::ZERO);
        let Some(middle) = bounds(&polygons).map(|b| b.center()) else { continue };
        let across = Vec2::new(-label.way.y, label.way.x);
        for point in polygons.iter_mut().flatten() {
            let off = *point - middle;
            *point = label.at + off.x * label.way + off.y * across;
        }
        let data = paths(polygons.iter().map(Vec::as_slice), true);
        let rim = format!(
            "fill=\"{PAPER}\" stroke=\"{PAPER}\" stroke-width=\"{NUMBER_RIM_MM}\" stroke-linejoin=\"round\""
        );
        picture.path(&data, &rim);
        picture.path(&data, &format!("fill=\"{INK}\""));
    }
}

/// A source: its halves tinted, its outline, its letters; over shades or grains with a rim of paper.
fn magnet(picture: &mut Picture, source: &Source, busy: bool) {
    let outline = source.outline().polygon;
    if let Some(side) = north_side(source) {
        for (tint, sign) in [(NORTH, 1.0), (SOUTH, -1.0)] {
            picture.path(&path(&cut(&outline, |p| sign * side(p)), true), &format!("fill=\"{tint}\""));
        }
    } else {
        let tint = match source.kind {
            Kind::DiscThrough { up: true, .. } => Some(NORTH),
            Kind::DiscThrough { up: false, .. } => Some(SOUTH),
            // Field lines run through it.
            Kind::Coil { .. } => None,
            _ => Some(PAPER),
        };
        if let Some(tint) = tint {
            picture.path(&path(&outline, true), &format!("fill=\"{tint}\""));
        }
    }
    let outline = path(&outline, true);
    let beside = poles::stand_beside(source);
    if busy && beside {
        picture.path(&outline, &format!("fill=\"none\" {}", rim()));
    }
    picture.path(&outline, &format!("fill=\"none\" stroke=\"{INK}\" stroke-width=\"{OUTLINE_STROKE_MM}\""));
    if !beside {
        letters(picture, source);
    }
}

/// The letters of a source; those that stand beside it, where lines run, with a rim of paper.
fn letters(picture: &mut Picture, source: &Source) {
    let letters = poles::letters(source);
    let letters = paths(letters.iter().flatten().map(Vec::as_slice), true);
    if poles::stand_beside(source) {
        picture.path(&letters, &format!("fill=\"{PAPER}\" {}", rim()));
    }
    picture.path(&letters, &format!("fill=\"{INK}\""));
}

fn rim() -> String {
    format!("stroke=\"{PAPER}\" stroke-width=\"{CASING_MM}\" stroke-linejoin=\"round\"")
}

/// How far a place lies on the north side of a source, mm; none where it has no halves.
fn north_side(source: &Source) -> Option<impl Fn(Point) -> f64 + '_> {
    if matches!(
        source.kind,
        Kind::DiscThrough { .. }
            | Kind::Wire { .. }
            | Kind::Coil { .. }
            | Kind::Charge { .. }
            | Kind::Plate { .. }
    ) {
        return None;
    }
    Some(move |p| {
        let local = source.local(p);
        match source.kind {
            Kind::Horseshoe { north_left: true, .. } => local.y,
            Kind::Horseshoe { .. } => -local.y,
            _ => local.x,
        }
    })
}

/// The part of a polygon on the positive side of a line (I. Sutherland and G. Hodgman, Commun. ACM 17 (1974) 32).
fn cut(polygon: &[Point], side: impl Fn(Point) -> f64) -> Vec<Point> {
    let mut kept = Vec::new();
    for (a, b) in polygon.iter().zip(polygon.iter().cycle().skip(1)) {
        let (at_a, at_b) = (side(*a), side(*b));
        if at_a >= 0.0 {
            kept.push(*a);
        }
        if (at_a > 0.0 && at_b < 0.0) || (at_a < 0.0 && at_b > 0.0) {
            kept.push(a.lerp(*b, at_a / (at_a - at_b)));
        }
    }
    kept
}

/// An arrowhead: its tip, and its back's two corners.
type Head = [Point; 3];

/// Adds the arrowheads of a line, one at its middle, two on a long one, each moved along it where another lies there, or a
/// letter: the innermost rings round a wire are nearer to one another than a head is wide.
fn add_heads(line: &[Point], letters: &[Rect], there: &mut Vec<Head>) {
    /// How far a head may move, in shares of the line, tried in order.
    const MOVES: [f64; 9] = [0.0, -0.07, 0.07, -0.14, 0.14, -0.2, 0.2, -0.35, 0.35];
    let length: f64 = line.windows(2).map(|w| w[0].distance(w[1])).sum();
    let shares: &[f64] = if length >= TWO_HEADS_FROM_MM { &[0.27, 0.73] } else { &[0.5] };
    if length < HEAD_FROM_MM {
        return;
    }
    let head = |share: f64| {
        let tip = along(line, share * length + HEAD_LENGTH_MM / 2.0);
        let back = along(line, share * length - HEAD_LENGTH_MM / 2.0);
        let step = tip - back;
        let across = Vec2::new(-step.y, step.x) / step.hypot().max(1e-9) * (HEAD_WIDTH_MM / 2.0);
        [tip, back + across, back - across]
    };
    for share in shares {
        // On a long line the two heads keep to their halves.
        let farthest = if shares.len() > 1 { 0.2 } else { 0.35 };
        let tried = MOVES.iter().filter(|step| step.abs() <= farthest).map(|step| head(share + step));
        let clear = |head: &Head| {
            letters.iter().all(|r| head.iter().all(|corner| !r.inset(HEAD_LENGTH_MM / 2.0).contains(*corner)))
        };
        let free =
            tried.into_iter().find(|head| clear(head) && there.iter().all(|other| !is_over(head, other)));
        there.push(free.unwrap_or_else(|| head(*share)));
    }
}

/// Whether one head lies on another, or so near that they look one.
fn is_over(head: &Head, other: &Head) -> bool {
    let middle = |h: &Head| h[0].midpoint(h[1].midpoint(h[2]));
    let way = head[0] - head[1].midpoint(head[2]);
    let way = way / way.hypot().max(1e-9);
    let apart = middle(other) - middle(head);
    apart.dot(way).abs() < HEAD_LENGTH_MM && apart.cross(way).abs() < HEAD_WIDTH_MM
}

/// The place `way` mm along a line.
fn along(line: &[Point], mut way: f64) -> Point {
    for w in line.windows(2) {
        let step = w[0].distance(w[1]);
        if way <= step && step > 0.0 {
            return w[0].lerp(w[1], way / step);
        }
        way -= step;
    }
    line.last().copied().unwrap_or_default()
}

#[cfg(test)]
mod tests;
