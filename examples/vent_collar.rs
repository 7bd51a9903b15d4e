//! Four marked holes and a traced pipe become the opening for a vent collar: a round opening in the
//! middle of the holes' circle, the holes true on it.
//!
//! `cargo run --example vent_collar`

use std::error::Error;
use trued::format::{Content, Units, read};
use trued::jobs::{OpeningSettings, OpeningShape, opening};
use trued::{Path, Point, Settings, true_up};

fn main() -> Result<(), Box<dyn Error>> {
    let file = concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/examples/traces/vent_collar.csv"
    );
    let Content::Trace(trace) = read(file, &std::fs::read(file)?, Units::Mm)?.content else {
        return Err("a trace is wanted".into());
    };
    let trued = true_up(&trace, &Settings::default(), &[])?;

    // The marks are the holes of the collar; 110 is the pipe that must pass.
    let marks: Vec<Point> = trued.outline.marks.iter().map(|m| m.at).collect();
    let made = opening(
        &marks,
        None,
        &OpeningSettings::new(8.0, OpeningShape::Round(110.0)),
    )?;

    println!("{}", made.pattern.sentence());
    for l in &made.outline.loops {
        if let Path::Circle(c) = &l.path {
            println!(
                "a hole of {:.2} at ({:.2}, {:.2})",
                2.0 * c.radius,
                c.center.x,
                c.center.y
            );
        }
    }
    for note in &made.report.notes {
        println!("{}", note.text);
    }
    Ok(())
}
