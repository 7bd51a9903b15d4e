//! Every trace gives an outline that keeps all promises, or a sentence; the same one every time.

use rayon::prelude::*;
use trued::{Settings, Trace, TraceKind, true_up};
use trued_tests::hand::{self, Form, Hand, Input, Level};
use trued_tests::rng::Rng;
use trued_tests::shapes::{Case, FAMILIES};
use trued_tests::{invariants, nasty};

fn check(trace: &Trace, settings: &Settings) -> Result<(), String> {
    match true_up(trace, settings, &[]) {
        Ok(trued) => invariants::check(&trued),
        Err(refusal) if refusal.to_string().trim().is_empty() => Err("an empty refusal".into()),
        Err(_) => Ok(()),
    }
}

fn assert_none(failures: &[String]) {
    assert!(
        failures.is_empty(),
        "{}:\n{}",
        failures.len(),
        failures.join("\n")
    );
}

#[test]
fn nasty_traces_give_sound_outlines_or_sentences() {
    let failures: Vec<String> = (0..1500u64)
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
            let got = check(&trace, &settings);
            got.err().map(|e| format!("seed {seed}: {e}"))
        })
        .collect();
    assert_none(&failures);
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
                    if let Err(e) = check(&trace, &Settings::default()) {
                        failures.push(format!("{} {hand:?}: {e}", family.name));
                    }
                }
            }
            failures
        })
        .collect();
    assert_none(&failures);
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
