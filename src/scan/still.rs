//! PNG and WebP, by the image crate.

use std::io::Cursor;

use image::codecs::png::PngDecoder;
use image::codecs::webp::WebPDecoder;
use image::{ColorType, DynamicImage, ImageDecoder, ImageError, Limits};

use super::jpeg::MM_PER_INCH;
use super::kind::Kind;
use super::plane::{GreyImage, RgbImage, Turn, check_size};
use super::{PageImage, Reason, Wanted};

/// A file of one PNG or WebP as a page.
pub(super) fn page(bytes: &[u8], kind: Kind, wanted: Wanted) -> Result<PageImage, Reason> {
    match kind {
        Kind::Png => {
            let decoder = PngDecoder::with_limits(Cursor::new(bytes), no_limits()).map_err(|e| reason(&e))?;
            let dpi = png_density(bytes);
            // the header's bit depth and colour type (PNG specification 11.2.2): one bit, grey
            let bilevel = bytes.get(24..26) == Some(&[1, 0]);
            decoded(decoder, wanted).map(|page| PageImage { dpi, bilevel, ..page })
        }
        Kind::WebP => decoded(WebPDecoder::new(Cursor::new(bytes)).map_err(|e| reason(&e))?, wanted),
        _ => Err(Reason::NotRead("a kind that is no still image".into())),
    }
}

/// The size is held against our own limits before anything is decoded.
fn no_limits() -> Limits {
    Limits::no_limits()
}

fn decoded(mut decoder: impl ImageDecoder, wanted: Wanted) -> Result<PageImage, Reason> {
    let (width, height) = decoder.dimensions();
    check_size(width.into(), height.into())?;
    let coloured =
        !matches!(decoder.color_type(), ColorType::L8 | ColorType::La8 | ColorType::L16 | ColorType::La16);
    let turn = Turn::of_orientation(decoder.orientation().map_or(1, |o| o.to_exif().into()));
    let image = DynamicImage::from_decoder(decoder).map_err(|e| reason(&e))?;
    let (width, height) = (width as usize, height as usize);
    let (grey, colour) = if coloured {
        let pixels = on_white::<3>(image);
        let colour = RgbImage { width, height, pixels };
        (colour.grey(), wanted.colour.then_some(colour))
    } else {
        (GreyImage { width, height, pixels: on_white::<1>(image) }, None)
    };
    Ok(PageImage {
        number: 1,
        grey: turn.grey(grey),
        colour: colour.map(|c| turn.rgb(c)),
        bilevel: false,
        dpi: None,
    })
}

/// `N` channels of 8 bits, laid on white paper where the picture is transparent.
fn on_white<const N: usize>(image: DynamicImage) -> Vec<u8> {
    let transparent = image.color().has_alpha();
    let pixels = match (N, transparent) {
        (1, false) => return image.into_luma8().into_raw(),
        (1, true) => image.into_luma_alpha8().into_raw(),
        (_, false) => return image.into_rgb8().into_raw(),
        (_, true) => image.into_rgba8().into_raw(),
    };
    let mut out = Vec::with_capacity(pixels.len() / (N + 1) * N);
    for pixel in pixels.chunks_exact(N + 1) {
        let alpha = u32::from(pixel[N]);
        out.extend(
            pixel[..N].iter().map(|&v| ((u32::from(v) * alpha + 255 * (255 - alpha) + 127) / 255) as u8),
        );
    }
    out
}

fn reason(error: &ImageError) -> Reason {
    match error {
        ImageError::IoError(e) if e.kind() == std::io::ErrorKind::UnexpectedEof => Reason::CutShort,
        ImageError::Unsupported(_) => Reason::NotRead(error.to_string()),
        _ => Reason::Damaged(error.to_string()),
    }
}

/// The pHYs chunk (PNG specification 11.3.5.3): pixels a metre.
fn png_density(bytes: &[u8]) -> Option<(f64, f64)> {
    let mut at = 8;
    loop {
        let head = bytes.get(at..at + 8)?;
        let length = u32::from_be_bytes(head[..4].try_into().ok()?) as usize;
        match &head[4..] {
            b"pHYs" => break,
            b"IDAT" | b"IEND" => return None,
            _ => at = at.checked_add(length)?.checked_add(12)?,
        }
    }
    let body = bytes.get(at + 8..at + 17)?;
    let per_metre =
        |from: usize| Some(f64::from(u32::from_be_bytes(body.get(from..from + 4)?.try_into().ok()?)));
    let (x, y) = (per_metre(0)?, per_metre(4)?);
    (body[8] == 1 && x > 0.0 && y > 0.0).then_some((x * MM_PER_INCH / 1e3, y * MM_PER_INCH / 1e3))
}
