//! The printed page: what stands where ([`layout`]), the code on it ([`code`]), the letters ([`lettering`])
//! and the file that goes to the printer ([`sheet`]); and the picture of the computed field ([`answer`]) in
//! several views ([`views`]).
//!
//! [`layout::Layout`] is the one description of a sheet: the printer draws it and the reader of scans takes it
//! away again. Millimetres on the page, x to the right, y down.

pub mod answer;
pub mod answer_pdf;
mod base64;
pub mod code;
mod header;
pub mod instructions;
pub mod layout;
pub mod lettering;
pub mod picture;
mod poles;
pub mod sheet;
pub mod views;

pub(crate) use base64::base64;
