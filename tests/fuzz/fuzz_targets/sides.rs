//! The files beside a trace: hints, machine, material book, filled-in sheet, touches. The first byte
//! says which.
#![no_main]

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| {
    if let Some((which, file)) = bytes.split_first() {
        trued_fuzz::side_file(*which, file);
    }
});
