//! Letters: the two faces of the embedded font, how wide a text is, where it breaks, and a letter's outline.
//!
//! Widths are sums of advances without kerning, so that a kerned line is never wider than was measured.

use kurbo::{BezPath, PathEl};
use skrifa::instance::{LocationRef, Size};
use skrifa::outline::{DrawSettings, OutlinePen};
use skrifa::{FontRef, MetadataProvider};

use crate::geometry::{Point, Rect};

static REGULAR: &[u8] = include_bytes!("fonts/Lato-Regular.ttf");
static BOLD: &[u8] = include_bytes!("fonts/Lato-Bold.ttf");

/// How far a letter's polygon may lie off its curve, mm: far below a dot of a 1200 dpi printer.
const FLATTEN_MM: f64 = 0.005;

/// How near the width of even lines is sought to the narrowest, mm: less than a letter.
const EVEN_MM: f64 = 0.5;

/// A face of the font (Lato 2.007, SIL Open Font License).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Face {
    Regular,
    Bold,
}

impl Face {
    /// The font file.
    pub fn bytes(self) -> &'static [u8] {
        match self {
            Face::Regular => REGULAR,
            Face::Bold => BOLD,
        }
    }

    fn font(self) -> FontRef<'static> {
        FontRef::new(self.bytes()).expect("the font in the program is sound")
    }

    /// The em at which flat capitals stand `cap_mm` high, measured on the H.
    pub fn em_for_cap(self, cap_mm: f64) -> f64 {
        let capital = bounds(&self.polygons("H", 1.0, Point::ZERO));
        cap_mm / capital.expect("the font in the program has an H").height()
    }

    /// Whether every sign of the text is in the font.
    pub fn covers(self, text: &str) -> bool {
        let map = self.font().charmap();
        text.chars().all(|c| map.map(c).is_some())
    }

    /// Width of a text without kerning, mm, at an em of `em_mm`.
    pub fn width_mm(self, text: &str, em_mm: f64) -> f64 {
        let font = self.font();
        let (map, widths) = (font.charmap(), font.glyph_metrics(Size::new(1.0), LocationRef::default()));
        let advance = |c| map.map(c).and_then(|g| widths.advance_width(g)).unwrap_or(0.5);
        text.chars().map(|c| f64::from(advance(c))).sum::<f64>() * em_mm
    }

    /// The text in lines no wider than `width_mm`, broken at spaces; a longer word is broken where it must be.
    pub fn wrap(self, text: &str, em_mm: f64, width_mm: f64) -> Vec<String> {
        let mut lines: Vec<String> = Vec::new();
        let mut line = String::new();
        for word in text.split_whitespace() {
            let longer = if line.is_empty() { word.to_owned() } else { format!("{line} {word}") };
            if self.width_mm(&longer, em_mm) <= width_mm {
                line = longer;
                continue;
            }
            if !line.is_empty() {
                lines.push(std::mem::take(&mut line));
            }
            for c in word.chars() {
                if !line.is_empty() && self.width_mm(&format!("{line}{c}"), em_mm) > width_mm {
                    lines.push(std::mem::take(&mut line));
                }
                line.push(c);
            }
        }
        if !line.is_empty() {
            lines.push(line);
        }
        lines
    }

    /// As [`Face::wrap`], in as few lines, but of about one length: no lone word in the last.
    pub fn wrap_evenly(self, text: &str, em_mm: f64, width_mm: f64) -> Vec<String> {
        let most = self.wrap(text, em_mm, width_mm).len();
        let (mut narrow, mut wide) = (0.0, width_mm);
        while wide - narrow > EVEN_MM {
            let middle = (narrow + wide) / 2.0;
            if self.wrap(text, em_mm, middle).len() > most { narrow = middle } else { wide = middle }
        }
        self.wrap(text, em_mm, wide)
    }

    /// The text, cut with an ellipsis where it is wider than `width_mm`.
    pub fn fit(self, text: &str, em_mm: f64, width_mm: f64) -> String {
        if self.width_mm(text, em_mm) <= width_mm {
            return text.to_owned();
        }
        let mut cut: String = text.to_owned();
        while cut.pop().is_some() && self.width_mm(&format!("{}…", cut.trim_end()), em_mm) > width_mm {}
        format!("{}…", cut.trim_end())
    }

    /// The outlines of a text set without kerning from `at` (left end of its baseline): closed polygons, to be
    /// filled by the non-zero rule.
    pub fn polygons(self, text: &str, em_mm: f64, at: Point) -> Vec<Vec<Point>> {
        let font = self.font();
        let (map, outlines) = (font.charmap(), font.outline_glyphs());
        let (mut x, mut polygons) = (at.x, Vec::new());
        for c in text.chars() {
            let mut pen = Pen { path: BezPath::new(), origin: Point::new(x, at.y), em_mm };
            if let Some(glyph) = map.map(c).and_then(|g| outlines.get(g)) {
                let settings = DrawSettings::unhinted(Size::new(1.0), LocationRef::default());
                glyph.draw(settings, &mut pen).expect("the font in the program is sound");
            }
            polygons.extend(flatten(&pen.path));
            x += self.width_mm(c.encode_utf8(&mut [0; 4]), em_mm);
        }
        polygons
    }
}

/// The closed polygons of a path.
fn flatten(path: &BezPath) -> Vec<Vec<Point>> {
    let mut polygons: Vec<Vec<Point>> = Vec::new();
    kurbo::flatten(path, FLATTEN_MM, |el| match el {
        PathEl::MoveTo(p) => polygons.push(vec![p]),
        PathEl::LineTo(p) => {
            if let Some(last) = polygons.last_mut() {
                last.push(p);
            }
        }
        _ => {}
    });
    for polygon in &mut polygons {
        if polygon.len() > 1 && polygon.first() == polygon.last() {
            polygon.pop();
        }
    }
    polygons.retain(|p| p.len() > 2);
    polygons
}

/// The box round polygons, or none where there is no point.
pub fn bounds(polygons: &[Vec<Point>]) -> Option<Rect> {
    let mut points = polygons.iter().flatten();
    let first = *points.next()?;
    Some(points.fold(Rect::from_points(first, first), |r, p| r.union_pt(*p)))
}

/// Takes a glyph's outline (y up, em = 1) to the page (y down, mm).
struct Pen {
    path: BezPath,
    origin: Point,
    em_mm: f64,
}

impl Pen {
    fn at(&self, x: f32, y: f32) -> Point {
        Point::new(self.origin.x + f64::from(x) * self.em_mm, self.origin.y - f64::from(y) * self.em_mm)
    }
}

impl OutlinePen for Pen {
    fn move_to(&mut self, x: f32, y: f32) {
        self.path.move_to(self.at(x, y));
    }
    fn line_to(&mut self, x: f32, y: f32) {
        self.path.line_to(self.at(x, y));
    }
    fn quad_to(&mut self, cx: f32, cy: f32, x: f32, y: f32) {
        self.path.quad_to(self.at(cx, cy), self.at(x, y));
    }
    fn curve_to(&mut self, ax: f32, ay: f32, bx: f32, by: f32, x: f32, y: f32) {
        self.path.curve_to(self.at(ax, ay), self.at(bx, by), self.at(x, y));
    }
    fn close(&mut self) {
        self.path.close_path();
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_capital_stands_as_high_as_asked() {
        let em = Face::Bold.em_for_cap(5.0);
        let tall = bounds(&Face::Bold.polygons("N", em, Point::new(10.0, 20.0))).unwrap();
        assert!((tall.height() - 5.0).abs() < 0.02, "{tall:?}");
        assert!((tall.y1 - 20.0).abs() < 0.02 && tall.x0 > 10.0);
    }

    #[test]
    fn lines_hold_all_words_and_keep_to_the_width() {
        let text =
            "Draw at least eight field lines. Put an arrow on each. Donaudampfschifffahrtsgesellschaft";
        let lines = Face::Regular.wrap(text, 4.0, 40.0);
        assert!(lines.iter().all(|l| Face::Regular.width_mm(l, 4.0) <= 40.0));
        assert_eq!(lines.join("").replace(' ', ""), text.replace(' ', ""));
    }

    #[test]
    fn even_lines_are_as_few_and_leave_no_word_alone() {
        let text =
            "Draw the magnetic field of these three magnets with ten or more field lines. Show each arrow.";
        let width = Face::Regular.width_mm(text, 4.0) - 1.0;
        assert_eq!(Face::Regular.wrap(text, 4.0, width)[1], "arrow.");
        let even = Face::Regular.wrap_evenly(text, 4.0, width);
        let widths: Vec<f64> = even.iter().map(|l| Face::Regular.width_mm(l, 4.0)).collect();
        assert!(even.len() == 2 && (widths[0] - widths[1]).abs() < 20.0, "{even:?}");
        assert_eq!(even.join(" "), text);
    }

    #[test]
    fn a_long_name_is_cut_and_says_so() {
        let cut = Face::Regular.fit("Maximiliane Alexandra von und zu Hohenstein", 4.0, 30.0);
        assert!(cut.ends_with('…') && Face::Regular.width_mm(&cut, 4.0) <= 30.0);
        assert_eq!(Face::Regular.fit("Ada", 4.0, 30.0), "Ada");
    }

    #[test]
    fn names_of_many_countries_are_covered() {
        for name in ["Zoë Müller", "Łukasz Dziędzic", "Αθηνά", "Владимир", "Nguyễn Thị"]
        {
            assert!(Face::Regular.covers(name), "{name}");
        }
        assert!(!Face::Regular.covers("李"));
    }
}
