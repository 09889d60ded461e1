//! TIFF of many pages: fax groups 3 and 4, JPEG, and what the tiff crate decodes (LZW, deflate, packed
//! bits, plain), at 1 to 16 bits, grey, palette and colour (TIFF 6.0; JPEG: Technical Note 2; BigTIFF).
//!
//! The chain of directories is walked by hand on opening, so that one broken page costs no other. Fax and
//! JPEG strips are decoded strictly here, since the tiff crate fills up what a cut-off strip lacks.

use std::collections::HashSet;
use std::fs::File;
use std::io::{BufReader, Read, Seek, SeekFrom};
use std::path::{Path, PathBuf};

use sha2::{Digest, Sha256};
use tiff::decoder::{ChunkType, Decoder, DecodingResult, Limits};
use tiff::tags::{CompressionMethod, PhotometricInterpretation, Tag};
use tiff::{ColorType, TiffError};

use super::ccitt::{self, EncodingMode, Fax};
use super::jpeg::{self, MM_PER_INCH};
use super::plane::{GreyImage, RgbImage, Turn, check_size};
use super::{PageImage, Reason, Wanted, limits};

/// A TIFF file whose directories are known.
pub(super) struct TiffFile {
    path: PathBuf,
    layout: Layout,
    /// Where each page's directory stands in the file.
    pages: Vec<u64>,
    damage: Option<Reason>,
}

/// Byte order and width of offsets.
#[derive(Clone, Copy)]
struct Layout {
    little_endian: bool,
    big: bool,
}

impl Layout {
    fn number(self, bytes: &[u8]) -> u64 {
        let join = |n: u64, &b: &u8| n << 8 | u64::from(b);
        if self.little_endian { bytes.iter().rev().fold(0, join) } else { bytes.iter().fold(0, join) }
    }

    /// The first bytes of a file whose first directory stands at `offset`.
    fn header(self, offset: u64) -> Vec<u8> {
        let order = if self.little_endian { *b"II" } else { *b"MM" };
        let bytes = |value: u64, count: usize| {
            let all = value.to_be_bytes();
            let mut cut = all[8 - count..].to_vec();
            if self.little_endian {
                cut.reverse();
            }
            cut
        };
        let rest = if self.big {
            [bytes(43, 2), bytes(8, 2), bytes(0, 2), bytes(offset, 8)].concat()
        } else {
            [bytes(42, 2), bytes(offset, 4)].concat()
        };
        [order.to_vec(), rest].concat()
    }
}

impl TiffFile {
    /// Walks the chain of directories; thumbnails and masks (tag 254, bits 0 and 2) are no pages.
    pub(super) fn open(path: &Path) -> Result<Self, Reason> {
        let mut file = BufReader::new(File::open(path).map_err(Reason::io)?);
        let mut head = [0; 16];
        let got = read_some(&mut file, &mut head)?;
        let layout = Layout { little_endian: head[0] == b'I', big: head[2].max(head[3]) == 43 };
        let (at, wide) = if layout.big { (8, 8) } else { (4, 4) };
        if got < at + wide {
            return Err(Reason::CutShort);
        }
        let mut next = layout.number(&head[at..at + wide]);
        let (mut pages, mut seen, mut damage) = (Vec::new(), HashSet::new(), None);
        while next != 0 {
            if !seen.insert(next) {
                damage = Some(Reason::Damaged("its list of pages runs in a circle".into()));
                break;
            }
            if seen.len() > limits::MAX_PAGES {
                return Err(Reason::TooManyPages { pages: seen.len() });
            }
            let Some(directory) = read_directory(&mut file, layout, next)? else {
                damage = Some(Reason::CutShort);
                break;
            };
            if !directory.aside {
                pages.push(next);
            }
            next = directory.next;
        }
        match damage {
            Some(reason) if pages.is_empty() => Err(reason),
            None if pages.is_empty() => Err(Reason::NothingOnIt),
            damage => Ok(Self { path: path.to_owned(), layout, pages, damage }),
        }
    }

    pub(super) fn len(&self) -> usize {
        self.pages.len()
    }

    pub(super) fn damage(&self) -> Option<Reason> {
        self.damage.clone()
    }

    /// A decoder that takes the page's directory for the first of the file.
    fn decoder(&self, index: usize) -> Result<Decoder<Redirected>, Reason> {
        let file = BufReader::new(File::open(&self.path).map_err(Reason::io)?);
        let redirected = Redirected { head: self.layout.header(self.pages[index]), at: 0, file };
        let mut limits = Limits::default();
        limits.decoding_buffer_size = limits::MAX_PIXELS as usize * 4;
        limits.intermediate_buffer_size = limits::MAX_IMAGE_FILE_BYTES as usize;
        limits.ifd_value_size = MAX_TAG_BYTES;
        Ok(Decoder::new(redirected).map_err(reason)?.with_limits(limits))
    }

    /// Decodes the page with this index, from 0.
    pub(super) fn page(&self, index: usize, wanted: Wanted) -> Result<PageImage, Reason> {
        let mut decoder = self.decoder(index)?;
        let (width, height) = decoder.dimensions().map_err(reason)?;
        check_size(width.into(), height.into())?;
        let number =
            |decoder: &mut Decoder<Redirected>, tag| decoder.find_tag_unsigned::<u16>(tag).ok().flatten();
        let turn = Turn::of_orientation(number(&mut decoder, Tag::Orientation).map_or(1, u32::from));
        let bits = number(&mut decoder, Tag::BitsPerSample).unwrap_or(1);
        let compression = number(&mut decoder, Tag::Compression)
            .map_or(CompressionMethod::None, CompressionMethod::from_u16_exhaustive);
        let dpi = density(&mut decoder);
        let size = (width as usize, height as usize);
        let (grey, colour) = match compression {
            CompressionMethod::Huffman | CompressionMethod::Fax3 | CompressionMethod::Fax4 => {
                (fax_page(&mut decoder, compression, size)?, None)
            }
            CompressionMethod::ModernJPEG => jpeg_page(&mut decoder, size, wanted)?,
            CompressionMethod::JPEG => return Err(Reason::NotRead("a TIFF in the old JPEG coding".into())),
            _ => plain_page(&mut decoder, size, wanted)?,
        };
        Ok(PageImage {
            number: 1,
            grey: turn.grey(grey),
            colour: colour.map(|c| turn.rgb(c)),
            bilevel: bits == 1,
            dpi: dpi.map(|(x, y)| if turn.swap { (y, x) } else { (x, y) }),
        })
    }

    /// SHA-256 of the page's tags (but for where its data stand) and its coded data.
    pub(super) fn hash(&self, index: usize) -> Result<[u8; 32], Reason> {
        let mut decoder = self.decoder(index)?;
        let mut hash = Sha256::new();
        for entry in decoder.tag_iter() {
            let (tag, value) = entry.map_err(reason)?;
            if !matches!(tag, Tag::StripOffsets | Tag::TileOffsets) {
                hash.update(format!("{tag:?}={value:?};"));
            }
        }
        for chunk in chunks(&mut decoder)? {
            hash.update(coded(&mut decoder, chunk)?);
        }
        Ok(hash.finalize().into())
    }
}

/// Largest value of one tag, bytes: a JPEG table or the offsets of a page in strips of one row.
const MAX_TAG_BYTES: usize = 4 << 20;

struct Directory {
    /// A thumbnail or a mask.
    aside: bool,
    next: u64,
}

/// `None` where the file ends before the directory does.
fn read_directory(
    file: &mut (impl Read + Seek),
    layout: Layout,
    at: u64,
) -> Result<Option<Directory>, Reason> {
    let (count_bytes, entry_bytes, offset_bytes) = if layout.big { (8, 20, 8) } else { (2, 12, 4) };
    file.seek(SeekFrom::Start(at)).map_err(Reason::io)?;
    let mut count = vec![0; count_bytes];
    if read_some(file, &mut count)? < count_bytes {
        return Ok(None);
    }
    let count = layout.number(&count);
    if count > MAX_ENTRIES {
        return Ok(None);
    }
    let mut entries = vec![0; count as usize * entry_bytes + offset_bytes];
    if read_some(file, &mut entries)? < entries.len() {
        return Ok(None);
    }
    let (entries, next) = entries.split_at(count as usize * entry_bytes);
    let aside = entries.chunks_exact(entry_bytes).any(|entry| {
        let value = layout.number(&entry[entry_bytes - offset_bytes..][..4]);
        layout.number(&entry[..2]) == u64::from(Tag::NewSubfileType.to_u16()) && value & 0b101 != 0
    });
    Ok(Some(Directory { aside, next: layout.number(next) }))
}

/// Most entries of a directory; TIFF 6.0 knows fewer than a hundred tags.
const MAX_ENTRIES: u64 = 4_096;

/// Fills the buffer as far as the file goes; how far it came.
fn read_some(file: &mut impl Read, buffer: &mut [u8]) -> Result<usize, Reason> {
    let mut got = 0;
    while got < buffer.len() {
        match file.read(&mut buffer[got..]) {
            Ok(0) => break,
            Ok(n) => got += n,
            Err(e) if e.kind() == std::io::ErrorKind::Interrupted => {}
            Err(e) => return Err(Reason::io(e)),
        }
    }
    Ok(got)
}

/// The file with another header in front.
struct Redirected {
    head: Vec<u8>,
    at: u64,
    file: BufReader<File>,
}

impl Read for Redirected {
    fn read(&mut self, buffer: &mut [u8]) -> std::io::Result<usize> {
        let at = self.at as usize;
        let n = if at < self.head.len() {
            let n = buffer.len().min(self.head.len() - at);
            buffer[..n].copy_from_slice(&self.head[at..at + n]);
            self.file.seek_relative(n as i64)?;
            n
        } else {
            self.file.read(buffer)?
        };
        self.at += n as u64;
        Ok(n)
    }
}

impl Seek for Redirected {
    fn seek(&mut self, to: SeekFrom) -> std::io::Result<u64> {
        self.at = self.file.seek(to)?;
        Ok(self.at)
    }
}

fn reason(error: TiffError) -> Reason {
    match error {
        TiffError::IoError(e) if e.kind() == std::io::ErrorKind::UnexpectedEof => Reason::CutShort,
        TiffError::UnsupportedError(e) => Reason::NotRead(format!("a TIFF of an unusual kind ({e})")),
        other => Reason::Damaged(other.to_string()),
    }
}

fn density(decoder: &mut Decoder<Redirected>) -> Option<(f64, f64)> {
    let per_inch = match decoder.find_tag_unsigned::<u16>(Tag::ResolutionUnit).ok().flatten() {
        Some(1) => return None,
        Some(3) => MM_PER_INCH / 10.0,
        _ => 1.0,
    };
    let mut of =
        |tag| decoder.get_tag_f64(tag).ok().filter(|d| d.is_finite() && *d > 0.0).map(|d| d * per_inch);
    Some((of(Tag::XResolution)?, of(Tag::YResolution)?))
}

/// Where a strip's or tile's coded data stand.
#[derive(Clone, Copy)]
struct Chunk {
    offset: u64,
    bytes: u64,
}

fn chunks(decoder: &mut Decoder<Redirected>) -> Result<Vec<Chunk>, Reason> {
    let (offsets, counts) = match decoder.get_chunk_type() {
        ChunkType::Strip => (Tag::StripOffsets, Tag::StripByteCounts),
        ChunkType::Tile => (Tag::TileOffsets, Tag::TileByteCounts),
    };
    let offsets = decoder.get_tag_u64_vec(offsets).map_err(reason)?;
    let counts = decoder.get_tag_u64_vec(counts).map_err(reason)?;
    Ok(offsets.into_iter().zip(counts).map(|(offset, bytes)| Chunk { offset, bytes }).collect())
}

fn coded(decoder: &mut Decoder<Redirected>, chunk: Chunk) -> Result<Vec<u8>, Reason> {
    if chunk.bytes > limits::MAX_IMAGE_FILE_BYTES {
        return Err(Reason::Damaged("a strip claims to be larger than any page".into()));
    }
    let file = decoder.inner();
    file.seek(SeekFrom::Start(chunk.offset)).map_err(Reason::io)?;
    let mut bytes = Vec::new();
    file.take(chunk.bytes).read_to_end(&mut bytes).map_err(Reason::io)?;
    if (bytes.len() as u64) < chunk.bytes { Err(Reason::CutShort) } else { Ok(bytes) }
}

/// Decodes strips or tiles one by one and lays them on the page, `N` bytes a pixel.
fn lay_chunks<const N: usize>(
    decoder: &mut Decoder<Redirected>,
    (width, height): (usize, usize),
    mut decode: impl FnMut(&[u8], usize, usize) -> Result<Vec<u8>, Reason>,
) -> Result<Vec<u8>, Reason> {
    let (wide, high) = decoder.chunk_dimensions();
    let (wide, high) = (wide as usize, high as usize);
    check_size(wide.max(width) as u64, high.max(height) as u64)?;
    let tiled = matches!(decoder.get_chunk_type(), ChunkType::Tile);
    let across = width.div_ceil(wide);
    let mut page = vec![255; width * height * N];
    let chunks = chunks(decoder)?;
    if chunks.len() < across * height.div_ceil(high) {
        return Err(Reason::CutShort);
    }
    for (i, chunk) in chunks.into_iter().take(across * height.div_ceil(high)).enumerate() {
        let (x, y) = (i % across * wide, i / across * high);
        let rows = high.min(height - y);
        let data = coded(decoder, chunk)?;
        // a tile is coded whole even where it reaches over the edge, a strip only as far as the page goes
        let part = decode(&data, wide, if tiled { high } else { rows })?;
        let keep = wide.min(width - x) * N;
        for row in 0..rows {
            let to = ((y + row) * width + x) * N;
            page[to..to + keep].copy_from_slice(&part[row * wide * N..][..keep]);
        }
    }
    Ok(page)
}

fn fax_page(
    decoder: &mut Decoder<Redirected>,
    compression: CompressionMethod,
    (width, height): (usize, usize),
) -> Result<GreyImage, Reason> {
    let number =
        |decoder: &mut Decoder<Redirected>, tag| decoder.find_tag_unsigned::<u32>(tag).ok().flatten();
    let options = number(decoder, Tag::Unknown(T4_OPTIONS)).unwrap_or(0);
    let encoding = match compression {
        CompressionMethod::Fax4 => EncodingMode::Group4,
        CompressionMethod::Fax3 if options & 1 != 0 => EncodingMode::Group3_2D,
        _ => EncodingMode::Group3_1D,
    };
    let reversed = number(decoder, Tag::FillOrder) == Some(2);
    let inverted = number(decoder, Tag::PhotometricInterpretation) == Some(1);
    let byte_aligned = compression == CompressionMethod::Huffman;
    let pixels = lay_chunks::<1>(decoder, (width, height), |data, width, height| {
        let turned: Vec<u8>;
        let data = if reversed {
            turned = data.iter().map(|b| b.reverse_bits()).collect();
            &turned
        } else {
            data
        };
        let mut out = Vec::new();
        ccitt::decode(data, Fax { encoding, width, height, byte_aligned, inverted }, &mut out)?;
        Ok(out)
    })?;
    Ok(GreyImage { width, height, pixels })
}

/// T4Options (TIFF 6.0, section 11): bit 0 = two-dimensional coding.
const T4_OPTIONS: u16 = 292;

fn jpeg_page(
    decoder: &mut Decoder<Redirected>,
    (width, height): (usize, usize),
    wanted: Wanted,
) -> Result<(GreyImage, Option<RgbImage>), Reason> {
    let tables = decoder
        .find_tag(Tag::JPEGTables)
        .ok()
        .flatten()
        .map(|v| v.into_u8_vec())
        .transpose()
        .map_err(reason)?;
    let meaning = decoder.find_tag_unsigned::<u16>(Tag::PhotometricInterpretation).ok().flatten();
    let plain_rgb =
        meaning.and_then(PhotometricInterpretation::from_u16) == Some(PhotometricInterpretation::RGB);
    let part = |data: &[u8], wide: usize, high: usize, wanted: Wanted| {
        let whole = with_tables(data, tables.as_deref())?;
        let header = jpeg::header_of_part(&whole)?;
        if header.width < wide || header.height < high || header.width != wide {
            return Err(Reason::Damaged("a strip is of another size than it should be".into()));
        }
        if plain_rgb {
            let colour = jpeg::decode_channels(&whole, &header)?;
            return Ok((colour.grey(), wanted.colour.then_some(colour)));
        }
        jpeg::decode(&whole, &header, wanted)
    };
    if wanted.colour && meaning != Some(0) && meaning != Some(1) {
        let pixels = lay_chunks::<3>(decoder, (width, height), |data, wide, high| {
            let (_, colour) = part(data, wide, high, wanted)?;
            colour.map(|c| c.pixels).ok_or_else(|| Reason::Damaged("a strip has lost its colours".into()))
        })?;
        let colour = RgbImage { width, height, pixels };
        return Ok((colour.grey(), Some(colour)));
    }
    let grey_only = Wanted { colour: false };
    let mut pixels = lay_chunks::<1>(decoder, (width, height), |data, wide, high| {
        part(data, wide, high, grey_only).map(|(grey, _)| grey.pixels)
    })?;
    if meaning == Some(0) {
        pixels.iter_mut().for_each(|p| *p = !*p);
    }
    Ok((GreyImage { width, height, pixels }, None))
}

/// A strip with the tables that all strips share set in front (Technical Note 2): FF D8, tables, strip.
fn with_tables(strip: &[u8], tables: Option<&[u8]>) -> Result<Vec<u8>, Reason> {
    let damaged = || Reason::Damaged("a strip is no JPEG".into());
    let Some(tables) = tables else { return Ok(strip.to_vec()) };
    let shared = tables.strip_suffix(b"\xFF\xD9").unwrap_or(tables);
    let own = strip.strip_prefix(b"\xFF\xD8").ok_or_else(damaged)?;
    Ok([shared, own].concat())
}

mod plain;
use plain::plain_page;
