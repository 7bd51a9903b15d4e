//! What is said on the terminal after a run. All of it goes to standard error.

use std::collections::BTreeSet;
use trued::cautions::CAUTION_LINE;
use trued::format::Units;
use trued::outline::numbers::{Number, Numbered, numbers};
use trued::report::{Size, SizeKind};
use trued::{Edge, Loop, RelationKind, Role, Trued};

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
    // Written at once: a drawing may have a hundred thousand rows.
    let mut all = String::new();
    let mut line = |cells: &mut dyn Iterator<Item = &str>| {
        let padded: Vec<String> = cells
            .zip(&widths)
            .map(|(cell, w)| format!("{cell:w$}"))
            .collect();
        all.push_str("  ");
        all.push_str(padded.join("  ").trim_end());
        all.push('\n');
    };
    line(&mut headings.iter().copied());
    for row in rows {
        line(&mut row.iter().map(String::as_str));
    }
    eprint!("{all}");
}

/// What is said of each loop, gathered once: a drawing may have ten thousand of them.
struct Told<'a> {
    numbers: Vec<Number>,
    sizes: Vec<Vec<&'a Size>>,
    squares: Vec<BTreeSet<usize>>,
}

impl<'a> Told<'a> {
    fn of(trued: &'a Trued) -> Self {
        let mut sizes = vec![Vec::new(); trued.outline.loops.len()];
        for size in &trued.report.sizes {
            if let Some(own) = sizes.get_mut(size.loop_index) {
                own.push(size);
            }
        }
        Self {
            numbers: numbers(&trued.outline),
            sizes,
            squares: squares(trued),
        }
    }

    /// The numbers of a loop's edges and corners. All are in the order of their loops, marks last.
    fn numbers(&self, loop_index: usize) -> &[Number] {
        let of = |n: &Number| n.loop_index.unwrap_or(usize::MAX);
        let from = self.numbers.partition_point(|n| of(n) < loop_index);
        let to = self.numbers.partition_point(|n| of(n) <= loop_index);
        self.numbers.get(from..to).unwrap_or_default()
    }

    fn number(&self, loop_index: usize, what: Numbered, index: usize) -> Option<usize> {
        let mut own = self.numbers(loop_index).iter();
        own.find(|n| n.what == what && n.index == index)
            .map(|n| n.number)
    }
}

/// The table about one outline: a row for each loop, then the notes.
pub fn one(name: &str, trued: &Trued, units: Units) {
    eprintln!("{name}: {}", summary(trued));
    let told = Told::of(trued);
    let rows: Vec<Vec<String>> = trued
        .outline
        .loops
        .iter()
        .enumerate()
        .map(|(i, l)| {
            vec![
                (i + 1).to_string(),
                role(l.role).to_owned(),
                numbered(&told, i, edges(l)),
                squared(&told, i),
                moved(trued, i, units),
            ]
        })
        .collect();
    if !rows.is_empty() {
        let moved = format!("moved, {}", units.name());
        print(&["loop", "is", "edges", "squared", &moved], &rows);
        eprintln!("  sizes, {} (± at 95 %):", units.name());
        for i in 0..rows.len() {
            wrapped(&format!("loop {}:", i + 1), &sizes(&told, i, units));
        }
        wrapped("holes:", &spacings(trued, units));
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
            let corners: usize = squares(trued).iter().map(BTreeSet::len).sum();
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

/// What a loop is made of, with the numbers its edges have.
fn numbered(told: &Told<'_>, loop_index: usize, edges: String) -> String {
    let own = told.numbers(loop_index).iter();
    let own: Vec<&Number> = own.filter(|n| n.what != Numbered::Corner).collect();
    match own.as_slice() {
        [one] if one.what == Numbered::Hole => format!("{edges} (h{})", one.number),
        [first, .., last] => format!("{edges} ({}-{})", first.number, last.number),
        [one] => format!("{edges} ({})", one.number),
        [] => edges,
    }
}

/// The corners of each loop at which two neighbouring edges were made square, counted from 1.
fn squares(trued: &Trued) -> Vec<BTreeSet<usize>> {
    let loops = &trued.outline.loops;
    let counts: Vec<usize> = loops.iter().map(|l| l.path.edges().len()).collect();
    let mut squares = vec![BTreeSet::new(); loops.len()];
    let all = trued.report.relations.iter();
    for r in all.filter(|r| r.kind == RelationKind::Square && !r.is_across()) {
        let (Some(own), Some(count)) = (squares.get_mut(r.loop_index), counts.get(r.loop_index))
        else {
            continue;
        };
        let count = (*count).max(1);
        match r.edges.as_slice() {
            // Corner i is where edge i starts.
            [a, b] if (a + 1) % count == *b => own.insert(b + 1),
            [a, b] if (b + 1) % count == *a => own.insert(a + 1),
            _ => false,
        };
    }
    squares
}

fn squared(told: &Told<'_>, loop_index: usize) -> String {
    let corners = told.squares.get(loop_index).filter(|c| !c.is_empty());
    let Some(corners) = corners else {
        return "-".into();
    };
    let number = |corner: usize| {
        let found = told.number(loop_index, Numbered::Corner, corner.saturating_sub(1));
        found.unwrap_or(corner)
    };
    let said: Vec<String> = corners.iter().map(|c| number(*c).to_string()).collect();
    let s = if said.len() == 1 { "" } else { "s" };
    format!("corner{s} {}", said.join(" "))
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

/// Every size of a loop, each with the number of its edge or corner.
fn sizes(told: &Told<'_>, loop_index: usize, units: Units) -> Vec<String> {
    let number = |what, edge| told.number(loop_index, what, edge).unwrap_or(0);
    let squared = |corner: usize| {
        let own = told.squares.get(loop_index);
        own.is_some_and(|s| s.contains(&corner))
    };
    let of_loop = || {
        let own = told.sizes.get(loop_index).into_iter().flatten();
        own.filter(|s| s.kind != SizeKind::Spacing)
    };
    let is_length = |v: f64| {
        let mut lengths = of_loop().filter(|s| s.kind == SizeKind::Length);
        lengths.any(|s| (s.value - v).abs() < 1e-6)
    };
    let is_hole = told.number(loop_index, Numbered::Hole, 0).is_some();
    let mut shown: Vec<String> = Vec::new();
    for s in of_loop() {
        let said = match (s.kind, s.edges.as_slice()) {
            // A corner that was squared has been told, and what lies between two sides is the length of a third.
            (SizeKind::Angle, [_, e]) if squared(e + 1) => continue,
            (SizeKind::Distance, _) if is_length(s.value) => continue,
            (SizeKind::Angle, [_, e]) => format!("corner {}", number(Numbered::Corner, *e)),
            (SizeKind::ToEdge, [e]) => {
                let hole = |n: &&Number| match (s.hole, s.mark) {
                    (Some(h), _) => n.what == Numbered::Hole && n.loop_index == Some(h),
                    (None, Some(m)) => n.loop_index.is_none() && n.index == m,
                    (None, None) => false,
                };
                let hole = told.numbers.iter().find(hole).map_or(0, |n| n.number);
                format!("hole {hole} to edge {}", number(Numbered::Edge, *e))
            }
            (_, [_]) if is_hole => format!("hole {}", number(Numbered::Hole, 0)),
            (_, [e]) => format!("edge {}", number(Numbered::Edge, *e)),
            (_, [a, b]) => {
                let [a, b] = [a, b].map(|e| number(Numbered::Edge, *e));
                format!("{}edges {a} and {b}", s.what())
            }
            _ => s.what().trim_end().to_owned(),
        };
        let text = format!("{said}: {}", s.figure(units));
        if !shown.contains(&text) {
            shown.push(text);
        }
    }
    shown
}

/// Sizes between holes and marks of one pattern.
fn spacings(trued: &Trued, units: Units) -> Vec<String> {
    let all = trued.report.sizes.iter();
    let all = all.filter(|s| s.kind == SizeKind::Spacing);
    all.map(|s| format!("spacing {}", s.figure(units)))
        .collect()
}

/// Pieces of text on lines no longer than a terminal is wide.
fn wrapped(title: &str, pieces: &[String]) {
    if pieces.is_empty() {
        return;
    }
    let mut line = format!("  {title}");
    let mut first = true;
    for piece in pieces {
        let comma = if first { " " } else { ", " };
        if !first && line.chars().count() + piece.chars().count() + 2 > WIDTH {
            eprintln!("{line},");
            line = format!("    {piece}");
        } else {
            line.push_str(comma);
            line.push_str(piece);
        }
        first = false;
    }
    eprintln!("{line}");
}

/// The width that most terminals have.
const WIDTH: usize = 98;

fn length(mm: f64, units: Units) -> String {
    match units {
        Units::Mm => format!("{mm:.2}"),
        Units::Inch => format!("{:.3}", mm / units.in_mm()),
    }
}
