//! Areas, perimeters and arcs against handbooks and closed forms. The source stands beside each check.

use core::f64::consts::{FRAC_PI_2, PI, TAU};
use trued::{Arc, Chain, Edge, Path, Point, Shape};
use trued_tests::shapes::{Case, family};

/// The shape of a family's numbers, unturned at the origin.
fn shape(name: &str, numbers: &[f64]) -> Path {
    let family = family(name).unwrap_or_else(|| panic!("no family {name}"));
    let placed = [numbers, &[0.0, 0.0, 0.0]].concat();
    Case::new(family, placed).path
}

fn near(got: f64, want: f64, tolerance: f64) {
    assert!((got - want).abs() <= tolerance, "{got} is not {want}");
}

#[test]
fn areas_and_perimeters_with_arcs() {
    // Closed forms: w·h − (4 − π)r² and 2(w + h) − (8 − 2π)r; 2rl + πr² and 2l + 2πr.
    let rounded = shape("rounded rectangle", &[100.0, 60.0, 10.0]);
    near(rounded.area(), 5_914.159_265_358_98, 1e-9);
    near(rounded.length(), 302.831_853_071_796, 1e-9);
    let stadium = shape("slot", &[50.0, 10.0]);
    near(stadium.area(), 1_314.159_265_358_98, 1e-9);
    near(stadium.length(), 162.831_853_071_796, 1e-9);
}

#[test]
fn circular_segments() {
    // help.matheass.eu, "Circular sections": chord 21, height 6.
    let r = (0.25 * 21.0 * 21.0 + 36.0) / 12.0;
    near(r, 12.1875, 1e-12);
    let segment = chord_and_height(21.0, 6.0);
    let Some(Edge::Arc(arc)) = segment
        .edges()
        .into_iter()
        .find(|e| matches!(e, Edge::Arc(_)))
    else {
        panic!("a segment has an arc")
    };
    near(arc.radius, 12.1875, 1e-10);
    near(arc.sweep.to_degrees(), 118.979_525_187_769, 1e-10);
    near(arc.length(), 25.308_373_069_518, 1e-10);
    near(0.5 * arc.radius * arc.length(), 154.222_898_392_375, 1e-9);
    near(segment.area(), 89.254_148_392_375_3, 1e-9);
    // Machinery's Handbook 31, p. 79: chord 16, height 6; ring of 12 and 8.
    let other = chord_and_height(16.0, 6.0);
    assert!(
        other
            .edges()
            .iter()
            .any(|e| matches!(e, Edge::Arc(a) if (a.radius - 8.333_333_333_333_33).abs() < 1e-12))
    );
    let disc = |d: f64| shape("circle", &[0.5 * d]).area();
    near(disc(12.0) - disc(8.0), 62.831_853_071_795_9, 1e-10);
}

/// A chord along x with a bow of the given height over it.
fn chord_and_height(chord: f64, height: f64) -> Path {
    let sweep = 4.0 * libm::atan2(2.0 * height, chord);
    Path::Chain(Chain {
        corners: vec![Point::new(0.0, 0.0), Point::new(chord, 0.0)],
        shapes: vec![Shape::Line, Shape::Arc { sweep }],
    })
}

#[test]
fn a_twelve_sided_polygon_in_a_circle() {
    // Machinery's Handbook 31, p. 78: R = 8, side 4.141 and area 191.98 as printed.
    let corners: Vec<Point> = (0..12)
        .map(|i| {
            let (sin, cos) = libm::sincos(TAU * f64::from(i) / 12.0);
            Point::new(8.0 * cos, 8.0 * sin)
        })
        .collect();
    let path = Path::Chain(Chain {
        shapes: vec![Shape::Line; 12],
        corners,
    });
    near(path.edges()[0].length(), 4.141_104_721_640_33, 1e-12);
    near(path.area(), 192.0, 1e-10);
    near(path.edges()[0].length(), 4.141, 3e-4);
    near(path.area() / 191.98, 1.0, 3e-4);
}

#[test]
fn bulge_and_radius() {
    // The published DXF reference, group code 42: bulge = tan(included angle / 4), chord 10.
    for (degrees, bulge, radius) in [
        (90.0, 0.414_213_562_373_095, 7.071_067_811_87),
        (180.0, 1.0, 5.0),
        (270.0, 2.414_213_562_373_09, 7.071_067_811_87),
    ] {
        near(libm::tan(f64::to_radians(degrees) / 4.0), bulge, 1e-12);
        for sign in [1.0, -1.0] {
            let sweep = 4.0 * libm::atan(sign * bulge);
            let arc = Arc::from_sweep(Point::default(), Point::new(10.0, 0.0), sweep);
            let arc = arc.expect("a chord of 10 carries an arc");
            near(arc.radius, radius, 1e-10);
            near(arc.sweep, sign * f64::to_radians(degrees), 1e-12);
            // Counter-clockwise bows to the right of the chord.
            assert_eq!(arc.point_at(0.5).y < 0.0, sign > 0.0);
        }
    }
}

#[test]
fn fillet_between_lines() {
    // Closed form, from memory: tangent length r·cot(φ/2).
    for (phi, want) in [
        (FRAC_PI_2, 10.0),
        (PI / 3.0, 17.320_508_075_688_8),
        (2.0 * PI / 3.0, 5.773_502_691_896_26),
    ] {
        let t = 10.0 / libm::tan(0.5 * phi);
        near(t, want, 1e-11);
        // The arc that leaves one line at that distance and meets the other has radius 10.
        let (sin, cos) = libm::sincos(phi);
        let arc = Arc::from_sweep(
            Point::new(t, 0.0),
            Point::new(t * cos, t * sin),
            -(PI - phi),
        );
        near(arc.expect("ends apart").radius, 10.0, 1e-10);
    }
}
