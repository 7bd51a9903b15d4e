//! A test piece for a new sheet; then the filled-in sheet becomes kerf and feed.
//!
//! `cargo run --example coupon [PICTURE.svg]`

use std::error::Error;
use trued::cut::CutSettings;
use trued::format::{Units, plan_svg};
use trued::jobs::coupon::{measured, read_sheet};
use trued::jobs::{CouponSettings, coupon};

fn main() -> Result<(), Box<dyn Error>> {
    let ladder = CouponSettings {
        feed_from: 1800.0,
        feed_to: 3000.0,
        rungs: 6,
    };
    // Not your figures: look in your cutter's book.
    let made = coupon(&ladder, &CutSettings::new(1.5, 2400.0, 0.4))?;
    for (i, feed) in made.feeds.iter().enumerate() {
        println!("rung {} at {feed} mm/min", i + 1);
    }

    let file = concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/examples/measurements/coupon_filled.csv"
    );
    let (figures, ladder) = read_sheet(&std::fs::read_to_string(file)?)?;
    let says = measured(&figures, ladder.as_ref())?;
    if let (Some((kerf, plus_minus)), Some(feed)) = (says.kerf, says.feed) {
        println!("kerf {kerf:.2} ± {plus_minus:.2} mm, feed {feed} mm/min");
    }
    if let Some(path) = std::env::args().nth(1) {
        std::fs::write(path, plan_svg::write(&made.plan, Units::Mm))?;
    }
    Ok(())
}
