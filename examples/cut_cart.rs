//! Gussets, brackets and hinge blanks of the kiln cart on one plate, ready for the torch.
//!
//! `cargo run --release --example cut_cart [PICTURE.svg]`

use std::error::Error;
use trued::cut::{Accepted, CutSettings, Group, Lay, Stock, Turns, job};
use trued::format::figures::figures;
use trued::format::look::{Picture, Seen};
use trued::format::{Content, Units, read, rs274};
use trued::{Settings, true_up};

fn piece(name: &str) -> Result<(Group, Seen), Box<dyn Error>> {
    let file = format!("{}/examples/traces/{name}.csv", env!("CARGO_MANIFEST_DIR"));
    match read(&file, &std::fs::read(&file)?, Units::Mm)?.content {
        Content::Trace(trace) => {
            let read = true_up(&trace, &Settings::default(), &[])?;
            Ok((Group::from(&read), Seen::of(&read, Some(&trace), Units::Mm)))
        }
        _ => Err("a trace is wanted".into()),
    }
}

fn main() -> Result<(), Box<dyn Error>> {
    let pieces = ["shelf_gusset", "cart_bracket", "hinge_blank"].map(piece);
    let pieces = pieces.into_iter().collect::<Result<Vec<_>, _>>()?;
    let (groups, seen): (Vec<Group>, Vec<Seen>) = pieces.into_iter().unzip();

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
    let made = job(&groups, Some(lay), &settings)?;
    let plan = made.plan.ok_or("nothing fits")?;
    for line in figures(&plan, Units::Mm) {
        println!("{line}");
    }
    // A plan with a doubt gives no file for a machine unless the person accepts it.
    let cleared = plan.cleared(&Accepted::None)?;
    let program = rs274::write(cleared, rs274::Options::default());
    println!("{} lines for the machine", program.lines().count());
    if let Some(path) = std::env::args().nth(1) {
        let seen = Seen::laid(&seen, &made.layout);
        std::fs::write(path, Picture::of_plan(&plan, &seen, Units::Mm).svg())?;
    }
    Ok(())
}
