//! Any part and any correction: what was asked holds, and nothing else moves unless it is told.
//!
//! `PAIRS=800 PAIRS_FROM=10000 cargo test --release -p trued-tests --test corrections any -- --nocapture` asks for more
//! than the tests do, of other parts.

use super::{corrected, hand, part, refusals};
use trued::hint::{CornerKind, Says};
use trued::{Edge, Hint, Path, Settings, SizeKind, Trued, true_up};
use trued_tests::anyshape::Kind;
use trued_tests::hand::{Level, sampled};
use trued_tests::invariants::over_all;
use trued_tests::rng::Rng;
use trued_tests::shapes::{Case, FAMILIES};

/// One of the things a person may ask of a part, at random: where, what, and what it comes to when followed.
fn any_correction(plain: &Trued, rng: &mut Rng) -> Option<Hint> {
    let l = plain.outline.loops.first()?;
    let edges = l.path.edges();
    if !l.path.is_closed() || edges.len() < 3 {
        return None;
    }
    let i = rng.below(edges.len());
    let size = plain.report.sizes.iter().find(|s| {
        let own = [SizeKind::Length, SizeKind::Radius, SizeKind::Diameter];
        s.loop_index == 0 && s.edges == [i] && own.contains(&s.kind)
    })?;
    let before = &edges[(i + edges.len() - 1) % edges.len()];
    let turn = before.direction_at(1.0).cross(edges[i].direction_at(0.0));
    let room = before.length().min(edges[i].length());
    if turn.abs() > 0.3 && rng.chance(0.3) {
        let radius = 0.25 * room * rng.range(0.3, 1.0);
        let says = Says::Corner(CornerKind::Radius(radius));
        return Some(Hint {
            at: edges[i].from(),
            says,
        });
    }
    let value = size.value * rng.range(0.92, 1.08);
    let says = match size.kind {
        SizeKind::Radius if rng.chance(0.5) => Says::Radius(value),
        SizeKind::Diameter if rng.chance(0.5) => Says::Diameter(value),
        _ => Says::Size(value),
    };
    Some(Hint {
        at: edges[i].point_at(0.5),
        says,
    })
}

/// What the outline measures of what was asked.
fn measured(trued: &Trued, h: &Hint) -> Option<f64> {
    let edges = trued.outline.loops.first()?.path.edges();
    let nearest = |may: &dyn Fn(&Edge) -> bool| {
        let far = |i: &usize| edges[*i].distance(h.at);
        let all = (0..edges.len()).filter(|i| may(&edges[*i]));
        all.min_by(|a, b| far(a).total_cmp(&far(b)))
    };
    match h.says {
        Says::Corner(CornerKind::Radius(r)) => {
            let near = |e: &&Edge| e.distance(h.at) < 10.0 * r;
            let off = edges.iter().filter(near).filter_map(|e| match e {
                Edge::Arc(a) => Some(a.radius - r),
                Edge::Line(_) => None,
            });
            off.min_by(|a, b| a.abs().total_cmp(&b.abs()))
        }
        Says::Size(v) | Says::Diameter(v) | Says::Radius(v) => {
            let i = nearest(&|_| true)?;
            Some(match &edges[i] {
                Edge::Line(_) => over_all(&edges, i, true)? - v,
                Edge::Arc(a) if matches!(h.says, Says::Radius(_)) => a.radius - v,
                Edge::Arc(a) if matches!(h.says, Says::Diameter(_)) || a.sweep.abs() >= 2.7 => {
                    2.0 * a.radius - v
                }
                Edge::Arc(a) => a.radius - v,
            })
        }
        _ => None,
    }
}

/// What nobody asked for and that moved by more than twice its ± without a word.
fn moved_without_a_word(plain: &Trued, trued: &Trued, h: &Hint) -> Vec<String> {
    let (before, after) = (part(plain), part(trued));
    let became = |e: usize| {
        let same = |f: &Edge| matches!(f, Edge::Line(_)) == matches!(before[e], Edge::Line(_));
        let far = |f: &Edge| {
            let (a, b) = (&before[e], f);
            a.from().distance(b.from()) + a.to().distance(b.to())
        };
        let all = (0..after.len()).filter(|f| same(&after[*f]));
        all.min_by(|a, b| far(&after[*a]).total_cmp(&far(&after[*b])))
    };
    let mut out = Vec::new();
    for s in plain
        .report
        .sizes
        .iter()
        .filter(|s| s.loop_index == 0 && !s.edges.is_empty())
    {
        let edges: Option<Vec<usize>> = s.edges.iter().map(|e| became(*e)).collect();
        let Some(edges) = edges else { continue };
        let now = trued
            .report
            .sizes
            .iter()
            .find(|t| t.loop_index == 0 && t.kind == s.kind && (t.edges == edges));
        let Some(now) = now else { continue };
        let asked = edges
            .iter()
            .any(|e| after[*e].distance(h.at) < 1e-3 + 0.02 * s.value.abs())
            && s.edges.len() == 1
            || now.fixed;
        let told = trued
            .report
            .also
            .iter()
            .any(|a| a.kind == s.kind && a.edges == edges)
            || trued.report.notes.iter().any(|n| {
                let at = n.at.filter(|_| n.text.starts_with("a side went"));
                at.is_some_and(|at| after[edges[0]].distance(at) < 1e-3)
            });
        let by = (now.value - s.value).abs();
        if !asked && !told && by > 2.0 * s.plus_minus + 0.02 {
            out.push(format!("{s:?} became {}", now.value));
        }
    }
    out
}

/// What came of many corrections.
struct Tally {
    tried: usize,
    refused: Vec<String>,
    moved: Vec<String>,
    wrong: Vec<String>,
}

/// So many corrections, each of a part of its own.
fn tally(pairs: u64, draw: impl Fn(&mut Rng) -> (String, Path)) -> Tally {
    let count = asked_for("PAIRS").unwrap_or(pairs) as usize;
    let from = asked_for("PAIRS_FROM").unwrap_or(0);
    let mut out = Tally {
        tried: 0,
        refused: Vec::new(),
        moved: Vec::new(),
        wrong: Vec::new(),
    };
    for seed in from.. {
        if out.tried == count {
            break;
        }
        let mut rng_case = Rng::named(seed, "case of a correction");
        let (name, path) = draw(&mut rng_case);
        let level = Level::ALL[rng_case.below(3)];
        let trace = sampled(&path, hand(level), &mut rng_case, 1);
        let Ok(plain) = true_up(&trace, &Settings::default(), &[]) else {
            continue;
        };
        let Some(h) = any_correction(&plain, &mut Rng::named(seed, "any correction")) else {
            continue;
        };
        out.tried += 1;
        let trued = corrected(&trace, core::slice::from_ref(&h));
        if count == 1 {
            println!("{:#?}\n{:#?}", plain.outline.loops, trued.outline.loops);
        }
        let why = format!("{name} {level:?} {seed}: {h:?}");
        let said = refusals(&trued);
        if !said.is_empty() {
            out.refused.push(format!("refused {why}: {said:?}"));
            continue;
        }
        let off = measured(&trued, &h);
        if off.is_none_or(|o| o.abs() > 1e-6) {
            out.wrong.push(format!("wrong {why}: off by {off:?}"));
        }
        let more = moved_without_a_word(&plain, &trued, &h);
        if !more.is_empty() {
            out.moved.push(format!("moved {why}: {more:?}"));
        }
    }
    let all = out.refused.iter().chain(&out.moved).chain(&out.wrong);
    all.for_each(|r| println!("{r}"));
    println!(
        "of {}: {} refused, {} moved something unsaid, {} wrong",
        out.tried,
        out.refused.len(),
        out.moved.len(),
        out.wrong.len()
    );
    out
}

fn asked_for(name: &str) -> Option<u64> {
    std::env::var(name).ok()?.parse().ok()
}

fn of_families(rng: &mut Rng) -> (String, Path) {
    let family = &FAMILIES[rng.below(FAMILIES.len())];
    (family.name.to_owned(), Case::draw(family, rng).path)
}

fn of_no_list(rng: &mut Rng) -> (String, Path) {
    let kind = Kind::ALL[rng.below(Kind::ALL.len())];
    (kind.name().to_owned(), kind.draw(rng))
}

#[test]
fn random_corrections_hold_and_change_little_else() {
    let out = tally(200, of_families);
    assert!(out.wrong.is_empty() && out.moved.is_empty());
    assert!(50 * out.refused.len() <= out.tried);
}

#[test]
fn so_do_those_of_shapes_from_no_list() {
    let out = tally(60, of_no_list);
    assert!(out.wrong.is_empty() && out.moved.is_empty());
    assert!(20 * out.refused.len() <= out.tried);
}
