//! A picture to draw on: round strokes of one colour, laid over what is there.

use crate::geometry::{Point, Vec2};
use crate::problem::Problem;
use std::io::Cursor;
use std::path::Path;

/// Red, green, blue.
pub type Colour = [u8; 3];

/// A picture in colours; places are pixels, whole numbers their centres.
pub struct Canvas {
    width: usize,
    height: usize,
    pixels: Vec<u8>,
}

impl Canvas {
    /// A grey picture, rows of `width` pixels.
    pub fn grey(width: usize, levels: impl IntoIterator<Item = u8>) -> Self {
        let pixels: Vec<u8> = levels.into_iter().flat_map(|level| [level; 3]).collect();
        let height = (pixels.len() / 3).checked_div(width).unwrap_or(0);
        Self { width, height, pixels }
    }

    /// A dot.
    pub fn dot(&mut self, at: Point, radius: f64, colour: Colour) {
        let across = |centre: f64, most: usize| {
            let from = (centre - radius).ceil().max(0.0) as usize;
            // Above the last pixel, or below the first: nothing.
            from..((centre + radius).floor() + 1.0).clamp(0.0, most as f64) as usize
        };
        for y in across(at.y, self.height) {
            for x in across(at.x, self.width) {
                if at.distance(Point::new(x as f64, y as f64)) <= radius {
                    self.pixels[3 * (y * self.width + x)..][..3].copy_from_slice(&colour);
                }
            }
        }
    }

    /// A stroke from place to place, `width` pixels wide.
    pub fn line(&mut self, points: &[Point], width: f64, colour: Colour) {
        let radius = (0.5 * width).max(0.71);
        for pair in points.windows(2) {
            let length = pair[0].distance(pair[1]);
            // Far outside there is nothing to be seen, and infinitely many dots to be set.
            let steps = if length.is_finite() { (length / radius).ceil().min(1e5) as usize } else { 0 };
            for k in 0..=steps {
                self.dot(pair[0].lerp(pair[1], k as f64 / steps.max(1) as f64), radius, colour);
            }
        }
    }

    /// A circle.
    pub fn ring(&mut self, at: Point, radius: f64, width: f64, colour: Colour) {
        let on = |k: u32| at + radius * Vec2::from_angle(f64::from(k) * std::f64::consts::TAU / 48.0);
        let points: Vec<Point> = (0..=48).map(on).collect();
        self.line(&points, width, colour);
    }

    /// As PNG.
    ///
    /// # Errors
    /// The picture has no pixels.
    pub fn png(self, name: &Path) -> Result<Vec<u8>, Problem> {
        let mut png = Vec::new();
        let image = image::RgbImage::from_raw(self.width as u32, self.height as u32, self.pixels);
        let wrong = |words: String| {
            Problem::of_file(name, format!("cannot be drawn ({words})"), "run again without --steps")
        };
        image
            .ok_or_else(|| wrong("it has no pixels".into()))?
            .write_to(&mut Cursor::new(&mut png), image::ImageFormat::Png)
            .map_err(|error| wrong(error.to_string()))?;
        Ok(png)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_lies_outside_is_not_drawn() {
        let mut canvas = Canvas::grey(8, [255; 64]);
        canvas.line(&[Point::new(-20.0, 4.0), Point::new(30.0, 4.0)], 2.0, [0; 3]);
        canvas.dot(Point::new(-5.0, 90.0), 3.0, [0; 3]);
        canvas.line(&[Point::new(f64::NAN, 0.0), Point::new(f64::INFINITY, 1.0)], 2.0, [0; 3]);
        let dark = canvas.pixels.chunks(3).map(|p| u8::from(p[0] == 0)).collect::<Vec<_>>();
        assert_eq!(dark.iter().map(|&d| usize::from(d)).sum::<usize>(), 24);
        assert!(canvas.png(Path::new("x.png")).unwrap().starts_with(b"\x89PNG"));
    }
}
