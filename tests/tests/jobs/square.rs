//! A machine out of square, measured with calipers.

use crate::chance::Chance;
use trued::machine::{Measured, Profile, Squareness, squareness};
use trued::{Chain, Edge, Outline, Path, Point, Shape};

const CALIPER: f64 = 0.1;

/// What calipers find on the rectangle this machine cuts.
fn measure(machine: &Squareness, nominal: [f64; 2], chance: &mut Chance) -> Measured {
    // Corners by the machine's own map, lengths by distance: independent of the model's formula.
    let [w, h] = nominal;
    let c = [(0.0, 0.0), (w, 0.0), (w, h), (0.0, h)].map(|(x, y)| machine.apply(Point::new(x, y)));
    let mut length = |a: usize, b: usize| c[a].distance(c[b]) + chance.normal(CALIPER);
    Measured {
        nominal,
        sides: [length(0, 1), length(1, 2), length(2, 3), length(3, 0)],
        diagonals: [length(0, 2), length(1, 3)],
        caliper: CALIPER,
    }
}

/// One degree out of square and one percent out of scale, either way.
fn machine(chance: &mut Chance) -> Squareness {
    let sign = |c: &mut Chance| if c.below(2) == 0 { 1.0 } else { -1.0 };
    Squareness {
        scale_x: 1.0 + 0.01 * sign(chance),
        scale_y: 1.0 + 0.01 * sign(chance),
        out_of_square: sign(chance) * 1f64.to_radians(),
    }
}

fn errors(found: &Squareness, truth: &Squareness) -> [f64; 3] {
    [
        (found.scale_x - truth.scale_x).abs(),
        (found.scale_y - truth.scale_y).abs(),
        (found.out_of_square - truth.out_of_square).abs(),
    ]
}

#[test]
fn exact_measurements_give_the_machine_exactly() {
    let truth = Squareness {
        scale_x: 1.01,
        scale_y: 0.99,
        out_of_square: 1f64.to_radians(),
    };
    let made = truth.lengths([400.0, 300.0]);
    let fit = squareness(&Measured {
        nominal: [400.0, 300.0],
        sides: [made[0], made[1], made[2], made[3]],
        diagonals: [made[4], made[5]],
        caliper: CALIPER,
    })
    .unwrap();
    assert!(errors(&fit.machine, &truth).iter().all(|e| *e < 1e-12));
    assert!(fit.contradiction.is_none());
}

/// Common practice: a rectangle is square when its diagonals agree; 3-4-5.
#[test]
fn equal_diagonals_mean_square() {
    let measured = Measured {
        nominal: [400.0, 300.0],
        sides: [400.0, 300.0, 400.0, 300.0],
        diagonals: [500.0, 500.0],
        caliper: CALIPER,
    };
    let fit = squareness(&measured).unwrap();
    assert!(fit.machine.out_of_square.abs() < 1e-12);
    assert!((fit.machine.scale_x - 1.0).abs() < 1e-12);
}

/// The ± hold in 95 % of runs, and a second piece after correction is square within them.
#[test]
fn within_the_reported_plus_minus() {
    let runs = 4000;
    let (mut together, mut each, mut second, mut false_alarms) = (0, [0; 3], 0, 0);
    for seed in 0..runs {
        let mut chance = Chance::new(seed);
        let truth = machine(&mut chance);
        let nominal = [chance.within(150.0, 500.0), chance.within(150.0, 500.0)];
        let fit = squareness(&measure(&truth, nominal, &mut chance)).unwrap();
        false_alarms += i32::from(fit.contradiction.is_some());
        let inside: Vec<bool> = errors(&fit.machine, &truth)
            .iter()
            .zip(fit.plus_minus)
            .map(|(e, pm)| *e <= pm)
            .collect();
        for (count, ok) in each.iter_mut().zip(&inside) {
            *count += i32::from(*ok);
        }
        together += i32::from(inside.iter().all(|ok| *ok));
        // The second piece: pre-distorted by what was found, cut by the true machine.
        let made = |x: f64, y: f64| truth.apply(fit.machine.correct(Point::new(x, y)));
        let origin = made(0.0, 0.0);
        let (u, v) = (made(1.0, 0.0) - origin, made(0.0, 1.0) - origin);
        let square = (u.dot(v) / (u.length() * v.length())).abs() <= libm::sin(fit.plus_minus[2]);
        let to_size = (u.length() - 1.0).abs() <= fit.plus_minus[0] * 1.02
            && (v.length() - 1.0).abs() <= fit.plus_minus[1] * 1.02;
        second += i32::from(square && to_size);
    }
    let percent = |n: i32| 100.0 * f64::from(n) / runs as f64;
    println!(
        "squareness: {runs} machines 1° and 1 % out, calipers 0.1 mm: all three within ± {:.1} %; each {:.1} {:.1} {:.1} %; second piece within ± {:.1} %; false contradiction {:.1} %",
        percent(together),
        percent(each[0]),
        percent(each[1]),
        percent(each[2]),
        percent(second),
        percent(false_alarms)
    );
    assert!(percent(together) >= 95.0 - 0.7 && percent(together) < 99.0);
    assert!(percent(second) >= 95.0 - 0.7);
    assert!(percent(false_alarms) < 2.0);
}

/// A figure written down 3 mm wrong is found out, and named first or among its equals.
#[test]
fn names_the_figure_that_contradicts() {
    let (mut caught, mut named, mut first, runs) = (0, 0, 0, 1200);
    for seed in 0..runs {
        let mut chance = Chance::new(10_000 + seed);
        let mut m = measure(&machine(&mut chance), [400.0, 300.0], &mut chance);
        let wrong = chance.below(6);
        let by = if chance.below(2) == 0 { 3.0 } else { -3.0 };
        match wrong {
            i @ 0..4 => m.sides[i] += by,
            i => m.diagonals[i - 4] += by,
        }
        if let Some(c) = squareness(&m).unwrap().contradiction {
            caught += 1;
            named += i32::from(c.suspects.contains(&wrong));
            first += i32::from(c.suspects.first() == Some(&wrong));
            assert!(c.sentence().contains("again"));
        }
    }
    println!(
        "squareness: a figure 3 mm wrong is caught in {caught} of {runs}, among the named {named}, named first {first}"
    );
    assert!(caught == runs as i32 && named as f64 > 0.97 * runs as f64);
}

#[test]
fn nonsense_is_refused_with_a_sentence() {
    let good = Measured {
        nominal: [400.0, 300.0],
        sides: [400.0, 300.0, 400.0, 300.0],
        diagonals: [500.0, 500.0],
        caliper: 0.1,
    };
    let refuse = |m: Measured, word: &str| {
        let said = squareness(&m).unwrap_err().to_string();
        assert!(said.contains(word), "{said}");
    };
    refuse(
        Measured {
            sides: [300.0, 400.0, 300.0, 400.0],
            ..good
        },
        "order",
    );
    refuse(
        Measured {
            sides: [f64::NAN, 300.0, 400.0, 300.0],
            ..good
        },
        "bottom",
    );
    refuse(
        Measured {
            caliper: 0.0,
            ..good
        },
        "caliper",
    );
    refuse(
        Measured {
            nominal: [-1.0, 300.0],
            ..good
        },
        "nominal",
    );
}

/// A rounded plate with a hole, pre-distorted: what the machine then cuts is the plate again.
#[test]
fn a_corrected_outline_comes_out_true() {
    let machine = Squareness {
        scale_x: 1.01,
        scale_y: 0.985,
        out_of_square: -0.02,
    };
    let profile = Profile {
        square: Some(machine),
        arm: None,
    };
    let quarter = Shape::Arc {
        sweep: core::f64::consts::FRAC_PI_2,
    };
    let plate = Path::Chain(Chain {
        corners: [
            (40.0, 0.0),
            (260.0, 0.0),
            (300.0, 40.0),
            (300.0, 160.0),
            (260.0, 200.0),
            (40.0, 200.0),
            (0.0, 160.0),
            (0.0, 40.0),
        ]
        .map(|(x, y)| Point::new(x, y))
        .to_vec(),
        shapes: [
            Shape::Line,
            quarter,
            Shape::Line,
            quarter,
            Shape::Line,
            quarter,
            Shape::Line,
            quarter,
        ]
        .to_vec(),
    });
    let hole = Path::Circle(trued::Circle {
        center: Point::new(150.0, 100.0),
        radius: 63.0,
        counter_clockwise: false,
    });
    for path in [plate, hole] {
        let sent = profile.correct_path(&path);
        assert!(sent.is_closed());
        let wanted = path.edges();
        let mut worst = 0.0f64;
        for edge in sent.edges() {
            for i in 0..=50 {
                let at = machine.apply(edge.point_at(f64::from(i) / 50.0));
                let off = wanted
                    .iter()
                    .map(|e: &Edge| e.distance(at))
                    .fold(f64::MAX, f64::min);
                worst = worst.max(off);
            }
        }
        let (made, want) = (sent.area() * machine_area(&machine), path.area());
        println!(
            "squareness: corrected path of {} edges, cut by the machine, is off by {worst:.4} mm",
            sent.edges().len()
        );
        assert!(worst < 0.0105, "{worst}");
        assert!((made / want - 1.0).abs() < 1e-3);
    }
    let empty = profile.correct_outline(&Outline::default());
    assert_eq!(empty, Outline::default());
}

fn machine_area(m: &Squareness) -> f64 {
    m.scale_x * m.scale_y * libm::cos(m.out_of_square)
}

#[test]
fn a_profile_reads_back_the_same() {
    let text = r#"{ "trued_machine": 1, "square": { "scale_x": 1.01, "scale_y": 0.99, "out_of_square_deg": 1.0 },
        "arm": { "link1": 450.0, "link2": 400.0, "elbow": "right",
            "tips": { "stylus": [0.0, 0.0], "torch": [30.0, 4.0] } } }"#;
    let profile = Profile::read(text).unwrap();
    assert_eq!(Profile::read(&profile.write().unwrap()).unwrap(), profile);
    for (bad, word) in [
        (
            r#"{ "trued_machine": 1, "square": { "scale_x": 9, "scale_y": 1, "out_of_square_deg": 0 } }"#,
            "scale_x",
        ),
        (
            "{ \"trued_machine\": 1,\n\"square\": { \"scale_x\": \"a\" } }",
            "line 2",
        ),
        (
            r#"{ "trued_machine": 1, "arm": { "link1": -1, "link2": 2 } }"#,
            "link1",
        ),
        (r#"{ "trued_machine": 2 }"#, "version 1"),
        (r#"{ "trued_machine": 1, "armm": {} }"#, "armm"),
        (r#"{ "trued": 1 }"#, "no machine profile"),
    ] {
        let said = Profile::read(bad).unwrap_err().to_string();
        assert!(said.contains(word), "{said}");
    }
}

/// A rectangle cut with a profile that was not quite right: the two together are the machine.
#[test]
fn a_profile_is_refined_by_a_second_piece() {
    let truth = Squareness {
        scale_x: 1.012,
        scale_y: 0.991,
        out_of_square: 0.02,
    };
    let first = Squareness {
        scale_x: 1.009,
        scale_y: 0.993,
        out_of_square: 0.015,
    };
    let nominal = [400.0, 300.0];
    let made =
        |x: f64, y: f64| truth.apply(first.correct(Point::new(x * nominal[0], y * nominal[1])));
    let c = [
        made(0.0, 0.0),
        made(1.0, 0.0),
        made(1.0, 1.0),
        made(0.0, 1.0),
    ];
    let length = |a: usize, b: usize| c[a].distance(c[b]);
    let found = squareness(&Measured {
        nominal,
        sides: [length(0, 1), length(1, 2), length(2, 3), length(3, 0)],
        diagonals: [length(0, 2), length(1, 3)],
        caliper: 0.1,
    })
    .unwrap();
    let both = first.then_found(&found.machine);
    assert!(errors(&both, &truth).iter().all(|e| *e < 1e-9), "{both:?}");
}
