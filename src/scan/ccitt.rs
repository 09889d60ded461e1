//! Fax coding, groups 3 and 4 (ITU-T T.4, T.6), for TIFF and PDF, by hayro-ccitt.
//!
//! A page whose data end before its last row is refused: what is missing would look like white paper.

pub(super) use hayro_ccitt::EncodingMode;
use hayro_ccitt::{DecodeSettings, Decoder, DecoderContext};

use super::Reason;

/// How a fax-coded image is to be read.
#[derive(Clone, Copy, Debug)]
pub(super) struct Fax {
    pub encoding: EncodingMode,
    pub width: usize,
    pub height: usize,
    /// Each row begins on a byte.
    pub byte_aligned: bool,
    /// What the code calls black is white on the paper.
    pub inverted: bool,
}

struct Rows<'a> {
    out: &'a mut Vec<u8>,
    width: usize,
    ink: u8,
}

impl Decoder for Rows<'_> {
    fn push_row(&mut self, changes: &[u32]) {
        let start = self.out.len();
        self.out.resize(start + self.width, !self.ink);
        let row = &mut self.out[start..];
        for span in changes.chunks(2) {
            let end = span.get(1).map_or(self.width, |&e| e as usize).min(self.width);
            row[(span[0] as usize).min(end)..end].fill(self.ink);
        }
    }
}

/// Appends the image's rows to `out`, one byte a pixel, ink 0 and paper 255 (or the other way about).
pub(super) fn decode(data: &[u8], fax: Fax, out: &mut Vec<u8>) -> Result<(), Reason> {
    let settings = DecodeSettings {
        columns: u32::try_from(fax.width).map_err(|_| Reason::Damaged("its rows are too long".into()))?,
        rows: u32::try_from(fax.height).map_err(|_| Reason::Damaged("it has too many rows".into()))?,
        end_of_block: true,
        end_of_line: false,
        rows_are_byte_aligned: fax.byte_aligned,
        encoding: fax.encoding,
        strict: false,
    };
    let wanted = out.len() + fax.width * fax.height;
    out.reserve(fax.width * fax.height);
    let mut rows = Rows { out, width: fax.width, ink: if fax.inverted { 255 } else { 0 } };
    let result = hayro_ccitt::decode(data, &mut rows, &mut DecoderContext::new(settings));
    match result {
        Err(e) => Err(Reason::Damaged(format!("fax coding: {e}"))),
        Ok(_) if out.len() < wanted => Err(Reason::CutShort),
        Ok(_) => {
            out.truncate(wanted);
            Ok(())
        }
    }
}
