//! What is written reads back the same, in every format and both units.

use proptest::prelude::*;
use trued::format::{Content, Units, document, dxf, read, svg};
use trued::outline::{Bounds, nesting};
use trued::{Chain, Circle, Edge, Loop, Mark, Outline, Path, Point, Report, Role, Shape};

/// Closed or open chains on a ring of directions, so that corners differ; edges straight or bent.
fn chains(closed: bool) -> impl Strategy<Value = Path> {
    let corner = (20.0..60.0_f64, -3.0..3.0_f64, any::<bool>());
    (
        (-900.0..900.0_f64, -900.0..900.0_f64),
        proptest::collection::vec(corner, 3..12),
    )
        .prop_map(move |((x, y), corners)| {
            let n = corners.len() as f64;
            let at = |(i, (r, _, _)): (usize, &(f64, f64, bool))| {
                let a = core::f64::consts::TAU * i as f64 / n;
                Point::new(x + r * libm::cos(a), y + r * libm::sin(a))
            };
            let shape = |(_, sweep, bent): &(f64, f64, bool)| {
                if *bent && sweep.abs() > 0.01 {
                    Shape::Arc { sweep: *sweep }
                } else {
                    Shape::Line
                }
            };
            let edges = corners.len() - usize::from(!closed);
            Path::Chain(Chain {
                corners: corners.iter().enumerate().map(at).collect(),
                shapes: corners.iter().take(edges).map(shape).collect(),
            })
        })
}

fn circles() -> impl Strategy<Value = Path> {
    (
        -900.0..900.0_f64,
        -900.0..900.0_f64,
        0.5..200.0_f64,
        any::<bool>(),
    )
        .prop_map(|(x, y, radius, counter_clockwise)| {
            Path::Circle(Circle {
                center: Point::new(x, y),
                radius,
                counter_clockwise,
            })
        })
}

fn outlines() -> impl Strategy<Value = Outline> {
    let path = prop_oneof![3 => chains(true), 1 => chains(false), 2 => circles()];
    (
        proptest::collection::vec(path, 1..6),
        proptest::collection::vec((-900.0..900.0_f64, -900.0..900.0_f64), 0..4),
    )
        .prop_map(|(paths, marks)| {
            let loops = paths.into_iter().map(|path| Loop {
                role: if path.is_closed() {
                    Role::Part
                } else {
                    Role::Open
                },
                path,
                deviation: None,
            });
            let mark = |(x, y): (f64, f64)| Mark {
                at: Point::new(x, y),
            };
            Outline {
                loops: loops.collect(),
                marks: marks.into_iter().map(mark).collect(),
            }
        })
}

/// The courses of a drawing file with its marks, as an outline.
fn drawn(name: &str, text: &str) -> Outline {
    let input = read(name, text.as_bytes(), Units::Mm).expect("our own file is read");
    let Content::Trace(trace) = input.content else {
        panic!("a drawing is a trace");
    };
    for stroke in &trace.strokes {
        assert_eq!(stroke.points.len(), 1, "only marks are strokes");
    }
    Outline {
        loops: trace
            .drawn
            .iter()
            .filter_map(|c| nesting::path_of_drawn(c))
            .map(|path| Loop {
                role: if path.is_closed() {
                    Role::Part
                } else {
                    Role::Open
                },
                path,
                deviation: None,
            })
            .collect(),
        marks: trace
            .strokes
            .iter()
            .filter_map(|s| s.points.first())
            .map(|at| Mark { at: *at })
            .collect(),
    }
}

/// Points on a course at even shares of each edge, from the corner nearest to the lower left, in
/// the counter-clockwise direction: independent of where and which way the course starts.
fn shape_of(l: &Loop) -> (Vec<Point>, f64, f64) {
    let samples = |e: &Edge| {
        (0..8)
            .map(|i| e.point_at(f64::from(i) / 8.0))
            .collect::<Vec<_>>()
    };
    let points: Vec<Point> = l.path.edges().iter().flat_map(samples).collect();
    (points, l.path.length(), l.path.area().abs())
}

fn assert_same(a: &Outline, b: &Outline, tolerance: f64) {
    assert_eq!(a.loops.len(), b.loops.len());
    assert_eq!(a.marks.len(), b.marks.len());
    for (m, n) in a.marks.iter().zip(&b.marks) {
        assert!(m.at.distance(n.at) <= tolerance);
    }
    for l in &a.loops {
        let (points, length, area) = shape_of(l);
        // Files may reorder loops: the counterpart is the one that lies on the same course.
        let off = |m: &&Loop| {
            let edges = m.path.edges();
            let far = |p: &Point| {
                edges
                    .iter()
                    .map(|e| e.distance(*p))
                    .fold(f64::MAX, f64::min)
            };
            points.iter().map(far).fold(0.0, f64::max)
        };
        let found = b.loops.iter().find(|m| {
            let (_, other_length, other_area) = shape_of(m);
            m.path.is_closed() == l.path.is_closed()
                && m.path.edges().len() == l.path.edges().len()
                && (length - other_length).abs() <= 100.0 * tolerance
                && (area - other_area).abs() <= 1e4 * tolerance
                && off(m) <= tolerance
        });
        assert!(found.is_some(), "no counterpart of {l:?} in {b:?}");
    }
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::with_cases(300) })]

    #[test]
    fn svg_reads_back(outline in outlines(), inch in any::<bool>()) {
        let units = if inch { Units::Inch } else { Units::Mm };
        let text = svg::write(&outline, units);
        assert_same(&outline, &drawn("a.svg", &text), 1e-9);
    }

    #[test]
    fn dxf_reads_back(outline in outlines(), inch in any::<bool>()) {
        let units = if inch { Units::Inch } else { Units::Mm };
        let text = dxf::write(&outline, units);
        assert_same(&outline, &drawn("a.dxf", &text), 1e-9);
    }

    #[test]
    fn json_is_the_same_byte_for_byte(outline in outlines()) {
        let text = document::write(&outline, &Report::default());
        let input = read("a.json", text.as_bytes(), Units::Mm).expect("our own file is read");
        let Content::Document(back) = input.content else {
            panic!("an outline document");
        };
        prop_assert_eq!(&back.outline, &outline);
        prop_assert_eq!(document::write(&back.outline, &back.report), text);
    }
}

#[test]
fn bounds_hold_every_flattened_point() {
    let path = Path::Circle(Circle {
        center: Point::new(3.0, 4.0),
        radius: 5.0,
        counter_clockwise: false,
    });
    let b = Bounds::of_path(&path).expect("a circle has bounds");
    for p in path.flatten(0.01) {
        assert!(p.x >= b.min.x - 1e-9 && p.x <= b.max.x + 1e-9);
        assert!(p.y >= b.min.y - 1e-9 && p.y <= b.max.y + 1e-9);
    }
}
