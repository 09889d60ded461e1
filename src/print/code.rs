//! The code on a sheet: whose it is and which worksheet, as a QR code and as letters.
//!
//! `LM1/UNLIKE-POLES/1/R7K-01/K7`: a mark of the format, the worksheet, the page, the student's code (empty on a
//! sheet without a code) and a check value over all that stands before it. Only signs of the alphanumeric mode of
//! ISO/IEC 18004 are used, which packs two signs into 11 bits.

use qrcode::bits::Bits;
use qrcode::{Color, EcLevel, QrCode, Version};
use thiserror::Error;

/// First field of every code: the program and the format's number.
const FORMAT: &str = "LM1";
/// The signs of the alphanumeric mode in the order of their values (ISO/IEC 18004, table 5).
const SIGNS: &[u8; 45] = b"0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ $%*+-./:";
/// Digits of the check value.
const CHECK_DIGITS: &[u8; 36] = b"0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ";
/// Base of the check polynomial, above every sign's value.
const CHECK_BASE: u32 = 47;
/// Largest prime that two digits of base 36 hold.
const CHECK_PRIME: u32 = 1291;
/// Longest student code (the roster's rule); the grid is sized for it, so that all sheets of a class have one grid.
const LONGEST_CODE: usize = 12;
/// Smallest QR version used: 29 modules a side, ample for a usual worksheet.
const SMALLEST_VERSION: i16 = 3;
/// Largest QR version used: 33 modules a side; with more, a module would be under 0.6 mm.
const LARGEST_VERSION: i16 = 4;
/// Longest worksheet id that fits the largest version on page 1 beside a code of 12 signs.
pub const LONGEST_ID: usize = 45;

/// What the code on a sheet says.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Payload {
    /// The worksheet's id as [`key`] writes it.
    pub worksheet: String,
    /// Page of the worksheet, from 1.
    pub page: u32,
    /// The student's code; none on a sheet to be copied freely.
    pub code: Option<String>,
}

/// Why a text is not a sheet's code.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Error)]
pub enum Misread {
    #[error("it is not a worksheet's code")]
    NotOurs,
    #[error("it was written by a newer format than this program reads")]
    Newer,
    #[error("its check value does not fit: a sign was misread")]
    Check,
}

/// The worksheet's id is too long for a code that a copier keeps legible.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Error)]
#[error("the worksheet's id has more than {LONGEST_ID} signs")]
pub struct TooLong;

/// The grid of a QR code.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Modules {
    /// Modules a side, without the quiet zone.
    pub side: usize,
    /// Row by row, true = dark.
    pub dark: Vec<bool>,
}

impl Modules {
    /// Whether the module in `row` and `column` is dark.
    pub fn is_dark(&self, row: usize, column: usize) -> bool {
        self.dark[row * self.side + column]
    }
}

/// A worksheet's id as it stands in a code: upper case, every other sign than A-Z, 0-9, `-` and `.` a hyphen.
pub fn key(worksheet_id: &str) -> String {
    let sign = |c: char| match c.to_ascii_uppercase() {
        c if c.is_ascii_alphanumeric() || c == '-' || c == '.' => c,
        _ => '-',
    };
    worksheet_id.chars().map(sign).collect()
}

/// Modules a side of the code on page `page` of a worksheet, whoever the sheet belongs to.
pub fn modules_a_side(worksheet_id: &str, page: u32) -> Result<usize, TooLong> {
    version(&key(worksheet_id), page).map(|v| (17 + 4 * v) as usize)
}

/// The smallest version that holds the worksheet with the longest student code at level Q.
fn version(key: &str, page: u32) -> Result<i16, TooLong> {
    let longest = Payload { worksheet: key.into(), page, code: Some("Z".repeat(LONGEST_CODE)) };
    let text = longest.encode();
    (SMALLEST_VERSION..=LARGEST_VERSION).find(|v| bits(&text, *v).is_some()).ok_or(TooLong)
}

/// The text as the data of a code of the given version, or none where it does not fit.
fn bits(text: &str, version: i16) -> Option<Bits> {
    let mut bits = Bits::new(Version::Normal(version));
    bits.push_alphanumeric_data(text.as_bytes()).ok()?;
    bits.push_terminator(EcLevel::Q).ok()?;
    Some(bits)
}

impl Payload {
    /// The code of a sheet of the worksheet `worksheet_id`.
    pub fn new(worksheet_id: &str, page: u32, code: Option<&str>) -> Self {
        Self { worksheet: key(worksheet_id), page, code: code.map(str::to_owned) }
    }

    /// The text in the code.
    ///
    /// ```
    /// # use lodemark::print::code::Payload;
    /// let text = Payload::new("unlike-poles", 1, Some("R7K-01")).encode();
    /// assert!(text.starts_with("LM1/UNLIKE-POLES/1/R7K-01/"));
    /// assert_eq!(Payload::decode(&text).unwrap().code.as_deref(), Some("R7K-01"));
    /// ```
    pub fn encode(&self) -> String {
        let body =
            format!("{FORMAT}/{}/{}/{}", self.worksheet, self.page, self.code.as_deref().unwrap_or(""));
        let check = check_value(&body);
        format!("{body}/{check}")
    }

    /// Reads the text of a code, also as typed from its letters (small letters, spaces round it).
    ///
    /// # Errors
    /// [`Misread`]: another code, a newer format, or a sign misread.
    pub fn decode(text: &str) -> Result<Self, Misread> {
        let text = text.trim().to_ascii_uppercase();
        let (body, check) = text.rsplit_once('/').ok_or(Misread::NotOurs)?;
        let fields: Vec<&str> = body.split('/').collect();
        let newer = |f: &str| f.strip_prefix("LM").is_some_and(|n| n.parse::<u32>().is_ok_and(|n| n > 1));
        match fields.as_slice() {
            [first, ..] if newer(first) => Err(Misread::Newer),
            [FORMAT, ..] if check != check_value(body) => Err(Misread::Check),
            [FORMAT, worksheet, page, code] if !worksheet.is_empty() => {
                let page = page.parse().ok().filter(|p| *p > 0).ok_or(Misread::NotOurs)?;
                let code = (!code.is_empty()).then(|| (*code).to_owned());
                Ok(Self { worksheet: (*worksheet).to_owned(), page, code })
            }
            _ => Err(Misread::NotOurs),
        }
    }

    /// The QR code, level Q, in the grid that all sheets of the worksheet share.
    ///
    /// # Errors
    /// [`TooLong`] where the worksheet's id does not fit.
    pub fn modules(&self) -> Result<Modules, TooLong> {
        let data = bits(&self.encode(), version(&self.worksheet, self.page)?).ok_or(TooLong)?;
        let code = QrCode::with_bits(data, EcLevel::Q).map_err(|_| TooLong)?;
        let dark = code.to_colors().into_iter().map(|c| c == Color::Dark).collect();
        Ok(Modules { side: code.width(), dark })
    }
}

/// Two digits of base 36: the signs' values as a polynomial in [`CHECK_BASE`], modulo the prime [`CHECK_PRIME`].
///
/// Built as the pure systems of ISO/IEC 7064: with a prime modulus above every difference of signs, any one sign
/// misread and any two neighbours swapped change the value.
fn check_value(body: &str) -> String {
    let value = |b: u8| SIGNS.iter().position(|s| *s == b).unwrap_or(SIGNS.len()) as u32;
    let sum = body.bytes().fold(0, |sum, b| (sum * CHECK_BASE + value(b)) % CHECK_PRIME);
    let digit = |d: u32| CHECK_DIGITS[d as usize] as char;
    [digit(sum / 36), digit(sum % 36)].iter().collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sample() -> String {
        Payload::new("unlike-poles", 1, Some("R7K-01")).encode()
    }

    #[test]
    fn comes_back_with_and_without_a_student() {
        for code in [Some("R7K-01"), None, Some("SPARE-07")] {
            let payload = Payload::new("Three_bars 2", 3, code);
            assert_eq!(payload.worksheet, "THREE-BARS-2");
            assert_eq!(Payload::decode(&payload.encode()), Ok(payload));
        }
    }

    #[test]
    fn any_one_sign_misread_is_noticed() {
        let text = sample();
        for at in 4..text.len() {
            for sign in SIGNS.iter().filter(|s| **s != text.as_bytes()[at]) {
                let mut wrong = text.clone().into_bytes();
                wrong[at] = *sign;
                let wrong = String::from_utf8(wrong).unwrap();
                assert!(Payload::decode(&wrong).is_err(), "{wrong}");
            }
        }
    }

    #[test]
    fn any_two_neighbours_swapped_are_noticed() {
        let text = sample();
        for at in 4..text.len() - 1 {
            let mut wrong = text.clone().into_bytes();
            wrong.swap(at, at + 1);
            if wrong != text.as_bytes() {
                assert!(Payload::decode(&String::from_utf8(wrong).unwrap()).is_err());
            }
        }
    }

    #[test]
    fn foreign_and_newer_codes_are_told_apart() {
        assert_eq!(Payload::decode("https://example.org/1/2/3"), Err(Misread::NotOurs));
        assert_eq!(Payload::decode(""), Err(Misread::NotOurs));
        assert_eq!(Payload::decode("LM2/X/1/A1/00"), Err(Misread::Newer));
        assert_eq!(Payload::decode("LM1/X/1/A1/00"), Err(Misread::Check));
    }

    #[test]
    fn one_grid_serves_the_whole_class() {
        let side = modules_a_side("unlike-poles", 1).unwrap();
        for code in [None, Some("A1"), Some("LONGESTCODE1")] {
            let modules = Payload::new("unlike-poles", 1, code).modules().unwrap();
            assert_eq!((modules.side, modules.dark.len()), (side, side * side));
        }
        assert_eq!(side, 29);
    }

    #[test]
    fn the_longest_id_fits_and_a_longer_one_is_refused() {
        assert_eq!(modules_a_side(&"x".repeat(LONGEST_ID), 1), Ok(33));
        assert_eq!(modules_a_side(&"x".repeat(LONGEST_ID + 1), 1), Err(TooLong));
    }
}
