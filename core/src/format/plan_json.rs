//! A plan as a document: every cut with its moves, and the sums. Always mm and mm/min.

use crate::cautions::CAUTIONS;
use crate::cut::{Cut, Plan, Totals, Warning};
use crate::report::Doubt;
use serde::Serialize;

#[derive(Serialize)]
struct Document<'a> {
    trued_plan: u32,
    units: &'static str,
    title: &'a str,
    kerf: f64,
    cuts: &'a [Cut],
    time_s: f64,
    totals: Totals,
    warnings: &'a [Warning],
    doubts: &'a [Doubt],
    cautions: &'a [&'a str],
}

/// The plan as JSON text.
#[must_use]
pub fn write(plan: &Plan) -> String {
    let document = Document {
        trued_plan: 1,
        units: "mm",
        title: &plan.settings.title,
        kerf: plan.settings.kerf,
        cuts: &plan.cuts,
        time_s: plan.totals.time_s,
        totals: plan.totals,
        warnings: &plan.warnings,
        doubts: &plan.doubts,
        cautions: &CAUTIONS,
    };
    let mut text = serde_json::to_string_pretty(&document).unwrap_or_default();
    text.push('\n');
    text
}
