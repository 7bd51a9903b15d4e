//! The bodies that corrections move: what was traced, what was drawn, holes and marks.
#![allow(
    clippy::indexing_slicing,
    reason = "bodies are numbered by the joint they stand in"
)]

use crate::fit::partition::Kind;
use crate::outline::{Chain, Loop, Mark, Path, Shape};
use crate::reading::Taken;
use crate::reading::together::{Source, TOUCH, body_of, spot};
use crate::relate::across::{Body, Form};
use crate::relate::ask::straight;
use crate::relate::constraint::Condition;
use crate::relate::figure::Figure;
use crate::relate::kinds::at_angle;
use crate::relate::normal::Normal;
use crate::relate::quantity::{Bodies as _, Side};
use crate::report::RelationKind;
use core::f64::consts::{FRAC_PI_2, PI};

/// Everything that can be moved.
pub(super) fn bodies(
    taken: &[Taken],
    holes: &[Loop],
    marks: &[Mark],
) -> (Vec<Source>, Vec<Body>, Vec<f64>) {
    let (mut sources, mut all, mut factors) = (Vec::new(), Vec::new(), Vec::new());
    let mut add = |source, body: Option<(Body, f64)>| {
        if let Some((body, factor)) = body {
            sources.push(source);
            all.push(body);
            factors.push(factor);
        }
    };
    for (i, t) in taken.iter().enumerate() {
        let body = match t.told {
            Some(_) => body_of(t),
            None => drawn(&t.made.path).map(|b| (b, 1.0)),
        };
        add(Source::Loop(i), body);
    }
    for (i, l) in holes.iter().enumerate() {
        if let Path::Circle(c) = &l.path {
            add(Source::Hole(i), spot(c.center, TOUCH).map(|b| (b, 1.0)));
        }
    }
    for (i, m) in marks.iter().enumerate() {
        add(Source::Mark(i), spot(m.at, TOUCH).map(|b| (b, 1.0)));
    }
    (sources, all, factors)
}

/// How surely a drawing says where its corners are, mm.
const DRAWN: f64 = 0.05;

/// A path that was drawn rather than traced: what is square, parallel or smooth in it was meant so.
fn drawn(path: &Path) -> Option<Body> {
    let (shape, numbers, own) = match path {
        Path::Circle(c) => {
            let shape = Form::Round {
                center: c.center,
                radius: c.radius,
            };
            (shape, 3, Vec::new())
        }
        Path::Chain(chain) => {
            let f = figure_of(chain, path.is_closed());
            let own = relations_of(&f);
            let numbers = f.numbers();
            (Form::Chain(f), numbers, own)
        }
    };
    let mut h = vec![0.0; numbers * numbers];
    h.iter_mut()
        .step_by(numbers + 1)
        .for_each(|d| *d = 1.0 / (DRAWN * DRAWN));
    Some(Body {
        shape,
        own,
        normal: Normal::new(h, &vec![0.0; numbers])?,
        factor: 1.0,
    })
}

/// A chain's corners and bulges.
pub(super) fn figure_of(chain: &Chain, closed: bool) -> Figure {
    let bulge = |s: &Shape| match s {
        Shape::Line => (Kind::Line, 0.0),
        Shape::Arc { sweep } => (Kind::Arc, libm::tan(0.25 * sweep)),
    };
    let (kinds, bulges) = chain.shapes.iter().map(bulge).unzip();
    Figure {
        corners: chain.corners.clone(),
        bulges,
        kinds,
        closed,
    }
}

/// More edges of a drawing are not looked at for what is parallel.
const MOST_DRAWN: usize = 60;

/// What is square, parallel or smooth in a figure to the last written digits.
fn relations_of(f: &Figure) -> Vec<Condition> {
    let mut out = Vec::new();
    let m = f.len();
    for e in f.joints() {
        let next = (e + 1) % m;
        let curved = f.kinds[e] == Kind::Arc || f.kinds[next] == Kind::Arc;
        if curved && f.turn_after(e).abs() < DRAWN_SO {
            out.push(Condition::tangent(e));
        }
    }
    if m > MOST_DRAWN {
        return out;
    }
    // Of each direction the first line speaks for the others.
    let lines = (0..m).filter(|e| f.kinds[*e] == Kind::Line);
    let mut first: Vec<usize> = Vec::new();
    for e in lines {
        let b = straight(f, Side::new(0, e));
        for &o in &first {
            let a = straight(f, Side::new(0, o));
            let quarter = (b.angle - a.angle) / FRAC_PI_2;
            if (quarter - libm::round(quarter)).abs() * FRAC_PI_2 < DRAWN_SO {
                let turn = libm::round(quarter) * FRAC_PI_2;
                let even = (turn / PI - libm::round(turn / PI)).abs() < 1e-9;
                let kind = if even {
                    RelationKind::Parallel
                } else {
                    RelationKind::Square
                };
                out.push(at_angle(kind, &a, &b, turn));
                break;
            }
        }
        if !out
            .iter()
            .any(|c| c.of.last() == Some(&(0, Some(e))) && c.kind != RelationKind::Tangent)
        {
            first.push(e);
        }
    }
    out
}

/// What a drawing says to this many radians was meant so.
const DRAWN_SO: f64 = 1e-6;
