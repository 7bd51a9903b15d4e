//! What pictures show of a piece beside its edges: the hand's line, labels at their places, and where the
//! outline lies furthest from the line.

use crate::cut::{Layout, Placement};
use crate::format::Units;
use crate::geom::near::inside;
use crate::geom::{Edge, Point};
use crate::outline::Outline;
use crate::outline::numbers::{Numbered, numbers};
use crate::reading::Trued;
use crate::report::Size;
use crate::trace::Trace;

/// Most points of a hand's line that are drawn: more are no finer on any screen or paper.
const MOST_POINTS: usize = 4_000;
/// Most pairs of point and edge that are looked at for the worst place.
const MOST_PAIRS: usize = 20_000_000;

/// A few words at a place.
#[derive(Clone, Debug, PartialEq)]
pub struct Label {
    /// What it names: the words are set beside it.
    pub at: Point,
    /// The words.
    pub text: String,
    /// What they are.
    pub kind: LabelKind,
}

/// What a label says. Kinds are told apart by their frame, not by colour.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LabelKind {
    /// A size with its ±: plain.
    Size,
    /// The number of an edge: in a box.
    Edge,
    /// The number of a corner: in a circle.
    Corner,
    /// The number of a hole or mark: in a double circle.
    Hole,
}

/// Where the outline lies furthest from what was traced of it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Worst {
    /// On the hand's line.
    pub traced: Point,
    /// On the outline.
    pub meant: Point,
}

impl Worst {
    /// How far apart they lie, mm.
    #[must_use]
    pub fn distance(&self) -> f64 {
        self.traced.distance(self.meant)
    }
}

/// All of it, in the coordinates of the outline it belongs to.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Seen {
    /// The hand's line, stroke by stroke; empty where there was no trace.
    pub traced: Vec<Vec<Point>>,
    /// Words at their places.
    pub labels: Vec<Label>,
    /// The worst departure.
    pub worst: Option<Worst>,
}

impl Seen {
    /// What a reading shows, its sizes in `units`.
    #[must_use]
    pub fn of(trued: &Trued, trace: Option<&Trace>, units: Units) -> Self {
        let mut traced = trace.map(thinned).unwrap_or_default();
        // The hand's line lies where a correction put everything.
        if let Some(placed) = &trued.report.placed {
            let points = traced.iter_mut().flatten();
            points.for_each(|p| *p = placed.place(*p));
        }
        let mut labels = sizes(&trued.report.sizes, units);
        labels.extend(numbers(&trued.outline).into_iter().map(|n| Label {
            at: n.at,
            text: n.number.to_string(),
            kind: match n.what {
                Numbered::Edge => LabelKind::Edge,
                Numbered::Corner => LabelKind::Corner,
                Numbered::Hole => LabelKind::Hole,
            },
        }));
        Self {
            worst: worst(&trued.outline, &traced),
            labels,
            traced,
        }
    }

    /// What lies within an outline, of one piece of several.
    #[must_use]
    pub fn within(&self, outline: &Outline) -> Self {
        let borders: Vec<Vec<Edge>> = outline.loops.iter().map(|l| l.path.edges()).collect();
        let near = |p: Point| {
            borders
                .iter()
                .any(|b| inside(b, p) || b.iter().any(|e| e.distance(p) < 2.0))
        };
        Self {
            traced: (self.traced.iter())
                .filter(|s| s.first().is_some_and(|p| near(*p)))
                .cloned()
                .collect(),
            labels: self.labels.iter().filter(|l| near(l.at)).cloned().collect(),
            worst: self.worst.filter(|w| near(w.meant)),
        }
    }

    /// All groups where their first copies lie.
    #[must_use]
    pub fn laid(groups: &[Self], layout: &Layout) -> Self {
        let mut all = Self::default();
        for (i, seen) in groups.iter().enumerate() {
            let Some(place) = layout.placements.iter().find(|p| p.piece == i) else {
                continue;
            };
            let moved = seen.moved(place);
            all.traced.extend(moved.traced);
            all.labels.extend(moved.labels);
            let further = |w: &Worst| all.worst.is_none_or(|a| w.distance() > a.distance());
            all.worst = moved.worst.filter(further).or(all.worst);
        }
        all
    }

    fn moved(&self, place: &Placement) -> Self {
        let carry = |p: &Point| place.carry(*p);
        Self {
            traced: (self.traced.iter())
                .map(|s| s.iter().map(carry).collect())
                .collect(),
            labels: (self.labels.iter())
                .map(|l| Label {
                    at: carry(&l.at),
                    ..l.clone()
                })
                .collect(),
            worst: self.worst.map(|w| Worst {
                traced: carry(&w.traced),
                meant: carry(&w.meant),
            }),
        }
    }
}

/// The strokes with no more points than are worth drawing.
fn thinned(trace: &Trace) -> Vec<Vec<Point>> {
    let step = trace.point_count().div_ceil(MOST_POINTS).max(1);
    let stroke = |points: &[Point]| {
        let last = points
            .last()
            .filter(|_| !(points.len().wrapping_sub(1)).is_multiple_of(step));
        points.iter().step_by(step).chain(last).copied().collect()
    };
    trace.strokes.iter().map(|s| stroke(&s.points)).collect()
}

/// The place of the hand's line that lies furthest from the outline, spikes and overruns left out: they lie
/// further off than the loop says its trace does.
fn worst(outline: &Outline, traced: &[Vec<Point>]) -> Option<Worst> {
    let edges: Vec<(usize, Edge)> = (outline.loops.iter().enumerate())
        .filter(|(_, l)| l.deviation.is_some())
        .flat_map(|(i, l)| l.path.edges().into_iter().map(move |e| (i, e)))
        .collect();
    let points = traced.iter().filter(|s| s.len() > 1).flatten();
    if edges.len().saturating_mul(points.clone().count()) > MOST_PAIRS {
        return None;
    }
    let nearest = |p: &Point| {
        let of = edges.iter().map(|(i, e)| (*i, e.nearest(*p).0));
        of.min_by(|a, b| a.1.distance(*p).total_cmp(&b.1.distance(*p)))
    };
    let own = |i: usize| {
        outline
            .loops
            .get(i)
            .and_then(|l| l.deviation)
            .map_or(0.0, |d| d.max)
    };
    points
        .filter_map(|p| {
            let (i, meant) = nearest(p)?;
            let worst = Worst { traced: *p, meant };
            (worst.distance() <= 1.05 * own(i) + 0.01).then_some(worst)
        })
        .max_by(|a, b| a.distance().total_cmp(&b.distance()))
}

/// Every size as words; what is said twice at one place is said once.
fn sizes(sizes: &[Size], units: Units) -> Vec<Label> {
    let mut all: Vec<Label> = Vec::new();
    for size in sizes {
        let label = Label {
            at: size.at,
            text: size.figure(units),
            kind: LabelKind::Size,
        };
        if !all.contains(&label) {
            all.push(label);
        }
    }
    all
}

pub(super) fn length(mm: f64, units: Units) -> String {
    match units {
        Units::Mm => format!("{mm:.1}"),
        Units::Inch => format!("{:.3}", mm / units.in_mm()),
    }
}
