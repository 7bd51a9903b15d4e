//! The axes: what grows, from where to where.

use crate::{Axis, Sample, TOO_LONG};
use core::hint::black_box;
use std::path::{Path as FilePath, PathBuf};
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};
use trued::cut::{CutSettings, plan};
use trued::geom::Moments;
use trued::trace::clean;
use trued::{Point, Settings, Trace, Vec2, true_up};
use trued_tests::pace::{plates, rounded_rectangle, shape, to_csv, toothed, wandering};

fn read(trace: &Trace) {
    black_box(true_up(trace, &Settings::default(), &[])).ok();
}

fn tidy(trace: &Trace) {
    black_box(clean(trace, &Settings::default())).ok();
}

/// Points of one stroke round one outline.
pub fn points() -> Vec<Axis> {
    let sizes = [
        1_000, 3_000, 10_000, 30_000, 100_000, 300_000, 1_000_000, 3_000_000, 10_000_000,
    ];
    let ready = |n| Trace::from_strokes([wandering(&rounded_rectangle(), n, 1)]);
    // By a slower digitiser on an ever larger outline: nothing is averaged away.
    let sparse = |n: usize| {
        let around = 0.3 * n as f64;
        let path = shape("rectangle", &[0.3 * around, 0.2 * around, 0.0, 0.0, 0.1]);
        Trace::from_strokes([wandering(&path, n, 1)])
    };
    let sums = |trace: &Trace| {
        let points = trace.strokes.first().map_or(&[][..], |s| &s.points);
        let origin = points.first().copied().unwrap_or_default();
        black_box(Moments::of(points, origin));
    };
    vec![
        Axis::measure("points", "the moments alone", 10_000, &sizes, ready, sums),
        Axis::measure("points", "cleaning", 10_000, &sizes, ready, tidy),
        Axis::measure(
            "points",
            "cleaning, 0.3 mm apart",
            1_000,
            sizes.get(..7).unwrap_or(&sizes),
            sparse,
            tidy,
        ),
        Axis::measure("points", "trace to outline", 10_000, &sizes, ready, read),
    ]
}

/// Edges of one outline, four points to the mm.
pub fn edges() -> Vec<Axis> {
    let ready = |edges| {
        let path = toothed(edges);
        let length: f64 = path.edges().iter().map(trued::Edge::length).sum();
        Trace::from_strokes([wandering(&path, (4.0 * length) as usize, 1)])
    };
    // An outline that is not read whole costs something else: how many edges came out is told.
    let told = core::cell::RefCell::new(Vec::new());
    let read = |(edges, trace): &(usize, Trace)| {
        let trued = black_box(true_up(trace, &Settings::default(), &[]));
        let counts: Vec<usize> = trued.map_or_else(
            |_| Vec::new(),
            |t| {
                t.outline
                    .loops
                    .iter()
                    .map(|l| l.path.edges().len())
                    .collect()
            },
        );
        told.borrow_mut().push((*edges, counts));
    };
    let mut axis = Axis::measure(
        "edges",
        "one outline",
        4,
        &[4, 12, 40, 120, 400],
        |edges| (edges, ready(edges)),
        read,
    );
    told.borrow_mut().dedup();
    for (edges, counts) in told.borrow().iter() {
        if counts != &[*edges] {
            println!("| · of {edges} edges, read as {counts:?} | | | |");
        }
        // What was refused took no time to speak of: it says nothing of growth.
        if counts.is_empty() {
            println!("| · {edges} edges are left out of the fit and of the plot | | | |");
            axis.samples.retain(|s| s.size != *edges);
        }
    }
    vec![axis]
}

/// Strokes that make up one rectangle, 6 mm of path and 13 points each, 0.5 mm between them.
pub fn strokes() -> Vec<Axis> {
    const STROKE: f64 = 6.0;
    const SPACING: f64 = 0.5;
    let ready = |strokes: usize| {
        let around = (STROKE * strokes as f64).max(300.0);
        let path = shape("rectangle", &[0.3 * around, 0.2 * around, 0.0, 0.0, 0.1]);
        let points = wandering(&path, (around / SPACING) as usize, 1);
        let each = points.len().div_ceil(strokes).max(1);
        Trace::from_strokes(points.chunks(each).map(<[Point]>::to_vec))
    };
    let sizes = [1, 10, 100, 1_000, 10_000];
    vec![
        Axis::measure(
            "strokes",
            "cleaning of one outline",
            10,
            &sizes,
            ready,
            tidy,
        ),
        Axis::measure("strokes", "one outline", 10, &sizes, ready, read),
    ]
}

/// Parts: as many blanks in one trace, and the plan of as many plates with two holes each.
pub fn parts() -> Vec<Axis> {
    let blanks = |parts: usize| {
        let columns = (parts as f64).sqrt().ceil() as usize;
        let stroke = |k: usize| {
            let to = Vec2::new(100.0 * (k % columns) as f64, 80.0 * (k / columns) as f64);
            let blank = shape("rectangle", &[76.0, 50.0, to.x, to.y, 0.1]);
            wandering(&blank, 500, k as u64)
        };
        Trace::from_strokes((0..parts).map(stroke))
    };
    let sizes = [1, 10, 100, 1_000];
    vec![
        Axis::measure("parts", "blanks in one trace", 10, &sizes, blanks, read),
        Axis::measure("parts", "plan", 10, &sizes, plates, |outline| {
            black_box(plan(outline, &CutSettings::new(1.5, 2400.0, 0.6))).ok();
        }),
    ]
}

/// Files of 200 points, by the program. Its memory is asked of the system while it runs.
pub fn files() -> Vec<Axis> {
    let root = FilePath::new(env!("CARGO_MANIFEST_DIR")).join("..");
    let target =
        std::env::var_os("CARGO_TARGET_DIR").map_or_else(|| root.join("target"), PathBuf::from);
    let folder = target.join("speed");
    let (traces, out) = (folder.join("small"), folder.join("out"));
    let mut axis = Axis {
        what: "files",
        name: "the program",
        fit_from: 10,
        samples: Vec::new(),
    };
    for path in [&traces, &out] {
        if let Err(e) = std::fs::create_dir_all(path) {
            eprintln!("growth: {}: {e}", path.display());
            return vec![];
        }
    }
    for size in [1, 10, 100, 1_000, 10_000] {
        let files: Vec<PathBuf> = (0..size)
            .map(|i| traces.join(format!("{i:05}.csv")))
            .collect();
        for (i, file) in files.iter().enumerate().filter(|(_, f)| !f.exists()) {
            let (w, h) = (40.0 + (i % 50) as f64, 30.0 + (i % 20) as f64);
            let path = shape("rectangle", &[w, h, 0.0, 0.0, 0.01 * (i % 100) as f64]);
            let text = to_csv(&wandering(&path, 200, i as u64));
            if let Err(e) = std::fs::write(file, text) {
                eprintln!("growth: {}: {e}", file.display());
                return vec![];
            }
        }
        match run(&target.join("release").join("trued"), &files, &out) {
            Ok((seconds, bytes)) => {
                axis.push(Sample {
                    size,
                    seconds,
                    bytes,
                });
                if seconds > TOO_LONG {
                    break;
                }
            }
            Err(e) => {
                eprintln!(
                    "growth: the program: {e} (cargo build --release -p trued --features cli)"
                );
                return vec![];
            }
        }
    }
    vec![axis]
}

fn run(
    program: &FilePath,
    files: &[PathBuf],
    out: &FilePath,
) -> std::io::Result<(f64, Option<usize>)> {
    let start = Instant::now();
    let mut child = Command::new(program)
        .arg("outline")
        .args(files)
        .args(["--quiet", "--format", "svg", "--out-dir"])
        .arg(out)
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()?;
    let status = format!("/proc/{}/status", child.id());
    let mut bytes = None;
    while child.try_wait()?.is_none() {
        bytes = high_water(&status).or(bytes);
        std::thread::sleep(Duration::from_micros(500));
    }
    Ok((start.elapsed().as_secs_f64(), bytes))
}

/// The most memory a process has held, where the system tells.
fn high_water(status: &str) -> Option<usize> {
    let text = std::fs::read_to_string(status).ok()?;
    let line = text.lines().find(|l| l.starts_with("VmHWM:"))?;
    let kilobytes: usize = line.split_ascii_whitespace().nth(1)?.parse().ok()?;
    Some(1024 * kilobytes)
}
