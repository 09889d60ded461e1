//! Checks against what was published or made elsewhere; the source stands beside each check.
//!
//! - `field`: flux density of every kind of source against values at 40 digits and an outside library
//! - `earth`: the World Magnetic Model 2025 against its official test values
//! - `neutral`: neutral points against winding numbers and Newton's method at 40 digits
//! - `arrangements`: neutral points of the ready arrangements, by textbook formulas and an outside program
//! - `physics`: Maxwell's equations, reciprocity, symmetry, far field, by quadrature and differences
//! - `textbook`: worked values of textbooks by the kinds of a worksheet
//! - `geometry`: Fréchet and Hausdorff distances, homographies
//! - `stats`: rank correlation with ties
//! - `csv`: marks.csv read back by another reader
//! - `reading`: thinning and Otsu's threshold, worked pictures and figures
//! - `schema`: the JSON Schema of rubric.yaml, by a general validator
//! - `qr`: codes read back from the printed page by another reader

mod arrangements;
mod csv;
mod earth;
mod field;
mod geometry;
mod neutral;
#[path = "../promises/page.rs"]
mod page;
mod physics;
mod qr;
mod reading;
mod scene;
mod schema;
mod stats;
mod textbook;
