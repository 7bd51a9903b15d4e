//! Traces of known truth for the comparison with a pipeline of general-purpose Python libraries
//! (`tests/outside/pipeline.py`): one of each family at 1,000 and at 100,000 points, and the demos.
//! `pipeline-cases FOLDER` writes them as CSV, and `index.json` with what was meant, what trued
//! made of it and how long it took, from the trace in memory to outline and report.

use core::hint::black_box;
use serde_json::{Value, json};
use std::path::Path as FilePath;
use std::time::Instant;
use trued::{Outline, Path, Point, Role, Settings, Trace, true_up};
use trued_tests::pace::{to_csv, wandering};
use trued_tests::rng::Rng;
use trued_tests::shapes::{Case, FAMILIES, kinds};
use trued_tests::{demos, hand};

fn main() -> Result<(), String> {
    let folder = std::env::args()
        .nth(1)
        .ok_or("pipeline-cases FOLDER: where to write")?;
    let folder = FilePath::new(&folder);
    std::fs::create_dir_all(folder).map_err(|e| e.to_string())?;
    let mut index = Vec::new();
    for family in FAMILIES {
        let case = Case::draw(family, &mut Rng::named(5, family.name));
        for points in [1_000, 100_000] {
            let name = format!("{}-{points}", family.name.replace(' ', "_"));
            let round: Vec<Point> = wandering(&case.path, points, 5);
            let text = to_csv(&round);
            let trace = Trace::from_strokes([round]);
            let group = if points == 1_000 { "1k" } else { "100k" };
            let one = took(
                folder,
                (&name, group, &text),
                core::slice::from_ref(&case.path),
                &trace,
            );
            index.push(one?);
        }
    }
    for demo in demos::all() {
        let text = hand::to_csv(&demo.trace, demo.title);
        index.push(took(
            folder,
            (demo.name, "demo", &text),
            &demo.meant,
            &demo.trace,
        )?);
    }
    let text = serde_json::to_string(&index).map_err(|e| e.to_string())?;
    std::fs::write(folder.join("index.json"), text).map_err(|e| e.to_string())
}

/// Writes a trace, reads it a few times, and says what came of it.
fn took(
    folder: &FilePath,
    (name, group, text): (&str, &str, &str),
    meant: &[Path],
    trace: &Trace,
) -> Result<Value, String> {
    let file = format!("{name}.csv");
    std::fs::write(folder.join(&file), text).map_err(|e| e.to_string())?;
    let mut seconds = f64::INFINITY;
    let mut spent = 0.0;
    while spent < 0.2 {
        let start = Instant::now();
        black_box(true_up(black_box(trace), &Settings::default(), &[])).ok();
        let took = start.elapsed().as_secs_f64();
        seconds = seconds.min(took);
        spent += took;
    }
    let outline = true_up(trace, &Settings::default(), &[])
        .map(|t| t.outline)
        .unwrap_or_default();
    let truth: Vec<String> = meant.iter().map(kinds_of).collect();
    Ok(json!({
        "file": file, "group": group, "kinds": truth,
        "seconds": seconds, "right": is_right(&truth, &outline),
    }))
}

/// Kinds of the edges in order; a circle is `O`.
fn kinds_of(path: &Path) -> String {
    match path {
        Path::Circle(_) => "O".into(),
        Path::Chain(_) => kinds(path),
    }
}

/// The same loops, each with the same kinds of edges in the same cyclic order, either way round.
fn is_right(truth: &[String], outline: &Outline) -> bool {
    let mut left: Vec<String> = truth.to_vec();
    for l in &outline.loops {
        let got = kinds_of(&l.path);
        let same = |t: &String| {
            let back: String = got.chars().rev().collect();
            t.len() == got.len() && (t.repeat(2).contains(&got) || t.repeat(2).contains(&back))
        };
        match left.iter().position(same) {
            Some(i) if l.role != Role::Open => left.swap_remove(i),
            _ => return false,
        };
    }
    left.is_empty()
}
