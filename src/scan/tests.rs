//! Files made by other writers (tests/promises/data/scan/make.py) and by hand, read back; and everything
//! that may be wrong with a file.

mod bad;
#[cfg(unix)]
mod heics;
mod pdf;
mod stills;
mod tiffs;

use std::path::PathBuf;

use tempfile::TempDir;

use super::*;

/// A file with these bytes in a folder of its own, which lives as long as the first value.
fn file(name: &str, bytes: &[u8]) -> (TempDir, PathBuf) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join(name);
    std::fs::write(&path, bytes).unwrap();
    (folder, path)
}

/// A file from tests/promises/data/scan.
fn data(name: &str) -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("tests/promises/data/scan").join(name)
}

fn bytes_of(name: &str) -> Vec<u8> {
    std::fs::read(data(name)).unwrap()
}

const GREY: Wanted = Wanted { colour: false };
const COLOUR: Wanted = Wanted { colour: true };

/// The one page of a file of these bytes.
fn read(name: &str, bytes: &[u8], wanted: Wanted) -> Result<PageImage, Reason> {
    let (_folder, path) = file(name, bytes);
    let pages = open(&path).map_err(|refusal| refusal.reason)?;
    assert_eq!(pages.len(), 1);
    pages.page(1, wanted).map_err(|refusal| refusal.reason)
}

/// The grey plane that a PNG beside the other data holds, by the image crate.
fn truth(name: &str) -> GreyImage {
    let image = image::open(data(name)).unwrap().into_luma8();
    GreyImage { width: image.width() as usize, height: image.height() as usize, pixels: image.into_raw() }
}

/// Largest difference of two planes of one size.
fn most_apart(a: &[u8], b: &[u8]) -> u8 {
    assert_eq!(a.len(), b.len());
    a.iter().zip(b).map(|(a, b)| a.abs_diff(*b)).max().unwrap()
}

/// A grey picture without symmetry, coded as JPEG.
fn jpeg_of(image: &image::GrayImage) -> Vec<u8> {
    let mut out = Vec::new();
    image::codecs::jpeg::JpegEncoder::new_with_quality(&mut out, 92).encode_image(image).unwrap();
    out
}

/// Dark at the top left, light at the bottom right, a black bar near the top.
fn gradient(width: u32, height: u32) -> image::GrayImage {
    image::GrayImage::from_fn(width, height, |x, y| {
        image::Luma([if y / 10 == 2 && x > width / 2 {
            0
        } else {
            (60 + x * 100 / width + y * 90 / height) as u8
        }])
    })
}
