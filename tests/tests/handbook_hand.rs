//! What is published of how hands move, and what must not come of it. The source stands beside each check.

use core::f64::consts::TAU;
use trued::{Path, Point, Settings, Stroke, Trace, true_up};
use trued_tests::hand::Level;
use trued_tests::rng::Rng;

/// Round a rectangle, a point every `step` mm, each off by white jitter of `sigma` mm.
fn jittered(sides: (f64, f64), step: f64, sigma: f64, rng: &mut Rng) -> Vec<Point> {
    let (w, h) = sides;
    let round = 2.0 * (w + h);
    let count = (round / step) as usize;
    let place = |s: f64| match s {
        s if s < w => Point::new(s, 0.0),
        s if s < w + h => Point::new(w, s - w),
        s if s < 2.0 * w + h => Point::new(2.0 * w + h - s, h),
        s => Point::new(0.0, round - s),
    };
    (0..=count)
        .map(|i| {
            let p = place(round * i as f64 / (count + 1) as f64);
            Point::new(p.x + sigma * rng.normal(), p.y + sigma * rng.normal())
        })
        .collect()
}

/// The length of a digitised outline is over-estimated by up to 41 % from jitter (seen in an abstract on
/// digitising by hand): nothing may be weighed by raw length, so the outline keeps its own.
#[test]
fn jitter_makes_no_outline_longer() {
    let mut rng = Rng::named(41, "jitter");
    let (sides, perimeter) = ((120.0, 70.0), 380.0);
    let points = jittered(sides, 0.5, 0.35, &mut rng);
    let raw: f64 = points.windows(2).map(|w| w[0].distance(w[1])).sum();
    assert!(raw > 1.41 * perimeter, "raw length {raw}");
    let trace = Trace {
        strokes: vec![Stroke::new(points)],
        ..Trace::default()
    };
    let outline = true_up(&trace, &Settings::default(), &[]).unwrap().outline;
    let [only] = outline.loops.as_slice() else {
        panic!("{outline:?}");
    };
    let length = only.path.length();
    assert!((length / perimeter - 1.0).abs() < 2e-3, "{length}");
    let corners = match &only.path {
        Path::Chain(chain) => chain.corners.len(),
        Path::Circle(_) => 0,
    };
    assert_eq!(corners, 4);
}

/// A braced hand trembles by some 0.05 to 0.25 mm rms (Riviere, Rader and Khosla 1997) at 6 to 12 Hz (Lakie
/// et al., J. Physiol. 593, 2015): on a line traced with nothing else it leaves the line where it is, and the
/// wander that is told is that tremor.
#[test]
fn a_trembling_line_stays_a_line() {
    for hz in [6.0, 9.0, 12.0] {
        for rms in [0.05, 0.25] {
            // 40 mm a second, a hundred samples a second.
            let at = |i: u32| {
                let t = 0.01 * f64::from(i);
                let off = rms * core::f64::consts::SQRT_2 * libm::sin(TAU * hz * t + 1.0);
                Point::new(40.0 * t, off)
            };
            let trace = Trace {
                strokes: vec![Stroke::new((0..=400).map(at).collect())],
                ..Trace::default()
            };
            let trued = true_up(&trace, &Settings::default(), &[]).unwrap();
            let [only] = trued.outline.loops.as_slice() else {
                panic!("{:?}", trued.outline);
            };
            let edges = only.path.edges();
            assert_eq!(edges.len(), 1, "{hz} Hz, {rms} mm: {edges:?}");
            let bow = edges
                .iter()
                .map(|e| e.point_at(0.5).y.abs())
                .fold(0.0, f64::max);
            assert!(bow < 0.2 * rms, "{hz} Hz, {rms} mm: {bow}");
            let told = only.deviation.unwrap().rms;
            assert!(
                (0.8..1.1).contains(&(told / rms)),
                "{hz} Hz, {rms} mm: {told}"
            );
        }
    }
    // The generator's steady hand wanders by as much as the unsteadiest braced one trembles.
    assert!((0.05..=0.25).contains(&Level::Steady.wander()));
}
