//! An outline that goes elsewhere than the line says so, whatever was traced.

use trued::{Chain, Path, Point, Settings, Shape, true_up};
use trued_tests::anyshape::{Kind, judge};
use trued_tests::assert_few;
use trued_tests::hand::{Form, Hand, Input, Level, sampled};
use trued_tests::rng::Rng;

/// How a hand of that form and level traces a line in one stroke.
fn stroke(form: Form, level: Level) -> Hand {
    let input = Input::Stroke;
    Hand { level, form, input }
}

/// How far what is read lies from the truth, mm, where nothing of it is doubted; a slit may be a line of its own.
fn silently_off(truth: &Path, hand: Hand, rng: &mut Rng) -> Option<f64> {
    let trace = sampled(truth, hand, rng, 1);
    let read = true_up(&trace, &Settings::default(), &[]).ok()?;
    let paths: Vec<&Path> = read.outline.loops.iter().map(|l| &l.path).collect();
    let silent = read.report.doubts.is_empty();
    silent.then(|| judge::furthest_of_all(truth, &paths))
}

/// A plate of 140 × 90 mm with a slit of that width, 45 mm long, from the middle of its upper side.
fn slit_plate(wide: f64) -> Path {
    let (a, b) = (70.0 - 0.5 * wide, 70.0 + 0.5 * wide);
    let corners = [
        (0.0, 0.0),
        (140.0, 0.0),
        (140.0, 90.0),
        (b, 90.0),
        (b, 45.0),
        (a, 45.0),
        (a, 90.0),
        (0.0, 90.0),
    ];
    Path::Chain(Chain {
        corners: corners.map(|(x, y)| Point::new(x, y)).to_vec(),
        shapes: vec![Shape::Line; corners.len()],
    })
}

/// The two sides of a slit that is no wider than the hand errs cross one another, and what does not cross itself and is
/// as likely otherwise may be an arc whose circle goes by the slit, far from where the arc is.
#[test]
fn a_slit_without_width_is_cut_there_or_doubted() {
    let mut silent = Vec::new();
    for wide in [0.3, 1.0] {
        let truth = slit_plate(wide);
        for form in [Form::Ou, Form::Drift, Form::Tremor] {
            for level in [Level::Ordinary, Level::Shaky] {
                for seed in 0..12 {
                    let name = format!("slit of {wide}, {} {}", form.name(), level.name());
                    let mut rng = Rng::named(seed, &name);
                    let far = silently_off(&truth, stroke(form, level), &mut rng);
                    if let Some(far) = far.filter(|f| *f > 12.0) {
                        silent.push(format!("{name} {seed}: {far:.1} mm off"));
                    }
                }
            }
        }
    }
    assert_few(&silent, 0);
}

/// Of outlines with edges so many or so narrow that they pass for the hand's own error, by a hand that nobody named.
#[test]
fn what_is_narrow_is_read_or_doubted() {
    let mut silent = Vec::new();
    for level in Level::ALL {
        // What a hand of that level misses by, four times, and what it cuts of corners; twice what is called gross.
        let bound = 2.0 * (4.0 * level.wander() + 2.0 * level.corner_miss() + 1.0);
        for seed in 0..40 {
            let name = format!("narrow {}", level.name());
            let mut rng = Rng::named(seed, &name);
            let truth = Kind::Narrow.draw(&mut rng);
            let far = silently_off(&truth, stroke(Form::Ou, level), &mut rng);
            if let Some(far) = far.filter(|f| *f > bound) {
                silent.push(format!("{name} {seed}: {far:.1} mm off"));
            }
        }
    }
    assert_few(&silent, 0);
}
