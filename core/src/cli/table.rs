//! What is said on the terminal after a run. All of it goes to standard error.

use std::collections::BTreeSet;
use trued::cautions::CAUTION_LINE;
use trued::format::Units;
use trued::report::SizeKind;
use trued::{Edge, Loop, RelationKind, Role, Size, Trued};

/// Most sizes that one line of the table lists.
const MOST_SIZES: usize = 6;

/// The line of cautions that ends every run which wrote something.
pub fn cautions() {
    eprintln!("{CAUTION_LINE}");
}

/// Rows under headings, each column as wide as its widest cell.
pub fn print(headings: &[&str], rows: &[Vec<String>]) {
    let width = |column: usize| {
        let cells = rows.iter().filter_map(|r| r.get(column));
        let widest = cells.map(|c| c.chars().count()).max().unwrap_or(0);
        widest.max(headings.get(column).map_or(0, |h| h.chars().count()))
    };
    let widths: Vec<usize> = (0..headings.len()).map(width).collect();
    let line = |cells: &mut dyn Iterator<Item = &str>| {
        let padded: Vec<String> = cells
            .zip(&widths)
            .map(|(cell, w)| format!("{cell:w$}"))
            .collect();
        eprintln!("  {}", padded.join("  ").trim_end());
    };
    line(&mut headings.iter().copied());
    for row in rows {
        line(&mut row.iter().map(String::as_str));
    }
}

/// The table about one outline: a row for each loop, then the notes.
pub fn one(name: &str, trued: &Trued, units: Units) {
    eprintln!("{name}: {}", summary(trued));
    let rows: Vec<Vec<String>> = trued
        .outline
        .loops
        .iter()
        .enumerate()
        .map(|(i, l)| {
            vec![
                (i + 1).to_string(),
                role(l.role).to_owned(),
                edges(l),
                squared(trued, i),
                moved(trued, i, units),
                sizes(trued, i, units),
            ]
        })
        .collect();
    if !rows.is_empty() {
        let moved = format!("moved, {}", units.name());
        let sizes = format!("sizes, {}", units.name());
        let headings = ["loop", "is", "edges", "squared", &moved, &sizes];
        print(&headings, &rows);
    }
    for note in &trued.report.notes {
        let text = match note.at {
            Some(at) => format!("{} at ({:.1}, {:.1}) mm", note.text, at.x, at.y),
            None => note.text.clone(),
        };
        eprintln!("  {}", units.said(&text));
    }
    super::door::doubts(&trued.report.doubts, units);
}

/// The table about many outlines: a row for each.
pub fn many(outlines: &[(&str, &Trued)], units: Units) {
    let rows: Vec<Vec<String>> = outlines
        .iter()
        .map(|(name, trued)| {
            let loops = &trued.outline.loops;
            let edges: usize = loops.iter().map(|l| l.path.edges().len()).sum();
            let corners: usize = (0..loops.len()).map(|i| squares(trued, i).len()).sum();
            let farthest = (0..loops.len())
                .filter_map(|i| farthest(trued, i))
                .reduce(f64::max);
            vec![
                (*name).to_owned(),
                loops.len().to_string(),
                edges.to_string(),
                corners.to_string(),
                farthest.map_or("-".into(), |d| length(d, units)),
                trued.report.notes.len().to_string(),
                trued.report.doubts.len().to_string(),
            ]
        })
        .collect();
    let moved = format!("moved, {}", units.name());
    let headings = [
        "trace", "loops", "edges", "squared", &moved, "notes", "doubts",
    ];
    print(&headings, &rows);
    for (name, trued) in outlines.iter().filter(|o| !o.1.report.doubts.is_empty()) {
        eprintln!("{name}:");
        super::door::doubts(&trued.report.doubts, units);
    }
}

fn summary(trued: &Trued) -> String {
    let count =
        |n: usize, one: &str, many: &str| format!("{n} {}", if n == 1 { one } else { many });
    let loops = count(trued.outline.loops.len(), "loop", "loops");
    match trued.outline.marks.len() {
        0 => loops,
        n => format!("{loops}, {}", count(n, "mark", "marks")),
    }
}

fn role(role: Role) -> &'static str {
    match role {
        Role::Part => "part",
        Role::Hole => "hole",
        Role::Open => "open",
    }
}

fn edges(l: &Loop) -> String {
    let edges = l.path.edges();
    if let [Edge::Arc(arc)] = edges.as_slice()
        && arc.is_full()
    {
        return "circle".into();
    }
    let lines = edges.iter().filter(|e| matches!(e, Edge::Line(_))).count();
    let plural = |n: usize, what: &str| format!("{n} {what}{}", if n == 1 { "" } else { "s" });
    match (lines, edges.len() - lines) {
        (l, 0) => plural(l, "line"),
        (0, a) => plural(a, "arc"),
        (l, a) => format!("{}, {}", plural(l, "line"), plural(a, "arc")),
    }
}

/// The corners of a loop at which two neighbouring edges were made square, counted from 1.
fn squares(trued: &Trued, loop_index: usize) -> BTreeSet<usize> {
    let count = trued
        .outline
        .loops
        .get(loop_index)
        .map_or(0, |l| l.path.edges().len());
    let of_loop =
        trued.report.relations.iter().filter(|r| {
            r.loop_index == loop_index && r.kind == RelationKind::Square && !r.is_across()
        });
    of_loop
        .filter_map(|r| match r.edges.as_slice() {
            // Corner i is where edge i starts.
            [a, b] if (a + 1) % count.max(1) == *b => Some(b + 1),
            [a, b] if (b + 1) % count.max(1) == *a => Some(a + 1),
            _ => None,
        })
        .collect()
}

fn squared(trued: &Trued, loop_index: usize) -> String {
    let corners = squares(trued, loop_index);
    if corners.is_empty() {
        return "-".into();
    }
    let numbers: Vec<String> = corners.iter().map(ToString::to_string).collect();
    let s = if numbers.len() == 1 { "" } else { "s" };
    format!("corner{s} {}", numbers.join(" "))
}

/// How far the loop lies from what was traced of it, mm.
fn farthest(trued: &Trued, loop_index: usize) -> Option<f64> {
    let by_edge = trued.report.moved.get(loop_index);
    let moved = by_edge.and_then(|m| m.iter().copied().reduce(f64::max));
    let l = trued.outline.loops.get(loop_index);
    moved.or_else(|| l.and_then(|l| l.deviation).map(|d| d.max))
}

fn moved(trued: &Trued, loop_index: usize, units: Units) -> String {
    farthest(trued, loop_index).map_or("-".into(), |d| length(d, units))
}

fn sizes(trued: &Trued, loop_index: usize, units: Units) -> String {
    let mut shown: Vec<String> = Vec::new();
    let of_loop = trued
        .report
        .sizes
        .iter()
        .filter(|s| s.loop_index == loop_index && s.kind != SizeKind::Spacing);
    for size in of_loop {
        let text = size_text(size, units);
        if !shown.contains(&text) {
            shown.push(text);
        }
    }
    let more = shown.len().saturating_sub(MOST_SIZES);
    shown.truncate(MOST_SIZES);
    if more > 0 {
        shown.push(format!("and {more} more"));
    }
    if shown.is_empty() {
        "-".into()
    } else {
        shown.join(", ")
    }
}

/// `80.02 ±0.21`, `r 8.00 ±0.05`, `92.0° ±0.3`; a fixed size has no ±.
fn size_text(size: &Size, units: Units) -> String {
    let (prefix, value, plus_minus) = match size.kind {
        SizeKind::Angle => {
            let degrees = |v: f64| format!("{:.2}", v.to_degrees());
            let value = format!("{}°", degrees(size.value));
            ("", value, degrees(size.plus_minus))
        }
        kind => {
            let prefix = match kind {
                SizeKind::Radius => "r ",
                SizeKind::Distance => "between ",
                SizeKind::Spacing => "spacing ",
                _ => "",
            };
            (
                prefix,
                length(size.value, units),
                length(size.plus_minus, units),
            )
        }
    };
    if size.plus_minus > 0.0 {
        format!("{prefix}{value} ±{plus_minus}")
    } else {
        format!("{prefix}{value}")
    }
}

fn length(mm: f64, units: Units) -> String {
    match units {
        Units::Mm => format!("{mm:.2}"),
        Units::Inch => format!("{:.3}", mm / units.in_mm()),
    }
}
