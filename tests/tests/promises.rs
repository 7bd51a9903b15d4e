//! Every trace gives an outline that keeps all promises, or a sentence; the same one every time.

use rayon::prelude::*;
use trued::{Settings, Trace, TraceKind, Trued, true_up};
use trued_tests::hand::{self, Form, Hand, Input, Level};
use trued_tests::rng::Rng;
use trued_tests::shapes::{Case, FAMILIES};
use trued_tests::{assert_few, invariants, nasty};

fn check(
    trace: &Trace,
    settings: &Settings,
    promise: fn(&Trued) -> Result<(), String>,
) -> Result<(), String> {
    match true_up(trace, settings, &[]) {
        Ok(trued) => promise(&trued),
        Err(refusal) if refusal.to_string().trim().is_empty() => Err("an empty refusal".into()),
        Err(_) => Ok(()),
    }
}

#[test]
fn nasty_traces_give_whole_outlines_or_sentences() {
    let failures = nasty_failures(|trued| invariants::whole(&trued.outline));
    assert_few(&failures, 0);
}

#[test]
fn nasty_traces_give_sound_outlines_or_sentences() {
    assert_few(&nasty_failures(invariants::check), 0);
}

fn nasty_failures(promise: fn(&Trued) -> Result<(), String>) -> Vec<String> {
    (0..1500u64)
        .into_par_iter()
        .filter_map(|seed| {
            let mut rng = Rng::new(seed);
            let trace = nasty::trace(&mut rng);
            let kinds = [
                TraceKind::Auto,
                TraceKind::Sampled,
                TraceKind::Touched,
                TraceKind::Cloud,
            ];
            let settings = Settings {
                kind: kinds[if seed % 3 == 0 { rng.below(4) } else { 0 }],
                whole: rng.chance(0.2).then_some(1.0),
                ..Settings::default()
            };
            let got = check(&trace, &settings, promise);
            got.err().map(|e| format!("seed {seed}: {e}"))
        })
        .collect()
}

#[test]
fn traces_of_known_shapes_give_sound_outlines() {
    let failures: Vec<String> = FAMILIES
        .par_iter()
        .flat_map_iter(|family| {
            let mut rng = Rng::named(9, family.name);
            let mut failures = Vec::new();
            for level in Level::ALL {
                for input in Input::ALL {
                    let form = Form::ALL[rng.below(4)];
                    let hand = Hand { level, form, input };
                    let case = Case::draw(family, &mut rng);
                    let trace = hand::trace(&case, hand, &mut rng);
                    if let Err(e) = check(&trace, &Settings::default(), invariants::check) {
                        failures.push(format!("{} {hand:?}: {e}", family.name));
                    }
                }
            }
            failures
        })
        .collect();
    assert_few(&failures, 0);
}

#[test]
fn the_same_trace_gives_the_same_bits() {
    for family in FAMILIES.iter().step_by(3) {
        let mut rng = Rng::named(3, family.name);
        let case = Case::draw(family, &mut rng);
        let hand = Hand {
            level: Level::Ordinary,
            form: Form::Ou,
            input: Input::Stroke,
        };
        let trace = hand::trace(&case, hand, &mut rng);
        let read = || true_up(&trace, &Settings::default(), &[]);
        assert_eq!(read(), read(), "{}", family.name);
    }
}

/// A find of the fuzzer: stations so fine that the wander's scale is nothing, and the ladder of scales had no end.
#[test]
fn the_least_stations_come_to_an_end() {
    let corners = [
        (0.0, 0.0),
        (60.0, 0.0),
        (60.0, 40.0),
        (0.0, 40.0),
        (0.0, 0.0),
    ];
    let line = corners.map(|(x, y)| trued::Point::new(x, y)).to_vec();
    for station in [1e-300, 1e-160, 1e-12, 1e-3] {
        let settings = Settings {
            station,
            ..Settings::default()
        };
        check(
            &Trace::from_strokes([line.clone()]),
            &settings,
            invariants::check,
        )
        .unwrap_or_else(|e| panic!("{station}: {e}"));
    }
}
