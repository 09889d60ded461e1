//! Files to page images: PDF, TIFF, JPEG, PNG and WebP, whatever a copier or a telephone gave.
//!
//! [`open`] looks at a file's content (never at its name) and gives [`Pages`], which decodes one page at a
//! time, from as many threads as ask: memory depends on the threads, not on the pages. A page comes
//! upright as far as the file tells (EXIF and TIFF orientation, PDF rotation), always with a grey plane,
//! with colour only where [`Wanted`] asks for it, because a grey decode takes half the time.
//!
//! Decoders are strict: a page whose data end early or are damaged is refused, with what to do, and is
//! never handed on as if it were whole. What is refused costs no other page anything. All sizes are
//! read and held against [`limits`] before memory is taken.
//!
//! It knows no worksheet. Units: pixels; rows from the top, pixels from the left, white = 255.

mod ccitt;
mod heic;
mod jpeg;
mod kind;
pub mod limits;
mod pdf;
mod plane;
mod refusal;
mod still;
mod tiff;

use std::fs::File;
use std::io::Read;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::{Path, PathBuf};

use sha2::{Digest, Sha256};

use self::kind::Kind;
pub use self::plane::{GreyImage, RgbImage};
pub use self::refusal::{PageRefusal, Reason, Refusal};

/// What a caller wants of a page.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Wanted {
    /// Keep the colours too, where the page has any.
    pub colour: bool,
}

/// One page, upright as far as the file tells.
#[derive(Clone, Debug)]
pub struct PageImage {
    /// Its place in the file, from 1.
    pub number: usize,
    /// The grey plane, white = 255.
    pub grey: GreyImage,
    /// The colours, of the same size: only where asked for, and where the page is not grey anyway.
    pub colour: Option<RgbImage>,
    /// The file holds black and white only (one bit a pixel).
    pub bilevel: bool,
    /// Dots per inch across and down, where the file tells; a hint only, copiers and telephones lie.
    pub dpi: Option<(f64, f64)>,
}

/// The pages of one file. Opening reads the file's table of contents at most; pages are decoded on demand.
pub struct Pages {
    path: PathBuf,
    source: Source,
}

enum Source {
    /// A file of one image, read when the page is asked for.
    Single(Kind),
    /// A HEIC picture, and the program that converts it.
    Heic(PathBuf),
    Tiff(tiff::TiffFile),
    Pdf(Box<pdf::PdfFile>),
}

/// Opens a file as pages.
///
/// # Errors
/// A [`Refusal`] of the whole file: it cannot be opened, is empty, too large, encrypted, of a kind that is
/// not read (HEIC without a converter among them, with what to do), or broken beyond finding any page.
pub fn open(path: &Path) -> Result<Pages, Refusal> {
    let refuse = |reason| Refusal { file: path.to_owned(), reason };
    let source = guarded(|| source_of(path)).map_err(refuse)?;
    Ok(Pages { path: path.to_owned(), source })
}

fn source_of(path: &Path) -> Result<Source, Reason> {
    let mut file = File::open(path).map_err(Reason::io)?;
    let data = file.metadata().map_err(Reason::io)?;
    if data.is_dir() {
        return Err(Reason::Unreadable("it is a folder".into()));
    }
    let bytes = data.len();
    let mut head = Vec::new();
    file.by_ref().take(kind::HEAD_BYTES).read_to_end(&mut head).map_err(Reason::io)?;
    let kind = kind::of(&head)?;
    let limit = if kind.is_single() { limits::MAX_IMAGE_FILE_BYTES } else { limits::MAX_DOCUMENT_BYTES };
    if bytes > limit {
        return Err(Reason::FileTooLarge { bytes, limit });
    }
    match kind {
        Kind::Tiff => tiff::TiffFile::open(path).map(Source::Tiff),
        Kind::Heic => heic::converter().map(Source::Heic).ok_or(Reason::Heic),
        Kind::Pdf => pdf::PdfFile::open(&file).map(|pdf| Source::Pdf(Box::new(pdf))),
        single => Ok(Source::Single(single)),
    }
}

#[allow(clippy::len_without_is_empty)] // a file without any page is refused by `open`
impl Pages {
    /// How many pages the file holds or promises, at least 1.
    pub fn len(&self) -> usize {
        match &self.source {
            Source::Single(_) | Source::Heic(_) => 1,
            Source::Tiff(tiff) => tiff.len(),
            Source::Pdf(pdf) => pdf.len(),
        }
    }

    /// What is wrong with the file although some pages can be read: it was cut short, so that there may
    /// have been more pages than [`Pages::len`] knows of.
    pub fn damage(&self) -> Option<Reason> {
        match &self.source {
            Source::Single(_) | Source::Heic(_) => None,
            Source::Tiff(tiff) => tiff.damage(),
            Source::Pdf(pdf) => pdf.damage(),
        }
    }

    /// Decodes page `number`, counted from 1.
    ///
    /// # Errors
    /// A [`PageRefusal`]: there is no such page, or it is damaged, too large or too small, empty, or
    /// coded in a way that is not read. Other pages of the file are not touched by it.
    pub fn page(&self, number: usize, wanted: Wanted) -> Result<PageImage, PageRefusal> {
        self.each(number, || match &self.source {
            Source::Single(kind) => {
                let bytes = self.bytes()?;
                match kind {
                    Kind::Jpeg => jpeg::page(&bytes, wanted),
                    other => still::page(&bytes, *other, wanted),
                }
            }
            Source::Heic(program) => heic::page(program, &self.path, heic::ALLOWED, wanted),
            Source::Tiff(tiff) => tiff.page(number - 1, wanted),
            Source::Pdf(pdf) => pdf.page(number - 1, wanted),
        })
        .map(|page| PageImage { number, ..page })
    }

    /// SHA-256 of what page `number` (from 1) is made from, without decoding any pixel: of its encoded
    /// data where they stand by themselves, else of the whole file and the page's number. The same page
    /// in another file has the same hash only in the first case. Pages that look different never share one.
    ///
    /// # Errors
    /// As [`Pages::page`], as far as it shows without decoding.
    pub fn page_hash(&self, number: usize) -> Result<[u8; 32], PageRefusal> {
        self.each(number, || match &self.source {
            Source::Single(_) | Source::Heic(_) => Ok(Sha256::digest(self.bytes()?).into()),
            Source::Tiff(tiff) => tiff.hash(number - 1),
            Source::Pdf(pdf) => pdf.hash(number - 1),
        })
    }

    fn each<T>(&self, number: usize, work: impl FnOnce() -> Result<T, Reason>) -> Result<T, PageRefusal> {
        let refuse = |reason| PageRefusal { file: self.path.clone(), number, reason };
        if number == 0 || number > self.len() {
            return Err(refuse(Reason::NoSuchPage { pages: self.len() }));
        }
        guarded(work).map_err(refuse)
    }

    /// The whole file; its size was checked on opening and is checked again, since it may have grown.
    fn bytes(&self) -> Result<Vec<u8>, Reason> {
        let mut bytes = Vec::new();
        let file = File::open(&self.path).map_err(Reason::io)?;
        file.take(limits::MAX_IMAGE_FILE_BYTES + 1).read_to_end(&mut bytes).map_err(Reason::io)?;
        let length = bytes.len() as u64;
        if length > limits::MAX_IMAGE_FILE_BYTES {
            return Err(Reason::FileTooLarge { bytes: length, limit: limits::MAX_IMAGE_FILE_BYTES });
        }
        Ok(bytes)
    }
}

/// Runs a decoder. Decoders are other people's code fed with strangers' files: where one gives up with a
/// panic, the page is damaged, and the run goes on.
fn guarded<T>(work: impl FnOnce() -> Result<T, Reason>) -> Result<T, Reason> {
    catch_unwind(AssertUnwindSafe(work))
        .unwrap_or_else(|_| Err(Reason::Damaged("the decoder gave up".into())))
}

#[cfg(test)]
mod tests;
