//! Prints how well frames and lines are found in pictures whose truth is known.

use rayon::prelude::*;
use std::path::PathBuf;
use std::time::Instant;
use trued::format::template::Paper;
use trued::photo::{Ask, Photo, Scale, decode, read};
use trued::{Refusal, Settings, true_up};
use trued_tests::photo::album::{Truth, picture};
use trued_tests::photo::judge::{Verdict, judge};
use trued_tests::photo::scene::Wish;
use trued_tests::score::{Tally, of_path};

const HELP: &str = "\
photoboard: how well lines are found in rendered pictures

  --cases N        pictures (default 20)
  --seed S         seed of the first (default 1)
  --size W,H       pixels (default 4000,3000)
  --held           grounds and pens that nothing was tuned on
  --missing        leave out a mark: all must be refused
  --part           silhouettes of parts
  --keep DIR       keep rendered pictures here, to be read again
  --failures       list every picture that is not good
  --least SHARE    fail unless so many percent are good
";

struct Args {
    cases: u64,
    seed: u64,
    wish: Wish,
    keep: Option<PathBuf>,
    failures: bool,
    least: f64,
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
        cases: 20,
        seed: 1,
        wish: Wish {
            size: (4000, 3000),
            held: false,
            missing: false,
            part: false,
        },
        keep: None,
        failures: false,
        least: 0.0,
    };
    while let Some(flag) = words.next() {
        let mut value = || words.next().ok_or(format!("{flag} needs a value"));
        let number = |w: String| w.parse::<f64>().map_err(|_| format!("{w} is no number"));
        match flag.as_str() {
            "--cases" => args.cases = number(value()?)? as u64,
            "--seed" => args.seed = number(value()?)? as u64,
            "--size" => {
                let (w, h) = value()?
                    .split_once(',')
                    .map(|(w, h)| (w.to_owned(), h.to_owned()))
                    .ok_or("--size W,H")?;
                args.wish.size = (number(w)? as usize, number(h)? as usize);
            }
            "--held" => args.wish.held = true,
            "--missing" => args.wish.missing = true,
            "--part" => args.wish.part = true,
            "--keep" => args.keep = Some(value()?.into()),
            "--failures" => args.failures = true,
            "--least" => args.least = number(value()?)?,
            "--help" | "-h" => return Err(String::new()),
            other => return Err(format!("unknown flag {other}")),
        }
    }
    Ok(args)
}

/// What came of one picture.
struct One {
    seed: u64,
    about: String,
    refused: Option<String>,
    /// Farthest corner from where it is, pixels.
    corner: f64,
    verdict: Verdict,
    /// Edges as meant: from the picture; nothing where the outline is of no list.
    whole: Option<bool>,
    seconds: f64,
    says: String,
}

fn run(args: &Args) -> i32 {
    if let Some(dir) = &args.keep
        && let Err(e) = std::fs::create_dir_all(dir)
    {
        eprintln!("{}: {e}", dir.display());
        return 2;
    }
    let seeds: Vec<u64> = (args.seed..args.seed + args.cases).collect();
    let all: Vec<One> = seeds.par_iter().map(|&s| one(s, args)).collect();
    print(&all, args)
}

fn one(seed: u64, args: &Args) -> One {
    let (bytes, truth) = match picture(args.keep.as_deref(), seed, args.wish) {
        Ok(p) => p,
        Err(e) => panic!("{e}"),
    };
    let scale = match truth.sheet {
        true => Scale::Sheet(Paper::A4),
        false => Scale::Frame(truth.frame.0, truth.frame.1),
    };
    let ask = Ask {
        part: args.wish.part,
        ..Ask::of(scale)
    };
    let start = Instant::now();
    let result = decode::decode(&bytes).and_then(|p| read(&p, &ask, &mut |_| true));
    let seconds = start.elapsed().as_secs_f64();
    let mut one = One {
        seed,
        about: truth.about.clone(),
        refused: None,
        corner: 0.0,
        verdict: Verdict::default(),
        whole: None,
        seconds,
        says: String::new(),
    };
    match result {
        Err(e) => one.refused = Some(e.to_string()),
        Ok(photo) => meet(&mut one, &photo, &truth),
    }
    one
}

fn meet(one: &mut One, photo: &Photo, truth: &Truth) {
    let off = |p: &trued::Point| {
        let all = truth
            .corners
            .iter()
            .map(|q| q.distance(*p + trued::Vec2::new(0.5, 0.5)));
        all.fold(f64::INFINITY, f64::min)
    };
    one.corner = photo.corners.iter().map(off).fold(0.0, f64::max);
    one.verdict = judge(&photo.trace, &truth.lines);
    let notes: Vec<&str> = photo.notes.iter().map(|n| n.text.as_str()).collect();
    one.says = format!(
        "width {:.2} strokes {} bend {:.4}; {}",
        photo.width,
        photo.trace.strokes.len(),
        photo.view.lens().bend,
        notes.join("; ")
    );
    if let Some(case) = truth.case()
        && truth.lines.len() == 1
    {
        let read: Result<_, Refusal> = true_up(&photo.trace, &Settings::default(), &[]);
        let whole = read.is_ok_and(|t| {
            t.outline
                .loops
                .first()
                .is_some_and(|l| of_path(&case, &l.path).is_some())
        });
        one.whole = Some(whole);
    }
}

fn print(all: &[One], args: &Args) -> i32 {
    let (mut frames, mut good, mut whole) = (Tally::default(), Tally::default(), Tally::default());
    let mut wrong = 0;
    for o in all {
        let found = o.refused.is_none() && o.corner < 8.0;
        frames.add(found);
        wrong += usize::from(o.refused.is_none() && !found);
        let fine = o.refused.is_none() && o.verdict.is_good(0.15, 1.5);
        good.add(fine);
        if let Some(w) = o.whole {
            whole.add(w);
        }
        if args.failures && (!fine || o.whole == Some(false)) {
            let v = o.verdict;
            println!(
                "{:5} {}  rms {:.3} off {:.2} missed {:.2} corner {:.1} px whole {:?}  {}",
                o.seed,
                o.about,
                v.rms,
                v.off,
                v.missed,
                o.corner,
                o.whole,
                o.refused.as_deref().unwrap_or(&o.says)
            );
        }
    }
    let mut times: Vec<f64> = all.iter().map(|o| o.seconds).collect();
    times.sort_by(f64::total_cmp);
    let at = |share: f64| {
        times
            .get((share * (times.len() - 1) as f64) as usize)
            .copied()
            .unwrap_or(0.0)
    };
    let rms: Vec<f64> = all
        .iter()
        .filter(|o| o.refused.is_none())
        .map(|o| o.verdict.rms)
        .collect();
    let mut sorted = rms.clone();
    sorted.sort_by(f64::total_cmp);
    println!(
        "frames found {:.1} % of {}, wrong and not told {wrong}",
        frames.percent(),
        frames.of
    );
    println!(
        "lines within 0.15 mm rms and 1.5 mm: {:.1} % (median rms {:.3} mm)",
        good.percent(),
        sorted.get(sorted.len() / 2).copied().unwrap_or(f64::NAN)
    );
    println!("outlines whole {:.1} % of {}", whole.percent(), whole.of);
    println!("seconds: median {:.2}, 95 % {:.2}", at(0.5), at(0.95));
    let share = match args.wish.missing {
        true => {
            100.0
                - 100.0 * all.iter().filter(|o| o.refused.is_none()).count() as f64
                    / all.len().max(1) as f64
        }
        false => good.percent(),
    };
    if args.wish.missing {
        println!("refused {share:.1} %");
    }
    i32::from(share < args.least)
}
