//! Calipers on a cut rectangle say how crooked the machine is; the next piece comes out square.
//!
//! `cargo run --example square_machine [PICTURE.svg]`

use std::error::Error;
use trued::Point;
use trued::machine::{Measured, Squareness, squareness};

#[path = "picture.rs"]
#[allow(dead_code)]
mod picture;

fn main() -> Result<(), Box<dyn Error>> {
    let fit = squareness(&Measured {
        nominal: [400.0, 300.0],
        sides: [404.1, 297.0, 403.9, 297.1],
        diagonals: [499.5, 503.3],
        caliper: 0.1,
    })?;
    let [x, y, angle] = fit.plus_minus;
    let m = fit.machine;
    println!(
        "scale x {:.4} ± {x:.4}, scale y {:.4} ± {y:.4}",
        m.scale_x, m.scale_y
    );
    println!(
        "out of square {:.3}° ± {:.3}°",
        m.out_of_square.to_degrees(),
        angle.to_degrees()
    );

    // What has to be told so that 400 × 300 is done.
    for (x, y) in [(400.0, 0.0), (400.0, 300.0), (0.0, 300.0)] {
        let told = m.correct(Point::new(x, y));
        let done = m.apply(told);
        println!(
            "told ({:.2}, {:.2}), done ({:.2}, {:.2})",
            told.x, told.y, done.x, done.y
        );
    }
    if let Some(path) = std::env::args().nth(1) {
        let corners = [
            (0.0, 0.0),
            (400.0, 0.0),
            (400.0, 300.0),
            (0.0, 300.0),
            (0.0, 0.0),
        ]
        .map(|(x, y)| Point::new(x, y));
        // Ten times as crooked, or nobody would see it.
        let drawn = Squareness {
            scale_x: 1.0 + 10.0 * (m.scale_x - 1.0),
            scale_y: 1.0 + 10.0 * (m.scale_y - 1.0),
            out_of_square: 10.0 * m.out_of_square,
        };
        let mut picture = picture::Picture::new(Point::new(-50.0, -20.0), Point::new(460.0, 320.0));
        picture.run(&corners, 0.8, "4 4");
        picture.run(&corners.map(|p| drawn.apply(p)), 1.6, "");
        picture.say(
            Point::new(90.0, 150.0),
            12.0,
            "dashed: told; whole: done, ten times as crooked",
        );
        std::fs::write(
            path,
            picture.svg("the rectangle told and the rectangle done"),
        )?;
    }
    Ok(())
}
