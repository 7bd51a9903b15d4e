//! What is said on the terminal after a run.

use trued::Trued;
use trued::cautions::CAUTION_LINE;

/// The line of cautions that ends every run which wrote something.
pub fn cautions() {
    eprintln!("{CAUTION_LINE}");
}

/// The table about one outline.
pub fn outline(name: &str, trued: &Trued) {
    eprintln!("{name}: {} loops", trued.outline.loops.len());
}
