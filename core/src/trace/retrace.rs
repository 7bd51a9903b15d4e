//! Going back over a bit of line, spurs past a corner, and lines drawn there and back.
//!
//! A hand that loses the line goes back a little and draws the piece again: forwards, backwards,
//! forwards. It also runs past a corner and comes back, and it may draw a single line there and
//! back without lifting. All three begin with a *reversal*: a place where the direction over a
//! short lag turns by more than 125°. Reversals are rare, so finding them first keeps everything
//! linear in the number of points, and it is what tells a retraced piece from a thin part of the
//! figure: a narrow slot turns back once, a retraced piece twice, and both its passes run the way
//! the line runs.
//!
//! 1. *Piece drawn again*: two reversals r1 < r2 whose strip between lies along the path before r1
//!    and along the path after r2, those two running the same way. Cut from the place abreast of
//!    the strip's middle on the first pass to the same place on the last.
//! 2. *Spur*: around one reversal both sides run together for a little way. Cut where they part.
//!    Short by rule: what runs together for longer is a line there and back.
//! 3. *Fold*: the shorter side of one reversal, all of it, lies along the longer side: drop the
//!    shorter side. But not where the path's other end meets it and runs on: then it is a loop that
//!    was begun in a slit or in a narrow tab.
//!
//! Fails on: a piece gone over five times and more in one place (each round removes one), a retraced
//! piece longer than 40 mm, teeth of a zigzag closer together than the hand is steady.

use super::measure::{at, lengths};
use crate::geom::{Line, Point, Vec2};

/// Cosine of the turn past which a place is a reversal.
const REVERSAL: f64 = -0.57;
/// Longest piece drawn again, mm of the backward strip.
const LONGEST_PIECE: f64 = 40.0;
/// Longest spur, mm from tip to foot.
pub(super) const LONGEST_SPUR: f64 = 10.0;

/// What was taken out.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Retraced {
    /// Pieces drawn again and spurs.
    pub(super) pieces: usize,
    /// The line came back along itself and its shorter side was dropped.
    pub(super) folded: bool,
    /// Where the first of these was.
    pub(super) place: Option<Point>,
    /// What was taken out of pieces and folds, which lies along the line that is left, and long spurs.
    pub(super) again: Vec<Vec<Point>>,
}

/// A spur, there and back, of more than so many units is no slip past a corner.
const LONG_SPUR: f64 = 8.0;

/// The points `from..to` that go.
#[derive(Clone, Copy)]
pub(super) struct Cut {
    pub(super) from: usize,
    pub(super) to: usize,
    /// They lie along the line that is left, and not beside it.
    pub(super) along: bool,
}

/// A run with its lengths, and how close counts as "along".
pub(super) struct Run<'a> {
    pub(super) points: &'a [Point],
    cum: &'a [f64],
    pub(super) unit: f64,
    pub(super) along: f64,
    lag: f64,
}

/// Removes retraced pieces, spurs and folds in place; `bridged` are steps that were not traced, ascending,
/// and stay those of the points that are left.
pub(super) fn remove(
    points: &mut Vec<Point>,
    bridged: &mut Vec<usize>,
    unit: f64,
    step: f64,
    jitter: f64,
    span: f64,
) -> Retraced {
    let mut out = Retraced::default();
    // A hand that trembles turns back on itself over short lags all the time: longer lags see through it.
    let mut scales = [1.0, 2.0, 3.5].into_iter();
    let Some(mut scale) = scales.next() else {
        return out;
    };
    let mut cum = lengths(points);
    for _ in 0..12 {
        let cuts = {
            let run = Run::new(points, &cum, (unit, step, jitter), scale);
            let reversals = run.reversals();
            match run.fold(&reversals, span) {
                Some((from, to)) => {
                    out.folded = true;
                    let along = true;
                    vec![Cut { from, to, along }]
                }
                None => run.cuts(&reversals),
            }
        };
        let Some(first) = cuts.first() else {
            match scales.next() {
                Some(longer) => scale = longer,
                None => return out,
            }
            continue;
        };
        out.place = out.place.or(points.get(first.from).copied());
        out.pieces += cuts.len();
        // A long spur may be the end of a slit: what is not there any more is held against the outline.
        let long = |c: &&Cut| {
            let end = |i: usize| cum.get(i).copied().unwrap_or_default();
            c.along || end(c.to) - end(c.from) > LONG_SPUR * unit
        };
        let kept = cuts.iter().filter(long);
        let pieces = kept.filter_map(|c| points.get(c.from..c.to));
        out.again.extend(pieces.map(<[Point]>::to_vec));
        drop_ranges(points, bridged, &cuts);
        cum = lengths(points);
    }
    out
}

/// Drops the points of the cuts, which ascend and do not overlap, and the bridged steps from or to them.
pub(super) fn drop_ranges(points: &mut Vec<Point>, bridged: &mut Vec<usize>, cuts: &[Cut]) {
    let (mut next, mut gone) = (cuts.iter().copied().peekable(), 0);
    bridged.retain_mut(|i| {
        while let Some(c) = next.next_if(|c| c.to <= *i) {
            gone += c.to - c.from;
        }
        let kept = next.peek().is_none_or(|c| *i + 1 < c.from);
        *i -= gone;
        kept
    });
    let mut index = 0;
    let mut next = cuts.iter().copied().peekable();
    points.retain(|_| {
        let i = index;
        index += 1;
        while next.peek().is_some_and(|c| c.to <= i) {
            next.next();
        }
        next.peek().is_none_or(|c| i < c.from)
    });
}

impl<'a> Run<'a> {
    pub(super) fn new(
        points: &'a [Point],
        cum: &'a [f64],
        (unit, step, jitter): (f64, f64, f64),
        scale: f64,
    ) -> Self {
        let s = jitter.clamp(0.25 * unit, 1.4 * unit);
        Self {
            points,
            cum,
            unit,
            along: unit + 3.0 * s,
            lag: scale * (1.5 * unit).max(1.1 * step).max(2.0 * s),
        }
    }

    pub(super) fn cum(&self, i: usize) -> f64 {
        self.cum.get(i).copied().unwrap_or_default()
    }

    pub(super) fn last(&self) -> usize {
        self.points.len().saturating_sub(1)
    }

    /// The first index at least `reach` mm behind `i`, or 0.
    pub(super) fn behind(&self, i: usize, reach: f64) -> usize {
        let want = self.cum(i) - reach;
        (0..i).rev().find(|&k| self.cum(k) <= want).unwrap_or(0)
    }

    /// The first index at least `reach` mm ahead of `i`, or the last.
    pub(super) fn ahead(&self, i: usize, reach: f64) -> usize {
        let want = self.cum(i) + reach;
        (i..=self.last())
            .find(|&k| self.cum(k) >= want)
            .unwrap_or(self.last())
    }

    /// The place `reach` mm ahead of `i` along the path.
    fn place(&self, i: usize, reach: f64) -> Point {
        let k = self.ahead(i, reach);
        let before = k.saturating_sub(1).max(i);
        let step = self.cum(k) - self.cum(before);
        let t = (self.cum(i) + reach - self.cum(before)) / step.max(f64::MIN_POSITIVE);
        at(self.points, before).lerp(at(self.points, k), t.clamp(0.0, 1.0))
    }

    /// Unit direction of travel from `a` to `b`.
    fn direction(&self, a: usize, b: usize) -> Vec2 {
        (at(self.points, b) - at(self.points, a))
            .unit()
            .unwrap_or_default()
    }

    /// Local minima of the cosine of the turn over the lag, where it is a reversal.
    pub(super) fn reversals(&self) -> Vec<usize> {
        let mut found: Vec<(usize, f64)> = Vec::new();
        let (mut back, mut fore) = (0, 0);
        for i in 1..self.last() {
            while back + 1 < i && self.cum(i) - self.cum(back + 1) >= self.lag {
                back += 1;
            }
            while fore < self.last() && self.cum(fore) - self.cum(i) < self.lag {
                fore += 1;
            }
            let p = at(self.points, i);
            let (u, v) = (p - at(self.points, back), at(self.points, fore) - p);
            // Normalised first: a cosine, not a product of lengths.
            let size = (u.length_squared() * v.length_squared()).sqrt();
            if size <= 0.0 || u.dot(v) > REVERSAL * size {
                continue;
            }
            let cosine = u.dot(v) / size;
            match found.last_mut() {
                Some(f) if self.cum(i) - self.cum(f.0) < self.lag => {
                    if cosine < f.1 {
                        *f = (i, cosine);
                    }
                }
                _ => found.push((i, cosine)),
            }
        }
        found.into_iter().map(|(i, _)| i).collect()
    }

    /// Pieces drawn again and spurs, ascending, not overlapping.
    fn cuts(&self, reversals: &[usize]) -> Vec<Cut> {
        let mut cuts: Vec<Cut> = Vec::new();
        for (k, &r1) in reversals.iter().enumerate() {
            if cuts.last().is_some_and(|c| r1 <= c.to) {
                continue;
            }
            let near = reversals
                .get(k + 1..)
                .unwrap_or_default()
                .iter()
                .take(6)
                .take_while(|&&r2| self.cum(r2) - self.cum(r1) < LONGEST_PIECE * self.unit);
            let near: Vec<usize> = near.copied().collect();
            let piece = near.iter().rev().find_map(|&r2| self.piece(r1, r2));
            if let Some((from, to)) = piece.or_else(|| self.spur(r1))
                && cuts.last().is_none_or(|c| from > c.to)
            {
                let along = piece.is_some();
                cuts.push(Cut { from, to, along });
            }
        }
        cuts
    }

    /// Nearest step to `p` among those between the points `first..=last`: its number and distance.
    /// Steps rather than points, since pens are sparse and samples get lost.
    pub(super) fn nearest(&self, p: Point, first: usize, last: usize) -> (usize, f64) {
        let run = self.points.get(first..=last).unwrap_or_default();
        let off = |w: &[Point]| match w {
            &[from, to] => (Line { from, to }.nearest(p).0 - p).length_squared(),
            _ => f64::MAX,
        };
        let closer = |best: (usize, f64), (k, w): (usize, &[Point])| {
            let d = off(w);
            if d < best.1 { (first + k, d) } else { best }
        };
        let (i, d) = run.windows(2).enumerate().fold((first, f64::MAX), closer);
        (i, d.sqrt())
    }

    /// The cut for the strip between two reversals, if it is a piece drawn again.
    fn piece(&self, r1: usize, r2: usize) -> Option<(usize, usize)> {
        let strip = self.cum(r2) - self.cum(r1);
        let (low, high) = (self.behind(r1, 1.3 * strip), self.ahead(r2, 1.3 * strip));
        let middle = self.place(r1, 0.5 * strip);
        let (a, b) = (
            self.nearest(middle, low, r1).0,
            self.nearest(middle, r2, high).0 + 1,
        );
        let first = self.direction(
            self.behind(a, self.lag),
            self.ahead(a + 1, self.lag).min(r1),
        );
        let back = self.direction(r1, r2);
        let again = self.direction(
            self.behind(b.saturating_sub(1), self.lag).max(r2),
            self.ahead(b, self.lag),
        );
        let against = first.dot(back).max(again.dot(back));
        if first.dot(again) < 0.3 || against > -0.3 || b <= a + 1 {
            return None;
        }
        // A plain there-and-back-and-there may lie further apart: nothing meant looks so.
        let (share, most) = if against < -0.75 {
            (0.32, 4.5)
        } else {
            (0.25, 3.0)
        };
        let along = self
            .along
            .min(0.6 * strip)
            .max((share * strip).min(most * self.unit));
        // The strip, at five places, lies along both passes.
        let lies = |share: f64| {
            let p = self.place(r1, share * strip);
            self.nearest(p, low, r1).1 <= along && self.nearest(p, r2, high).1 <= along
        };
        [0.2, 0.35, 0.5, 0.65, 0.8]
            .into_iter()
            .all(lies)
            .then_some((a + 1, b))
    }

    /// The cut that removes a spur with its tip at `r`: both sides run together and then part.
    fn spur(&self, r: usize) -> Option<(usize, usize)> {
        let together = 0.5 * self.along;
        let mut foot = None;
        let stride = 0.5 * self.unit;
        let mut s = stride;
        while s <= 2.0 * LONGEST_SPUR * self.unit {
            let a = self.behind(r, s);
            if a == 0 {
                return None;
            }
            let (b, d) = self.nearest(at(self.points, a), r, self.ahead(r, s + 2.0 * self.unit));
            let b = b + 1;
            if b >= self.last() {
                return None;
            }
            if d > together {
                break;
            }
            foot = Some((a, b, s));
            s += stride.max(self.cum(r) - self.cum(a) - s + 1e-9 * self.unit);
        }
        let (a, b, s) = foot?;
        let long_enough = s > 2.5 * self.unit.max(self.lag);
        (long_enough && s < LONGEST_SPUR * self.unit && b > a + 1).then_some((a + 1, b))
    }

    /// The range to drop when all of the shorter side of a reversal lies along the longer side.
    fn fold(&self, reversals: &[usize], span: f64) -> Option<(usize, usize)> {
        let total = self.cum(self.last());
        let along = self.along.max(0.03 * span);
        reversals.iter().find_map(|&r| {
            let (front, rear) = (self.cum(r), total - self.cum(r));
            let shorter = front.min(rear);
            if shorter < 3.0 * along {
                return None;
            }
            let (low, high) = (self.behind(r, 1.2 * shorter), self.ahead(r, 1.2 * shorter));
            let side = |share: f64| {
                let reach = share * shorter;
                let p = if rear <= front {
                    at(self.points, self.ahead(r, reach))
                } else {
                    at(self.points, self.behind(r, reach))
                };
                let (first, last) = if rear <= front { (low, r) } else { (r, high) };
                self.nearest(p, first, last).1 <= along
            };
            if !(1..=12).all(|k| side(f64::from(k) / 12.0)) || self.runs_round(r, rear <= front) {
                return None;
            }
            Some(if rear <= front {
                (r + 1, self.points.len())
            } else {
                (0, r)
            })
        })
    }

    /// Whether the side after the reversal `r`, or else the one before it, goes on in the other end of the path: the
    /// two meet and do not turn back on one another.
    fn runs_round(&self, r: usize, rear: bool) -> bool {
        let last = self.last();
        // What the ends of a loop miss one another by.
        let missed = 3.0 * self.along + 2.0 * self.lag;
        let (end, side) = if rear { (0, (r, last)) } else { (last, (0, r)) };
        let (meets, off) = self.nearest(at(self.points, end), side.0, side.1);
        let way = |i: usize| self.direction(self.behind(i, self.lag), self.ahead(i, self.lag));
        off <= missed && way(end).dot(way(meets)) > -0.5
    }
}
