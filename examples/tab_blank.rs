//! The trace of a tab blank with two rounded corners becomes an outline to size.
//!
//! `cargo run --example tab_blank [FILE.csv]`

use std::error::Error;
use trued::format::{Content, Units, read};
use trued::{Edge, Settings, true_up};

fn main() -> Result<(), Box<dyn Error>> {
    let demo = concat!(env!("CARGO_MANIFEST_DIR"), "/examples/traces/tab_blank.csv");
    let file = std::env::args().nth(1).unwrap_or_else(|| demo.to_owned());
    let Content::Trace(trace) = read(&file, &std::fs::read(&file)?, Units::Mm)?.content else {
        return Err("a trace is wanted".into());
    };

    let settings = Settings {
        whole: Some(1.0),
        ..Settings::default()
    };
    let trued = true_up(&trace, &settings, &[])?;
    for edge in trued.outline.loops.iter().flat_map(|l| l.path.edges()) {
        match edge {
            Edge::Line(e) => println!("line of {:.2} mm", e.length()),
            Edge::Arc(e) => println!(
                "arc of radius {:.2} mm through {:.1} degrees",
                e.radius,
                e.sweep.to_degrees()
            ),
        }
    }
    for size in &trued.report.sizes {
        println!(
            "{:?}: {:.2} ± {:.2}",
            size.kind, size.value, size.plus_minus
        );
    }
    for note in &trued.report.notes {
        println!("{}", note.text);
    }
    Ok(())
}
