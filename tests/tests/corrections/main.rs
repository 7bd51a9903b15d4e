//! Corrections as a shop means them, on hands that nothing was tuned on: what was asked holds, nothing else moves
//! by more than it is unsure of, and what cannot be is refused with its reason.

mod any;

use core::f64::consts::{FRAC_PI_2, PI};
use trued::hint::{CornerKind, Pattern, PatternKind, Says};
use trued::{
    About, Arc, Circle, Edge, Hint, Path, Point, Role, Settings, SizeKind, Trace, Trued, Vec2,
    true_up,
};
use trued_tests::hand::{Form, Hand, Input, Level, mark, sampled};
use trued_tests::invariants::{self, over_all};
use trued_tests::rng::Rng;

fn hint(x: f64, y: f64, says: Says) -> Hint {
    Hint {
        at: Point::new(x, y),
        says,
    }
}

fn closed(corners: &[(f64, f64)]) -> Path {
    Path::Chain(trued::Chain {
        corners: corners.iter().map(|(x, y)| Point::new(*x, *y)).collect(),
        shapes: vec![trued::Shape::Line; corners.len()],
    })
}

fn rectangle(w: f64, h: f64) -> Path {
    closed(&[(0.0, 0.0), (w, 0.0), (w, h), (0.0, h)])
}

fn rounded(w: f64, h: f64, r: f64) -> Path {
    let corners = [
        (r, 0.0),
        (w - r, 0.0),
        (w, r),
        (w, h - r),
        (w - r, h),
        (r, h),
        (0.0, h - r),
        (0.0, r),
    ];
    let arc = trued::Shape::Arc { sweep: FRAC_PI_2 };
    Path::Chain(trued::Chain {
        corners: corners.map(|(x, y)| Point::new(x, y)).to_vec(),
        shapes: [trued::Shape::Line, arc].repeat(4),
    })
}

fn circle(x: f64, y: f64, radius: f64) -> Path {
    Path::Circle(Circle {
        center: Point::new(x, y),
        radius,
        counter_clockwise: true,
    })
}

fn hand(level: Level) -> Hand {
    Hand {
        level,
        form: Form::Ou,
        input: Input::Stroke,
    }
}

fn traced(paths: &[Path], level: Level, seed: u64) -> Trace {
    let mut rng = Rng::named(seed, "corrections");
    let all = paths.iter().map(|p| sampled(p, hand(level), &mut rng, 1));
    Trace {
        strokes: all.flat_map(|t| t.strokes).collect(),
        drawn: Vec::new(),
    }
}

fn corrected(trace: &Trace, hints: &[Hint]) -> Trued {
    let trued = true_up(trace, &Settings::default(), hints).expect("an outline");
    invariants::check(&trued).unwrap_or_else(|e| {
        panic!(
            "{hints:?}: {e} {:?} {:?}",
            trued.outline, trued.report.notes
        )
    });
    trued
}

fn refusals(trued: &Trued) -> Vec<&str> {
    let doubts = trued.report.doubts.iter();
    let hints = doubts.filter(|d| d.about == About::Hint);
    hints.map(|d| d.text.as_str()).collect()
}

fn followed(trace: &Trace, hints: &[Hint]) -> Trued {
    let trued = corrected(trace, hints);
    assert!(refusals(&trued).is_empty(), "{:?}", refusals(&trued));
    trued
}

fn part(trued: &Trued) -> Vec<Edge> {
    let part = trued.outline.loops.iter().find(|l| l.role == Role::Part);
    part.expect("a part").path.edges()
}

fn near(edges: &[Edge], x: f64, y: f64) -> usize {
    let at = Point::new(x, y);
    (0..edges.len())
        .min_by(|a, b| edges[*a].distance(at).total_cmp(&edges[*b].distance(at)))
        .expect("an edge")
}

fn over(edges: &[Edge], x: f64, y: f64) -> f64 {
    over_all(edges, near(edges, x, y), true).expect("a side")
}

fn arcs(edges: &[Edge]) -> Vec<Arc> {
    let arc = |e: &Edge| match e {
        Edge::Arc(a) => Some(*a),
        Edge::Line(_) => None,
    };
    edges.iter().filter_map(arc).collect()
}

#[test]
fn a_rectangle_of_given_size_with_one_corner_rounded() {
    for (k, level) in Level::ALL.into_iter().enumerate() {
        for seed in 0..4 {
            let trace = traced(&[rectangle(197.0, 133.0)], level, 10 * k as u64 + seed);
            let plain = corrected(&trace, &[]);
            let before = part(&plain);
            if before.len() != 4 || !arcs(&before).is_empty() {
                continue;
            }
            let trued = followed(
                &trace,
                &[
                    hint(98.0, 0.0, Says::Size(200.0)),
                    hint(197.0, 66.0, Says::Size(130.0)),
                    hint(197.0, 133.0, Says::Corner(CornerKind::Radius(20.0))),
                ],
            );
            let edges = part(&trued);
            let why = format!("{level:?} {seed}: {edges:?}");
            assert_eq!(edges.len(), 5, "{why}");
            let round = arcs(&edges);
            assert_eq!(round.len(), 1, "{why}");
            assert!((round[0].radius - 20.0).abs() < 1e-6, "{why}");
            for (x, y, size) in [
                (98.0, 0.0, 200.0),
                (90.0, 133.0, 200.0),
                (197.0, 60.0, 130.0),
                (0.0, 66.0, 130.0),
            ] {
                assert!((over(&edges, x, y) - size).abs() < 1e-6, "{why}");
            }
            // Square all round, and not turned.
            let lines = edges.iter().filter(|e| matches!(e, Edge::Line(_)));
            let way = lines
                .map(|e| e.direction_at(0.5).angle())
                .collect::<Vec<_>>();
            for a in &way {
                let quarter = (a - way[0]) / FRAC_PI_2;
                assert!((quarter - quarter.round()).abs() < 1e-9, "{why}");
            }
            let base = before[near(&before, 98.0, 0.0)].direction_at(0.5).angle();
            let now = edges[near(&edges, 98.0, 0.0)].direction_at(0.5).angle();
            assert!((now - base).abs() < 2e-3, "{level:?} turned {}", now - base);
        }
    }
}

#[test]
fn a_side_of_a_rounded_rectangle_is_set_over_all() {
    let mut seen = 0;
    for (k, level) in Level::ALL.into_iter().enumerate() {
        for seed in 0..4 {
            let trace = traced(
                &[rounded(209.0, 120.0, 28.0)],
                level,
                100 + 10 * k as u64 + seed,
            );
            let plain = corrected(&trace, &[]);
            let before = part(&plain);
            if before.len() != 8 || arcs(&before).len() != 4 {
                continue;
            }
            seen += 1;
            let trued = followed(&trace, &[hint(104.0, 0.0, Says::Size(200.0))]);
            let edges = part(&trued);
            assert!((over(&edges, 104.0, 0.0) - 200.0).abs() < 1e-6);
            for s in &plain.report.sizes {
                let now = match (s.kind, s.edges.as_slice()) {
                    (SizeKind::Radius, [e]) => match &edges[*e] {
                        Edge::Arc(a) => a.radius,
                        Edge::Line(_) => panic!("{edges:?}"),
                    },
                    (SizeKind::Length, [e]) => {
                        let now = over_all(&edges, *e, true).expect("a side");
                        if (s.value - 209.0).abs() < 10.0 {
                            assert!((now - 200.0).abs() < 1.0 + s.plus_minus, "{now}");
                            continue;
                        }
                        now
                    }
                    _ => continue,
                };
                assert!(
                    (now - s.value).abs() <= s.plus_minus.max(1e-3),
                    "{s:?} became {now}"
                );
            }
        }
    }
    assert!(seen >= 8, "{seen}");
}

#[test]
fn a_ring_keeps_its_other_circle_and_its_centre() {
    for (k, level) in Level::ALL.into_iter().enumerate() {
        let ring = [circle(50.0, 50.0, 50.0), circle(50.0, 50.0, 31.0)];
        let trace = traced(&ring, level, 200 + k as u64);
        let circles = |t: &Trued| -> Vec<Circle> {
            let all = t.outline.loops.iter().map(|l| match &l.path {
                Path::Circle(c) => *c,
                Path::Chain(c) => panic!("{c:?}"),
            });
            all.collect()
        };
        let before = circles(&corrected(&trace, &[]));
        for says in [Says::Diameter(60.0), Says::Size(60.0), Says::Radius(30.0)] {
            let now = circles(&followed(&trace, &[hint(81.0, 50.0, says)]));
            assert!((2.0 * now[1].radius - 60.0).abs() < 1e-6);
            assert!((now[0].radius - before[0].radius).abs() < 1e-6);
            let apart = |c: &[Circle]| c[0].center.distance(c[1].center);
            assert!(
                apart(&now) < apart(&before) + 1e-6,
                "{level:?}: {}",
                apart(&now)
            );
        }
    }
}

#[test]
fn marks_are_told_to_be_a_rectangle_of_holes() {
    for (k, level) in Level::ALL.into_iter().enumerate() {
        let mut rng = Rng::named(300 + k as u64, "plate");
        let mut trace = traced(&[rectangle(120.0, 90.0)], level, 300 + k as u64);
        let meant = [(15.0, 15.0), (105.0, 15.0), (105.0, 75.0), (15.0, 75.0)];
        let touched: Vec<Point> = meant
            .iter()
            .map(|(x, y)| Point::new(*x, *y) + Vec2::new(rng.normal(), rng.normal()) * 2.0)
            .collect();
        for at in &touched {
            trace.strokes.push(mark(*at, Level::Steady, &mut rng));
        }
        let pattern = Says::Pattern(Pattern {
            kind: PatternKind::Rectangle,
            with: touched[1..].to_vec(),
            sides: Some([90.0, 60.0]),
            diameter: None,
            pitch: None,
        });
        let first = touched[0];
        let trued = followed(
            &trace,
            &[
                hint(first.x, first.y, Says::Hole(8.0, touched[1..].to_vec())),
                hint(first.x, first.y, pattern),
                hint(
                    first.x,
                    first.y,
                    Says::Distance(15.0, Point::new(0.0, 40.0)),
                ),
                hint(
                    first.x,
                    first.y,
                    Says::Distance(15.0, Point::new(60.0, 0.0)),
                ),
            ],
        );
        let holes: Vec<Circle> = (trued.outline.loops.iter())
            .filter_map(|l| match (&l.path, l.role) {
                (Path::Circle(c), Role::Hole) => Some(*c),
                _ => None,
            })
            .collect();
        assert_eq!(holes.len(), 4);
        assert!(trued.outline.marks.is_empty());
        let c: Vec<Point> = holes.iter().map(|h| h.center).collect();
        let edges = part(&trued);
        for (a, b, size) in [(0, 1, 90.0), (1, 2, 60.0), (2, 3, 90.0), (3, 0, 60.0)] {
            assert!((c[a].distance(c[b]) - size).abs() < 1e-6, "{c:?}");
        }
        assert!((c[0].distance(c[2]) - 90.0_f64.hypot(60.0)).abs() < 1e-6);
        for (x, y) in [(0.0, 40.0), (60.0, 0.0)] {
            let line = &edges[near(&edges, x, y)];
            let d = line.direction_at(0.5);
            for (k, at) in c.iter().enumerate() {
                let far = d.cross(*at - line.from()).abs();
                let beside = if x == 0.0 { k == 0 || k == 3 } else { k < 2 };
                if beside {
                    assert!((far - 15.0).abs() < 1e-6, "{level:?} hole {k}: {far}");
                }
            }
        }
    }
}

#[test]
fn one_known_side_scales_everything_and_its_plus_minus() {
    let outline = [
        rectangle(1.16 * 200.0, 1.16 * 130.0),
        circle(70.0, 60.0, 23.2),
    ];
    let trace = traced(&outline, Level::Ordinary, 400);
    let plain = corrected(&trace, &[]);
    let trued = followed(&trace, &[hint(116.0, 0.0, Says::Scale(200.0))]);
    let edges = part(&trued);
    let k = trued.report.placed.expect("a scale").scale;
    assert!((k - 1.0 / 1.16).abs() < 0.01, "{k}");
    assert!((over(&edges, 100.0, 0.0) - 200.0).abs() < 1e-6);
    let mut spread = 0;
    for (a, b) in plain.report.sizes.iter().zip(&trued.report.sizes) {
        if a.kind == SizeKind::Angle {
            continue;
        }
        assert!((b.value / a.value - k).abs() < 1e-3, "{a:?} {b:?}");
        if b.plus_minus > 0.0 && a.plus_minus > 0.0 {
            assert!(b.plus_minus <= 1.01 * k * a.plus_minus, "{a:?} {b:?}");
            spread += 1;
        }
    }
    assert!(spread > 0);
    // What is said after it is said of the drawing as it lies then.
    let trued = followed(
        &trace,
        &[
            hint(116.0, 0.0, Says::Scale(200.0)),
            hint(200.0, 65.0, Says::Size(131.0)),
            hint(60.0, 52.0, Says::Diameter(42.0)),
        ],
    );
    let edges = part(&trued);
    assert!((over(&edges, 200.0, 65.0) - 131.0).abs() < 1e-6);
    assert!((over(&edges, 100.0, 0.0) - 200.0).abs() < 1e-6);
    let hole = trued
        .report
        .sizes
        .iter()
        .find(|s| s.kind == SizeKind::Diameter);
    assert!((hole.expect("a hole").value - 42.0).abs() < 1e-6);
}

#[test]
fn what_is_out_of_reach_is_refused_with_its_distance() {
    let trace = traced(
        &[rectangle(200.0, 130.0), circle(60.0, 60.0, 20.0)],
        Level::Steady,
        500,
    );
    let far = Point::new(-120.0, 30.0);
    let beside = Point::new(0.0, 60.0);
    let all = [
        Says::Size(50.0),
        Says::Diameter(40.0),
        Says::Radius(40.0),
        Says::Corner(CornerKind::Sharp),
        Says::Corner(CornerKind::Square),
        Says::Corner(CornerKind::Radius(5.0)),
        Says::Corner(CornerKind::Angle(80.0)),
        Says::Distance(15.0, beside),
        Says::Parallel(beside),
        Says::Equal(beside),
        Says::InLine(beside),
        Says::Edge(trued::hint::EdgeKind::Arc),
        Says::Loop(trued::hint::LoopKind::Hole),
        Says::Hole(8.0, Vec::new()),
        Says::Level(0.0),
        Says::Zero,
        Says::Scale(100.0),
    ];
    let plain = corrected(&trace, &[]);
    for says in all {
        let trued = corrected(
            &trace,
            &[Hint {
                at: far,
                says: says.clone(),
            }],
        );
        let said = refusals(&trued);
        assert_eq!(said.len(), 1, "{says:?}: {said:?}");
        let distance = said[0].contains("mm away") || said[0].contains("there is no mark");
        assert!(distance, "{says:?}: {said:?}");
        assert_eq!(trued.outline, plain.outline, "{says:?}");
    }
}

#[test]
fn sizes_that_fight_are_refused_with_their_rival() {
    let trace = traced(&[rectangle(200.0, 130.0)], Level::Ordinary, 510);
    let trued = corrected(
        &trace,
        &[
            hint(100.0, 0.0, Says::Size(200.0)),
            hint(100.0, 130.0, Says::Size(190.0)),
        ],
    );
    let said = refusals(&trued);
    assert_eq!(said.len(), 1, "{said:?}");
    assert!(
        said[0].contains("190") && said[0].contains("fights") && said[0].contains("200"),
        "{said:?}"
    );
    let edges = part(&trued);
    assert!((over(&edges, 100.0, 0.0) - 200.0).abs() < 1e-6);
}

#[test]
fn a_corner_takes_the_angle_it_is_given_and_the_others_what_is_left() {
    let trace = traced(&[rectangle(200.0, 130.0)], Level::Ordinary, 520);
    let trued = followed(
        &trace,
        &[hint(200.0, 130.0, Says::Corner(CornerKind::Angle(75.0)))],
    );
    let edges = part(&trued);
    let at = |x: f64, y: f64| {
        let p = Point::new(x, y);
        let from = |e: &Edge| e.from().distance(p);
        (0..edges.len())
            .min_by(|a, b| from(&edges[*a]).total_cmp(&from(&edges[*b])))
            .expect("a corner")
    };
    let i = at(200.0, 130.0);
    let angle = trued_tests::shapes::interior(&edges, i);
    assert!((angle.to_degrees() - 75.0).abs() < 1e-6, "{angle}");
    let skew = closed(&[(0.0, 0.0), (200.0, 0.0), (195.0, 130.0), (0.0, 130.0)]);
    let trace = traced(&[skew], Level::Steady, 521);
    let trued = followed(
        &trace,
        &[hint(195.0, 130.0, Says::Corner(CornerKind::Square))],
    );
    let edges = part(&trued);
    let near = |e: &Edge| e.from().distance(Point::new(195.0, 130.0));
    let i = (0..4).min_by(|a, b| near(&edges[*a]).total_cmp(&near(&edges[*b])));
    let angle = trued_tests::shapes::interior(&edges, i.expect("a corner"));
    assert!((angle - FRAC_PI_2).abs() < 1e-9);
}

#[test]
fn edges_are_made_parallel_equal_and_in_line() {
    let step = closed(&[
        (0.0, 0.0),
        (150.0, 0.0),
        (150.0, 40.0),
        (100.0, 40.0),
        (100.0, 70.0),
        (45.0, 70.0),
        (45.0, 42.5),
        (0.0, 42.5),
    ]);
    let trace = traced(&[step], Level::Steady, 530);
    let trued = followed(
        &trace,
        &[
            hint(125.0, 40.0, Says::InLine(Point::new(20.0, 42.5))),
            hint(125.0, 40.0, Says::Equal(Point::new(20.0, 42.5))),
        ],
    );
    let edges = part(&trued);
    let [a, b] = [(125.0, 40.0), (20.0, 42.5)].map(|(x, y)| edges[near(&edges, x, y)]);
    assert!((a.length() - b.length()).abs() < 1e-6);
    let d = a.direction_at(0.5);
    for p in [b.from(), b.to()] {
        assert!(d.cross(p - a.from()).abs() < 1e-6);
    }
    let lean = closed(&[(0.0, 0.0), (160.0, 0.0), (160.0, 90.0), (0.0, 97.0)]);
    let trace = traced(&[lean], Level::Steady, 531);
    let trued = followed(
        &trace,
        &[hint(80.0, 94.0, Says::Parallel(Point::new(80.0, 0.0)))],
    );
    let edges = part(&trued);
    let [a, b] =
        [(80.0, 94.0), (80.0, 0.0)].map(|(x, y)| edges[near(&edges, x, y)].direction_at(0.5));
    assert!(a.cross(b).abs() < 1e-9);
}

#[test]
fn an_edge_is_made_straight_or_an_arc_and_the_rest_stays() {
    let bow = |sweep: f64| {
        let corners = [(0.0, 0.0), (120.0, 0.0), (120.0, 80.0), (0.0, 80.0)];
        let mut shapes = vec![trued::Shape::Line; 4];
        shapes[1] = trued::Shape::Arc { sweep };
        Path::Chain(trued::Chain {
            corners: corners.map(|(x, y)| Point::new(x, y)).to_vec(),
            shapes,
        })
    };
    for (seed, sweep, kind) in [
        (0, 0.5, trued::hint::EdgeKind::Straight),
        (1, 0.9, trued::hint::EdgeKind::Straight),
        (2, 0.03, trued::hint::EdgeKind::Arc),
        (3, 0.05, trued::hint::EdgeKind::Arc),
    ] {
        let trace = traced(&[bow(sweep)], Level::Steady, 580 + seed);
        let before = part(&corrected(&trace, &[]));
        let trued = followed(&trace, &[hint(122.0, 40.0, Says::Edge(kind))]);
        let edges = part(&trued);
        let e = near(&edges, 122.0, 40.0);
        let arc = kind == trued::hint::EdgeKind::Arc;
        assert_eq!(matches!(edges[e], Edge::Arc(_)), arc, "{edges:?}");
        assert_eq!(edges.len(), before.len());
        assert_eq!(arcs(&edges).len(), usize::from(arc));
        let left = &edges[near(&edges, 0.0, 40.0)];
        assert!((left.length() - 80.0).abs() < 1.0, "{left:?}");
    }
}

#[test]
fn nothing_is_told_with_a_plus_minus_larger_than_it() {
    use trued_tests::shapes::{Case, FAMILIES};
    for seed in 0..40 {
        let mut rng = Rng::named(seed, "plus minus");
        let case = Case::draw(&FAMILIES[rng.below(FAMILIES.len())], &mut rng);
        let trace = sampled(&case.path, hand(Level::Shaky), &mut rng, 1);
        let Ok(trued) = true_up(&trace, &Settings::default(), &[]) else {
            continue;
        };
        for s in &trued.report.sizes {
            assert!(s.plus_minus < s.value || s.value == 0.0, "{s:?}");
        }
    }
}

#[test]
fn holes_are_placed_and_spaced() {
    let paths = [
        rectangle(200.0, 100.0),
        circle(30.0, 40.0, 10.0),
        circle(90.0, 42.0, 10.0),
        circle(152.0, 41.0, 10.0),
    ];
    let trace = traced(&paths, Level::Ordinary, 540);
    let row = Says::Pattern(Pattern {
        kind: PatternKind::Row,
        with: vec![Point::new(90.0, 42.0), Point::new(152.0, 41.0)],
        sides: None,
        diameter: None,
        pitch: Some(60.0),
    });
    let trued = followed(
        &trace,
        &[
            hint(30.0, 40.0, row),
            hint(30.0, 40.0, Says::Distance(30.0, Point::new(0.0, 50.0))),
            hint(30.0, 40.0, Says::Distance(40.0, Point::new(30.0, 0.0))),
            hint(152.0, 41.0, Says::Distance(40.0, Point::new(150.0, 0.0))),
            hint(90.0, 42.0, Says::Diameter(21.0)),
        ],
    );
    let edges = part(&trued);
    let mut c: Vec<Circle> = (trued.outline.loops.iter())
        .filter_map(|l| match &l.path {
            Path::Circle(c) => Some(*c),
            Path::Chain(_) => None,
        })
        .collect();
    c.sort_by(|a, b| a.center.x.total_cmp(&b.center.x));
    for pair in c.windows(2) {
        assert!((pair[0].center.distance(pair[1].center) - 60.0).abs() < 1e-6);
    }
    let far = |x: f64, y: f64, p: Point| {
        let line = &edges[near(&edges, x, y)];
        line.direction_at(0.5).cross(p - line.from()).abs()
    };
    assert!((far(0.0, 50.0, c[0].center) - 30.0).abs() < 1e-6);
    for c in &c {
        assert!((far(100.0, 0.0, c.center) - 40.0).abs() < 1e-6);
    }
    assert!((2.0 * c[1].radius - 21.0).abs() < 1e-6);
}

#[test]
fn a_bolt_circle_has_its_diameter() {
    let mut rng = Rng::named(550, "bolts");
    let mut trace = traced(&[circle(60.0, 60.0, 60.0)], Level::Ordinary, 550);
    let at =
        |k: i32| Point::new(60.0, 60.0) + Vec2::from_angle(0.3 + f64::from(k) * PI / 3.0) * 40.0;
    let touched: Vec<Point> = (0..6)
        .map(|k| at(k) + Vec2::new(rng.normal(), rng.normal()) * 2.0)
        .collect();
    for p in &touched {
        trace.strokes.push(mark(*p, Level::Steady, &mut rng));
    }
    let says = Says::Pattern(Pattern {
        kind: PatternKind::Circle,
        with: touched[1..].to_vec(),
        sides: None,
        diameter: Some(80.0),
        pitch: None,
    });
    let trued = followed(
        &trace,
        &[Hint {
            at: touched[0],
            says,
        }],
    );
    let marks: Vec<Point> = trued.outline.marks.iter().map(|m| m.at).collect();
    let mean = marks
        .iter()
        .fold(Vec2::new(0.0, 0.0), |s, p| s + p.to_vec())
        * (1.0 / 6.0);
    for p in &marks {
        assert!(((p.to_vec() - mean).length() - 40.0).abs() < 1e-6);
    }
}

#[test]
fn a_fillet_is_taken_away_and_given_another_radius() {
    let mut seen = 0;
    for seed in 0..6 {
        let trace = traced(&[rounded(160.0, 100.0, 20.0)], Level::Steady, 560 + seed);
        if arcs(&part(&corrected(&trace, &[]))).len() != 4 {
            continue;
        }
        seen += 1;
        let trued = followed(
            &trace,
            &[
                hint(160.0, 100.0, Says::Corner(CornerKind::Sharp)),
                hint(0.0, 0.0, Says::Radius(12.0)),
            ],
        );
        let edges = part(&trued);
        assert_eq!(edges.len(), 7);
        let mut radii: Vec<f64> = arcs(&edges).iter().map(|a| a.radius).collect();
        radii.sort_by(f64::total_cmp);
        assert!((radii[0] - 12.0).abs() < 1e-6, "{radii:?}");
        assert!(
            (radii[1] - radii[2]).abs() < 1e-6 && (radii[1] - 20.0).abs() < 1.0,
            "{radii:?}"
        );
    }
    assert!(seen >= 3);
}

#[test]
fn level_and_zero_place_the_whole() {
    let trace = traced(&[rectangle(200.0, 130.0)], Level::Ordinary, 570);
    let turned = Trace {
        strokes: trace
            .strokes
            .iter()
            .map(|s| {
                let (sin, cos) = 0.3_f64.sin_cos();
                let turn =
                    |p: &Point| Point::new(cos * p.x - sin * p.y + 40.0, sin * p.x + cos * p.y);
                trued::Stroke::new(s.points.iter().map(turn).collect())
            })
            .collect(),
        drawn: Vec::new(),
    };
    let (sin, cos) = 0.3_f64.sin_cos();
    let base = Point::new(cos * 100.0 + 40.0, sin * 100.0);
    let trued = followed(
        &turned,
        &[
            Hint {
                at: base,
                says: Says::Level(0.0),
            },
            Hint {
                at: Point::new(40.0, 0.0),
                says: Says::Zero,
            },
        ],
    );
    let edges = part(&trued);
    let zero = edges
        .iter()
        .map(|e| e.from().to_vec().length())
        .fold(f64::INFINITY, f64::min);
    assert!(zero < 1e-9, "{edges:?}");
    let base = edges[near(&edges, 100.0, 0.0)];
    assert!(base.direction_at(0.5).y.abs() < 1e-9, "{base:?}");
    assert!((base.length() - 200.0).abs() < 2.0);
}
