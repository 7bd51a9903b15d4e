//! A hint is followed, or a note says why not; what comes out is a sound outline either way.

use trued::hint::{CornerKind, EdgeKind, LoopKind, Says};
use trued::{
    Edge, Hint, Outline, Path, Point, Role, Settings, SizeKind, Stroke, Trace, Trued, Vec2, true_up,
};
use trued_tests::invariants;
use trued_tests::rng::Rng;

/// A hand round a rectangle of 80 by 50, its error smooth and some 0.2 mm.
fn rectangle() -> Trace {
    let corners = [
        (0.0, 0.0),
        (80.0, 0.0),
        (80.0, 50.0),
        (0.0, 50.0),
        (0.0, 0.0),
    ];
    let mut rng = Rng::new(5);
    let mut off = Vec2::new(0.0, 0.0);
    let mut points = Vec::new();
    for pair in corners.windows(2) {
        let (a, b) = (
            Point::new(pair[0].0, pair[0].1),
            Point::new(pair[1].0, pair[1].1),
        );
        let steps = (a.distance(b) / 0.5) as usize;
        for i in 0..steps {
            off = off * 0.95 + Vec2::new(rng.normal(), rng.normal()) * 0.06;
            points.push(a.lerp(b, i as f64 / steps as f64) + off);
        }
    }
    Trace {
        strokes: vec![
            Stroke::new(points),
            Stroke::new(vec![Point::new(40.0, 25.0)]),
        ],
        drawn: Vec::new(),
    }
}

fn with(hints: &[(f64, f64, Says)]) -> Trued {
    let hints: Vec<Hint> = hints
        .iter()
        .map(|(x, y, says)| Hint {
            at: Point::new(*x, *y),
            says: says.clone(),
        })
        .collect();
    let trued = true_up(&rectangle(), &Settings::default(), &hints).expect("an outline");
    // Where the person says that the only loop is a hole, it is one in nothing.
    let hole = hints.iter().any(|h| h.says == Says::Loop(LoopKind::Hole));
    let sound = if hole {
        invariants::whole(&trued.outline)
    } else {
        invariants::check(&trued)
    };
    sound.unwrap_or_else(|e| panic!("{hints:?}: {e}"));
    trued
}

fn outside(o: &Outline) -> Vec<Edge> {
    let part = o.loops.iter().find(|l| l.role != Role::Hole);
    let one = part.or(o.loops.first()).expect("a loop");
    one.path.edges()
}

fn near(edges: &[Edge], x: f64, y: f64) -> Edge {
    let at = Point::new(x, y);
    *edges
        .iter()
        .min_by(|a, b| a.distance(at).total_cmp(&b.distance(at)))
        .expect("an edge")
}

#[test]
fn without_hints_it_is_a_rectangle_with_a_mark() {
    let t = with(&[]);
    assert_eq!(outside(&t.outline).len(), 4);
    assert_eq!(t.outline.marks.len(), 1);
}

#[test]
fn a_size_is_the_size() {
    let t = with(&[
        (40.0, 0.0, Says::Size(81.0)),
        (80.0, 25.0, Says::Size(49.0)),
    ]);
    let edges = outside(&t.outline);
    assert!(
        (near(&edges, 40.0, 0.0).length() - 81.0).abs() < 1e-6,
        "{edges:?}"
    );
    assert!(
        (near(&edges, 80.0, 25.0).length() - 49.0).abs() < 1e-6,
        "{edges:?}"
    );
}

#[test]
fn a_mark_becomes_a_hole_of_its_size() {
    let t = with(&[(40.0, 25.0, Says::Hole(12.0, Vec::new()))]);
    let round = t.outline.loops.iter().find_map(|l| match &l.path {
        Path::Circle(c) if l.role == Role::Hole => Some(*c),
        _ => None,
    });
    assert!(
        round.is_some_and(|c| (c.radius - 6.0).abs() < 1e-9),
        "{:?}",
        t.outline
    );
    assert!(t.outline.marks.is_empty());
}

#[test]
fn a_corner_is_rounded_when_it_is_said_to_be() {
    let t = with(&[(80.0, 50.0, Says::Corner(CornerKind::Radius(8.0)))]);
    let arcs: Vec<f64> = outside(&t.outline)
        .iter()
        .filter_map(|e| match e {
            Edge::Arc(a) => Some(a.radius),
            Edge::Line(_) => None,
        })
        .collect();
    let followed = arcs.iter().any(|r| (r - 8.0).abs() < 1e-6);
    assert!(followed, "{arcs:?} {:?}", t.report.doubts);
    // What was read before it was said is no doubt, and no other reading either.
    assert!(t.report.doubts.is_empty(), "{:?}", t.report.doubts);
    let plain = t.report.readings.iter().find(|r| r.price_above_best == 0.0);
    assert!(plain.is_none(), "{plain:?}");
}

/// What is followed is seen in the outline; what is not is told in a note.
#[test]
fn every_other_hint_is_followed_or_answered() {
    let plain = with(&[]);
    let one: [(f64, f64, Says); 12] = [
        (40.0, 0.0, Says::Edge(EdgeKind::Straight)),
        (40.0, 0.0, Says::Edge(EdgeKind::Arc)),
        (80.0, 50.0, Says::Corner(CornerKind::Sharp)),
        (80.0, 50.0, Says::Corner(CornerKind::Keep)),
        (40.0, 0.0, Says::Parallel(Point::new(40.0, 50.0))),
        (40.0, 0.0, Says::Equal(Point::new(40.0, 50.0))),
        (40.0, 0.0, Says::Equal(Point::new(80.0, 25.0))),
        (40.0, 0.0, Says::Loop(LoopKind::Rectangle)),
        (40.0, 0.0, Says::Loop(LoopKind::Circle)),
        (40.0, 0.0, Says::Loop(LoopKind::Open)),
        (40.0, 0.0, Says::Loop(LoopKind::Hole)),
        (40.0, 0.0, Says::Datum(Point::new(80.0, 0.0))),
    ];
    for hint in one {
        let t = with(core::slice::from_ref(&hint));
        let edges = outside(&t.outline);
        let lines = edges.iter().filter(|e| matches!(e, Edge::Line(_))).count();
        let base = near(&edges, 40.0, 0.0);
        let direction = base.direction_at(0.5);
        let top = near(&edges, 40.0, 50.0);
        let followed = match &hint.2 {
            Says::Edge(EdgeKind::Straight) => matches!(base, Edge::Line(_)),
            Says::Edge(EdgeKind::Arc) => matches!(base, Edge::Arc(_)),
            Says::Corner(CornerKind::Sharp) => lines == 4,
            Says::Corner(_) => true,
            Says::Parallel(_) => direction.cross(top.direction_at(0.5)).abs() < 1e-9,
            Says::Equal(p) => {
                let other = near(&edges, p.x, p.y).length();
                (base.length() - other).abs() < 1e-6
            }
            Says::Loop(LoopKind::Rectangle) => lines == 4,
            Says::Loop(LoopKind::Circle) => t
                .outline
                .loops
                .iter()
                .any(|l| matches!(l.path, Path::Circle(_))),
            Says::Loop(LoopKind::Open) => t.outline.loops.iter().any(|l| l.role == Role::Open),
            Says::Loop(_) => t.outline.loops.iter().all(|l| l.role == Role::Hole),
            Says::Datum(_) => base.from().y.abs() < 1e-9 && base.to().y.abs() < 1e-9,
            _ => true,
        };
        let told = t.report.doubts.len() > plain.report.doubts.len();
        assert!(followed || told, "{hint:?}: {edges:?} {:?}", t.report.notes);
    }
}

#[test]
fn sizes_go_to_whole_steps_where_they_may() {
    let settings = Settings {
        whole: Some(1.0),
        ..Settings::default()
    };
    let t = true_up(&rectangle(), &settings, &[]).expect("an outline");
    invariants::check(&t).unwrap_or_else(|e| panic!("{e}"));
    let lengths = t.report.sizes.iter().filter(|s| s.kind == SizeKind::Length);
    let mut whole = 0;
    for s in lengths {
        let off = (s.value - libm::round(s.value)).abs();
        whole += usize::from(off < 1e-6);
        assert!(off < 1e-6 || off > s.plus_minus, "{s:?}");
    }
    assert!(whole > 0);
}

/// A find of the fuzzer: a line of two ends that is to be a rectangle.
#[test]
fn a_line_is_no_rectangle_and_says_so() {
    let line = (0..60).map(|i| Point::new(f64::from(i), 0.1 * f64::from(i % 3)));
    let trace = Trace::from_strokes([line.collect::<Vec<_>>()]);
    let hint = Hint {
        at: Point::new(30.0, 0.0),
        says: Says::Loop(LoopKind::Rectangle),
    };
    let t = true_up(&trace, &Settings::default(), &[hint]).expect("an outline");
    invariants::check(&t).unwrap_or_else(|e| panic!("{e}"));
    let told = |d: &trued::Doubt| d.text.contains("can't be followed");
    assert!(t.report.doubts.iter().any(told), "{:?}", t.report.doubts);
}

/// Marks near the corners of a square are put there, but for one that is said to stand alone.
#[test]
fn what_stands_alone_is_tied_to_nothing() {
    let places = [(0.3, -0.2), (40.2, 0.1), (39.8, 40.3), (-0.1, 39.9)];
    let strokes = places.map(|(x, y)| vec![Point::new(x, y)]);
    let trace = Trace::from_strokes(strokes);
    let tied = true_up(&trace, &Settings::default(), &[]).expect("marks");
    invariants::check(&tied).unwrap_or_else(|e| panic!("{e}"));
    assert!(tied.report.relations.iter().any(|r| r.marks.len() == 4));
    let alone = Hint {
        at: Point::new(40.0, 0.0),
        says: Says::Loop(LoopKind::Alone),
    };
    let t = true_up(&trace, &Settings::default(), &[alone]).expect("marks");
    assert!(t.report.relations.iter().all(|r| r.marks.len() < 4));
    assert_eq!(t.outline.marks[1].at, Point::new(40.2, 0.1));
}
