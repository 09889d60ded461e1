//! The largest and smallest that is read. Each is held against the file's own header before memory is taken.

use std::time::Duration;

/// Largest file of one image (JPEG, PNG, WebP), which is read whole: an uncompressed A3 page in colour
/// at 600 dpi takes 209 MB.
pub const MAX_IMAGE_FILE_BYTES: u64 = 256 << 20;

/// Longest that a HEIC picture may take to be converted: 12 million pixels take about a second.
pub const MAX_CONVERSION: Duration = Duration::from_secs(30);

/// Largest PDF or TIFF, which is read page by page: 2,000 colour pages of 2 MB.
pub const MAX_DOCUMENT_BYTES: u64 = 4 << 30;

/// Most pages of one file: a year group of 300 with three sheets each, twice over.
pub const MAX_PAGES: usize = 2_000;

/// Most pixels of a page: A3 at 600 dpi has 70 million, a telephone's picture up to 108 million.
pub const MAX_PIXELS: u64 = 110_000_000;

/// Most pixels of a progressive JPEG, whose decoder keeps two bytes of coefficients a sample besides.
pub const MAX_PROGRESSIVE_PIXELS: u64 = 60_000_000;

/// Most scans of a progressive JPEG (common encoders write 10); each goes over the whole picture once.
pub const MAX_JPEG_SCANS: usize = 40;

/// Shortest side of a page, pixels: on the short side of A4 a pixel would be 2 mm, wider than any stroke.
pub const MIN_SIDE_PX: u64 = 100;

/// Resolution at which a PDF page is drawn where it is no plain scan, dots per inch: the copiers' usual.
pub const RENDER_DPI: f64 = 200.0;

/// Most pixels of a page that is drawn: A3 at 200 dpi has 7.7 million; a page of pixels without a
/// resolution may claim to be metres wide.
pub const MAX_RENDER_PIXELS: f64 = 16e6;

/// Most bytes that the drawing instructions of a PDF page may unpack to.
pub const MAX_CONTENT_BYTES: usize = 64 << 20;

/// Most images on a PDF page: strips of 8 rows on A3 at 600 dpi would be 1,242.
pub const MAX_IMAGES_A_PAGE: usize = 2_000;
