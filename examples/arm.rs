//! Touches of known points give the arm; then a trace taken with the wrong tip is re-read.
//!
//! `cargo run --example arm [PICTURE_OF_ERRORS.svg [PICTURE_OF_TIP.svg]]`

use std::error::Error;
use trued::Point;
use trued::format::{Content, Units, read};
use trued::jobs::touches;
use trued::machine::{CalibrationSettings, Profile, calibrate, retip};

#[path = "picture.rs"]
#[allow(dead_code)]
mod picture;

fn demo(name: &str) -> String {
    format!("{}/examples/{name}", env!("CARGO_MANIFEST_DIR"))
}

fn main() -> Result<(), Box<dyn Error>> {
    let delivered = std::fs::read_to_string(demo("machines/as_delivered.json"))?;
    let believed = Profile::read(&delivered)?
        .arm
        .ok_or("the profile knows no arm")?;
    let touched = touches::read(&std::fs::read(demo("touches/shelf_plate.csv"))?, "stylus")?;
    let fit = calibrate(&touched, &believed, &CalibrationSettings::default())?;
    for f in &fit.figures {
        let k = if f.angle { 1f64.to_degrees() } else { 1.0 };
        println!("{}: {:.3} ± {:.3}", f.name, f.value * k, f.plus_minus * k);
    }
    // Touches at one elbow angle say nothing of link 1: refused, with what to do.
    let poor = touches::read(&std::fs::read(demo("touches/one_reach.csv"))?, "stylus")?;
    if let Err(refusal) = calibrate(&poor, &believed, &CalibrationSettings::default()) {
        println!("refused: {refusal}");
    }

    let shop = std::fs::read_to_string(demo("machines/shop_machine.json"))?;
    let arm = Profile::read(&shop)?
        .arm
        .ok_or("the profile knows no arm")?;
    let file = demo("touches/gusset_wrong_tip.csv");
    let Content::Trace(trace) = read(&file, &std::fs::read(&file)?, Units::Mm)?.content else {
        return Err("a trace is wanted".into());
    };
    let back = retip(&trace, &arm, arm.tip("stylus")?, arm.tip("torch")?)?;
    println!(
        "{} points re-read, {} out of reach",
        back.trace.point_count(),
        back.unreachable.len()
    );

    if let Some(path) = std::env::args().nth(1) {
        let mut picture = picture::Picture::new(Point::new(-30.0, -30.0), Point::new(510.0, 400.0));
        for t in &touched {
            picture.cross(t.known, 4.0);
        }
        for e in &fit.map {
            picture.ring(e.at, 100.0 * e.within);
            picture.say(
                Point::new(e.at.x + 2.0, e.at.y - 3.0),
                9.0,
                &format!("{:.2}", e.within),
            );
        }
        std::fs::write(
            path,
            picture.svg("crosses: touches; rings: expected error, a hundred times as large"),
        )?;
    }
    if let Some(path) = std::env::args().nth(2) {
        let mut picture = picture::Picture::new(Point::new(60.0, 60.0), Point::new(380.0, 340.0));
        for s in &trace.strokes {
            picture.run(&s.points, 0.8, "3 3");
        }
        for s in &back.trace.strokes {
            picture.run(&s.points, 1.4, "");
        }
        std::fs::write(
            path,
            picture.svg("dashed: as the machine reported it; whole: re-read with the right tip"),
        )?;
    }
    Ok(())
}
