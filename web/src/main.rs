//! Builds and serves the page.
fn main() {}
