//! A batch killed at a random moment leaves every output file absent, old or whole.
//!
//! `KILLS=200 cargo test --release -p trued --all-features --test killed -- --nocapture` is the long
//! run; without the number there are 20. What a killed run can leave besides is the passing file it
//! was writing: hidden (`.trued-….part`), and never taken for an outline.
#![cfg(unix)]

use std::fmt::Write as _;
use std::fs;
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

const INPUTS: usize = 24;
const OLD: &str = "what was there before\n";

/// A drawing of many circles, so that a file takes a moment to write.
fn drawing(number: usize) -> String {
    let mut text = String::from(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"5000mm\" height=\"5000mm\" viewBox=\"0 0 5000 5000\">\n",
    );
    for i in 0..600 {
        let (x, y) = (10 + 20 * (i % 25), 10 + 20 * (i / 25));
        let r = 3.0 + 0.01 * number as f64;
        let _ = writeln!(text, "<circle cx=\"{x}\" cy=\"{y}\" r=\"{r}\"/>");
    }
    text + "</svg>\n"
}

fn batch(folder: &Path, out: &str) -> Child {
    Command::new(env!("CARGO_BIN_EXE_trued"))
        .arg("outline")
        .args((0..INPUTS).map(|i| format!("{i}.svg")))
        .args(["--out-dir", out, "--format", "dxf", "--quiet"])
        .current_dir(folder)
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .expect("the program starts")
}

/// SplitMix64 (Steele, Lea, Flood 2014), for moments that are the same on every run.
fn share(state: &mut u64) -> f64 {
    *state = state.wrapping_add(0x9E37_79B9_7F4A_7C15);
    let mut z = *state;
    z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
    ((z ^ (z >> 31)) >> 11) as f64 / (1u64 << 53) as f64
}

#[test]
fn a_killed_batch_leaves_files_absent_old_or_whole() {
    let kills: usize = std::env::var("KILLS")
        .ok()
        .and_then(|n| n.parse().ok())
        .unwrap_or(20);
    let folder = tempfile::tempdir().expect("a folder for the test");
    let at = |name: &str| folder.path().join(name);
    for i in 0..INPUTS {
        fs::write(at(&format!("{i}.svg")), drawing(i)).expect("an input");
    }
    fs::create_dir(at("whole")).expect("a folder");
    let began = Instant::now();
    let ended = batch(folder.path(), "whole")
        .wait()
        .expect("the program ends");
    assert!(ended.success());
    let mut takes = began.elapsed();
    let whole: Vec<String> = (0..INPUTS)
        .map(|i| fs::read_to_string(at(&format!("whole/{i}.dxf"))).expect("written"))
        .collect();

    let mut state = 7;
    let (mut running, mut absent, mut old, mut done, mut passing) = (0, 0, 0, 0, 0);
    for kill in 0..kills {
        let out = at("out");
        fs::create_dir(&out).expect("a folder");
        for i in (0..INPUTS).step_by(2) {
            fs::write(out.join(format!("{i}.dxf")), OLD).expect("an old file");
        }
        let mut child = batch(folder.path(), "out");
        let moment = takes
            .mul_f64(1.05 * share(&mut state))
            .max(Duration::from_millis(1));
        let started = Instant::now();
        // It may take less than it did undisturbed, when the machine has less else to do now.
        while started.elapsed() < moment {
            if child.try_wait().expect("its state").is_some() {
                takes = takes.min(started.elapsed());
                break;
            }
            std::thread::sleep(Duration::from_millis(1));
        }
        running += usize::from(child.try_wait().expect("its state").is_none());
        child.kill().expect("killed");
        child.wait().expect("gone");
        for (i, whole) in whole.iter().enumerate() {
            let file = out.join(format!("{i}.dxf"));
            match fs::read_to_string(&file) {
                Ok(text) if text == OLD && i % 2 == 0 => old += 1,
                Ok(text) if text == *whole => done += 1,
                Ok(text) => panic!(
                    "kill {kill}: {i}.dxf is {} of {} bytes",
                    text.len(),
                    whole.len()
                ),
                Err(_) if i % 2 == 1 && !file.exists() => absent += 1,
                Err(e) => panic!("kill {kill}: {i}.dxf: {e}"),
            }
        }
        for entry in fs::read_dir(&out).expect("the folder") {
            let name = entry.expect("an entry").file_name();
            let name = name.to_string_lossy();
            let hidden = name.starts_with(".trued-") && name.ends_with(".part");
            assert!(hidden || name.ends_with(".dxf"), "kill {kill} left {name}");
            passing += usize::from(hidden);
        }
        fs::remove_dir_all(&out).expect("cleared");
    }
    println!(
        "{kills} kills, {running} of them while it ran ({takes:.2?} undisturbed): {absent} files absent, {old} old, \
         {done} whole, none else; {passing} hidden passing files left"
    );
    // Otherwise the moments were no test of anything.
    assert!(2 * running >= kills && done > 0 && absent > 0 && old > 0);
}
