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

use crate::Refusal;
use crate::cut::{CutSettings, Plan, WarningKind, material, plan};
use crate::fit::pattern::MAX_MARKS;
use crate::geom::Point;
use crate::machine::{Measured, SquareFit, squareness};
use crate::outline::{Chain, Loop, Outline, Path, Role, Shape};
use crate::report::About;

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
/// Comment beside a figure that a coupon gave.
const COUPON: &str = "from a coupon";
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
}

/// What the coupon says.
#[derive(Clone, Debug, PartialEq)]
pub struct CouponSays {
    /// Width of the cut with its ± (95 %), mm.
    pub kerf: Option<(f64, f64)>,
    /// Feed of the chosen rung, mm/min.
    pub feed: Option<f64>,
    /// The machine's scale and squareness.
    pub square: Option<SquareFit>,
    /// Sentences.
    pub notes: Vec<String>,
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
    let kerf = kerf(m, &mut notes)?;
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

fn kerf(m: &CouponMeasured, notes: &mut Vec<String>) -> Result<Option<(f64, f64)>, Refusal> {
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
                notes.push(format!(
                    "plug and hole say a kerf of {k:.2} mm, the slot {slot:.2} mm: that is more than the calipers explain; measure both again"
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
    Ok(Some((value, Z95 * deviation)))
}

/// The blank sheet to fill in at the bench, as rows of `what,value`; it carries the ladder.
#[must_use]
pub fn sheet(s: &CouponSettings, feeds: &[f64]) -> String {
    let mut out = String::from(
        "# Measurements on a coupon. Write the figures after the commas; leave out what was not measured.\n\
         # Lengths in mm. Count a rung by the notches below it.\n#\n",
    );
    for (i, feed) in feeds.iter().enumerate() {
        out.push_str(&format!("# rung {}: {feed} mm/min\n", i + 1));
    }
    out.push_str(&format!(
        "what,value\nfeed_from,{}\nfeed_to,{}\nrungs,{}\n\
         # the rung with the least dross and the straightest face\nrung,\n\
         # width of the single slot; side of the plug that fell out; side of the hole it left\nslot,\nplug,\nhole,\n\
         # the square: four sides, then the diagonals from bottom left and from bottom right\n\
         bottom,\nright,\ntop,\nleft,\nrising,\nfalling,\n\
         # how far one reading of your calipers may be off\ncaliper,0.05\n",
        s.feed_from, s.feed_to, s.rungs
    ));
    out
}

/// Reads a filled-in sheet.
///
/// # Errors
/// Names the line that is no measurement.
pub fn read_sheet(text: &str) -> Result<(CouponMeasured, Option<CouponSettings>), Refusal> {
    let mut m = CouponMeasured {
        caliper: 0.05,
        ..CouponMeasured::default()
    };
    let mut square: [Option<f64>; 6] = [None; 6];
    let (mut from, mut to, mut rungs) = (None, None, None);
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    for (i, line) in text.lines().enumerate() {
        let bad = |problem: String| Refusal::Line {
            line: i + 1,
            problem,
        };
        let line = line.trim();
        if line.is_empty() || line.starts_with('#') || line == "what,value" {
            continue;
        }
        if i > MAX_MARKS {
            return Err(bad(
                "this is no sheet of measurements: it is too long".into()
            ));
        }
        let (what, value) = line
            .split_once(',')
            .ok_or_else(|| bad(format!("\"{line}\" is no row of what,value")))?;
        let (what, value) = (what.trim(), value.trim());
        if value.is_empty() {
            continue;
        }
        let figure: f64 = value
            .parse()
            .ok()
            .filter(|v: &f64| v.is_finite())
            .ok_or_else(|| bad(format!("{what} is \"{value}\": that is no number")))?;
        let whole = || {
            let fine = (1.0..=100.0).contains(&figure) && figure == libm::floor(figure);
            fine.then_some(figure as usize)
                .ok_or_else(|| bad(format!("{what} is {value}: it must be a whole number")))
        };
        let names = ["bottom", "right", "top", "left", "rising", "falling"];
        match what {
            "feed_from" => from = Some(figure),
            "feed_to" => to = Some(figure),
            "rungs" => rungs = Some(whole()?),
            "rung" => m.rung = Some(whole()?),
            "slot" => m.slot = Some(figure),
            "plug" => m.plug = Some(figure),
            "hole" => m.hole = Some(figure),
            "caliper" => m.caliper = figure,
            _ => {
                let place = names.iter().position(|n| *n == what);
                let slot = place.and_then(|p| square.get_mut(p)).ok_or_else(|| {
                    bad(format!(
                        "\"{what}\" is nothing that is measured on a coupon"
                    ))
                })?;
                *slot = Some(figure);
            }
        }
    }
    if let [Some(a), Some(b), Some(c), Some(d), Some(e), Some(f)] = square {
        (m.sides, m.diagonals) = (Some([a, b, c, d]), Some([e, f]));
    } else if square.iter().any(Option::is_some) {
        return Err(Refusal::File(
            "squareness needs all of bottom, right, top, left, rising, falling".into(),
        ));
    }
    let ladder = match (from, to, rungs) {
        (Some(feed_from), Some(feed_to), Some(rungs)) => Some(CouponSettings {
            feed_from,
            feed_to,
            rungs,
        }),
        _ => None,
    };
    Ok((m, ladder))
}

/// Keeps kerf and feed in a row of a material file: the row is changed or added, every other line, comments
/// included, stays as it is.
///
/// # Errors
/// Refuses a file that is no material file, and one this cannot change without harm.
pub fn keep(
    file: &str,
    name: &str,
    kerf: Option<f64>,
    feed: Option<f64>,
) -> Result<String, Refusal> {
    let before = material::read(file)?;
    if name.trim().is_empty() || name.contains(['"', '\\', '\n', '\r']) {
        return Err(Refusal::Setting(format!(
            "\"{name}\" is no name for a material"
        )));
    }
    let figures: Vec<(&str, f64)> = [("kerf", kerf), ("feed", feed)]
        .into_iter()
        .filter_map(|(key, value)| value.map(|v| (key, libm::round(v * 1000.0) / 1000.0)))
        .collect();
    let mut lines: Vec<String> = file.lines().map(str::to_owned).collect();
    match material::find(&before, name) {
        Ok(row) => {
            let number = before.iter().position(|r| r == row).unwrap_or(0);
            change_row(&mut lines, number, &figures);
        }
        Err(_) => {
            if lines.last().is_some_and(|l| !l.trim().is_empty()) {
                lines.push(String::new());
            }
            lines.extend(["[[material]]".to_owned(), format!("name = \"{name}\"")]);
            lines.extend(
                figures
                    .iter()
                    .map(|(key, v)| format!("{key} = {v:?}  # {COUPON}")),
            );
        }
    }
    let text = lines.join("\n") + "\n";
    // Read it back: what was asked for must be there, and nothing else may have changed.
    let harm = || {
        Refusal::File("the material file is written in a way that cannot be changed line by line; write kerf and feed into it by hand".into())
    };
    let after = material::read(&text).map_err(|_| harm())?;
    let row = material::find(&after, name).map_err(|_| harm())?;
    let has =
        |key: &str, got: Option<f64>| figures.iter().all(|(k, v)| *k != key || got == Some(*v));
    let others = |rows: &[material::Material]| -> Vec<material::Material> {
        rows.iter()
            .filter(|r| r.name != row.name)
            .cloned()
            .collect()
    };
    if has("kerf", row.kerf) && has("feed", row.feed) && others(&before) == others(&after) {
        Ok(text)
    } else {
        Err(harm())
    }
}

/// Changes or adds figures in the table of that number.
fn change_row(lines: &mut Vec<String>, number: usize, figures: &[(&str, f64)]) {
    let heads: Vec<usize> = lines
        .iter()
        .enumerate()
        .filter(|(_, l)| l.trim_start().starts_with("[[material]]"))
        .map(|(i, _)| i)
        .collect();
    let Some(&head) = heads.get(number) else {
        return;
    };
    for (key, value) in figures {
        let end = heads.get(number + 1).copied().unwrap_or(lines.len());
        let at = lines
            .iter()
            .enumerate()
            .take(end)
            .skip(head + 1)
            .find(|(_, l)| l.split_once('=').is_some_and(|(k, _)| k.trim() == *key))
            .map(|(i, _)| i);
        match at.and_then(|i| lines.get_mut(i)) {
            Some(line) => {
                // What stood there is kept beside it: a figure from the book is not lost.
                let (old, comment) = line.split_once('#').unwrap_or((line, ""));
                let was = old.split_once('=').map_or("", |(_, v)| v.trim());
                let before = match comment.trim_start().strip_prefix(COUPON) {
                    Some(_) => String::new(),
                    None if comment.trim().is_empty() => format!("; before: {was}"),
                    None => format!("; before: {was}, {}", comment.trim()),
                };
                *line = format!("{key} = {value:?}  # {COUPON}{before}");
            }
            None => {
                // After the last line of the table that says something.
                let said = |l: &String| l.contains('=') && !l.trim_start().starts_with('#');
                let last = (head..end)
                    .rfind(|i| lines.get(*i).is_some_and(said))
                    .unwrap_or(head);
                // `last` is a line of the table, so the next place is at most the end.
                lines.insert(
                    (last + 1).min(lines.len()),
                    format!("{key} = {value:?}  # {COUPON}"),
                );
            }
        }
    }
}
