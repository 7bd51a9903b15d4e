//! All loops of a trace together: what is parallel, alike or about one centre across them, and what pattern
//! the holes form.
//!
//! Each loop has been read by itself. Here they become bodies of one joint system
//! ([`crate::relate::across`]): holes and marks that form a pattern ([`holes`]) are held to it, then the
//! relations across loops that the stations speak for ([`asked`]) are chosen like those within a loop, and
//! all loops move to where they fit best under everything that holds.
//!
//! **Fails** on traces of very many loops, which are left as they are ([`MOST_BODIES`]).
#![allow(
    clippy::indexing_slicing,
    reason = "bodies, sources and asked relations are numbered by the tables they are looked up in"
)]

mod asked;
mod holes;

use super::describe::{SPREAD_95, factor_of};
use super::{Course, Taken};
use crate::geom::{Point, Sorted as _};
use crate::hint::{Hint, LoopKind, Says};
use crate::outline::{Loop, Mark, Path};
use crate::relate::across::{Body, Center, Form, Joint, Number, Of, Tie};
use crate::relate::choose::{Asked, Choice, Leaning};
use crate::relate::condition::Linear;
use crate::relate::normal::Normal;
use crate::relate::view::View;
use crate::report::{Note, OfLoop, Relation, RelationKind, Report, Size, SizeKind};
use core::f64::consts::PI;

/// More bodies, or more free numbers of all, are not related to one another.
const MOST_BODIES: usize = 60;
const MOST_NUMBERS: usize = 500;
/// How well a hand hits a place it touches, mm, where no pattern tells.
const TOUCH: f64 = 0.45;

/// Where a body came from.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Source {
    /// A loop that was read.
    Loop(usize),
    /// A hole of a given diameter.
    Hole(usize),
    /// A mark.
    Mark(usize),
}

/// What ties the loops together, once all stand where they were meant.
pub(super) struct Together {
    joint: Joint,
    /// The equations under all conditions.
    held: Normal,
    sources: Vec<Source>,
    /// What each loop's variances are multiplied by when it is told of alone.
    factors: Vec<f64>,
    told: Vec<Told>,
    spans: Vec<Span>,
}

/// A body, and one of its edges or all of it.
type Part = (usize, Option<usize>);

/// A relation that holds, by bodies and edges.
struct Told {
    kind: RelationKind,
    of: Vec<Part>,
    /// What is shared.
    value: Option<Number>,
}

/// A distance between neighbouring holes.
struct Span {
    from: Center,
    to: Center,
    fixed: bool,
}

/// Ties the loops, holes and marks of a trace together and moves them to where they are meant.
pub(super) fn tie(
    taken: &mut [Taken],
    round: &mut [Loop],
    marks: &mut [Mark],
    whole: Option<f64>,
    hints: &[Hint],
    notes: &mut Vec<Note>,
) -> Option<Together> {
    let alone = alone(taken, round, marks, hints);
    let (mut sources, mut bodies, mut factors) = (Vec::new(), Vec::new(), Vec::new());
    let mut ties = Vec::new();
    for (i, t) in taken.iter().enumerate() {
        if !alone.contains(&Source::Loop(i))
            && let Some((body, factor)) = body_of(t)
        {
            if matches!(body.shape, Form::Round { .. })
                && !t.told.as_ref()?.1.conditions.is_empty()
                && let Some((radius, _)) = body.number(Of::Radius(0))
            {
                ties.push(Tie::at(Number::One(bodies.len(), Of::Radius(0)), radius));
            }
            sources.push(Source::Loop(i));
            bodies.push(body);
            factors.push(factor);
        }
    }
    let places = round.iter().enumerate().filter_map(|(i, l)| match &l.path {
        Path::Circle(c) => Some((Source::Hole(i), c.center)),
        Path::Chain(_) => None,
    });
    let marked = marks
        .iter()
        .enumerate()
        .map(|(i, m)| (Source::Mark(i), m.at));
    let placed = places.chain(marked).filter(|p| !alone.contains(&p.0));
    for (source, at) in placed {
        sources.push(source);
        bodies.push(holes::spot(at, TOUCH)?);
        factors.push(1.0);
    }
    let numbers: usize = bodies.iter().map(|b| b.normal.size()).sum();
    if !(2..=MOST_BODIES).contains(&bodies.len()) || numbers > MOST_NUMBERS {
        return None;
    }
    let patterns = holes::patterns(&mut bodies, taken);
    let joint = Joint::new(bodies);
    let mut told = Vec::new();
    let mut spans = Vec::new();
    for p in &patterns {
        ties.extend(p.ties());
        let radius = p
            .centers
            .first()
            .map(|c| Number::One(c.body, Of::Radius(c.edge)));
        told.extend(p.told(radius));
        spans.extend(p.spans());
    }
    let of_patterns = (ties.len(), told.len());
    let (more, chosen) = choose(&joint, &ties, &patterns)?;
    ties.extend(more);
    told.extend(chosen);
    if told.is_empty() {
        return None;
    }
    // Ties that contradict one another leave at least the patterns.
    let mut solved = match joint.solve(&ties) {
        Some(solved) => solved,
        None => {
            ties.truncate(of_patterns.0);
            told.truncate(of_patterns.1);
            (!told.is_empty()).then(|| joint.solve(&ties)).flatten()?
        }
    };
    if let Some(step) = whole {
        solved = whole_spans(solved, &mut ties, &mut spans, step, notes)?;
    }
    let held = solved.held(&ties)?;
    let out = Together {
        joint: solved,
        held,
        sources,
        factors,
        told,
        spans,
    };
    out.write_back(taken, round, marks)?;
    notes.extend(patterns.iter().map(holes::Group::note));
    Some(out)
}

/// What a hint says has nothing to do with the others: the loop, hole or mark nearest to its place.
fn alone(taken: &[Taken], round: &[Loop], marks: &[Mark], hints: &[Hint]) -> Vec<Source> {
    let to_path = |path: &Path, at: Point| {
        let edges = path.edges().into_iter();
        edges.map(|e| e.distance(at)).fold(f64::INFINITY, f64::min)
    };
    let said = hints
        .iter()
        .filter(|h| h.says == Says::Loop(LoopKind::Alone));
    said.filter_map(|h| {
        let loops = taken.iter().enumerate();
        let loops = loops.map(|(i, t)| (Source::Loop(i), to_path(&t.made.path, h.at)));
        let holes = round.iter().enumerate();
        let holes = holes.map(|(i, l)| (Source::Hole(i), to_path(&l.path, h.at)));
        let marks = marks.iter().enumerate();
        let marks = marks.map(|(i, m)| (Source::Mark(i), m.at.distance(h.at)));
        let all = loops.chain(holes).chain(marks);
        all.min_by(|a, b| a.1.total_cmp(&b.1)).map(|near| near.0)
    })
    .collect()
}

/// A loop as a body, and the factor on its variances; nothing where what was made of it is not what was read.
fn body_of(t: &Taken) -> Option<(Body, f64)> {
    let (study, best) = t.told.as_ref()?;
    let factor = factor_of(study, best)?;
    let same = t.made.path.is_closed() == best.course.path(true).is_closed();
    let body = match &best.course {
        Course::Chain(s) if same => Body {
            shape: Form::Chain(s.figure.clone()),
            own: best.conditions.clone(),
            normal: s.free.clone(),
            factor,
        },
        Course::Circle(c) if same => Body {
            shape: Form::Round {
                center: c.center,
                radius: c.radius,
            },
            own: Vec::new(),
            normal: c.normal.clone(),
            factor,
        },
        _ => return None,
    };
    Some((body, factor))
}

/// The relations that the stations speak for, after `ties`.
fn choose(joint: &Joint, ties: &[Tie], patterns: &[holes::Group]) -> Option<(Vec<Tie>, Vec<Told>)> {
    let asked = asked::all(joint, patterns);
    let normal = joint.held(ties)?;
    let view = |t: &Tie, range: f64| {
        let range = if t.is_angle { PI } else { range };
        // What a loop's own conditions say of it is settled.
        View::under(joint.linear(t)?, &normal, range).afresh()
    };
    let linear = |(index, a): (usize, &asked::Offer)| {
        let views: Option<Vec<View>> = a.ties.iter().map(|t| view(t, a.range)).collect();
        Some(Asked {
            index,
            terms: a.terms,
            views: views?,
        })
    };
    let left = asked.iter().enumerate().filter_map(linear).collect();
    let mut choice = Choice {
        normal,
        left,
        noise_factor: 1.0,
        leaning: Leaning::Meant,
    };
    let (mut more, mut told) = (Vec::new(), Vec::new());
    while let Some(best) = choice.best() {
        let (taken, _) = choice.take(best);
        let offer = &asked[taken.index];
        more.extend(offer.ties.iter().cloned());
        told.push(Told {
            kind: offer.kind,
            of: offer.of.clone(),
            value: offer.shared(),
        });
    }
    Some((more, told))
}

/// Distances of holes on whole steps, where the step lies within their ±.
fn whole_spans(
    mut joint: Joint,
    ties: &mut Vec<Tie>,
    spans: &mut [Span],
    step: f64,
    notes: &mut Vec<Note>,
) -> Option<Joint> {
    for span in spans {
        let number = Number::Span(span.from, span.to);
        let held = joint.held(ties)?;
        let linear = joint.linear(&Tie::at(number, 0.0))?;
        let (variance, _) = held.predict(&linear.gradient);
        let whole = step * libm::round(linear.value / step);
        if whole <= 0.0 || (whole - linear.value).abs() > SPREAD_95 * variance.sqrt() {
            let text = format!(
                "{:.2} mm between holes is no whole step of {step} mm within its ±, and stays",
                linear.value
            );
            let at = joint.center(span.from)?.midpoint(joint.center(span.to)?);
            notes.push(Note::at(text, at));
            continue;
        }
        ties.push(Tie::at(number, whole));
        match joint.solve(ties) {
            Some(solved) => {
                joint = solved;
                span.fixed = true;
            }
            None => {
                ties.pop();
            }
        }
    }
    Some(joint)
}

impl Together {
    /// Moves everything to where it stands now; nothing, where a loop would leave what was traced of it.
    fn write_back(
        &self,
        taken: &mut [Taken],
        round: &mut [Loop],
        marks: &mut [Mark],
    ) -> Option<()> {
        let loops = self.sources.iter().zip(&self.joint.bodies);
        let mut moved = Vec::new();
        for (source, body) in loops {
            if let Source::Loop(i) = *source {
                moved.push((i, taken[i].moved_to(&body.shape)?));
            }
        }
        for (i, (reading, made)) in moved {
            if let Some((_, best)) = &mut taken[i].told {
                *best = reading;
            }
            taken[i].made = made;
        }
        for (source, body) in self.sources.iter().zip(&self.joint.bodies) {
            match (*source, &body.shape) {
                (Source::Hole(i), Form::Spot(at)) => {
                    if let Path::Circle(c) = &mut round[i].path {
                        c.center = *at;
                    }
                }
                (Source::Mark(i), Form::Spot(at)) => marks[i].at = *at,
                _ => {}
            }
        }
        Some(())
    }

    /// What is known of a number of loop `i` under everything that holds: its variance, before the factor on
    /// the loop's variances.
    pub fn variance(&self, i: usize, gradient: &[f64]) -> Option<f64> {
        let body = self.sources.iter().position(|s| *s == Source::Loop(i))?;
        let wide = self.joint.wide(body, gradient);
        Some(self.held.predict(&wide).0 / self.factors[body])
    }

    /// Adds the relations across loops and the distances of holes. `loops` loops were read, holes of given
    /// diameters follow them; `number` tells which edge of the outline an edge of a loop became.
    pub fn report(
        &self,
        loops: usize,
        number: impl Fn(usize, usize) -> usize,
        report: &mut Report,
    ) {
        let place = |body: usize, edge: Option<usize>| match self.sources[body] {
            Source::Loop(i) => Ok(OfLoop {
                loop_index: i,
                edge: edge.map(|e| number(i, e)),
            }),
            Source::Hole(i) => Ok(OfLoop {
                loop_index: loops + i,
                edge: Some(0),
            }),
            Source::Mark(i) => Err(i),
        };
        for t in &self.told {
            let (mut with, mut marks) = (Vec::new(), Vec::new());
            for &(body, edge) in &t.of {
                match place(body, edge) {
                    Ok(o) => with.push(o),
                    Err(mark) => marks.push(mark),
                }
            }
            let first = with.first().copied();
            if first.is_some_and(|f| f.edge.is_some()) {
                with.remove(0);
            }
            report.relations.push(Relation {
                kind: t.kind,
                loop_index: first
                    .map_or_else(|| marks.first().copied().unwrap_or(0), |f| f.loop_index),
                edges: first.iter().filter_map(|f| f.edge).collect(),
                value: t.value.and_then(|v| Some(self.joint.number(v)?.0)),
                with,
                marks,
            });
        }
        report.notes.extend(self.sentences(loops));
        for span in &self.spans {
            report.sizes.extend(self.spacing(span, &place));
        }
    }

    /// What holds across loops, in sentences: everything that has one centre, one radius or one direction
    /// together.
    fn sentences(&self, loops: usize) -> Vec<Note> {
        let mut out = Vec::new();
        for (kinds, says) in SENTENCES {
            let pairs = self.told.iter().filter(|t| kinds.contains(&t.kind));
            for group in joined(pairs.map(|t| t.of.iter().map(|p| p.0))) {
                let mut names: Vec<String> = Vec::new();
                for body in group {
                    let name = match self.sources[body] {
                        Source::Loop(i) => format!("loop {}", i + 1),
                        Source::Hole(i) => format!("loop {}", loops + i + 1),
                        Source::Mark(_) => "the marks".into(),
                    };
                    if !names.contains(&name) {
                        names.push(name);
                    }
                }
                if let Some((last, first)) = names.split_last()
                    && !first.is_empty()
                {
                    let text = format!("{} and {last} {says}", first.join(", "));
                    out.push(Note::new(text));
                }
            }
        }
        out
    }

    fn spacing(
        &self,
        span: &Span,
        place: &impl Fn(usize, Option<usize>) -> Result<OfLoop, usize>,
    ) -> Option<Size> {
        let number = Number::Span(span.from, span.to);
        let Linear { value, gradient } = self.joint.linear(&Tie::at(number, 0.0))?;
        let (variance, _) = self.held.predict(&gradient);
        let (a, b) = (self.joint.center(span.from)?, self.joint.center(span.to)?);
        Some(Size {
            kind: SizeKind::Spacing,
            loop_index: place(span.from.body, None).map_or_else(|mark| mark, |o| o.loop_index),
            edges: Vec::new(),
            value,
            plus_minus: if span.fixed {
                0.0
            } else {
                SPREAD_95 * variance.max(0.0).sqrt()
            },
            fixed: span.fixed,
            at: a.midpoint(b),
        })
    }
}

/// What is said of relations of some kinds.
const SENTENCES: [(&[RelationKind], &str); 4] = [
    (
        &[RelationKind::Square, RelationKind::Parallel],
        "were made square with one another",
    ),
    (&[RelationKind::OneCenter], "were put about one centre"),
    (&[RelationKind::EqualRadius], "were given one radius"),
    (
        &[RelationKind::EqualLength],
        "were given sides of one length",
    ),
];

/// Sets that share a member, made one; each in order.
fn joined(sets: impl Iterator<Item = impl Iterator<Item = usize>>) -> Vec<Vec<usize>> {
    let mut out: Vec<Vec<usize>> = Vec::new();
    for set in sets {
        let mut set: Vec<usize> = set.collect();
        let (shared, apart): (Vec<_>, Vec<_>) = out
            .into_iter()
            .partition(|o| o.iter().any(|b| set.contains(b)));
        set.extend(shared.concat());
        set.order_by(usize::cmp);
        set.dedup();
        out = apart;
        out.push(set);
    }
    out
}

/// The longest straight edges of a figure, `most` of them.
fn longest(joint: &Joint, body: usize, most: usize) -> Vec<usize> {
    let Form::Chain(f) = &joint.bodies[body].shape else {
        return Vec::new();
    };
    let mut lines: Vec<usize> = (0..f.len()).filter(|&e| f.bulges[e] == 0.0).collect();
    lines.order_by(|a, b| f.edge_length(*b).total_cmp(&f.edge_length(*a)));
    lines.truncate(most);
    lines
}

/// The diagonal of all that is there, mm.
fn extent(joint: &Joint) -> f64 {
    let mut low = Point::new(f64::INFINITY, f64::INFINITY);
    let mut high = Point::new(f64::NEG_INFINITY, f64::NEG_INFINITY);
    let mut take = |p: Point| {
        low = Point::new(low.x.min(p.x), low.y.min(p.y));
        high = Point::new(high.x.max(p.x), high.y.max(p.y));
    };
    for b in &joint.bodies {
        match &b.shape {
            Form::Chain(f) => f.corners.iter().for_each(|c| take(*c)),
            Form::Round { center, .. } | Form::Spot(center) => take(*center),
        }
    }
    low.distance(high).max(1.0)
}
