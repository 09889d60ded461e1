//! The bytes of a PDF file: small ones in memory, large ones mapped, so that 300 pages take no more
//! memory than 30.

use std::fs::File;
use std::io::Read;
use std::sync::atomic::{AtomicUsize, Ordering};

use memmap2::Mmap;
use sha2::{Digest, Sha256};

use super::super::Reason;

/// From this size on a file is mapped instead of read: about 30 grey pages.
const MAP_FROM_BYTES: u64 = 16 << 20;

/// Bytes hashed between two releases of the mapping.
const HASH_STEP_BYTES: usize = 8 << 20;

/// How often the mapping is asked for between two releases. hayro asks once an object, and walks all pages in one
/// go when it opens a file: a few bytes of each, but the system may bring in 2 MB round every byte touched.
const ASKED_A_RELEASE: usize = 16;

/// The whole file.
pub(super) enum Bytes {
    Read(Vec<u8>),
    Mapped { map: Mmap, asked: AtomicUsize },
}

impl AsRef<[u8]> for Bytes {
    fn as_ref(&self) -> &[u8] {
        match self {
            Self::Read(bytes) => bytes,
            Self::Mapped { map, asked } => {
                if asked.fetch_add(1, Ordering::Relaxed) % ASKED_A_RELEASE == ASKED_A_RELEASE - 1 {
                    self.release();
                }
                map
            }
        }
    }
}

impl Bytes {
    pub(super) fn of(file: &File) -> Result<Self, Reason> {
        let length = file.metadata().map_err(Reason::io)?.len();
        if length >= MAP_FROM_BYTES {
            // SAFETY: the map is only ever read. Another program that cuts the file off while it is read
            // would stop this one (nothing half-written can come of that: outputs are written whole).
            let map = unsafe { Mmap::map(file) }.map_err(Reason::io)?;
            return Ok(Self::Mapped { map, asked: AtomicUsize::new(0) });
        }
        let mut bytes = Vec::new();
        let mut file = file;
        std::io::Seek::rewind(&mut file).map_err(Reason::io)?;
        file.take(MAP_FROM_BYTES).read_to_end(&mut bytes).map_err(Reason::io)?;
        Ok(Self::Read(bytes))
    }

    /// Gives the memory of what was read of the map back to the system; it is read again when needed.
    pub(super) fn release(&self) {
        #[cfg(unix)]
        if let Self::Mapped { map, .. } = self {
            // SAFETY: the map is shared with the file and never written to, so dropping its pages loses
            // nothing: the next touch reads the same bytes from the file.
            let _ = unsafe { map.unchecked_advise(memmap2::UncheckedAdvice::DontNeed) };
        }
    }

    /// SHA-256 of the file.
    pub(super) fn hash(&self) -> [u8; 32] {
        let mut hash = Sha256::new();
        for part in self.as_ref().chunks(HASH_STEP_BYTES) {
            hash.update(part);
            self.release();
        }
        hash.finalize().into()
    }
}
