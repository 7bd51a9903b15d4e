//! Which of all lines is the outline, and which is something else.
//!
//! A closed line as wide and as dark as the plainest one is taken; what crosses it, lies beside it open,
//! or is small and in company (writing) is left out and told. Only where nothing is closed are open lines
//! taken, the longest and those like it. Dots inside a closed line are marks.

use super::Watch;
use super::chains::chains;
use super::flat::Area;
use super::flat::Flat;
use super::grid::{Grid, quantile};
use super::ink::{Ink, Pieces, Tint, WIDTHS, inks};
use super::profile::{Light, Measured, measure};
use super::thin::Mask;
use crate::Refusal;
use crate::geom::{Point, Sorted as _, Vec2};
use std::collections::BTreeSet;

/// Shorter closed lines are none, mm.
const SHORTEST: f64 = 18.0;
/// Closed lines smaller than this that stand in company are writing, mm.
const LETTER: f64 = 18.0;
/// Widest gap that is bridged, mm beside three widths.
const GAP: f64 = 4.0;

/// The lines that were found, and the light they are measured in.
pub(super) struct Lines {
    pub tint: Tint,
    pub dark: bool,
    pub taken: Vec<Measured>,
    pub dots: Vec<Point>,
    /// What was left out: how many, and where the largest is.
    pub left: Vec<Point>,
    /// Nothing was closed.
    pub open: bool,
    /// Where an open line runs that is longer than all that were taken, and like them.
    pub broken: Option<Point>,
    /// Closed lines inside one that was taken which were left out as too small or as letters.
    pub small: Vec<Point>,
    score: f64,
}

impl Lines {
    fn is_plain(&self) -> bool {
        !self.open && self.broken.is_none() && self.taken.iter().all(|m| m.share > 0.7)
    }
}

/// Finds the lines of a flat picture within what `keep` allows.
pub(super) fn find(
    flat: &Flat,
    keep: &dyn Fn(Point) -> bool,
    watch: &mut Watch,
) -> Result<Lines, Refusal> {
    let mut best: Option<Lines> = None;
    'all: for (i, tint) in Tint::ALL.into_iter().enumerate() {
        let light = tint.light(flat);
        for (k, scale) in WIDTHS.into_iter().enumerate() {
            for ink in inks(flat, &light, scale, keep) {
                let lines = of_ink(flat, &light, &ink, tint);
                if lines.score > best.as_ref().map_or(0.0, |b| b.score) {
                    best = Some(lines);
                }
            }
            watch.at(0.45 + 0.13 * i as f64 + 0.03 * k as f64)?;
            // A closed line that is seen well all along is what is looked for; other widths and colours are
            // asked only where there is none.
            if best.as_ref().is_some_and(Lines::is_plain) {
                break 'all;
            }
        }
        // A guide line that is longer than the outline is one in every colour.
        if best
            .as_ref()
            .is_some_and(|b| !b.open && b.taken.iter().all(|m| m.share > 0.7))
        {
            break;
        }
    }
    best.ok_or_else(|| {
        Refusal::Trace("no line is seen: draw it 1 to 5 mm wide, darker or brighter than the plate all along, and take the picture nearer or in even light".into())
    })
}

/// A chain that was measured, with how strong its ink is.
struct One {
    line: Measured,
    /// The pieces of ink it runs on, by number.
    on: BTreeSet<u32>,
    strength: f32,
    length: f64,
    extent: f64,
}

fn of_ink(flat: &Flat, light: &Grid, ink: &Ink, tint: Tint) -> Lines {
    let pixel = flat.step * ink.by as f64;
    let mut bits = ink.mask.clone();
    let mut mask = Mask {
        bits: &mut bits,
        wide: ink.width,
    };
    mask.fill((0.5 * ink.scale * ink.scale / (pixel * pixel)) as usize + 2);
    let pieces = Pieces::of(mask.bits, ink.width);
    let dots = dots(flat, ink, &pieces);
    // Scratches and scribed lines go.
    mask.open((0.2 * ink.scale / pixel) as usize);
    let area = mask.bits.iter().filter(|b| **b).count();
    mask.thin();
    // A skeleton's steps are a fifth longer than its pixels, slanting and straight together.
    let long = 1.15 * mask.bits.iter().filter(|b| **b).count() as f64;
    let wide =
        (area as f64 / long.max(1.0)).clamp(0.3 * ink.scale / pixel, 2.0 * ink.scale / pixel);
    let found = chains(
        mask.bits,
        ink.width,
        wide.max(3.0),
        3.0 * wide + GAP / pixel,
    );
    let sign = if ink.dark { 1.0 } else { -1.0 };
    let light = Light {
        flat,
        grid: light,
        sign,
    };
    let mut all: Vec<One> = Vec::new();
    for chain in &found {
        let length = pixel * chain.points.len() as f64;
        if length < 0.5 * SHORTEST {
            continue;
        }
        let mut adds: Vec<f32> = chain.points.iter().map(|p| ink.adds.between(*p)).collect();
        let path: Vec<Point> = chain
            .points
            .iter()
            .map(|p| flat.plate(p.x, p.y, ink.by))
            .collect();
        if let Some(line) = measure(&light, &path, chain.closed, wide * pixel) {
            let area = bounds(&line);
            let piece = |p: &Point| pieces.of.get(p.y as usize * ink.width + p.x as usize);
            all.push(One {
                on: chain.points.iter().filter_map(piece).copied().collect(),
                strength: quantile(&mut adds, 0.4),
                length,
                extent: (area.high.x - area.low.x).max(area.high.y - area.low.y),
                line,
            });
        }
    }
    chosen(all, dots, tint, ink, &pieces, flat)
}

fn bounds(line: &Measured) -> Area {
    let start = line.places.first().map_or(Point::new(0.0, 0.0), |p| p.at);
    line.places.iter().fold(
        Area {
            low: start,
            high: start,
        },
        |a, p| Area {
            low: Point::new(a.low.x.min(p.at.x), a.low.y.min(p.at.y)),
            high: Point::new(a.high.x.max(p.at.x), a.high.y.max(p.at.y)),
        },
    )
}

/// How much a line looks like the outline.
fn worth(one: &One) -> f64 {
    let tidy = 1.0 / (1.0 + one.line.scatter / (0.03 * one.line.width + 0.03));
    one.length.min(1500.0)
        * one.line.share
        * one.line.share
        * f64::from(one.strength.min(1.5))
        * (0.4 + tidy)
}

fn chosen(
    mut all: Vec<One>,
    dots: Vec<Dot>,
    tint: Tint,
    ink: &Ink,
    pieces: &Pieces,
    flat: &Flat,
) -> Lines {
    all.order_by(|a, b| worth(b).total_cmp(&worth(a)));
    let is_loop = |o: &One| o.line.closed && o.length > SHORTEST && o.line.share > 0.4;
    let closed = all.iter().any(|o| is_loop(o) && o.length > 30.0);
    let main = all
        .iter()
        .find(|o| !closed || (is_loop(o) && o.length > 30.0));
    let Some((width, strength, longest)) = main.map(|m| (m.line.width, m.strength, m.length))
    else {
        return Lines {
            tint,
            dark: ink.dark,
            taken: Vec::new(),
            dots: Vec::new(),
            left: Vec::new(),
            open: true,
            broken: None,
            small: Vec::new(),
            score: 0.0,
        };
    };
    let (mut taken, mut left) = (Vec::new(), Vec::new());
    let mut score = main.map_or(0.0, |m| if closed { 0.0 } else { 0.15 * worth(m) });
    let mut broken = None;
    let mut small = Vec::new();
    let rings = all.iter().filter(|o| o.line.closed);
    let among = Among {
        pieces,
        ink,
        flat,
        rings: rings.flat_map(|o| o.on.iter().copied()).collect(),
    };
    for one in all {
        let like = (one.line.width / width - 1.0).abs() < 0.4
            && one.strength > 0.45 * strength
            && one.line.share > 0.5;
        // Nobody writes an O so round as a hole is.
        let beside = match one.extent < LETTER && !is_round(&one.line) {
            true => company(&one, &among),
            false => (0, 0),
        };
        let fits = match closed {
            true => is_loop(&one) && beside == (0, 0),
            false => one.length > (0.3 * longest).max(20.0),
        };
        let place = one.line.places.get(one.line.places.len() / 2).map(|p| p.at);
        if fits && (like || one.length >= longest) {
            if closed {
                score += worth(&one);
            }
            taken.push(one.line);
        } else if one.strength > 0.45 * strength {
            if closed && like && !one.line.closed && one.length > longest {
                broken = broken.or(place);
            }
            // Writing has strokes that are open.
            if like && one.line.closed && beside.0 < 2 {
                small.extend(place);
            }
            left.extend(place);
        }
    }
    let inside = |p: &Point| taken.iter().any(|m| m.closed && encloses(m, *p));
    let dots = dots
        .into_iter()
        .filter(|d| d.strength > 0.6 * strength && d.wide > 0.7 * width && d.wide < 3.0 * width)
        .map(|d| d.at)
        .filter(|p| inside(p) || !closed)
        .collect();
    small.retain(inside);
    Lines {
        tint,
        dark: ink.dark,
        taken,
        dots,
        left,
        open: !closed,
        broken,
        small,
        score,
    }
}

/// Whether a point lies inside a closed line.
pub(super) fn encloses(line: &Measured, p: Point) -> bool {
    let ends = line.places.iter().zip(line.places.iter().cycle().skip(1));
    let crossed = ends.filter(|(a, b)| {
        let (a, b) = (a.at, b.at);
        (a.y > p.y) != (b.y > p.y) && p.x < a.x + (p.y - a.y) / (b.y - a.y) * (b.x - a.x)
    });
    crossed.count() % 2 == 1
}

/// How many small pieces of like ink, open ones and rings, stand beside a small line as letters do.
fn company(one: &One, all: &Among) -> (usize, usize) {
    let near = bounds(&one.line).grown(0.9 * one.extent);
    let Among {
        pieces, ink, flat, ..
    } = all;
    let is_near = |i: &u32| {
        let (x, y) = (i % ink.width as u32, i / ink.width as u32);
        near.holds(flat.plate(f64::from(x), f64::from(y), ink.by))
    };
    let is_letter = |number: u32, piece: &[u32]| {
        let (w, h) = pieces.extent(piece);
        let extent = w.max(h) as f64 * flat.step * ink.by as f64;
        let like = extent < LETTER && extent < 3.0 * one.extent && extent > 0.25 * one.extent;
        like && !one.on.contains(&number) && piece.iter().any(is_near) && {
            let adds = piece
                .iter()
                .filter_map(|i| ink.adds.values.get(*i as usize));
            let mut adds: Vec<f32> = adds.copied().collect();
            quantile(&mut adds, 0.5) > 0.45 * one.strength
        }
    };
    let numbered = (0..).zip(&pieces.pixels).skip(1);
    let letters = numbered.filter(|(number, piece)| is_letter(*number, piece));
    let (rings, open): (Vec<u32>, Vec<u32>) =
        letters.map(|l| l.0).partition(|n| all.rings.contains(n));
    (open.len(), rings.len())
}

/// The pieces that lines were found on.
struct Among<'a> {
    pieces: &'a Pieces,
    ink: &'a Ink,
    flat: &'a Flat,
    /// Those that hold closed lines.
    rings: BTreeSet<u32>,
}

/// Whether a closed line is a circle, but for a twelfth of its radius.
fn is_round(line: &Measured) -> bool {
    let sum = line
        .places
        .iter()
        .fold(Vec2::new(0.0, 0.0), |s, p| s + p.at.to_vec());
    let n = line.places.len().max(1) as f64;
    let middle = Point::new(sum.x / n, sum.y / n);
    let mut far: Vec<f32> = line
        .places
        .iter()
        .map(|p| p.at.distance(middle) as f32)
        .collect();
    quantile(&mut far, 0.97) - quantile(&mut far, 0.03) < quantile(&mut far, 0.5) / 6.0
}

/// A compact piece.
struct Dot {
    at: Point,
    wide: f64,
    strength: f32,
}

/// Compact pieces about as wide as the line.
fn dots(flat: &Flat, ink: &Ink, pieces: &Pieces) -> Vec<Dot> {
    let pixel = flat.step * ink.by as f64;
    let mut out = Vec::new();
    for piece in pieces.pixels.iter().skip(1) {
        let (w, h) = pieces.extent(piece);
        let (long, short) = (w.max(h) as f64 * pixel, w.min(h) as f64 * pixel);
        let full = piece.len() as f64 / (w * h) as f64;
        if long < 3.0 * ink.scale && long > 0.4 * ink.scale && short > 0.6 * long && full > 0.55 {
            let (mut sx, mut sy, mut weight) = (0.0, 0.0, 0.0);
            for i in piece {
                let v = f64::from(ink.adds.values.get(*i as usize).copied().unwrap_or(0.0));
                sx += v * f64::from(*i % ink.width as u32);
                sy += v * f64::from(*i / ink.width as u32);
                weight += v;
            }
            out.push(Dot {
                at: flat.plate(sx / weight, sy / weight, ink.by),
                wide: 0.5 * (long + short),
                strength: (weight / piece.len() as f64) as f32,
            });
        }
    }
    out
}
