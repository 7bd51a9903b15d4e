//! What cleaning promises, on traces of known truth and on odd ones.

use core::f64::consts::TAU;
use trued::trace::{CleanTrace, PathKind, clean};
use trued::{Point, Settings, Stroke, Trace, TraceKind, Vec2};
use trued_tests::cleaning::judge;
use trued_tests::hand::{Form, Hand, Input, Level, trace};
use trued_tests::rng::Rng;
use trued_tests::shapes::{Case, FAMILIES};

fn cleaned(strokes: Vec<Vec<Point>>) -> CleanTrace {
    clean(&Trace::from_strokes(strokes), &Settings::default()).expect("a readable trace")
}

/// Points every `step` mm along straight lines between the corners, with a little unsteadiness.
fn along(corners: &[(f64, f64)], step: f64, seed: u64) -> Vec<Point> {
    let mut rng = Rng::new(seed);
    let mut out = Vec::new();
    for w in corners.windows(2) {
        let (a, b) = (Point::new(w[0].0, w[0].1), Point::new(w[1].0, w[1].1));
        let n = libm::ceil(a.distance(b) / step).max(1.0) as usize;
        out.extend((0..n).map(|k| a.lerp(b, k as f64 / n as f64)));
    }
    let last = corners[corners.len() - 1];
    out.push(Point::new(last.0, last.1));
    for p in &mut out {
        *p = *p + Vec2::new(rng.normal(), rng.normal()) * 0.05;
    }
    out
}

fn polar(center: (f64, f64), radius: f64, angle: f64) -> Point {
    Point::new(center.0, center.1) + Vec2::from_angle(angle) * radius
}

const SQUARE: [(f64, f64); 5] = [
    (0.0, 0.0),
    (80.0, 0.0),
    (80.0, 60.0),
    (0.0, 60.0),
    (0.0, 0.0),
];

#[test]
fn nearly_all_generated_traces_come_out_clean() {
    // One case a family and kind of input, seed 500, the forms of wander in turn.
    for (level, least) in [
        (Level::Steady, 0.95),
        (Level::Ordinary, 0.95),
        (Level::Shaky, 0.86),
    ] {
        let (mut good, mut closed, mut all) = (0_usize, 0, 0);
        for input in Input::ALL {
            for (k, family) in FAMILIES.iter().enumerate() {
                let form = Form::ALL[k % Form::ALL.len()];
                let hand = Hand { level, form, input };
                let mut rng = Rng::named(500, &format!("{} {level:?} {input:?}", family.name));
                let case = Case::draw(family, &mut rng);
                let t = trace(&case, hand, &mut rng);
                let c = clean(&t, &Settings::default()).expect("a readable trace");
                let v = judge(&case.path, level, &c);
                all += 1;
                good += usize::from(v.clean);
                closed += usize::from(v.one && v.closed);
            }
        }
        println!("{level:?}: {good} clean, {closed} closed, of {all}");
        assert!(
            good as f64 >= least * all as f64,
            "{level:?}: {good} of {all} clean"
        );
        assert!(closed + 2 >= all, "{level:?}: {closed} of {all} closed");
    }
}

fn same(a: &CleanTrace, b: &CleanTrace, map: &dyn Fn(Point) -> Point) {
    assert_eq!(a.paths.len(), b.paths.len());
    for (p, q) in a.paths.iter().zip(&b.paths) {
        assert_eq!((p.closed, p.kind), (q.closed, q.kind));
        assert_eq!(p.bridged, q.bridged);
        assert_eq!(p.points.len(), q.points.len());
        for (&u, &v) in p.points.iter().zip(&q.points) {
            assert!(map(u).distance(v) < 1e-6, "{u:?} {v:?}");
        }
    }
}

fn mapped(t: &Trace, map: &dyn Fn(Point) -> Point) -> Trace {
    let mut t = t.clone();
    for p in t.strokes.iter_mut().flat_map(|s| s.points.iter_mut()) {
        *p = map(*p);
    }
    t
}

/// A few traces of every kind of input.
fn samples() -> Vec<Trace> {
    let mut out = Vec::new();
    for input in Input::ALL {
        for seed in 0..6 {
            let mut rng = Rng::new(40 + seed);
            let case = Case::draw(&FAMILIES[(5 * seed as usize) % FAMILIES.len()], &mut rng);
            let hand = Hand {
                level: Level::Ordinary,
                form: Form::Ou,
                input,
            };
            out.push(trace(&case, hand, &mut rng));
        }
    }
    out
}

#[test]
fn scaled_alike_the_result_is_scaled() {
    for t in samples() {
        let a = clean(&t, &Settings::default()).expect("a readable trace");
        for k in [0.5, 2.0] {
            let map = |p: Point| Point::new(p.x * k, p.y * k);
            let settings = Settings::default().scaled(k);
            let b = clean(&mapped(&t, &map), &settings).expect("a readable trace");
            same(&a, &b, &map);
        }
    }
}

#[test]
fn moved_turned_or_mirrored_the_result_is_so_too() {
    let (sin, cos) = libm::sincos(0.7);
    let turn = |p: Point| Point::new(cos * p.x - sin * p.y, sin * p.x + cos * p.y);
    let shift = |p: Point| Point::new(p.x + 10_000.0, p.y - 4_000.0);
    let mirror = |p: Point| Point::new(-p.x, p.y);
    let maps: [&dyn Fn(Point) -> Point; 3] = [&turn, &shift, &mirror];
    for t in samples() {
        let a = clean(&t, &Settings::default()).expect("a readable trace");
        for map in maps {
            let b = clean(&mapped(&t, map), &Settings::default()).expect("a readable trace");
            same(&a, &b, map);
        }
    }
}

#[test]
fn touches_of_their_own_are_marks_and_dwell_is_none() {
    let mut line = vec![Point::new(0.0, 0.0); 200];
    line.extend(along(&SQUARE, 1.0, 1));
    let c = cleaned(vec![
        line,
        vec![Point::new(20.0, 20.0)],
        vec![
            Point::new(40.0, 20.0),
            Point::new(40.3, 20.2),
            Point::new(39.9, 20.1),
        ],
    ]);
    assert_eq!((c.paths.len(), c.marks.len()), (1, 2));
    assert!(c.paths[0].closed);
    let many = (0..10_000)
        .map(|i| vec![Point::new(f64::from(i), 0.0)])
        .collect();
    assert_eq!(cleaned(many).marks.len(), 10_000);
}

#[test]
fn nothing_to_read_is_refused_with_a_sentence() {
    let refused = |strokes: Vec<Vec<Point>>| {
        let result = clean(&Trace::from_strokes(strokes), &Settings::default());
        result.expect_err("nothing to read").to_string()
    };
    let p = Point::new(1.0, 2.0);
    assert!(refused(vec![]).contains("no points"));
    assert!(refused(vec![vec![p]]).contains("one point"));
    assert!(refused(vec![vec![p, Point::new(5.0, 5.0)]]).contains("two points"));
    assert!(refused(vec![vec![p; 50]]).contains("the same"));
    assert!(refused(vec![vec![p, p, Point::new(f64::NAN, 0.0)]]).contains("point 3 of stroke 1"));
    assert!(refused(vec![vec![p, p, Point::new(1e9, 0.0)]]).contains("1000000000"));
}

#[test]
fn plainly_open_paths_stay_open() {
    let spiral: Vec<Point> = (0..1500)
        .map(|i| f64::from(i) * 0.02)
        .map(|a| polar((0.0, 0.0), 10.0 + 2.0 * a, a))
        .collect();
    let bracket = along(
        &[(40.0, 0.0), (0.0, 0.0), (0.0, 80.0), (40.0, 80.0)],
        1.0,
        2,
    );
    let caret = along(&[(0.0, 0.0), (30.0, 60.0), (60.0, 0.0)], 1.0, 3);
    let single = along(&[(0.0, 0.0), (90.0, 20.0)], 1.0, 4);
    for open in [spiral, bracket, caret, single] {
        let c = cleaned(vec![open]);
        assert_eq!(c.paths.len(), 1);
        assert!(!c.paths[0].closed && c.paths[0].ends.sureness < 0.0);
    }
}

#[test]
fn a_line_there_and_back_is_one_open_line() {
    let c = cleaned(vec![along(&[(0.0, 0.0), (90.0, 20.0), (1.0, 0.6)], 1.0, 5)]);
    assert_eq!(c.paths.len(), 1);
    let p = &c.paths[0];
    assert!(!p.closed);
    let ends = p.points[0].distance(p.points[p.points.len() - 1]);
    assert!((ends - 92.2).abs() < 2.0, "{ends}");
}

#[test]
fn a_circle_drawn_twice_round_is_one_loop() {
    let twice = (0..700)
        .map(|i| TAU * f64::from(i) / 350.0)
        .map(|a| polar((0.0, 0.0), 50.0 + libm::sin(1.7 * a), a))
        .collect();
    let c = cleaned(vec![twice]);
    assert_eq!(c.paths.len(), 1);
    let p = &c.paths[0];
    assert!(p.closed && p.crossings.is_empty());
    assert!(p.points.len() < 400);
}

#[test]
fn a_figure_of_eight_stays_open_and_says_where_it_crosses() {
    let eight = (0..400)
        .map(|i| TAU * f64::from(i) / 400.0 + 0.4)
        .map(|a| Point::new(60.0 * libm::sin(a), 30.0 * libm::sin(2.0 * a)))
        .collect();
    let c = cleaned(vec![eight]);
    assert!(!c.paths[0].closed);
    assert_eq!(c.paths[0].crossings.len(), 1);
    assert!(c.paths[0].crossings[0].distance(Point::new(0.0, 0.0)) < 1.0);
}

#[test]
fn four_sides_with_corners_run_past_or_missed_become_one_loop() {
    let c = cleaned(vec![
        along(&[(84.0, 0.2), (-5.0, 0.0)], 1.0, 6),
        along(&[(80.0, -4.0), (80.3, 57.0)], 1.0, 7),
        along(&[(-0.2, 63.0), (0.0, -6.0)], 1.0, 8),
        along(&[(76.0, 60.0), (-4.0, 60.1)], 1.0, 9),
    ]);
    assert_eq!(c.paths.len(), 1);
    let p = &c.paths[0];
    assert!(p.closed);
    let inside = |q: &Point| (-1.0..=81.0).contains(&q.x) && (-1.0..=61.0).contains(&q.y);
    assert!(p.points.iter().all(inside));
    // The missed corner is a bridged step.
    assert!(!p.bridged.is_empty());
}

#[test]
fn an_outline_its_openings_and_its_holes_stay_apart() {
    let round = |x: f64, y: f64, r: f64| -> Vec<Point> {
        (0..90)
            .map(|i| polar((x, y), r, TAU * f64::from(i) / 88.0))
            .collect()
    };
    let hole = |x: f64, y: f64| vec![Point::new(x, y)];
    let c = cleaned(vec![
        along(&SQUARE, 1.0, 10),
        round(25.0, 30.0, 12.0),
        round(55.0, 30.0, 12.0),
        hole(8.0, 8.0),
        hole(72.0, 8.0),
        hole(72.0, 52.0),
        hole(8.0, 52.0),
    ]);
    assert_eq!((c.paths.len(), c.marks.len()), (3, 4));
    assert!(c.paths.iter().all(|p| p.closed));
}

#[test]
fn spikes_go_and_true_corners_of_a_sparse_pen_stay() {
    let mut sparse = along(&SQUARE, 5.0, 11);
    sparse[9] = sparse[9] + Vec2::new(2.0, 19.0);
    let c = cleaned(vec![sparse]);
    let p = &c.paths[0];
    assert!(p.closed);
    for (x, y) in SQUARE {
        let distance = |q: &Point| q.distance(Point::new(x, y));
        let near = p.points.iter().map(distance).fold(f64::MAX, f64::min);
        assert!(near < 0.6, "corner ({x}, {y}) is {near} mm from the path");
    }
    let on_edge = |q: &Point| q.y < 12.0 || q.x < 3.0 || q.x > 77.0 || q.y > 58.0;
    assert!(p.points.iter().all(on_edge));
}

#[test]
fn touches_and_clouds_are_told_or_said() {
    let hexagon: Vec<Point> = (0..6)
        .map(|i| polar((0.0, 0.0), 40.0, TAU * f64::from(i) / 6.0))
        .collect();
    let c = cleaned(vec![hexagon]);
    assert_eq!(c.paths[0].kind, PathKind::Touched);
    assert_eq!(c.paths[0].points.len(), 6);
    assert!(c.paths[0].closed);
    let mut ring = along(&SQUARE, 1.0, 12);
    Rng::new(3).shuffle(&mut ring);
    for kind in [TraceKind::Auto, TraceKind::Cloud] {
        let settings = Settings {
            kind,
            ..Settings::default()
        };
        let t = Trace::from_strokes([ring.clone()]);
        let c = clean(&t, &settings).expect("a readable trace");
        assert_eq!(c.paths.len(), 1);
        assert_eq!(
            (c.paths[0].kind, c.paths[0].closed),
            (PathKind::Cloud, true)
        );
    }
}

/// Around a small shape a sparse pen's steps are a large part of it, and two strays make them seem larger.
#[test]
fn a_sparse_pen_around_a_small_shape_is_no_cloud() {
    for seed in 0..20 {
        let mut points = along(
            &[(0.0, 0.0), (33.0, 0.0), (17.0, 46.0), (0.0, 0.0)],
            4.0,
            seed,
        );
        points.insert(9, Point::new(40.0, 44.0));
        points.insert(20, Point::new(-14.0, 8.0));
        assert!(points.len() >= 30);
        let out = cleaned(vec![points]);
        assert!(
            out.paths.iter().all(|p| p.kind == PathKind::Sampled),
            "{seed}"
        );
    }
}

#[test]
fn a_cloud_of_wide_scatter_and_two_loops_is_put_in_order() {
    let mut rng = Rng::new(9);
    let mut points = Vec::new();
    for (r, n) in [(90.0, 1400), (35.0, 600)] {
        for _ in 0..n {
            let off = r + 0.7 * rng.normal();
            points.push(polar((0.0, 0.0), off, rng.range(0.0, TAU)));
        }
    }
    rng.shuffle(&mut points);
    let c = cleaned(vec![points]);
    assert_eq!(c.paths.len(), 2);
    for (p, r) in c.paths.iter().zip([90.0, 35.0]) {
        assert!(p.closed);
        let next = |i: usize| p.points[(i + 1) % p.points.len()];
        let length: f64 = (0..p.points.len())
            .map(|i| p.points[i].distance(next(i)))
            .sum();
        let ratio = length / (TAU * r);
        assert!((0.97..1.3).contains(&ratio), "{length} mm for radius {r}");
    }
}

#[test]
fn the_other_way_of_a_path_is_its_open_or_closed_form() {
    let c = cleaned(vec![along(&SQUARE, 1.0, 13)]);
    let open = c.paths[0].other_way().expect("an open form");
    assert!(!open.closed);
    let closed = open.other_way().expect("a closed form");
    assert!(closed.closed);
    assert_eq!(closed.points, c.paths[0].points);
}

#[test]
fn odd_input_is_read_or_refused_and_never_panics() {
    let mut rng = Rng::new(77);
    let kinds = [
        TraceKind::Auto,
        TraceKind::Sampled,
        TraceKind::Touched,
        TraceKind::Cloud,
    ];
    for round in 0..400 {
        let strokes = (0..=rng.below(6)).map(|_| {
            let size = libm::pow(10.0, rng.range(-6.0, 4.0));
            let near = |rng: &mut Rng| {
                Point::new(size * libm::round(rng.normal() * 4.0), size * rng.normal())
            };
            Stroke::new((0..rng.below(60)).map(|_| near(&mut rng)).collect())
        });
        let t = Trace {
            strokes: strokes.collect(),
            drawn: Vec::new(),
        };
        let settings = Settings {
            kind: kinds[round % 4],
            ..Settings::default()
        };
        for p in clean(&t, &settings).iter().flat_map(|c| &c.paths) {
            assert!(p.points.iter().all(|q| q.is_finite()));
            assert!(p.bridged.iter().all(|&i| i < p.points.len()));
            let _ = p.other_way();
        }
    }
}
