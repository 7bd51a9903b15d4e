//! A marker trace of a plate becomes a clean rectangle.
//!
//! `cargo run --example tidy_rectangle`

use trued::{Edge, Point, Settings, Trace, true_up};

fn main() -> Result<(), trued::Refusal> {
    // Round a plate of 90 by 60 with a marker that shakes by half a millimetre.
    let shake = |i: usize| 0.5 * libm::sin(0.9 * i as f64) * libm::cos(0.37 * i as f64);
    let mut points = Vec::new();
    for i in 0..90 {
        points.push(Point::new(i as f64, shake(i)));
    }
    for i in 0..60 {
        points.push(Point::new(90.0 + shake(i + 90), i as f64));
    }
    for i in 0..90 {
        points.push(Point::new(90.0 - i as f64, 60.0 + shake(i + 150)));
    }
    for i in 0..58 {
        points.push(Point::new(shake(i + 240), 60.0 - i as f64));
    }

    let trued = true_up(&Trace::from_strokes([points]), &Settings::default(), &[])?;
    for l in &trued.outline.loops {
        println!("{:?}, closed: {}", l.role, l.path.is_closed());
        for edge in l.path.edges() {
            match edge {
                Edge::Line(e) => println!("  line of {:.2} mm", e.length()),
                Edge::Arc(e) => println!("  arc of radius {:.2} mm", e.radius),
            }
        }
    }
    Ok(())
}
