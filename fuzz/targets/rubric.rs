#![no_main]
#[path = "../panics.rs"]
mod panics;
#[path = "../properties.rs"]
#[allow(dead_code)]
mod properties;

libfuzzer_sys::fuzz_target!(init: panics::only_ours(), |bytes: &[u8]| properties::rubric(bytes));
