//! How time and memory grow: with points, edges of one outline, strokes, parts and files.
//!
//! `cargo run --release -p trued-tests --bin growth` prints the table and draws
//! `examples/pictures/growth.svg`; words after `--` choose some of the axes, and then nothing is
//! drawn. The last axis needs the program (`cargo build --release -p trued --features cli`).
//!
//! Each size is run until half a second is spent, five times at least unless a run takes seconds, and
//! the smallest time counts. Memory is what is allocated at most at once, above what was there
//! before, counted by the allocator of this program. An exponent is the slope of the straight line
//! through the logarithms from a given size on: below it the fixed cost of a reading hides the growth.

mod axes;
mod memory;
mod plot;

use std::time::Instant;
use trued_tests::pace::shown;

/// One size of an axis and what it cost.
#[derive(Clone, Copy, Debug)]
pub struct Sample {
    /// How many.
    pub size: usize,
    /// Smallest time, s.
    pub seconds: f64,
    /// Most bytes at once above what was there before; none where it was not counted.
    pub bytes: Option<usize>,
}

/// One thing that grows.
pub struct Axis {
    /// What is counted.
    pub what: &'static str,
    /// What is measured.
    pub name: &'static str,
    /// Sizes below this are left out of the fit.
    pub fit_from: usize,
    /// The samples, sizes rising.
    pub samples: Vec<Sample>,
}

/// So many runs at least, and how long a run must be that is not made again, s.
const LEAST_RUNS: usize = 5;
const LONG: f64 = 3.0;
/// No further size is tried after a run as long as this, s.
pub const TOO_LONG: f64 = 40.0;

impl Axis {
    /// Measures `run`, made ready for each size by `ready`.
    pub fn measure<I>(
        what: &'static str,
        name: &'static str,
        fit_from: usize,
        sizes: &[usize],
        ready: impl Fn(usize) -> I,
        run: impl Fn(&I),
    ) -> Self {
        let mut axis = Self {
            what,
            name,
            fit_from,
            samples: Vec::new(),
        };
        for &size in sizes {
            let input = ready(size);
            let mut seconds = f64::INFINITY;
            let (mut spent, mut runs) = (0.0, 0);
            let mut bytes = 0;
            while spent < 0.5 || (runs < LEAST_RUNS && seconds < LONG) {
                let before = memory::begin();
                let start = Instant::now();
                run(&input);
                let took = start.elapsed().as_secs_f64();
                bytes = memory::most_since(before);
                seconds = seconds.min(took);
                spent += took;
                runs += 1;
            }
            axis.push(Sample {
                size,
                seconds,
                bytes: Some(bytes),
            });
            if seconds > TOO_LONG {
                break;
            }
        }
        axis
    }

    /// Adds a sample and prints it.
    pub fn push(&mut self, s: Sample) {
        let per = s.bytes.map_or_else(String::new, |b| {
            format!(
                "{:.2} MB, {:.1} B each",
                b as f64 / 1e6,
                b as f64 / s.size as f64
            )
        });
        println!(
            "| {} | {} {} | {} | {per} |",
            self.name,
            s.size,
            self.what,
            shown(s.seconds)
        );
        self.samples.push(s);
    }

    /// The exponent of a quantity from [`Axis::fit_from`] on.
    pub fn exponent(&self, of: impl Fn(&Sample) -> Option<f64>) -> Option<f64> {
        let logs: Vec<(f64, f64)> = self
            .samples
            .iter()
            .filter(|s| s.size >= self.fit_from)
            .filter_map(|s| Some((libm::log(s.size as f64), libm::log(of(s)?.max(1e-12)))))
            .collect();
        let n = logs.len() as f64;
        let mean = |f: fn(&(f64, f64)) -> f64| logs.iter().map(f).sum::<f64>() / n;
        let (mx, my) = (mean(|l| l.0), mean(|l| l.1));
        let (mut xy, mut xx) = (0.0, 0.0);
        for (x, y) in &logs {
            xy += (x - mx) * (y - my);
            xx += (x - mx) * (x - mx);
        }
        (logs.len() > 1).then_some(xy / xx)
    }

    /// The exponent of time.
    pub fn of_time(&self) -> Option<f64> {
        self.exponent(|s| Some(s.seconds))
    }
}

/// Measures one thing, in one way or several.
type Measure = fn() -> Vec<Axis>;

fn main() {
    let asked: Vec<String> = std::env::args().skip(1).collect();
    let all: [(&str, Measure); 5] = [
        ("points", axes::points),
        ("edges", axes::edges),
        ("strokes", axes::strokes),
        ("parts", axes::parts),
        ("files", axes::files),
    ];
    println!("| what | size | least time | most memory |\n|---|---:|---:|---:|");
    let mut measured = Vec::new();
    for (name, axis) in all {
        if asked.is_empty() || asked.iter().any(|a| a == name) {
            measured.extend(axis());
        }
    }
    println!("\n| what | from | exponent of time | of memory |\n|---|---:|---:|---:|");
    for a in &measured {
        let number = |e: Option<f64>| e.map_or_else(|| "–".into(), |e| format!("{e:.2}"));
        println!(
            "| {} | {} {} | {} | {} |",
            a.name,
            a.fit_from,
            a.what,
            number(a.of_time()),
            number(a.exponent(|s| s.bytes.map(|b| b as f64)))
        );
    }
    if asked.is_empty() {
        let file = concat!(
            env!("CARGO_MANIFEST_DIR"),
            "/../examples/pictures/growth.svg"
        );
        if let Err(e) = std::fs::write(file, plot::drawn(&measured)) {
            eprintln!("growth: the plot cannot be written: {e}");
        }
    }
}
