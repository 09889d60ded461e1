//! TIFF of many pages: fax groups 3 and 4, JPEG, and what the tiff crate decodes (LZW, deflate, packed
//! bits, plain), at 1 to 16 bits, grey, palette and colour (TIFF 6.0; JPEG: Technical Note 2; BigTIFF).
//!
//! The chain of directories is walked by hand on opening, so that one broken page costs no other. Fax and
//! JPEG strips are decoded strictly here, since the tiff crate fills up what a cut-off strip lacks.

use std::fs::File;
use std::io::{BufReader, Read, Seek, SeekFrom};
use std::path::{Path, PathBuf};

use sha2::{Digest, Sha256};
use tiff::decoder::ifd::Value;
use tiff::decoder::{ChunkType, Decoder, DecodingResult, Limits};
use tiff::tags::{CompressionMethod, PhotometricInterpretation, Tag};
use tiff::{ColorType, TiffError};

mod chain;
mod plain;

use self::chain::{BLACK_IS_ZERO, Chain, Layout, Overlaid, PagePlace};
use self::plain::plain_page;
use super::ccitt::{self, EncodingMode, Fax};
use super::jpeg::{self, MM_PER_INCH};
use super::plane::{GreyImage, RgbImage, Turn, check_size};
use super::{PageImage, Reason, Wanted, limits};

/// A TIFF file whose directories are known.
pub(super) struct TiffFile {
    path: PathBuf,
    layout: Layout,
    pages: Vec<PagePlace>,
    damage: Option<Reason>,
}

impl TiffFile {
    /// Walks the chain of directories; thumbnails and masks (tag 254, bits 0 and 2) are no pages.
    pub(super) fn open(path: &Path) -> Result<Self, Reason> {
        let Chain { layout, pages, damage } = chain::walk(File::open(path).map_err(Reason::io)?)?;
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

    #[cfg(test)]
    pub(super) fn directory_offsets(&self) -> Vec<u64> {
        self.pages.iter().map(|page| page.directory).collect()
    }

    /// A decoder that takes the page's directory for the first of the file, and a palette for greys.
    fn decoder(&self, index: usize) -> Result<Decoder<Overlaid>, Reason> {
        let file = BufReader::new(File::open(&self.path).map_err(Reason::io)?);
        let page = &self.pages[index];
        let mut patches = vec![(0, self.layout.header(page.directory))];
        // The tiff crate refuses palettes but decodes their samples when it takes them for greys.
        patches.extend(page.palette_at.map(|at| (at, self.layout.bytes(BLACK_IS_ZERO, 2))));
        let overlaid = Overlaid { patches, at: 0, file };
        let mut limits = Limits::default();
        limits.decoding_buffer_size = limits::MAX_PIXELS as usize * 4;
        limits.intermediate_buffer_size = limits::MAX_IMAGE_FILE_BYTES as usize;
        limits.ifd_value_size = MAX_TAG_BYTES;
        Ok(Decoder::new(overlaid).map_err(reason)?.with_limits(limits))
    }

    /// Decodes the page with this index, from 0.
    pub(super) fn page(&self, index: usize, wanted: Wanted) -> Result<PageImage, Reason> {
        let mut decoder = self.decoder(index)?;
        let (width, height) = decoder.dimensions().map_err(reason)?;
        check_size(width.into(), height.into())?;
        let number =
            |decoder: &mut Decoder<Overlaid>, tag| decoder.find_tag_unsigned::<u16>(tag).ok().flatten();
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
            _ => plain_page(&mut decoder, size, self.pages[index].palette_at.is_some(), wanted)?,
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
fn reason(error: TiffError) -> Reason {
    match error {
        TiffError::IoError(e) if e.kind() == std::io::ErrorKind::UnexpectedEof => Reason::CutShort,
        TiffError::UnsupportedError(e) => Reason::NotRead(format!("a TIFF of an unusual kind ({e})")),
        other => Reason::Damaged(other.to_string()),
    }
}

fn density(decoder: &mut Decoder<Overlaid>) -> Option<(f64, f64)> {
    let per_inch = match decoder.find_tag_unsigned::<u16>(Tag::ResolutionUnit).ok().flatten() {
        Some(1) => return None,
        Some(3) => MM_PER_INCH / 10.0,
        _ => 1.0,
    };
    let mut of = |tag| match decoder.find_tag(tag).ok()?? {
        Value::Rational(over, under) if over > 0 && under > 0 => {
            Some(f64::from(over) / f64::from(under) * per_inch)
        }
        _ => None,
    };
    Some((of(Tag::XResolution)?, of(Tag::YResolution)?))
}

/// Where a strip's or tile's coded data stand.
#[derive(Clone, Copy)]
struct Chunk {
    offset: u64,
    bytes: u64,
}

fn chunks(decoder: &mut Decoder<Overlaid>) -> Result<Vec<Chunk>, Reason> {
    let (offsets, counts) = match decoder.get_chunk_type() {
        ChunkType::Strip => (Tag::StripOffsets, Tag::StripByteCounts),
        ChunkType::Tile => (Tag::TileOffsets, Tag::TileByteCounts),
    };
    let offsets = decoder.get_tag_u64_vec(offsets).map_err(reason)?;
    let counts = decoder.get_tag_u64_vec(counts).map_err(reason)?;
    Ok(offsets.into_iter().zip(counts).map(|(offset, bytes)| Chunk { offset, bytes }).collect())
}

fn coded(decoder: &mut Decoder<Overlaid>, chunk: Chunk) -> Result<Vec<u8>, Reason> {
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
    decoder: &mut Decoder<Overlaid>,
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
    decoder: &mut Decoder<Overlaid>,
    compression: CompressionMethod,
    (width, height): (usize, usize),
) -> Result<GreyImage, Reason> {
    let number = |decoder: &mut Decoder<Overlaid>, tag| decoder.find_tag_unsigned::<u32>(tag).ok().flatten();
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
    decoder: &mut Decoder<Overlaid>,
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
