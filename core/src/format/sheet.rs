//! The cut sheet: one page to hang beside the machine. What is set on the cutter stands large at
//! the top; below it the picture with sizes and order numbers, the list of pieces, what to know
//! before cutting, and the cautions.

use crate::cautions::CAUTIONS;
use crate::cut::tolerance::{Class, face_lean};
use crate::cut::{Plan, Way};
use crate::format::Units;
use crate::format::figures::{Said, count, minutes, told};
use crate::format::look::pieces::{self, Kind};
use crate::format::look::{KEY, Picture, Seen};
use crate::format::plan_svg::escaped;
use crate::format::template::Paper;
use crate::outline::Bounds;
use core::fmt::Write;

/// Notes beyond this are counted, not printed: one page is one page.
const MOST_NOTES: usize = 9;
/// Kinds of pieces that are listed.
const MOST_KINDS: usize = 10;

const STYLE: &str = "html,body{margin:0}main{box-sizing:border-box;padding:10mm;display:flex;flex-direction:column;gap:3mm;font:9pt/1.3 sans-serif;color:black;overflow:hidden}header{display:flex;align-items:flex-end;justify-content:space-between;gap:6mm;border-bottom:0.6mm solid;padding-bottom:1.5mm}h1{font-size:20pt;line-height:1.1;margin:0;overflow-wrap:anywhere}header p{margin:0;white-space:nowrap;font-size:9pt}header i{display:inline-block;width:26mm;border-bottom:0.2mm solid;margin-left:1mm}dl{display:flex;flex-wrap:wrap;gap:1mm 7mm;margin:0}dt{font-size:7.5pt}dd{margin:0;font-size:14pt;font-weight:bold;white-space:nowrap}svg{flex:1 1 0;min-height:60mm;width:100%}.key{margin:0;font-size:7.5pt}.two{display:flex;gap:6mm}.two>*{flex:1}h2{font-size:9pt;margin:0 0 0.5mm}table{border-collapse:collapse}td{padding:0 3mm 0.5mm 0;vertical-align:baseline}td:not(:last-child){font-weight:bold;white-space:nowrap}ul{margin:0;padding-left:4mm}.cautions{font-size:7pt;line-height:1.25;columns:2;column-gap:6mm;border-top:0.3mm solid;padding-top:1.5mm}.cautions li{break-inside:avoid}";

/// The cut sheet as one HTML page sized in mm.
#[must_use]
pub fn write(plan: &Plan, seen: &Seen, paper: Paper, units: Units) -> String {
    let (w, h) = paper.size();
    let title = match plan.settings.title.as_str() {
        "" => "Cut sheet",
        title => title,
    };
    let title = escaped(title);
    let kinds = pieces::kinds(&plan.outline);
    let mut out = format!(
        "<!doctype html><html lang=\"en\"><head><meta charset=\"utf-8\"><title>{title} - cut sheet</title><style>@page{{size:{};margin:0}}main{{width:{w}mm;height:{h}mm}}{STYLE}</style></head><body><main>\n<header><h1>{title}</h1><p>cut by<i></i> on<i></i></p></header>\n",
        paper.name()
    );
    settings(&mut out, plan, Said(units));
    out.push_str(&Picture::of_plan(plan, seen, units).svg());
    let _ = writeln!(out, "<p class=\"key\">{KEY}</p>");
    out.push_str("<div class=\"two\">\n");
    listed(&mut out, plan, &kinds, Said(units));
    known(&mut out, plan, units);
    out.push_str("</div>\n<ul class=\"cautions\">\n");
    for caution in CAUTIONS {
        // The first word is what the eye looks for.
        let _ = match caution.split_once(": ") {
            Some((about, rest)) if !about.contains(' ') || about.len() < 24 => {
                writeln!(out, "<li><b>{}:</b> {}</li>", escaped(about), escaped(rest))
            }
            _ => writeln!(out, "<li>{}</li>", escaped(caution)),
        };
    }
    out.push_str("</ul>\n</main></body></html>\n");
    out
}

/// What is set on the cutter and the machine, large.
fn settings(out: &mut String, plan: &Plan, said: Said) {
    let (s, t) = (&plan.settings, &plan.totals);
    let mut all = vec![
        ("feed", said.speed(s.feed)),
        ("pierce delay", format!("{} s", s.pierce)),
        ("kerf", said.setting(s.kerf)),
    ];
    if let Some(thick) = s.thickness {
        all.push(("plate", said.setting(thick)));
    }
    if let Some(h) = s.heights {
        all.push(("cut height", said.setting(h.cut)));
    }
    let time = match t.time_has_travel {
        true => "time",
        false => "time without travel",
    };
    all.push((time, minutes(t.time_s)));
    all.push(("pierces", t.pierces.to_string()));
    out.push_str("<dl>\n");
    for (name, value) in all {
        let _ = writeln!(out, "<div><dt>{name}</dt><dd>{value}</dd></div>");
    }
    out.push_str("</dl>\n");
}

/// The pieces by kind, the plate, and where they lie.
fn listed(out: &mut String, plan: &Plan, kinds: &[Kind], said: Said) {
    let (s, t) = (&plan.settings, &plan.totals);
    out.push_str("<section>\n");
    pieces_listed(out, kinds, said, s.tolerance);
    if let Some(class) = s.tolerance {
        let face = s.thickness.and_then(|thick| {
            let [low, high] = [3, 4].map(|range| face_lean(range, thick));
            Some((low?, high?))
        });
        let face = face.map_or(String::new(), |(low, high)| {
            format!(
                "; a cut face that leans {:.2} {unit} is in range 3 of ISO 9013, {:.2} {unit} in range 4",
                low / said.0.in_mm(),
                high / said.0.in_mm(),
                unit = said.0.name()
            )
        });
        let _ = writeln!(
            out,
            "<div>Tolerances: ISO 2768-1 {}{face}</div>",
            class.letter()
        );
    }
    if let Some(kg) = t.weight_kg {
        let _ = writeln!(out, "<div>{kg:.3} kg together</div>");
    }
    let plate = s.stock.as_ref().and_then(|p| Bounds::of_path(&p.border));
    let (what, lies) = match plate {
        Some(b) => ("plate", Some(b)),
        None => ("pieces", pieces::extent(&plan.outline)),
    };
    if let Some(b) = plate {
        let share = t.stock_use.unwrap_or_default();
        let _ = writeln!(
            out,
            "<div>Plate {} × {}, of which {:.0} % become pieces</div>",
            said.bare(b.width()),
            said.size(b.height()),
            100.0 * share
        );
    }
    if let Some(b) = lies {
        let _ = writeln!(
            out,
            "<div>From the machine's zero the {what} lie{} from {} to {} across, {} to {} up</div>",
            if plate.is_some() { "s" } else { "" },
            said.bare(b.min.x),
            said.bare(b.max.x),
            said.bare(b.min.y),
            said.size(b.max.y)
        );
    }
    let way = match s.outside {
        Way::Clockwise => "clockwise",
        Way::CounterClockwise => "counter-clockwise",
    };
    let _ = writeln!(
        out,
        "<div>{} with the torch on, {} of travel; outsides run {way}</div>",
        said.way(t.cut_length),
        said.way(t.travel)
    );
    out.push_str("</section>\n");
}

/// Every kind of piece with how often it is cut and its sizes.
fn pieces_listed(out: &mut String, kinds: &[Kind], said: Said, tolerance: Option<Class>) {
    if !kinds.is_empty() {
        out.push_str("<h2>Pieces</h2>\n<table>\n");
    }
    for kind in kinds.iter().take(MOST_KINDS) {
        let letter = match kinds.len() {
            1 => String::new(),
            _ => format!("<td>{}</td>", kind.letter),
        };
        let _ = writeln!(
            out,
            "<tr>{letter}<td>{} ×</td><td>{}</td></tr>",
            kind.places.len(),
            kind.line(said, tolerance)
        );
    }
    if !kinds.is_empty() {
        out.push_str("</table>\n");
    }
    if kinds.len() > MOST_KINDS {
        let more = count(kinds.len() - MOST_KINDS, "more kind");
        let _ = writeln!(out, "<div>and {more} of pieces</div>");
    }
}

/// What to know before cutting.
fn known(out: &mut String, plan: &Plan, units: Units) {
    let notes = told(plan, units);
    if notes.is_empty() {
        return;
    }
    out.push_str("<section>\n<h2>Before you cut</h2>\n<ul class=\"notes\">\n");
    for note in notes.iter().take(MOST_NOTES) {
        let _ = writeln!(out, "<li>{}</li>", escaped(note));
    }
    let more = notes.len().saturating_sub(MOST_NOTES);
    if more > 0 {
        let _ = writeln!(out, "<li>and {more} more, in the plan itself</li>");
    }
    out.push_str("</ul>\n</section>\n");
}
