//! What the machine really does, as the page asks for it: squareness, the arm, the right tip, and the
//! files that keep them.

use crate::trace;
use serde::{Deserialize, Serialize};
use trued::cut::material;
use trued::jobs::touches;
use trued::machine::{Arm, CalibrationSettings, Measured, Profile, SquareFit, Squareness};
use trued::machine::{calibrate, retip, squareness};
use trued::{Point, Trace};
use wasm_bindgen::prelude::*;

/// A machine found, and how sure.
#[derive(Serialize)]
#[cfg_attr(not(target_arch = "wasm32"), derive(ts_rs::TS))]
pub struct SquareView {
    machine: Squareness,
    /// `scale_x` and `scale_y`, and `out_of_square` in degrees.
    plus_minus: [f64; 3],
    contradiction: Option<String>,
    /// What belongs into the profile when the piece was cut through the one in use.
    kept: Squareness,
}

/// The view of a fit; `used` is the correction the piece was cut with.
pub fn square_view(fit: &SquareFit, used: Option<&Squareness>) -> SquareView {
    let [x, y, angle] = fit.plus_minus;
    SquareView {
        machine: fit.machine,
        plus_minus: [x, y, angle.to_degrees()],
        contradiction: fit.contradiction.as_ref().map(|c| c.sentence()),
        kept: used.map_or(fit.machine, |u| u.then_found(&fit.machine)),
    }
}

/// Scale and squareness from four sides and two diagonals.
///
/// # Errors
/// The library's refusal, one sentence.
#[wasm_bindgen(unchecked_return_type = "SquareView")]
pub fn square(
    #[wasm_bindgen(unchecked_param_type = "Measured")] measured: JsValue,
    #[wasm_bindgen(unchecked_param_type = "Squareness | null")] used: JsValue,
) -> Result<JsValue, JsError> {
    let measured: Measured = crate::taken(&measured)?;
    let used: Option<Squareness> = crate::taken(&used)?;
    crate::given(&square_view(&squareness(&measured)?, used.as_ref()))
}

#[derive(Serialize)]
#[cfg_attr(not(target_arch = "wasm32"), derive(ts_rs::TS))]
struct FigureView {
    name: String,
    value: f64,
    plus_minus: f64,
    angle: bool,
}

#[derive(Serialize)]
#[cfg_attr(not(target_arch = "wasm32"), derive(ts_rs::TS))]
struct ErrorView {
    at: Point,
    within: f64,
}

/// An arm found, and how sure. Angles in degrees.
#[derive(Serialize)]
#[cfg_attr(not(target_arch = "wasm32"), derive(ts_rs::TS))]
struct ArmView {
    arm: Arm,
    figures: Vec<FigureView>,
    touches: usize,
    touch_error: f64,
    worst: f64,
    map: Vec<ErrorView>,
    notes: Vec<String>,
}

/// What the touches are read by.
#[derive(Deserialize)]
#[cfg_attr(not(target_arch = "wasm32"), derive(ts_rs::TS))]
struct ArmAsked {
    arm: Arm,
    tip: String,
    touch_error: Option<f64>,
}

/// The arm's geometry from touches of known points, given as rows.
///
/// # Errors
/// The library's refusal, one sentence.
#[wasm_bindgen(unchecked_return_type = "ArmView")]
pub fn arm(
    rows: &str,
    #[wasm_bindgen(unchecked_param_type = "ArmAsked")] asked: JsValue,
) -> Result<JsValue, JsError> {
    let asked: ArmAsked = crate::taken(&asked)?;
    let touched = touches::read(rows.as_bytes(), &asked.tip)?;
    let settings = CalibrationSettings {
        touch_error: asked.touch_error,
        table: None,
    };
    let fit = calibrate(&touched, &asked.arm, &settings)?;
    let figure = |f: &calibrate::Figure| {
        let unit = |v: f64| if f.angle { v.to_degrees() } else { v };
        FigureView {
            name: f.name.clone(),
            value: unit(f.value),
            plus_minus: unit(f.plus_minus),
            angle: f.angle,
        }
    };
    crate::given(&ArmView {
        figures: fit.figures.iter().map(figure).collect(),
        touches: fit.residuals.len(),
        touch_error: fit.touch_error,
        worst: fit.residuals.iter().copied().fold(0.0, f64::max),
        map: fit
            .map
            .iter()
            .map(|e| ErrorView {
                at: e.at,
                within: e.within,
            })
            .collect(),
        notes: fit.notes,
        arm: fit.arm,
    })
}

/// The trace as the true tip drew it, as an object of the page with the points it could not reach.
pub fn retipped(
    trace: &Trace,
    arm: &Arm,
    believed: &str,
    actual: &str,
) -> Result<JsValue, JsError> {
    if !trace.drawn.is_empty() {
        return Err(trued::Refusal::Trace(
            "drawn edges cannot be re-read: only what a tip has traced".into(),
        )
        .into());
    }
    let read = retip(trace, arm, arm.tip(believed)?, arm.tip(actual)?)?;
    let out: Vec<String> = read.unreachable.iter().map(|u| u.sentence()).collect();
    let opened = trace::Opened {
        kind: "trace",
        trace: read.trace,
        ..trace::Opened::default()
    };
    trace::to_object(&opened, (crate::given(&out)?, JsValue::UNDEFINED), false)
}

/// A machine profile from its file.
///
/// # Errors
/// The library's refusal, one sentence.
#[wasm_bindgen(unchecked_return_type = "Profile")]
pub fn profile(text: &str) -> Result<JsValue, JsError> {
    crate::given(&Profile::read(text)?)
}

/// A machine profile as its file.
///
/// # Errors
/// The library's refusal, one sentence.
#[wasm_bindgen]
pub fn profile_text(
    #[wasm_bindgen(unchecked_param_type = "Profile")] profile: JsValue,
) -> Result<String, JsError> {
    let profile: Profile = crate::taken(&profile)?;
    Ok(profile.write()?)
}

/// The rows of a material file.
///
/// # Errors
/// The library's refusal, one sentence.
#[wasm_bindgen(unchecked_return_type = "Material[]")]
pub fn materials(book: &str) -> Result<JsValue, JsError> {
    crate::given(&material::read(book)?)
}

/// The material file with the figures of one row changed or added.
///
/// # Errors
/// The library's refusal, one sentence.
#[wasm_bindgen]
pub fn keep_material(
    book: &str,
    #[wasm_bindgen(unchecked_param_type = "Material")] row: JsValue,
) -> Result<String, JsError> {
    Ok(material::keep(book, &crate::taken(&row)?)?)
}

/// Names what goes to the page and comes from it.
#[cfg(not(target_arch = "wasm32"))]
pub fn name(all: &mut crate::types::Named) {
    use ts_rs::TypeVisitor as _;
    all.visit::<SquareView>();
    all.visit::<ArmView>();
    all.visit::<ArmAsked>();
}
