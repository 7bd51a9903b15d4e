//! Writes every reading of many traces with what its price is made of, and whether it is right: the
//! data that the prices are fitted on.
//!
//! `readings CASES SEED [STROKES_DIR] > readings.csv`

use rayon::prelude::*;
use trued::Hand as Said;
use trued::reading::measures::Measure;
use trued::reading::{self, Reading};
use trued::trace::clean;
use trued::{Path, Settings, Trace};
use trued_tests::hand::{self, Form, Hand, Input, Level};
use trued_tests::recorded;
use trued_tests::rng::Rng;
use trued_tests::score;
use trued_tests::shapes::{self, Case, FAMILIES};

fn main() {
    let words: Vec<String> = std::env::args().skip(1).collect();
    if words.first().is_some_and(|w| w == "--picture") {
        picture(&words);
        return;
    }
    let number = |i: usize, or: u64| words.get(i).and_then(|w| w.parse().ok()).unwrap_or(or);
    let (cases, seed) = (number(0, 4), number(1, 1));
    println!(
        "trace,class,group,hand,right,kinds,rms,told,bent,{}",
        names().join(",")
    );
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
            let class = format!("{}-{}", level.name(), form.name());
            let judge = judge(&case, &trace);
            rows(&trace, &name, &class, family.name, Said::Traced, judge)
        })
        .collect();
    print!("{}", lines.concat());
    print!("{}", free_rows(cases * 4, seed));
    if let Some(dir) = words.get(2) {
        let all = recorded::folder(dir.as_ref()).unwrap_or_default();
        let lines: Vec<String> = all
            .par_iter()
            .map(|d| {
                rows(
                    &d.trace,
                    &d.file,
                    "recorded",
                    &d.label,
                    Said::Drawn,
                    |r, p| {
                        let k = reading::kinds(r);
                        let lines = k.matches('L').count();
                        let right = lines == d.lines
                            && k.len() - lines == d.arcs
                            && p.is_closed() == d.closed;
                        (right, Near::default())
                    },
                )
            })
            .collect();
        print!("{}", lines.concat());
    }
}

fn names() -> Vec<&'static str> {
    Measure::ALL.iter().map(|m| m.name()).collect()
}

/// `readings --picture NAME/LEVEL/FORM/K SEED` or `readings --picture FILE.csv`: the samples, the
/// stations and the two cheapest readings as an SVG.
fn picture(words: &[String]) {
    let Some(name) = words.get(1) else { return };
    let seed: u64 = words.get(2).and_then(|w| w.parse().ok()).unwrap_or(1);
    let trace = if name.ends_with(".csv") {
        recorded::read_trace(name.as_ref()).unwrap_or_default()
    } else {
        let parts: Vec<&str> = name.split('/').collect();
        let k: u64 = parts.get(3).and_then(|w| w.parse().ok()).unwrap_or(0);
        let mut rng = Rng::named(seed + k, name);
        let Some(family) = shapes::family(parts[0]) else {
            return;
        };
        let level = Level::ALL.into_iter().find(|l| l.name() == parts[1]);
        let form = Form::ALL.into_iter().find(|f| f.name() == parts[2]);
        let (Some(level), Some(form)) = (level, form) else {
            return;
        };
        let case = Case::draw(family, &mut rng);
        hand::trace(
            &case,
            Hand {
                level,
                form,
                input: Input::Stroke,
            },
            &mut rng,
        )
    };
    let settings = Settings::default();
    let mut body = String::new();
    let line = |points: &[trued::Point], style: &str| {
        let p: Vec<String> = points
            .iter()
            .map(|p| format!("{:.3},{:.3}", p.x, -p.y))
            .collect();
        format!("<polyline points='{}' fill='none' {style}/>\n", p.join(" "))
    };
    let mut all: Vec<trued::Point> = Vec::new();
    for s in &trace.strokes {
        all.extend(&s.points);
        body += &line(&s.points, "stroke='#bbb' stroke-width='0.4'");
        for p in &s.points {
            body += &format!(
                "<circle cx='{:.3}' cy='{:.3}' r='0.25' fill='#999'/>\n",
                p.x, -p.y
            );
        }
    }
    let Ok(clean) = clean(&trace, &settings) else {
        return;
    };
    for path in &clean.paths {
        let st =
            trued::trace::Stations::along(&path.points, path.closed, &path.bridged, path.step, 1.0);
        for p in &st.points {
            body += &format!(
                "<circle cx='{:.3}' cy='{:.3}' r='0.35' fill='#000'/>\n",
                p.x, -p.y
            );
        }
        let (readings, hand) = reading::read_clean(path, &settings);
        eprintln!(
            "closed {} sureness {:.2} wander {hand:?}",
            path.closed, path.ends.sureness
        );
        for (r, style) in readings.iter().zip([
            "stroke='#c00' stroke-width='0.5'",
            "stroke='#06c' stroke-width='0.35' stroke-dasharray='2 1'",
        ]) {
            let p = r.course.path(true);
            body += &line(&p.flatten(0.05), style);
        }
        for r in readings
            .iter()
            .enumerate()
            .filter(|(i, r)| *i < 6 || reading::kinds(r) == "LLLL")
            .map(|x| x.1)
        {
            let p = r.course.path(true);
            let lens: Vec<String> = p
                .edges()
                .iter()
                .map(|e| format!("{:.1}", e.length()))
                .collect();
            eprintln!(
                "{:8.2} {} [{}] {:?}",
                r.price,
                reading::kinds(r),
                lens.join(" "),
                r.conditions
            );
            let m: Vec<String> = names()
                .iter()
                .zip(r.measures.all())
                .filter(|(_, v)| v.abs() > 0.01)
                .map(|(n, v)| format!("{n} {v:.2}"))
                .collect();
            eprintln!("         {}", m.join(" "));
        }
    }
    let (x0, x1) = all
        .iter()
        .fold((f64::MAX, f64::MIN), |a, p| (a.0.min(p.x), a.1.max(p.x)));
    let (y0, y1) = all
        .iter()
        .fold((f64::MAX, f64::MIN), |a, p| (a.0.min(-p.y), a.1.max(-p.y)));
    println!(
        "<svg xmlns='http://www.w3.org/2000/svg' viewBox='{} {} {} {}' width='900'>{body}</svg>",
        x0 - 5.0,
        y0 - 5.0,
        x1 - x0 + 10.0,
        y1 - y0 + 10.0
    );
}

/// Families that people draw freely.
const FREE: [&str; 22] = [
    "square",
    "rectangle",
    "right triangle",
    "odd triangle",
    "parallelogram",
    "diamond",
    "trapezoid",
    "half-square trapezoid",
    "pentagon",
    "hexagon",
    "rounded rectangle",
    "slot",
    "circle",
    "half disc",
    "keyhole",
    "annular sector",
    "sector",
    "bracket",
    "arch",
    "lens",
    "tab",
    "teardrop",
];

fn free_rows(cases: u64, seed: u64) -> String {
    let jobs: Vec<(&str, u64)> = FREE
        .iter()
        .flat_map(|f| (0..cases).map(move |k| (*f, k)))
        .collect();
    let lines: Vec<String> = jobs
        .par_iter()
        .map(|(name, k)| {
            let Some(family) = shapes::family(name) else {
                return String::new();
            };
            let id = format!("{name}/free/{k}");
            let mut rng = Rng::named(seed + k, &id);
            let case = Case::draw(family, &mut rng);
            let trace = free_trace(&case, &mut rng);
            // Drawn at another size, so that only its edges can be judged.
            rows(&trace, &id, "free", name, Said::Drawn, |_, path| {
                (score::of_path(&case, path).is_some(), Near::default())
            })
        })
        .collect();
    lines.concat()
}

/// A free drawing of a shape: every edge bowed and every corner off by a few hundredths of the
/// drawing, corners rounded, ends that miss each other, little local wander. Diagonal 150 mm.
fn free_trace(case: &Case, rng: &mut Rng) -> Trace {
    use core::f64::consts::TAU;
    use trued::{Point, Vec2};
    let flat = case.path.flatten(0.05);
    let (lo, hi) = flat
        .iter()
        .fold(((f64::MAX, f64::MAX), (f64::MIN, f64::MIN)), |(l, h), p| {
            ((l.0.min(p.x), l.1.min(p.y)), (h.0.max(p.x), h.1.max(p.y)))
        });
    let diagonal = ((hi.0 - lo.0).powi(2) + (hi.1 - lo.1).powi(2)).sqrt();
    let scale = 150.0 / diagonal;
    let mut length = vec![0.0];
    for w in flat.windows(2) {
        length.push(length.last().unwrap_or(&0.0) + w[0].distance(w[1]) * scale);
    }
    let total = *length.last().unwrap_or(&1.0);
    let at = |s: f64| -> Point {
        let s = s.rem_euclid(total);
        let i = length.partition_point(|&l| l <= s).clamp(1, flat.len() - 1);
        let d = (length[i] - length[i - 1]).max(1e-12);
        let p = flat[i - 1].lerp(flat[i], (s - length[i - 1]) / d);
        Point::new(p.x * scale, p.y * scale)
    };
    let size = rng.range(0.3, 1.4);
    let waves: Vec<(f64, f64, f64, f64)> = (1..=9)
        .map(|k| {
            let a = 1.5 * size / f64::from(k).powf(0.8);
            (
                f64::from(k),
                a * rng.normal(),
                a * rng.normal(),
                rng.range(0.0, TAU),
            )
        })
        .collect();
    let round = rng.range(0.5, 3.0);
    let step = rng.range(1.0, 6.0);
    let start = rng.range(0.0, total);
    let miss = rng.range(-0.06, 0.05) * total * rng.unit();
    let (mut wx, mut wy) = (0.0, 0.0);
    let local = rng.range(0.05, 0.25);
    let count = ((total + miss) / step) as usize;
    let points = (0..count)
        .map(|i| {
            let s = start + i as f64 * step;
            let mut p = Vec2::default();
            for j in -4..=4 {
                p += at(s + f64::from(j) * 0.5 * round).to_vec() * (1.0 / 9.0);
            }
            let f = TAU / total * (i as f64 * step);
            for (k, ax, ay, phase) in &waves {
                // Not periodic: the second time round the hand is elsewhere.
                let w = (k * 0.93 * f + phase).sin();
                p += Vec2::new(ax * w, ay * w);
            }
            wx = 0.7 * wx + local * rng.normal();
            wy = 0.7 * wy + local * rng.normal();
            Point::new(p.x + wx, p.y + wy)
        })
        .collect();
    Trace::from_strokes([points])
}

/// How near a right reading comes to the truth, where that is known.
#[derive(Default)]
struct Near {
    /// Its distance to the true outline, root mean square, mm.
    rms: f64,
    /// The same of the fit that is told everything but the numbers.
    told: f64,
    /// Corners meant square that are not, and corners four degrees off that were made so.
    bent: usize,
}

/// Whether a reading is whole, and how near it comes.
fn judge(case: &Case, trace: &Trace) -> impl Fn(&Reading, &Path) -> (bool, Near) {
    let told = score::rms_to(&score::told_fit(case, trace), &case.path);
    move |_, path| match score::of_path(case, path) {
        Some(s) => {
            let bent = [s.square, s.odd, s.near].map(|t| t.of - t.hit);
            let near = Near {
                rms: s.rms.unwrap_or_default(),
                told,
                bent: bent.iter().sum(),
            };
            (true, near)
        }
        None => (false, Near::default()),
    }
}

fn rows(
    trace: &Trace,
    name: &str,
    class: &str,
    group: &str,
    hand: Said,
    judged: impl Fn(&Reading, &Path) -> (bool, Near),
) -> String {
    let settings = Settings {
        hand,
        ..Settings::default()
    };
    let Ok(clean) = clean(trace, &settings) else {
        return String::new();
    };
    let [path] = clean.paths.as_slice() else {
        eprintln!("{name}: {} paths", clean.paths.len());
        return String::new();
    };
    let (readings, _) = reading::read_clean(path, &settings);
    let mut out = String::new();
    for r in &readings {
        let p = r.course.path(true);
        let numbers: Vec<String> = r.measures.all().iter().map(|v| format!("{v:.4}")).collect();
        let (right, near) = judged(r, &p);
        let Near { rms, told, bent } = near;
        let (right, kinds) = (u8::from(right), reading::kinds(r));
        out +=
            &format!("{name},{class},{group},{hand:?},{right},{kinds},{rms:.5},{told:.5},{bent},");
        out += &numbers.join(",");
        out.push('\n');
    }
    out
}
