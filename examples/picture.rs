//! Pictures of the examples: lines in mm on a plate, y up, told apart by weight and dash.

use std::fmt::Write;
use trued::Point;

/// A picture under construction.
pub struct Picture {
    low: Point,
    high: Point,
    body: String,
}

impl Picture {
    /// A picture that shows this much of the plate, mm.
    pub fn new(low: Point, high: Point) -> Self {
        Self {
            low,
            high,
            body: String::new(),
        }
    }

    fn at(&self, p: Point) -> (f64, f64) {
        (p.x - self.low.x, self.high.y - p.y)
    }

    /// A run of straight strokes; `dash` is empty for a whole line.
    pub fn run(&mut self, points: &[Point], width: f64, dash: &str) {
        let mut d = String::new();
        for (i, p) in points.iter().enumerate() {
            let (x, y) = self.at(*p);
            let _ = write!(d, "{}{x:.2} {y:.2}", if i == 0 { "M" } else { "L" });
        }
        let _ = writeln!(
            self.body,
            "<path d=\"{d}\" fill=\"none\" stroke=\"#222\" stroke-width=\"{width}\" stroke-dasharray=\"{dash}\"/>"
        );
    }

    /// A small cross where something was touched.
    pub fn cross(&mut self, p: Point, size: f64) {
        for (dx, dy) in [(size, size), (size, -size)] {
            let (a, b) = (
                Point::new(p.x - dx, p.y - dy),
                Point::new(p.x + dx, p.y + dy),
            );
            self.run(&[a, b], 0.5, "");
        }
    }

    /// A ring, for instance of an error drawn larger.
    pub fn ring(&mut self, p: Point, radius: f64) {
        let (x, y) = self.at(p);
        let _ = writeln!(
            self.body,
            "<circle cx=\"{x:.2}\" cy=\"{y:.2}\" r=\"{radius:.2}\" fill=\"none\" stroke=\"#222\" stroke-width=\"0.6\"/>"
        );
    }

    /// Words beside a place.
    pub fn say(&mut self, p: Point, size: f64, text: &str) {
        let (x, y) = self.at(p);
        let _ = writeln!(
            self.body,
            "<text x=\"{x:.2}\" y=\"{y:.2}\" font-size=\"{size}\">{text}</text>"
        );
    }

    /// The finished SVG.
    pub fn svg(&self, what: &str) -> String {
        let (w, h) = (self.high.x - self.low.x, self.high.y - self.low.y);
        format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {w:.1} {h:.1}\" width=\"{w:.0}mm\" height=\"{h:.0}mm\" font-family=\"sans-serif\">\n<title>{what}</title>\n<rect width=\"100%\" height=\"100%\" fill=\"#fff\"/>\n{}</svg>\n",
            self.body
        )
    }
}
