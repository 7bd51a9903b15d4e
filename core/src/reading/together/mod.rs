//! All loops of a trace together: what is parallel, alike or about one centre across them, and what pattern
//! the holes form.
//!
//! Each loop has been read by itself. Here they become bodies of one joint system
//! ([`crate::relate::across`]): holes and marks that form a pattern ([`holes`]) are held to it, then the
//! relations across loops that the stations speak for ([`crate::relate::ask`]) are chosen like those within a loop, and
//! all loops move to where they fit best under everything that holds.
//!
//! **Fails** on traces of very many loops, which are left as they are ([`MOST_BODIES`]).
#![allow(
    clippy::indexing_slicing,
    reason = "bodies, sources and asked relations are numbered by the tables they are looked up in"
)]

mod holes;

pub(super) use holes::{of_centers, place as place_of, spot};

use super::describe::{SPREAD_95, factor_of, relation};
use super::{Course, Taken};
use crate::geom::{Point, Sorted as _};
use crate::hint::{Hint, LoopKind, Says};
use crate::outline::{Loop, Mark, Path};
use crate::relate::across::{Body, Form, Joint};
use crate::relate::ask::Ask;
use crate::relate::constraint::{Condition, Constraint, Linear, Member};
use crate::relate::find::{find, proposals};
use crate::relate::normal::Normal;
use crate::relate::quantity::{Place, Quantity, Side};
use crate::report::{Note, OfLoop, RelationKind, Report, Size, SizeKind};

/// More bodies, or more free numbers of all, are not related to one another.
const MOST_BODIES: usize = 60;
const MOST_NUMBERS: usize = 500;
/// How well a hand hits a place it touches, mm, where no pattern tells.
pub(super) const TOUCH: f64 = 0.45;

/// Where a body came from.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Source {
    /// A loop that was read.
    Loop(usize),
    /// A hole of a given diameter.
    Hole(usize),
    /// A mark.
    Mark(usize),
}

/// What ties the loops together, once all stand where they were meant.
pub(super) struct Together {
    pub joint: Joint,
    /// The equations under all conditions.
    pub held: Normal,
    pub sources: Vec<Source>,
    /// What each loop's variances are multiplied by when it is told of alone.
    pub factors: Vec<f64>,
    pub ties: Vec<Condition>,
    pub spans: Vec<Span>,
}

/// A distance between neighbouring holes.
#[derive(Clone)]
pub(super) struct Span {
    pub from: Side,
    pub to: Side,
    pub fixed: bool,
}

impl Span {
    pub fn quantity(&self) -> Quantity {
        Quantity::Span(Place::Center(self.from), Place::Center(self.to))
    }

    fn middle(&self, joint: &Joint) -> Point {
        let [a, b] = [self.from, self.to].map(|s| holes::place(&joint.bodies[s.body]));
        a.midpoint(b)
    }
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
    let mut sized = Vec::new();
    for (i, t) in taken.iter().enumerate() {
        if !alone.contains(&Source::Loop(i))
            && let Some((body, factor)) = body_of(t)
        {
            // The size that a circle was given stays.
            if matches!(body.shape, Form::Round { .. }) {
                let own = t.told.iter().flat_map(|t| &t.1.conditions);
                let given = own
                    .flat_map(|c| &c.constraints)
                    .map(|c| c.of_body(bodies.len()));
                let of = [Side::new(bodies.len(), 0)];
                sized.extend(given.map(|c| Condition::new(RelationKind::Size, &of, vec![c])));
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
        bodies.push(spot(at, TOUCH)?);
        factors.push(1.0);
    }
    let numbers: usize = bodies.iter().map(|b| b.normal.size()).sum();
    if !(2..=MOST_BODIES).contains(&bodies.len()) || numbers > MOST_NUMBERS {
        return None;
    }
    let patterns = holes::patterns(&mut bodies, taken);
    let joint = Joint::new(bodies);
    let of_patterns = patterns.iter().flat_map(holes::Group::conditions);
    let mut ties: Vec<Condition> = sized.iter().cloned().chain(of_patterns).collect();
    let mut spans = patterns
        .iter()
        .flat_map(holes::Group::spans)
        .collect::<Vec<_>>();
    let held = ties.len();
    ties = choose(&joint, &ties, &patterns)?;
    if ties.len() == sized.len() {
        return None;
    }
    // Ties that contradict one another leave at least the patterns.
    let mut solved = match joint.solve(&ties) {
        Some(solved) => solved,
        None => {
            ties.truncate(held);
            (held > sized.len()).then(|| joint.solve(&ties)).flatten()?
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
        ties,
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
pub(super) fn body_of(t: &Taken) -> Option<(Body, f64)> {
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

/// `ties`, and the relations that the stations speak for after them.
fn choose(joint: &Joint, ties: &[Condition], patterns: &[holes::Group]) -> Option<Vec<Condition>> {
    let patterns: Vec<_> = patterns.iter().map(|p| p.as_asked(&joint.bodies)).collect();
    let asked = proposals(&Ask::across(joint, &patterns), false);
    let found = find(joint, &joint.held(ties)?, &asked, &[], 1.0);
    Some(ties.iter().cloned().chain(found.conditions).collect())
}

/// Distances of holes on whole steps, where the step lies within their ±.
fn whole_spans(
    mut joint: Joint,
    ties: &mut Vec<Condition>,
    spans: &mut [Span],
    step: f64,
    notes: &mut Vec<Note>,
) -> Option<Joint> {
    for span in spans {
        let held = joint.held(ties)?;
        let linear = Constraint::at(span.quantity(), 0.0).linear(&joint)?;
        let (variance, _) = held.predict(&linear.gradient);
        let whole = step * libm::round(linear.value / step);
        if whole <= 0.0 || (whole - linear.value).abs() > SPREAD_95 * variance.sqrt() {
            let text = format!(
                "{:.2} mm between holes is no whole step of {step} mm within its ±, and stays",
                linear.value
            );
            let at = span.middle(&joint);
            notes.push(Note::at(text, at));
            continue;
        }
        let of = [span.from, span.to];
        let sized = Constraint::at(span.quantity(), whole);
        ties.push(Condition::new(RelationKind::Size, &of, vec![sized]));
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
        let place = |(body, edge): Member| match self.sources[body] {
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
        let told = self.ties.iter().filter(|t| t.kind != RelationKind::Size);
        report
            .relations
            .extend(told.map(|t| relation(t, &self.joint, place)));
        report.notes.extend(self.sentences(loops));
        for span in &self.spans {
            report.sizes.extend(self.spacing(span, &place));
        }
    }

    /// What holds across loops, in sentences: everything that has one centre, one radius or one direction
    /// together.
    fn sentences(&self, loops: usize) -> Vec<Note> {
        let mut out = Vec::new();
        let mut said: Vec<&str> = Vec::new();
        for says in RelationKind::ALL.iter().map(|k| k.row().across) {
            if says.is_empty() || said.contains(&says) {
                continue;
            }
            said.push(says);
            let pairs = self.ties.iter().filter(|t| t.kind.row().across == says);
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
        place: &impl Fn(Member) -> Result<OfLoop, usize>,
    ) -> Option<Size> {
        let size = Constraint::at(span.quantity(), 0.0);
        let Linear { value, gradient } = size.linear(&self.joint)?;
        let (variance, _) = self.held.predict(&gradient);
        Some(Size {
            kind: SizeKind::Spacing,
            loop_index: place((span.from.body, None)).map_or_else(|mark| mark, |o| o.loop_index),
            edges: Vec::new(),
            value,
            plus_minus: if span.fixed {
                0.0
            } else {
                SPREAD_95 * variance.max(0.0).sqrt()
            },
            fixed: span.fixed,
            at: span.middle(&self.joint),
            hole: None,
            mark: None,
        })
    }
}

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
