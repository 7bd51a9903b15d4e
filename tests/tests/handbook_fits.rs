//! Circle and line fits against published answers and the statistics of least squares. The source
//! stands beside each check.

use core::f64::consts::TAU;
use trued::fit::{fit_circle, fit_line};
use trued::{Point, Vec2};
use trued_tests::rng::Rng;

fn points(of: &[(f64, f64)]) -> Vec<Point> {
    of.iter().map(|&(x, y)| Point::new(x, y)).collect()
}

/// Fits, and compares centre, radius and sum of squares with published digits.
fn check(of: &[(f64, f64)], x: f64, y: f64, r: f64, squares: f64) {
    let points = points(of);
    let fit = fit_circle(&points).expect("a circle fits");
    let got = fit.mean_square * points.len() as f64;
    for (got, want) in [
        (fit.center.x, x),
        (fit.center.y, y),
        (fit.radius, r),
        (got, squares),
    ] {
        assert!(
            (got - want).abs() < 1e-8 * want.abs(),
            "{got} is not {want}"
        );
    }
}

#[test]
fn circle_through_six_points() {
    // Gander, Golub and Strebel, BIT 34 (1994) 558–578: z = (4.7398, 2.9835), r = 4.7142; further
    // digits recomputed with an independent library.
    check(
        &[
            (1.0, 7.0),
            (2.0, 6.0),
            (5.0, 8.0),
            (7.0, 7.0),
            (9.0, 5.0),
            (3.0, 7.0),
        ],
        4.739_782_410_906_07,
        2.983_532_699_292_48,
        4.714_226_037_792_11,
        1.227_599_078_183_66,
    );
}

#[test]
fn circle_all_round() {
    // SciPy Cookbook, "Least squares circle": 10.50009, 9.65995, 23.33353; further digits recomputed.
    check(
        &[
            (9.0, 34.0),
            (35.0, 10.0),
            (-13.0, 6.0),
            (10.0, -14.0),
            (23.0, 27.0),
            (0.0, -10.0),
        ],
        10.500_086_213_944_4,
        9.659_949_505_836_43,
        23.333_527_646_182_9,
        7.711_852_238_819_96,
    );
}

#[test]
fn circle_of_a_short_arc() {
    // The same page; a plain linear circle fit is 24 % low in radius here.
    check(
        &[
            (36.0, 14.0),
            (36.0, 10.0),
            (19.0, 28.0),
            (18.0, 31.0),
            (33.0, 18.0),
            (26.0, 26.0),
        ],
        9.887_566_567_477_38,
        3.687_497_309_784_12,
        27.350_443_168_133_8,
        4.042_521_898_318_59,
    );
}

fn arc(n: usize, r: f64, sweep: f64, noise: f64, rng: &mut Rng) -> Vec<Point> {
    (0..n)
        .map(|i| {
            // A full turn is sampled evenly all round, a part of one from end to end.
            let gaps = if sweep >= TAU { n } else { n - 1 };
            let d = Vec2::from_angle(sweep * (i as f64 / gaps as f64 - 0.5));
            let off = Vec2::new(rng.normal(), rng.normal()) * noise;
            Point::default() + d * r + off
        })
        .collect()
}

fn deviation(values: &[f64]) -> (f64, f64) {
    let n = values.len() as f64;
    let mean = values.iter().sum::<f64>() / n;
    let square = values.iter().map(|v| (v - mean) * (v - mean)).sum::<f64>() / (n - 1.0);
    (mean, libm::sqrt(square))
}

#[test]
fn the_bias_of_a_radius() {
    // Al-Sharadqah and Chernov, Electron. J. Stat. 3 (2009) 886 (from memory): the geometric fit's
    // radius is large by σ²/2R. Here R = 1, σ = 0.05, 50 points.
    let mut rng = Rng::new(4);
    let radii: Vec<f64> = (0..20_000)
        .map(|_| {
            fit_circle(&arc(50, 1.0, TAU, 0.05, &mut rng))
                .expect("a circle")
                .radius
        })
        .collect();
    let (mean, s) = deviation(&radii);
    let error = s / libm::sqrt(radii.len() as f64);
    let bias = mean - 1.0;
    assert!(
        (bias - 0.00125).abs() < 4.0 * error + 1e-4,
        "{bias} ± {error}"
    );
}

#[test]
fn no_fit_of_an_arc_is_surer() {
    // The Cramér–Rao bound, (WᵀW)⁻¹σ² with rows (cos θ, sin θ, 1): Chan and Thomas 1995, Kanatani
    // (from memory; digits recomputed). 100 points, σ = 0.5; along the bisector, across it, radius.
    // At 3 % of simulation noise and with 1/n of the higher orders, 6 % either way.
    let mut rng = Rng::new(5);
    for (r, degrees, want) in [
        (50.0, 360.0, [0.070_710_68, 0.070_710_68, 0.05]),
        (50.0, 180.0, [0.159_843_89, 0.070_359_75, 0.112_460_14]),
        (50.0, 90.0, [0.557_633_97, 0.116_279_18, 0.503_448_16]),
        (100.0, 60.0, [1.223_610_12, 0.168_403_10, 1.168_433_26]),
    ] {
        let fits: Vec<_> = (0..4000)
            .map(|_| {
                let points = arc(100, r, f64::to_radians(degrees), 0.5, &mut rng);
                fit_circle(&points).expect("a circle")
            })
            .collect();
        let along = deviation(&fits.iter().map(|f| f.center.x).collect::<Vec<_>>()).1;
        let across = deviation(&fits.iter().map(|f| f.center.y).collect::<Vec<_>>()).1;
        let radius = deviation(&fits.iter().map(|f| f.radius).collect::<Vec<_>>()).1;
        for (got, want) in [along, across, radius].into_iter().zip(want) {
            assert!(
                (got / want - 1.0).abs() < 0.06,
                "{degrees}°: {got} is not {want}"
            );
        }
    }
}

/// 101 points over 100 mm along x, each off by normal chance; with `rho`, correlated along the line.
fn line(rho: f64, rng: &mut Rng) -> Vec<Point> {
    let mut off = 0.5 * rng.normal();
    (0..=100)
        .map(|i| {
            let p = Point::new(f64::from(i), off);
            off = rho * off + libm::sqrt(1.0 - rho * rho) * 0.5 * rng.normal();
            p
        })
        .collect()
}

/// Standard deviations of a line's angle and of its offset at the middle and at the end.
fn line_deviations(rho: f64, rng: &mut Rng) -> [f64; 3] {
    let fits: Vec<_> = (0..20_000)
        .map(|_| {
            let fit = fit_line(&line(rho, rng)).expect("a line");
            let slope = fit.direction.y / fit.direction.x;
            let at = |x: f64| fit.through.y + slope * (x - fit.through.x);
            (libm::atan(slope), at(50.0), at(100.0))
        })
        .collect();
    [
        deviation(&fits.iter().map(|f| f.0).collect::<Vec<_>>()).1,
        deviation(&fits.iter().map(|f| f.1).collect::<Vec<_>>()).1,
        deviation(&fits.iter().map(|f| f.2).collect::<Vec<_>>()).1,
    ]
}

#[test]
fn how_sure_a_line_is() {
    // Textbook least squares, recomputed: angle, middle, end; 101 points over 100 mm, σ = 0.5.
    let got = line_deviations(0.0, &mut Rng::new(6));
    for (got, want) in got
        .into_iter()
        .zip([0.001_706_474_703, 0.049_751_859_5, 0.098_769_364_2])
    {
        assert!((got / want - 1.0).abs() < 0.03, "{got} is not {want}");
    }
}

#[test]
fn correlated_wander_is_less_sure() {
    // From memory, recomputed: with correlation ρ from point to point every deviation grows by
    // √((1+ρ)/(1−ρ)); exact only for long lines, so the end effects of ρ = 0.5 are allowed for.
    let got = line_deviations(0.5, &mut Rng::new(8));
    let grown = libm::sqrt(3.0);
    for (got, want) in got
        .into_iter()
        .zip([0.001_706_474_703, 0.049_751_859_5, 0.098_769_364_2])
    {
        assert!(
            (got / (grown * want) - 1.0).abs() < 0.05,
            "{got} is not {}",
            grown * want
        );
    }
}

#[test]
fn how_sure_a_corner_is() {
    // Derived and recomputed: where two such lines meet at φ, with end offset v, the corner's
    // deviation is v/(√2 sin(φ/2)) along the bisector and v/(√2 cos(φ/2)) across it.
    let v = 0.098_769_364_2;
    let mut rng = Rng::new(7);
    for degrees in [60.0, 90.0, 130.0] {
        let half = 0.5 * f64::to_radians(degrees);
        let corners: Vec<Point> = (0..12_000)
            .map(|_| {
                // Two arms from the origin, half of φ to either side of x.
                let arm = |side: f64, rng: &mut Rng| {
                    let d = Vec2::from_angle(side * half);
                    let points: Vec<Point> = line(0.0, rng)
                        .iter()
                        .map(|p| Point::default() + d * p.x + d.left() * p.y)
                        .collect();
                    fit_line(&points).expect("a line")
                };
                let (a, b) = (arm(1.0, &mut rng), arm(-1.0, &mut rng));
                let t = (b.through - a.through).cross(b.direction) / a.direction.cross(b.direction);
                a.through + a.direction * t
            })
            .collect();
        let along = deviation(&corners.iter().map(|p| p.x).collect::<Vec<_>>()).1;
        let across = deviation(&corners.iter().map(|p| p.y).collect::<Vec<_>>()).1;
        let root = libm::sqrt(2.0);
        for (got, want) in [
            (along, v / (root * libm::sin(half))),
            (across, v / (root * libm::cos(half))),
        ] {
            assert!(
                (got / want - 1.0).abs() < 0.03,
                "{degrees}°: {got} is not {want}"
            );
        }
    }
}
