//! Prints the share of generated traces, and of recorded strokes, that come out of cleaning as they
//! should: `cargo run --release -p trued-tests --bin cleaning -- CASES SEED [FOLDER]`.

use rayon::prelude::*;
use std::path::Path as FilePath;
use trued::Settings;
use trued::trace::clean;
use trued_tests::cleaning::{Verdict, judge};
use trued_tests::hand::{Form, Hand, Input, Level, trace};
use trued_tests::recorded;
use trued_tests::rng::Rng;
use trued_tests::shapes::{Case, FAMILIES};

fn main() {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let number = |i: usize, or: u64| words.get(i).and_then(|w| w.parse().ok()).unwrap_or(or);
    let (cases, seed) = (number(0, 4), number(1, 1));
    for input in Input::ALL {
        for form in Form::ALL {
            if input == Input::Touched && form != Form::Ou {
                continue;
            }
            for level in Level::ALL {
                generated(Hand { level, form, input }, cases, seed);
            }
        }
    }
    if let Some(folder) = words.get(2) {
        drawn(FilePath::new(folder));
    }
}

fn generated(hand: Hand, cases: u64, seed: u64) {
    let jobs: Vec<(usize, u64)> = (0..FAMILIES.len())
        .flat_map(|f| (0..cases).map(move |c| (f, c)))
        .collect();
    let results: Vec<(Verdict, String)> = jobs
        .par_iter()
        .map(|&(f, c)| {
            let family = &FAMILIES[f];
            let name = format!(
                "{} {} {} {}",
                family.name,
                hand.level.name(),
                hand.form.name(),
                hand.input.name()
            );
            let mut rng = Rng::named(seed + c, &name);
            let case = Case::draw(family, &mut rng);
            let t = trace(&case, hand, &mut rng);
            let verdict = clean(&t, &Settings::default())
                .map(|r| judge(&case.path, hand.level, &r))
                .unwrap_or_default();
            (verdict, format!("{name} {}", seed + c))
        })
        .collect();
    let share = |ok: &dyn Fn(&Verdict) -> bool| {
        100.0 * results.iter().filter(|r| ok(&r.0)).count() as f64 / results.len() as f64
    };
    println!(
        "{:8} {:8} {:8} {:5} cases: clean {:6.2} %, one path {:6.2} %, closed {:6.2} %",
        hand.input.name(),
        hand.form.name(),
        hand.level.name(),
        results.len(),
        share(&|v| v.clean),
        share(&|v| v.one),
        share(&|v| v.closed),
    );
    for (v, name) in results.iter().filter(|r| !r.0.clean) {
        println!(
            "    {name}: one {} closed {} off {:.2} missed {:.2} back {:.2}",
            v.one, v.closed, v.off, v.missed, v.back
        );
    }
}

fn drawn(folder: &FilePath) {
    match recorded::folder(folder) {
        Err(problem) => println!("{problem}"),
        Ok(all) => {
            let ok = |r: &&recorded::Recorded| {
                clean(&r.trace, &Settings::default()).is_ok_and(|c| {
                    c.marks.is_empty() && matches!(c.paths.as_slice(), [p] if p.closed == r.closed)
                })
            };
            let good = all.iter().filter(ok).count();
            println!(
                "recorded strokes: {good} of {} one path, open or closed as drawn",
                all.len()
            );
            for r in all.iter().filter(|r| !ok(r)) {
                println!("    {}", r.file);
            }
        }
    }
}
