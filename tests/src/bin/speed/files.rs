//! The whole program: a file of a million rows beside parsing it alone, and many small files on
//! all cores beside as many separate processes as there are cores.
//!
//! The program is built first, by the same cargo. Files lie under `target/speed`.

use super::print;
use std::path::{Path as FilePath, PathBuf};
use std::process::{Child, Command, Stdio};
use trued::format::{Units, read};
use trued_tests::pace::{Timed, rounded_rectangle, shape, take_turns, to_csv, wandering};

pub fn table(files: usize) {
    let root = FilePath::new(env!("CARGO_MANIFEST_DIR")).join("..");
    let target =
        std::env::var_os("CARGO_TARGET_DIR").map_or_else(|| root.join("target"), PathBuf::from);
    let folder = target.join("speed");
    let program = target.join("release").join("trued");
    if let Err(e) = built(&root).and_then(|()| std::fs::create_dir_all(&folder)) {
        println!("the program could not be built: {e}");
        return;
    }
    let done = rows(&program, &folder).and_then(|()| small_files(files, &program, &folder));
    if let Err(e) = done {
        println!("{}: {e}", folder.display());
    }
}

fn built(root: &FilePath) -> std::io::Result<()> {
    let status = Command::new(std::env::var_os("CARGO").unwrap_or_else(|| "cargo".into()))
        .current_dir(root)
        .args(["build", "--quiet", "--release", "--locked", "-p", "trued"])
        .args(["--features", "cli", "--bin", "trued"])
        .status()?;
    if status.success() {
        return Ok(());
    }
    Err(std::io::Error::other("cargo failed"))
}

fn rows(program: &FilePath, folder: &FilePath) -> std::io::Result<()> {
    let file = folder.join("million.csv");
    let svg = folder.join("million.svg");
    let text = to_csv(&wandering(&rounded_rectangle(), 1_000_000, 1));
    std::fs::write(&file, &text)?;
    let mut cases = [
        Timed::new("the csv crate alone: its records as numbers", || {
            parsed(&file)
        }),
        Timed::new("**the whole program, CSV to SVG**", || {
            run(program, &[&file], &["-o".as_ref(), svg.as_path()])
        }),
        Timed::new("· reading the file into a trace", || {
            std::fs::read(&file).map(|b| read("million.csv", &b, Units::Mm))
        }),
    ];
    take_turns(&mut cases, 3.0, 15);
    print("A CSV file of a million rows to an SVG file", &cases);
    Ok(())
}

/// The sum of all numbers of a file, by the csv crate and the standard library.
fn parsed(file: &FilePath) -> Option<f64> {
    let mut reader = csv::ReaderBuilder::new()
        .comment(Some(b'#'))
        .from_path(file)
        .ok()?;
    let mut record = csv::StringRecord::new();
    let mut points: Vec<(f64, f64)> = Vec::new();
    while reader.read_record(&mut record).ok()? {
        let mut fields = record.iter().map(str::parse::<f64>);
        points.push((fields.next()?.ok()?, fields.next()?.ok()?));
    }
    Some(points.iter().map(|p| p.0 + p.1).sum())
}

fn small_files(count: usize, program: &FilePath, folder: &FilePath) -> std::io::Result<()> {
    let (traces, out) = (folder.join("small"), folder.join("out"));
    std::fs::create_dir_all(&traces)?;
    std::fs::create_dir_all(&out)?;
    let mut files = Vec::with_capacity(count);
    for i in 0..count {
        let (w, h) = (40.0 + (i % 50) as f64, 30.0 + (i % 20) as f64);
        let path = shape("rectangle", &[w, h, 0.0, 0.0, 0.01 * (i % 100) as f64]);
        let file = traces.join(format!("{i:05}.csv"));
        std::fs::write(&file, to_csv(&wandering(&path, 200, i as u64)))?;
        files.push(file);
    }
    let cores = std::thread::available_parallelism().map_or(1, usize::from);
    let all: Vec<&FilePath> = files.iter().map(PathBuf::as_path).collect();
    let flags: [&FilePath; 5] = [
        "--out-dir".as_ref(),
        &out,
        "--format".as_ref(),
        "svg".as_ref(),
        "--quiet".as_ref(),
    ];
    let mut cases = [
        Timed::new(
            &format!("{cores} processes of one thread, a share of the files each"),
            || {
                let share = all.len().div_ceil(cores);
                let mut running: Vec<Child> = all
                    .chunks(share)
                    .filter_map(|files| start(program, files, &flags, Some(1)).ok())
                    .collect();
                running.iter_mut().all(|c| c.wait().is_ok())
            },
        ),
        Timed::new("**one process**", || run(program, &all, &flags)),
        Timed::new("one process of one thread", || {
            start(program, &all, &flags, Some(1)).and_then(|mut c| c.wait())
        }),
    ];
    take_turns(&mut cases, 1.0, 3);
    print(
        &format!("{count} files of 200 points on {cores} cores"),
        &cases,
    );
    Ok(())
}

fn start(
    program: &FilePath,
    files: &[&FilePath],
    flags: &[&FilePath],
    threads: Option<usize>,
) -> std::io::Result<Child> {
    let mut command = Command::new(program);
    command.arg("outline").args(files).args(flags);
    if let Some(n) = threads {
        command.env("RAYON_NUM_THREADS", n.to_string());
    }
    command.stdout(Stdio::null()).stderr(Stdio::null()).spawn()
}

fn run(program: &FilePath, files: &[&FilePath], flags: &[&FilePath]) -> bool {
    start(program, files, flags, None)
        .and_then(|mut c| c.wait())
        .is_ok_and(|status| status.success())
}
