//! Writes every reading of many traces with what its price is made of, and whether it is right: the
//! data that the prices are fitted on.
//!
//! `readings CASES SEED [STROKES_DIR] > readings.csv`

use rayon::prelude::*;
use trued::reading::{self, Course, Reading, price};
use trued::trace::clean;
use trued::{Path, Settings, Trace};
use trued_tests::hand::{self, Form, Hand, Input, Level};
use trued_tests::recorded;
use trued_tests::rng::Rng;
use trued_tests::shapes::{self, Case, FAMILIES};

fn main() {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let number = |i: usize, or: u64| words.get(i).and_then(|w| w.parse().ok()).unwrap_or(or);
    let (cases, seed) = (number(0, 4), number(1, 1));
    println!("trace,class,group,right,kinds,{}", price::NAMES.join(","));
    let mut jobs = Vec::new();
    for family in FAMILIES {
        for level in Level::ALL {
            for form in Form::ALL {
                for k in 0..cases {
                    jobs.push((family, level, form, k));
                }
            }
        }
    }
    let lines: Vec<String> = jobs
        .par_iter()
        .map(|(family, level, form, k)| {
            let name = format!("{}/{}/{}/{}", family.name, level.name(), form.name(), k);
            let mut rng = Rng::named(seed + k, &name);
            let case = Case::draw(family, &mut rng);
            let hand = Hand {
                level: *level,
                form: *form,
                input: Input::Stroke,
            };
            let trace = hand::trace(&case, hand, &mut rng);
            let want = shapes::kinds(&case.path);
            let class = format!("{}-{}", level.name(), form.name());
            rows(&trace, &name, &class, family.name, |r, p| {
                p.is_closed() && same_round(&want, &reading::kinds(r))
            })
        })
        .collect();
    print!("{}", lines.concat());
    if let Some(dir) = words.get(2) {
        let all = recorded::folder(dir.as_ref()).unwrap_or_default();
        let lines: Vec<String> = all
            .par_iter()
            .map(|d| {
                rows(&d.trace, &d.file, "recorded", &d.label, |r, p| {
                    let k = reading::kinds(r);
                    let lines = k.matches('L').count();
                    lines == d.lines && k.len() - lines == d.arcs && p.is_closed() == d.closed
                })
            })
            .collect();
        print!("{}", lines.concat());
    }
}

/// Same kinds in the same cyclic order, either way round.
fn same_round(a: &str, b: &str) -> bool {
    if a.len() != b.len() {
        return false;
    }
    let whole = |k: &str| k == "O" || k == "A";
    if whole(a) || whole(b) {
        return whole(a) && whole(b);
    }
    let back: String = b.chars().rev().collect();
    format!("{a}{a}").contains(b) || format!("{a}{a}").contains(&back)
}

fn rows(
    trace: &Trace,
    name: &str,
    class: &str,
    group: &str,
    right: impl Fn(&Reading, &Path) -> bool,
) -> String {
    let settings = Settings::default();
    let Ok(clean) = clean(trace, &settings) else {
        return String::new();
    };
    let [path] = clean.paths.as_slice() else {
        return format!("{name},{class},{group},0,paths{}\n", clean.paths.len());
    };
    let (readings, _) = reading::read_clean(path, &settings);
    let mut out = String::new();
    for r in &readings {
        let p = match &r.course {
            Course::Circle(_) | Course::Chain(_) => r.course.path(true),
        };
        let numbers: Vec<String> = r.measures.iter().map(|v| format!("{v:.4}")).collect();
        let ok = u8::from(right(r, &p));
        out += &format!(
            "{name},{class},{group},{ok},{},{}\n",
            reading::kinds(r),
            numbers.join(",")
        );
    }
    out
}
