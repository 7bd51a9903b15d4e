//! A trace of a million points: how long is it under way to its outline, beside one pass that only
//! sums its moments, and beside curve simplification, which gives no outline?

use super::print;
use super::stages::Staged;
use geo::algorithm::{Simplify, SimplifyVw};
use geo_types::{Coord, LineString};
use kurbo::simplify::{SimplifyOptions, simplify_bezpath};
use trued::Point;
use trued::geom::Moments;
use trued_tests::pace::{Timed, rounded_rectangle, scattering, take_turns, wandering};

/// Tolerance of the simplifications, mm: beyond five standard deviations of the scatter.
const TOLERANCE: f64 = 0.8;

pub fn table() {
    let path = rounded_rectangle();
    let hands = [
        ("a hand that wanders", wandering(&path, 1_000_000, 1)),
        (
            "samples that scatter by 0.15 mm",
            scattering(&path, 1_000_000, 1),
        ),
    ];
    for (hand, points) in hands {
        one(hand, points);
    }
}

fn one(hand: &str, points: Vec<Point>) {
    let coords = points.iter().map(|p| Coord { x: p.x, y: p.y });
    let line = LineString(coords.collect());
    let mut curve = kurbo::BezPath::new();
    for (i, p) in points.iter().enumerate() {
        let p = kurbo::Point::new(p.x, p.y);
        if i == 0 {
            curve.move_to(p);
        } else {
            curve.line_to(p);
        }
    }
    let Some(staged) = Staged::of(points.clone()) else {
        println!("the trace of a million points is refused");
        return;
    };
    let origin = points.first().copied().unwrap_or_default();
    let options = || SimplifyOptions::default().angle_thresh(4.0);
    let mut cases = vec![Timed::new("one pass that only sums the moments", || {
        Moments::of(&points, origin)
    })];
    cases.extend(staged.timed());
    cases.extend([
        Timed::new("geo Simplify", || line.simplify(TOLERANCE)),
        Timed::new("geo SimplifyVw", || line.simplify_vw(TOLERANCE)),
        Timed::new("kurbo simplify", || {
            simplify_bezpath(curve.iter(), TOLERANCE, &options())
        }),
    ]);
    take_turns(&mut cases, 3.0, 41);
    print(
        &format!(
            "A million points to an outline of eight edges: {hand} ({} stations)",
            staged.stations()
        ),
        &cases,
    );
}
