//! Prints how well frames and lines are found in pictures whose truth is known.

use rayon::prelude::*;
use std::collections::BTreeMap;
use std::path::PathBuf;
use std::time::Instant;
use trued::format::template::Paper;
use trued::photo::{Ask, Photo, Scale, View, decode, find_frame, read};
use trued::{Point, Refusal, Settings, Vec2, true_up};
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
  --other          drawn by hands, on benches and floors, with another lens and film
  --missing        leave out a mark: all must be refused
  --part           silhouettes of parts
  --frames         frames alone: found, refused and wrong by marks and ground
  --keep DIR       keep rendered pictures here, to be read again
  --failures       list every picture that is not good
  --least SHARE    fail unless so many percent are good
";

/// A corner farther off than this is another thing than the mark, mm.
const WRONG: f64 = 1.5;

struct Args {
    cases: u64,
    seed: u64,
    wish: Wish,
    keep: Option<PathBuf>,
    failures: bool,
    frames: bool,
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
            other: false,
            missing: false,
            part: false,
        },
        keep: None,
        failures: false,
        frames: false,
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
            "--other" => args.wish.other = true,
            "--missing" => args.wish.missing = true,
            "--part" => args.wish.part = true,
            "--keep" => args.keep = Some(value()?.into()),
            "--frames" => args.frames = true,
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
    /// It was said that the frame may be wrong.
    doubtful: bool,
    /// Farthest corner from where it is, mm.
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
    let picture = decode::decode(&bytes);
    let frame = match args.frames {
        true => picture.as_ref().ok().map(|p| find_frame(p, &ask)),
        false => None,
    };
    let result = match frame {
        Some(_) => None,
        None => Some(picture.and_then(|p| read(&p, &ask, &mut |_| true))),
    };
    let seconds = start.elapsed().as_secs_f64();
    let mut one = One {
        seed,
        about: truth.about.clone(),
        refused: None,
        doubtful: false,
        corner: 0.0,
        verdict: Verdict::default(),
        whole: None,
        seconds,
        says: String::new(),
    };
    match (frame, result) {
        (Some(Ok(frame)), _) => {
            one.doubtful = frame.doubtful;
            one.corner = farthest(&frame.corners, &frame.view, &truth);
        }
        (_, Some(Ok(photo))) => meet(&mut one, &photo, &truth),
        (Some(Err(e)), _) | (_, Some(Err(e))) => one.refused = Some(e.to_string()),
        (None, None) => {}
    }
    one
}

/// How far the corners are off those of the truth, mm on the plate at most. The frame may lie any of the ways a person who holds
/// the picture upright means it: the truth's own corners, begun at another, never mirrored.
fn farthest(corners: &[Point; 4], view: &View, truth: &Truth) -> f64 {
    let seen = truth.corners.map(|q| q + Vec2::new(-0.5, -0.5));
    let off = |turn: usize| {
        let pairs = corners.iter().zip(seen.iter().cycle().skip(turn));
        pairs
            .map(|(p, q)| view.plate(*p).distance(view.plate(*q)))
            .fold(0.0, f64::max)
    };
    (0..4).map(off).fold(f64::INFINITY, f64::min)
}

fn meet(one: &mut One, photo: &Photo, truth: &Truth) {
    one.corner = farthest(&photo.corners, &photo.view, truth);
    one.doubtful = !photo.doubts.is_empty();
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

/// Whether a frame was taken that is none, or not the one: the truth has none where a mark is missing.
fn is_wrong(o: &One, missing: bool) -> bool {
    o.refused.is_none() && (missing || o.corner > WRONG)
}

/// Found, refused, wrong with a doubt and wrong without, of each kind of marks on each ground.
fn table(all: &[One], missing: bool) {
    let mut rows: BTreeMap<String, [usize; 4]> = BTreeMap::new();
    for o in all {
        let mut words = o.about.split(' ');
        let (ground, marks) = (words.next().unwrap_or(""), words.next().unwrap_or(""));
        let which = match (&o.refused, is_wrong(o, missing), o.doubtful) {
            (Some(_), ..) => 1,
            (None, false, _) => 0,
            (None, true, true) => 2,
            (None, true, false) => 3,
        };
        for key in [format!("{marks} on {ground}"), format!("{marks}, all")] {
            rows.entry(key).or_default()[which] += 1;
        }
    }
    let heads = ["found", "refused", "doubted", "wrong"];
    println!("{:24} {}", "", heads.map(|h| format!("{h:>8}")).join(" "));
    for (key, counts) in rows {
        println!("{key:24} {}", counts.map(|n| format!("{n:8}")).join(" "));
    }
}

fn print(all: &[One], args: &Args) -> i32 {
    let (mut frames, mut good, mut whole) = (Tally::default(), Tally::default(), Tally::default());
    let mut wrong = 0;
    for o in all {
        let found = o.refused.is_none() && o.corner < WRONG;
        frames.add(found);
        wrong += usize::from(is_wrong(o, args.wish.missing) && !o.doubtful);
        let fine = match args.frames {
            true => found,
            false => o.refused.is_none() && o.verdict.is_good(0.15, 1.5),
        };
        good.add(fine);
        if let Some(w) = o.whole {
            whole.add(w);
        }
        if args.failures && (!fine || o.whole == Some(false)) {
            let v = o.verdict;
            println!(
                "{:5} {}  rms {:.3} off {:.2} missed {:.2} corner {:.2} mm whole {:?}  {}",
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
    table(all, args.wish.missing);
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
