//! A thousand points of any shape: how long a person waits for the outline, and for a correction of it.
//!
//! Every family of the list and every kind from no list is traced by the ordinary hand. Each trace is read and then
//! corrected, five times by turns; the least of each counts. The table gives medians and the slowest.

use trued::hint::{Hint, Says};
use trued::{Path, Reader, Settings, Trace, true_up};
use trued_tests::anyshape::Kind;
use trued_tests::hand::{Extra, Form, Hand, Input, Level, trace_of};
use trued_tests::pace::{Timed, shown, take_turns};
use trued_tests::rng::Rng;
use trued_tests::shapes::{Case, FAMILIES};

/// Points of a trace.
const POINTS: f64 = 1000.0;
/// Traces of each kind from no list.
const EACH: u64 = 6;

pub fn table() {
    let mut listed = Rng::named(1, "speed of families");
    let families: Vec<Path> = FAMILIES
        .iter()
        .map(|f| Case::draw(f, &mut listed).path)
        .collect();
    println!("\n### 1,000 points of any shape by the ordinary hand, said to be traced\n");
    println!("| median | slowest | a correction, median | slowest | |\n|---:|---:|---:|---:|---|");
    row("34 families", &families);
    for kind in Kind::ALL {
        let mut rng = Rng::named(1, kind.name());
        let paths: Vec<Path> = (0..EACH).map(|_| kind.draw(&mut rng)).collect();
        row(kind.name(), &paths);
    }
}

fn row(name: &str, paths: &[Path]) {
    let all: Vec<(f64, f64)> = paths.iter().filter_map(timed).collect();
    let mut first: Vec<f64> = all.iter().map(|t| t.0).collect();
    let mut again: Vec<f64> = all.iter().map(|t| t.1).collect();
    first.sort_by(f64::total_cmp);
    again.sort_by(f64::total_cmp);
    let told = |of: &[f64]| {
        let median = of.get(of.len() / 2).copied().unwrap_or(f64::NAN);
        let slowest = of.last().copied().unwrap_or(f64::NAN);
        format!("{} | {}", shown(median), shown(slowest))
    };
    println!("| {} | {} | {name} |", told(&first), told(&again));
}

/// Seconds of a reading and of a correction of it; nothing where the trace is refused.
fn timed(path: &Path) -> Option<(f64, f64)> {
    let hand = Hand {
        level: Level::Ordinary,
        form: Form::Ou,
        input: Input::Stroke,
    };
    let length: f64 = path.edges().iter().map(trued::Edge::length).sum();
    let extra = Extra {
        even: Some(length / POINTS),
        ..Extra::default()
    };
    let trace = trace_of(path, hand, &extra, &mut Rng::named(1, "speed"));
    let settings = Settings {
        hand: trued::Hand::Traced,
        ..Settings::default()
    };
    let hints = [a_size(&trace, &settings)?];
    let mut cases = [
        Timed::new("reading", || true_up(&trace, &settings, &[])),
        Timed::new("correction", {
            let mut reader = Reader::default();
            let (trace, settings) = (&trace, &settings);
            reader.true_up(trace, settings, &[]).ok()?;
            move || reader.true_up(trace, settings, &hints)
        }),
    ];
    take_turns(&mut cases, f64::INFINITY, 5);
    let [reading, correction] = &cases;
    Some((reading.least(), correction.least()))
}

/// A size of the outline said anew, a little larger; of an outline without one, of its first edge.
fn a_size(trace: &Trace, settings: &Settings) -> Option<Hint> {
    let trued = true_up(trace, settings, &[]).ok()?;
    let size = trued.report.sizes.first();
    let at = trued
        .outline
        .loops
        .first()?
        .path
        .edges()
        .first()?
        .point_at(0.5);
    let (at, value) = size.map_or((at, 50.0), |s| (s.at, 1.01 * s.value));
    Some(Hint {
        at,
        says: Says::Size(value),
    })
}
