//! The bench at which the doors are tried: a folder, the program, a hand that traces, a plate that is cut.

use crate::plate::{self, Plate};
use crate::rs274;
use std::fmt::Write as _;
use std::fs;
use std::path::PathBuf;
use std::process::Command;

/// What most jobs are cut with.
pub const FIGURES: &str = "--kerf 1.5 --feed 2400 --pierce 0.4";

/// A bench: a folder with files, and the program run in it.
pub struct Bench(pub tempfile::TempDir);

impl Bench {
    pub fn new() -> Self {
        Self(tempfile::tempdir().expect("a folder"))
    }

    pub fn path(&self, name: &str) -> PathBuf {
        self.0.path().join(name)
    }

    pub fn put(&self, name: &str, text: &str) {
        fs::write(self.path(name), text).expect("a file");
    }

    pub fn has(&self, name: &str) -> bool {
        self.path(name).exists()
    }

    pub fn get(&self, name: &str) -> String {
        fs::read_to_string(self.path(name)).unwrap_or_else(|e| panic!("{name}: {e}"))
    }

    /// Status and what was said.
    pub fn run(&self, line: &str) -> (i32, String) {
        let output = Command::new(env!("CARGO_BIN_EXE_trued"))
            .args(line.split_whitespace())
            .current_dir(self.0.path())
            .output()
            .expect("the program runs");
        let said = String::from_utf8_lossy(&output.stderr).into_owned();
        (output.status.code().unwrap_or(-1), said)
    }

    pub fn good(&self, line: &str) -> String {
        let (status, said) = self.run(line);
        assert_eq!(status, 0, "trued {line}\n{said}");
        said
    }

    /// Refused for a doubt that says all of `words`; `x.ngc` is not there. Accepted, it is.
    pub fn doubted(&self, line: &str, words: &[&str]) -> String {
        let (status, said) = self.run(line);
        assert_eq!(status, 1, "trued {line}\n{said}");
        assert!(
            said.contains("doubt 1: ") && said.contains("--accept-doubts"),
            "{said}"
        );
        for word in words {
            assert!(said.contains(word), "\"{word}\" in\n{said}");
        }
        assert!(!self.has("x.ngc"), "a file was written in doubt");
        self.good(&format!("{line} --accept-doubts"));
        fs::remove_file(self.path("x.ngc")).expect("it was accepted");
        said
    }

    /// `x.ngc` cut in a plate.
    pub fn plate(&self, kerf: f64) -> Plate {
        let program = rs274::read(&self.get("x.ngc")).unwrap_or_else(|e| panic!("{e}"));
        plate::cut(&program, kerf)
    }
}

/// A document of a part of 80 x 50 with its corner at the origin, with more loops and doubts.
pub fn document(loops: &str, doubts: &str) -> String {
    let corners = [(0, 0), (80, 0), (80, 50), (0, 50), (0, 0)];
    let side = |w: &[(i32, i32)]| {
        let ((a, b), (c, d)) = (w[0], w[1]);
        format!("{{ \"line\": {{ \"from\": [{a},{b}], \"to\": [{c},{d}] }} }}")
    };
    let sides: Vec<String> = corners.windows(2).map(side).collect();
    let part = format!(
        "{{ \"closed\": true, \"role\": \"part\", \"edges\": [ {} ] }}",
        sides.join(", ")
    );
    format!(
        "{{ \"trued\": 1, \"units\": \"mm\", \"loops\": [ {part}{loops} ], \"doubts\": [ {doubts} ] }}"
    )
}

/// Strokes as a hand leaves them: a sample a mm, some 0.2 mm off, slowly.
#[derive(Default)]
pub struct Hand {
    pub rows: String,
    strokes: usize,
}

impl Hand {
    pub fn trace(units: &str) -> Self {
        Self {
            rows: format!("{units}x,y,stroke\n"),
            strokes: 0,
        }
    }

    pub fn along(mut self, corners: &[(f64, f64)], step: f64) -> Self {
        self.strokes += 1;
        let mut s: f64 = 0.0;
        for w in corners.windows(2) {
            let (dx, dy) = (w[1].0 - w[0].0, w[1].1 - w[0].1);
            let n = (libm::hypot(dx, dy) / step).ceil().max(1.0);
            for i in 0..n as usize {
                let t = i as f64 / n;
                s += step;
                let off = 0.2
                    * step
                    * (libm::sin(0.31 * s / step)
                        + 0.7 * libm::cos(0.173 * s / step + self.strokes as f64));
                let l = libm::hypot(dx, dy);
                let (x, y) = (
                    w[0].0 + t * dx - off * dy / l,
                    w[0].1 + t * dy + off * dx / l,
                );
                let _ = writeln!(self.rows, "{x:.4},{y:.4},{}", self.strokes);
            }
        }
        self
    }

    pub fn loop_of(self, corners: &[(f64, f64)]) -> Self {
        let mut all = corners.to_vec();
        all.push(corners[0]);
        self.along(&all, 1.0)
    }

    pub fn rectangle(self, x: f64, y: f64, w: f64, h: f64) -> Self {
        self.loop_of(&[(x, y), (x + w, y), (x + w, y + h), (x, y + h)])
    }

    pub fn circle(self, x: f64, y: f64, r: f64) -> Self {
        let n = (6.0 * r) as usize;
        let at = |i: usize| {
            let a = std::f64::consts::TAU * i as f64 / n as f64;
            (x + r * libm::cos(a), y + r * libm::sin(a))
        };
        let corners: Vec<(f64, f64)> = (0..=n).map(at).collect();
        self.along(&corners, 1.0)
    }

    pub fn touch(mut self, x: f64, y: f64) -> Self {
        self.strokes += 1;
        let _ = writeln!(self.rows, "{x},{y},{}", self.strokes);
        self
    }
}

pub fn mm() -> Hand {
    Hand::trace("# units: mm\n")
}
