//! The program `trued`.
#![forbid(unsafe_code)]
// No input may make it panic. A file of nothing but numbered tables may index; it says why it may.
#![cfg_attr(
    not(test),
    deny(
        clippy::expect_used,
        clippy::indexing_slicing,
        clippy::panic,
        clippy::string_slice,
        clippy::todo,
        clippy::unimplemented,
        clippy::unreachable,
        clippy::unwrap_used
    )
)]

mod cli;

fn main() -> std::process::ExitCode {
    cli::run()
}
