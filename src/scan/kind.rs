//! What a file is, from its first bytes; its name is never asked.

use super::refusal::Reason;

/// How many bytes are looked at. A PDF's header may stand anywhere in the first 1,024 (ISO 32000-1, annex H).
pub(super) const HEAD_BYTES: u64 = 1_024;

/// Kinds that are read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Kind {
    Jpeg,
    Png,
    WebP,
    /// HEIC, HEIF or AVIF.
    Heic,
    Tiff,
    Pdf,
}

impl Kind {
    /// One image a file, read whole.
    pub(super) fn is_single(self) -> bool {
        matches!(self, Self::Jpeg | Self::Png | Self::WebP | Self::Heic)
    }
}

/// The kind by content.
pub(super) fn of(head: &[u8]) -> Result<Kind, Reason> {
    if head.is_empty() {
        return Err(Reason::Empty);
    }
    let brand = head.get(8..12).unwrap_or_default();
    match head {
        [0xFF, 0xD8, 0xFF, ..] => return Ok(Kind::Jpeg),
        [0x89, b'P', b'N', b'G', b'\r', b'\n', 0x1A, b'\n', ..] => return Ok(Kind::Png),
        [b'R', b'I', b'F', b'F', ..] if brand == b"WEBP" => return Ok(Kind::WebP),
        // 42: TIFF 6.0; 43: BigTIFF
        [b'I', b'I', 42 | 43, 0, ..] | [b'M', b'M', 0, 42 | 43, ..] => return Ok(Kind::Tiff),
        [_, _, _, _, b'f', b't', b'y', b'p', ..] => return of_iso_media(brand),
        _ => {}
    }
    if head.windows(5).any(|w| w == b"%PDF-") {
        return Ok(Kind::Pdf);
    }
    Err(not_read(head))
}

/// HEIC, HEIF and AVIF share a container with films; the brand tells (ISO/IEC 23008-12).
fn of_iso_media(brand: &[u8]) -> Result<Kind, Reason> {
    match brand {
        b"heic" | b"heix" | b"heim" | b"heis" | b"hevc" | b"hevx" | b"mif1" | b"msf1" | b"avif" | b"avis" => {
            Ok(Kind::Heic)
        }
        _ => Err(Reason::NotAnImage("a film")),
    }
}

fn not_read(head: &[u8]) -> Reason {
    const OTHER_IMAGES: [(&[u8], &str); 6] = [
        (b"GIF8", "a GIF image"),
        (b"BM", "a BMP image"),
        (b"\0\0\0\x0CjP  ", "a JPEG 2000 image"),
        (b"\xFF\x4F\xFF\x51", "a JPEG 2000 image"),
        (b"\x97JB2\r\n\x1A\n", "a JBIG2 image"),
        (b"8BPS", "a layered image of a paint program"),
    ];
    if let Some((_, name)) = OTHER_IMAGES.iter().find(|(magic, _)| head.starts_with(magic)) {
        return Reason::NotRead((*name).into());
    }
    if head.starts_with(b"PK\x03\x04") {
        return Reason::NotAnImage("an archive or an office document");
    }
    if head.starts_with(b"\xFF\xD8") || head.starts_with(b"\x89PNG") {
        return Reason::Damaged("it begins like an image, but goes on as none".into());
    }
    let text = head.iter().all(|&b| b >= b' ' || matches!(b, b'\n' | b'\r' | b'\t' | 0x0C));
    Reason::NotAnImage(if text { "text" } else { "something else" })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn content_decides() {
        assert_eq!(of(b"\xFF\xD8\xFF\xE0"), Ok(Kind::Jpeg));
        assert_eq!(of(b"junk before %PDF-1.4"), Ok(Kind::Pdf));
        assert_eq!(of(b"II*\0"), Ok(Kind::Tiff));
        assert_eq!(of(b"MM\0*"), Ok(Kind::Tiff));
        assert_eq!(of(b"RIFF\0\0\0\0WEBPVP8 "), Ok(Kind::WebP));
        assert_eq!(of(b"\0\0\0\x18ftypheic"), Ok(Kind::Heic));
        assert_eq!(of(b"\0\0\0\x18ftypavif"), Ok(Kind::Heic));
        assert_eq!(of(b"\0\0\0\x18ftypmp42"), Err(Reason::NotAnImage("a film")));
        assert_eq!(of(b""), Err(Reason::Empty));
        assert_eq!(of(b"shopping list\n"), Err(Reason::NotAnImage("text")));
        assert_eq!(of(b"\x01\x02"), Err(Reason::NotAnImage("something else")));
        assert_eq!(of(b"GIF89a"), Err(Reason::NotRead("a GIF image".into())));
    }
}
