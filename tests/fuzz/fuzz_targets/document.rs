//! A document: outline, job or hints. A job is read as well.
#![no_main]

use trued::format::{self, Content, Units};

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| {
    trued_fuzz::file("a.json", bytes);
    if let Ok(Content::Job(job)) = format::read("a.json", bytes, Units::Mm).map(|i| i.content) {
        trued_fuzz::trace(&job.trace, &job.settings, &job.hints);
    }
});
