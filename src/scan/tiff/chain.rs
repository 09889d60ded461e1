//! The chain of a TIFF's directories, walked by hand, and a reader that shows a file with another beginning.

use std::collections::HashSet;
use std::fs::File;
use std::io::{BufReader, Read, Seek, SeekFrom};

use tiff::tags::Tag;

use super::super::{Reason, limits};

/// Where a page stands in the file.
pub(super) struct PagePlace {
    pub directory: u64,
    /// Where its photometric interpretation stands, if that is a palette.
    pub palette_at: Option<u64>,
}

/// Photometric interpretations (TIFF 6.0, tag 262).
pub(super) const BLACK_IS_ZERO: u64 = 1;
const PALETTE: u64 = 3;

/// Byte order and width of offsets.
#[derive(Clone, Copy)]
pub(super) struct Layout {
    little_endian: bool,
    big: bool,
}

impl Layout {
    fn number(self, bytes: &[u8]) -> u64 {
        let join = |n: u64, &b: &u8| n << 8 | u64::from(b);
        if self.little_endian { bytes.iter().rev().fold(0, join) } else { bytes.iter().fold(0, join) }
    }

    pub(super) fn bytes(self, value: u64, count: usize) -> Vec<u8> {
        let mut cut = value.to_be_bytes()[8 - count..].to_vec();
        if self.little_endian {
            cut.reverse();
        }
        cut
    }

    /// The first bytes of a file whose first directory stands at `offset`.
    pub(super) fn header(self, offset: u64) -> Vec<u8> {
        let order = if self.little_endian { *b"II" } else { *b"MM" };
        let bytes = |value, count| self.bytes(value, count);
        let rest = if self.big {
            [bytes(43, 2), bytes(8, 2), bytes(0, 2), bytes(offset, 8)].concat()
        } else {
            [bytes(42, 2), bytes(offset, 4)].concat()
        };
        [order.to_vec(), rest].concat()
    }
}
/// All that [`walk`] finds.
pub(super) struct Chain {
    pub layout: Layout,
    pub pages: Vec<PagePlace>,
    /// Why the chain ends before its end.
    pub damage: Option<Reason>,
}

/// Walks the chain; thumbnails and masks (tag 254, bits 0 and 2) are no pages.
pub(super) fn walk(file: File) -> Result<Chain, Reason> {
    let mut file = BufReader::new(file);
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
            pages.push(PagePlace { directory: next, palette_at: directory.palette_at });
        }
        next = directory.next;
    }
    Ok(Chain { layout, pages, damage })
}

struct Directory {
    /// A thumbnail or a mask.
    aside: bool,
    /// See [`PagePlace`].
    palette_at: Option<u64>,
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
    let (mut aside, mut palette_at) = (false, None);
    for (i, entry) in entries.chunks_exact(entry_bytes).enumerate() {
        let tag = layout.number(&entry[..2]);
        let value = &entry[entry_bytes - offset_bytes..];
        if tag == u64::from(Tag::NewSubfileType.to_u16()) {
            aside = layout.number(&value[..4]) & 0b101 != 0;
        } else if tag == u64::from(Tag::PhotometricInterpretation.to_u16())
            && layout.number(&value[..2]) == PALETTE
        {
            palette_at = Some(at + (count_bytes + (i + 1) * entry_bytes - offset_bytes) as u64);
        }
    }
    Ok(Some(Directory { aside, palette_at, next: layout.number(next) }))
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
/// The file with some bytes read as others.
pub(super) struct Overlaid {
    /// Where, and what is read there.
    pub patches: Vec<(u64, Vec<u8>)>,
    pub at: u64,
    pub file: BufReader<File>,
}

impl Read for Overlaid {
    fn read(&mut self, buffer: &mut [u8]) -> std::io::Result<usize> {
        let n = self.file.read(buffer)?;
        for (place, bytes) in &self.patches {
            for (place, byte) in (*place..).zip(bytes) {
                if (self.at..self.at + n as u64).contains(&place) {
                    buffer[(place - self.at) as usize] = *byte;
                }
            }
        }
        self.at += n as u64;
        Ok(n)
    }
}

impl Seek for Overlaid {
    fn seek(&mut self, to: SeekFrom) -> std::io::Result<u64> {
        self.at = self.file.seek(to)?;
        Ok(self.at)
    }
}
