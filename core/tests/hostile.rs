//! Files that are made to be slow: crossings, nests and strokes without end. Each is answered, or refused in one
//! sentence, within seconds and half a gigabyte, by both doors that read drawings.
#![cfg(unix)]

use std::fmt::Write as _;
use std::path::Path;
use std::process::Command;
use std::time::{Duration, Instant};

/// Long for a busy machine and a build with checks; most take a tenth of it.
const LONGEST: Duration = Duration::from_secs(20);
/// Address space, in kB, beside what the program itself maps.
const MEMORY: u32 = 700_000;

fn svg(size: f64, inside: &str) -> String {
    format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{size}mm\" height=\"{size}mm\" \
         viewBox=\"0 0 {size} {size}\">{inside}</svg>"
    )
}

fn many(n: usize, each: impl Fn(f64) -> String) -> String {
    (0..n).map(|i| each(i as f64)).collect()
}

/// A star whose every edge crosses nearly all the others.
fn star(n: usize, step: usize) -> String {
    let mut d = String::new();
    for i in 0..n {
        let (sin, cos) = libm::sincos(core::f64::consts::TAU * (i * step % n) as f64 / n as f64);
        let _ = write!(d, " {:.4} {:.4}", 500.0 + 450.0 * cos, 500.0 + 450.0 * sin);
    }
    svg(1000.0, &format!("<path d=\"M{d}z\"/>"))
}

/// Three megabytes of rosettes beside one another.
fn panel() -> String {
    let mut inside = String::new();
    let mut i = 0;
    while inside.len() < 3_000_000 {
        let (x, y) = (
            f64::from(i % 60) * 30.0 + 15.0,
            f64::from(i / 60) * 30.0 + 15.0,
        );
        i += 1;
        let _ = write!(inside, "<path d=\"M{:.3} {y:.3}", x + 12.0);
        for k in 1..=12 {
            let at = f64::from(k) * core::f64::consts::PI / 6.0;
            let (s, c) = libm::sincos(at);
            let (bs, bc) = libm::sincos(at - core::f64::consts::PI / 12.0);
            let r = if k % 2 == 0 { 12.0 } else { 7.0 };
            let _ = write!(
                inside,
                "Q{:.3} {:.3} {:.3} {:.3}",
                x + 10.0 * bc,
                y + 10.0 * bs,
                x + r * c,
                y + r * s
            );
        }
        inside.push_str("z\"/>");
    }
    svg(1800.0, &inside)
}

fn strokes_csv(n: usize) -> String {
    let mut text = String::from("x,y,stroke\n");
    for i in 0..n {
        for k in 0..5 {
            let _ = writeln!(
                text,
                "{},{},{i}",
                (i % 400) * 8 + k,
                (i / 400) * 8 + 3 * (k % 2)
            );
        }
    }
    text
}

/// What is said, when the program ran within time and memory; nothing where it did its job.
fn answer(folder: &Path, file: &str, command: &[&str]) -> Option<String> {
    let program = env!("CARGO_BIN_EXE_trued");
    let start = Instant::now();
    let run = Command::new("sh")
        .args([
            "-c",
            &format!("ulimit -v {MEMORY}; exec \"$0\" \"$@\""),
            program,
        ])
        .args(command)
        .arg(file)
        .current_dir(folder)
        .output()
        .expect("a shell");
    let took = start.elapsed();
    assert!(took < LONGEST, "{file}: {command:?} took {took:?}");
    let said = String::from_utf8_lossy(&run.stderr).into_owned();
    match run.status.code() {
        Some(0) => None,
        Some(1 | 2) => Some(said),
        other => panic!("{file}: {command:?} ended with {other:?}: {said}"),
    }
}

#[test]
fn files_made_to_be_slow_are_answered_or_refused_within_seconds_and_half_a_gigabyte() {
    let folder = tempfile::tempdir().expect("a folder");
    let (pattern, strokes) = ("that is a pattern or a fill", "more than 10000 strokes");
    let cuts = "over the limit of 5000";
    // What outline says, and what cut says; nothing where it gives an answer of its own.
    let cases: [(&str, String, &str, &str); 10] = [
        ("star.svg", star(20_001, 10_000), pattern, pattern),
        ("burr.svg", star(20_001, 7_001), pattern, pattern),
        (
            "small_star.svg",
            star(1_001, 400),
            "",
            "crosses or touches itself",
        ),
        (
            "circles.svg",
            svg(
                1e4,
                &many(20_000, |i| {
                    format!("<circle cx=\"5000\" cy=\"5000\" r=\"{}\"/>", 1.0 + 0.2 * i)
                }),
            ),
            pattern,
            pattern,
        ),
        (
            "squares.svg",
            svg(
                1e4,
                &many(20_000, |i| {
                    let (at, side) = (4999.0 - 0.2 * i, 2.0 + 0.4 * i);
                    format!("<rect x=\"{at}\" y=\"{at}\" width=\"{side}\" height=\"{side}\"/>")
                }),
            ),
            pattern,
            pattern,
        ),
        (
            "lines.svg",
            svg(
                1e3,
                &many(5_000, |i| {
                    format!("<path d=\"M0 {0}H1000M{0} 0V1000\"/>", 0.2 * i)
                }),
            ),
            pattern,
            pattern,
        ),
        (
            "over_one_another.svg",
            svg(
                1e3,
                &many(50_000, |i| {
                    format!("<path d=\"M{} 5h{}\"/>", i % 701.0, 1.0 + i % 293.0)
                }),
            ),
            "",
            "",
        ),
        (
            "strokes.svg",
            svg(
                3200.0,
                &many(100_000, |i| {
                    let (x, y) = (8.0 * (i % 400.0), 8.0 * libm::floor(i / 400.0));
                    format!("<path d=\"M{x} {y}l1 4 1-4 1 4 1-4\"/>")
                }),
            ),
            "",
            cuts,
        ),
        ("strokes.csv", strokes_csv(100_000), strokes, strokes),
        ("panel.svg", panel(), "", cuts),
    ];
    for (name, text, outline, cut) in cases {
        std::fs::write(folder.path().join(name), text).expect("written");
        let doors: [(&[&str], &str); 2] = [
            (&["outline", "-q", "-o", "out.json"], outline),
            (
                &[
                    "cut", "--kerf", "1.5", "--feed", "2400", "--pierce", "0.4", "-o", "out.ngc",
                ],
                cut,
            ),
        ];
        for (command, sentence) in doors {
            let said = answer(folder.path(), name, command);
            if !sentence.is_empty() {
                let said = said.unwrap_or_else(|| panic!("{name}: {command:?} went through"));
                assert!(said.contains(sentence), "{name}: {command:?}: {said}");
            }
        }
    }
}
