//! The jobs around the cut as the page asks for them: openings, blanks, the coupon.

use crate::machine::{SquareView, square_view};
use crate::plan::{Made, PlanView, settings, view};
use serde::{Deserialize, Serialize};
use trued::cut::job::planned;
use trued::cut::{CutSettings, Figures, Group, Plan, Stock};
use trued::format::Units;
use trued::jobs::blanks::rectangle;
use trued::jobs::coupon::{CutWith, coupon, measured, read_sheet, sheet};
use trued::jobs::{
    self, BlanksSettings, CouponMeasured, CouponSettings, OpeningSettings, OpeningShape,
};
use trued::jobs::{PatternKind, PatternSettings, Place};
use trued::{Doubt, Point, Refusal, Trace, Trued};
use wasm_bindgen::prelude::*;

/// An opening as its form asks for it. Lengths are mm.
#[derive(Deserialize)]
#[cfg_attr(not(target_arch = "wasm32"), derive(ts_rs::TS))]
pub struct OpeningAsked {
    hole: f64,
    shape: ShapeAsked,
    stay: bool,
    pattern: Option<PatternKind>,
    whole: Option<f64>,
    thickness: Option<f64>,
    width: Option<f64>,
    height: Option<f64>,
}

#[derive(Deserialize)]
#[serde(rename_all = "snake_case")]
#[cfg_attr(not(target_arch = "wasm32"), derive(ts_rs::TS))]
enum ShapeAsked {
    Round(f64),
    NextRound(Option<f64>),
    Rectangle(f64, f64),
    RoundEnded(f64, f64),
    Traced,
}

/// Makes the opening from the marks and the rough loop that were read.
pub fn opening(read: Trued, asked: &OpeningAsked) -> Result<Trued, Refusal> {
    let shape = match asked.shape {
        ShapeAsked::Round(d) => OpeningShape::Round(d),
        ShapeAsked::NextRound(d) => OpeningShape::NextRound(d),
        ShapeAsked::Rectangle(w, h) => OpeningShape::Rectangle(w, h),
        ShapeAsked::RoundEnded(w, h) => OpeningShape::RoundEnded(w, h),
        ShapeAsked::Traced => OpeningShape::Traced,
    };
    let mut settings = OpeningSettings::new(asked.hole, shape);
    settings.place = if asked.stay {
        Place::Traced
    } else {
        Place::Pattern
    };
    settings.pattern = PatternSettings {
        kind: asked.pattern,
        touch_error: None,
        whole: asked.whole,
    };
    settings.thickness = asked.thickness;
    if let (Some(width), Some(height)) = (asked.width, asked.height) {
        settings.stock = Some(Stock::rectangle(width, height)?);
    }
    let marks: Vec<Point> = read.outline.marks.iter().map(|m| m.at).collect();
    let made = jobs::opening(&marks, jobs::opening::rough(&read.outline), &settings)?;
    Ok(made.after(read))
}

/// The blanks laid out and planned; no plan where none fits.
pub struct BlanksMade {
    made: Made,
    sentence: String,
}

/// The same for the page.
#[derive(Serialize)]
#[cfg_attr(not(target_arch = "wasm32"), derive(ts_rs::TS))]
pub struct BlanksView<'a> {
    plan: PlanView<'a>,
    sentence: &'a str,
}

/// Lays blanks on the scrap: of the outline that was read, or of the size said.
pub fn blanks(
    read: &Trued,
    figures: &Figures,
    scrap: Option<&Trace>,
) -> Result<BlanksMade, Refusal> {
    let (settings, doubts) = settings(figures, scrap)?;
    let stock = settings
        .stock
        .clone()
        .ok_or_else(|| Refusal::Setting("say which scrap to cut from".into()))?;
    let mut blank = Group::from(read);
    if let Some((w, h)) = figures.blank_width.zip(figures.blank_height) {
        blank = rectangle(w, h)?.into();
    }
    // The program's own defaults: room for the leads.
    let lead = settings.lead_length() + settings.kerf;
    let count = figures.copies.unwrap_or(1).max(1);
    let wanted = BlanksSettings {
        count,
        kerf: settings.kerf,
        gap: figures.gap.unwrap_or(lead),
        edge: figures.edge.unwrap_or(lead),
        turns: figures.turns,
        missing: true,
        thorough: true,
    };
    let laid = jobs::blanks(&blank.outline, &stock, &wanted)?;
    let fits = laid.layout.fits_in_all();
    let mut plan = (fits > 0)
        .then(|| planned(&[blank], &laid.layout, &settings))
        .transpose()?;
    if let Some(plan) = &mut plan {
        plan.doubts.splice(0..0, doubts);
    }
    Ok(BlanksMade {
        made: Made::of(plan, count, fits),
        sentence: laid.sentence,
    })
}

impl BlanksMade {
    /// What the page is told.
    pub fn view(&self) -> BlanksView<'_> {
        BlanksView {
            plan: view(&self.made),
            sentence: &self.sentence,
        }
    }

    /// What the bench keeps.
    pub fn into_plan(self) -> Option<Plan> {
        self.made.plan
    }
}

/// The ladder and the figures of the cut.
#[derive(Deserialize)]
#[cfg_attr(not(target_arch = "wasm32"), derive(ts_rs::TS))]
pub struct CouponAsked {
    feed_from: f64,
    feed_to: f64,
    rungs: usize,
    kerf: f64,
    pierce: f64,
    thickness: Option<f64>,
}

/// The coupon with its plan.
pub struct CouponMade {
    made: Made,
    feeds: Vec<f64>,
    sheet: String,
}

/// The same for the page.
#[derive(Serialize)]
#[cfg_attr(not(target_arch = "wasm32"), derive(ts_rs::TS))]
pub struct CouponView<'a> {
    plan: PlanView<'a>,
    feeds: &'a [f64],
    sheet: &'a str,
}

/// Makes the coupon.
pub fn coupon_of(asked: &CouponAsked) -> Result<CouponMade, Refusal> {
    let ladder = CouponSettings {
        feed_from: asked.feed_from,
        feed_to: asked.feed_to,
        rungs: asked.rungs,
    };
    let middle = 0.5 * (asked.feed_from + asked.feed_to);
    let mut settings = CutSettings::new(asked.kerf, middle, asked.pierce);
    settings.thickness = asked.thickness;
    settings.title = "coupon".into();
    let made = coupon(&ladder, &settings)?;
    Ok(CouponMade {
        sheet: sheet(&ladder, &settings, &made.feeds, Units::Mm),
        made: Made::of(Some(made.plan), 1, 1),
        feeds: made.feeds,
    })
}

impl CouponMade {
    /// What the page is told.
    pub fn view(&self) -> CouponView<'_> {
        CouponView {
            plan: view(&self.made),
            feeds: &self.feeds,
            sheet: &self.sheet,
        }
    }

    /// What the bench keeps.
    pub fn into_plan(self) -> Option<Plan> {
        self.made.plan
    }
}

/// Figures measured on a coupon, with the ladder it was cut by.
#[derive(Deserialize, Serialize)]
#[cfg_attr(not(target_arch = "wasm32"), derive(ts_rs::TS))]
pub struct CouponFigures {
    feed_from: Option<f64>,
    feed_to: Option<f64>,
    rungs: Option<usize>,
    rung: Option<usize>,
    slot: Option<f64>,
    plug: Option<f64>,
    hole: Option<f64>,
    sides: Option<[f64; 4]>,
    diagonals: Option<[f64; 2]>,
    caliper: f64,
    kerf: Option<f64>,
    pierce: Option<f64>,
    thickness: Option<f64>,
}

/// What the coupon says.
#[derive(Serialize)]
#[cfg_attr(
    not(target_arch = "wasm32"),
    derive(ts_rs::TS),
    ts(rename = "CouponSays")
)]
struct CouponSaysView {
    kerf: Option<(f64, f64)>,
    feed: Option<f64>,
    square: Option<SquareView>,
    notes: Vec<String>,
    doubts: Vec<Doubt>,
}

/// Turns what was measured on a coupon into kerf, feed and squareness.
///
/// # Errors
/// The library's refusal, one sentence.
#[wasm_bindgen(unchecked_return_type = "CouponSays")]
pub fn coupon_says(
    #[wasm_bindgen(unchecked_param_type = "CouponFigures")] figures: JsValue,
) -> Result<JsValue, JsError> {
    let f: CouponFigures = crate::taken(&figures)?;
    let ladder = match (f.feed_from, f.feed_to, f.rungs) {
        (Some(feed_from), Some(feed_to), Some(rungs)) => Some(CouponSettings {
            feed_from,
            feed_to,
            rungs,
        }),
        _ => None,
    };
    let says = measured(
        &CouponMeasured {
            rung: f.rung,
            slot: f.slot,
            plug: f.plug,
            hole: f.hole,
            sides: f.sides,
            diagonals: f.diagonals,
            caliper: f.caliper,
            cut_with: CutWith {
                kerf: f.kerf,
                pierce: f.pierce,
                thickness: f.thickness,
            },
        },
        ladder.as_ref(),
    )?;
    crate::given(&CouponSaysView {
        kerf: says.kerf,
        feed: says.feed,
        square: says.square.as_ref().map(|fit| square_view(fit, None)),
        notes: says.notes,
        doubts: says.doubts,
    })
}

/// Reads a sheet that was filled in at the bench.
///
/// # Errors
/// The library's refusal, one sentence.
#[wasm_bindgen(unchecked_return_type = "CouponFigures")]
pub fn coupon_sheet(text: &str) -> Result<JsValue, JsError> {
    let (m, ladder) = read_sheet(text)?;
    crate::given(&CouponFigures {
        feed_from: ladder.map(|l| l.feed_from),
        feed_to: ladder.map(|l| l.feed_to),
        rungs: ladder.map(|l| l.rungs),
        rung: m.rung,
        slot: m.slot,
        plug: m.plug,
        hole: m.hole,
        sides: m.sides,
        diagonals: m.diagonals,
        caliper: m.caliper,
        kerf: m.cut_with.kerf,
        pierce: m.cut_with.pierce,
        thickness: m.cut_with.thickness,
    })
}

/// Names what goes to the page and comes from it.
#[cfg(not(target_arch = "wasm32"))]
pub fn name(all: &mut crate::types::Named) {
    use ts_rs::TypeVisitor as _;
    all.visit::<OpeningAsked>();
    all.visit::<BlanksView<'static>>();
    all.visit::<CouponAsked>();
    all.visit::<CouponView<'static>>();
    all.visit::<CouponFigures>();
    all.visit::<CouponSaysView>();
}
