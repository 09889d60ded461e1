//! A maker of traced pages: magnets drawn round by a shaking hand on blank, ruled and graph paper, with letters and field lines.
//! It shares no code with what finds them but the outlines and field lines of the worksheet's own sources.

use lodemark::geometry::homography::Homography;
use lodemark::geometry::{Point, Vec2, polyline};
use lodemark::scan::GreyImage;
use lodemark::worksheet::answer::field_lines;
use lodemark::worksheet::{Panel, Source, Worksheet};
use std::f64::consts::TAU;

use crate::makers::Dice;

/// 200 dpi.
pub const PX_PER_MM: f64 = 200.0 / 25.4;
/// A4, upright.
const PAGE_MM: (f64, f64) = (210.0, 297.0);

pub const BAR: &str = "worksheet: 1\nid: traced-bar\ntitle: A bar magnet\npaper: a4\norientation: portrait\n\
    placement: traced\npanels:\n  - id: A\n    prompt: Draw the field.\n    sources:\n      \
    - { kind: bar, id: magnet, centre_mm: [105, 148], size_mm: [50, 15, 10], north_deg: 0, remanence_mt: 400 }\n";

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Paper {
    Blank,
    /// Every 8 mm, with a margin.
    Ruled,
    /// Every 5 mm.
    Graph,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Letters {
    Right,
    Missing,
    Mirrored,
    /// An N at either end.
    Twice,
}

/// A page in the making.
pub struct Page {
    pub image: GreyImage,
    pub dice: Dice,
}

impl Page {
    pub fn new(paper: Paper, seed: u64) -> Self {
        let size = |mm: f64| (mm * PX_PER_MM).round() as usize;
        let (width, height) = (size(PAGE_MM.0), size(PAGE_MM.1));
        let grain = |i: usize| (i as u32).wrapping_mul(2_654_435_761).rotate_left(9) as u8 % 9;
        let pixels = (0..width * height).map(|i| 240 + grain(i)).collect();
        let mut page = Self { image: GreyImage { width, height, pixels }, dice: Dice(seed) };
        page.rule(paper);
        page
    }

    /// Rules a picture of 200 dpi.
    pub fn on(image: GreyImage, paper: Paper, seed: u64) -> GreyImage {
        let mut page = Self { image, dice: Dice(seed) };
        page.rule(paper);
        page.image
    }

    fn rule(&mut self, paper: Paper) {
        let wide = self.image.width as f64 / PX_PER_MM;
        let high = self.image.height as f64 / PX_PER_MM;
        let step = match paper {
            Paper::Blank => return,
            Paper::Ruled => 8.0,
            Paper::Graph => 5.0,
        };
        // Printed, or fed, a little askew.
        let slope = self.dice.within(-0.01, 0.01);
        let first = self.dice.within(1.0, step);
        let count = |size: f64| (size / step) as usize + 2;
        for k in 0..count(high) {
            let y = first + step * k as f64;
            self.stroke(&[Point::new(-1.0, y), Point::new(wide + 1.0, y + (wide + 2.0) * slope)], 0.2, 175);
        }
        let upright: Vec<f64> = match paper {
            Paper::Graph => (0..count(wide)).map(|k| first + step * k as f64).collect(),
            _ => vec![25.0],
        };
        for x in upright {
            self.stroke(&[Point::new(x, -1.0), Point::new(x - (high + 2.0) * slope, high + 1.0)], 0.2, 175);
        }
    }

    /// A stroke, mm, of this width and grey.
    pub fn stroke(&mut self, line: &[Point], width: f64, grey: u8) {
        let reach = 0.5 * width + 0.5 / PX_PER_MM;
        for pair in line.windows(2) {
            let (a, b) = (pair[0], pair[1]);
            let px = |mm: f64, most: usize| ((mm * PX_PER_MM).max(0.0) as usize).min(most);
            let (x0, x1) = (a.x.min(b.x) - reach, a.x.max(b.x) + reach);
            let (y0, y1) = (a.y.min(b.y) - reach, a.y.max(b.y) + reach);
            for y in px(y0, self.image.height)..px(y1 + 0.2, self.image.height) {
                for x in px(x0, self.image.width)..px(x1 + 0.2, self.image.width) {
                    let p = Point::new((x as f64 + 0.5) / PX_PER_MM, (y as f64 + 0.5) / PX_PER_MM);
                    let off = polyline::segment_distance(p, a, b) - 0.5 * width;
                    let share = (0.5 - off * PX_PER_MM).clamp(0.0, 1.0);
                    let pixel = &mut self.image.pixels[y * self.image.width + x];
                    let own = f64::from(*pixel);
                    *pixel = (own + share * (f64::from(grey) - own).min(0.0)) as u8;
                }
            }
        }
    }

    /// A line as a hand draws it, up to `size` mm off.
    fn by_hand(&mut self, line: &[Point], size: f64) -> Vec<Point> {
        let points = polyline::resample(line, 0.5);
        let waves: Vec<(f64, f64)> =
            (0..3).map(|_| (self.dice.within(7.0, 40.0), self.dice.within(0.0, TAU))).collect();
        let off = |i: usize| {
            waves.iter().map(|(w, p)| (i as f64 * 0.5 * TAU / w + p).sin()).sum::<f64>() * size / 3.0
        };
        let ways = polyline::tangents(&points);
        points.iter().zip(ways).enumerate().map(|(i, (p, t))| *p + off(i) * Vec2::new(-t.y, t.x)).collect()
    }

    /// Draws round a bar: side by side, corners overshot or left open, a gap in the first side.
    pub fn outline(&mut self, bar: &Source, (length, width): (f64, f64)) {
        let beyond = self.dice.within(0.2, 0.8);
        let (u, v) = (0.5 * length + beyond, 0.5 * width + beyond);
        let corners = [(-u, -v), (u, -v), (u, v), (-u, v)].map(|(u, v)| bar.place(u, v));
        for k in 0..4 {
            let (a, b) = (corners[k], corners[(k + 1) % 4]);
            let way = (b - a) / (b - a).hypot();
            let (from, to) = (self.dice.within(-1.0, 2.0), self.dice.within(-1.0, 2.0));
            let side = self.by_hand(&[a - from * way, b + to * way], 0.7);
            let gap = if k == 0 { side.len() / 3..side.len() / 3 + 6 } else { side.len()..side.len() };
            self.stroke(&side[..gap.start], 0.5, 70);
            self.stroke(&side[gap.end..], 0.5, 70);
        }
    }

    /// Writes N and S inside a bar's ends, upright on the page.
    pub fn letters(&mut self, bar: &Source, length: f64, letters: Letters) {
        if letters == Letters::Missing {
            return;
        }
        for (end, letter) in [(1.0, 'N'), (-1.0, 'S')] {
            let letter = if letters == Letters::Twice { 'N' } else { letter };
            let at = bar.place(end * (0.5 * length - 8.0), 0.0);
            let mirror = if letters == Letters::Mirrored { -1.0 } else { 1.0 };
            let line: Vec<Point> = glyph(letter)
                .into_iter()
                .map(|(x, y)| at + Vec2::new(mirror * 4.2 * (x - 0.5), 6.0 * (y - 0.5)))
                .collect();
            let line = self.by_hand(&line, 0.15);
            self.stroke(&line, 0.5, 70);
        }
    }

    /// Field lines with an open arrowhead each, 6 mm clear of the paper's edges.
    pub fn field(&mut self, panel: &Panel, count: usize) {
        let panel = Panel { frame: panel.frame.inflate(-6.0, -6.0), ..panel.clone() };
        for line in field_lines(&panel, &panel.field(), count) {
            let line = self.by_hand(&line.points, 0.4);
            self.stroke(&line, 0.5, 70);
            let middle = line.len() / 2;
            let (tip, way) = (line[middle], polyline::tangents(&line)[middle]);
            let back = |turn: f64| {
                let (s, c) = turn.sin_cos();
                tip - 4.0 * Vec2::new(way.x * c - way.y * s, way.x * s + way.y * c)
            };
            self.stroke(&[back(0.5), tip, back(-0.5)], 0.5, 70);
        }
    }
}

/// A letter's stroke in a box of 1 by 1, y down: an N of three straights; an S of two arcs, drawn from its upper right end.
fn glyph(letter: char) -> Vec<(f64, f64)> {
    if letter == 'N' {
        return vec![(0.0, 1.0), (0.0, 0.0), (1.0, 1.0), (1.0, 0.0)];
    }
    let arc = |centre: f64, from: f64, to: f64| {
        (0..=16).map(move |k| {
            let t = (from + (to - from) * f64::from(k) / 16.0).to_radians();
            (0.5 + 0.5 * t.cos(), centre - 0.25 * t.sin())
        })
    };
    arc(0.25, 25.0, 270.0).chain(arc(0.75, 90.0, -155.0)).collect()
}

/// The worksheet's panel with its sources put down anywhere on the paper, turned any way.
pub fn put_down(worksheet: &Worksheet, dice: &mut Dice) -> Panel {
    let mut panel = worksheet.panels[0].clone();
    for source in &mut panel.sources {
        source.centre = Point::new(dice.within(70.0, 140.0), dice.within(90.0, 205.0));
        source.north_deg = dice.within(-180.0, 180.0);
    }
    panel
}

/// A whole page of one bar: paper, outline, letters, field lines.
pub fn page(worksheet: &Worksheet, paper: Paper, letters: Letters, seed: u64) -> (GreyImage, Panel) {
    let mut page = Page::new(paper, seed);
    let panel = put_down(worksheet, &mut page.dice);
    page.outline(&panel.sources[0], (50.0, 15.0));
    page.letters(&panel.sources[0], 50.0, letters);
    page.field(&panel, 12);
    (page.image, panel)
}

/// A page photographed on a dark table, tilted; 1500 pixels high.
pub fn photographed(page: &GreyImage) -> GreyImage {
    let (width, height) = (1200, 1600);
    let corners = [(150.0, 120.0), (1060.0, 160.0), (1110.0, 1490.0), (90.0, 1440.0)];
    let (w, h) = (page.width as f64, page.height as f64);
    let from = [(0.0, 0.0), (w, 0.0), (w, h), (0.0, h)];
    let point = |(x, y): (f64, f64)| Point::new(x, y);
    let pairs: Vec<(Point, Point)> = corners.iter().zip(from).map(|(&c, f)| (point(c), point(f))).collect();
    let map = Homography::fit(&pairs).unwrap();
    let mut pixels = Vec::with_capacity(width * height);
    for i in 0..width * height {
        // The mean of nine places in a pixel: a camera loses no thin line.
        let mut sum = 0.0;
        for k in 0..9 {
            let (dx, dy) = ((f64::from(k % 3) - 1.0) / 3.0, (f64::from(k / 3) - 1.0) / 3.0);
            let p = map.apply(Point::new((i % width) as f64 + dx, (i / width) as f64 + dy));
            let inside = p.x >= 0.0 && p.y >= 0.0 && p.x < w && p.y < h;
            let paper = || f64::from(page.pixels[p.y as usize * page.width + p.x as usize]);
            sum += if inside { paper() } else { 90.0 + 12.0 * ((i % width) as f64 / 90.0).sin() };
        }
        pixels.push((sum / 9.0) as u8);
    }
    GreyImage { width, height, pixels }
}
