//! The cut as the page asks for it, and the plan as it draws it.

use crate::view::{LoopView, loop_views};
use serde::{Deserialize, Serialize};
use trued::cut::{
    CutSettings, Plan,
    job::{Lay, lay_out},
    layout::Turns,
    plan,
    stock::Stock,
};
use trued::format::Units;
use trued::machine::Profile;
use trued::{Edge, Outline, Point, Refusal, Role, Settings, Trace, true_up};

/// The figures of the form. The three that only the cutter's own book knows must be there.
#[derive(Deserialize)]
pub struct Figures {
    kerf: f64,
    feed: f64,
    pierce: f64,
    lead: Option<f64>,
    thickness: Option<f64>,
    hole: Option<f64>,
    width: Option<f64>,
    height: Option<f64>,
    copies: usize,
}

/// One run of the torch.
#[derive(Serialize)]
struct CutView {
    role: Role,
    pierce: Point,
    pierce_seconds: f64,
    feed: f64,
    length: f64,
    edges: Vec<Edge>,
}

#[derive(Serialize)]
struct WarningView<'a> {
    text: &'a str,
    at: Option<Point>,
}

/// The plan, spelled out.
#[derive(Serialize)]
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
}

/// A plan with how many copies of how many are in it; no plan where none fits.
pub struct Made {
    /// The plan.
    pub plan: Option<Plan>,
    asked: usize,
    fits: usize,
}

impl Made {
    /// A plan with so many of so many in it.
    pub const fn of(plan: Option<Plan>, asked: usize, fits: usize) -> Self {
        Self { plan, asked, fits }
    }
}

/// The settings of the cut that the figures and the scrap amount to.
pub fn settings(figures: &Figures, scrap: Option<&Trace>) -> Result<CutSettings, Refusal> {
    let mut settings = CutSettings::new(figures.kerf, figures.feed, figures.pierce);
    settings.lead = figures.lead;
    settings.thickness = figures.thickness;
    settings.hole = figures.hole;
    settings.stock = match (scrap, figures.width, figures.height) {
        (Some(scrap), _, _) => {
            let read = true_up(scrap, &Settings::default(), &[])?;
            Some(Stock::from_outline(&read.outline)?)
        }
        (None, Some(width), Some(height)) => Some(Stock::rectangle(width, height)?),
        _ => None,
    };
    settings.check()?;
    Ok(settings)
}

/// Lays the outline out where there is a stock or more than one copy, and plans the cuts.
pub fn make(outline: &Outline, figures: &Figures, scrap: Option<&Trace>) -> Result<Made, Refusal> {
    let settings = settings(figures, scrap)?;
    if settings.stock.is_none() && figures.copies <= 1 {
        return Ok(Made::of(Some(plan(outline, &settings)?), 1, 1));
    }
    let lay = Lay {
        copies: figures.copies,
        gap: None,
        turns: Turns::default(),
    };
    let (laid, found) = lay_out(std::slice::from_ref(outline), lay, &settings)?;
    let (asked, fits) = (found.asked_in_all(), found.fits_in_all());
    let plan = (fits > 0).then(|| plan(&laid, &settings)).transpose()?;
    Ok(Made::of(plan, asked, fits))
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
            .map(|w| WarningView {
                text: &w.text,
                at: w.at,
            })
            .collect(),
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
/// pre-distorted for it; sheet and template show the piece as it will be.
pub fn file(plan: &Plan, machine: &Profile, kind: &str, units: Units) -> Option<String> {
    use trued::format::{plan_dxf, plan_svg, rs274, sheet, template};
    let moves = || plan.corrected(machine);
    Some(match kind {
        "rs274" | "dry" => rs274::write(
            &moves(),
            rs274::Options {
                units,
                dry_run: kind == "dry",
            },
        ),
        "plan-dxf" => plan_dxf::write(&moves(), units, plan_dxf::Entities::default()),
        "plan-svg" => plan_svg::write(&moves(), units),
        "sheet" => sheet::write(plan, template::Paper::default(), units),
        "template" => template::write(plan, template::Paper::default()),
        _ => return None,
    })
}
