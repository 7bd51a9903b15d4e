//! The picture to trust before any spark, as a page of its own.
//!
//! ```text
//! Trued, Trace ─▶ Seen ─(where the groups lie)─▶ Picture ─▶ a page, or the cut sheet
//! ```
//!
//! [`Seen`] is plain data: whoever knows more of a piece (numbers of edges, corners, holes) adds a [`Label`]
//! with its place and words; the drawing finds room for it. The page says in words what the picture shows,
//! for nothing may be told by looks alone.

mod drawing;
mod labels;
pub(crate) mod pieces;
mod seen;

pub use drawing::{KEY, Picture};
pub use seen::{Label, LabelKind, Seen, Worst};

use crate::cautions::CAUTIONS;
use crate::cut::{Plan, kept};
use crate::format::Units;
use crate::format::figures::{figures, notes};
use crate::format::plan_svg::escaped;
use crate::outline::Outline;
use crate::report::Doubt;
use core::fmt::Write;

const STYLE: &str = "body{margin:0 auto;max-width:78rem;padding:1.2rem 1.5rem 3rem;font:16px/1.45 sans-serif;color:#111;background:#fff}h1{font-size:1.7rem;line-height:1.15;margin:0}h2{font-size:1.05rem;margin:1.6rem 0 .3rem}p{margin:.25rem 0}svg{display:block;width:100%;max-height:88vh;margin:.8rem 0 .2rem}ul,ol{margin:.2rem 0;padding-left:1.5rem}.doubts{border:.25rem solid #111;padding:.6rem 1rem;margin:.9rem 0}.doubts h2{margin:0 0 .3rem}.doubts li{margin:.25rem 0}.key{font-size:.85rem}.cautions{font-size:.85rem;columns:26rem}@media print{body{max-width:none;padding:0}svg{max-height:150mm}}";

/// A doubt in one sentence, its place where the sentence names none.
#[must_use]
pub fn told(doubt: &Doubt) -> String {
    match doubt.at {
        Some(at) if !doubt.text.contains(") mm") => {
            format!("{}, at ({:.1}, {:.1}) mm", doubt.text, at.x, at.y)
        }
        _ => doubt.text.clone(),
    }
}

/// A plan to look at before it is cut.
#[must_use]
pub fn of_plan(plan: &Plan, seen: &Seen, units: Units) -> String {
    let title = match plan.settings.title.as_str() {
        "" => "Cut plan",
        title => title,
    };
    let picture = Picture::of_plan(plan, seen, units);
    let lists = [
        ("Figures", figures(plan, units)),
        ("Before you cut", notes(plan, units)),
    ];
    page(title, &plan.doubts, units, &picture, seen, &lists)
}

/// An outline to look at. `notes` say what was done to its trace.
#[must_use]
pub fn of_outline(
    title: &str,
    outline: &Outline,
    seen: &Seen,
    doubts: &[Doubt],
    notes: &[String],
    units: Units,
) -> String {
    let picture = Picture::of_outline(outline, seen, doubts, units);
    let notes: Vec<String> = notes.iter().map(|n| units.said(n)).collect();
    let lists = [("Kept", vec![kept(outline)]), ("What was done", notes)];
    page(title, doubts, units, &picture, seen, &lists)
}

fn page(
    title: &str,
    doubts: &[Doubt],
    units: Units,
    picture: &Picture<'_>,
    seen: &Seen,
    lists: &[(&str, Vec<String>)],
) -> String {
    let title = escaped(title);
    let mut out = format!(
        "<!doctype html><html lang=\"en\"><head><meta charset=\"utf-8\"><meta name=\"viewport\" content=\"width=device-width\"><title>{title} - look before you cut</title><style>{STYLE}</style></head><body>\n<h1>{title}</h1>\n<p>Look before you cut.</p>\n"
    );
    if !doubts.is_empty() {
        let (n, s, stand) = match doubts.len() {
            1 => ("One".to_owned(), "", "it is"),
            n => (n.to_string(), "s", "each is"),
        };
        let _ = writeln!(
            out,
            "<section class=\"doubts\"><h2>{n} doubt{s}: no machine gets a file until {stand} settled or taken on</h2>\n<ol>"
        );
        for doubt in doubts {
            let _ = writeln!(out, "<li>{}</li>", escaped(&units.said(&told(doubt))));
        }
        out.push_str("</ol></section>\n");
    }
    out.push_str(&picture.svg());
    let _ = writeln!(
        out,
        "<p class=\"key\">{KEY}{}</p>",
        hand_in_words(seen, units)
    );
    for (heading, items) in lists {
        let items: Vec<&String> = items.iter().filter(|i| !i.is_empty()).collect();
        if items.is_empty() {
            continue;
        }
        let _ = writeln!(out, "<h2>{heading}</h2>\n<ul>");
        for item in items {
            let _ = writeln!(out, "<li>{}</li>", escaped(item));
        }
        out.push_str("</ul>\n");
    }
    out.push_str("<h2>Cautions</h2>\n<ul class=\"cautions\">\n");
    for caution in CAUTIONS {
        let _ = writeln!(out, "<li>{}</li>", escaped(caution));
    }
    out.push_str("</ul>\n</body></html>\n");
    out
}

/// What the picture says of the hand's line, for whoever only reads.
fn hand_in_words(seen: &Seen, units: Units) -> String {
    match (seen.worst, seen.traced.is_empty()) {
        (Some(worst), _) => units.said(&format!(
            " The outline lies at most {:.2} mm from what was traced, at ({:.1}, {:.1}) mm.",
            worst.distance(),
            worst.meant.x,
            worst.meant.y
        )),
        (None, true) => " There is no trace to compare the outline with.".to_owned(),
        (None, false) => String::new(),
    }
}
