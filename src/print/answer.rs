//! The answer picture: the computed field lines of a worksheet to scale, as SVG and as PNG ([`super::answer_pdf`] makes
//! the PDF of it).
//!
//! Millimetres are the picture's units, so that a print of the SVG lies true on the sheet. Letters are outlines:
//! the picture needs no font. Tints and strokes differ in lightness too, so that a grey print tells them apart.

use std::fmt::Write as _;

use resvg::{tiny_skia, usvg};

use super::layout::{FRAME_STROKE_MM, OUTLINE_STROKE_MM, TextLine};
use super::lettering::Face;
use super::poles;
use super::sheet::PrintError;
use crate::geometry::{Point, Rect, Vec2};
use crate::worksheet::{Kind, Panel, Source, Worksheet};

/// The computed field of one panel.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Answer {
    /// Field lines, mm on the page, each the way that the field points.
    pub lines: Vec<Vec<Point>>,
    /// Places where the field in the paper's plane is zero.
    pub neutral: Vec<Point>,
}

const PAPER: &str = "#ffffff";
const INK: &str = "#1b2a33";
const LINE: &str = "#27566f";
const FRAME: &str = "#8b9297";
const NORTH: &str = "#d3a88c";
const SOUTH: &str = "#dfe6ea";
const NEUTRAL: &str = "#8c2f1b";

/// Blank round the frames, mm; title above and words below them.
const EDGE_MM: f64 = 8.0;
const HEAD_MM: f64 = 12.0;
const FOOT_MM: f64 = 8.0;
const TITLE_EM_MM: f64 = 6.0;
const WORDS_EM_MM: f64 = 3.4;
/// Width of a field line, mm.
const LINE_MM: f64 = 0.5;
/// Length and width of an arrowhead, mm.
const HEAD_LENGTH_MM: f64 = 3.4;
const HEAD_WIDTH_MM: f64 = 2.2;
/// A line from this length on carries two arrowheads, mm.
const TWO_HEADS_FROM_MM: f64 = 110.0;
/// Radius of the mark of a neutral point, mm.
const NEUTRAL_MM: f64 = 1.7;
/// Most pixels of a PNG: a page of A3 at 600 dpi.
const MAX_PIXELS: f64 = 70e6;

const PLAIN_WORDS: &str = "Computed field lines, to scale.";
/// What the arrows say, by what makes the field: magnets, coils, wires, charges.
const MAGNET_ARROWS: &str = "Arrows: from N to S outside a magnet.";
const GLOBE_ARROWS: &str = "Arrows: as a compass points, towards geographic north.";
const COIL_ARROWS: &str = "Arrows: out of a coil’s N end, through it from S to N.";
const WIRE_ARROWS: &str = "Arrows: round a wire by the right hand, thumb along the current.";
const CHARGE_ARROWS: &str = "Arrows: from plus to minus.";
const NEUTRAL_WORDS: &str = "Ringed cross: neutral point, no field in the paper’s plane.";

/// The picture as SVG: a panel's answer for each panel, in the worksheet's order.
pub fn svg(worksheet: &Worksheet, answers: &[Answer]) -> String {
    drawn(worksheet, answers, &words(worksheet, answers))
}

/// The title and the words below, mm on the page.
pub(super) fn words(worksheet: &Worksheet, answers: &[Answer]) -> Vec<TextLine> {
    let frames = frames(worksheet);
    let width = frames.width();
    let line = |text, face, em_mm, y| TextLine { at: Point::new(frames.x0, y), face, em_mm, grey: 1.0, text };
    let title = Face::Bold.fit(&worksheet.title, TITLE_EM_MM, width);
    let mut lines = vec![line(title, Face::Bold, TITLE_EM_MM, frames.y0 - EDGE_MM)];
    let neutral = answers.iter().any(|a| !a.neutral.is_empty());
    let mut below = vec![PLAIN_WORDS];
    below.extend(arrow_words(worksheet));
    below.extend(neutral.then_some(NEUTRAL_WORDS));
    let below = below.join(" ");
    for (i, text) in Face::Regular.wrap(&below, WORDS_EM_MM, width).into_iter().enumerate() {
        let y = frames.y1 + EDGE_MM + i as f64 * 1.3 * WORDS_EM_MM;
        lines.push(line(text, Face::Regular, WORDS_EM_MM, y));
    }
    lines
}

/// What the arrows say, of the kinds of source that there are.
fn arrow_words(worksheet: &Worksheet) -> Vec<&'static str> {
    let kinds = || worksheet.panels.iter().flat_map(|p| &p.sources).map(|s| &s.kind);
    // On a globe the geographic poles are printed: N and S would mislead.
    let globe = |k: &Kind| matches!(k, Kind::Globe { .. });
    [
        (kinds().any(|k| k.is_magnet() && !globe(k)), MAGNET_ARROWS),
        (kinds().any(globe), GLOBE_ARROWS),
        (kinds().any(|k| matches!(k, Kind::Coil { .. })), COIL_ARROWS),
        (kinds().any(|k| matches!(k, Kind::Wire { .. })), WIRE_ARROWS),
        (kinds().any(Kind::is_electric), CHARGE_ARROWS),
    ]
    .into_iter()
    .filter_map(|(there, words)| there.then_some(words))
    .collect()
}

fn frames(worksheet: &Worksheet) -> Rect {
    worksheet.panels.iter().map(|p| p.frame).reduce(|a, b| a.union(b)).unwrap_or_default()
}

/// What of the page the picture shows, mm.
pub(super) fn view(worksheet: &Worksheet) -> Rect {
    let frames = frames(worksheet);
    Rect::new(
        frames.x0 - EDGE_MM,
        frames.y0 - EDGE_MM - HEAD_MM,
        frames.x1 + EDGE_MM,
        frames.y1 + EDGE_MM + FOOT_MM,
    )
}

/// The picture as SVG, with these words as outlines.
pub(super) fn drawn(worksheet: &Worksheet, answers: &[Answer], words: &[TextLine]) -> String {
    let view = view(worksheet);
    let title = escape(&worksheet.title);
    let mut picture = Picture(String::new());
    picture.put(format_args!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" role=\"img\" width=\"{w}mm\" height=\"{h}mm\" viewBox=\"{x} {y} {w} {h}\">\n\
         <title>{title}: computed field lines</title>\n\
         <rect x=\"{x}\" y=\"{y}\" width=\"{w}\" height=\"{h}\" fill=\"{PAPER}\"/>",
        x = Mm(view.x0),
        y = Mm(view.y0),
        w = Mm(view.width()),
        h = Mm(view.height()),
    ));
    for (panel, answer) in worksheet.panels.iter().zip(answers) {
        picture.panel(panel, answer);
    }
    words.iter().for_each(|line| picture.words(line));
    picture.put(format_args!("</svg>"));
    picture.0
}

/// An SVG as PNG at `dpi` dots an inch.
///
/// # Errors
/// [`PrintError::Png`]: no SVG, or too many pixels at this resolution.
pub fn png(svg: &str, dpi: f64) -> Result<Vec<u8>, PrintError> {
    let failed = |what: &str| PrintError::Png(what.to_owned());
    let tree =
        usvg::Tree::from_str(svg, &usvg::Options::default()).map_err(|e| PrintError::Png(e.to_string()))?;
    // usvg counts 96 units an inch.
    let scale = dpi / 96.0;
    let size = |side: f32| (f64::from(side) * scale).round().max(1.0);
    let (width, height) = (size(tree.size().width()), size(tree.size().height()));
    if !dpi.is_finite() || width * height > MAX_PIXELS {
        return Err(failed("the picture has too many pixels; ask for fewer dots an inch"));
    }
    let mut pixmap = tiny_skia::Pixmap::new(width as u32, height as u32)
        .ok_or_else(|| failed("the picture has no size"))?;
    let transform = tiny_skia::Transform::from_scale(scale as f32, scale as f32);
    resvg::render(&tree, transform, &mut pixmap.as_mut());
    pixmap.encode_png().map_err(|e| PrintError::Png(e.to_string()))
}

/// A length with at most a hundredth of a millimetre.
struct Mm(f64);

impl std::fmt::Display for Mm {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        // Adding 0 turns -0 into 0.
        write!(f, "{}", (self.0 * 100.0).round() / 100.0 + 0.0)
    }
}

/// The SVG text as it grows.
struct Picture(String);

impl Picture {
    fn put(&mut self, element: std::fmt::Arguments<'_>) {
        writeln!(self.0, "{element}").expect("writing to a string never fails");
    }

    fn panel(&mut self, panel: &Panel, answer: &Answer) {
        let f = panel.frame;
        self.put(format_args!("<g id=\"panel-{}\">", escape(&panel.id)));
        for source in &panel.sources {
            self.magnet(source);
        }
        let lines: String = answer.lines.iter().map(|line| path(line, false)).collect();
        self.put(format_args!(
            "<path d=\"{lines}\" fill=\"none\" stroke=\"{LINE}\" stroke-width=\"{LINE_MM}\" stroke-linejoin=\"round\"/>"
        ));
        let heads: String =
            answer.lines.iter().flat_map(|line| heads(line)).map(|head| path(&head, true)).collect();
        self.put(format_args!("<path d=\"{heads}\" fill=\"{LINE}\"/>"));
        for p in &answer.neutral {
            let (x, y, arm) = (p.x, p.y, NEUTRAL_MM * 0.55);
            let cross =
                [Vec2::new(arm, arm), Vec2::new(arm, -arm)].map(|v| path(&[*p - v, *p + v], false)).concat();
            self.put(format_args!(
                "<circle cx=\"{}\" cy=\"{}\" r=\"{NEUTRAL_MM}\" fill=\"{PAPER}\" stroke=\"{NEUTRAL}\" stroke-width=\"0.4\"/>\
                 <path d=\"{cross}\" stroke=\"{NEUTRAL}\" stroke-width=\"0.4\"/>",
                Mm(x),
                Mm(y)
            ));
        }
        self.put(format_args!(
            "<rect x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\" fill=\"none\" stroke=\"{FRAME}\" stroke-width=\"{FRAME_STROKE_MM}\"/>\n</g>",
            Mm(f.x0),
            Mm(f.y0),
            Mm(f.width()),
            Mm(f.height())
        ));
    }

    /// A magnet: its halves tinted, its outline, its letters.
    fn magnet(&mut self, source: &Source) {
        let outline = source.outline().polygon;
        if let Some(side) = north_side(source) {
            for (tint, sign) in [(NORTH, 1.0), (SOUTH, -1.0)] {
                let half = path(&cut(&outline, |p| sign * side(p)), true);
                self.put(format_args!("<path d=\"{half}\" fill=\"{tint}\"/>"));
            }
        } else if let Kind::DiscThrough { up, .. } = source.kind {
            let tint = if up { NORTH } else { SOUTH };
            self.put(format_args!("<path d=\"{}\" fill=\"{tint}\"/>", path(&outline, true)));
        }
        self.put(format_args!(
            "<path d=\"{}\" fill=\"none\" stroke=\"{INK}\" stroke-width=\"{OUTLINE_STROKE_MM}\"/>",
            path(&outline, true)
        ));
        let letters: String =
            poles::letters(source).iter().flatten().map(|polygon| path(polygon, true)).collect();
        self.put(format_args!("<path d=\"{letters}\" fill=\"{INK}\"/>"));
    }

    fn words(&mut self, line: &TextLine) {
        let polygons = line.face.polygons(&line.text, line.em_mm, line.at);
        let outlines: String = polygons.iter().map(|polygon| path(polygon, true)).collect();
        self.put(format_args!("<path d=\"{outlines}\" fill=\"{INK}\"/>"));
    }
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

/// The arrowheads of a line: one at its middle, two on a long one.
fn heads(line: &[Point]) -> Vec<[Point; 3]> {
    let length: f64 = line.windows(2).map(|w| w[0].distance(w[1])).sum();
    let shares: &[f64] = if length >= TWO_HEADS_FROM_MM { &[0.27, 0.73] } else { &[0.5] };
    if length < 2.0 * HEAD_LENGTH_MM {
        return Vec::new();
    }
    let head = |share: &f64| {
        let tip = along(line, share * length + HEAD_LENGTH_MM / 2.0);
        let back = along(line, share * length - HEAD_LENGTH_MM / 2.0);
        let step = tip - back;
        let across = Vec2::new(-step.y, step.x) / step.hypot().max(1e-9) * (HEAD_WIDTH_MM / 2.0);
        [tip, back + across, back - across]
    };
    shares.iter().map(head).collect()
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

/// Points as the data of an SVG path.
fn path(points: &[Point], closed: bool) -> String {
    let mut data = String::new();
    for (i, p) in points.iter().enumerate() {
        let letter = if i == 0 { 'M' } else { 'L' };
        write!(data, "{letter}{} {}", Mm(p.x), Mm(p.y)).expect("writing to a string never fails");
    }
    if closed {
        data.push('Z');
    }
    data
}

fn escape(text: &str) -> String {
    text.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;").replace('"', "&quot;")
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::path::Path;

    fn bar() -> Worksheet {
        let text = "worksheet: 1\nid: bar\ntitle: Bars & <poles>\npaper: a4\norientation: landscape\npanels:\n  \
            - { id: A, prompt: Draw., frame_mm: [20, 45, 257, 140], sources: [{ kind: bar, id: magnet, \
            centre_mm: [148.5, 115], size_mm: [50, 15, 10], north_deg: 0, remanence_mt: 400 }] }\n";
        Worksheet::parse(Path::new("worksheet.yaml"), text).unwrap()
    }

    fn level(y: f64) -> Vec<Point> {
        (0..=50).map(|i| Point::new(60.0 + f64::from(i), y)).collect()
    }

    #[test]
    fn the_picture_is_to_scale_and_sound() {
        let answer = Answer { lines: vec![level(80.0)], neutral: vec![Point::new(30.0, 60.0)] };
        let svg = svg(&bar(), &[answer]);
        assert!(svg.contains("width=\"273mm\"") && svg.contains("Bars &amp; &lt;poles&gt;"));
        let tree = usvg::Tree::from_str(&svg, &usvg::Options::default()).unwrap();
        assert!((f64::from(tree.size().width()) - 273.0 / 25.4 * 96.0).abs() < 0.01);
        let png = png(&svg, 100.0).unwrap();
        let picture = image::load_from_memory(&png).unwrap().to_rgb8();
        assert_eq!(picture.width(), (273.0f64 / 25.4 * 100.0).round() as u32);
        // The line's colour at its middle row, left of the arrowhead: page (70, 80) less the picture's corner (12, 25).
        let at = |mm: f64| (mm * 100.0 / 25.4) as u32;
        assert!(picture.get_pixel(at(70.0 - 12.0), at(80.0 - 25.0))[0] < 0x80);
        assert_eq!(picture.get_pixel(at(70.0 - 12.0), at(90.0 - 25.0))[0], 0xff);
    }

    #[test]
    fn arrowheads_point_along_the_line() {
        let [[tip, left, right]] = heads(&level(80.0)).try_into().unwrap();
        assert!(tip.x > left.x && (left.y + right.y) / 2.0 == tip.y && (tip.x + left.x) / 2.0 == 85.0);
        assert!(heads(&level(80.0)[..3]).is_empty());
    }

    #[test]
    fn a_bars_north_half_is_half_of_it() {
        let worksheet = bar();
        let source = &worksheet.panels[0].sources[0];
        let half = cut(&source.outline().polygon, north_side(source).unwrap());
        assert_eq!(half.len(), 4);
        assert!(half.iter().all(|p| p.x >= 148.5 - 1e-9));
    }

    #[test]
    fn too_many_dots_are_refused() {
        assert!(matches!(png(&svg(&bar(), &[Answer::default()]), 5000.0), Err(PrintError::Png(_))));
        assert!(matches!(png(&svg(&bar(), &[Answer::default()]), f64::NAN), Err(PrintError::Png(_))));
    }
}
