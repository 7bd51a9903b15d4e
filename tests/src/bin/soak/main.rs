//! Sends random traces through every stage, and broken files through every reader.
//!
//! ```text
//! soak [--traces N] [--files N] [--seed S] [--most COUNT]
//! soak --show KIND SEED        the broken file of a seed; of the kind `trace` the trace, as CSV
//! ```
//!
//! A trace must give a sound outline or a sentence; the outline must be written and read back the
//! same within 1e-6 mm as JSON, SVG and DXF, and become a plan or a sentence; the plan is written in
//! every form, and the machine program, read by a reader of the standard, does what the plan says to
//! half its last digit ([`traces`]). A file of any kind whose bytes were flipped, cut, or glued must
//! give what it is read for or a sentence, within ten times its own memory and 64 MB ([`files`]);
//! `--files` of each kind are tried. None may panic, none may take more than five seconds of the
//! processor; a watchdog names the one that hangs. Status 1 when anything panicked, or when more traces failed
//! than `--most` (none, when it is not given). The slowest and the largest are named.

use rayon::prelude::*;
use std::collections::BTreeMap;
use std::io::Write as _;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::Mutex;
use std::time::{Duration, Instant};
use trued::Refusal;
use trued_tests::rng::Rng;

mod files;
mod memory;
mod traces;

#[global_allocator]
static MEMORY: memory::Counting = memory::Counting;

/// No input may keep the processor longer: room for a machine three times slower than the one where the slowest of
/// 1,500 traces took 1.2 s, and still far below what a cost that grows out of bounds takes.
const LIMIT: Duration = Duration::from_secs(5);
/// What takes this long will not end.
const HANGS: Duration = Duration::from_secs(60);
/// Memory that every input may take, and how many times its own size besides.
const ROOM: usize = 64 << 20;
const TIMES: usize = 10;

/// What is being worked on now, and since when.
static RUNNING: Mutex<BTreeMap<String, Instant>> = Mutex::new(BTreeMap::new());

fn main() {
    let (mut traces, mut files, mut seed, mut most) = (1000u64, 250u64, 1u64, 0u64);
    let words: Vec<String> = std::env::args().skip(1).collect();
    if let [show, kind, seed] = words.as_slice()
        && (show.as_str(), kind.as_str()) == ("--show", "trace")
        && let Ok(seed) = seed.parse()
    {
        let (trace, settings) = traces::made(&mut Rng::named(seed, kind));
        let whole = format!("whole: {:?}", settings.whole);
        print!("{}", trued::format::csv::write(&trace, &[&whole], &[]));
        return;
    }
    if let [show, kind, seed] = words.as_slice()
        && show == "--show"
        && files::KINDS.contains(&kind.as_str())
        && let Ok(seed) = seed.parse()
    {
        let mut rng = Rng::named(seed, &format!("{kind} file"));
        let bytes = files::made(&mut rng, kind, &files::sources());
        let _ = std::io::stdout().write_all(&bytes);
        return;
    }
    for pair in words.chunks(2) {
        let number = pair.get(1).and_then(|w| w.parse().ok());
        match (pair[0].as_str(), number) {
            ("--traces", Some(n)) => traces = n,
            ("--files", Some(n)) => files = n,
            ("--seed", Some(n)) => seed = n,
            ("--most", Some(n)) => most = n,
            _ => {
                eprintln!("usage: soak [--traces N] [--files N] [--seed S] [--most COUNT]");
                std::process::exit(2);
            }
        }
    }
    std::thread::spawn(watch);
    std::panic::set_hook(Box::new(|_| {}));
    let mut bad = all("trace", seed, traces, traces::one).too_many(most);
    let sources = files::sources();
    for kind in files::KINDS {
        let one = |rng: &mut Rng| files::one(rng, kind, &sources);
        bad |= all(&format!("{kind} file"), seed, files, one).too_many(0);
    }
    std::process::exit(i32::from(bad));
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

/// How long this thread has really run, where the system tells (Linux): on a machine that does other
/// work besides, the clock on the wall says little.
fn busy_time() -> Option<Duration> {
    let text = std::fs::read_to_string("/proc/thread-self/schedstat").ok()?;
    let nanos = text.split(' ').next()?.parse().ok()?;
    Some(Duration::from_nanos(nanos))
}

/// What one input came to.
pub struct Done {
    /// There was what it is read for, and not a sentence.
    pub read: bool,
    /// Bytes of the input; 0 where it is no file.
    pub size: usize,
}

/// A refusal says something.
pub fn sentence(refusal: &Refusal) -> Result<bool, String> {
    let said = refusal.to_string();
    if said.trim().is_empty() || said.contains('\n') {
        return Err(format!("no sentence: {said:?}"));
    }
    Ok(false)
}

/// What a run came to.
struct Tally {
    failed: u64,
    panicked: u64,
}

impl Tally {
    fn too_many(&self, most: u64) -> bool {
        self.panicked > 0 || self.failed > most
    }
}

struct One {
    seed: u64,
    got: Result<Done, String>,
    took: Duration,
    held: usize,
}

/// How far a long run is, is told every so many.
const TOLD: u64 = 4096 * 12;

/// Runs one job for each seed; prints and counts what failed.
fn all<F>(what: &str, first: u64, count: u64, job: F) -> Tally
where
    F: Fn(&mut Rng) -> Result<Done, String> + Sync,
{
    let began = Instant::now();
    let mut tally = Tally {
        failed: 0,
        panicked: 0,
    };
    let (mut refused, mut slowest, mut largest) = (0, (Duration::ZERO, 0), (0, 0, 0));
    // In pieces, so that a long run holds no list of all of them and can say how far it is.
    for from in (first..first + count).step_by(4096) {
        let so_far = from - first;
        if so_far > 0 && so_far.is_multiple_of(TOLD) {
            let seconds = began.elapsed().as_secs_f64();
            eprintln!(
                "{so_far} {what}s in {seconds:.0} s, {} failed",
                tally.failed
            );
        }
        let to = (from + 4096).min(first + count);
        let ran: Vec<One> = (from..to)
            .into_par_iter()
            .map(|seed| one(what, seed, &job))
            .collect();
        for r in ran {
            if r.took > slowest.0 {
                slowest = (r.took, r.seed);
            }
            match r.got {
                Err(problem) => {
                    tally.failed += 1;
                    tally.panicked += u64::from(problem == "PANIC");
                    println!("{what} {}: {problem}", r.seed);
                }
                Ok(done) => {
                    refused += u64::from(!done.read);
                    if r.held > largest.0 {
                        largest = (r.held, r.seed, done.size);
                    }
                }
            }
        }
    }
    let took = began.elapsed().as_secs_f64();
    println!(
        "{count} {what}s from seed {first} in {took:.0} s: {refused} refused, {} failed, {} panicked; longest {:.2?} \
         (seed {}); most memory {:.1} MB (seed {}, {} bytes)",
        tally.failed,
        tally.panicked,
        slowest.0,
        slowest.1,
        largest.0 as f64 / f64::from(1 << 20),
        largest.1,
        largest.2
    );
    tally
}

fn one<F>(what: &str, seed: u64, job: &F) -> One
where
    F: Fn(&mut Rng) -> Result<Done, String>,
{
    let name = format!("{what} {seed}");
    let start = Instant::now();
    let lock = || RUNNING.lock().unwrap_or_else(|e| e.into_inner());
    lock().insert(name.clone(), start);
    let busy = busy_time();
    let mut rng = Rng::named(seed, what);
    let (got, held) = memory::measured(|| catch_unwind(AssertUnwindSafe(|| job(&mut rng))));
    lock().remove(&name);
    let took = match (busy, busy_time()) {
        (Some(before), Some(after)) => after.saturating_sub(before),
        _ => start.elapsed(),
    };
    let got = got.unwrap_or_else(|_| Err("PANIC".into()));
    let got = match got {
        Ok(_) if took > LIMIT => Err(format!("took {took:.1?}")),
        Ok(done) if held > ROOM + TIMES * done.size => {
            Err(format!("held {held} bytes for {} of input", done.size))
        }
        got => got,
    };
    One {
        seed,
        got,
        took,
        held,
    }
}
