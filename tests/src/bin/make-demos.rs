//! Writes the demo traces anew: `cargo run -p trued-tests --bin make-demos`.

use std::path::Path;
use trued_tests::demos;

fn main() -> std::io::Result<()> {
    let dir = Path::new(env!("CARGO_MANIFEST_DIR")).join("../examples/traces");
    std::fs::create_dir_all(&dir)?;
    for demo in demos::all() {
        std::fs::write(dir.join(format!("{}.csv", demo.name)), demos::to_csv(&demo))?;
    }
    Ok(())
}
