//! As many true blanks as fit on a scrap, and what the scrap lacks for the rest.
//!
//! The placing itself is [`crate::cut::layout`]. What is added here is the answer a person at a
//! scrap bin wants: "13 of 16 fit; the scrap would need 22 mm more". More of what? The scrap is thought cut
//! across, square to its longer extent, and moved apart: everything on one side of the cut stays,
//! everything on the other moves away, and the edges that crossed the cut run straight over the gap. The
//! cut is taken near the middle where it meets no opening, so that openings stay as they are. The
//! shortest such gap with which all fit is searched by doubling and halving, to [`STEP`].
//!
//! A layout is a good one, not the best, so the figure errs to the safe side: with that much more all *do* fit
//! (the layout was made), with a little less this tool would not have found a way.

use crate::Refusal;
use crate::cut::layout::{Layout, Spacing, Turns, layout, layout_with_effort};
use crate::cut::stock::Stock;
use crate::geom::Point;
use crate::outline::Bounds;
use crate::outline::{Chain, Circle, Loop, Outline, Path, Role, Shape};

/// Fineness of the length that is missing, mm.
pub const STEP: f64 = 1.0;
/// How far the grown scrap's arcs are taken as chords, mm.
const CHORD: f64 = 0.02;
/// Longest growth that is tried, as a multiple of the scrap's own length.
const MOST_GROWTH: f64 = 8.0;

/// What is wanted.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BlanksSettings {
    /// How many blanks; at most [`crate::cut::layout::MAX_PIECES`].
    pub count: usize,
    /// Width of the cut, mm.
    pub kerf: f64,
    /// Metal left between blanks, mm, besides the kerf.
    pub gap: f64,
    /// From a blank to the edge of the scrap and its openings, mm, besides half the kerf.
    pub edge: f64,
    /// Which turns are allowed: none where the grain or a sheared side matters.
    pub turns: Turns,
    /// Whether to find out what is missing when not all fit (takes several times as long).
    pub missing: bool,
    /// Whether to look longer when not all fit: seconds instead of moments, for one blank more now and then.
    pub thorough: bool,
}

impl BlanksSettings {
    /// So many blanks cut with such a kerf; 3 mm between them and 5 mm to the edge, quarter turns.
    #[must_use]
    pub const fn new(count: usize, kerf: f64) -> Self {
        Self {
            count,
            kerf,
            gap: 3.0,
            edge: 5.0,
            turns: Turns::Quarter,
            missing: true,
            thorough: true,
        }
    }
}

/// Which way the scrap would have to be longer.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Along {
    /// Left to right.
    X,
    /// Bottom to top.
    Y,
}

/// What the scrap lacks.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Missing {
    /// So much longer, mm, all would fit.
    pub length: f64,
    /// Which way.
    pub along: Along,
}

/// The blanks on the scrap.
#[derive(Clone, Debug, PartialEq)]
pub struct Blanks {
    /// All blanks that fit, each with its holes, in the order they were placed.
    pub outline: Outline,
    /// Where each lies.
    pub layout: Layout,
    /// What the scrap lacks for the rest; `None` where all fit or no growth helps.
    pub missing: Option<Missing>,
    /// "13 of 16 fit; the scrap would need 22 mm more".
    pub sentence: String,
}

/// A rectangular blank, mm, its lower left corner at the origin.
///
/// # Errors
/// Refuses sides that are no lengths.
pub fn rectangle(width: f64, height: f64) -> Result<Outline, Refusal> {
    let path = Stock::rectangle(width, height)
        .map_err(|_| {
            Refusal::Setting(format!(
                "a blank of {width} x {height} mm is none: both sides must be over 0"
            ))
        })?
        .border;
    Ok(Outline {
        loops: vec![Loop {
            role: Role::Part,
            path,
            deviation: None,
        }],
        marks: Vec::new(),
    })
}

/// Lays as many blanks as fit on the scrap.
///
/// # Errors
/// Refuses a blank without a closed outline, a scrap without one, and figures that are no lengths.
pub fn blanks(
    blank: &Outline,
    scrap: &Stock,
    settings: &BlanksSettings,
) -> Result<Blanks, Refusal> {
    check(settings)?;
    if !blank.loops.iter().any(|l| l.role == Role::Part) {
        let text = "the tab has no closed line, so nothing would come free: trace the side that is missing";
        return Err(Refusal::File(text.into()));
    }
    let spacing = Spacing {
        between: settings.kerf + settings.gap,
        edge: 0.5 * settings.kerf + settings.edge,
    };
    let wanted = [(blank.clone(), settings.count)];
    let laid = densest(&wanted, scrap, spacing, settings)?;
    let all = laid.fits_in_all() >= settings.count;
    let missing = if all || !settings.missing {
        None
    } else {
        missing(&wanted, scrap, spacing, settings.turns)?
    };
    let mut outline = Outline::default();
    for placement in &laid.placements {
        let placed = placement.apply(blank);
        outline.loops.extend(placed.loops);
        outline.marks.extend(placed.marks);
    }
    Ok(Blanks {
        sentence: sentence(laid.fits_in_all(), settings, missing),
        outline,
        layout: laid,
        missing,
    })
}

/// How many times as long a thorough search looks.
const EFFORT: u32 = 6;

/// The best of four layouts, pushed towards each side of the scrap in turn: a push that suits the one end
/// may waste the other. Scrap and blank are turned together by quarter turns, exactly, and the answer is turned back;
/// the grain does not notice. A thorough search does it all again and looks longer.
fn densest(
    wanted: &[(Outline, usize)],
    scrap: &Stock,
    spacing: Spacing,
    s: &BlanksSettings,
) -> Result<Layout, Refusal> {
    let mut best = layout(wanted, scrap, spacing, s.turns)?;
    let quick = (1..4).map(|quarters| (quarters, 1));
    let slow = (0..4)
        .map(|quarters| (quarters, EFFORT))
        .filter(|_| s.thorough);
    for (quarters, effort) in quick.chain(slow) {
        if best.fits_in_all() >= best.asked_in_all() {
            break;
        }
        let turned: Vec<(Outline, usize)> = wanted
            .iter()
            .map(|(o, n)| (turned_outline(o, quarters), *n))
            .collect();
        let plate = Stock {
            border: turned_path(&scrap.border, quarters),
            openings: scrap
                .openings
                .iter()
                .map(|p| turned_path(p, quarters))
                .collect(),
        };
        let mut other = layout_with_effort(&turned, &plate, spacing, s.turns, effort)?;
        if other.fits_in_all() > best.fits_in_all() {
            for p in &mut other.placements {
                p.shift = quarter(Point::default() + p.shift, 4 - quarters).to_vec();
            }
            best = other;
        }
    }
    Ok(best)
}

/// A place turned about the origin by quarter turns to the left.
fn quarter(p: Point, quarters: usize) -> Point {
    match quarters % 4 {
        0 => p,
        1 => Point::new(-p.y, p.x),
        2 => Point::new(-p.x, -p.y),
        _ => Point::new(p.y, -p.x),
    }
}

fn turned_path(path: &Path, quarters: usize) -> Path {
    match path {
        Path::Circle(c) => Path::Circle(Circle {
            center: quarter(c.center, quarters),
            ..*c
        }),
        Path::Chain(c) => Path::Chain(Chain {
            corners: c.corners.iter().map(|p| quarter(*p, quarters)).collect(),
            shapes: c.shapes.clone(),
        }),
    }
}

fn turned_outline(outline: &Outline, quarters: usize) -> Outline {
    let turned = |l: &Loop| Loop {
        path: turned_path(&l.path, quarters),
        ..l.clone()
    };
    Outline {
        loops: outline.loops.iter().map(turned).collect(),
        marks: Vec::new(),
    }
}

fn check(s: &BlanksSettings) -> Result<(), Refusal> {
    if s.count == 0 {
        return Err(Refusal::Setting(
            "no blanks are wanted: say how many".into(),
        ));
    }
    for (name, value) in [
        ("the kerf", s.kerf),
        ("the gap", s.gap),
        ("the distance to the edge", s.edge),
    ] {
        if !(0.0..=1e3).contains(&value) {
            return Err(Refusal::Setting(format!(
                "{name} is {value} mm: it must be between 0 and 1000 mm"
            )));
        }
    }
    Ok(())
}

fn sentence(fits: usize, s: &BlanksSettings, missing: Option<Missing>) -> String {
    let count = s.count;
    if fits >= count {
        return match count {
            1 => "the one blank fits".into(),
            _ => format!("all {count} fit"),
        };
    }
    let fitting = format!("{fits} of {count} fit{}", if fits == 1 { "s" } else { "" });
    match missing {
        Some(Missing { length, along }) => {
            let way = match along {
                Along::X => "from left to right",
                Along::Y => "from bottom to top",
            };
            format!("{fitting}; the scrap would need {length:.0} mm more {way}")
        }
        None if s.missing => format!("{fitting}; no longer scrap of this width would do"),
        None => fitting,
    }
}

/// The shortest growth with which all fit.
fn missing(
    wanted: &[(Outline, usize)],
    scrap: &Stock,
    spacing: Spacing,
    turns: Turns,
) -> Result<Option<Missing>, Refusal> {
    let Some(extent) = Bounds::of_path(&scrap.border) else {
        return Ok(None);
    };
    let along = if extent.width() >= extent.height() {
        Along::X
    } else {
        Along::Y
    };
    let own = extent.width().max(extent.height());
    let cut = cut_line(scrap, extent, along);
    let all = |length: f64| -> Result<bool, Refusal> {
        let grown = grow(scrap, along, cut, length);
        let laid = layout_with_effort(wanted, &grown, spacing, turns, 0)?;
        Ok(laid.fits_in_all() >= laid.asked_in_all())
    };
    let mut enough = (own / 16.0).max(STEP);
    let mut too_short = 0.0;
    while !all(enough)? {
        too_short = enough;
        enough *= 2.0;
        if enough > MOST_GROWTH * own {
            return Ok(None);
        }
    }
    while enough - too_short > STEP {
        let middle = 0.5 * (enough + too_short);
        if all(middle)? {
            enough = middle;
        } else {
            too_short = middle;
        }
    }
    Ok(Some(Missing {
        length: libm::ceil(enough),
        along,
    }))
}

/// Where to cut the scrap across: as near the middle as may be without meeting an opening.
fn cut_line(scrap: &Stock, extent: Bounds, along: Along) -> f64 {
    let (low, high) = match along {
        Along::X => (extent.min.x, extent.max.x),
        Along::Y => (extent.min.y, extent.max.y),
    };
    let openings: Vec<(f64, f64)> = scrap
        .openings
        .iter()
        .filter_map(Bounds::of_path)
        .map(|e| match along {
            Along::X => (e.min.x, e.max.x),
            Along::Y => (e.min.y, e.max.y),
        })
        .collect();
    let free = |at: f64| openings.iter().all(|(from, to)| at < *from || at > *to);
    let tries = (0..=19).flat_map(|i| [0.5 + 0.025 * f64::from(i), 0.5 - 0.025 * f64::from(i)]);
    tries
        .map(|t| low + t * (high - low))
        .find(|at| free(*at))
        .unwrap_or(0.5 * (low + high))
}

/// The scrap cut across at a place and moved apart by `length`.
#[must_use]
fn grow(scrap: &Stock, along: Along, cut: f64, length: f64) -> Stock {
    let moved = |path: &Path| grow_path(path, along, cut, length);
    Stock {
        border: moved(&scrap.border),
        openings: scrap.openings.iter().map(moved).collect(),
    }
}

fn grow_path(path: &Path, along: Along, cut: f64, length: f64) -> Path {
    let place = |p: Point| match along {
        Along::X => p.x,
        Along::Y => p.y,
    };
    let shifted = |p: Point| match along {
        Along::X => Point::new(p.x + length, p.y),
        Along::Y => Point::new(p.x, p.y + length),
    };
    let mut corners: Vec<Point> = Vec::new();
    for pair in path.flatten(CHORD).windows(2) {
        let [a, b] = pair else { continue };
        corners.push(if place(*a) > cut { shifted(*a) } else { *a });
        let (from, to) = (place(*a) - cut, place(*b) - cut);
        if (from > 0.0) != (to > 0.0) {
            let at = a.lerp(*b, from / (from - to));
            let two = if from > 0.0 {
                [shifted(at), at]
            } else {
                [at, shifted(at)]
            };
            corners.extend(two);
        }
    }
    // A chord of no length would be no edge.
    corners.dedup_by(|a, b| a.distance(*b) < 1e-9);
    let shapes = vec![Shape::Line; corners.len()];
    Path::Chain(Chain { corners, shapes })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_grown_rectangle_is_the_longer_rectangle() {
        let scrap = Stock::rectangle(200.0, 100.0).unwrap();
        let grown = grow(&scrap, Along::X, 100.0, 50.0);
        assert!((grown.area() - 25_000.0).abs() < 1e-9);
        let grown = grow(&scrap, Along::Y, 30.0, 50.0);
        assert!((grown.area() - 30_000.0).abs() < 1e-9);
    }

    #[test]
    fn openings_are_not_cut_where_that_can_be_helped() {
        let mut scrap = Stock::rectangle(200.0, 100.0).unwrap();
        scrap.openings.push(Path::Circle(Circle {
            center: Point::new(100.0, 50.0),
            radius: 20.0,
            counter_clockwise: true,
        }));
        let extent = Bounds::of_path(&scrap.border).unwrap();
        let cut = cut_line(&scrap, extent, Along::X);
        assert!((cut - 100.0).abs() > 20.0);
        let area = |s: &Stock| s.openings[0].area().abs();
        assert!((area(&grow(&scrap, Along::X, cut, 70.0)) / area(&scrap) - 1.0).abs() < 2e-3);
    }
}
