//! The pipeline behind `mark` and `check`.

pub mod read;
