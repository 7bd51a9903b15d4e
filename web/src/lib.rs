//! The browser's door to trued.
use wasm_bindgen::prelude::*;
/// x
#[wasm_bindgen]
pub fn limits() -> usize { trued::limits::MAX_POINTS }
