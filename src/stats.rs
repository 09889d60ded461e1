//! Rank correlation.
