//! Prints how well traces of known shapes, and recorded strokes, are read.

use rayon::prelude::*;
use std::collections::BTreeMap;
use std::path::PathBuf;
use std::time::Instant;
use trued::{Hint, Refusal, Settings, SizeKind, Trace, TraceKind, Trued};
use trued_tests::hand::{self, Form, Hand, Input, Level};
use trued_tests::recorded;
use trued_tests::rng::Rng;
use trued_tests::score::{Score, Tally, described, score};
use trued_tests::shapes::{Case, FAMILIES, Family, family};

const HELP: &str = "\
scoreboard: how well traces of known truth are read

  --cases N          cases a family and hand (default 12)
  --seed S           seed of the first case (default 1)
  --hand NAME        steady, ordinary, shaky or all (default all)
  --form NAME        ou, drift, tremor, overrun or all (default ou)
  --input NAME       stroke, strokes, touched or cloud (default stroke)
  --family NAME      only this family (may be repeated)
  --whole STEP       read with sizes rounded to whole steps of so many mm
  --failures         list every case that is not whole, or far from the truth
  --strokes DIR      score the recorded strokes of a folder by its INDEX.csv instead
  --dump NAME SEED   write the trace of one case (with --hand, --form, --input) and stop
  --least S,O,H      fail unless the whole shares (percent) reach these at the three hands
  --least-square S,O,H  the same of square corners that come out exactly square
";

struct Args {
    cases: usize,
    seed: u64,
    levels: Vec<Level>,
    forms: Vec<Form>,
    input: Input,
    families: Vec<&'static Family>,
    whole: Option<f64>,
    failures: bool,
    strokes: Option<PathBuf>,
    dump: Option<(&'static Family, u64)>,
    least: Vec<f64>,
    least_square: Vec<f64>,
}

fn main() {
    match parse(std::env::args().skip(1)) {
        Ok(args) => std::process::exit(run(&args)),
        Err(problem) => {
            eprintln!("{problem}\n\n{HELP}");
            std::process::exit(2);
        }
    }
}

fn parse(mut words: impl Iterator<Item = String>) -> Result<Args, String> {
    let mut args = Args {
        cases: 12,
        seed: 1,
        levels: Level::ALL.to_vec(),
        forms: vec![Form::Ou],
        input: Input::Stroke,
        families: Vec::new(),
        whole: None,
        failures: false,
        strokes: None,
        dump: None,
        least: Vec::new(),
        least_square: Vec::new(),
    };
    while let Some(flag) = words.next() {
        let mut value = || words.next().ok_or(format!("{flag} needs a value"));
        match flag.as_str() {
            "--cases" => args.cases = number(&value()?)?,
            "--seed" => args.seed = number(&value()?)?,
            "--hand" => args.levels = pick(&value()?, &Level::ALL, |l| l.name())?,
            "--form" => args.forms = pick(&value()?, &Form::ALL, |f| f.name())?,
            "--input" => args.input = pick(&value()?, &Input::ALL, |i| i.name())?[0],
            "--family" => args.families.push(known(&value()?)?),
            "--whole" => args.whole = Some(number(&value()?)?),
            "--failures" => args.failures = true,
            "--strokes" => args.strokes = Some(value()?.into()),
            "--dump" => args.dump = Some((known(&value()?)?, number(&value()?)?)),
            "--least" => {
                args.least = value()?.split(',').map(number).collect::<Result<_, _>>()?;
            }
            "--least-square" => {
                args.least_square = value()?.split(',').map(number).collect::<Result<_, _>>()?;
            }
            "--help" | "-h" => return Err(String::new()),
            other => return Err(format!("unknown flag {other}")),
        }
    }
    if args.families.is_empty() {
        args.families = FAMILIES.iter().collect();
    }
    Ok(args)
}

fn number<T: core::str::FromStr>(word: &str) -> Result<T, String> {
    word.parse().map_err(|_| format!("{word} is no number"))
}

fn known(name: &str) -> Result<&'static Family, String> {
    family(name).ok_or_else(|| {
        let names: Vec<_> = FAMILIES.iter().map(|f| f.name).collect();
        format!("no family {name}; there are: {}", names.join(", "))
    })
}

fn pick<T: Copy>(word: &str, all: &[T], name: fn(T) -> &'static str) -> Result<Vec<T>, String> {
    if word == "all" {
        return Ok(all.to_vec());
    }
    let found: Vec<T> = all.iter().copied().filter(|&x| name(x) == word).collect();
    if found.is_empty() {
        return Err(format!("unknown value {word}"));
    }
    Ok(found)
}

fn run(args: &Args) -> i32 {
    if let Some((family, seed)) = args.dump {
        let hand = Hand {
            level: args.levels[0],
            form: args.forms[0],
            input: args.input,
        };
        let (case, trace) = make(family, hand, seed);
        let title = format!(
            "{}, {} hand, {}, {}, seed {seed}; truly {}",
            family.name,
            hand.level.name(),
            hand.form.name(),
            hand.input.name(),
            case.kinds()
        );
        print!("{}", hand::to_csv(&trace, &title));
        return 0;
    }
    match &args.strokes {
        Some(dir) => strokes(dir, args),
        None => synthetic(args),
    }
}

fn make(family: &'static Family, hand: Hand, seed: u64) -> (Case, Trace) {
    let mut rng = Rng::named(seed, family.name);
    let case = Case::draw(family, &mut rng);
    let key = format!("{}{}", hand.level.name(), hand.form.name());
    let mut rng = Rng::named(rng.word(), &key);
    let trace = hand::trace(&case, hand, &mut rng);
    (case, trace)
}

fn read(trace: &Trace, whole: Option<f64>) -> (Result<Trued, Refusal>, f64) {
    let settings = Settings {
        kind: TraceKind::Auto,
        whole,
        ..Settings::default()
    };
    let hints: [Hint; 0] = [];
    let start = Instant::now();
    let result = trued::true_up(trace, &settings, &hints);
    (result, start.elapsed().as_secs_f64())
}

struct Row {
    family: &'static Family,
    hand: Hand,
    seed: u64,
    want: String,
    score: Score,
}

fn synthetic(args: &Args) -> i32 {
    let mut jobs = Vec::new();
    for &family in &args.families {
        for &level in &args.levels {
            for &form in &args.forms {
                let hand = Hand {
                    level,
                    form,
                    input: args.input,
                };
                jobs.extend((0..args.cases).map(|i| (family, hand, args.seed + i as u64)));
            }
        }
    }
    let rows: Vec<Row> = jobs
        .par_iter()
        .map(|&(family, hand, seed)| {
            let (case, trace) = make(family, hand, seed);
            let (result, seconds) = read(&trace, args.whole);
            let mut score = score(&case, &trace, &result);
            score.seconds = seconds;
            Row {
                family,
                hand,
                seed,
                want: case.kinds(),
                score,
            }
        })
        .collect();
    if args.failures {
        failures(args, &rows);
    }
    shares(args, &rows);
    summary(args, &rows)
}

/// Lists what is not whole, far from the truth, or of another size than it was drawn.
fn failures(args: &Args, rows: &[Row]) {
    let name = |r: &Row| {
        let (level, form) = (r.hand.level.name(), r.hand.form.name());
        format!(
            "\"{}\" {} --hand {level} --form {form}",
            r.family.name, r.seed
        )
    };
    for r in rows.iter().filter(|r| !r.score.whole) {
        let (want, got) = (&r.want, &r.score.got);
        println!("not whole: {}: wanted {want}, got {got}", name(r));
    }
    for r in rows {
        if let (Some(rms), Some(told)) = (r.score.rms, r.score.told)
            && rms > 1.5 * told + 0.05
        {
            println!("far: {}: {rms:.3} mm, told fit {told:.3} mm", name(r));
        }
    }
    for r in rows.iter().filter(|_| args.whole.is_some()) {
        for (kind, [truth, got, told]) in &r.score.missed_sizes {
            let of = format!("{kind:?} of {truth:.3} mm");
            println!(
                "missed: {}: {of} came out {got:.3}, told fit {told:.3}",
                name(r)
            );
        }
    }
}

fn shares(args: &Args, rows: &[Row]) {
    let forms: Vec<_> = args.forms.iter().map(|f| f.name()).collect();
    println!(
        "whole, percent, and distance to the truth by the told fit's ({} input, {}):",
        args.input.name(),
        forms.join(" ")
    );
    print!("{:24}", "");
    for level in &args.levels {
        print!("{:>16}", level.name());
    }
    println!();
    for &family in &args.families {
        print!("{:24}", family.name);
        for &level in &args.levels {
            let mut t = Tally::default();
            let (mut read, mut told) = (0.0, 0.0);
            for r in rows {
                if r.family.name == family.name && r.hand.level == level {
                    t.add(r.score.whole);
                    read += r.score.rms.unwrap_or(0.0).powi(2);
                    told += r.score.told.unwrap_or(0.0).powi(2);
                }
            }
            print!("{:>10.1}{:>6.2}", t.percent(), (read / told).sqrt());
        }
        println!();
    }
}

/// The summary by hand; status 1 when a share is under its bound.
fn summary(args: &Args, rows: &[Row]) -> i32 {
    let mut status = 0;
    println!();
    for &level in &args.levels {
        let of: Vec<&Row> = rows.iter().filter(|r| r.hand.level == level).collect();
        let mut whole = Tally::default();
        let (mut square, mut odd, mut near) = <(Tally, Tally, Tally)>::default();
        let mut whole_sizes = Tally::default();
        let mut told_whole_sizes = Tally::default();
        let (mut read, mut told) = (0.0, 0.0);
        let mut sizes: BTreeMap<SizeKind, Tally> = BTreeMap::new();
        let mut seconds: Vec<f64> = Vec::new();
        for r in &of {
            let s = &r.score;
            whole.add(s.whole);
            square.merge(s.square);
            odd.merge(s.odd);
            near.merge(s.near);
            whole_sizes.merge(s.whole_sizes);
            told_whole_sizes.merge(s.told_whole_sizes);
            read += s.rms.unwrap_or(0.0).powi(2);
            told += s.told.unwrap_or(0.0).powi(2);
            for &(kind, inside) in &s.sizes {
                sizes.entry(kind).or_default().add(inside);
            }
            seconds.push(s.seconds);
        }
        seconds.sort_by(f64::total_cmp);
        let n = (whole.hit.max(1)) as f64;
        println!("{} hand, {} cases", level.name(), whole.of);
        println!("  whole                       {:6.2} %", whole.percent());
        println!(
            "  square corners exact        {:6.2} %  of {}",
            square.percent(),
            square.of
        );
        println!(
            "  7° and more off, left alone {:6.2} %  of {}",
            odd.percent(),
            odd.of
        );
        println!(
            "  4° to 7° off, left alone    {:6.2} %  of {}",
            near.percent(),
            near.of
        );
        println!(
            "  rms to the truth            {:6.3} mm, told fit {:.3} mm, ratio {:.3}",
            (read / n).sqrt(),
            (told / n).sqrt(),
            (read / told).sqrt()
        );
        for (kind, t) in &sizes {
            println!("  {kind:?} inside its ±: {:.1} % of {}", t.percent(), t.of);
        }
        if args.whole.is_some() {
            println!(
                "  whole sizes exact           {:6.2} %  of {}, told fit rounded {:.2} %",
                whole_sizes.percent(),
                whole_sizes.of,
                told_whole_sizes.percent()
            );
        }
        let at = |q: f64| 1e3 * seconds[((seconds.len() - 1) as f64 * q) as usize];
        println!(
            "  time a trace                median {:.1} ms, 95 % {:.1} ms, longest {:.1} ms",
            at(0.5),
            at(0.95),
            at(1.0)
        );
        let place = Level::ALL.iter().position(|&l| l == level).unwrap_or(0);
        for (least, share) in [(&args.least, &whole), (&args.least_square, &square)] {
            if let Some(&least) = least.get(place)
                && share.percent() < least
            {
                println!("  {:.2} % IS UNDER ITS BOUND of {least} %", share.percent());
                status = 1;
            }
        }
    }
    status
}

fn strokes(dir: &std::path::Path, args: &Args) -> i32 {
    let all = match recorded::folder(dir) {
        Ok(all) => all,
        Err(problem) => {
            eprintln!("{problem}");
            return 1;
        }
    };
    let scored: Vec<_> = all
        .par_iter()
        .map(|r| {
            let (result, seconds) = read(&r.trace, args.whole);
            let (whole, got) = match &result {
                Ok(t) => (recorded::is_whole(r, &t.outline), described(&t.outline)),
                Err(e) => (false, format!("refused: {e}")),
            };
            (r, whole, got, seconds)
        })
        .collect();
    let mut by_label: BTreeMap<&str, Tally> = BTreeMap::new();
    let mut total = Tally::default();
    for (r, whole, got, _) in &scored {
        by_label.entry(&r.label).or_default().add(*whole);
        total.add(*whole);
        if args.failures && !whole {
            let open = if r.closed { "" } else { " open" };
            println!(
                "not whole: {}: wanted {}L {}A{open}, got {got}",
                r.file, r.lines, r.arcs
            );
        }
    }
    for (label, t) in &by_label {
        println!("{label:24}{:>8.1} %  of {}", t.percent(), t.of);
    }
    println!("{:24}{:>8.1} %  of {}", "all", total.percent(), total.of);
    let longest = scored.iter().map(|s| s.3).fold(0.0, f64::max);
    println!("longest {:.1} ms", 1e3 * longest);
    i32::from(args.least.first().is_some_and(|&l| total.percent() < l))
}
