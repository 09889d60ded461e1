//! PDF of many pages, on hayro: a page that is a scan (one image, or strips of one) gives the very pixels
//! of the scan, never drawn anew; any other page is drawn at [`limits::RENDER_DPI`].
//!
//! hayro is lenient: it rebuilds broken tables, leaves out what it cannot find and fills up images. So
//! this module asks itself whether the page is whole: pages promised against pages found, images called
//! for against images there, and the coded data of every image by a strict decoder ([`take`]).

mod data;
mod length;
mod look;
mod take;
mod tree;

use std::fs::File;
use std::sync::{Arc, OnceLock};

use hayro::hayro_interpret::{
    Context, Device, InterpreterCache, InterpreterSettings, TransformExt, interpret_page,
};
use hayro::hayro_syntax::page::Page;
use hayro::hayro_syntax::{LoadPdfError, Pdf, PdfData};
use kurbo::{Affine, Rect};
use sha2::{Digest, Sha256};

use self::data::Bytes;
use self::look::{Look, Scan};
use super::{PageImage, Reason, Wanted, limits};

/// Points an inch, the unit of a PDF page.
const POINTS_PER_INCH: f64 = 72.0;

/// A PDF file whose pages are known.
pub(super) struct PdfFile {
    bytes: Arc<Bytes>,
    pdf: Pdf,
    /// For each page promised, its index among the pages that hayro found.
    pages: Vec<Option<usize>>,
    cut_short: bool,
    whole_hash: OnceLock<[u8; 32]>,
}

impl PdfFile {
    pub(super) fn open(file: &File) -> Result<Self, Reason> {
        let bytes = Arc::new(Bytes::of(file)?);
        length::check_object_streams((*bytes).as_ref(), || bytes.release())?;
        let pdf = Pdf::new(PdfData::from(bytes.clone())).map_err(|e| match e {
            LoadPdfError::Decryption(_) => Reason::Encrypted,
            LoadPdfError::Invalid if tree::is_cut_short((*bytes).as_ref()) => Reason::CutShort,
            LoadPdfError::Invalid => Reason::Damaged("it is no PDF that can be read".into()),
        })?;
        let pages = tree::promised(&pdf);
        if pages.len() > limits::MAX_PAGES {
            return Err(Reason::TooManyPages { pages: pages.len() });
        }
        let cut_short = tree::is_cut_short((*bytes).as_ref());
        if pages.is_empty() {
            return Err(if cut_short { Reason::CutShort } else { Reason::NothingOnIt });
        }
        length::check_streams(&pdf, || bytes.release())?;
        bytes.release();
        Ok(Self { bytes, pdf, pages, cut_short, whole_hash: OnceLock::new() })
    }

    pub(super) fn len(&self) -> usize {
        self.pages.len()
    }

    pub(super) fn damage(&self) -> Option<Reason> {
        self.cut_short.then_some(Reason::CutShort)
    }

    /// Decodes the page with this index, from 0.
    pub(super) fn page(&self, index: usize, wanted: Wanted) -> Result<PageImage, Reason> {
        let page = self.found(index)?;
        let look = self.look(page)?;
        let result = match look.scan() {
            Some(scan) => self.take(page, scan, wanted),
            None => self.draw(page, wanted),
        };
        self.bytes.release();
        result
    }

    /// Of the scan's own coded data where the page is a scan that needs nothing else of the file; of the
    /// whole file and the page's number otherwise.
    pub(super) fn hash(&self, index: usize) -> Result<[u8; 32], Reason> {
        let page = self.found(index)?;
        let look = self.look(page)?;
        let mut hash = Sha256::new();
        let by_itself = look.scan().is_some_and(|scan| {
            // where the images lie, and which way up
            hash.update(format!("{scan:?}"));
            let mut device = take::Hash { hash: &mut hash, by_itself: true };
            interpret(page, &self.pdf, &mut device, InterpreterSettings::default());
            device.by_itself
        });
        if !by_itself {
            let whole = self.whole_hash.get_or_init(|| self.bytes.hash());
            hash = Sha256::new().chain_update(whole).chain_update(index.to_be_bytes());
        }
        self.bytes.release();
        Ok(hash.finalize().into())
    }

    fn found(&self, index: usize) -> Result<&Page<'_>, Reason> {
        let missing = if self.cut_short {
            Reason::CutShort
        } else {
            Reason::Damaged("the page is missing from the file".into())
        };
        let place = self.pages.get(index).copied().flatten().ok_or_else(|| missing.clone())?;
        let page = self.pdf.pages().get(place).ok_or(missing)?;
        if !tree::images_are_there(page) {
            return Err(if self.cut_short {
                Reason::CutShort
            } else {
                Reason::Damaged("an image of the page is missing from the file".into())
            });
        }
        Ok(page)
    }

    fn look(&self, page: &Page<'_>) -> Result<Look, Reason> {
        let mut look = Look::default();
        interpret(page, &self.pdf, &mut look, InterpreterSettings::default());
        if look.images.len() > limits::MAX_IMAGES_A_PAGE {
            return Err(Reason::Damaged(format!("the page has {} images", look.images.len())));
        }
        if look.images.is_empty() && !look.other {
            return Err(if self.cut_short { Reason::CutShort } else { Reason::NothingOnIt });
        }
        Ok(look)
    }

    fn take(&self, page: &Page<'_>, scan: Scan, wanted: Wanted) -> Result<PageImage, Reason> {
        scan.check_size()?;
        let mut device = take::Take::new(&scan, wanted);
        interpret(page, &self.pdf, &mut device, InterpreterSettings::default());
        device.finish()
    }

    /// Draws the page. Every image is decoded strictly before, so that what is drawn is whole.
    fn draw(&self, page: &Page<'_>, wanted: Wanted) -> Result<PageImage, Reason> {
        let mut vet = take::Vet { failed: None };
        interpret(page, &self.pdf, &mut vet, InterpreterSettings::default());
        if let Some(reason) = vet.failed {
            return Err(reason);
        }
        take::render(page, wanted)
    }
}

/// Runs a page's instructions through a device, in points, y down, the page's rotation applied.
fn interpret<'a>(page: &Page<'a>, pdf: &'a Pdf, device: &mut impl Device<'a>, settings: InterpreterSettings) {
    let (width, height) = page.render_dimensions();
    let cache = InterpreterCache::new();
    let view: Affine = page.initial_transform(true).to_kurbo();
    let frame = Rect::new(0.0, 0.0, width.into(), height.into());
    interpret_page(page, &mut Context::new(view, frame, &cache, pdf.xref(), settings), device);
}
