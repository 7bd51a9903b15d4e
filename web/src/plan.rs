//! The cut as the page asks for it, and the plan as it draws it.

use crate::view::{LoopView, loop_views};
use serde::Serialize;
use trued::cut::stock::TOUCHED_HOLE;
use trued::cut::{Accepted, CutSettings, Figures, Group, Plan, Stock, job};
use trued::format::Units;
use trued::format::look::Seen;
use trued::machine::Profile;
use trued::{Doubt, Edge, Point, Refusal, Role, Settings, Trace, Trued, true_up};

/// One run of the torch.
#[derive(Serialize)]
#[cfg_attr(not(target_arch = "wasm32"), derive(ts_rs::TS))]
struct CutView {
    role: Role,
    pierce: Point,
    pierce_seconds: f64,
    feed: f64,
    length: f64,
    edges: Vec<Edge>,
}

#[derive(Serialize)]
#[cfg_attr(not(target_arch = "wasm32"), derive(ts_rs::TS))]
struct WarningView<'a> {
    text: &'a str,
    at: Option<Point>,
}

/// The plan, spelled out.
#[derive(Serialize)]
#[cfg_attr(not(target_arch = "wasm32"), derive(ts_rs::TS))]
pub struct PlanView<'a> {
    cuts: Vec<CutView>,
    loops: Vec<LoopView>,
    stock: Vec<Vec<Edge>>,
    kerf: f64,
    cut_length: f64,
    travel: f64,
    seconds: f64,
    weight: Option<f64>,
    asked: usize,
    fits: usize,
    warnings: Vec<WarningView<'a>>,
    doubts: &'a [Doubt],
}

/// A plan with how many copies of how many are in it; no plan where none fits.
pub struct Made {
    /// The plan.
    pub plan: Option<Plan>,
    /// It lies elsewhere than the trace.
    pub laid: bool,
    asked: usize,
    fits: usize,
}

impl Made {
    /// A plan with so many of so many in it.
    pub const fn of(plan: Option<Plan>, asked: usize, fits: usize) -> Self {
        Self {
            plan,
            laid: true,
            asked,
            fits,
        }
    }
}

/// The settings of the cut that the figures and the scrap amount to, and what is doubtful of the scrap.
pub fn settings(
    figures: &Figures,
    scrap: Option<&Trace>,
) -> Result<(CutSettings, Vec<Doubt>), Refusal> {
    let Some(scrap) = scrap else {
        return Ok((figures.settings(None)?, Vec::new()));
    };
    let read = true_up(scrap, &Settings::default(), &[])?;
    let touched = figures.scrap_hole.unwrap_or(TOUCHED_HOLE);
    let stock = Stock::from_outline(&read.outline, touched)?;
    let of_scrap = |d: Doubt| Doubt {
        text: format!("the scrap: {}", d.text),
        ..d
    };
    let doubts = read.report.doubts.into_iter().map(of_scrap).collect();
    Ok((figures.settings(Some(stock))?, doubts))
}

/// Lays the outline out where there is a stock or more than one copy, and plans the cuts.
pub fn make(read: &Trued, figures: &Figures, scrap: Option<&Trace>) -> Result<Made, Refusal> {
    let (settings, doubts) = settings(figures, scrap)?;
    let lay = figures.lay(&settings);
    let mut made = job(&[Group::from(read)], lay, &settings)?;
    if let Some(plan) = &mut made.plan {
        plan.doubts.splice(0..0, doubts);
    }
    let (asked, fits) = match lay {
        None => (1, 1),
        Some(_) => (made.layout.asked_in_all(), made.layout.fits_in_all()),
    };
    Ok(Made {
        laid: lay.is_some(),
        ..Made::of(made.plan, asked, fits)
    })
}

/// The view of what was made.
pub fn view(made: &Made) -> PlanView<'_> {
    let plan = made.plan.as_ref();
    let settings = plan.map(|p| &p.settings);
    let totals = plan.map(|p| p.totals).unwrap_or_default();
    let stock = settings.and_then(|s| s.stock.as_ref());
    PlanView {
        cuts: plan.map(cuts).unwrap_or_default(),
        loops: plan.map(|p| loop_views(&p.outline)).unwrap_or_default(),
        stock: stock.map(borders).unwrap_or_default(),
        kerf: settings.map_or(0.0, |s| s.kerf),
        cut_length: totals.cut_length,
        travel: totals.travel,
        seconds: totals.time_s,
        weight: totals.weight_kg,
        asked: made.asked,
        fits: made.fits,
        warnings: plan
            .iter()
            .flat_map(|p| &p.warnings)
            .filter(|w| w.kind.doubt().is_none())
            .map(|w| WarningView {
                text: &w.text,
                at: w.at,
            })
            .collect(),
        doubts: plan.map(|p| p.doubts.as_slice()).unwrap_or_default(),
    }
}

fn cuts(plan: &Plan) -> Vec<CutView> {
    let view = |c: &trued::cut::Cut| CutView {
        role: c.role,
        pierce: c.pierce.at,
        pierce_seconds: c.pierce.delay_s,
        feed: c.feed,
        length: c.length,
        edges: c.moves().copied().collect(),
    };
    plan.cuts.iter().map(view).collect()
}

fn borders(stock: &Stock) -> Vec<Vec<Edge>> {
    std::iter::once(&stock.border)
        .chain(&stock.openings)
        .map(trued::Path::edges)
        .collect()
}

/// A plan as one of its files; `None` for a name that is none. What goes to the machine is
/// pre-distorted for it, and written only when each doubt was accepted; sheet and template show the piece as it
/// will be.
pub fn file(
    plan: &Plan,
    seen: &Seen,
    machine: &Profile,
    kind: &str,
    units: Units,
    accepted: &Accepted,
) -> Result<Option<String>, Refusal> {
    use trued::format::{Format, PlanOptions, look, sheet, template};
    let paper = template::Paper::default();
    let format = match kind {
        "rs274" | "dry" => Some(Format::Rs274),
        "plan-dxf" => Some(Format::Dxf),
        "plan-svg" => Some(Format::Svg),
        _ => None,
    };
    if let Some(format) = format {
        let options = PlanOptions {
            units,
            dry_run: kind == "dry",
            accepted: accepted.clone(),
            ..PlanOptions::default()
        };
        let moves = plan.corrected(machine);
        return format.write_plan(&moves, &options).map(Some);
    }
    Ok(Some(match kind {
        "sheet" => sheet::write(plan, seen, paper, units),
        "look" => look::of_plan(plan, seen, units),
        "template" => template::write(plan, paper),
        _ => return Ok(None),
    }))
}
