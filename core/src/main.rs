//! The program `trued`.
fn main() {}
