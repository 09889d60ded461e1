//! Why a file or a page is refused: a value with words for a person, what it is and what to do.

use std::fmt;
use std::path::PathBuf;

use super::limits;
use crate::problem::Problem;

/// A whole file is refused.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Refusal {
    pub file: PathBuf,
    pub reason: Reason,
}

/// One page of a file is refused.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PageRefusal {
    pub file: PathBuf,
    /// Counted from 1.
    pub number: usize,
    pub reason: Reason,
}

/// Why.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Reason {
    /// The operating system does not give the file; its words.
    Unreadable(String),
    /// Zero bytes.
    Empty,
    FileTooLarge {
        bytes: u64,
        limit: u64,
    },
    /// The content is no image and no document of images; what it looks like.
    NotAnImage(&'static str),
    /// A telephone's HEIC (or HEIF, AVIF) picture, and no converter is installed.
    Heic,
    /// A HEIC picture that the converter could not convert; why.
    NotConverted(String),
    /// An image, but of a kind or coding that is not read; which.
    NotRead(String),
    /// A PDF that asks for a password.
    Encrypted,
    /// The data end before the page does.
    CutShort,
    /// The data are not what their coding asks for; the decoder's words.
    Damaged(String),
    TooManyPixels {
        width: u64,
        height: u64,
        limit: u64,
    },
    TooSmall {
        width: u64,
        height: u64,
    },
    TooManyPages {
        pages: usize,
    },
    /// The page holds no image, no line and no letter.
    NothingOnIt,
    NoSuchPage {
        pages: usize,
    },
}

impl Reason {
    pub(super) fn io(error: std::io::Error) -> Self {
        Self::Unreadable(error.to_string())
    }

    /// What is wrong.
    pub fn what(&self) -> String {
        match self {
            Self::Unreadable(words) => format!("cannot be opened: {words}"),
            Self::Empty => "is empty (0 bytes)".into(),
            Self::FileTooLarge { bytes, limit } => {
                format!("is too large: {} MB, at most {} MB are read", bytes >> 20, limit >> 20)
            }
            Self::NotAnImage(looks) => {
                format!("is no image: its content looks like {looks}, whatever its name says")
            }
            Self::Heic => {
                "is a HEIC picture from a telephone, which is read only where heif-convert is installed"
                    .into()
            }
            Self::NotConverted(words) => {
                format!("is a HEIC picture that heif-convert could not convert: {words}")
            }
            Self::NotRead(which) => format!("is {which}, which is not read"),
            Self::Encrypted => "is encrypted: it asks for a password".into(),
            Self::CutShort => "is cut short: its data end too early".into(),
            Self::Damaged(words) => format!("is damaged: {words}"),
            Self::TooManyPixels { width, height, limit } => {
                format!("claims {width} x {height} pixels, at most {} million are read", limit / 1_000_000)
            }
            Self::TooSmall { width, height } => {
                format!(
                    "has {width} x {height} pixels, too few for a sheet (at least {} a side)",
                    limits::MIN_SIDE_PX
                )
            }
            Self::TooManyPages { pages } => {
                format!("has {pages} pages, at most {} are read", limits::MAX_PAGES)
            }
            Self::NothingOnIt => "has nothing on it: no image, no line, no letter".into(),
            Self::NoSuchPage { pages } => format!("is not there: the file has {pages} pages"),
        }
    }

    /// What to do.
    pub fn fix(&self) -> &'static str {
        match self {
            Self::Unreadable(_) => "check that it is there and may be read",
            Self::Empty | Self::CutShort => "copy or scan it again",
            Self::FileTooLarge { .. } => "scan in grey at 200 dpi, or in several files",
            Self::NotAnImage(_) => "take it out of scans/, or save it as PDF, TIFF, JPEG, PNG or WebP",
            Self::Heic => {
                "install heif-convert (Debian and Ubuntu: apt install libheif-examples), or save it as JPEG (on the \
                 telephone: camera format \"most compatible\"), or scan the sheet"
            }
            Self::NotConverted(_) => "save it as JPEG on the telephone, or scan the sheet",
            Self::NotRead(_) => "save it as PDF, TIFF, JPEG, PNG or WebP in a common coding",
            Self::Encrypted => "save it without a password",
            Self::Damaged(_) => "scan the sheet again",
            Self::TooManyPixels { .. } => "scan at 200 to 300 dpi",
            Self::TooSmall { .. } => "scan the sheet at 200 dpi; a thumbnail cannot be read",
            Self::TooManyPages { .. } => "split it into several files",
            Self::NothingOnIt => "look at the page; scan the sheet again if it is one",
            Self::NoSuchPage { .. } => "give a page of the file, counted from 1",
        }
    }
}

impl fmt::Display for Reason {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}; {}", self.what(), self.fix())
    }
}

impl Refusal {
    /// As the one error that a user reads.
    pub fn problem(&self) -> Problem {
        Problem::of_file(&self.file, self.reason.what(), self.reason.fix())
    }
}

impl PageRefusal {
    /// As the one error that a user reads; the key's path holds the page.
    pub fn problem(&self) -> Problem {
        let path = format!("page {}", self.number);
        Problem { path, ..Problem::of_file(&self.file, self.reason.what(), self.reason.fix()) }
    }
}

impl fmt::Display for Refusal {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.problem().fmt(f)
    }
}

impl fmt::Display for PageRefusal {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.problem().fmt(f)
    }
}

impl std::error::Error for Refusal {}
impl std::error::Error for PageRefusal {}
