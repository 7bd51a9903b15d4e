//! The browser's clock.

use wasm_bindgen::JsCast as _;
use web_sys::{Window, WorkerGlobalScope};

/// Milliseconds since some moment, in a worker as in a window; none where there is neither.
pub fn now() -> Option<f64> {
    let global = js_sys::global();
    let clock = match global.dyn_ref::<WorkerGlobalScope>() {
        Some(worker) => worker.performance(),
        None => global.dyn_ref::<Window>()?.performance(),
    };
    Some(clock?.now())
}
