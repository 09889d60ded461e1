//! Checks against what was published or made elsewhere; the source stands beside each check.
//!
//! - `csv`: marks.csv read back by another reader
//! - `qr`: codes read back from the printed page by another reader

mod csv;
#[path = "../promises/page.rs"]
mod page;
mod qr;
