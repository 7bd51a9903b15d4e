//! An outline that goes elsewhere than the line says so, whatever was traced.

use trued::{Chain, Path, Point, Settings, Shape, true_up};
use trued_tests::anyshape::judge;
use trued_tests::assert_few;
use trued_tests::hand::{Form, Hand, Input, Level, sampled};
use trued_tests::rng::Rng;

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
                    let hand = Hand {
                        level,
                        form,
                        input: Input::Stroke,
                    };
                    let trace = sampled(&truth, hand, &mut rng, 1);
                    let Ok(read) = true_up(&trace, &Settings::default(), &[]) else {
                        continue;
                    };
                    let off = read.outline.loops.iter();
                    let off = off.map(|l| judge::furthest(&truth, &l.path));
                    let far = off.fold(f64::INFINITY, f64::min);
                    if far > 12.0 && read.report.doubts.is_empty() {
                        silent.push(format!(
                            "{name} {seed}: {far:.1} mm off {:?}",
                            read.report
                                .notes
                                .iter()
                                .map(|n| n.text.as_str())
                                .collect::<Vec<_>>()
                        ));
                    }
                }
            }
        }
    }
    assert_few(&silent, 0);
}
