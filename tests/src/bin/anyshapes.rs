//! The board of outlines from no list: how many are read whole, how many grossly wrong, kind by kind and hand by hand.
//!
//! `anyshapes [--cases N] [--seed S] [--kind K] [--hand H] [--form F] [--input I] [--errors FILE] [--said]
//! [--failures] [--told] [--why CASE] [--rows FILE]`. `--errors` lays recorded errors of people along the path, `--said` says to the reader
//! that the line was traced, `--told` tells of each failure what the true edges would have cost, `--rows` writes every reading as `readings` does.

use rayon::prelude::*;
use std::fmt::Write as _;
use trued::fit::partition;
use trued::reading::evidence::Instrument;
use trued::reading::measures::Measure;
use trued::reading::search;
use trued::trace::{Stations, clean};
use trued::{Hand as Said, Path, Settings, Trace, reading, true_up};
use trued_tests::anyshape::{Kind, judge};
use trued_tests::hand::{self, Errors, Extra, Form, Hand, Input, Level};
use trued_tests::rng::Rng;

struct Args {
    cases: u64,
    seed: u64,
    kinds: Vec<Kind>,
    levels: Vec<Level>,
    form: Form,
    input: Input,
    errors: Option<Errors>,
    said: bool,
    failures: bool,
    told: bool,
    rows: Option<String>,
    why: Option<String>,
}

fn main() -> Result<(), String> {
    let args = parsed()?;
    let mut jobs = Vec::new();
    for &kind in &args.kinds {
        for &level in &args.levels {
            jobs.extend((0..args.cases).map(|k| (kind, level, k)));
        }
    }
    if let Some(file) = &args.rows {
        let lines: Vec<String> = jobs.par_iter().map(|j| rows(&args, *j)).collect();
        let names: Vec<&str> = Measure::ALL.iter().map(|m| m.name()).collect();
        let head = format!(
            "trace,class,group,hand,right,kinds,rms,told,bent,{}\n",
            names.join(",")
        );
        return std::fs::write(file, head + &lines.concat()).map_err(|e| e.to_string());
    }
    if let Some(name) = &args.why {
        for job in &jobs {
            why(&args, *job, name);
        }
        return Ok(());
    }
    let seen: Vec<Seen> = jobs.par_iter().map(|j| judged(&args, *j)).collect();
    println!(
        "kind        hand       whole offered   gross  silent needless  rms/wander edges/least  median ms"
    );
    for &kind in &args.kinds {
        for &level in &args.levels {
            let these = jobs.iter().zip(&seen);
            let these = these.filter(|(j, _)| j.0 == kind && j.1 == level);
            board(kind, level, &these.map(|t| t.1).collect::<Vec<_>>());
        }
    }
    if args.failures {
        for s in seen.iter().filter(|s| !s.whole || s.gross) {
            println!("{}", s.told);
        }
    }
    Ok(())
}

/// What came of one case.
struct Seen {
    whole: bool,
    offered: bool,
    gross: bool,
    doubted: bool,
    over_wander: f64,
    over_least: f64,
    seconds: f64,
    told: String,
}

fn board(kind: Kind, level: Level, seen: &[&Seen]) {
    let share = |f: &dyn Fn(&Seen) -> bool| {
        100.0 * seen.iter().filter(|s| f(s)).count() as f64 / seen.len().max(1) as f64
    };
    let median = |f: &dyn Fn(&Seen) -> f64| {
        let mut all: Vec<f64> = seen.iter().map(|s| f(s)).collect();
        all.sort_by(f64::total_cmp);
        all.get(all.len() / 2).copied().unwrap_or(f64::NAN)
    };
    println!(
        "{:11} {:9} {:6.1} {:7.1} {:7.1} {:7.1} {:8.1} {:11.2} {:11.2} {:10.1}",
        kind.name(),
        level.name(),
        share(&|s| s.whole),
        share(&|s| s.offered),
        share(&|s| s.gross),
        share(&|s| s.gross && !s.doubted),
        share(&|s| s.whole && !s.gross && s.doubted),
        median(&|s| s.over_wander),
        median(&|s| s.over_least),
        1000.0 * median(&|s| s.seconds),
    );
}

/// The outline and the trace of a case.
fn case(args: &Args, (kind, level, k): (Kind, Level, u64)) -> (String, Path, Trace) {
    let name = format!("{}/{}/{}/{k}", kind.name(), level.name(), args.form.name());
    let mut rng = Rng::named(args.seed + k, &name);
    let path = kind.draw(&mut rng);
    let extra = Extra {
        errors: args.errors.clone(),
        even: rng.chance(0.5).then(|| rng.range(0.4, 1.6)),
    };
    let hand = Hand {
        level,
        form: args.form,
        input: args.input,
    };
    let trace = hand::trace_of(&path, hand, &extra, &mut rng);
    (name, path, trace)
}

fn settings(args: &Args) -> Settings {
    let hand = if args.said {
        Said::Traced
    } else {
        Said::Unsaid
    };
    Settings {
        hand,
        ..Settings::default()
    }
}

/// How far the hand erred, mm: of people as a part of the diagonal.
fn wander(args: &Args, level: Level, path: &Path) -> f64 {
    if args.errors.is_none() && args.form != Form::People {
        return level.wander();
    }
    let points = path.flatten(0.5);
    let along = |f: fn(&trued::Point) -> f64| {
        let all = points.iter().map(f);
        let (lo, hi) = all.fold((f64::MAX, f64::MIN), |a, v| (a.0.min(v), a.1.max(v)));
        hi - lo
    };
    let (w, h) = (along(|p| p.x), along(|p| p.y));
    0.005 * (w * w + h * h).sqrt()
}

fn judged(args: &Args, job: (Kind, Level, u64)) -> Seen {
    let (kind, level, _) = job;
    let (name, truth, trace) = case(args, job);
    let wander = wander(args, level, &truth);
    let cut = match level {
        Level::Steady => 0.6,
        Level::Ordinary => 1.2,
        Level::Shaky => 2.0,
    };
    let settings = settings(args);
    let start = std::time::Instant::now();
    let result = true_up(&trace, &settings, &[]);
    let seconds = start.elapsed().as_secs_f64();
    let bound = 4.0 * wander + cut + 1.0;
    let is_whole = |p: &Path| judge::is_whole(&truth, p) && judge::furthest(&truth, p) < bound;
    let found = result.as_ref().ok().and_then(|t| {
        let [only] = t.outline.loops.as_slice() else {
            return None;
        };
        Some((only.path.clone(), !t.report.doubts.is_empty()))
    });
    let Some((path, doubted)) = found else {
        let loops = result.as_ref().map_or(0, |t| t.outline.loops.len());
        return Seen {
            whole: false,
            offered: false,
            gross: true,
            doubted: result.is_err(),
            over_wander: f64::NAN,
            over_least: f64::NAN,
            seconds,
            told: format!("{name}: {loops} loops"),
        };
    };
    let furthest = judge::furthest(&truth, &path);
    let whole = kind != Kind::Curve && is_whole(&path);
    let offered = whole || (kind != Kind::Curve && offers(&trace, &settings, is_whole));
    let true_cost = if args.told && !whole && kind != Kind::Curve {
        told(&trace, &settings, &truth)
    } else {
        String::new()
    };
    let letters = trued_tests::shapes::kinds;
    let (over_wander, over_least) = if kind == Kind::Curve {
        let least = judge::least_chain(&truth.flatten(0.05), 2.0 * wander).max(1);
        let edges = path.edges().len() as f64;
        (judge::rms(&path, &truth) / wander, edges / least as f64)
    } else {
        (judge::rms(&path, &truth) / wander, 0.0)
    };
    let got = if kind == Kind::Curve {
        format!("{} edges", path.edges().len())
    } else {
        format!("{} for {}", letters(&path), letters(&truth))
    };
    Seen {
        whole,
        offered,
        gross: furthest >= bound || !path.is_closed(),
        doubted,
        over_wander,
        over_least,
        seconds,
        told: format!(
            "{name}: {got}, furthest {furthest:.1}{}{}{true_cost}",
            if offered { ", offered" } else { "" },
            match (furthest >= bound, doubted) {
                (true, true) => ", GROSS",
                (true, false) => ", GROSS and silent",
                _ => "",
            }
        ),
    }
}

/// What the true edges cost against the cheapest reading, joints where the true corners are: less than nothing where
/// they were not found, more where they were not believed.
fn told(trace: &Trace, settings: &Settings, truth: &Path) -> String {
    let Ok(clean) = clean(trace, settings) else {
        return String::new();
    };
    let [path] = clean.paths.as_slice() else {
        return String::new();
    };
    let unit = settings.station;
    let stations = Stations::along(&path.points, path.closed, &path.bridged, path.step, unit);
    let (_, noise) = search::hand_of(&stations, settings);
    let nearest = |p: trued::Point| {
        let far = |i: &usize| stations.points[*i].distance(p);
        (0..stations.len()).min_by(|i, j| far(i).total_cmp(&far(j)))
    };
    let next = stations.points.iter().cycle().skip(1);
    let pairs = stations.points.iter().zip(next);
    let area: f64 = pairs.map(|(a, b)| a.x * b.y - a.y * b.x).sum();
    let from = if area > 0.0 { 0.0 } else { 1.0 };
    let edges = truth.edges();
    let starts = edges.iter().filter_map(|e| {
        let kind = match e {
            trued::Edge::Line(_) => partition::Kind::Line,
            trued::Edge::Arc(_) => partition::Kind::Arc,
        };
        Some((nearest(e.point_at(from))?, kind))
    });
    let mut starts: Vec<(usize, partition::Kind)> = starts.collect();
    starts.sort_by_key(|s| s.0);
    let (starts, kinds) = starts.into_iter().unzip();
    let edges = partition::Partition { starts, kinds };
    let told = search::read_as(&edges, &stations, &noise, Instrument::Traced);
    let right = told
        .iter()
        .find(|r| judge::is_whole(truth, &r.course.path(true)));
    let (readings, _) = reading::read_clean(path, settings);
    match (right, readings.first()) {
        (Some(r), Some(best)) => format!(", the true edges {:+.1} nats", r.price - best.price),
        _ => ", the true edges no reading".into(),
    }
}

/// Whether any reading of the trace is right.
fn offers(trace: &Trace, settings: &Settings, right: impl Fn(&Path) -> bool) -> bool {
    let Ok(clean) = clean(trace, settings) else {
        return false;
    };
    let [path] = clean.paths.as_slice() else {
        return false;
    };
    let (readings, _) = reading::read_clean(path, settings);
    readings.iter().any(|r| right(&r.course.path(true)))
}

/// The readings of one case, cheapest first: price, edges, how far off, and what the price is made of.
fn why(args: &Args, job: (Kind, Level, u64), wanted: &str) {
    let (name, truth, trace) = case(args, job);
    if name != wanted {
        return;
    }
    let settings = settings(args);
    let Ok(clean) = clean(&trace, &settings) else {
        return;
    };
    for path in &clean.paths {
        let (readings, hand) = reading::read_clean(path, &settings);
        println!(
            "{} edges truly, closed {}, {hand:?}",
            truth.edges().len(),
            path.closed
        );
        for (i, r) in readings.iter().enumerate() {
            let p = r.course.path(true);
            let right = judge::is_whole(&truth, &p) && judge::furthest(&truth, &p) < 5.0;
            let arcs = reading::kinds(r).chars().all(|c| {
                c == (if std::env::var_os("ARCS").is_some() {
                    'A'
                } else {
                    '?'
                })
            });
            if i < 4 || arcs || (right && i < 60) {
                let made = Measure::ALL.iter().zip(r.measures.all());
                let made = made.filter(|m| m.1.abs() > 0.005);
                let made: Vec<String> = made.map(|(m, v)| format!("{} {v:.2}", m.name())).collect();
                println!(
                    "{i:3} {:8.2} {} {}, {:.1} off, slow {:.2}/{:.1}: {}",
                    r.price,
                    if right { "right" } else { "-" },
                    reading::kinds(r),
                    judge::furthest(&truth, &p),
                    r.slow.size,
                    r.slow.correlation,
                    made.join(", ")
                );
            }
        }
    }
}

fn rows(args: &Args, job: (Kind, Level, u64)) -> String {
    let (kind, level, _) = job;
    let (name, truth, trace) = case(args, job);
    let bound = 4.0 * wander(args, level, &truth) + 3.0;
    let settings = settings(args);
    let Ok(clean) = clean(&trace, &settings) else {
        return String::new();
    };
    let [path] = clean.paths.as_slice() else {
        return String::new();
    };
    let (readings, _) = reading::read_clean(path, &settings);
    let class = format!("{}-{}", level.name(), args.form.name());
    let mut out = String::new();
    for r in &readings {
        let p = r.course.path(true);
        let near = judge::furthest(&truth, &p) < bound;
        let mut rms = if near { judge::rms(&p, &truth) } else { 0.0 };
        // Of a free curve any reading that keeps to it is right, the nearer with fewer edges the better.
        let right = if kind == Kind::Curve {
            near && p.is_closed() && rms < 1.5 * wander(args, level, &truth)
        } else {
            near && judge::is_whole(&truth, &p)
        };
        if kind == Kind::Curve {
            rms += 0.02 * wander(args, level, &truth) * p.edges().len() as f64;
        }
        let numbers: Vec<String> = r.measures.all().iter().map(|v| format!("{v:.4}")).collect();
        let _ = writeln!(
            out,
            "{name},{class},{},{:?},{},{},{:.5},1,0,{}",
            kind.name(),
            r.instrument,
            u8::from(right),
            reading::kinds(r),
            if right { rms } else { 0.0 },
            numbers.join(",")
        );
    }
    out
}

fn parsed() -> Result<Args, String> {
    let mut args = Args {
        cases: 20,
        seed: 1,
        kinds: Kind::ALL.to_vec(),
        levels: Level::ALL.to_vec(),
        form: Form::Ou,
        input: Input::Stroke,
        errors: None,
        said: false,
        failures: false,
        told: false,
        rows: None,
        why: None,
    };
    let mut words = std::env::args().skip(1);
    while let Some(word) = words.next() {
        let mut value = || words.next().ok_or(format!("{word} needs a value"));
        let unknown = |v: &str| format!("there is no {v}");
        match word.as_str() {
            "--cases" => {
                args.cases = value()?
                    .parse()
                    .map_err(|_| "a number of cases is needed")?
            }
            "--seed" => args.seed = value()?.parse().map_err(|_| "a seed is a whole number")?,
            "--kind" => {
                let v = value()?;
                let one = Kind::ALL.into_iter().find(|k| k.name() == v);
                args.kinds = vec![one.ok_or_else(|| unknown(&v))?];
            }
            "--hand" => {
                let v = value()?;
                let one = Level::ALL.into_iter().find(|k| k.name() == v);
                args.levels = vec![one.ok_or_else(|| unknown(&v))?];
            }
            "--form" => {
                let v = value()?;
                let one = Form::ALL.into_iter().find(|k| k.name() == v);
                args.form = one.ok_or_else(|| unknown(&v))?;
            }
            "--input" => {
                let v = value()?;
                let one = Input::ALL.into_iter().find(|k| k.name() == v);
                args.input = one.ok_or_else(|| unknown(&v))?;
            }
            "--errors" => {
                let file = value()?;
                let text = std::fs::read_to_string(&file).map_err(|e| format!("{file}: {e}"))?;
                args.errors = Some(Errors::read(&text).ok_or(format!("{file}: no errors"))?);
            }
            "--said" => args.said = true,
            "--failures" => args.failures = true,
            "--told" => args.told = true,
            "--why" => args.why = Some(value()?),
            "--rows" => args.rows = Some(value()?),
            other => return Err(format!("there is no {other}")),
        }
    }
    Ok(args)
}
