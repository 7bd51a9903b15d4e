//! Sends random traces through every stage, and broken files through every reader.
//!
//! ```text
//! soak [--traces N] [--files N] [--seed S] [--most PERCENT]
//! ```
//!
//! A trace must give a sound outline or a sentence; the outline must be written and read back the
//! same within 1e-6 mm as JSON, SVG and DXF, and become a plan or a sentence. A file whose bytes were
//! flipped, cut, or glued must give an outline or a sentence. None may panic, none may take more than
//! two seconds; a watchdog names the one that hangs. Status 1 when anything
//! panicked, or when more failed than `--most` percent of each (none, when it is not given).

use rayon::prelude::*;
use std::collections::BTreeMap;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::Mutex;
use std::time::{Duration, Instant};
use trued::cut::{CutSettings, plan};
use trued::format::{self, Content, Units, dxf, plan_json, rs274, svg};
use trued::outline::nesting::loops_of_drawn;
use trued::{Loop, Outline, Refusal, Settings, Trace, true_up};
use trued_tests::hand::{self, Form, Hand, Input, Level};
use trued_tests::rng::Rng;
use trued_tests::shapes::{Case, FAMILIES};
use trued_tests::{demos, invariants, nasty};

/// No input may take longer.
const LIMIT: Duration = Duration::from_secs(2);
/// What takes this long will not end.
const HANGS: Duration = Duration::from_secs(60);

/// What is being worked on now, and since when.
static RUNNING: Mutex<BTreeMap<String, Instant>> = Mutex::new(BTreeMap::new());

fn main() {
    let (mut traces, mut files, mut seed) = (1000u64, 1000u64, 1u64);
    let mut most = 0.0;
    let words: Vec<String> = std::env::args().skip(1).collect();
    for pair in words.chunks(2) {
        let number = pair.get(1).and_then(|w| w.parse().ok());
        if pair[0] == "--most"
            && let Some(percent) = number
        {
            most = percent as f64;
            continue;
        }
        match (pair[0].as_str(), number) {
            ("--traces", Some(n)) => traces = n,
            ("--files", Some(n)) => files = n,
            ("--seed", Some(n)) => seed = n,
            _ => {
                eprintln!("usage: soak [--traces N] [--files N] [--seed S] [--most PERCENT]");
                std::process::exit(2);
            }
        }
    }
    std::thread::spawn(watch);
    std::panic::set_hook(Box::new(|_| {}));
    let a = all("trace", seed, traces, one_trace).too_many(most);
    let sources = sources();
    let b = all("file", seed, files, |rng| one_file(rng, &sources)).too_many(most);
    std::process::exit(i32::from(a || b));
}

/// Ends the program when something hangs, naming it.
fn watch() {
    loop {
        std::thread::sleep(Duration::from_secs(1));
        let running = RUNNING.lock().unwrap_or_else(|e| e.into_inner());
        if let Some((name, _)) = running.iter().find(|(_, since)| since.elapsed() > HANGS) {
            println!("{name} hangs");
            std::process::exit(1);
        }
    }
}

/// What a run came to.
struct Tally {
    count: u64,
    failed: usize,
    panicked: usize,
}

impl Tally {
    fn too_many(&self, percent: f64) -> bool {
        self.panicked > 0 || self.failed as f64 > 0.01 * percent * self.count as f64
    }
}

/// Runs one job for each seed; prints and counts what failed.
fn all<F>(what: &str, first: u64, count: u64, job: F) -> Tally
where
    F: Fn(&mut Rng) -> Result<bool, String> + Sync,
{
    let began = Instant::now();
    let results: Vec<(u64, Result<bool, String>, Duration)> = (first..first + count)
        .into_par_iter()
        .map(|seed| {
            let name = format!("{what} {seed}");
            let start = Instant::now();
            let lock = || RUNNING.lock().unwrap_or_else(|e| e.into_inner());
            lock().insert(name.clone(), start);
            let mut rng = Rng::named(seed, what);
            let got = catch_unwind(AssertUnwindSafe(|| job(&mut rng)));
            lock().remove(&name);
            let took = start.elapsed();
            let got = got.unwrap_or_else(|_| Err("PANIC".into()));
            let late = took > LIMIT;
            let got = if late {
                Err(format!("took {took:.1?}"))
            } else {
                got
            };
            (seed, got, took)
        })
        .collect();
    let (mut failed, mut panicked) = (0, 0);
    let mut refused = 0;
    for (seed, got, _) in &results {
        match got {
            Err(problem) => {
                failed += 1;
                panicked += usize::from(problem == "PANIC");
                println!("{what} {seed}: {problem}");
            }
            Ok(outline) => refused += usize::from(!outline),
        }
    }
    let longest = results.iter().map(|r| r.2).max().unwrap_or_default();
    println!(
        "{count} {what}s from seed {first} in {:.0} s: {refused} refused, {failed} failed, longest {longest:.2?}",
        began.elapsed().as_secs_f64()
    );
    Tally {
        count,
        failed,
        panicked,
    }
}

/// True when there was an outline, false when there was a sentence.
fn one_trace(rng: &mut Rng) -> Result<bool, String> {
    let trace = if rng.chance(0.7) {
        nasty::trace(rng)
    } else {
        let case = Case::draw(&FAMILIES[rng.below(FAMILIES.len())], rng);
        let hand = Hand {
            level: Level::ALL[rng.below(3)],
            form: Form::ALL[rng.below(4)],
            input: Input::ALL[rng.below(4)],
        };
        hand::trace(&case, hand, rng)
    };
    let settings = Settings {
        whole: rng.chance(0.2).then_some(1.0),
        ..Settings::default()
    };
    let trued = match true_up(&trace, &settings, &[]) {
        Ok(trued) => trued,
        Err(refusal) => return sentence(&refusal),
    };
    invariants::check(&trued)?;
    let json = format::document::write(&trued.outline, &trued.report);
    match read("a.json", json.as_bytes())? {
        Some(Content::Document(d)) => same("JSON", &trued.outline.loops, &d.outline.loops)?,
        other => return Err(format!("the document came back as {other:?}")),
    }
    through(
        "SVG",
        "a.svg",
        &svg::write(&trued.outline, Units::Mm),
        &trued.outline,
    )?;
    through(
        "DXF",
        "a.dxf",
        &dxf::write(&trued.outline, Units::Mm),
        &trued.outline,
    )?;
    planned(&trued.outline)?;
    Ok(true)
}

fn sentence(refusal: &Refusal) -> Result<bool, String> {
    if refusal.to_string().trim().is_empty() {
        return Err("an empty refusal".into());
    }
    Ok(false)
}

fn read(name: &str, bytes: &[u8]) -> Result<Option<Content>, String> {
    match format::read(name, bytes, Units::Mm) {
        Ok(input) => Ok(Some(input.content)),
        Err(refusal) => sentence(&refusal).map(|_| None),
    }
}

fn through(what: &str, name: &str, text: &str, outline: &Outline) -> Result<(), String> {
    if outline.loops.is_empty() {
        return Ok(());
    }
    match read(name, text.as_bytes())? {
        Some(Content::Trace(trace)) => same(what, &outline.loops, &loops_of_drawn(&trace.drawn)),
        other => Err(format!("{what}: it came back as {other:?}")),
    }
}

/// As many loops of the same lengths and areas, whatever their order.
fn same(what: &str, a: &[Loop], b: &[Loop]) -> Result<(), String> {
    let figures = |loops: &[Loop]| {
        let mut all: Vec<(f64, f64)> = loops
            .iter()
            .map(|l| (l.path.length(), l.path.area().abs()))
            .collect();
        all.sort_by(|p, q| p.0.total_cmp(&q.0));
        all
    };
    if a.len() != b.len() {
        return Err(format!(
            "{what}: {} loops came back as {}",
            a.len(),
            b.len()
        ));
    }
    for (p, q) in figures(a).iter().zip(&figures(b)) {
        if (p.0 - q.0).abs() > 1e-6 || (p.1 - q.1).abs() > 1e-6 * p.0.max(1.0) {
            return Err(format!("{what}: {p:?} came back as {q:?}"));
        }
    }
    Ok(())
}

fn planned(outline: &Outline) -> Result<(), String> {
    let settings = CutSettings::new(1.5, 2500.0, 0.5);
    match plan(outline, &settings) {
        Ok(plan) => {
            for cut in &plan.cuts {
                if cut.moves().any(|e| !e.length().is_finite()) {
                    return Err("a plan with a move that is not finite".into());
                }
            }
            let text = rs274::write(&plan, rs274::Options::default()) + &plan_json::write(&plan);
            if text.contains("NaN") || text.contains("inf ") {
                return Err("a number that is none was written".into());
            }
            Ok(())
        }
        Err(refusal) => sentence(&refusal).map(|_| ()),
    }
}

// ---------------------------------------------------------------- files

/// A few whole files of each format to break.
fn sources() -> Vec<(&'static str, Vec<u8>)> {
    let mut all = Vec::new();
    for demo in demos::all().into_iter().step_by(3) {
        let short: Vec<_> = demo
            .trace
            .strokes
            .iter()
            .map(|s| s.points.iter().step_by(5).copied().collect())
            .collect();
        let trace = Trace::from_strokes(short);
        all.push(("a.csv", hand::to_csv(&trace, demo.title).into_bytes()));
        if let Ok(t) = true_up(&trace, &Settings::default(), &[]) {
            let json = format::document::write(&t.outline, &t.report);
            all.push(("a.json", json.into_bytes()));
            all.push(("a.svg", svg::write(&t.outline, Units::Mm).into_bytes()));
            all.push(("a.dxf", dxf::write(&t.outline, Units::Mm).into_bytes()));
        }
    }
    all
}

fn one_file(rng: &mut Rng, sources: &[(&'static str, Vec<u8>)]) -> Result<bool, String> {
    let (name, whole) = &sources[rng.below(sources.len())];
    let mut bytes = whole.clone();
    for _ in 0..1 + rng.below(2) {
        broken(&mut bytes, rng, sources);
    }
    match read(name, &bytes)? {
        Some(Content::Trace(trace)) => match true_up(&trace, &Settings::default(), &[]) {
            Ok(trued) => invariants::outline(&trued.outline).map(|()| true),
            Err(refusal) => sentence(&refusal),
        },
        Some(_) => Ok(true),
        None => Ok(false),
    }
}

/// Flips a bit, cuts the end off, drops or doubles a piece, glues in a piece of another, or puts
/// a digit or a hostile number somewhere.
fn broken(bytes: &mut Vec<u8>, rng: &mut Rng, sources: &[(&'static str, Vec<u8>)]) {
    if bytes.is_empty() {
        return;
    }
    let i = rng.below(bytes.len());
    let n = (1 + rng.below(60)).min(bytes.len() - i);
    match rng.below(7) {
        0 => bytes[i] ^= 1 << rng.below(8),
        1 => bytes.truncate(i),
        2 => {
            bytes.drain(i..i + n);
        }
        3 => {
            let piece = bytes[i..i + n].to_vec();
            bytes.splice(i..i, piece);
        }
        4 => {
            let other = &sources[rng.below(sources.len())].1;
            let k = rng.below(other.len());
            let piece = other[k..(k + n).min(other.len())].to_vec();
            bytes.splice(i..i, piece);
        }
        5 => bytes[i] = b'0' + rng.below(10) as u8,
        _ => {
            let words = [
                "1e308",
                "-1e-308",
                "NaN",
                "inf",
                "99999999999999999999",
                "-",
                "\u{0}",
                "\"",
                "<",
                "\n",
            ];
            bytes.splice(i..i, words[rng.below(words.len())].bytes());
        }
    }
}
