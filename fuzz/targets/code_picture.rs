#![no_main]
#[path = "../properties.rs"]
#[allow(dead_code)]
mod properties;
#[path = "../panics.rs"]
mod panics;

libfuzzer_sys::fuzz_target!(init: panics::only_ours(), |bytes: &[u8]| properties::code_picture(bytes));
