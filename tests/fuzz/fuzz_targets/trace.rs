//! Trace to outline, to every writer, back through every reader, to the plan.
#![no_main]

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| {
    let (trace, settings, hints) = trued_fuzz::spell::trace(bytes);
    trued_fuzz::trace(&trace, &settings, &hints);
});
