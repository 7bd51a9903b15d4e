//! From an outline to the plan: every cut with its path, pierce, leads and place in the order.
//!
//! 1. Every loop becomes the torch's path beside it ([`kerf`](super::kerf)); an open path is its
//!    own path. What the kerf swallows, splits or closes is said, not cut.
//! 2. Paths get their way round and their leads ([`lead`](super::lead)), or are parted by bridges.
//! 3. The cuts are put in order ([`order`](super::order)): whatever lies inside a loop first.
//! 4. All is checked once more as a whole ([`checks`](super::checks)) and added up.

mod findings;
mod met;
pub mod roles;
mod runs;
mod stops;

pub use findings::{Warning, WarningKind};
use runs::Run;

use super::clear::Near;
use super::lead::{self, Fit, Led, Surroundings};
use super::order;
use super::settings::CutSettings;
use super::{checks, course, layout, ranges};
use crate::Refusal;
use crate::geom::Sorted as _;
use crate::geom::{Edge, Point};
use crate::outline::{Circle, Loop, Mark, Outline, Path, Role};
use crate::report::{About, Doubt};
use serde::{Deserialize, Serialize};

/// Most edges that are planned at once.
pub const MAX_PLAN_EDGES: usize = 200_000;
/// Most loops and marks that are planned at once: nobody pierces one sheet so often.
pub const MAX_PLAN_CUTS: usize = 5_000;

/// Where the torch is lit.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Pierce {
    /// The place.
    pub at: Point,
    /// Wait before the first move, s.
    pub delay_s: f64,
}

/// One run of the torch, from lit to out.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
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

/// Sums over the plan.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
#[non_exhaustive]
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
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Plan {
    /// Cuts in the order they are made.
    pub cuts: Vec<Cut>,
    /// What is cut: the outline on the stock, marks that became holes included.
    pub outline: Outline,
    /// The settings it was made with.
    pub settings: CutSettings,
    /// What to know before cutting.
    pub warnings: Vec<Warning>,
    /// What may be wrong: carried from the reading, and found here. Numbered from 1 as they stand.
    pub doubts: Vec<Doubt>,
    /// Sums.
    pub totals: Totals,
}

impl Plan {
    /// Adds what a layout has to say: which pieces, by the names of their inputs, fit how often. One that is missing
    /// altogether is a doubt: the plan is not what was asked for.
    pub fn tell_layout(&mut self, found: &layout::Layout, names: &[&str]) {
        for piece in 0..found.asked.len() {
            let Some((text, missing)) = found.left_out_of(piece) else {
                continue;
            };
            let name = names
                .get(piece)
                .filter(|n| names.len() > 1 && !n.is_empty());
            if found.fits.get(piece) == Some(&0) {
                let missing = name.map_or("a piece", |n| n);
                let text = format!(
                    "{missing} is missing from the plan: {text}; give a larger stock, or cut it from another one"
                );
                self.doubts.push(Doubt::new(About::Plan, text));
                continue;
            }
            self.warnings.push(Warning {
                kind: WarningKind::DoesNotFit,
                text: name.map_or(text.clone(), |n| format!("{n}: {text}")),
                at: None,
                size: Some(missing as f64),
            });
        }
    }
}

/// Makes the plan for an outline as it lies on the stock.
///
/// # Errors
/// Refuses settings out of range, an outline with nothing to cut, coordinates that are no numbers,
/// a loop that crosses itself, more than [`MAX_PLAN_EDGES`] edges, and more than
/// [`MAX_PLAN_CUTS`] cuts.
pub fn plan(outline: &Outline, settings: &CutSettings) -> Result<Plan, Refusal> {
    settings.check()?;
    let mut warnings = Vec::new();
    let outline = match settings.keep {
        Some(keep) => keep.apply(outline),
        None => outline.clone(),
    };
    let outline = with_marks(outline, settings);
    tell_marks(&outline, &mut warnings);
    check_size(&outline)?;
    let runs = runs::runs(&outline, settings, &mut warnings)?;
    if runs.is_empty() && outline.loops.is_empty() {
        let touched = match outline.marks.len() {
            0 => "",
            1 | 2 => "; a mark becomes a hole with --hole",
            _ => {
                "; marks become holes with --hole, or the corners of an outline with --kind touched"
            }
        };
        return Err(Refusal::Trace(format!(
            "there is nothing to cut: no outline and no open path{touched}"
        )));
    }
    let cuts = with_leads(runs, &outline, settings, &mut warnings);
    let (cuts, tour) = in_order(cuts, &outline, settings);
    checks::all(&cuts, &outline, settings, &mut warnings);
    roles::check(&outline, &mut warnings);
    warnings.order_by_key(|w: &Warning| w.kind);
    let mut doubts = ranges::doubts(settings);
    doubts.extend(findings::doubts(&warnings));
    let totals = add_up(&cuts, &outline, settings, &tour);
    Ok(Plan {
        cuts,
        outline,
        settings: settings.clone(),
        warnings,
        doubts,
        totals,
    })
}

/// Marks as round holes where a diameter is given.
pub(crate) fn with_marks(mut outline: Outline, settings: &CutSettings) -> Outline {
    if let Some(diameter) = settings.hole {
        let hole = |mark: Mark| Loop {
            role: Role::Hole,
            path: Path::Circle(Circle {
                center: mark.at,
                radius: 0.5 * diameter,
                counter_clockwise: false,
            }),
            deviation: None,
        };
        outline.loops.extend(outline.marks.drain(..).map(hole));
    }
    outline
}

/// Marks that no hole diameter was given for are left alone and named.
fn tell_marks(outline: &Outline, warnings: &mut Vec<Warning>) {
    warnings.extend(outline.marks.iter().map(|mark| Warning {
        kind: WarningKind::MarkLeft,
        text: format!(
            "the mark at ({:.1}, {:.1}) mm is left alone: no hole diameter was given for it",
            mark.at.x, mark.at.y
        ),
        at: Some(mark.at),
        size: None,
    }));
}

fn check_size(outline: &Outline) -> Result<(), Refusal> {
    let cuts = outline.loops.len() + outline.marks.len();
    if cuts > MAX_PLAN_CUTS {
        return Err(Refusal::Limit {
            what: "the number of loops and marks to cut",
            value: cuts.to_string(),
            limit: MAX_PLAN_CUTS.to_string(),
        });
    }
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

fn with_leads(
    runs: Vec<Run>,
    outline: &Outline,
    settings: &CutSettings,
    warnings: &mut Vec<Warning>,
) -> Vec<Cut> {
    let (runs, gaps) = runs::bridged(runs, outline, settings, warnings);
    let mut around = surroundings(&runs, gaps, outline, settings);
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

fn surroundings<'a>(
    runs: &[Run],
    bridges: Vec<Edge>,
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
        bridges,
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

fn in_order(cuts: Vec<Cut>, outline: &Outline, settings: &CutSettings) -> (Vec<Cut>, order::Tour) {
    let stops = stops::stops(&cuts, outline, settings);
    let home = Point::default();
    let tour = order::order(&stops, home, settings.heat_share);
    let mut cuts: Vec<Option<Cut>> = cuts.into_iter().map(Some).collect();
    let sorted = tour
        .order
        .iter()
        .filter_map(|&i| cuts.get_mut(i)?.take())
        .collect();
    (sorted, tour)
}

fn add_up(cuts: &[Cut], outline: &Outline, settings: &CutSettings, tour: &order::Tour) -> Totals {
    let cut_length: f64 = cuts.iter().map(|c| c.length).sum();
    let pierces = cuts.len();
    let cutting = 60.0 * cut_length / settings.feed + pierces as f64 * settings.pierce;
    let travelling = settings.rapid.map(|r| 60.0 * tour.travel / r);
    let part_area = layout::net_area(outline).max(0.0);
    Totals {
        pierces,
        cut_length,
        travel: tour.travel,
        travel_bound: tour.bound,
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
