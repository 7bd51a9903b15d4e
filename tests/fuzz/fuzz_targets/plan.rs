//! Outline to plan to every writer. An outline that no reader would let in is passed over.
#![no_main]

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| {
    let (outline, settings) = trued_fuzz::spell::outline(bytes);
    if outline.check_invariants().is_ok() {
        trued_fuzz::made(&outline, &settings);
    }
});
