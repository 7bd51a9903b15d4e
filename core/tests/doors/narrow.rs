//! Slits, slots and tabs of a few mm, traced there and back in one stroke.

use crate::bench::{Bench, FIGURES, mm};

const W: f64 = 140.0;
const H: f64 = 100.0;

/// A plate with a slit from below so wide and long, or with a tab, begun in a corner far from it.
fn plate_with(wide: f64, long: f64) -> Vec<(f64, f64)> {
    let (a, b) = (0.45 * W - 0.5 * wide, 0.45 * W + 0.5 * wide);
    vec![
        (W, H),
        (0.0, H),
        (0.0, 0.0),
        (a, 0.0),
        (a, long),
        (b, long),
        (b, 0.0),
        (W, 0.0),
    ]
}

#[test]
fn a_slit_traced_there_and_back_is_cut() {
    for (wide, long) in [(3.0, 40.0), (3.0, 70.0), (4.0, 30.0), (4.0, 55.0)] {
        let b = Bench::new();
        b.put("a.csv", &mm().loop_of(&plate_with(wide, long)).rows);
        b.good(&format!("cut a.csv {FIGURES} -o x.ngc"));
        let plate = b.plate(1.5);
        let (w, h) = plate.size(10.0, 90.0).expect("metal");
        assert!((w - W).abs() < 1.0 && (h - H).abs() < 1.0, "{w} x {h}");
        let area = plate.area(10.0, 90.0);
        let meant = W * H - wide * long;
        assert!((area - meant).abs() < 0.01 * meant, "{area} for {meant}");
        // Nothing but waste: open from below almost to its end, and closed beyond it.
        let middle = 0.45 * W;
        for y in [2.0, 0.5 * long, long - 2.0] {
            assert!(
                (plate.area(middle, y) - area).abs() > 1.0,
                "{wide} x {long}: metal at {y}"
            );
        }
        assert!(plate.at(middle, long + 2.0).is_some());
    }
}

#[test]
fn a_narrow_tab_is_cut() {
    for (wide, long) in [(3.0, 30.0), (4.0, 20.0), (4.0, 45.0)] {
        let b = Bench::new();
        b.put("a.csv", &mm().loop_of(&plate_with(wide, -long)).rows);
        b.good(&format!("cut a.csv {FIGURES} -o x.ngc"));
        let plate = b.plate(1.5);
        let (w, h) = plate.size(10.0, 90.0).expect("metal");
        assert!(
            (w - W).abs() < 1.0 && (h - H - long).abs() < 1.5,
            "{w} x {h}"
        );
        assert!(plate.at(0.45 * W, 3.0 - long).is_some());
    }
}

/// The outline of a slot with round ends that lies level.
fn slot(x: f64, y: f64, long: f64, wide: f64) -> Vec<(f64, f64)> {
    let r = 0.5 * wide;
    let end = |cx: f64, from: f64| {
        (0..=12).map(move |i| {
            let a = from + std::f64::consts::PI * f64::from(i) / 12.0;
            (cx + r * libm::cos(a), y + r * libm::sin(a))
        })
    };
    let quarter = std::f64::consts::FRAC_PI_2;
    end(x + long - r, -quarter)
        .chain(end(x + r, quarter))
        .collect()
}

#[test]
fn a_narrow_slot_is_cut() {
    for (wide, long) in [(3.0, 50.0), (3.5, 60.0), (4.0, 40.0)] {
        let b = Bench::new();
        let trace = mm().rectangle(0.0, 0.0, W, H);
        b.put("a.csv", &trace.loop_of(&slot(30.0, 50.0, long, wide)).rows);
        b.good(&format!("cut a.csv {FIGURES} -o x.ngc"));
        let plate = b.plate(1.5);
        let area = plate.area(10.0, 90.0);
        let meant = W * H - wide * long;
        assert!((area - meant).abs() < 0.01 * meant, "{area} for {meant}");
        for x in [32.0, 30.0 + 0.5 * long, 28.0 + long] {
            assert!(
                plate.area(x, 50.0) < wide * long,
                "{wide} x {long}: metal at {x}"
            );
        }
        for (x, y) in [
            (27.0, 50.0),
            (33.0 + long, 50.0),
            (50.0, 54.0),
            (50.0, 46.0),
        ] {
            assert!(
                plate.at(x, y).is_some(),
                "{wide} x {long}: no metal at {x}, {y}"
            );
        }
    }
}
