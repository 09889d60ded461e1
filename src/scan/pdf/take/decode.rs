//! One image of a PDF page, strictly: sizes first, then a decoder that refuses data that end early.

use std::borrow::Cow;

use hayro::hayro_interpret::{Image, ImageData, LumaData, Paint, RasterImage, StencilImage};
use hayro::hayro_syntax::Filter;
use hayro::hayro_syntax::object::{Dict, Object, Stream};

use super::super::super::ccitt::{self, EncodingMode, Fax};
use super::super::super::plane::{GreyImage, RgbImage, check_pixels};
use super::super::super::{Reason, Wanted, jpeg, limits};
use super::super::length::{self, Length};
use super::super::tree::{entry, parameters};

/// A decoded image, as stored.
pub(super) struct Decoded {
    pub grey: GreyImage,
    pub colour: Option<RgbImage>,
    pub bilevel: bool,
}

/// The coded data of an image.
pub(super) fn stream<'i>(image: &'i Image<'_, '_>) -> &'i Stream<'i> {
    match image {
        Image::Raster(raster) => raster.stream(),
        Image::Stencil(stencil) => stencil.stream(),
    }
}

/// Decodes an image. Wherever the pixels have to come from hayro (odd colour spaces, flate), the data are
/// first held against what the image's size asks for.
pub(super) fn image(image: &Image<'_, '_>, wanted: Wanted) -> Result<Decoded, Reason> {
    let (width, height) = (image.width(), image.height());
    check_pixels(width.into(), height.into(), limits::MAX_PIXELS)?;
    let stream = stream(image);
    let size = (width as usize, height as usize);
    let filters = stream.filters();
    let plain = is_plain(stream);
    let direct = match filters.last() {
        Some(Filter::DctDecode) => dct(stream, size, wanted, plain)?,
        Some(Filter::CcittFaxDecode) => Some(fax(stream, size)?),
        Some(Filter::Jbig2Decode) => Some(jbig2(stream, size)?),
        Some(Filter::JpxDecode) => {
            jpx(stream)?;
            None
        }
        _ => {
            packed(stream, size)?;
            None
        }
    };
    match (image, direct) {
        (Image::Raster(_), Some(decoded)) if plain => Ok(decoded),
        (Image::Raster(raster), _) => by_hayro(raster, stream, wanted),
        (Image::Stencil(stencil), _) => painted(stencil),
    }
}

/// How an image's samples are to be understood.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Colours {
    Grey,
    Rgb,
    /// Number of samples a pixel, where it shows.
    Other(Option<usize>),
    /// Left to the coding.
    Unsaid,
}

fn colours(stream: &Stream<'_>) -> Colours {
    let named = |name: &[u8]| match name {
        b"DeviceGray" | b"G" | b"CalGray" => Colours::Grey,
        b"DeviceRGB" | b"RGB" | b"CalRGB" => Colours::Rgb,
        b"DeviceCMYK" | b"CMYK" => Colours::Other(Some(4)),
        b"Lab" => Colours::Other(Some(3)),
        b"Indexed" | b"I" | b"Separation" => Colours::Other(Some(1)),
        _ => Colours::Other(None),
    };
    match entry(stream, b"ColorSpace", b"CS") {
        None => Colours::Unsaid,
        Some(Object::Name(name)) => named(name.as_ref()),
        Some(Object::Array(array)) => {
            let mut parts = array.iter::<Object<'_>>();
            let Some(Object::Name(kind)) = parts.next() else { return Colours::Other(None) };
            match (kind.as_ref(), parts.next()) {
                (b"ICCBased", Some(Object::Stream(profile))) => match profile.dict().get::<u8>(b"N") {
                    Some(1) => Colours::Grey,
                    Some(3) => Colours::Rgb,
                    n => Colours::Other(n.map(usize::from)),
                },
                (b"DeviceN", Some(Object::Array(inks))) => {
                    Colours::Other(Some(inks.iter::<Object<'_>>().count()))
                }
                (name, _) => named(name),
            }
        }
        Some(_) => Colours::Other(None),
    }
}

/// Grey or RGB samples from 0 = dark to full = light, which need no table.
fn is_plain(stream: &Stream<'_>) -> bool {
    let decode = match entry(stream, b"Decode", b"D") {
        Some(Object::Array(array)) => array.iter::<f32>().collect::<Vec<_>>(),
        _ => Vec::new(),
    };
    let upright = decode.chunks(2).all(|range| range == [0.0, 1.0]);
    upright && !matches!(colours(stream), Colours::Other(_))
}

/// Nothing outside the stream and its dictionary changes what it shows.
pub(super) fn stands_by_itself(stream: &Stream<'_>) -> bool {
    let globals = (0..stream.filters().len()).any(|i| parameters(stream, i).contains_key(b"JBIG2Globals"));
    is_plain(stream) && !globals
}

/// The data before the last filter.
fn before_last<'a>(stream: &Stream<'a>) -> Result<Cow<'a, [u8]>, Reason> {
    let filters = stream.filters();
    let mut data = stream.raw_data();
    for filter in &filters[..filters.len().saturating_sub(1)] {
        data = Cow::Owned(match filter {
            Filter::Crypt => continue,
            Filter::FlateDecode => inflate(&data)?,
            Filter::Ascii85Decode => ascii85(&data)?,
            Filter::AsciiHexDecode => ascii_hex(&data)?,
            other => {
                return Err(Reason::NotRead(format!(
                    "a page with an image in an unusual coding ({other:?} first)"
                )));
            }
        });
    }
    Ok(data)
}

fn inflate(data: &[u8]) -> Result<Vec<u8>, Reason> {
    use std::io::Read;
    let limit = limits::MAX_IMAGE_FILE_BYTES;
    let mut out = Vec::new();
    let decoder = flate2::read::ZlibDecoder::new(data);
    decoder.take(limit + 1).read_to_end(&mut out).map_err(|e| Reason::Damaged(e.to_string()))?;
    if out.len() as u64 > limit { Err(too_much()) } else { Ok(out) }
}

fn too_much() -> Reason {
    Reason::Damaged("an image unpacks to more than its size allows".into())
}

/// ISO 32000-1, 7.4.3: five letters from `!` to `u` stand for four bytes, `z` for four zeros, `~>` ends.
fn ascii85(data: &[u8]) -> Result<Vec<u8>, Reason> {
    let damaged = || Reason::Damaged("letters that are no base 85".into());
    let (mut out, mut group, mut count) = (Vec::with_capacity(data.len() / 5 * 4), 0u64, 0);
    let mut ended = false;
    for &byte in data {
        match byte {
            b'!'..=b'u' => {
                group = group * 85 + u64::from(byte - b'!');
                count += 1;
                if count == 5 {
                    out.extend(u32::try_from(group).map_err(|_| damaged())?.to_be_bytes());
                    (group, count) = (0, 0);
                }
            }
            b'z' if count == 0 => out.extend([0; 4]),
            b'~' => {
                ended = true;
                break;
            }
            byte if byte.is_ascii_whitespace() || byte == 0 => {}
            _ => return Err(damaged()),
        }
    }
    if !ended {
        return Err(Reason::CutShort);
    }
    if count > 1 {
        for _ in count..5 {
            group = group * 85 + 84;
        }
        let bytes = u32::try_from(group).map_err(|_| damaged())?.to_be_bytes();
        out.extend(&bytes[..count - 1]);
    }
    Ok(out)
}

/// ISO 32000-1, 7.4.2: two digits a byte, `>` ends.
fn ascii_hex(data: &[u8]) -> Result<Vec<u8>, Reason> {
    let end = data.iter().position(|&b| b == b'>').ok_or(Reason::CutShort)?;
    let digits: Option<Vec<u8>> = data[..end]
        .iter()
        .filter(|b| !b.is_ascii_whitespace())
        .map(|&b| char::from(b).to_digit(16).map(|d| d as u8))
        .collect();
    let digits = digits.ok_or_else(|| Reason::Damaged("letters that are no digits".into()))?;
    Ok(digits.chunks(2).map(|pair| pair[0] << 4 | pair.get(1).unwrap_or(&0)).collect())
}

/// `None` where the samples need hayro's colour tables, after a strict decode has found them whole.
fn dct(
    stream: &Stream<'_>,
    size: (usize, usize),
    wanted: Wanted,
    plain: bool,
) -> Result<Option<Decoded>, Reason> {
    let data = before_last(stream)?;
    let header = jpeg::header_of_part(&data)?;
    if (header.width, header.height) != size {
        return Err(Reason::Damaged("an image is of another size than the page says".into()));
    }
    let (grey, colour) = jpeg::decode(&data, &header, wanted)?;
    let usual = plain && header.components != 4;
    Ok(usual.then_some(Decoded { grey, colour, bilevel: false }))
}

fn last_parameters<'a>(stream: &Stream<'a>) -> Dict<'a> {
    parameters(stream, stream.filters().len().saturating_sub(1))
}

fn fax(stream: &Stream<'_>, (width, height): (usize, usize)) -> Result<Decoded, Reason> {
    let data = before_last(stream)?;
    let given = last_parameters(stream);
    let columns = given.get::<u32>(b"Columns").unwrap_or(1_728) as usize;
    if columns != width {
        return Err(Reason::Damaged("an image is of another size than the page says".into()));
    }
    let flag = |name: &[u8]| given.get::<bool>(name).unwrap_or(false);
    let encoding = match given.get::<i32>(b"K").unwrap_or(0) {
        k if k < 0 => EncodingMode::Group4,
        0 => EncodingMode::Group3_1D,
        _ => EncodingMode::Group3_2D,
    };
    let fax =
        Fax { encoding, width, height, byte_aligned: flag(b"EncodedByteAlign"), inverted: flag(b"BlackIs1") };
    let mut pixels = Vec::new();
    ccitt::decode(&data, fax, &mut pixels)?;
    Ok(Decoded { grey: GreyImage { width, height, pixels }, colour: None, bilevel: true })
}

fn jbig2(stream: &Stream<'_>, size: (usize, usize)) -> Result<Decoded, Reason> {
    use hayro_jbig2::{DecodeSettings, Decoder, Globals, Page};

    struct Rows(Vec<u8>);
    impl Decoder for Rows {
        fn push_pixel(&mut self, black: bool) {
            self.0.push(if black { 0 } else { 255 });
        }
        fn push_pixel_chunk(&mut self, black: bool, chunk_count: u32) {
            let length = self.0.len() + 8 * chunk_count as usize;
            self.0.resize(length, if black { 0 } else { 255 });
        }
        fn next_line(&mut self) {}
    }

    let damaged = |e: &dyn std::fmt::Display| Reason::Damaged(format!("JBIG2 coding: {e}"));
    let strict = DecodeSettings { strict: true };
    let data = before_last(stream)?;
    let globals = match last_parameters(stream).get::<Stream<'_>>(b"JBIG2Globals") {
        Some(shared) => {
            let bytes = shared
                .decoded_data()
                .map_err(|_| Reason::Damaged("JBIG2 symbols cannot be unpacked".into()))?;
            Some(Globals::new(&bytes, &strict).map_err(|e| damaged(&e))?)
        }
        None => None,
    };
    let page = Page::new_embedded(&data, globals.as_ref(), &strict).map_err(|e| damaged(&e))?;
    check_pixels(page.width().into(), page.height().into(), limits::MAX_PIXELS)?;
    let (width, height) = (page.width() as usize, page.height() as usize);
    if (width, height) != size {
        return Err(Reason::Damaged("an image is of another size than the page says".into()));
    }
    let mut rows = Rows(Vec::with_capacity(width * height));
    page.decode(&mut rows).map_err(|e| damaged(&e))?;
    if rows.0.len() != width * height {
        return Err(Reason::CutShort);
    }
    Ok(Decoded { grey: GreyImage { width, height, pixels: rows.0 }, colour: None, bilevel: true })
}

/// JPEG 2000 is left to hayro; its own size (marker SIZ, ISO/IEC 15444-1, A.5.1) is looked at first.
fn jpx(stream: &Stream<'_>) -> Result<(), Reason> {
    let data = before_last(stream)?;
    let begin = length::positions(&data, b"\xFF\x4F\xFF\x51")
        .next()
        .ok_or_else(|| Reason::Damaged("it is no JPEG 2000".into()))?;
    let number = |at: usize| {
        let bytes = data.get(begin + at..begin + at + 4).ok_or(Reason::CutShort)?;
        Ok::<u64, Reason>(bytes.iter().fold(0, |n, &b| n << 8 | u64::from(b)))
    };
    let (width, height) = (number(8)?.saturating_sub(number(16)?), number(12)?.saturating_sub(number(20)?));
    check_pixels(width, height, limits::MAX_PIXELS)?;
    if data.ends_with(b"\xFF\xD9") || data.trim_ascii_end().ends_with(b"\xFF\xD9") {
        Ok(())
    } else {
        Err(Reason::CutShort)
    }
}

/// Plain samples, packed or not: as many as the size asks for, and no flood of them.
fn packed(stream: &Stream<'_>, (width, height): (usize, usize)) -> Result<(), Reason> {
    let given = last_parameters(stream);
    let bits = match entry(stream, b"BitsPerComponent", b"BPC") {
        Some(Object::Number(n)) => n.as_f64() as usize,
        _ => 1,
    };
    let samples = match colours(stream) {
        Colours::Grey | Colours::Unsaid => 1,
        Colours::Rgb => 3,
        Colours::Other(Some(n)) => n,
        Colours::Other(None) => 1,
    };
    let row_bytes = width.saturating_mul(bits * samples).div_ceil(8);
    // PNG's predictors set a byte before each row
    let filtered = given.get::<i32>(b"Predictor").unwrap_or(1) >= 10;
    let needed = height.saturating_mul(row_bytes + usize::from(filtered));
    let cap = needed.max(limits::MAX_PIXELS as usize * 4);
    let early = given.get::<i32>(b"EarlyChange").unwrap_or(1) != 0;
    let (data, last) = (before_last(stream)?, stream.filters().last().copied());
    let found = match last {
        None | Some(Filter::Crypt) => Length { bytes: data.len(), clean: true },
        Some(Filter::FlateDecode) => length::of_flate(&data, cap),
        Some(Filter::LzwDecode) => length::of_lzw(&data, early, cap),
        Some(Filter::RunLengthDecode) => length::of_runs(&data, cap),
        Some(Filter::Ascii85Decode) => Length { bytes: ascii85(&data)?.len(), clean: true },
        Some(Filter::AsciiHexDecode) => Length { bytes: ascii_hex(&data)?.len(), clean: true },
        Some(_) => return Err(Reason::NotRead("an image in a coding of its own".into())),
    };
    if found.bytes > cap {
        return Err(too_much());
    }
    if found.bytes < needed { Err(Reason::CutShort) } else { Ok(()) }
}

fn by_hayro(raster: &RasterImage<'_>, stream: &Stream<'_>, wanted: Wanted) -> Result<Decoded, Reason> {
    let mut taken = None;
    raster.with_rgba(|data, _| taken = Some(data), None);
    let bits = match entry(stream, b"BitsPerComponent", b"BPC") {
        Some(Object::Number(n)) => n.as_f64() as u8,
        _ => 8,
    };
    let one_bit_coding =
        matches!(stream.filters().last(), Some(Filter::CcittFaxDecode | Filter::Jbig2Decode));
    let bilevel = bits == 1 || one_bit_coding;
    match taken {
        Some(ImageData::Luma(luma)) => Ok(Decoded { grey: plane(luma), colour: None, bilevel }),
        Some(ImageData::Rgb(rgb)) => {
            let colour =
                RgbImage { width: rgb.width as usize, height: rgb.height as usize, pixels: rgb.data };
            Ok(Decoded { grey: colour.grey(), colour: wanted.colour.then_some(colour), bilevel })
        }
        None => Err(Reason::Damaged("an image cannot be decoded".into())),
    }
}

fn plane(luma: LumaData) -> GreyImage {
    GreyImage { width: luma.width as usize, height: luma.height as usize, pixels: luma.data }
}

/// A stencil: paint where the mask lets it through, white paper elsewhere.
fn painted(stencil: &StencilImage<'_, '_>) -> Result<Decoded, Reason> {
    let mut result = Err(Reason::Damaged("an image cannot be decoded".into()));
    stencil.with_stencil(
        |mask, paint| {
            let Paint::Color(colour) = paint else {
                result = Err(Reason::NotRead("a page painted with a pattern".into()));
                return;
            };
            let ink = RgbImage { width: 1, height: 1, pixels: colour.to_rgba().to_rgba8()[..3].to_vec() }
                .grey()
                .pixels[0];
            let mut grey = plane(mask);
            for pixel in &mut grey.pixels {
                let (through, ink) = (u32::from(*pixel), u32::from(ink));
                *pixel = ((through * ink + (255 - through) * 255 + 127) / 255) as u8;
            }
            result = Ok(Decoded { grey, colour: None, bilevel: true });
        },
        None,
    );
    result
}
