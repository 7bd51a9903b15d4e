//! Writes what the project makes of random points and shapes, for comparison with other libraries:
//! circle and line fits, areas and lengths, offsets, containment. JSON on standard output.

use core::f64::consts::TAU;
use serde_json::{Value, json};
use trued::cut::kerf::{Side, offset};
use trued::fit::{fit_circle, fit_line};
use trued::outline::nesting::{Place, Region};
use trued::{Edge, Path, Point, Vec2};
use trued_tests::rng::Rng;
use trued_tests::shapes::{Case, FAMILIES};

fn main() {
    let all = json!({
        "circles": circles(),
        "lines": lines(),
        "areas": areas(),
        "offsets": offsets(),
        "inside": inside(),
    });
    println!("{all}");
}

/// Points along an arc of 0.6 rad to a full turn, off it by up to a tenth of the radius.
fn circles() -> Vec<Value> {
    let mut rng = Rng::named(1, "circles");
    let mut all = Vec::new();
    while all.len() < 300 {
        let center = Point::new(rng.range(-200.0, 200.0), rng.range(-200.0, 200.0));
        let radius = rng.range(12.0, 120.0);
        let (first, sweep) = (rng.range(0.0, TAU), rng.range(0.6, TAU));
        let n = 8 + rng.below(80);
        let off = radius * rng.range(1e-4, 0.02) * sweep.min(1.5);
        let points: Vec<Point> = (0..n)
            .map(|_| {
                let d = Vec2::from_angle(first + sweep * rng.unit());
                center + d * (radius + off * rng.normal())
            })
            .collect();
        if let Some(fit) = fit_circle(&points) {
            all.push(json!({
                "points": points, "center": fit.center, "radius": fit.radius,
                "mean_square": fit.mean_square,
            }));
        }
    }
    all
}

fn lines() -> Vec<Value> {
    let mut rng = Rng::named(1, "lines");
    (0..300)
        .filter_map(|_| {
            let start = Point::new(rng.range(-200.0, 200.0), rng.range(-200.0, 200.0));
            let d = Vec2::from_angle(rng.range(0.0, TAU));
            let (n, length, off) = (
                3 + rng.below(90),
                rng.range(20.0, 250.0),
                rng.range(0.0, 2.0),
            );
            let points: Vec<Point> = (0..n)
                .map(|_| start + d * (length * rng.unit()) + d.left() * (off * rng.normal()))
                .collect();
            let fit = fit_line(&points)?;
            Some(json!({
                "points": points, "through": fit.through, "direction": fit.direction,
                "mean_square": fit.mean_square,
            }))
        })
        .collect()
}

fn shapes(seed: u64, each: usize) -> Vec<Path> {
    let mut all = Vec::new();
    for family in FAMILIES {
        let mut rng = Rng::named(seed, family.name);
        all.extend((0..each).map(|_| Case::draw(family, &mut rng).path));
    }
    all
}

/// Edges as [from, to, center or null, sweep].
fn edges(path: &Path) -> Vec<Value> {
    path.edges()
        .iter()
        .map(|e| match e {
            Edge::Line(l) => json!([l.from, l.to, Value::Null, 0.0]),
            Edge::Arc(a) => json!([a.from, a.to, a.center, a.sweep]),
        })
        .collect()
}

fn areas() -> Vec<Value> {
    shapes(2, 5)
        .iter()
        .map(|p| json!({ "edges": edges(p), "area": p.area(), "length": p.length() }))
        .collect()
}

fn offsets() -> Vec<Value> {
    let mut all = Vec::new();
    for path in shapes(3, 2) {
        for (side, sign) in [(Side::Outside, 1.0), (Side::Inside, -1.0)] {
            for distance in [0.4, 0.75, 3.0] {
                if let Ok(got) = offset(&path, side, distance) {
                    let loops: Vec<_> = got.into_loops().iter().map(edges).collect();
                    all.push(json!({
                        "edges": edges(&path), "distance": sign * distance, "loops": loops,
                    }));
                }
            }
        }
    }
    all
}

fn inside() -> Vec<Value> {
    let mut rng = Rng::named(4, "inside");
    shapes(4, 2)
        .iter()
        .map(|path| {
            let region = Region::of(path, 0.005);
            let course = path.flatten(1.0);
            let places: Vec<Value> = (0..60)
                .map(|_| {
                    let p = course[rng.below(course.len())];
                    let s = libm::exp(rng.range(-3.0, 4.0));
                    let p = p + Vec2::new(rng.normal(), rng.normal()) * s;
                    json!([p, region.place(p) == Place::Inside])
                })
                .collect();
            json!({ "edges": edges(path), "places": places })
        })
        .collect()
}
