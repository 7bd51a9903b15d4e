//! Everything as one: a known size that scales the drawing, an edge that is level, a corner that is zero.
//!
//! These say nothing of the shape. What comes before them is read first; their places and those of all hints after
//! them are meant in the drawing as it then lies, so each is carried back to where the trace has it, everything is
//! read once with the others, and the whole is moved at the last.

use super::asked::{corner_place, reach};
use super::bodies::figure_of;
use super::near::{Corner, Ends, Found, corner, nearest};
use super::refused;
use crate::geom::{Edge, Point, normalize_angle};
use crate::hint::{Hint, Says};
use crate::outline::{Bounds, Path};
use crate::report::{Doubt, Note, Placed, RelationKind, SizeKind};
use crate::{Refusal, Trued};
use core::f64::consts::PI;

/// What is read with the hints that say something of the shape, in a drawing so many times too small.
pub(in super::super) fn framed(
    hints: &[Hint],
    mut read: impl FnMut(&[Hint], f64) -> Result<Trued, Refusal>,
) -> Result<Trued, Refusal> {
    let of_frame = |h: &Hint| matches!(h.says, Says::Scale(_) | Says::Level(_) | Says::Zero);
    let Some(first) = hints.iter().position(of_frame) else {
        return read(hints, 1.0);
    };
    let (before, after) = hints.split_at(first);
    let mut now = read(before, 1.0)?;
    let mut placed = Placed::default();
    let mut doubts = Vec::new();
    // Where each hint is in the trace, and which move the whole.
    let mut plain: Vec<Hint> = before.to_vec();
    let mut moves: Vec<Hint> = Vec::new();
    for h in after {
        let in_trace = h.placed(|p| placed.back(p), 1.0);
        if !of_frame(h) {
            plain.push(in_trace);
            continue;
        }
        match moved_by(&now, h) {
            Ok(motion) => {
                place(&mut now, &motion);
                placed = then(&placed, &motion);
                if let Says::Scale(v) = h.says {
                    plain.push(Hint {
                        at: in_trace.at,
                        says: Says::Size(v),
                    });
                }
                moves.push(in_trace);
            }
            Err(why) => doubts.push(refused(h, &why)),
        }
    }
    let scale = placed.scale;
    let plain: Vec<Hint> = plain.iter().map(|h| h.placed(|p| p, 1.0 / scale)).collect();
    let mut out = read(&plain, scale)?;
    let mut placed = Placed {
        scale,
        ..Placed::default()
    };
    place(&mut out, &placed);
    for h in moves.iter().filter(|h| !matches!(h.says, Says::Scale(_))) {
        let here = h.placed(|p| placed.place(p), 1.0);
        if let Ok(motion) = moved_by(&out, &here) {
            place(&mut out, &motion);
            placed = then(&placed, &motion);
        }
    }
    out.report.placed = Some(placed);
    out.report.doubts.append(&mut doubts);
    if (scale - 1.0).abs() > 1e-12 {
        let text = format!("everything is scaled by {scale:.4}, and every ± with it");
        out.report.notes.push(Note::new(text));
    }
    Ok(out)
}

/// One motion after another.
fn then(first: &Placed, next: &Placed) -> Placed {
    Placed {
        scale: first.scale * next.scale,
        turn: first.turn + next.turn,
        to: next.place(first.to),
    }
}

/// How a hint moves the whole.
fn moved_by(trued: &Trued, h: &Hint) -> Result<Placed, String> {
    let loops = &trued.outline.loops;
    let edges = loops.iter().enumerate().flat_map(|(i, l)| {
        let edges = l.path.edges().into_iter().enumerate();
        edges.map(move |(e, edge)| ((i, e), edge))
    });
    let far = |f: Option<Found<Edge>>, what: &str| near_enough(trued, f, what);
    match h.says {
        Says::Scale(v) => {
            if !(v.is_finite() && v > 0.0) {
                return Err(format!("a size must be more than 0, not {v}"));
            }
            let found = nearest(edges.map(|(of, edge)| Found {
                what: of,
                far: edge.distance(h.at),
            }));
            let (i, e) = near_enough(trued, found, "edge")?;
            let of_edge = [SizeKind::Length, SizeKind::Diameter, SizeKind::Radius];
            let size = trued
                .report
                .sizes
                .iter()
                .find(|s| s.loop_index == i && s.edges == [e] && of_edge.contains(&s.kind));
            let drawn = || loops.get(i).and_then(|l| drawn_size(&l.path, e));
            let now = size.map(|s| s.value).or_else(drawn);
            let now = now.ok_or_else(|| "it has no size".to_owned())?;
            Ok(Placed {
                scale: v / now,
                ..Placed::default()
            })
        }
        Says::Level(degrees) => {
            let lines = edges.filter(|(_, e)| matches!(e, Edge::Line(_)));
            let found = nearest(lines.map(|(_, edge)| Found {
                far: edge.distance(h.at),
                what: edge,
            }));
            let line = far(found, "straight edge")?;
            let off = degrees.to_radians() - line.direction_at(0.5).angle();
            // The edge lies at that angle whichever way it runs.
            let turn = 0.5 * normalize_angle(2.0 * off);
            Ok(Placed {
                turn: if turn.abs() > 0.5 * PI {
                    turn - PI
                } else {
                    turn
                },
                ..Placed::default()
            })
        }
        _ => {
            let found = nearest(zeros(trued, h.at).into_iter());
            let at = near_enough(trued, found, "corner, hole or mark")?;
            Ok(Placed {
                to: Point::new(-at.x, -at.y),
                ..Placed::default()
            })
        }
    }
}

fn near_enough<T>(trued: &Trued, found: Option<Found<T>>, what: &str) -> Result<T, String> {
    let boxes = trued.outline.loops.iter();
    let boxes = boxes.filter_map(|l| Bounds::of_path(&l.path));
    let extent = boxes.fold(0.0_f64, |m, b| m.max(b.diagonal()));
    match found {
        None => Err(format!("there is no {what}")),
        Some(f) if f.far > reach(extent) => {
            Err(format!("the nearest {what} is {:.0} mm away", f.far))
        }
        Some(f) => Ok(f.what),
    }
}

/// The size of an edge of a drawing, of which nothing was told.
fn drawn_size(path: &Path, e: usize) -> Option<f64> {
    match path {
        Path::Circle(c) => Some(2.0 * c.radius),
        Path::Chain(chain) => {
            let f = figure_of(chain, path.is_closed());
            let (_, terms) = crate::relate::measures::of_edge(&f, 0, e);
            crate::relate::constraint::Constraint { terms, value: 0.0 }.off(&f)
        }
    }
}

/// Places that can be zero: corners (where they are rounded, as they would be), middles of holes, marks.
fn zeros(trued: &Trued, at: Point) -> Vec<Found<Point>> {
    let mut out = Vec::new();
    for l in &trued.outline.loops {
        match &l.path {
            Path::Circle(c) => out.push(Found {
                what: c.center,
                far: c
                    .center
                    .distance(at)
                    .min((c.center.distance(at) - c.radius).abs()),
            }),
            Path::Chain(chain) => {
                let f = figure_of(chain, l.path.is_closed());
                let found = corner(&f, at, Ends::Corners);
                out.extend(found.map(|c: Found<Corner>| Found {
                    what: corner_place(&f, c.what),
                    far: c.far,
                }));
            }
        }
    }
    out.extend(trued.outline.marks.iter().map(|m| Found {
        what: m.at,
        far: m.at.distance(at),
    }));
    out
}

/// Everything of an outline and its report, moved.
fn place(trued: &mut Trued, by: &Placed) {
    let k = by.scale;
    let at = |p: &mut Point| *p = by.place(*p);
    for l in &mut trued.outline.loops {
        match &mut l.path {
            Path::Circle(c) => {
                at(&mut c.center);
                c.radius *= k;
            }
            Path::Chain(c) => c.corners.iter_mut().for_each(at),
        }
        if let Some(d) = &mut l.deviation {
            d.rms *= k;
            d.max *= k;
        }
    }
    trued.outline.marks.iter_mut().for_each(|m| at(&mut m.at));
    let report = &mut trued.report;
    for s in &mut report.sizes {
        at(&mut s.at);
        if s.kind != SizeKind::Angle {
            s.value *= k;
            s.plus_minus *= k;
        }
    }
    for a in &mut report.also {
        at(&mut a.at);
        if a.kind != SizeKind::Angle {
            (a.from, a.to, a.plus_minus) = (a.from * k, a.to * k, a.plus_minus * k);
        }
    }
    let lengths = report.relations.iter_mut();
    let lengths = lengths.filter(|r| r.kind != RelationKind::AngleStep);
    lengths
        .filter_map(|r| r.value.as_mut())
        .for_each(|v| *v *= k);
    let notes = report.notes.iter_mut().filter_map(|n| n.at.as_mut());
    let doubts = report.doubts.iter_mut();
    let doubts = doubts.filter_map(|d: &mut Doubt| d.at.as_mut());
    notes.chain(doubts).for_each(at);
    for r in &mut report.readings {
        r.edges.iter_mut().for_each(|e| *e = edge_placed(e, by));
        r.hints
            .iter_mut()
            .for_each(|h| *h = h.placed(|p| by.place(p), k));
    }
    for w in &mut report.wander {
        (w.size, w.correlation, w.slow) = (w.size * k, w.correlation * k, w.slow * k);
    }
    report.moved.iter_mut().flatten().for_each(|m| *m *= k);
}

fn edge_placed(edge: &Edge, by: &Placed) -> Edge {
    match edge {
        Edge::Line(l) => Edge::Line(crate::Line {
            from: by.place(l.from),
            to: by.place(l.to),
        }),
        Edge::Arc(a) => Edge::Arc(crate::Arc {
            from: by.place(a.from),
            to: by.place(a.to),
            center: by.place(a.center),
            radius: a.radius * by.scale,
            sweep: a.sweep,
        }),
    }
}
