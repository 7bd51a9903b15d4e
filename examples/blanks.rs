//! One rough hinge blank and a scrap from the bin: as many true blanks as fit, and what is missing.
//!
//! `cargo run --release --example blanks [PICTURE.svg]`

use std::error::Error;
use trued::cut::stock::TOUCHED_HOLE;
use trued::cut::{CutSettings, Stock, Turns, plan};
use trued::format::look::{Picture, Seen};
use trued::format::{Content, Units, read};
use trued::jobs::{BlanksSettings, blanks};
use trued::{Outline, Settings, true_up};

fn outline(name: &str) -> Result<Outline, Box<dyn Error>> {
    let file = format!("{}/examples/{name}", env!("CARGO_MANIFEST_DIR"));
    match read(&file, &std::fs::read(&file)?, Units::Mm)?.content {
        Content::Trace(trace) => Ok(true_up(&trace, &Settings::default(), &[])?.outline),
        _ => Err("a trace is wanted".into()),
    }
}

fn main() -> Result<(), Box<dyn Error>> {
    let tab = outline("traces/hinge_blank.csv")?;
    let scrap = Stock::from_outline(&outline("scrap/bin_piece.csv")?, TOUCHED_HOLE)?;
    let mut wanted = BlanksSettings::new(20, 1.5);
    wanted.turns = Turns::QuarterAndEdges;
    let laid = blanks(&tab, &scrap, &wanted)?;
    println!("{}", laid.sentence);

    // Not your figures: look in your cutter's book.
    let mut settings = CutSettings::new(1.5, 2400.0, 0.4);
    settings.stock = Some(scrap);
    let plan = plan(&laid.outline, &settings)?;
    println!(
        "{} pierces, {:.0} mm with the torch on",
        plan.totals.pierces, plan.totals.cut_length
    );
    if let Some(path) = std::env::args().nth(1) {
        std::fs::write(
            path,
            Picture::of_plan(&plan, &Seen::default(), Units::Mm).svg(),
        )?;
    }
    Ok(())
}
