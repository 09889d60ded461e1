//! Reads the sheet's QR code: its place is known, so its modules are sampled where they stand.

use super::page_map::PageMap;
use super::{grey, otsu};
use crate::geometry::{Point, Rect};
use crate::print::code::Payload;
use crate::print::layout::Layout;
use crate::scan::GreyImage;
use rxing::common::{BitMatrix, HybridBinarizer};
use rxing::qrcode::QRCodeReader;
use rxing::qrcode::cpp_port::QrReader;
use rxing::qrcode::decoder::qrcode_decoder;
use rxing::{BinaryBitmap, DecodeHints, Luma8LuminanceSource, Reader};

/// Samples a side within a module; the middle of a module is what counts.
const SAMPLES: usize = 3;
/// The samples spread over this share of the module.
const SPREAD: f64 = 0.5;
/// Round the code's place, this much more is searched when its modules cannot be read where they should be, mm.
const SEARCH_MM: f64 = 5.0;
/// Pixels a module of the picture that is searched.
const SEARCH_PX: f64 = 5.0;
/// Long side to which a whole page is reduced when it is searched for any code, pixels.
const WHOLE_PX: usize = 1800;

/// What a code says, if it can be read: its text.
pub fn read(scan: &GreyImage, page_to_scan: &PageMap, layout: &Layout) -> Option<Payload> {
    by_modules(scan, page_to_scan, layout).or_else(|| by_search(scan, page_to_scan, layout))
}

/// Any sheet's code anywhere on the picture.
pub fn anywhere(scan: &GreyImage) -> Option<Payload> {
    let (reduced, _) = grey::reduce(scan, WHOLE_PX);
    search(reduced)
}

fn by_modules(scan: &GreyImage, page_to_scan: &PageMap, layout: &Layout) -> Option<Payload> {
    let n = layout.modules;
    let mut levels = Vec::with_capacity(n * n);
    for row in 0..n {
        for column in 0..n {
            let mut sum = 0.0;
            for k in 0..SAMPLES * SAMPLES {
                let off = |i: usize| 0.5 + SPREAD * ((i as f64 + 0.5) / SAMPLES as f64 - 0.5);
                let x = layout.code_box.x0 + (column as f64 + off(k % SAMPLES)) * layout.module_mm;
                let y = layout.code_box.y0 + (row as f64 + off(k / SAMPLES)) * layout.module_mm;
                let p = page_to_scan.apply(Point::new(x, y));
                sum += grey::sample(scan, p.x, p.y);
            }
            levels.push(sum / (SAMPLES * SAMPLES) as f64);
        }
    }
    let mut histogram = [0u64; 256];
    levels.iter().for_each(|l: &f64| histogram[l.clamp(0.0, 255.0) as usize] += 1);
    let last_dark = otsu::last_dark_level(&histogram)?;
    let mut bits = BitMatrix::with_single_dimension(n as u32).ok()?;
    for (k, &level) in levels.iter().enumerate() {
        if level.clamp(0.0, 255.0) as usize <= last_dark {
            bits.set((k % n) as u32, (k / n) as u32);
        }
    }
    let text = qrcode_decoder::decode_bitmatrix(&bits).ok()?;
    Payload::decode(text.getText()).ok()
}

fn by_search(scan: &GreyImage, page_to_scan: &PageMap, layout: &Layout) -> Option<Payload> {
    let zone = layout.code_box.inflate(SEARCH_MM, SEARCH_MM);
    search(crop(scan, page_to_scan, zone, SEARCH_PX / layout.module_mm))
}

/// A part of the page as a picture of its own.
fn crop(scan: &GreyImage, page_to_scan: &PageMap, zone: Rect, px_per_mm: f64) -> GreyImage {
    let (width, height) = ((zone.width() * px_per_mm) as usize, (zone.height() * px_per_mm) as usize);
    let mut pixels = Vec::with_capacity(width * height);
    for y in 0..height {
        for x in 0..width {
            let mm = Point::new(zone.x0 + x as f64 / px_per_mm, zone.y0 + y as f64 / px_per_mm);
            let p = page_to_scan.apply(mm);
            pixels.push(grey::sample(scan, p.x, p.y).round() as u8);
        }
    }
    GreyImage { width, height, pixels }
}

fn search(picture: GreyImage) -> Option<Payload> {
    let hints = DecodeHints { TryHarder: Some(true), ..Default::default() };
    let bitmap = || {
        let source =
            Luma8LuminanceSource::new(picture.pixels.clone(), picture.width as u32, picture.height as u32)
                .ok()?;
        Some(BinaryBitmap::new(HybridBinarizer::new(source)))
    };
    let text = |r: Result<rxing::RXingResult, rxing::Exceptions>| r.ok().map(|r| r.getText().to_owned());
    text(QrReader.decode_with_hints(&mut bitmap()?, &hints))
        .or_else(|| text(QRCodeReader::new().decode_with_hints(&mut bitmap()?, &hints)))
        .and_then(|t| Payload::decode(&t).ok())
}
