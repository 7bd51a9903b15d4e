//! From an outline to the plan: every cut with its path, pierce, leads and place in the order.
//!
//! 1. Every loop becomes the torch's path beside it ([`kerf`](super::kerf)); an open path is its
//!    own path. What the kerf swallows, splits or closes is said, not cut.
//! 2. Paths get their way round and their leads ([`lead`](super::lead)), or are parted by bridges.
//! 3. The cuts are put in order ([`order`](super::order)): whatever lies inside a loop first.
//! 4. All is checked once more as a whole ([`checks`](super::checks)) and added up.

use super::clear::Near;
use super::kerf::{self, Crossing, Offset, Side};
use super::lead::{self, Fit, Led, Surroundings, Waste};
use super::order::{self, Stop};
use super::settings::{CutSettings, Way};
use super::{bridge, checks, course, layout};
use crate::Refusal;
use crate::geom::Sorted as _;
use crate::geom::{Edge, Point};
use crate::outline::nesting::parents;
use crate::outline::{Bounds, Circle, Loop, Outline, Path, Role};
use serde::Serialize;

/// Most edges that are planned at once.
pub const MAX_PLAN_EDGES: usize = 200_000;

/// Where the torch is lit.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Pierce {
    /// The place.
    pub at: Point,
    /// Wait before the first move, s.
    pub delay_s: f64,
}

/// One run of the torch, from lit to out.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Cut {
    /// What the loop bounds.
    pub role: Role,
    /// Number of the loop in the outline, from 0.
    #[serde(rename = "loop")]
    pub loop_index: usize,
    /// The path comes back to where it began.
    pub closed: bool,
    /// Where the torch is lit.
    pub pierce: Pierce,
    /// From the pierce to the path; empty when the torch pierces on the path.
    pub lead_in: Vec<Edge>,
    /// The path.
    pub path: Vec<Edge>,
    /// Overlap at the close and the way off the path.
    pub lead_out: Vec<Edge>,
    /// Speed, mm/min.
    pub feed: f64,
    /// Length with the torch on, mm.
    pub length: f64,
}

impl Cut {
    /// All moves with the torch on, in order.
    pub fn moves(&self) -> impl Iterator<Item = &Edge> {
        self.lead_in.iter().chain(&self.path).chain(&self.lead_out)
    }

    /// Where the torch goes out.
    #[must_use]
    pub fn end(&self) -> Point {
        self.moves().last().map_or(self.pierce.at, Edge::to)
    }
}

/// Something to know before cutting.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Warning {
    /// Which kind.
    pub kind: WarningKind,
    /// The sentence, with place and size.
    pub text: String,
    /// Where, if it has a place.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub at: Option<Point>,
    /// How large the thing warned of is, mm (or copies, for what does not fit).
    #[serde(skip_serializing_if = "Option::is_none")]
    pub size: Option<f64>,
}

/// The kinds of warning.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum WarningKind {
    /// A hole (or a whole part's path) no wider than the kerf: not cut.
    Swallowed,
    /// The kerf pinches a hole into several.
    Split,
    /// An opening's sides cannot be reached: its mouth is narrower than the kerf.
    ClosedMouth,
    /// The cut of one loop eats into another piece.
    Eaten,
    /// Metal between cuts, or a neck of a part, thinner than it should be.
    ThinWeb,
    /// A hole smaller than the thickness allows.
    SmallHole,
    /// An edge too short for the machine.
    ShortEdge,
    /// No lead fits, or only one too short for comfort.
    NoLead,
    /// A lead or path leaves the stock.
    OffStock,
    /// A move leaves the machine's reach.
    OutOfReach,
    /// Not all copies fit on the stock.
    DoesNotFit,
    /// An open path is cut along itself.
    OpenPath,
    /// A mark was left alone.
    MarkLeft,
    /// Fewer bridges than asked.
    FewBridges,
}

/// Sums over the plan.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct Totals {
    /// Pierces.
    pub pierces: usize,
    /// Length with the torch on, mm.
    pub cut_length: f64,
    /// Travel with the torch off, from the machine's zero, mm.
    pub travel: f64,
    /// No order can travel less than this, mm.
    pub travel_bound: f64,
    /// Neighbours that heat one another, cut in a row.
    pub warm_in_a_row: usize,
    /// Cutting and piercing, and travel where its speed is known, s.
    pub time_s: f64,
    /// The time includes travel.
    pub time_has_travel: bool,
    /// Area of what is left as piece, mm².
    pub part_area: f64,
    /// Weight of it, kg; only where the thickness is known.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub weight_kg: Option<f64>,
    /// Share of the stock's area that becomes piece, 0 to 1; only where the stock is known.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub stock_use: Option<f64>,
}

/// The whole plan.
#[derive(Clone, Debug, PartialEq)]
pub struct Plan {
    /// Cuts in the order they are made.
    pub cuts: Vec<Cut>,
    /// What is cut: the outline on the stock, marks that became holes included.
    pub outline: Outline,
    /// The settings it was made with.
    pub settings: CutSettings,
    /// What to know before cutting.
    pub warnings: Vec<Warning>,
    /// Sums.
    pub totals: Totals,
}

/// One path before leads: of which loop, which way the waste lies, where.
struct Run {
    loop_index: usize,
    role: Role,
    edges: Vec<Edge>,
    waste: Waste,
    closed: bool,
    /// A lead-out is wanted: outsides only.
    out: bool,
}

impl Plan {
    /// Adds what a layout has to say: which pieces fit how often, and what had no place.
    pub fn tell_layout(&mut self, found: &layout::Layout) {
        let mut warn = |text: String, at: Option<Point>, size: Option<f64>| {
            self.warnings.push(Warning {
                kind: WarningKind::DoesNotFit,
                text,
                at,
                size,
            });
        };
        for (text, missing) in found.left_out() {
            warn(text, None, Some(missing as f64));
        }
        let no_place = "lies outside every piece: on the stock it has no place and is left out";
        for l in &found.loose.loops {
            let edges = l.path.edges();
            let at = edges.first().map_or(Point::default(), Edge::from);
            let text = format!(
                "the open path from ({:.1}, {:.1}) mm {no_place}",
                at.x, at.y
            );
            warn(text, Some(at), Some(course::length(&edges)));
        }
        for mark in &found.loose.marks {
            let at = mark.at;
            let text = format!("the mark at ({:.1}, {:.1}) mm {no_place}", at.x, at.y);
            warn(text, Some(at), None);
        }
    }
}

/// Makes the plan for an outline as it lies on the stock.
///
/// # Errors
/// Refuses settings out of range, an outline with nothing to cut, coordinates that are no numbers,
/// a loop that crosses itself, and more than [`MAX_PLAN_EDGES`] edges.
pub fn plan(outline: &Outline, settings: &CutSettings) -> Result<Plan, Refusal> {
    settings.check()?;
    let mut warnings = Vec::new();
    let outline = with_marks(outline, settings, &mut warnings);
    check_size(&outline)?;
    let runs = runs(&outline, settings, &mut warnings)?;
    if runs.is_empty() && outline.loops.is_empty() {
        return Err(Refusal::Trace(
            "there is nothing to cut: no outline and no open path".into(),
        ));
    }
    let cuts = with_leads(runs, &outline, settings, &mut warnings);
    let (cuts, tour, bound) = in_order(cuts, &outline, settings);
    checks::all(&cuts, &outline, settings, &mut warnings);
    warnings.order_by_key(|w: &Warning| w.kind);
    let totals = add_up(&cuts, &outline, settings, &tour, bound);
    Ok(Plan {
        cuts,
        outline,
        settings: settings.clone(),
        warnings,
        totals,
    })
}

/// Marks as round holes where a diameter is given; otherwise left alone and named.
fn with_marks(outline: &Outline, settings: &CutSettings, warnings: &mut Vec<Warning>) -> Outline {
    let mut all = outline.clone();
    if let Some(diameter) = settings.hole {
        for mark in core::mem::take(&mut all.marks) {
            all.loops.push(Loop {
                role: Role::Hole,
                path: Path::Circle(Circle {
                    center: mark.at,
                    radius: 0.5 * diameter,
                    counter_clockwise: false,
                }),
                deviation: None,
            });
        }
    }
    for mark in &all.marks {
        let at = mark.at;
        warnings.push(Warning {
            kind: WarningKind::MarkLeft,
            text: format!(
                "the mark at ({:.1}, {:.1}) mm is left alone: no hole diameter was given for it",
                at.x, at.y
            ),
            at: Some(at),
            size: None,
        });
    }
    all
}

fn check_size(outline: &Outline) -> Result<(), Refusal> {
    let mut count = 0;
    for (i, l) in outline.loops.iter().enumerate() {
        let edges = l.path.edges();
        count += edges.len();
        let bad = |e: &Edge| {
            !(e.from().is_finite()
                && e.to().is_finite()
                && e.length().is_finite()
                && e.length() < 1e7)
        };
        if edges.is_empty() || edges.iter().any(bad) {
            return Err(Refusal::Trace(format!(
                "loop {} has coordinates that are no numbers or far too large",
                i + 1
            )));
        }
    }
    if count > MAX_PLAN_EDGES {
        return Err(Refusal::Limit {
            what: "the number of edges to cut",
            value: count.to_string(),
            limit: MAX_PLAN_EDGES.to_string(),
        });
    }
    Ok(())
}

/// "part 2" or "hole 1": the loop's role and its number among those of that role.
pub(crate) fn name(outline: &Outline, index: usize) -> String {
    let role = outline.loops.get(index).map(|l| l.role);
    let number = outline
        .loops
        .iter()
        .take(index + 1)
        .filter(|l| Some(l.role) == role)
        .count();
    match role {
        Some(Role::Hole) => format!("hole {number}"),
        Some(Role::Open) => format!("open path {number}"),
        _ => format!("part {number}"),
    }
}

fn runs(
    outline: &Outline,
    settings: &CutSettings,
    warnings: &mut Vec<Warning>,
) -> Result<Vec<Run>, Refusal> {
    let half = 0.5 * settings.kerf;
    let mut all = Vec::new();
    for (index, l) in outline.loops.iter().enumerate() {
        let side = match l.role {
            Role::Part => Side::Outside,
            Role::Hole => Side::Inside,
            Role::Open => {
                all.push(open_run(index, l, outline, warnings));
                continue;
            }
        };
        let what = name(outline, index);
        let moved = kerf::offset(&l.path, side, half).map_err(|c| crossing(&what, c))?;
        tell_offset(&what, &l.path, side, &moved, settings, warnings);
        for (k, path) in moved.into_loops().into_iter().enumerate() {
            // Behind a closed mouth the waste lies inside, as in a hole.
            let pocket = side == Side::Outside && k > 0;
            all.push(closed_run(index, l.role, &path, pocket, settings));
        }
    }
    Ok(all)
}

fn open_run(index: usize, l: &Loop, outline: &Outline, warnings: &mut Vec<Warning>) -> Run {
    let edges = l.path.edges();
    let at = edges.first().map_or(Point::default(), Edge::from);
    warnings.push(Warning {
        kind: WarningKind::OpenPath,
        text: format!(
            "{} from ({:.1}, {:.1}) mm is cut along itself, without kerf offset and without leads",
            name(outline, index),
            at.x,
            at.y
        ),
        at: Some(at),
        size: Some(course::length(&edges)),
    });
    Run {
        loop_index: index,
        role: Role::Open,
        edges,
        waste: Waste::Left,
        closed: false,
        out: false,
    }
}

fn closed_run(index: usize, role: Role, path: &Path, pocket: bool, settings: &CutSettings) -> Run {
    let inner = role == Role::Hole || pocket;
    let way = if inner {
        settings.outside.other()
    } else {
        settings.outside
    };
    let counter_clockwise = way == Way::CounterClockwise;
    // The waste of an outside lies outside: left of a clockwise run. Of a hole, the other way about.
    let waste = if inner == counter_clockwise {
        Waste::Left
    } else {
        Waste::Right
    };
    Run {
        loop_index: index,
        role,
        edges: course::turning(path, counter_clockwise),
        waste,
        closed: true,
        out: !inner,
    }
}

fn crossing(what: &str, c: Crossing) -> Refusal {
    Refusal::Trace(match c {
        Crossing::At(p) => format!(
            "{what} crosses or touches itself at ({:.2}, {:.2}) mm: it cannot be cut as it is",
            p.x, p.y
        ),
        Crossing::Flat(p) => format!(
            "{what} at ({:.2}, {:.2}) mm encloses nothing: it cannot be cut",
            p.x, p.y
        ),
    })
}

/// Says what the kerf did to a loop besides moving it.
fn tell_offset(
    what: &str,
    path: &Path,
    side: Side,
    moved: &Offset,
    settings: &CutSettings,
    warnings: &mut Vec<Warning>,
) {
    let middle = Bounds::of_path(path).map_or(Point::default(), |b| b.min.midpoint(b.max));
    let kerf = settings.kerf;
    let (kind, text, size) = match (side, moved) {
        (Side::Inside, Offset::Vanished) => {
            let wide = 2.0 * checks::inner_radius(path);
            let text = format!(
                "{what} at ({:.1}, {:.1}) mm is {wide:.2} mm wide, no wider than the kerf of {kerf} mm: it is not cut",
                middle.x, middle.y
            );
            (WarningKind::Swallowed, text, wide)
        }
        (Side::Inside, Offset::Several(loops)) => {
            let text = format!(
                "{what} at ({:.1}, {:.1}) mm has places narrower than the kerf of {kerf} mm: it is cut as {} openings",
                middle.x,
                middle.y,
                loops.len()
            );
            (WarningKind::Split, text, kerf)
        }
        _ => return,
    };
    warnings.push(Warning {
        kind,
        text,
        at: Some(middle),
        size: Some(size),
    });
}

fn with_leads(
    runs: Vec<Run>,
    outline: &Outline,
    settings: &CutSettings,
    warnings: &mut Vec<Warning>,
) -> Vec<Cut> {
    let (runs, fewer) = bridged(runs, settings);
    for index in fewer {
        warnings.push(Warning {
            kind: WarningKind::FewBridges,
            text: format!(
                "{} is too small for {} bridges: it gets fewer",
                name(outline, index),
                settings.bridges
            ),
            at: None,
            size: None,
        });
    }
    let mut around = surroundings(&runs, outline, settings);
    let mut cuts = Vec::with_capacity(runs.len());
    for (number, run) in runs.into_iter().enumerate() {
        let led = if run.role == Role::Open {
            Led {
                lead_in: Vec::new(),
                path: run.edges,
                lead_out: Vec::new(),
                fit: Fit::Good,
            }
        } else if run.closed {
            let out = if run.out {
                settings.lead_out.unwrap_or(0.5 * settings.lead_length())
            } else {
                0.0
            };
            lead::closed(&run.edges, run.waste, number, out, settings, &around)
        } else {
            lead::open(run.edges, run.waste, number, settings, &around)
        };
        around.laid.extend(
            led.lead_in
                .iter()
                .chain(led.lead_out.iter().last().filter(|_| run.out)),
        );
        let cut = cut_of(run.loop_index, run.role, run.closed, led.clone(), settings);
        tell_lead(&cut, led.fit, outline, warnings);
        cuts.push(cut);
    }
    cuts
}

/// Outsides parted by bridges where asked; the loops that got fewer than asked.
fn bridged(runs: Vec<Run>, settings: &CutSettings) -> (Vec<Run>, Vec<usize>) {
    if settings.bridges == 0 {
        return (runs, Vec::new());
    }
    let gap = settings.bridge_metal() + settings.kerf;
    let (mut all, mut fewer) = (Vec::new(), Vec::new());
    for run in runs {
        if !run.out {
            all.push(run);
            continue;
        }
        let parts = bridge::stretches(&run.edges, settings.bridges, gap);
        let whole = parts.len() == 1
            && (course::length(&run.edges) - parts.first().map_or(0.0, |p| course::length(p)))
                .abs()
                < 1e-6;
        if whole || parts.len() < settings.bridges {
            fewer.push(run.loop_index);
        }
        if whole {
            all.push(run);
            continue;
        }
        all.extend(parts.into_iter().map(|edges| Run {
            edges,
            closed: false,
            out: false,
            ..run
        }));
    }
    (all, fewer)
}

fn surroundings<'a>(
    runs: &[Run],
    outline: &Outline,
    settings: &'a CutSettings,
) -> Surroundings<'a> {
    let closed = outline
        .loops
        .iter()
        .enumerate()
        .filter(|(_, l)| l.role != Role::Open);
    let outlines = closed
        .flat_map(|(i, l)| l.path.edges().into_iter().map(move |e| (i, e)))
        .collect();
    let paths = runs
        .iter()
        .enumerate()
        .flat_map(|(i, r)| r.edges.iter().map(move |e| (i, *e)))
        .collect();
    let stock = settings.stock.as_ref().map(|s| {
        let mut edges = s.border.edges();
        edges.extend(s.openings.iter().flat_map(Path::edges));
        (s, edges)
    });
    Surroundings {
        outlines: Near::new(outlines),
        paths: Near::new(paths),
        laid: Vec::new(),
        stock,
        half: 0.5 * settings.kerf,
    }
}

fn cut_of(loop_index: usize, role: Role, closed: bool, led: Led, settings: &CutSettings) -> Cut {
    let first = led.lead_in.first().or(led.path.first());
    let at = first.map_or(Point::default(), Edge::from);
    let length =
        course::length(&led.lead_in) + course::length(&led.path) + course::length(&led.lead_out);
    Cut {
        role,
        loop_index,
        closed,
        pierce: Pierce {
            at,
            delay_s: settings.pierce,
        },
        lead_in: led.lead_in,
        path: led.path,
        lead_out: led.lead_out,
        feed: settings.feed,
        length,
    }
}

fn tell_lead(cut: &Cut, fit: Fit, outline: &Outline, warnings: &mut Vec<Warning>) {
    let at = cut.pierce.at;
    let what = name(outline, cut.loop_index);
    let (kind, text) = match fit {
        Fit::Good => return,
        Fit::OffStock => (
            WarningKind::OffStock,
            format!(
                "the lead of {what} at ({:.1}, {:.1}) mm leaves the stock",
                at.x, at.y
            ),
        ),
        Fit::Tight => (
            WarningKind::NoLead,
            format!(
                "there is little room for the lead of {what}: the crater of the pierce at ({:.1}, {:.1}) mm may touch an edge",
                at.x, at.y
            ),
        ),
        Fit::None => (
            WarningKind::NoLead,
            format!(
                "no lead fits at {what}: the torch pierces on the path at ({:.1}, {:.1}) mm",
                at.x, at.y
            ),
        ),
    };
    warnings.push(Warning {
        kind,
        text,
        at: Some(at),
        size: Some(course::length(&cut.lead_in)),
    });
}

fn in_order(
    cuts: Vec<Cut>,
    outline: &Outline,
    settings: &CutSettings,
) -> (Vec<Cut>, order::Tour, f64) {
    let stops = stops(&cuts, outline, settings);
    let home = Point::default();
    let tour = order::order(&stops, home, settings.heat_share);
    let bound = order::bound(&stops, home);
    let mut cuts: Vec<Option<Cut>> = cuts.into_iter().map(Some).collect();
    let sorted = tour
        .order
        .iter()
        .filter_map(|&i| cuts.get_mut(i)?.take())
        .collect();
    (sorted, tour, bound)
}

fn stops(cuts: &[Cut], outline: &Outline, settings: &CutSettings) -> Vec<Stop> {
    let mut of_loop: Vec<Vec<usize>> = vec![Vec::new(); outline.loops.len()];
    for (i, cut) in cuts.iter().enumerate() {
        if let Some(list) = of_loop.get_mut(cut.loop_index) {
            list.push(i);
        }
    }
    let around = waits(outline);
    let near = Near::new(
        cuts.iter()
            .enumerate()
            .flat_map(|(i, c)| c.path.iter().map(move |e| (i, *e)))
            .collect(),
    );
    cuts.iter()
        .enumerate()
        .map(|(i, cut)| {
            let mut before: Vec<usize> = around
                .get(cut.loop_index)
                .into_iter()
                .flatten()
                .filter_map(|l| of_loop.get(*l))
                .flatten()
                .copied()
                .collect();
            // A pocket behind a closed mouth goes before the outside of its own part.
            let own = of_loop.get(cut.loop_index).and_then(|l| l.first()).copied();
            if cut.role == Role::Part && cut.closed && own.is_some_and(|o| o != i) {
                before.extend(own);
            }
            before.sort_unstable();
            let mut warm: Vec<usize> = cut
                .path
                .iter()
                .flat_map(|e| near.within(e, settings.heat_distance))
                .map(|h| h.owner)
                .filter(|o| *o != i && !before.contains(o))
                .collect();
            warm.sort_unstable();
            warm.dedup();
            Stop {
                start: cut.pierce.at,
                end: cut.end(),
                before,
                warm,
            }
        })
        .collect()
}

/// For each loop, the loops that lie around it: their cuts come after its own.
fn waits(outline: &Outline) -> Vec<Vec<usize>> {
    let mut all: Vec<Vec<usize>> = parents(&outline.loops)
        .into_iter()
        .map(Option::unwrap_or_default)
        .collect();
    for (i, l) in outline
        .loops
        .iter()
        .enumerate()
        .filter(|(_, l)| l.role == Role::Open)
    {
        let Some(at) = l.path.edges().first().map(|e| e.point_at(0.5)) else {
            continue;
        };
        let holds = |o: &&(usize, &Loop)| {
            o.1.path.is_closed() && crate::geom::near::inside(&o.1.path.edges(), at)
        };
        let around = outline
            .loops
            .iter()
            .enumerate()
            .filter(|o| holds(&o))
            .map(|(j, _)| j)
            .collect();
        if let Some(slot) = all.get_mut(i) {
            *slot = around;
        }
    }
    all
}

fn add_up(
    cuts: &[Cut],
    outline: &Outline,
    settings: &CutSettings,
    tour: &order::Tour,
    bound: f64,
) -> Totals {
    let cut_length: f64 = cuts.iter().map(|c| c.length).sum();
    let pierces = cuts.len();
    let cutting = 60.0 * cut_length / settings.feed + pierces as f64 * settings.pierce;
    let travelling = settings.rapid.map(|r| 60.0 * tour.travel / r);
    let part_area = layout::net_area(outline).max(0.0);
    Totals {
        pierces,
        cut_length,
        travel: tour.travel,
        travel_bound: bound,
        warm_in_a_row: tour.warm_in_a_row,
        time_s: cutting + travelling.unwrap_or(0.0),
        time_has_travel: travelling.is_some(),
        part_area,
        weight_kg: settings
            .thickness
            .map(|t| part_area * t * 1e-9 * settings.density),
        stock_use: settings
            .stock
            .as_ref()
            .map(|s| part_area / s.area().max(1e-9)),
    }
}
