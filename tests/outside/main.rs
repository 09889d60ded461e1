//! Checks against what was published or made elsewhere; the source stands beside each check.
//!
//! - `qr`: codes read back from the printed page by another reader

#[path = "../promises/page.rs"]
mod page;
mod qr;
