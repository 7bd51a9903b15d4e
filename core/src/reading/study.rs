//! A path with all its readings, of every form and instrument that is possible.
//!
//! A path that may be closed or open is read as both; a line of which nobody says whether it was traced or drawn from
//! memory is read with both instruments. What leaves the line further than a hand that follows one is then only
//! offered: a line alone does not tell a badly drawn circle from a well traced oval, and what keeps to the line is
//! never far wrong.

use super::evidence::{Evidence, Instrument};
use super::measures::Measures;
use super::{faith, price, search, touched};
use crate::geom::{Point, Sorted as _};
use crate::outline::{Circle, Path};
use crate::relate::blocks::{Noise, Slow};
use crate::relate::constraint::Condition;
use crate::relate::equations::Problem;
use crate::relate::round::Round;
use crate::relate::solve::Solved;
use crate::report::Wander;
use crate::settings::{Hand, Settings};
use crate::trace::{CleanPath, PathKind, Stations};

/// One way of explaining a path.
#[derive(Clone, Debug)]
pub struct Reading {
    /// What the path is read as.
    pub course: Course,
    /// Conditions that hold.
    pub conditions: Vec<Condition>,
    /// What the price is made of.
    pub measures: Measures,
    /// What the line was made with, by this reading.
    pub instrument: Instrument,
    /// The slow error that the reading leaves the hand.
    pub slow: Slow,
    /// The price, nats.
    pub price: f64,
    /// Which form of the path it reads: 0 as cleaned, 1 the other way (open for closed).
    pub variant: usize,
    /// What speaks against that form of the path, part of the price.
    pub against: f64,
}

impl Reading {
    /// A reading of a path as cleaned.
    pub(super) fn new(
        course: Course,
        conditions: Vec<Condition>,
        measures: Measures,
        instrument: Instrument,
        evidence: &Evidence,
    ) -> Self {
        Self {
            course,
            conditions,
            price: price::of(&measures, instrument),
            measures,
            instrument,
            slow: Slow {
                size: evidence.slow,
                correlation: evidence.correlation,
            },
            variant: 0,
            against: 0.0,
        }
    }

    /// The solved chain, of a reading that is one.
    #[must_use]
    pub fn chain(&self) -> Option<&Solved> {
        match &self.course {
            Course::Chain(s) => Some(s),
            Course::Circle(_) => None,
        }
    }
}

/// What a path is read as.
#[derive(Clone, Debug)]
pub enum Course {
    /// A whole circle.
    Circle(Box<Round>),
    /// Edges meeting at corners.
    Chain(Box<Solved>),
}

impl Course {
    /// The outline path.
    #[must_use]
    pub fn path(&self, counter_clockwise: bool) -> Path {
        match self {
            Self::Circle(c) => Path::Circle(Circle {
                center: c.center,
                radius: c.radius,
                counter_clockwise,
            }),
            Self::Chain(s) => Path::Chain(s.figure.to_chain()),
        }
    }
}

/// A path with all its readings.
#[derive(Clone, Debug)]
pub struct Study {
    /// Readings, cheapest first.
    pub readings: Vec<Reading>,
    /// Stations of each form of the path (as cleaned, and the other way where that was read).
    pub forms: Vec<Stations>,
    /// The hand, on each form.
    pub hands: Vec<(Wander, Noise)>,
    /// Of each form, where the hand went besides: pieces gone over again, then what ran past the ends.
    pub(super) besides: Vec<[Vec<Point>; 2]>,
}

/// Below this sureness the other choice between closed and open is read as well.
const EVEN_SURENESS: f64 = 0.5;
/// What a unit of sureness is worth, in prices.
const PRICE_PER_SURENESS: f64 = 3.0;

impl Study {
    /// Reads a clean path: closed and open where either is possible, or where `both` asks for it.
    #[must_use]
    pub fn of(path: &CleanPath, settings: &Settings, both: bool) -> Self {
        if path.kind == PathKind::Touched {
            return touched::study(path, settings);
        }
        let mut out = Self {
            readings: Vec::new(),
            forms: Vec::new(),
            hands: Vec::new(),
            besides: Vec::new(),
        };
        out.read(path, settings, 0.0);
        if (both || path.ends.sureness.abs() < EVEN_SURENESS)
            && let Some(other) = path.other_way()
        {
            out.read(
                &other,
                settings,
                2.0 * PRICE_PER_SURENESS * path.ends.sureness.abs(),
            );
        }
        out.readings.order_by(|a, b| a.price.total_cmp(&b.price));
        out
    }

    /// The stations and the hand of one form of the path, ready to be solved.
    pub(super) fn problem(&self, variant: usize) -> Option<Problem<'_>> {
        let (_, noise) = self.hands.get(variant)?;
        Some(Problem::new(self.forms.get(variant)?, noise))
    }

    fn read(&mut self, path: &CleanPath, settings: &Settings, against: f64) {
        let along = |points: &[Point], closed: bool, bridged: &[usize]| {
            Stations::along(points, closed, bridged, path.step, settings.station)
        };
        let mut stations = along(&path.points, path.closed, &path.bridged);
        let (hand, noise) = search::hand_of(&stations, settings);
        let reach = settings.station + 3.0 * hand.size;
        let mut besides = [Vec::new(), Vec::new()];
        let again = path.again.iter().take(MOST_AGAIN).map(|p| (0, p));
        let ends = [&path.ends.before, &path.ends.after].map(|p| (1, p));
        for (which, piece) in again.chain(ends) {
            let pass = along(piece, false, &[]);
            stations.gone_over(&pass, reach);
            besides[which].extend(pass.points);
        }
        // Points in no order begin nowhere.
        stations.seam = (path.closed && path.kind != PathKind::Cloud).then_some(0);
        let instruments: &[(Instrument, f64)] = match settings.hand {
            Hand::Traced => &[(Instrument::Traced, 0.0)],
            Hand::Drawn => &[(Instrument::Drawn, 0.0)],
            Hand::Unsaid => &[(Instrument::Traced, 0.0), (Instrument::Drawn, DRAWN)],
        };
        // The price of the best that follows the line, and how near to it such a hand keeps.
        let mut followed: Option<(f64, f64)> = None;
        for &(instrument, seldom) in instruments {
            let variant = self.forms.len();
            let (readings, noise) = search::read_path(&stations, &noise, instrument);
            let keeps = |r: &&Reading| !faith::often_leaves(r, &stations, &noise);
            let (first, kept) = (readings.first(), readings.iter().find(keeps));
            let near = |r: &&Reading| first.is_some_and(|f| r.price < f.price + WORTH);
            let kept = kept.filter(near).or(first);
            let kept = kept.map(|r| (r.price + against, faith::following(r, &stations, &noise)));
            // Those that leave the line come after it together, as far apart as they are: the cheapest is met first.
            let mut later: Option<f64> = None;
            for r in readings {
                let own = r.price + against + seldom;
                let least = match followed {
                    Some((least, near)) => {
                        Some(least).filter(|_| faith::leaves(&r, &stations, near, &noise))
                    }
                    None => kept.map(|k| k.0).filter(|_| !keeps(&&r)),
                };
                let more = least.map_or(0.0, |least| {
                    *later.get_or_insert((least + LEAVES - own).max(0.0))
                });
                self.readings.push(Reading {
                    against: r.against + own + more - r.price,
                    price: own + more,
                    variant,
                    ..r
                });
            }
            followed = followed.or(kept);
            self.forms.push(stations.clone());
            self.hands.push((hand, noise));
            self.besides.push(besides.clone());
        }
    }
}

/// What is added to the price of a reading as drawn from memory where nobody says which it was, nats: the two rows of
/// prices have no common zero. So that of outlines traced few are lost (of drawings more).
const DRAWN: f64 = 25.0;

/// Where nobody says which it was, what was drawn from memory and leaves the line further than a hand that follows one
/// comes at least so much after the best that keeps to it, nats: it is offered, not taken. A line alone does not tell
/// a badly drawn circle from a well traced oval (a quarter of either is taken for the other), and what keeps to the
/// line is never far wrong.
const LEAVES: f64 = 4.5;

/// What is nobody's tracing, as it leaves the line again and again, is only offered where another reading keeps to the
/// line and costs no more than this besides, nats: the edges of a gear cost more than all that a circle misses.
const WORTH: f64 = 200.0;

/// Of a line that was gone over more often the rest is left out: each time costs a look at all stations.
const MOST_AGAIN: usize = 64;
