//! PDF of many pages, on hayro.

use std::fs::File;

use super::{PageImage, Reason, Wanted};

/// A PDF file whose pages are known.
pub(super) struct PdfFile {
    pages: usize,
}

impl PdfFile {
    pub(super) fn open(_file: &File) -> Result<Self, Reason> {
        Err(Reason::NotRead("a PDF".into()))
    }
    pub(super) fn len(&self) -> usize {
        self.pages
    }
    pub(super) fn damage(&self) -> Option<Reason> {
        None
    }
    pub(super) fn page(&self, _index: usize, _wanted: Wanted) -> Result<PageImage, Reason> {
        Err(Reason::NothingOnIt)
    }
    pub(super) fn hash(&self, _index: usize) -> Result<[u8; 32], Reason> {
        Err(Reason::NothingOnIt)
    }
}
