//! All students' lines on one picture: how many of them drew a line through each place.

use image::ImageEncoder;

use super::Sheet;
use super::picture::Picture;
use crate::drawing::THERE;
use crate::geometry::{Point, Rect, polyline};
use crate::print::base64;

/// Side of a cell, mm: finer than two students' hands agree, coarse enough for a small picture.
const CELL_MM: f64 = 0.8;
/// Lines are taken to be so wide, mm: two that are drawn after the same field line then overlap.
const HALF_WIDTH_MM: f64 = 1.0;
/// Darkness grows with this power of the share of students, so that a single line still shows.
const POWER: f64 = 0.6;
/// Largest side of the picture, cells: A3 at this grain.
const MAX_CELLS: usize = 600;

/// A density picture.
#[derive(Clone, Debug, PartialEq)]
pub struct Density {
    /// What it shows, mm on the page.
    pub region: Rect,
    /// The frames in it.
    pub frames: Vec<Rect>,
    /// How many students' lines it holds.
    pub students: usize,
    png: Vec<u8>,
}

impl Density {
    /// Of the students' panels, a student an entry; `None` where there is nothing to show.
    pub fn new(students: &[Vec<Sheet>]) -> Option<Self> {
        let first = students.first()?;
        let frames: Vec<Rect> = first.iter().map(|s| s.frame).collect();
        let region = Picture::region_of(frames.iter().copied())?;
        let cells = |mm: f64| (mm / CELL_MM).ceil() as usize;
        let (w, h) = (cells(region.width()), cells(region.height()));
        if w == 0 || h == 0 || w.max(h) > MAX_CELLS {
            return None;
        }
        let mut counts = vec![0u32; w * h];
        for panels in students {
            let mut touched = vec![false; w * h];
            let lines = panels.iter().flat_map(|p| &p.record.lines).filter(|l| l.sure >= THERE);
            for line in lines {
                let points: Vec<Point> = line.points_mm.iter().map(|p| Point::new(p[0], p[1])).collect();
                for p in polyline::resample(&points, CELL_MM) {
                    touch(&mut touched, (w, h), (p.x - region.x0, p.y - region.y0));
                }
            }
            for (count, touched) in counts.iter_mut().zip(touched) {
                *count += u32::from(touched);
            }
        }
        let all = students.len() as f64;
        let pixels: Vec<u8> = counts
            .iter()
            .flat_map(|n| [0, (255.0 * (f64::from(*n) / all).powf(POWER)).round() as u8])
            .collect();
        let mut png = Vec::new();
        image::codecs::png::PngEncoder::new(&mut png)
            .write_image(&pixels, w as u32, h as u32, image::ExtendedColorType::La8)
            .ok()?;
        // The picture holds whole cells: a little more than was asked for.
        let region =
            Rect::new(region.x0, region.y0, region.x0 + w as f64 * CELL_MM, region.y0 + h as f64 * CELL_MM);
        Some(Self { region, frames, students: students.len(), png })
    }

    /// As a `data:` address.
    pub(super) fn address(&self) -> String {
        format!("data:image/png;base64,{}", base64(&self.png))
    }

    /// The PNG file.
    pub(super) fn png(&self) -> &[u8] {
        &self.png
    }
}

/// Marks the cells round a place, mm from the region's corner.
fn touch(touched: &mut [bool], (w, h): (usize, usize), (x, y): (f64, f64)) {
    let range = |c: f64, most: usize| {
        let cell = |mm: f64| (mm / CELL_MM).floor().clamp(0.0, most as f64) as usize;
        cell(c - HALF_WIDTH_MM)..(cell(c + HALF_WIDTH_MM) + 1).min(most)
    };
    for row in range(y, h) {
        for column in range(x, w) {
            let middle = ((column as f64 + 0.5) * CELL_MM, (row as f64 + 0.5) * CELL_MM);
            if (middle.0 - x).hypot(middle.1 - y) <= HALF_WIDTH_MM {
                touched[row * w + column] = true;
            }
        }
    }
}
