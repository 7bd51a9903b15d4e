//! Openings from touched marks: the pattern, its pitch, the opening, the checks.

use crate::chance::Chance;
use core::f64::consts::{PI, TAU};
use trued::cut::stock::Stock;
use trued::jobs::opening::next_round;
use trued::jobs::{
    Opening, OpeningSettings, OpeningShape, Pattern, PatternKind, PatternSettings, Place, opening,
    pattern,
};
use trued::{Circle, Loop, Path, Point, Role, Vec2};

const TOUCH: f64 = 0.5;

fn read(marks: &[Point]) -> Pattern {
    pattern(marks, &PatternSettings::default()).unwrap()
}

/// Puts a figure somewhere on the plate, at any angle, its marks in any order, each missed.
fn touched(places: &[Point], error: f64, c: &mut Chance) -> (Vec<Point>, Vec<Point>) {
    let turn = Vec2::from_angle(c.within(0.0, TAU));
    let shift = Vec2::new(c.within(-300.0, 900.0), c.within(-300.0, 900.0));
    let mut truth: Vec<Point> = places
        .iter()
        .map(|p| Point::default() + turn * p.x + turn.left() * p.y + shift)
        .collect();
    c.shuffle(&mut truth);
    let marks = truth
        .iter()
        .map(|p| *p + Vec2::new(c.normal(error), c.normal(error)))
        .collect();
    (truth, marks)
}

fn ring(n: usize, radius: f64) -> Vec<Point> {
    (0..n)
        .map(|k| Point::default() + Vec2::from_angle(TAU * k as f64 / n as f64) * radius)
        .collect()
}

fn rectangle(w: f64, h: f64) -> Vec<Point> {
    [(0.0, 0.0), (w, 0.0), (w, h), (0.0, h)]
        .map(|(x, y)| Point::new(x, y))
        .to_vec()
}

fn row(n: usize, pitch: f64) -> Vec<Point> {
    (0..n).map(|k| Point::new(pitch * k as f64, 0.0)).collect()
}

/// Machinery's Handbook, table of chords for a circle of diameter 1 (seen to four places, recomputed).
#[test]
fn chords_of_hole_circles() {
    let chords = [
        0.866_025, 0.707_107, 0.587_785, 0.5, 0.433_884, 0.382_683, 0.342_020, 0.309_017,
        0.281_733, 0.258_819,
    ];
    for (n, chord) in (3..=12).zip(chords) {
        let p = read(&ring(n, 50.0));
        assert!((p.pitch[0] / 100.0 - chord).abs() < 1e-6, "{n}");
        assert!((p.circle.unwrap() - 100.0).abs() < 1e-9);
    }
    // Guide to Machinery's Handbook: 8 holes on a 6 in circle, chord 2.296 in.
    let p = read(&ring(8, 3.0 * 25.4));
    assert!((p.pitch[0] / 25.4 - 2.296_100_594_190_54).abs() < 1e-9);
}

/// Machinery's Handbook 31, p. 711: six holes, radius 5 about (7.5, 6), first at 30° (here ten times as large).
#[test]
fn six_holes_of_the_handbook() {
    let first = PI / 6.0;
    let marks: Vec<Point> = (0..6)
        .map(|k| Point::new(75.0, 60.0) + Vec2::from_angle(first + f64::from(k) * PI / 3.0) * 50.0)
        .collect();
    let p = read(&marks);
    assert_eq!(p.kind, PatternKind::Circle);
    for (got, want) in p.holes.iter().zip([
        [118.301_270_189_221_95, 85.0],
        [75.0, 110.0],
        [31.698_729_810_778_07, 85.0],
    ]) {
        assert!(got.distance(Point::from(want)) < 1e-9, "{got:?}");
    }
    assert!((p.angle - first).abs() < 1e-12);
}

/// ISO 3, series R10, from memory.
#[test]
fn preferred_sizes() {
    let sizes = [
        100.0, 125.0, 160.0, 200.0, 250.0, 315.0, 400.0, 500.0, 630.0, 800.0, 1000.0,
    ];
    for pair in sizes.windows(2) {
        assert_eq!(next_round(pair[0]), Some(pair[0]));
        assert_eq!(next_round(pair[0] + 0.1), Some(pair[1]));
    }
    assert_eq!(next_round(f64::NAN), None);
}

/// Held-out figures: the constants of the reading were not chosen on these.
fn family(name: &str, c: &mut Chance) -> (PatternKind, Vec<Point>) {
    match name {
        "square" => {
            let side = c.within(30.0, 250.0);
            (PatternKind::Square, rectangle(side, side))
        }
        "rectangle" => loop {
            let (w, h) = (c.within(25.0, 250.0), c.within(25.0, 250.0));
            if (w - h).abs() >= 5.0 {
                return (PatternKind::Rectangle, rectangle(w, h));
            }
        },
        "rectangle, sides 5 to 8 mm apart" => {
            let w = c.within(30.0, 250.0);
            (PatternKind::Rectangle, rectangle(w, w + c.within(5.0, 8.0)))
        }
        "row" => (PatternKind::Row, row(3 + c.below(6), c.within(20.0, 80.0))),
        "none: anywhere" => loop {
            let marks: Vec<Point> = (0..4)
                .map(|_| Point::new(c.within(0.0, 250.0), c.within(0.0, 250.0)))
                .collect();
            if plain(&marks) {
                return (PatternKind::Free, marks);
            }
        },
        "none: one hole of a square or rectangle 8 mm off" => {
            let mut marks = rectangle(c.within(40.0, 250.0), c.within(40.0, 250.0));
            marks[0] = marks[0] + Vec2::from_angle(c.within(0.0, TAU)) * 8.0;
            (PatternKind::Free, marks)
        }
        "none: leaning by 8° and more" => {
            let (w, h, lean) = (
                c.within(60.0, 250.0),
                c.within(60.0, 250.0),
                c.within(8.0, 30.0),
            );
            let mut marks = rectangle(w, h);
            let by = Vec2::new(h * libm::tan(lean.to_radians()), 0.0);
            marks[2] = marks[2] + by;
            marks[3] = marks[3] + by;
            (PatternKind::Free, marks)
        }
        n => {
            let n: usize = n.rsplit(' ').next().and_then(|n| n.parse().ok()).unwrap();
            let kind = if n == 4 {
                PatternKind::Square
            } else {
                PatternKind::Circle
            };
            (kind, ring(n, c.within(25.0, 150.0)))
        }
    }
}

/// Four places plainly in no pattern: every one of the three is missed by 4 mm or more on average.
fn plain(marks: &[Point]) -> bool {
    [
        PatternKind::Square,
        PatternKind::Rectangle,
        PatternKind::Row,
    ]
    .iter()
    .all(|kind| {
        let told = PatternSettings {
            kind: Some(*kind),
            ..PatternSettings::default()
        };
        let p = pattern(marks, &told).unwrap();
        let squares: f64 = p.off.iter().map(|o| o.length_squared()).sum();
        (squares / 4.0).sqrt() > 4.0
    }) && marks
        .iter()
        .enumerate()
        .all(|(i, a)| marks.iter().take(i).all(|b| a.distance(*b) > 15.0))
}

#[test]
fn the_pattern_is_right() {
    let families = [
        "square",
        "rectangle",
        "rectangle, sides 5 to 8 mm apart",
        "circle of 3",
        "circle of 4",
        "circle of 5",
        "circle of 6",
        "circle of 7",
        "circle of 8",
        "row",
        "none: anywhere",
        "none: one hole of a square or rectangle 8 mm off",
        "none: leaning by 8° and more",
    ];
    const RUNS: usize = 1500;
    let mut worst = 100.0f64;
    for (number, name) in families.into_iter().enumerate() {
        let (mut right, mut pitch, mut told_pitch, mut holds, mut pitches) = (0, 0.0, 0.0, 0, 0);
        let mut wrong = std::collections::BTreeMap::new();
        for run in 0..RUNS {
            let mut c = Chance::new(7_000_000 + (number * RUNS + run) as u64);
            let (kind, places) = family(name, &mut c);
            let (truth, marks) = touched(&places, TOUCH, &mut c);
            let got = read(&marks);
            right += usize::from(got.kind == kind);
            if got.kind != kind {
                *wrong.entry(got.kind.name()).or_insert(0) += 1;
            }
            // Pitches are compared where a pitch is given at all: where the pattern was seen.
            if kind == PatternKind::Free || got.kind != kind {
                continue;
            }
            let want = distances(&truth, kind);
            let mut read: Vec<(f64, f64)> = got
                .pitch
                .iter()
                .copied()
                .zip(got.pitch_plus_minus.iter().copied())
                .collect();
            read.sort_by(|a, b| a.0.total_cmp(&b.0));
            let mut fitted = told(&marks, kind);
            fitted.sort_by(f64::total_cmp);
            for (((r, plus_minus), f), w) in read.iter().zip(&fitted).zip(&want) {
                pitch += (r - w) * (r - w);
                told_pitch += (f - w) * (f - w);
                pitches += 1;
                holds += usize::from((r - w).abs() <= *plus_minus);
            }
        }
        let percent = 100.0 * right as f64 / RUNS as f64;
        if pitches > 0 {
            let (own, told) = (
                (pitch / pitches as f64).sqrt(),
                (told_pitch / pitches as f64).sqrt(),
            );
            println!(
                "opening: {name}: right {percent:.2} %, pitch {own:.3} mm rms, {:.3} × the fit told the pattern; ± holds {:.1} %; else {wrong:?}",
                own / told,
                100.0 * holds as f64 / pitches as f64
            );
            assert!(own <= 1.05 * told, "{name}");
        } else {
            println!("opening: {name}: right {percent:.2} % {wrong:?}");
        }
        worst = worst.min(percent);
    }
    println!("opening: worst of all families {worst:.2} %");
    assert!(worst >= 99.0);
}

/// True distances of neighbours, smallest first; one or two of them.
fn distances(truth: &[Point], kind: PatternKind) -> Vec<f64> {
    let first = truth[0];
    let mut d: Vec<f64> = truth.iter().skip(1).map(|p| p.distance(first)).collect();
    d.sort_by(f64::total_cmp);
    if kind == PatternKind::Rectangle {
        return vec![d[0], d[1]];
    }
    let all = truth
        .iter()
        .enumerate()
        .flat_map(|(i, a)| truth.iter().take(i).map(move |b| a.distance(*b)));
    vec![all.fold(f64::INFINITY, f64::min)]
}

/// Least squares told the pattern, written independently: places in order, parameters by Gauss-Newton
/// with numerical derivatives.
fn told(marks: &[Point], kind: PatternKind) -> Vec<f64> {
    let n = marks.len();
    let mean =
        Point::default() + marks.iter().fold(Vec2::default(), |s, p| s + p.to_vec()) / n as f64;
    let mut sorted = marks.to_vec();
    if kind == PatternKind::Row {
        let far = *sorted
            .iter()
            .max_by(|a, b| a.distance(mean).total_cmp(&b.distance(mean)))
            .unwrap();
        let way = (far - mean).unit().unwrap();
        sorted.sort_by(|a, b| (*a - mean).dot(way).total_cmp(&(*b - mean).dot(way)));
    } else {
        sorted.sort_by(|a, b| (*a - mean).angle().total_cmp(&(*b - mean).angle()));
    }
    let model = |p: &[f64], k: usize| -> Point {
        let c = Point::new(p[0], p[1]);
        let u = Vec2::from_angle(p[2]);
        match kind {
            PatternKind::Row => c + u * (p[3] * (k as f64 - 0.5 * (n as f64 - 1.0))),
            PatternKind::Rectangle => {
                let (s, t) = [(1.0, 1.0), (-1.0, 1.0), (-1.0, -1.0), (1.0, -1.0)][k];
                c + u * (0.5 * s * p[3]) + u.left() * (0.5 * t * p[4])
            }
            _ => c + Vec2::from_angle(p[2] + TAU * k as f64 / n as f64) * p[3],
        }
    };
    let to = sorted[0] - mean;
    let mut p = match kind {
        PatternKind::Row => {
            let span = *sorted.last().unwrap() - sorted[0];
            vec![
                mean.x,
                mean.y,
                span.angle(),
                span.length() / (n as f64 - 1.0),
            ]
        }
        PatternKind::Rectangle => {
            let side = sorted[0] - sorted[1];
            vec![
                mean.x,
                mean.y,
                side.angle(),
                side.length(),
                (sorted[1] - sorted[2]).length(),
            ]
        }
        _ => vec![mean.x, mean.y, to.angle(), to.length()],
    };
    for _ in 0..60 {
        let residual = |p: &[f64]| -> Vec<f64> {
            (0..n)
                .flat_map(|k| {
                    let d = model(p, k) - sorted[k];
                    [d.x, d.y]
                })
                .collect()
        };
        let r = residual(&p);
        let m = p.len();
        let columns: Vec<Vec<f64>> = (0..m)
            .map(|i| {
                let mut q = p.clone();
                q[i] += 1e-6;
                residual(&q)
                    .iter()
                    .zip(&r)
                    .map(|(a, b)| (a - b) / 1e-6)
                    .collect()
            })
            .collect();
        let dot = |a: &[f64], b: &[f64]| a.iter().zip(b).map(|(x, y)| x * y).sum::<f64>();
        let mut rows: Vec<Vec<f64>> = (0..m)
            .map(|i| {
                (0..m)
                    .map(|j| dot(&columns[i], &columns[j]))
                    .chain([-dot(&columns[i], &r)])
                    .collect()
            })
            .collect();
        for i in 0..m {
            for j in 0..m {
                if i != j {
                    let k = rows[j][i] / rows[i][i];
                    for l in 0..=m {
                        let v = rows[i][l];
                        rows[j][l] -= k * v;
                    }
                }
            }
        }
        for i in 0..m {
            p[i] += rows[i][m] / rows[i][i];
        }
    }
    match kind {
        PatternKind::Rectangle => vec![p[3].abs(), p[4].abs()],
        PatternKind::Row => vec![p[3].abs()],
        _ => vec![2.0 * p[3].abs() * libm::sin(PI / n as f64)],
    }
}

#[test]
fn whole_steps_where_they_lie_within_the_plus_minus() {
    let mut c = Chance::new(77);
    let (_, marks) = touched(&rectangle(80.0, 60.0), 0.3, &mut c);
    let whole = PatternSettings {
        whole: Some(5.0),
        ..PatternSettings::default()
    };
    let p = pattern(&marks, &whole).unwrap();
    let mut pitch = p.pitch.clone();
    pitch.sort_by(f64::total_cmp);
    assert_eq!(pitch, [60.0, 80.0], "{p:?}");
    assert!(
        p.holes
            .iter()
            .zip(&marks)
            .all(|(h, m)| h.distance(*m) < 1.5)
    );
    let (_, marks) = touched(&rectangle(82.4, 62.6), 0.2, &mut c);
    let p = pattern(&marks, &whole).unwrap();
    assert!(
        p.notes.iter().any(|n| n.contains("whole step")),
        "{:?}",
        p.notes
    );
}

#[test]
fn the_same_from_every_order_and_place() {
    let mut c = Chance::new(5);
    for name in ["square", "rectangle", "circle of 6", "row"] {
        let (_, places) = family(name, &mut c);
        let (_, mut marks) = touched(&places, 0.4, &mut c);
        let first = read(&marks);
        for _ in 0..10 {
            c.shuffle(&mut marks);
            let p = read(&marks);
            assert_eq!(p.kind, first.kind);
            assert!(p.center.distance(first.center) < 1e-9);
            assert!(
                (p.angle - first.angle).abs() < 1e-9,
                "{name}: {} {}",
                p.angle,
                first.angle
            );
            for (a, b) in p.pitch.iter().zip(&first.pitch) {
                assert!((a - b).abs() < 1e-9);
            }
            // Holes come in the order of the marks.
            assert!(
                p.holes
                    .iter()
                    .zip(&marks)
                    .all(|(h, m)| h.distance(*m) < 2.5)
            );
            for (hole, off) in p.holes.iter().zip(&p.off).map(|(h, o)| (*h + *o, o)) {
                assert!(off.length() < 2.5 && marks.iter().any(|m| m.distance(hole) < 1e-9));
            }
        }
    }
}

fn traced_ring(center: Point, radius: f64) -> Loop {
    let circle = Circle {
        center,
        radius,
        counter_clockwise: true,
    };
    Loop {
        role: Role::Part,
        path: Path::Circle(circle),
        deviation: None,
    }
}

fn collar() -> Vec<Point> {
    rectangle(200.0, 200.0)
        .iter()
        .map(|p| *p + Vec2::new(50.0, 40.0))
        .collect()
}

fn notes(o: &Opening) -> String {
    o.report
        .notes
        .iter()
        .map(|n| n.text.as_str())
        .collect::<Vec<_>>()
        .join("\n")
}

#[test]
fn a_vent_collar() {
    let rough = traced_ring(Point::new(153.0, 136.0), 81.0);
    let mut s = OpeningSettings::new(8.0, OpeningShape::NextRound(None));
    s.thickness = Some(3.0);
    s.stock = Some(Stock::rectangle(300.0, 280.0).unwrap());
    let o = opening(&collar(), Some(&rough), &s).unwrap();
    assert_eq!(o.outline.loops.len(), 5);
    assert!(
        o.outline
            .loops
            .iter()
            .all(|l| l.role == Role::Hole && l.path.area() < 0.0)
    );
    let Path::Circle(c) = &o.outline.loops[0].path else {
        panic!("not round")
    };
    assert!((c.radius - 80.0).abs() < 1e-9 && c.center.distance(Point::new(150.0, 140.0)) < 1e-9);
    assert!((o.shift.unwrap() - Vec2::new(-3.0, 4.0)).length() < 1e-9);
    assert!(
        o.webs
            .iter()
            .all(|w| (w - (100.0 * 2f64.sqrt() - 84.0)).abs() < 1e-9)
    );
    assert!(notes(&o).contains("moved by 5.00 mm"), "{}", notes(&o));
    // Every hole is one full-circle arc edge.
    for l in &o.outline.loops {
        assert_eq!(l.path.edges().len(), 1);
    }
    s.place = Place::Traced;
    let o = opening(&collar(), Some(&rough), &s).unwrap();
    assert!(
        notes(&o).contains("stays where it was traced, 5.00 mm"),
        "{}",
        notes(&o)
    );
    s.shape = OpeningShape::Traced;
    s.place = Place::Pattern;
    let o = opening(&collar(), Some(&rough), &s).unwrap();
    assert!((o.outline.loops[0].path.area().abs() - PI * 81.0 * 81.0).abs() < 1e-6);
}

#[test]
fn rectangles_and_round_ends_lie_along_the_pattern() {
    let turn = Vec2::from_angle(0.3);
    let marks: Vec<Point> = rectangle(200.0, 120.0)
        .iter()
        .map(|p| Point::new(30.0, 20.0) + turn * p.x + turn.left() * p.y)
        .collect();
    for shape in [
        OpeningShape::Rectangle(140.0, 60.0),
        OpeningShape::RoundEnded(140.0, 60.0),
        OpeningShape::RoundEnded(60.0, 80.0),
    ] {
        let o = opening(&marks, None, &OpeningSettings::new(6.0, shape)).unwrap();
        let path = &o.outline.loops[0].path;
        let (w, h, area) = match shape {
            OpeningShape::RoundEnded(w, h) => {
                let (long, wide) = (w.max(h), w.min(h));
                (w, h, (long - wide) * wide + PI * wide * wide / 4.0)
            }
            OpeningShape::Rectangle(w, h) => (w, h, w * h),
            _ => unreachable!(),
        };
        assert!((path.area() + area).abs() < 1e-6);
        let ends = path.flatten(0.0005);
        let reach = |way: Vec2| {
            ends.iter()
                .map(|p| (*p - o.pattern.center).dot(way))
                .fold(0.0, f64::max)
        };
        assert!((reach(turn) - 0.5 * w).abs() < 1e-3, "{shape:?}");
        assert!((reach(turn.left()) - 0.5 * h).abs() < 1e-3, "{shape:?}");
    }
}

#[test]
fn what_cannot_be_cut_is_refused_and_what_had_better_not_be_is_said() {
    let refuse = |s: &OpeningSettings, traced: Option<&Loop>, word: &str| {
        let said = opening(&collar(), traced, s).unwrap_err().to_string();
        assert!(said.contains(word), "{said}");
    };
    refuse(
        &OpeningSettings::new(8.0, OpeningShape::Round(300.0)),
        None,
        "lies in the opening",
    );
    refuse(
        &OpeningSettings::new(8.0, OpeningShape::Round(280.0)),
        None,
        "into the opening",
    );
    refuse(
        &OpeningSettings::new(200.0, OpeningShape::Round(20.0)),
        None,
        "run into each other",
    );
    refuse(
        &OpeningSettings::new(8.0, OpeningShape::Traced),
        None,
        "rough opening",
    );
    refuse(
        &OpeningSettings::new(f64::NAN, OpeningShape::Round(100.0)),
        None,
        "hole diameter",
    );
    let mut s = OpeningSettings::new(8.0, OpeningShape::Round(160.0));
    s.stock = Some(Stock::rectangle(252.0, 300.0).unwrap());
    refuse(&s, None, "does not fit the stock");
    s.stock = Some(Stock::rectangle(256.0, 300.0).unwrap());
    let o = opening(&collar(), None, &s).unwrap();
    assert!(notes(&o).contains("edge of the stock"), "{}", notes(&o));
    let mut stock = Stock::rectangle(400.0, 400.0).unwrap();
    stock
        .openings
        .push(traced_ring(Point::new(150.0, 140.0), 10.0).path);
    s.stock = Some(stock);
    refuse(&s, None, "does not fit the stock");
    s.stock = None;
    s.thickness = Some(10.0);
    s.shape = OpeningShape::Round(260.0);
    let said = notes(&opening(&collar(), None, &s).unwrap());
    assert!(
        said.contains("web between hole 1 and the opening is 7.42 mm"),
        "{said}"
    );
    assert!(said.contains("holes of 8 mm are small"), "{said}");
}

#[test]
fn odd_marks_never_panic() {
    let none: [Point; 0] = [];
    assert!(pattern(&none, &PatternSettings::default()).is_err());
    assert!(pattern(&[Point::new(f64::NAN, 0.0)], &PatternSettings::default()).is_err());
    assert!(pattern(&[Point::new(1e300, 0.0); 4], &PatternSettings::default()).is_err());
    assert_eq!(read(&[Point::new(1.0, 2.0)]).kind, PatternKind::Single);
    assert_eq!(read(&[Point::new(1.0, 2.0); 5]).kind, PatternKind::Single);
    let two = read(&[Point::new(0.0, 0.0), Point::new(30.0, 0.0)]);
    assert_eq!((two.kind, two.pitch[0]), (PatternKind::Row, 30.0));
    for seed in 0..3000 {
        let mut c = Chance::new(seed);
        let n = 1 + c.below(20);
        let step = [0.0, 1e-9, 0.1, 2.0, 50.0][c.below(5)];
        let marks: Vec<Point> = (0..n)
            .map(|_| Point::new(step * c.below(4) as f64, step * c.below(4) as f64))
            .collect();
        let p = read(&marks);
        assert!(
            p.holes.iter().all(|h| h.is_finite()) && p.sure > 0.0 && p.sure <= 1.0 + 1e-9,
            "{p:?}"
        );
    }
}
