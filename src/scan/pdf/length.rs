//! How long packed data become, counted without keeping them: a few kilobytes of flate may stand for
//! gigabytes, and hayro unpacks without a limit.

use std::io::Read;

use flate2::read::ZlibDecoder;
use hayro::hayro_syntax::Filter;
use hayro::hayro_syntax::Pdf;
use hayro::hayro_syntax::object::{Object, Stream};

use super::super::{Reason, limits};

/// The most that flate and LZW can grow: 1,032-fold (RFC 1951: 258 bytes from 2 bits) and 4,096 from 12 bits.
const MAX_GROWTH: usize = 2_732;

/// Length of what a stream unpacks to, and whether its data end as they should.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Length {
    pub bytes: usize,
    pub clean: bool,
}

/// Counts up to `cap` bytes and a little more.
pub(super) fn of_flate(data: &[u8], cap: usize) -> Length {
    let mut decoder = ZlibDecoder::new(data);
    let mut buffer = vec![0; 1 << 16];
    let mut bytes = 0;
    while bytes <= cap {
        match decoder.read(&mut buffer) {
            Ok(0) => return Length { bytes, clean: true },
            Ok(n) => bytes += n,
            Err(e) if e.kind() == std::io::ErrorKind::Interrupted => {}
            Err(_) => return Length { bytes, clean: false },
        }
    }
    Length { bytes, clean: false }
}

/// LZW as PDF and TIFF have it (ISO 32000-1, 7.4.4): codes of 9 to 12 bits, 256 = start again, 257 = end.
pub(super) fn of_lzw(data: &[u8], early: bool, cap: usize) -> Length {
    let mut lengths: Vec<usize> = Vec::with_capacity(4_096);
    let (mut bytes, mut bits, mut held) = (0, 0u32, 0u32);
    let mut previous = 0;
    let mut input = data.iter();
    while bytes <= cap {
        let wide = match 258 + lengths.len() + usize::from(early) + usize::from(previous != 0) {
            0..=512 => 9,
            513..=1_024 => 10,
            1_025..=2_048 => 11,
            _ => 12,
        };
        while bits < wide {
            let Some(&byte) = input.next() else { return Length { bytes, clean: false } };
            held = held << 8 & 0xFF_FFFF | u32::from(byte);
            bits += 8;
        }
        bits -= wide;
        let code = (held >> bits & ((1 << wide) - 1)) as usize;
        match code {
            256 => {
                lengths.clear();
                previous = 0;
                continue;
            }
            257 => return Length { bytes, clean: true },
            _ => {}
        }
        let length = match code {
            0..=255 => 1,
            // the one code that stands for the string just being made
            _ if code == 258 + lengths.len() && previous != 0 => previous + 1,
            _ => match lengths.get(code - 258) {
                Some(&length) => length,
                None => return Length { bytes, clean: false },
            },
        };
        if previous != 0 && lengths.len() < 4_096 - 258 {
            lengths.push(previous + 1);
        }
        previous = length;
        bytes += length;
    }
    Length { bytes, clean: false }
}

/// Run lengths (ISO 32000-1, 7.4.5).
pub(super) fn of_runs(data: &[u8], cap: usize) -> Length {
    let (mut at, mut bytes) = (0, 0);
    while bytes <= cap {
        match data.get(at) {
            None => return Length { bytes, clean: false },
            Some(128) => return Length { bytes, clean: true },
            Some(&n) if n < 128 => {
                let n = usize::from(n) + 1;
                at += 1 + n;
                bytes += n;
            }
            Some(&n) => {
                at += 2;
                bytes += 257 - usize::from(n);
            }
        }
    }
    Length { bytes, clean: false }
}

/// Refuses a file whose drawing instructions, fonts or tables would unpack beyond
/// [`limits::MAX_CONTENT_BYTES`]; images are held to their own size when they are decoded.
///
/// `release` gives back the memory of what has been looked at.
pub(super) fn check_streams(pdf: &Pdf, release: impl Fn()) -> Result<(), Reason> {
    for (i, object) in pdf.objects().into_iter().enumerate() {
        if i % OBJECTS_A_RELEASE == 0 {
            release();
        }
        if let Object::Stream(stream) = object {
            check_stream(&stream)?;
        }
    }
    Ok(())
}

/// A touched object keeps up to 128 kB of a mapped file in memory.
const OBJECTS_A_RELEASE: usize = 32;

fn check_stream(stream: &Stream<'_>) -> Result<(), Reason> {
    let image = stream.dict().contains_key(b"Width") && stream.dict().contains_key(b"Height");
    if image {
        return Ok(());
    }
    let packers = stream.filters().iter().filter(|f| is_packer(**f)).count();
    if packers == 0 {
        return Ok(());
    }
    let data = stream.raw_data();
    if data.len().saturating_mul(MAX_GROWTH.saturating_pow(packers as u32)) <= limits::MAX_CONTENT_BYTES {
        return Ok(());
    }
    let cap = limits::MAX_CONTENT_BYTES;
    let length = match stream.filters().as_slice() {
        [Filter::FlateDecode] => of_flate(&data, cap),
        [Filter::LzwDecode] => of_lzw(&data, true, cap),
        [Filter::RunLengthDecode] => of_runs(&data, cap),
        _ => return Err(Reason::NotRead("a PDF with instructions packed twice over".into())),
    };
    if length.bytes > cap { Err(too_long()) } else { Ok(()) }
}

fn is_packer(filter: Filter) -> bool {
    matches!(filter, Filter::FlateDecode | Filter::LzwDecode | Filter::RunLengthDecode)
}

fn too_long() -> Reason {
    Reason::Damaged(format!("a part of it unpacks to more than {} MB", limits::MAX_CONTENT_BYTES >> 20))
}

/// The streams that hold other objects are unpacked while a PDF is opened, so they are found by their
/// name in the bytes and counted before that.
pub(super) fn check_object_streams(data: &[u8], release: impl Fn()) -> Result<(), Reason> {
    for from in (0..data.len()).step_by(STEP_BYTES) {
        // a name on the border of two steps is seen in the first
        let step = &data[from..data.len().min(from + STEP_BYTES + b"/ObjStm".len() - 1)];
        for name in [b"/ObjStm".as_slice(), b"/XRef"] {
            for at in positions(step, name) {
                check_object_stream(&data[from + at..])?;
            }
        }
        release();
    }
    Ok(())
}

/// Bytes searched between two releases of the mapping.
const STEP_BYTES: usize = 4 << 20;

/// `data` begins at the type in the stream's dictionary.
fn check_object_stream(data: &[u8]) -> Result<(), Reason> {
    let Some(begin) = positions(&data[..data.len().min(DICTIONARY_BYTES)], b"stream").next() else {
        return Ok(());
    };
    let body = &data[begin + b"stream".len()..];
    let body = body.strip_prefix(b"\r").unwrap_or(body);
    let body = body.strip_prefix(b"\n").unwrap_or(body);
    let length = of_flate(body, limits::MAX_CONTENT_BYTES);
    if length.bytes > limits::MAX_CONTENT_BYTES { Err(too_long()) } else { Ok(()) }
}

/// How far behind its type a dictionary's end is looked for.
const DICTIONARY_BYTES: usize = 4_096;

/// Where `name` stands in `data`.
pub(super) fn positions<'a>(data: &'a [u8], name: &'a [u8]) -> impl Iterator<Item = usize> + 'a {
    let mut from = 0;
    std::iter::from_fn(move || {
        loop {
            let step = data.get(from..)?.iter().position(|&b| b == name[0])?;
            let at = from + step;
            from = at + 1;
            if data[at..].starts_with(name) {
                return Some(at);
            }
        }
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::io::Write;

    #[test]
    fn flate_is_counted_not_kept() {
        let mut packer = flate2::write::ZlibEncoder::new(Vec::new(), flate2::Compression::best());
        packer.write_all(&vec![7; 3_000_000]).unwrap();
        let packed = packer.finish().unwrap();
        assert_eq!(of_flate(&packed, usize::MAX - 1), Length { bytes: 3_000_000, clean: true });
        assert!(of_flate(&packed, 100_000).bytes < 300_000);
        let half = of_flate(&packed[..packed.len() / 2], usize::MAX - 1);
        assert!(!half.clean && half.bytes < 3_000_000);
    }

    /// The example of ISO 32000-1, 7.4.4.2: 45 45 45 45 45 65 45 45 45 66.
    #[test]
    fn lzw_of_the_standard() {
        let coded = [0x80, 0x0B, 0x60, 0x50, 0x22, 0x0C, 0x0C, 0x85, 0x01];
        assert_eq!(of_lzw(&coded, true, 1_000), Length { bytes: 10, clean: true });
    }

    #[test]
    fn runs() {
        assert_eq!(of_runs(&[2, 1, 2, 3, 254, 9, 128], 100), Length { bytes: 6, clean: true });
        assert_eq!(of_runs(&[254, 9], 100), Length { bytes: 3, clean: false });
    }

    #[test]
    fn names_are_found() {
        assert_eq!(positions(b"a/XRef /XRe /XRef", b"/XRef").collect::<Vec<_>>(), [1, 12]);
    }
}
