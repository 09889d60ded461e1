//! (see lib.rs)
