//! The cut sheet: one page to hang beside the machine. Picture with sizes and order numbers,
//! settings, times, notes, cautions.

use crate::cautions::CAUTIONS;
use crate::cut::Plan;
use crate::format::Units;
use crate::format::plan_svg::{Frame, body, escaped};
use crate::format::template::Paper;
use crate::geom::{Point, Vec2};
use crate::outline::Bounds;
use core::fmt::Write;

/// Order numbers beyond this would only blacken the picture.
const MOST_NUMBERS: usize = 250;
/// Notes beyond this are counted, not printed: one page is one page.
const MOST_NOTES: usize = 12;

/// The figures of a plan, one line each, for sheet and terminal.
#[must_use]
pub fn figures(plan: &Plan) -> Vec<String> {
    let (s, t) = (&plan.settings, &plan.totals);
    let minutes = |s: f64| {
        format!(
            "{} min {:02.0} s",
            libm::floor(s / 60.0),
            libm::floor(s % 60.0)
        )
    };
    let thick = s
        .thickness
        .map_or(String::new(), |t| format!(", plate {t} mm"));
    let mut lines = vec![
        format!(
            "kerf {} mm, feed {} mm/min, pierce delay {} s{thick}",
            s.kerf, s.feed, s.pierce
        ),
        format!(
            "{} cuts, {:.0} mm with the torch on",
            t.pierces, t.cut_length
        ),
        format!(
            "time {}{}",
            minutes(t.time_s),
            if t.time_has_travel {
                " with travel"
            } else {
                " for cutting and piercing; travel not counted, its speed is not known"
            }
        ),
        format!(
            "travel {:.0} mm; no order can do with less than {:.0} mm; {} warm neighbours in a row",
            t.travel, t.travel_bound, t.warm_in_a_row
        ),
    ];
    if let Some(kg) = t.weight_kg {
        lines.push(format!("pieces weigh {kg:.3} kg together"));
    }
    if let Some(share) = t.stock_use {
        lines.push(format!(
            "{:.1} % of the stock becomes pieces",
            100.0 * share
        ));
    }
    lines
}

/// The cut sheet as one HTML page sized in mm.
#[must_use]
pub fn write(plan: &Plan, paper: Paper, units: Units) -> String {
    let (w, h) = paper.size();
    let title = if plan.settings.title.is_empty() {
        "Cut sheet"
    } else {
        &plan.settings.title
    };
    let mut out = format!(
        "<!doctype html><html lang=\"en\"><head><meta charset=\"utf-8\"><title>{0} - cut sheet</title><style>@page{{size:{1};margin:0}}html,body{{margin:0}}main{{box-sizing:border-box;width:{w}mm;height:{h}mm;padding:10mm;display:flex;flex-direction:column;font:9pt/1.25 sans-serif;overflow:hidden}}h1{{font-size:16pt;margin:0 0 2mm}}svg{{flex:1 1 auto;min-height:0;width:100%}}ul{{margin:1mm 0;padding-left:4mm}}.figures{{font-size:10pt}}.cautions{{font-size:7pt;columns:2;border-top:0.4mm solid;padding-top:1mm}}</style></head><body><main>\n<h1>{0}</h1>\n",
        escaped(title),
        paper.name()
    );
    out.push_str(&picture(plan, units));
    out.push_str("<ul class=\"figures\">\n");
    for line in figures(plan) {
        let _ = writeln!(out, "<li>{}</li>", escaped(&line));
    }
    out.push_str("</ul>\n");
    if !plan.warnings.is_empty() {
        out.push_str("<ul class=\"notes\">\n");
        for warning in plan.warnings.iter().take(MOST_NOTES) {
            let _ = writeln!(out, "<li>{}</li>", escaped(&warning.text));
        }
        let more = plan.warnings.len().saturating_sub(MOST_NOTES);
        if more > 0 {
            let _ = writeln!(out, "<li>and {more} more notes, in the plan itself</li>");
        }
        out.push_str("</ul>\n");
    }
    out.push_str("<ul class=\"cautions\">\n");
    for caution in CAUTIONS {
        let _ = writeln!(out, "<li>{}</li>", escaped(caution));
    }
    out.push_str("</ul>\n</main></body></html>\n");
    out
}

fn picture(plan: &Plan, units: Units) -> String {
    let mut frame = Frame::of(plan, Units::Mm);
    // Room for the outer sizes below and on the right.
    let span = frame.bounds.width().max(frame.bounds.height());
    let text = 0.022 * span;
    frame.bounds.min = frame.bounds.min + Vec2::new(0.0, -3.0 * text);
    frame.bounds.max = frame.bounds.max + Vec2::new(7.0 * text, 0.0);
    let (w, h) = (
        frame.length(frame.bounds.width()),
        frame.length(frame.bounds.height()),
    );
    let mut out = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {w} {h}\" role=\"img\" aria-label=\"The cuts in their order\">\n"
    );
    // Lines keep their weight on paper however large the plate.
    out.push_str("<style>path{vector-effect:non-scaling-stroke}#stock path{stroke-width:0.5mm}#cut-parts path,#cut-holes path,#cut-open path{stroke-width:0.45mm}#leads path{stroke-width:0.3mm}#travel path{stroke-width:0.15mm;stroke-dasharray:1mm 1mm}#pierces path{stroke-width:0.2mm}</style>\n");
    out.push_str(&body(plan, &frame, true));
    sizes(&mut out, plan, &frame, text, units);
    for (number, cut) in plan.cuts.iter().enumerate().take(MOST_NUMBERS) {
        let at = cut.pierce.at;
        let _ = writeln!(
            out,
            "<text x=\"{}\" y=\"{}\" font-size=\"{:.2}\" font-family=\"sans-serif\" stroke=\"white\" stroke-width=\"{:.2}\" paint-order=\"stroke\">{}</text>",
            frame.length(at.x - frame.bounds.min.x + 0.3 * text),
            frame.length(frame.bounds.max.y - at.y - 0.3 * text),
            0.8 * text,
            0.15 * text,
            number + 1
        );
    }
    out.push_str("</svg>\n");
    out
}

/// Width and height of all pieces together, drawn below and on the right of them.
fn sizes(out: &mut String, plan: &Plan, frame: &Frame, text: f64, units: Units) {
    let loops = plan
        .outline
        .loops
        .iter()
        .filter_map(|l| Bounds::of_path(&l.path));
    let Some(b) = loops.reduce(|a, b| a.union(&b)) else {
        return;
    };
    let said = |mm: f64| match units {
        Units::Mm => format!("{:.1} mm", mm),
        Units::Inch => format!("{:.3} in", mm / 25.4),
    };
    let low = frame.bounds.min.y + 1.6 * text;
    let right = frame.bounds.max.x - 6.4 * text;
    let line = |a: Point, c: Point| format!("M{} L{}", frame.place(a), frame.place(c));
    let tick = Vec2::new(0.0, 0.4 * text);
    let side = Vec2::new(0.4 * text, 0.0);
    let (bl, br) = (Point::new(b.min.x, low), Point::new(b.max.x, low));
    let (rl, rh) = (Point::new(right, b.min.y), Point::new(right, b.max.y));
    let _ = writeln!(
        out,
        "<path fill=\"none\" stroke=\"black\" style=\"stroke-width:0.15mm\" d=\"{} {} {} {} {} {}\"/>",
        line(bl, br),
        line(bl + tick, bl + (-tick)),
        line(br + tick, br + (-tick)),
        line(rl, rh),
        line(rl + side, rl + (-side)),
        line(rh + side, rh + (-side)),
    );
    for (at, anchor, mm) in [
        (
            Point::new(0.5 * (b.min.x + b.max.x), low - 1.1 * text),
            "middle",
            b.width(),
        ),
        (
            Point::new(right + 0.6 * text, 0.5 * (b.min.y + b.max.y)),
            "start",
            b.height(),
        ),
    ] {
        let _ = writeln!(
            out,
            "<text x=\"{}\" y=\"{}\" font-size=\"{text:.2}\" font-family=\"sans-serif\" text-anchor=\"{anchor}\">{}</text>",
            frame.length(at.x - frame.bounds.min.x),
            frame.length(frame.bounds.max.y - at.y),
            said(mm)
        );
    }
}
