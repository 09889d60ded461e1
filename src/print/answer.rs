//! The answer picture: the computed field lines and neutral points of a worksheet, to scale; the plainest of
//! [`super::views`].

use super::picture;
use super::sheet::PrintError;
use super::views::{self, Layers};
use crate::geometry::Point;
use crate::worksheet::Worksheet;

/// The computed field of one panel.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Answer {
    /// Field lines, mm on the page, each the way that the field points.
    pub lines: Vec<Vec<Point>>,
    /// Places where the field in the paper's plane is zero.
    pub neutral: Vec<Point>,
}

/// The picture as SVG: a panel's answer for each panel, in the worksheet's order.
pub fn svg(worksheet: &Worksheet, answers: &[Answer]) -> String {
    plain(worksheet, answers).svg()
}

/// An SVG of shapes alone, as [`svg`] gives it, as PNG at `dpi` dots an inch.
///
/// # Errors
/// [`PrintError::Png`]: no SVG, or too many pixels at this resolution.
pub fn png(svg: &str, dpi: f64) -> Result<Vec<u8>, PrintError> {
    picture::png_of(svg, dpi)
}

/// The picture of these answers alone.
pub(super) fn plain(worksheet: &Worksheet, answers: &[Answer]) -> picture::Picture {
    let layers: Vec<Layers> =
        answers.iter().map(|answer| Layers { answer: answer.clone(), ..Layers::default() }).collect();
    views::picture(worksheet, &layers)
}

#[cfg(test)]
mod tests {
    use super::*;
    use resvg::usvg;
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
        let svg = svg(&bar(), std::slice::from_ref(&answer));
        assert!(svg.contains("width=\"273mm\"") && svg.contains("Bars &amp; &lt;poles&gt;"));
        let tree = usvg::Tree::from_str(&svg, &usvg::Options::default()).unwrap();
        assert!((f64::from(tree.size().width()) - 273.0 / 25.4 * 96.0).abs() < 0.01);
        for png in [png(&svg, 100.0).unwrap(), plain(&bar(), &[answer]).png(100.0).unwrap()] {
            let picture = image::load_from_memory(&png).unwrap().to_rgb8();
            assert_eq!(picture.width(), (273.0f64 / 25.4 * 100.0).round() as u32);
            // The line's colour at its middle row, left of the arrowhead: page (70, 80) less the picture's corner (12, 25).
            let at = |mm: f64| (mm * 100.0 / 25.4) as u32;
            assert!(picture.get_pixel(at(70.0 - 12.0), at(80.0 - 25.0))[0] < 0x80);
            assert_eq!(picture.get_pixel(at(70.0 - 12.0), at(90.0 - 25.0))[0], 0xff);
        }
    }

    #[test]
    fn too_many_dots_are_refused() {
        for dpi in [5000.0, f64::NAN, f64::INFINITY] {
            assert!(matches!(png(&svg(&bar(), &[Answer::default()]), dpi), Err(PrintError::Png(_))));
            assert!(matches!(plain(&bar(), &[Answer::default()]).png(dpi), Err(PrintError::Png(_))));
        }
    }
}
