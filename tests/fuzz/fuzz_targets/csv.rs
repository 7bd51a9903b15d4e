//! A csv file, whole or broken.
#![no_main]

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| trued_fuzz::file("a.csv", bytes));
