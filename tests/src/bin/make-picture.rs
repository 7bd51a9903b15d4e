//! Draws the README's picture anew from a demo trace: what the hand left, and what became of it.
//! `cargo run -p trued-tests --bin make-picture`.

use core::fmt::Write as _;
use std::path::Path as FilePath;
use trued::format::{self, Content, Units};
use trued::{Edge, Path, Point, Settings, true_up};

/// Room between and around the two drawings, mm.
const ROOM: f64 = 14.0;

fn main() -> Result<(), String> {
    let root = FilePath::new(env!("CARGO_MANIFEST_DIR")).join("..");
    let file = root.join("examples/traces/kiln_door.csv");
    let bytes = std::fs::read(&file).map_err(|e| e.to_string())?;
    let input = format::read("kiln_door.csv", &bytes, Units::Mm).map_err(|e| e.to_string())?;
    let Content::Trace(trace) = input.content else {
        return Err("the demo is a trace".into());
    };
    let trued = true_up(&trace, &Settings::default(), &[]).map_err(|e| e.to_string())?;
    let points: Vec<Point> = trace
        .strokes
        .iter()
        .flat_map(|s| s.points.clone())
        .collect();
    let (lo, hi) = extent(&points);
    let width = hi.x - lo.x;
    let total = 2.0 * width + 3.0 * ROOM;
    let height = hi.y - lo.y + 2.0 * ROOM;
    let mut svg = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {total:.1} {height:.1}\" \
         role=\"img\" aria-label=\"A hand's trace of a kiln door and the outline it became\">\n\
         <rect width=\"100%\" height=\"100%\" fill=\"#3b3f42\"/>\n"
    );
    let flip = |p: Point, dx: f64| (p.x - lo.x + ROOM + dx, hi.y - p.y + ROOM);
    for s in &trace.strokes {
        let places: Vec<String> = s
            .points
            .iter()
            .map(|&p| flip(p, 0.0))
            .map(|(x, y)| format!("{x:.2},{y:.2}"))
            .collect();
        let _ = writeln!(
            svg,
            "<polyline fill=\"none\" stroke=\"#e8e4d8\" stroke-width=\"0.9\" points=\"{}\"/>",
            places.join(" ")
        );
    }
    for l in &trued.outline.loops {
        let d = course(&l.path, |p| flip(p, width + ROOM));
        let _ = writeln!(
            svg,
            "<path fill=\"#50565a\" stroke=\"#f4f6f7\" stroke-width=\"0.9\" d=\"{d}\"/>"
        );
    }
    svg.push_str("</svg>\n");
    let dir = root.join("examples/pictures");
    std::fs::create_dir_all(&dir).map_err(|e| e.to_string())?;
    std::fs::write(dir.join("kiln_door.svg"), svg).map_err(|e| e.to_string())
}

fn extent(points: &[Point]) -> (Point, Point) {
    let fold = |f: fn(f64, f64) -> f64, start: f64| {
        points.iter().fold(Point::new(start, start), |m, p| {
            Point::new(f(m.x, p.x), f(m.y, p.y))
        })
    };
    (
        fold(f64::min, f64::INFINITY),
        fold(f64::max, f64::NEG_INFINITY),
    )
}

/// Path data of a course; true arcs, mirrored because the picture's y points down.
fn course(path: &Path, flip: impl Fn(Point) -> (f64, f64)) -> String {
    let mut d = String::new();
    for (i, edge) in path.edges().iter().enumerate() {
        if i == 0 {
            let (x, y) = flip(edge.from());
            let _ = write!(d, "M{x:.2} {y:.2}");
        }
        let (x, y) = flip(edge.to());
        match edge {
            Edge::Line(_) => {
                let _ = write!(d, "L{x:.2} {y:.2}");
            }
            Edge::Arc(a) if a.is_full() => {
                let (mx, my) = flip(a.point_at(0.5));
                let r = a.radius;
                let _ = write!(
                    d,
                    "A{r:.2} {r:.2} 0 0 0 {mx:.2} {my:.2}A{r:.2} {r:.2} 0 0 0 {x:.2} {y:.2}"
                );
            }
            Edge::Arc(a) => {
                let large = u8::from(a.sweep.abs() > core::f64::consts::PI);
                let side = u8::from(a.sweep < 0.0);
                let r = a.radius;
                let _ = write!(d, "A{r:.2} {r:.2} 0 {large} {side} {x:.2} {y:.2}");
            }
        }
    }
    if path.is_closed() {
        d.push('Z');
    }
    d
}
