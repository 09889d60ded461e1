//! JPEG, PNG, WebP.

use image::ExtendedColorType;
use image::ImageEncoder;

use super::*;

/// An EXIF block (TIFF, big-endian) of orientation and 300 dots per inch, as a JPEG's APP1 segment.
fn exif_segment(orientation: u8) -> Vec<u8> {
    let mut tiff = b"MM\0*\0\0\0\x08\0\x04".to_vec();
    tiff.extend([1, 0x12, 0, 3, 0, 0, 0, 1, 0, orientation, 0, 0]); // orientation
    tiff.extend([1, 0x1A, 0, 5, 0, 0, 0, 1, 0, 0, 0, 62]); // x resolution
    tiff.extend([1, 0x1B, 0, 5, 0, 0, 0, 1, 0, 0, 0, 62]); // y resolution
    tiff.extend([1, 0x28, 0, 3, 0, 0, 0, 1, 0, 2, 0, 0]); // an inch
    tiff.extend([0; 4]);
    tiff.extend([0, 0, 1, 44, 0, 0, 0, 1]); // 300 / 1
    let body = [b"Exif\0\0".as_slice(), &tiff].concat();
    [&[0xFF, 0xE1], ((body.len() + 2) as u16).to_be_bytes().as_slice(), &body].concat()
}

fn with_orientation(jpeg: &[u8], orientation: u8) -> Vec<u8> {
    [&jpeg[..2], &exif_segment(orientation), &jpeg[2..]].concat()
}

#[test]
fn a_grey_jpeg_is_read() {
    let picture = gradient(240, 160);
    let page = read("a.jpg", &jpeg_of(&picture), COLOUR).unwrap();
    assert_eq!((page.grey.width, page.grey.height, page.number), (240, 160, 1));
    assert!(most_apart(&page.grey.pixels, picture.as_raw()) < 30);
    assert!(page.colour.is_none() && !page.bilevel);
}

#[test]
fn a_jpeg_comes_upright_by_its_exif() {
    let shown = gradient(240, 160);
    // orientation 6: the first row stored is the right-hand side as shown
    let stored = image::imageops::rotate270(&shown);
    let page = read("a.jpg", &with_orientation(&jpeg_of(&stored), 6), GREY).unwrap();
    assert_eq!((page.grey.width, page.grey.height), (240, 160));
    assert!(most_apart(&page.grey.pixels, shown.as_raw()) < 30);
    assert_eq!(page.dpi, Some((300.0, 300.0)));
    let stored = image::imageops::rotate180(&shown);
    let page = read("a.jpg", &with_orientation(&jpeg_of(&stored), 3), GREY).unwrap();
    assert!(most_apart(&page.grey.pixels, shown.as_raw()) < 30);
}

#[test]
fn a_broken_exif_block_does_not_cost_the_page() {
    let mut jpeg = with_orientation(&jpeg_of(&gradient(200, 150)), 6);
    jpeg[14..30].fill(0xFF);
    let page = read("a.jpg", &jpeg, GREY).unwrap();
    assert_eq!((page.grey.width, page.grey.height), (200, 150));
}

#[test]
fn colours_only_where_asked_for() {
    let picture = image::RgbImage::from_fn(200, 150, |x, y| image::Rgb([x as u8, y as u8, 200]));
    let mut jpeg = Vec::new();
    image::codecs::jpeg::JpegEncoder::new_with_quality(&mut jpeg, 95).encode_image(&picture).unwrap();
    let grey = read("a.jpg", &jpeg, GREY).unwrap();
    let colour = read("a.jpg", &jpeg, COLOUR).unwrap();
    assert!(grey.colour.is_none());
    assert!(most_apart(&colour.colour.unwrap().pixels, picture.as_raw()) < 16);
    assert!(most_apart(&grey.grey.pixels, &colour.grey.pixels) <= 2);
}

#[test]
fn a_png_is_read_with_its_resolution() {
    let picture = gradient(240, 160);
    let mut png = Vec::new();
    image::codecs::png::PngEncoder::new(&mut png)
        .write_image(&picture, 240, 160, ExtendedColorType::L8)
        .unwrap();
    let page = read("a.png", &png, COLOUR).unwrap();
    assert_eq!(page.grey.pixels, *picture.as_raw());
    assert!(page.colour.is_none() && page.dpi.is_none());
    // pHYs behind IHDR (its checksum is not held against it): 7874 pixels a metre are 200 dots per inch
    let chunk = [&[0, 0, 0, 9], b"pHYs".as_slice(), &[0, 0, 0x1E, 0xC2, 0, 0, 0x1E, 0xC2, 1]].concat();
    let crc = crc32(&chunk[4..]).to_be_bytes();
    let png = [&png[..33], &chunk, &crc, &png[33..]].concat();
    let (x, y) = read("a.png", &png, GREY).unwrap().dpi.unwrap();
    assert!((x - 200.0).abs() < 0.01 && (y - 200.0).abs() < 0.01);
}

/// CRC-32 as PNG has it, bit by bit.
pub(super) fn crc32(bytes: &[u8]) -> u32 {
    !bytes.iter().fold(!0u32, |crc, &b| {
        (0..8).fold(crc ^ u32::from(b), |crc, _| if crc & 1 == 1 { crc >> 1 ^ 0xEDB8_8320 } else { crc >> 1 })
    })
}

#[test]
fn a_png_of_one_bit_is_known_for_one() {
    let page = open(&data("picture.png")).unwrap().page(1, GREY).unwrap();
    assert!(page.bilevel);
    assert_eq!(page.grey, truth("picture.png"));
}

#[test]
fn what_is_transparent_is_white() {
    let picture =
        image::RgbaImage::from_fn(120, 110, |x, _| image::Rgba([0, 0, 0, if x < 60 { 0 } else { 255 }]));
    let mut png = Vec::new();
    image::codecs::png::PngEncoder::new(&mut png)
        .write_image(&picture, 120, 110, ExtendedColorType::Rgba8)
        .unwrap();
    let page = read("a.png", &png, GREY).unwrap();
    assert_eq!((page.grey.pixels[0], page.grey.pixels[119]), (255, 0));
}

#[test]
fn a_webp_is_read() {
    let picture = gradient(240, 160);
    let mut webp = Vec::new();
    let coded = image::codecs::webp::WebPEncoder::new_lossless(&mut webp);
    coded.encode(&picture, 240, 160, ExtendedColorType::L8).unwrap();
    let page = read("a.webp", &webp, GREY).unwrap();
    assert_eq!(page.grey.pixels, *picture.as_raw());
    assert!(read("a.webp", &webp[..webp.len() / 2], GREY).is_err());
}

#[test]
fn the_content_decides_not_the_name() {
    let page = read("scan.pdf", &jpeg_of(&gradient(240, 160)), GREY).unwrap();
    assert_eq!(page.grey.width, 240);
}
