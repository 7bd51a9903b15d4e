//! A test piece for a new sheet, and what calipers on it say.
//!
//! The book's figures are for new consumables and a machine that keeps its speed. The coupon finds
//! the sheet's own: cut it, look, measure, and keep what was found in the material file.
//!
//! ```text
//! ┌──────────────────────────────┐   rungs: short cuts, each at its own feed; as many notches
//! │ │    │     │      ┌────┐ │    │   in the edge below a rung as its number
//! │ │    │     │      │plug│ │slot   plug: cut along its own line, so it comes out one kerf small
//! │ │    │     │      └────┘ │    │   and its hole one kerf large
//! └n────nn────nnn───────────────┘   slot: one cut, one kerf wide
//!        square (a piece of its own)   square: four sides and two diagonals to measure
//! ```
//!
//! From `hole − plug = 2·kerf` the kerf comes out with half the caliper's error of one length, whatever the machine's
//! scale; the slot's width gives it again by itself. Both are weighed by their errors, and said to
//! contradict each other where they differ by more than three deviations. Which rung is best is for
//! the eye: least dross, straight lines leaning a little back (common practice).
//!
//! What it cannot say: the kerf changes with feed and with worn consumables. Measure the slot and plug cut at
//! the feed that will be used: cut the coupon again with the chosen feed as the middle one.

mod sheet;

pub use sheet::{read_sheet, sheet};

use crate::Refusal;
use crate::cut::ranges::{figure_doubt, kerf_doubt};
use crate::cut::{CutSettings, Material, Plan, WarningKind, plan};
use crate::geom::Point;
use crate::machine::{Measured, SquareFit, squareness};
use crate::outline::{Chain, Loop, Outline, Path, Role, Shape};
use crate::report::{About, Doubt};

/// Most rungs of the ladder: more notches than that nobody counts.
pub const MAX_RUNGS: usize = 9;
/// Length of a rung and of the slot, mm.
const RUNG: f64 = 30.0;
/// Side of the plug along the torch's path, mm.
pub const PLUG: f64 = 30.0;
/// Side of the square, mm.
pub const SQUARE: f64 = 100.0;
/// Depth of a notch, mm.
const NOTCH: f64 = 5.0;
/// Metal round everything, mm.
const RIM: f64 = 12.0;
/// A kerf so many times as wide as the book's, or as narrow, is hardly one.
const LIKE: f64 = 1.6;
const Z95: f64 = 1.959_963_984_540_054;

/// The ladder.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CouponSettings {
    /// Feed of the first rung, mm/min.
    pub feed_from: f64,
    /// Feed of the last rung, mm/min.
    pub feed_to: f64,
    /// How many rungs, 2 to [`MAX_RUNGS`].
    pub rungs: usize,
}

/// The coupon ready to cut.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub struct Coupon {
    /// What is cut: the piece with its notches, the rungs, the slot, the plug, the square.
    pub outline: Outline,
    /// The plan; each rung has its own feed.
    pub plan: Plan,
    /// Feed of each rung in order of its notches, mm/min.
    pub feeds: Vec<f64>,
}

/// What was measured on a cut coupon, mm.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct CouponMeasured {
    /// The rung that looks best, counted from 1 by its notches.
    pub rung: Option<usize>,
    /// Width of the slot.
    pub slot: Option<f64>,
    /// Side of the plug that fell out (the mean of both ways).
    pub plug: Option<f64>,
    /// Side of the hole it left (the mean of both ways).
    pub hole: Option<f64>,
    /// Four sides of the square: bottom, right, top, left.
    pub sides: Option<[f64; 4]>,
    /// Its diagonals: rising, falling.
    pub diagonals: Option<[f64; 2]>,
    /// Standard deviation of one caliper reading.
    pub caliper: f64,
    /// What it was cut with: kerf, pierce delay, s, and thickness.
    pub cut_with: CutWith,
}

/// Figures of the cutter's book that a coupon was cut with, as far as its sheet says.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct CutWith {
    /// Width of the cut, mm.
    pub kerf: Option<f64>,
    /// Pierce delay, s.
    pub pierce: Option<f64>,
    /// Thickness of the plate, mm.
    pub thickness: Option<f64>,
}

/// What the coupon says.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub struct CouponSays {
    /// Width of the cut with its ± (95 %), mm.
    pub kerf: Option<(f64, f64)>,
    /// Feed of the chosen rung, mm/min.
    pub feed: Option<f64>,
    /// The machine's scale and squareness.
    pub square: Option<SquareFit>,
    /// Sentences.
    pub notes: Vec<String>,
    /// What speaks against the figures: while one stands they had better not be kept.
    pub doubts: Vec<Doubt>,
}

impl CouponSays {
    /// The row of a material file that this amounts to.
    #[must_use]
    pub fn row(&self, name: &str, m: &CouponMeasured) -> Material {
        Material {
            name: name.to_owned(),
            thickness: m.cut_with.thickness,
            kerf: self.kerf.map(|k| k.0),
            feed: self.feed,
            pierce: m.cut_with.pierce,
            density: None,
        }
    }
}

/// Feeds of the rungs, even from first to last.
///
/// # Errors
/// Refuses feeds that are none and numbers of rungs that nobody could count.
pub fn feeds(s: &CouponSettings) -> Result<Vec<f64>, Refusal> {
    for feed in [s.feed_from, s.feed_to] {
        if !(feed > 0.0 && feed <= 1e5) {
            return Err(Refusal::Setting(format!(
                "a feed of {feed} mm/min is none: it must be over 0 and at most 100000"
            )));
        }
    }
    if !(2..=MAX_RUNGS).contains(&s.rungs) {
        return Err(Refusal::Setting(format!(
            "{} rungs: there must be 2 to {MAX_RUNGS}",
            s.rungs
        )));
    }
    let step = (s.feed_to - s.feed_from) / (s.rungs - 1) as f64;
    Ok((0..s.rungs)
        .map(|i| libm::round(s.feed_from + step * i as f64))
        .collect())
}

/// The coupon, with its lower left corner at the origin, and its plan. `cut` holds kerf (as the book says it),
/// pierce delay and thickness; its feed is used for everything but the rungs.
///
/// # Errors
/// What [`feeds`] and [`plan`] refuse.
pub fn coupon(s: &CouponSettings, cut: &CutSettings) -> Result<Coupon, Refusal> {
    let feeds = feeds(s)?;
    cut.check()?;
    // A notch must stay open at this kerf, and metal must stand between two.
    let notch = (2.5 * cut.kerf).max(4.0);
    let mut outline = Outline::default();
    let mut edge: Vec<Point> = vec![Point::new(0.0, 0.0)];
    let mut x = RIM;
    let (low, high) = (RIM + NOTCH, RIM + NOTCH + RUNG);
    let mut rungs = Vec::new();
    for number in 1..=feeds.len() {
        let width = notch * (2 * number - 1) as f64;
        for i in 0..number {
            let at = x + notch * (2 * i) as f64;
            edge.extend(
                [
                    (at, 0.0),
                    (at, NOTCH),
                    (at + notch, NOTCH),
                    (at + notch, 0.0),
                ]
                .map(point),
            );
        }
        rungs.push(outline.loops.len());
        let middle = x + 0.5 * width;
        outline.loops.push(open(&[(middle, low), (middle, high)]));
        x += width + RIM;
    }
    let slot = x;
    outline.loops.push(open(&[(slot, low), (slot, high)]));
    x += RIM;
    // The plug starts a quarter along a side: its corners stay clean, and so do the middles of its
    // sides, where the calipers go.
    let (left, right, top) = (x, x + PLUG, low + PLUG);
    let start = left + 0.25 * PLUG;
    outline.loops.push(open(&[
        (start, low),
        (right, low),
        (right, top),
        (left, top),
        (left, low),
        (start, low),
    ]));
    let (width, height) = (right + RIM, top + RIM);
    edge.extend([(width, 0.0), (width, height), (0.0, height)].map(point));
    outline.loops.push(part(edge));
    let up = height + RIM + 2.0 * cut.lead_length() + cut.kerf;
    let square = [
        (0.0, up),
        (SQUARE, up),
        (SQUARE, up + SQUARE),
        (0.0, up + SQUARE),
    ]
    .map(point);
    outline.loops.push(part(square.to_vec()));
    let mut made = plan(&outline, cut)?;
    // Rungs, slot and plug are meant to be cut along themselves.
    made.warnings
        .retain(|w| !matches!(w.kind, WarningKind::OpenPath | WarningKind::AllButClosed));
    made.doubts.retain(|d| d.about != About::Role);
    for (loop_index, feed) in rungs.into_iter().zip(&feeds) {
        for c in made.cuts.iter_mut().filter(|c| c.loop_index == loop_index) {
            made.totals.time_s += c.length * 60.0 * (1.0 / feed - 1.0 / c.feed);
            c.feed = *feed;
        }
    }
    Ok(Coupon {
        outline,
        plan: made,
        feeds,
    })
}

fn point((x, y): (f64, f64)) -> Point {
    Point::new(x, y)
}

fn part(corners: Vec<Point>) -> Loop {
    let shapes = vec![Shape::Line; corners.len()];
    Loop {
        role: Role::Part,
        path: Path::Chain(Chain { corners, shapes }),
        deviation: None,
    }
}

fn open(places: &[(f64, f64)]) -> Loop {
    Loop {
        role: Role::Open,
        path: Path::Chain(Chain {
            corners: places.iter().map(|p| point(*p)).collect(),
            shapes: vec![Shape::Line; places.len().saturating_sub(1)],
        }),
        deviation: None,
    }
}

/// Turns measurements into kerf, feed and squareness.
///
/// # Errors
/// Refuses figures that are no lengths, a rung the ladder has not, and no measurement at all.
pub fn measured(
    m: &CouponMeasured,
    ladder: Option<&CouponSettings>,
) -> Result<CouponSays, Refusal> {
    check(m)?;
    let mut notes = Vec::new();
    let mut doubts = Vec::new();
    let kerf = kerf(m, &mut doubts)?;
    // What is kept is cut with ever after, by people who never saw this sheet.
    let cut_with = [
        ("pierce", m.cut_with.pierce),
        ("thickness", m.cut_with.thickness),
    ];
    for (key, value) in cut_with {
        doubts.extend(value.map(|v| figure_doubt(key, v)).transpose()?.flatten());
    }
    let feed = match (m.rung, ladder) {
        (None, _) => None,
        (Some(_), None) => {
            return Err(Refusal::Setting(
                "a rung says nothing without the feeds of the ladder".into(),
            ));
        }
        (Some(rung), Some(ladder)) => {
            let feeds = feeds(ladder)?;
            let feed = rung.checked_sub(1).and_then(|i| feeds.get(i));
            Some(*feed.ok_or_else(|| {
                Refusal::Setting(format!(
                    "rung {rung}: the ladder has rungs 1 to {}",
                    feeds.len()
                ))
            })?)
        }
    };
    if let (Some(feed), Some(rung), Some(l)) = (feed, m.rung, ladder)
        && (rung == 1 || rung == l.rungs)
    {
        notes.push(format!(
            "the best rung is at the end of the ladder ({feed} mm/min): a better one may lie beyond; cut another coupon about it"
        ));
    }
    let square = match (m.sides, m.diagonals) {
        (Some(sides), Some(diagonals)) => Some(squareness(&Measured {
            nominal: [SQUARE; 2],
            sides,
            diagonals,
            caliper: m.caliper,
        })?),
        (None, None) => None,
        _ => {
            return Err(Refusal::Setting(
                "squareness needs four sides and two diagonals".into(),
            ));
        }
    };
    if let Some(c) = square.as_ref().and_then(|s| s.contradiction.as_ref()) {
        notes.push(c.sentence());
    }
    if kerf.is_none() && feed.is_none() && square.is_none() {
        return Err(Refusal::Setting(
            "nothing was measured: fill in the sheet first".into(),
        ));
    }
    Ok(CouponSays {
        kerf,
        feed,
        square,
        notes,
        doubts,
    })
}

fn check(m: &CouponMeasured) -> Result<(), Refusal> {
    let lengths = [
        ("the caliper's error", Some(m.caliper)),
        ("the slot's width", m.slot),
        ("the plug's side", m.plug),
        ("the hole's side", m.hole),
    ];
    for (name, value) in lengths {
        if let Some(v) = value.filter(|v| !(*v > 0.0 && *v <= 1e4)) {
            return Err(Refusal::Setting(format!(
                "{name} is {v}: it must be a length over 0"
            )));
        }
    }
    Ok(())
}

fn kerf(m: &CouponMeasured, doubts: &mut Vec<Doubt>) -> Result<Option<(f64, f64)>, Refusal> {
    let by_plug = match (m.plug, m.hole) {
        (Some(plug), Some(hole)) if hole <= plug => {
            return Err(Refusal::Setting(format!(
                "the plug ({plug} mm) is no smaller than the hole it left ({hole} mm): check both"
            )));
        }
        (Some(plug), Some(hole)) => Some(0.5 * (hole - plug)),
        // Alone, either one leans on the machine's own scale.
        (Some(plug), None) => Some(PLUG - plug),
        (None, Some(hole)) => Some(hole - PLUG),
        (None, None) => None,
    };
    let plug_variance = match (m.plug, m.hole) {
        (Some(_), Some(_)) => 0.5,
        _ => 1.0,
    };
    let (value, deviation) = match (by_plug, m.slot) {
        (None, None) => return Ok(None),
        (Some(k), None) => (k, m.caliper * f64::sqrt(plug_variance)),
        (None, Some(slot)) => (slot, m.caliper),
        (Some(k), Some(slot)) => {
            let apart = m.caliper * f64::sqrt(1.0 + plug_variance);
            if (k - slot).abs() > 3.0 * apart {
                doubts.push(Doubt::new(
                    About::Machine,
                    format!(
                        "plug and hole say a kerf of {k:.2} mm, the slot {slot:.2} mm: that is more than the calipers explain; measure both again"
                    ),
                ));
            }
            let (a, b) = (1.0 / plug_variance, 1.0);
            ((a * k + b * slot) / (a + b), m.caliper / f64::sqrt(a + b))
        }
    };
    if !(value > 0.0 && value <= 50.0) {
        return Err(Refusal::Setting(format!(
            "these figures give a kerf of {value:.2} mm: check which length is which"
        )));
    }
    doubts.extend(kerf_doubt(value));
    if let Some(book) = m
        .cut_with
        .kerf
        .filter(|b| !(b / LIKE..=b * LIKE).contains(&value))
    {
        doubts.push(Doubt::new(
            About::Machine,
            format!(
                "these figures give a kerf of {value:.2} mm, and the coupon was cut for one of {book} mm: measure again, and \
                 check which length is which"
            ),
        ));
    }
    Ok(Some((value, Z95 * deviation)))
}
