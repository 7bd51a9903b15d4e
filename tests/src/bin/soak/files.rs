//! Files of every kind, broken.

use crate::{Done, sentence};
use std::path::Path;
use trued::format::{self, Content, Units, Wanted, document, dxf, svg};
use trued::hint::Says;
use trued::machine::Profile;
use trued::{Hint, Point, Settings, Trace, cut, jobs, true_up};
use trued_tests::rng::Rng;
use trued_tests::{demos, hand, invariants};

/// The kinds of file there are.
pub const KINDS: [&str; 10] = [
    "csv", "svg", "dxf", "outline", "job", "hints", "machine", "material", "sheet", "touches",
];

/// A few whole files of each kind to break.
pub fn sources() -> Vec<(&'static str, Vec<u8>)> {
    let mut all = Vec::new();
    for demo in demos::all().into_iter().step_by(3) {
        let short = demo
            .trace
            .strokes
            .iter()
            .map(|s| s.points.iter().step_by(5).copied().collect());
        let trace = Trace::from_strokes(short);
        all.push(("csv", hand::to_csv(&trace, demo.title).into_bytes()));
        if let Ok(t) = true_up(&trace, &Settings::default(), &[]) {
            let json = document::write(&t.outline, &t.report);
            all.push(("outline", json.into_bytes()));
            all.push(("svg", svg::write(&t.outline, Units::Mm).into_bytes()));
            all.push(("dxf", dxf::write(&t.outline, Units::Mm).into_bytes()));
        }
        let hints = vec![
            Hint {
                at: Point::new(1.0, 2.0),
                says: Says::Size(50.0),
            },
            Hint {
                at: Point::new(9.0, 2.0),
                says: Says::Parallel(Point::new(0.0, 5.0)),
            },
        ];
        all.push(("hints", document::write_hints(&hints).into_bytes()));
        let job = document::Job {
            trace,
            hints,
            ..document::Job::default()
        };
        all.push(("job", document::write_job(&job).into_bytes()));
    }
    let examples = Path::new(env!("CARGO_MANIFEST_DIR")).join("../examples");
    for (kind, file) in [
        ("machine", "machines/as_delivered.json"),
        ("machine", "machines/shop_machine.json"),
        ("material", "measurements/material_book.csv"),
        ("sheet", "measurements/coupon_filled.csv"),
        ("touches", "touches/gusset_wrong_tip.csv"),
        ("touches", "touches/one_reach.csv"),
    ] {
        let bytes = std::fs::read(examples.join(file));
        all.push((kind, bytes.unwrap_or_else(|e| panic!("{file}: {e}"))));
    }
    all
}

/// One broken file of a kind, read for what it is for.
pub fn one(rng: &mut Rng, kind: &str, sources: &[(&'static str, Vec<u8>)]) -> Result<Done, String> {
    let bytes = made(rng, kind, sources);
    let size = bytes.len();
    read(kind, &bytes).map(|read| Done { read, size })
}

/// A file of a kind, broken in one to three places.
pub fn made(rng: &mut Rng, kind: &str, sources: &[(&'static str, Vec<u8>)]) -> Vec<u8> {
    let of_kind: Vec<&Vec<u8>> = sources
        .iter()
        .filter(|s| s.0 == kind)
        .map(|s| &s.1)
        .collect();
    let mut bytes = of_kind[rng.below(of_kind.len())].clone();
    for _ in 0..1 + rng.below(3) {
        broken(&mut bytes, rng, sources);
    }
    bytes
}

fn read(kind: &str, bytes: &[u8]) -> Result<bool, String> {
    let text = String::from_utf8_lossy(bytes);
    let refused = match kind {
        "machine" => Profile::read(&text).map(drop),
        "material" => cut::material::read(&text).map(drop),
        "sheet" => jobs::coupon::read_sheet(&text).map(drop),
        "touches" => jobs::touches::read(bytes, "tip").map(drop),
        "hints" => document::read_hints(bytes).map(drop),
        "outline" | "job" => return whole("a.json", bytes),
        _ => return whole(&format!("a.{kind}"), bytes),
    };
    refused.map_or_else(|refusal| sentence(&refusal), |()| Ok(true))
}

/// A file is read, its chords put back as far as its bytes say, and a trace in it trued.
fn whole(name: &str, bytes: &[u8]) -> Result<bool, String> {
    let sum = bytes.iter().fold(0_usize, |sum, b| sum + usize::from(*b));
    let wanted = Wanted {
        chords: [0.0, format::CHORDS, 0.01, 2.0][sum % 4],
        ..Wanted::default()
    };
    let (trace, settings, hints) = match format::read(name, bytes, wanted).map(|i| i.content) {
        Ok(Content::Trace(trace)) => (trace, Settings::default(), Vec::new()),
        Ok(Content::Job(job)) => (job.trace, job.settings, job.hints),
        Ok(_) => return Ok(true),
        Err(refusal) => return sentence(&refusal),
    };
    match true_up(&trace, &settings, &hints) {
        Ok(trued) => invariants::whole(&trued.outline).map(|()| true),
        Err(refusal) => sentence(&refusal),
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
