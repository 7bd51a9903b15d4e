//! Four touched holes and a roughly traced pipe become the true opening of a vent collar.
//!
//! `cargo run --example opening [PICTURE.svg]`

use std::error::Error;
use trued::format::{Content, Units, read};
use trued::jobs::{OpeningSettings, OpeningShape, PatternSettings, opening};
use trued::{Point, Settings, true_up};

#[path = "picture.rs"]
#[allow(dead_code)]
mod picture;

fn main() -> Result<(), Box<dyn Error>> {
    let file = concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/examples/marks/vent_collar.csv"
    );
    let Content::Trace(trace) = read(file, &std::fs::read(file)?, Units::Mm)?.content else {
        return Err("a trace is wanted".into());
    };
    let trued = true_up(&trace, &Settings::default(), &[])?;
    let marks: Vec<Point> = trued.outline.marks.iter().map(|m| m.at).collect();
    let rough = trued.outline.loops.iter().find(|l| l.path.is_closed());

    // Holes of 8 mm; round, of the next size of the duct series; the plate is 2 mm.
    let mut settings = OpeningSettings::new(8.0, OpeningShape::NextRound(None));
    settings.thickness = Some(2.0);
    settings.pattern = PatternSettings {
        whole: Some(1.0),
        ..PatternSettings::default()
    };
    let made = opening(&marks, rough, &settings)?;
    for note in &made.report.notes {
        println!("{}", note.text);
    }

    if let Some(path) = std::env::args().nth(1) {
        let mut picture = picture::Picture::new(Point::new(30.0, 20.0), Point::new(290.0, 280.0));
        for stroke in &trace.strokes {
            picture.run(&stroke.points, 0.4, "2 2");
        }
        for l in &made.outline.loops {
            picture.run(&l.path.flatten(0.01), 1.0, "");
        }
        for mark in &marks {
            picture.cross(*mark, 3.0);
        }
        std::fs::write(
            path,
            picture.svg("dashed: the hand; whole: the opening and its holes; crosses: the touches"),
        )?;
    }
    Ok(())
}
