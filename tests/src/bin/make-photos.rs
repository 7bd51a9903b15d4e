//! Renders the demo pictures anew: a marker line on a plate, with its truth left out.
//! `cargo run --release -p trued-tests --bin make-photos`.

use std::path::Path;
use trued_tests::photo::album::picture;
use trued_tests::photo::scene::Wish;

/// Name, seed, and whether a part lies there.
const PHOTOS: [(&str, u64, bool); 1] = [("shelf_gusset", DRAWN, false)];
const DRAWN: u64 = 4;

fn main() -> Result<(), String> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../examples/photos");
    for (name, seed, part) in PHOTOS {
        let wish = Wish {
            size: (1400, 1050),
            held: false,
            other: false,
            missing: false,
            part,
        };
        let (bytes, truth) = picture(None, seed, wish)?;
        println!("{name}: {} frame {:?}", truth.about, truth.frame);
        let file = folder.join(format!("{name}.jpg"));
        std::fs::write(&file, bytes).map_err(|e| format!("{}: {e}", file.display()))?;
    }
    Ok(())
}
