//! A printed page as pixels, and the arrangements that the tests print.

use hayro::hayro_interpret::InterpreterSettings;
use hayro::hayro_syntax::Pdf;
use hayro::vello_cpu::color::palette::css::WHITE;
use hayro::{PixmapSettings, RenderCache, RenderSettings};
use lodemark::worksheet::Worksheet;
use std::path::Path;

/// A page in grey, 0 black to 255 white.
pub struct Page {
    pub width: usize,
    pub height: usize,
    pub px_per_mm: f64,
    pub grey: Vec<u8>,
}

impl Page {
    /// Renders one page (from 0) of a PDF.
    pub fn of(pdf: &[u8], number: usize, dpi: f32) -> Self {
        let pdf = Pdf::new(pdf.to_vec()).expect("a PDF");
        let scale = dpi / 72.0;
        let pixmap = hayro::render(
            &pdf.pages()[number],
            &RenderCache::new(),
            &InterpreterSettings::default(),
            &RenderSettings::default(),
            &PixmapSettings { x_scale: scale, y_scale: scale, bg_color: WHITE },
        );
        let (width, height) = (usize::from(pixmap.width()), usize::from(pixmap.height()));
        // The page is printed in greys: one channel tells all.
        let grey = pixmap.data().iter().map(|p| p.g).collect();
        Self { width, height, px_per_mm: f64::from(dpi) / 25.4, grey }
    }

    /// Darkness of a pixel, 0 white to 1 black.
    pub fn dark(&self, x: usize, y: usize) -> f64 {
        1.0 - f64::from(self.grey[y * self.width + x]) / 255.0
    }
}

const SHEETS: [(&str, &str, [f64; 4]); 4] = [
    ("a4", "landscape", [20.0, 45.0, 257.0, 140.0]),
    ("a4", "portrait", [20.0, 50.0, 170.0, 200.0]),
    ("letter", "landscape", [20.0, 45.0, 239.0, 150.0]),
    ("letter", "portrait", [20.0, 50.0, 175.0, 200.0]),
];

/// A worksheet with each kind of source on each paper either way up, and one with four frames.
pub fn worksheets() -> Vec<Worksheet> {
    let kinds = [
        "kind: bar, size_mm: [50, 15, 10]",
        "kind: rod, size_mm: [50, 6]",
        "kind: disc, size_mm: [30, 5]",
        "kind: disc, size_mm: [30, 5], through: down",
        "kind: horseshoe, size_mm: [60, 80, 10], limb_mm: 16, north_limb: right",
        "kind: globe, size_mm: [60]",
        "kind: dipole, moment_am2: 1",
    ];
    let mut all = Vec::new();
    for (paper, orientation, [left, top, width, height]) in SHEETS {
        for kind in kinds {
            let (x, y) = (left + width / 2.0, top + height / 2.0);
            let strength = if kind.contains("dipole") { "" } else { ", remanence_mt: 400" };
            let turn = if kind.contains("through") { "" } else { ", north_deg: 0" };
            let panel = format!(
                "  - {{ id: A, prompt: Draw at least eight field lines., frame_mm: [{left}, {top}, {width}, {height}], \
                 plane_mm: 8, sources: [{{ id: magnet, {kind}, centre_mm: [{x}, {y}]{turn}{strength} }}] }}\n"
            );
            all.push(worksheet(paper, orientation, &panel));
        }
    }
    let frames = [("A", 20, 60), ("B", 111, 60), ("C", 20, 162), ("D", 111, 162)];
    let panels: String = frames
        .iter()
        .map(|(id, x, y)| {
            format!(
                "  - {{ id: {id}, prompt: Draw the lines of {id}., frame_mm: [{x}, {y}, 79, 90], sources: [{{ id: magnet, \
                 kind: bar, size_mm: [40, 12, 10], centre_mm: [{}, {}], north_deg: 30, remanence_mt: 400 }}] }}\n",
                x + 40,
                y + 45
            )
        })
        .collect();
    all.push(worksheet("a4", "portrait", &panels));
    all
}

fn worksheet(paper: &str, orientation: &str, panels: &str) -> Worksheet {
    let text = format!(
        "worksheet: 1\nid: test-sheet\ntitle: Test\npaper: {paper}\norientation: {orientation}\npanels:\n{panels}"
    );
    Worksheet::parse(Path::new("worksheet.yaml"), &text).unwrap_or_else(|p| panic!("{p:?}\n{text}"))
}
