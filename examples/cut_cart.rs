//! Gussets, brackets and hinge blanks of the kiln cart on one plate, ready for the torch.
//!
//! `cargo run --release --example cut_cart [PICTURE.svg]`

use std::error::Error;
use trued::cut::{CutSettings, Lay, Stock, Turns, lay_out, plan};
use trued::format::{Content, Units, read, rs274, sheet};
use trued::{Outline, Settings, true_up};

fn outline(name: &str) -> Result<Outline, Box<dyn Error>> {
    let file = format!(
        "{}/../examples/traces/{name}.csv",
        env!("CARGO_MANIFEST_DIR")
    );
    match read(&file, &std::fs::read(&file)?, Units::Mm)?.content {
        Content::Trace(trace) => Ok(true_up(&trace, &Settings::default(), &[])?.outline),
        _ => Err("a trace is wanted".into()),
    }
}

fn main() -> Result<(), Box<dyn Error>> {
    let pieces = ["shelf_gusset", "cart_bracket", "hinge_blank"].map(outline);
    let pieces = pieces.into_iter().collect::<Result<Vec<_>, _>>()?;

    // Not your figures: look in your cutter's book.
    let mut settings = CutSettings::new(1.5, 2400.0, 0.4);
    settings.thickness = Some(3.0);
    settings.hole = Some(8.0);
    settings.stock = Some(Stock::rectangle(600.0, 400.0)?);
    let lay = Lay {
        copies: 4,
        gap: None,
        turns: Turns::QuarterAndEdges,
    };
    let (laid, found) = lay_out(&pieces, lay, &settings)?;
    let mut plan = plan(&laid, &settings)?;
    plan.tell_layout(&found);
    for line in sheet::figures(&plan, Units::Mm) {
        println!("{line}");
    }
    let program = rs274::write(&plan, rs274::Options::default());
    println!("{} lines for the machine", program.lines().count());
    if let Some(path) = std::env::args().nth(1) {
        std::fs::write(path, sheet::picture(&plan, Units::Mm))?;
    }
    Ok(())
}
