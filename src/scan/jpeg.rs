//! JPEG: header read by hand (size, way up, resolution, coding), pixels by zune-jpeg in strict mode.
//!
//! By default decoders fill up what a cut-off file lacks and say nothing; strict mode refuses. Markers:
//! ITU-T T.81, annex B; density: JFIF 1.02 and EXIF 2.3.

use std::collections::BTreeMap;

use exif::{In, Tag, Value};
use zune_jpeg::JpegDecoder;
use zune_jpeg::zune_core::bytestream::ZCursor;
use zune_jpeg::zune_core::colorspace::ColorSpace;
use zune_jpeg::zune_core::options::DecoderOptions;

use super::plane::{GreyImage, RgbImage, Turn, check_pixels, check_size};
use super::{PageImage, Reason, Wanted, limits};

/// What a JPEG's header tells.
#[derive(Debug, Default, PartialEq)]
pub(super) struct Header {
    pub width: usize,
    pub height: usize,
    /// 1 = grey, 3 = colours, 4 = inks.
    pub components: u8,
    pub progressive: bool,
    /// EXIF orientation, 1 to 8; 1 where none is given.
    pub orientation: u32,
    pub dpi: Option<(f64, f64)>,
    /// Where the first scan's marker ends.
    pub scan_at: usize,
}

/// A file of one JPEG as a page.
pub(super) fn page(bytes: &[u8], wanted: Wanted) -> Result<PageImage, Reason> {
    let header = header(bytes)?;
    let (grey, colour) = decode(bytes, &header, wanted)?;
    let turn = Turn::of_orientation(header.orientation);
    Ok(PageImage {
        number: 1,
        grey: turn.grey(grey),
        colour: colour.map(|c| turn.rgb(c)),
        bilevel: false,
        dpi: header.dpi.map(|(x, y)| if turn.swap { (y, x) } else { (x, y) }),
    })
}

/// Reads the header and holds the size against the limits.
pub(super) fn header(bytes: &[u8]) -> Result<Header, Reason> {
    let found = header_of_part(bytes)?;
    check_size(found.width as u64, found.height as u64)?;
    Ok(found)
}

/// Reads the header of a JPEG that may be a strip of a page; only the upper limits hold.
pub(super) fn header_of_part(bytes: &[u8]) -> Result<Header, Reason> {
    let mut found = Header { orientation: 1, ..Header::default() };
    let mut at = 2; // after FF D8
    loop {
        let Some(marker) = next_marker(bytes, &mut at) else { return Err(Reason::CutShort) };
        match marker {
            0xDA => break,                        // the scan begins
            0xD9 => return Err(Reason::CutShort), // the end before any scan
            0x01 | 0xD0..=0xD8 => continue,       // markers without a segment
            _ => {}
        }
        let body = segment(bytes, &mut at).ok_or(Reason::CutShort)?;
        match marker {
            0xC0..=0xC2 => read_frame(marker, body, &mut found)?,
            0xC3 | 0xC5..=0xC7 => return Err(Reason::NotRead("a lossless or hierarchical JPEG".into())),
            0xC9..=0xCB | 0xCD..=0xCF => return Err(Reason::NotRead("an arithmetic-coded JPEG".into())),
            0xE0 => found.dpi = jfif_density(body).or(found.dpi),
            0xE1 => read_exif(body, &mut found),
            _ => {}
        }
    }
    found.scan_at = at;
    if found.components == 0 {
        return Err(Reason::Damaged("it has no frame header".into()));
    }
    let limit = if found.progressive { limits::MAX_PROGRESSIVE_PIXELS } else { limits::MAX_PIXELS };
    check_pixels(found.width as u64, found.height as u64, limit)?;
    Ok(found)
}

/// The next marker's code; bytes between segments that are no marker are passed over.
fn next_marker(bytes: &[u8], at: &mut usize) -> Option<u8> {
    let begin = *at + bytes.get(*at..)?.windows(2).position(|w| w[0] == 0xFF && w[1] != 0xFF && w[1] != 0)?;
    *at = begin + 2;
    Some(bytes[begin + 1])
}

/// A segment's body; `at` goes on behind it.
fn segment<'a>(bytes: &'a [u8], at: &mut usize) -> Option<&'a [u8]> {
    let length = usize::from(u16::from_be_bytes(bytes.get(*at..*at + 2)?.try_into().ok()?));
    let body = bytes.get(*at + 2..*at + length)?;
    *at += length;
    Some(body)
}

fn read_frame(marker: u8, body: &[u8], found: &mut Header) -> Result<(), Reason> {
    let &[precision, h1, h0, w1, w0, components, ..] = body else { return Err(Reason::CutShort) };
    if precision != 8 {
        return Err(Reason::NotRead(format!("a JPEG of {precision} bits a sample")));
    }
    found.height = usize::from(u16::from_be_bytes([h1, h0]));
    found.width = usize::from(u16::from_be_bytes([w1, w0]));
    found.components = components;
    found.progressive = marker == 0xC2;
    if found.height == 0 {
        // T.81 allows the height to follow the scan; no scanner in use does it
        return Err(Reason::NotRead("a JPEG that gives its height at its end".into()));
    }
    Ok(())
}

fn jfif_density(body: &[u8]) -> Option<(f64, f64)> {
    let rest = body.strip_prefix(b"JFIF\0")?;
    let &[_, _, unit, x1, x0, y1, y0, ..] = rest else { return None };
    let (x, y) = (f64::from(u16::from_be_bytes([x1, x0])), f64::from(u16::from_be_bytes([y1, y0])));
    let per_inch = match unit {
        1 => 1.0,
        2 => MM_PER_INCH / 10.0,
        _ => return None,
    };
    (x > 0.0 && y > 0.0).then_some((x * per_inch, y * per_inch))
}

/// Millimetres an inch; densities come a centimetre or an inch.
pub(super) const MM_PER_INCH: f64 = 25.4;

/// Orientation and resolution, as far as the EXIF block can be read; a broken block is no reason to refuse.
fn read_exif(body: &[u8], found: &mut Header) {
    let Some(block) = body.strip_prefix(b"Exif\0\0") else { return };
    let Ok(exif) = exif::Reader::new().read_raw(block.to_vec()) else { return };
    let number = |tag| exif.get_field(tag, In::PRIMARY).and_then(|f| f.value.get_uint(0));
    if let Some(value @ 1..=8) = number(Tag::Orientation) {
        found.orientation = value;
    }
    let ratio = |tag| match exif.get_field(tag, In::PRIMARY).map(|f| &f.value) {
        Some(Value::Rational(v)) => v.first().map(|r| r.to_f64()).filter(|d| d.is_finite() && *d > 0.0),
        _ => None,
    };
    let per_inch = if number(Tag::ResolutionUnit) == Some(3) { MM_PER_INCH / 10.0 } else { 1.0 };
    if let (Some(x), Some(y)) = (ratio(Tag::XResolution), ratio(Tag::YResolution)) {
        found.dpi = Some((x * per_inch, y * per_inch));
    }
}

/// Decodes strictly: the grey plane, and the colours where they are wanted and there are any.
///
/// Where colours are wanted the grey is made from them; it may differ by a level or two from the grey alone.
pub(super) fn decode(
    bytes: &[u8],
    header: &Header,
    wanted: Wanted,
) -> Result<(GreyImage, Option<RgbImage>), Reason> {
    let (width, height) = (header.width, header.height);
    let (pixels, space) = strictly(bytes, header, |stored| match stored {
        ColorSpace::Luma => ColorSpace::Luma,
        ColorSpace::YCbCr if !wanted.colour => ColorSpace::Luma,
        // inks and plain colours must go through colours
        _ => ColorSpace::RGB,
    })?;
    let holds = |channels: usize| pixels.len() == width * height * channels;
    match space {
        ColorSpace::Luma if holds(1) => Ok((GreyImage { width, height, pixels }, None)),
        ColorSpace::RGB if holds(3) => {
            let colour = RgbImage { width, height, pixels };
            Ok((colour.grey(), wanted.colour.then_some(colour)))
        }
        _ => Err(Reason::NotRead("a JPEG of unusual colours".into())),
    }
}

/// Three channels as they are coded, with no change of colour space: for containers that say themselves
/// what the channels mean.
pub(super) fn decode_channels(bytes: &[u8], header: &Header) -> Result<RgbImage, Reason> {
    let (pixels, _) = strictly(bytes, header, |stored| stored)?;
    if header.components != 3 || pixels.len() != header.width * header.height * 3 {
        return Err(Reason::NotRead("a JPEG of unusual colours".into()));
    }
    Ok(RgbImage { width: header.width, height: header.height, pixels })
}

/// What stands in place of the end marker: the decoder reads a few bytes ahead of what it needs.
const BEHIND_THE_END: [u8; 8] = [0; 8];

/// Decodes into the colour space that `choose` picks for the one that is stored.
fn strictly(
    bytes: &[u8],
    header: &Header,
    choose: impl Fn(ColorSpace) -> ColorSpace,
) -> Result<(Vec<u8>, ColorSpace), Reason> {
    // At an end marker that comes too early the decoder fills up with zeros even when it is strict; at
    // the end of the bytes it does not. So a picture of one pass is given to it without the marker.
    // A progressive one needs the marker; it is asked whether all its passes are there. One that was cut within its
    // last pass and closed again cannot be told from a whole one: what is missing there is the last bit of some
    // coefficients, and a pass may end before its rows do.
    if header.progressive && !has_all_passes(bytes, header) {
        return Err(Reason::CutShort);
    }
    let without_end = match find_end(bytes, header.scan_at) {
        Some(end) if !header.progressive => [&bytes[..end], BEHIND_THE_END.as_slice()].concat(),
        _ => Vec::new(),
    };
    let bytes = if without_end.is_empty() { bytes } else { &without_end };
    let options = DecoderOptions::default()
        .set_strict_mode(true)
        .set_max_width(usize::from(u16::MAX))
        .set_max_height(usize::from(u16::MAX))
        .jpeg_set_max_scans(limits::MAX_JPEG_SCANS);
    let damaged = |e: zune_jpeg::errors::DecodeErrors| Reason::Damaged(e.to_string());
    let mut decoder = JpegDecoder::new_with_options(ZCursor::new(bytes), options);
    decoder.decode_headers().map_err(damaged)?;
    let space = choose(decoder.input_colorspace().unwrap_or(ColorSpace::YCbCr));
    let mut decoder =
        JpegDecoder::new_with_options(ZCursor::new(bytes), options.jpeg_set_out_colorspace(space));
    let pixels = decoder.decode().map_err(damaged)?;
    Ok((pixels, decoder.output_colorspace().unwrap_or(space)))
}

/// Coefficients of a block.
const COEFFICIENTS: usize = 64;

/// Whether the scans of a progressive JPEG bring every coefficient of every component down to its last bit (T.81, annex
/// G.1.1.1: band of coefficients `Ss` to `Se`, point transform `Al`).
fn has_all_passes(bytes: &[u8], header: &Header) -> bool {
    let mut fine: BTreeMap<u8, [bool; COEFFICIENTS]> = BTreeMap::new();
    let mut at = header.scan_at;
    loop {
        // The scan's header: how many components, two bytes for each, then Ss, Se, Ah and Al.
        let Some((&count, body)) = segment(bytes, &mut at).and_then(<[u8]>::split_first) else {
            return false;
        };
        let Some((components, band)) = body.split_at_checked(2 * usize::from(count)) else { return false };
        let &[first, last, bits, ..] = band else { return false };
        for component in components.chunks_exact(2) {
            let seen = fine.entry(component[0]).or_insert([false; COEFFICIENTS]);
            if let Some(band) = seen.get_mut(usize::from(first)..=usize::from(last)) {
                band.fill(bits & 0x0F == 0);
            }
        }
        loop {
            match next_marker(bytes, &mut at) {
                Some(0x01 | 0xD0..=0xD7) => {}
                Some(0xDA) => break,
                Some(0xD9) | None => {
                    let whole = fine.values().filter(|seen| seen.iter().all(|&f| f)).count();
                    return whole >= usize::from(header.components);
                }
                Some(_) => {
                    if segment(bytes, &mut at).is_none() {
                        return false;
                    }
                }
            }
        }
    }
}

/// Where the end marker stands, from the scan's begin on.
fn find_end(bytes: &[u8], from: usize) -> Option<usize> {
    let scan = bytes.get(from..)?;
    let mut at = 0;
    loop {
        at += scan[at..].iter().position(|&b| b == 0xFF)?;
        if *scan.get(at + 1)? == 0xD9 {
            return Some(from + at);
        }
        at += 1;
    }
}
