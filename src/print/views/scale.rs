//! The scale of the strength view: a strip of all shades, with the values between them.

use super::palette::{hex, shade};
use super::strength::written;
use crate::geometry::{Point, Rect};
use crate::print::layout::TextLine;
use crate::print::lettering::Face;
use crate::print::picture::{INK, Picture, path};

/// Width of a shade in the strip at most, mm, and the strip's height.
const SHADE_MM: f64 = 20.0;
const STRIP_MM: f64 = 4.0;
/// Baselines of title and numbers, and top of the strip, below the scale's top, mm.
const TITLE_MM: f64 = 2.6;
const STRIP_TOP_MM: f64 = 4.2;
const NUMBERS_MM: f64 = STRIP_TOP_MM + STRIP_MM + 3.4;
/// Height of a scale with the blank below it, mm.
pub(super) const HEIGHT_MM: f64 = NUMBERS_MM + 3.4;
const TITLE_EM_MM: f64 = 3.4;
const NUMBER_EM_MM: f64 = 3.0;
/// Blank between two numbers, in ems.
const NUMBERS_APART: f64 = 0.6;
const STROKE_MM: f64 = 0.2;

/// The levels of one unit.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Scale {
    pub(super) levels: Vec<f64>,
    pub(super) electric: bool,
}

impl Scale {
    fn title(&self) -> &'static str {
        if self.electric {
            "Field strength along the paper, kV/m"
        } else {
            "Flux density along the paper, mT"
        }
    }
}

/// The strip from `top` on, mm, at the left edge of the frames.
pub(super) fn draw(picture: &mut Picture, scale: &Scale, top: f64, frames: Rect) {
    let shades = scale.levels.len() + 1;
    let width = SHADE_MM.min(frames.width() / shades as f64);
    let edge = |k: usize| frames.x0 + k as f64 * width;
    let (y0, y1) = (top + STRIP_TOP_MM, top + STRIP_TOP_MM + STRIP_MM);
    for k in 0..shades {
        let t = k as f64 / scale.levels.len() as f64;
        picture.rect(Rect::new(edge(k), y0, edge(k + 1), y1), &format!("fill=\"{}\"", hex(shade(t))));
    }
    let stroke = format!("fill=\"none\" stroke=\"{INK}\" stroke-width=\"{STROKE_MM}\"");
    picture.rect(Rect::new(edge(0), y0, edge(shades), y1), &stroke);
    let ticks: String =
        (1..shades).map(|k| path(&[Point::new(edge(k), y0), Point::new(edge(k), y1 + 0.8)], false)).collect();
    picture.path(&ticks, &stroke);
    picture.words.push(TextLine {
        at: Point::new(frames.x0, top + TITLE_MM),
        face: Face::Regular,
        em_mm: TITLE_EM_MM,
        grey: 1.0,
        text: scale.title().into(),
    });
    picture.words.extend(numbers(scale, top + NUMBERS_MM, edge));
}

/// The values under the borders of the shades; where they are too wide only each second or third.
fn numbers(scale: &Scale, y: f64, edge: impl Fn(usize) -> f64) -> Vec<TextLine> {
    let texts: Vec<String> = scale.levels.iter().map(|v| written(*v)).collect();
    let width = |text: &str| Face::Regular.width_mm(text, NUMBER_EM_MM);
    let widest = texts.iter().map(|t| width(t)).fold(0.0, f64::max) + NUMBERS_APART * NUMBER_EM_MM;
    let every = (widest / (edge(1) - edge(0))).ceil().max(1.0) as usize;
    let line = |(k, text): (usize, String)| {
        let at = Point::new(edge(k + 1) - width(&text) / 2.0, y);
        TextLine { at, face: Face::Regular, em_mm: NUMBER_EM_MM, grey: 1.0, text }
    };
    texts.into_iter().enumerate().step_by(every).map(line).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_stand_under_their_borders_and_never_overlap() {
        let scale =
            Scale { levels: vec![0.002, 0.005, 0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1.0], electric: false };
        for frame in [40.0, 100.0, 257.0] {
            let mut picture = Picture::new(String::new(), Rect::new(0., 0., 300., 100.));
            draw(&mut picture, &scale, 50.0, Rect::new(20., 10., 20. + frame, 45.));
            let numbers = &picture.words[1..];
            let width = (frame / 10.0).min(SHADE_MM);
            let ends: Vec<(f64, f64)> =
                numbers.iter().map(|n| (n.at.x, n.at.x + n.face.width_mm(&n.text, n.em_mm))).collect();
            assert!(ends.windows(2).all(|w| w[0].1 < w[1].0), "{ends:?}");
            for (number, ends) in numbers.iter().zip(&ends) {
                let k = scale.levels.iter().position(|v| written(*v) == number.text).unwrap();
                assert!(((ends.0 + ends.1) / 2.0 - (20.0 + (k + 1) as f64 * width)).abs() < 1e-9);
            }
            assert_eq!(numbers.len() == 9, frame > 90.0);
        }
    }
}
