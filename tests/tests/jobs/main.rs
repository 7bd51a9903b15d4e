//! The jobs around the cut, judged by known truths and simulated hands.
//!
//! `cargo test -p trued-tests --test jobs -- --nocapture` prints every figure.

mod arm;
mod blanks;
mod chance;
mod coupon;
mod opening;
mod square;
