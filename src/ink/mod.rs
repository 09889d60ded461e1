//! Flat page to the student's ink: the paper's shade divided out, the print taken away, what is left
//! split into ink and paper and thinned to lines one pixel wide.

pub mod binarise;
pub mod grain;
pub mod illumination;
pub mod print_removal;
pub mod rulings;
pub mod shadow;
pub mod specks;
pub mod thin;
pub mod trails;

use crate::geometry::Point;
use crate::rectify::flatten::{Flat, PX_PER_MM};
use print_removal::Covers;
use std::ops::Range;
use std::sync::Arc;

/// A binary picture with a border of one blank pixel, so that every pixel has eight neighbours.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Bitmap {
    /// Pixels across, the border not counted.
    pub width: usize,
    /// Pixels down, the border not counted.
    pub height: usize,
    /// Rows of `width + 2`, `height + 2` of them; 0 is paper.
    pub cells: Vec<u8>,
}

impl Bitmap {
    /// All paper.
    pub fn new(width: usize, height: usize) -> Self {
        Self { width, height, cells: vec![0; (width + 2) * (height + 2)] }
    }

    /// Cells from one row to the next.
    pub fn stride(&self) -> usize {
        self.width + 2
    }

    /// Where pixel (x, y) stands in `cells`.
    pub fn index(&self, x: usize, y: usize) -> usize {
        (y + 1) * self.stride() + x + 1
    }

    /// The pixel at an index of `cells`.
    pub fn place(&self, i: usize) -> (usize, usize) {
        (i % self.stride() - 1, i / self.stride() - 1)
    }

    /// Whether (x, y) is ink.
    pub fn get(&self, x: usize, y: usize) -> bool {
        self.cells[self.index(x, y)] != 0
    }

    /// Makes (x, y) ink or paper.
    pub fn set(&mut self, x: usize, y: usize, ink: bool) {
        let i = self.index(x, y);
        self.cells[i] = u8::from(ink);
    }

    /// Makes paper of all that lies under `cover`, of the same size.
    pub fn clear(&mut self, cover: &Bitmap) {
        self.cells.iter_mut().zip(&cover.cells).filter(|(_, c)| **c != 0).for_each(|(cell, _)| *cell = 0);
    }

    /// One row, without the border.
    pub fn row(&self, y: usize) -> &[u8] {
        let start = self.index(0, y);
        &self.cells[start..start + self.width]
    }

    /// One row, without the border.
    pub fn row_mut(&mut self, y: usize) -> &mut [u8] {
        let start = self.index(0, y);
        &mut self.cells[start..start + self.width]
    }

    /// Steps in `cells` to the eight neighbours: north, then clockwise.
    pub fn ring_steps(&self) -> [isize; 8] {
        let s = self.stride() as isize;
        [-s, -s + 1, 1, s + 1, s, s - 1, -1, -s - 1]
    }

    /// Takes what hangs together with an ink pixel out of the picture, into `group` (emptied first).
    pub fn take_group(&mut self, start: usize, group: &mut Vec<usize>) {
        let steps = self.ring_steps();
        group.clear();
        group.push(start);
        self.cells[start] = 0;
        let mut next = 0;
        while next < group.len() {
            for s in steps {
                let j = (group[next] as isize + s) as usize;
                if self.cells[j] != 0 {
                    self.cells[j] = 0;
                    group.push(j);
                }
            }
            next += 1;
        }
    }

    /// Indices of all ink pixels, row by row.
    pub fn ink_indices(&self) -> Vec<usize> {
        self.runs().into_iter().flatten().collect()
    }

    /// Stretches of ink along the rows, as ranges of indices, row by row. None runs over a row's end: the border is blank.
    pub fn runs(&self) -> Vec<Range<usize>> {
        let mut out = Vec::new();
        let mut from = 0;
        while let Some(start) = self.next_ink(from) {
            let length = self.cells[start..].iter().position(|&c| c == 0);
            from = length.map_or(self.cells.len(), |n| start + n);
            out.push(start..from);
        }
        out
    }

    /// The first ink at or after an index. Blank stretches are passed over eight pixels at a time.
    fn next_ink(&self, from: usize) -> Option<usize> {
        let rest = &self.cells[from..];
        let (eights, _) = rest.as_chunks::<8>();
        let blank = eights.iter().take_while(|e| u64::from_ne_bytes(**e) == 0).count() * 8;
        rest[blank..].iter().position(|&c| c != 0).map(|n| from + blank + n)
    }

    /// Indices of all pixels, row by row, without the border.
    pub fn inner_indices(&self) -> impl Iterator<Item = usize> + use<> {
        let (stride, width) = (self.stride(), self.width);
        (1..=self.height).flat_map(move |y| y * stride + 1..y * stride + 1 + width)
    }
}

/// How close to print a stroke that was covered by it ends, mm.
const NEAR_PRINT_MM: f64 = 1.2;

/// What is fainter than this share of the threshold between ink and paper counts as paper where darkness is told.
const SEEN_SHARE: f32 = 0.5;

/// The student's ink in one panel.
#[derive(Clone, Debug)]
pub struct PanelInk {
    pub ink: Bitmap,
    /// The same, thinned to lines one pixel wide.
    pub thin: Bitmap,
    /// Where the sheet's print covers the page.
    pub print: Arc<Bitmap>,
    /// How much darker than the paper each pixel is, the print's too, 0 to 255.
    pub contrast: Bitmap,
    /// Page place, mm, of the centre of pixel (0, 0).
    origin: Point,
    /// The page's usual ink as contrast, 0 to 255; 0 where there is none.
    pub level: f64,
    /// Contrast from which on it was taken for ink.
    pub threshold: f64,
    /// Whether its strokes came in crumbs, joined again along their trails.
    pub crumbled: bool,
    /// Whether rulings of the paper may be among it, or hide some of it.
    pub rulings_left: bool,
}

/// What the picture is like that ink is read from.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Look {
    /// Black and white only.
    pub bilevel: bool,
    /// Standard deviation of its blur, mm on the page; 0: a scanner's.
    pub blur_mm: f64,
    /// What is paler is no ink, contrast 0 to 255, whatever the noise: traces of rulings that were taken off.
    pub least: f64,
}

/// Reads the ink of a flat panel; `covers` are of the same region.
pub fn read(flat: &Flat, covers: &Covers, look: Look) -> PanelInk {
    let bilevel = look.bilevel;
    let mut contrast = illumination::contrast(flat, if bilevel { 2 } else { 1 });
    let (split, print) = binarise::binarise(&mut contrast, covers, look);
    let mut ink = split.ink;
    if bilevel && grain::is_broken(&ink) {
        grain::join(&mut ink);
    }
    let crumbled = bilevel && trails::is_crumbled(&contrast.levels, &print);
    if crumbled {
        trails::follow(&contrast.levels, &print, &mut ink);
    }
    specks::remove_specks(&mut ink);
    specks::fill_pinholes(&mut ink);
    let mut thinned = ink.clone();
    thin::thin(&mut thinned, thin::Rule::GuoHall);
    PanelInk {
        ink,
        thin: thinned,
        print,
        contrast: contrast.levels,
        origin: flat.origin,
        level: split.level,
        threshold: split.threshold,
        crumbled,
        rulings_left: false,
    }
}

impl PanelInk {
    /// The page place, mm, of a place in pixels.
    pub fn to_mm(&self, x: f64, y: f64) -> Point {
        Point::new(self.origin.x + x / PX_PER_MM, self.origin.y + y / PX_PER_MM)
    }

    /// The place in pixels of a page place, mm.
    pub fn to_px(&self, p: Point) -> (f64, f64) {
        ((p.x - self.origin.x) * PX_PER_MM, (p.y - self.origin.y) * PX_PER_MM)
    }

    /// What the picture shows of the page, mm2: the frame and a little round it.
    pub fn area_mm2(&self) -> f64 {
        (self.ink.width * self.ink.height) as f64 * self.mm_per_px().powi(2)
    }

    /// Millimetres a pixel.
    pub fn mm_per_px(&self) -> f64 {
        1.0 / PX_PER_MM
    }

    /// Whether print lies within [`NEAR_PRINT_MM`] of a page place.
    pub fn near_print(&self, p: Point) -> bool {
        (0..16).any(|k| {
            let t = f64::from(k) / 16.0 * std::f64::consts::TAU;
            let out = crate::geometry::Vec2::new(t.cos(), t.sin());
            self.at(p + 0.5 * NEAR_PRINT_MM * out).1 || self.at(p + NEAR_PRINT_MM * out).1
        })
    }

    /// How dark a pixel is: 0 paper and what is fainter than most ink, 1 twice the page's usual ink or more.
    pub fn darkness(&self, index: usize) -> f32 {
        let contrast = f32::from(self.contrast.cells[index]);
        if contrast < SEEN_SHARE * self.threshold as f32 {
            0.0
        } else {
            (0.5 * contrast / self.level.max(1.0) as f32).min(1.0)
        }
    }

    /// The pixel at a page place, as its index in the pictures' cells; `None` outside.
    pub fn index(&self, p: Point) -> Option<usize> {
        let x = ((p.x - self.origin.x) * PX_PER_MM).round();
        let y = ((p.y - self.origin.y) * PX_PER_MM).round();
        let inside = x >= 0.0 && y >= 0.0 && x < self.ink.width as f64 && y < self.ink.height as f64;
        inside.then(|| self.ink.index(x as usize, y as usize))
    }

    /// Whether there is ink, and whether there is print, at a page place.
    pub fn at(&self, p: Point) -> (bool, bool) {
        self.index(p).map_or((false, false), |i| (self.ink.cells[i] != 0, self.print.cells[i] != 0))
    }
}
