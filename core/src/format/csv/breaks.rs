//! Where one stroke ends and another begins, apart from blank lines: by a column of labels, by one that says
//! whether the pen is down, or by a row that holds no point.
//!
//! A pen that is up (`pen` is 0, `touch` is false, `pen up` is 1) draws nothing. Two kinds of program write it.
//! A logger goes on sampling: those points are no part of any stroke. A plotter's list tells moves, and the one
//! point with the pen up is where the next stroke begins: so it is taken where every lift is of one row and the
//! list begins with one.
//!
//! Columns that may mean either (`segment`, `line`, the number of a pen) part the points where another value
//! begins, or mean something else; where the first rows do not settle that by having one value throughout or a
//! new one in every row, the person is asked. Only the rows of the sample are looked at.

use super::columns::Columns;
use super::figures;
use crate::format::Decimal;
use std::collections::BTreeSet;

/// Words that say that a column tells of the pen, and that it tells of the pen being up.
const PEN: [&str; 18] = [
    "pen", "pendown", "penup", "stift", "plume", "down", "up", "touch", "touching", "contact",
    "pressed", "pressure", "druck", "lift", "lifted", "torch", "drawing", "beam",
];
const UP: [&str; 4] = ["penup", "up", "lift", "lifted"];
/// Words that stand beside those.
const BESIDE: [&str; 6] = ["is", "state", "status", "on", "tip", "flag"];
/// Columns that may part the points into strokes, or mean something else.
const PERHAPS: [&str; 14] = [
    "segment", "seg", "line", "linie", "ligne", "id", "group", "gruppe", "set", "series", "run",
    "feature", "entity", "layer",
];
/// What cells say of a pen beside numbers.
const YES: [&str; 11] = [
    "true", "t", "down", "on", "yes", "y", "ja", "ab", "unten", "an", "oui",
];
const NO: [&str; 11] = [
    "false", "f", "up", "off", "no", "n", "nein", "auf", "oben", "aus", "non",
];
/// A column of heights that rises by more than this, mm, tells of a pen that was lifted.
const LIFT: f64 = 3.0;

/// The column that says whether the pen is down.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Pen {
    column: usize,
    /// It says whether the pen is up.
    of_up: bool,
    /// The point of a lift is where the next stroke begins.
    pub(super) moves: bool,
}

/// The cells of the sample's rows that are points.
pub(super) type Cells = Vec<Vec<String>>;

fn words(name: &str) -> Vec<&str> {
    let split = name.split(|c: char| !c.is_alphanumeric());
    split.filter(|w| !w.is_empty()).collect()
}

/// Whether a cell says yes.
fn says(cell: &str, decimal: Decimal) -> Option<bool> {
    let cell = cell.trim();
    match figures::number(cell.as_bytes(), decimal) {
        Ok(v) => Some(v > 0.0),
        Err(_) if YES.contains(&cell) => Some(true),
        Err(_) => NO.contains(&cell).then_some(false),
    }
}

fn column(cells: &Cells, i: usize) -> impl Iterator<Item = &str> + Clone {
    cells
        .iter()
        .map(move |row| row.get(i).map_or("", String::as_str))
}

/// A column's different values, and how often one follows another.
fn variety(cells: &Cells, i: usize) -> (usize, usize) {
    let values: BTreeSet<&str> = column(cells, i).collect();
    let changes = column(cells, i)
        .zip(column(cells, i).skip(1))
        .filter(|(a, b)| a != b);
    (values.len(), changes.count())
}

impl Pen {
    /// Whether the pen is down in a row; a cell that says neither is a problem.
    pub(super) fn is_down(&self, fields: &[&[u8]], decimal: Decimal) -> Result<bool, String> {
        let cell = fields.get(self.column).copied().unwrap_or_default();
        let text = crate::format::text::of_any(cell).to_lowercase();
        let said = says(&text, decimal).ok_or_else(|| {
            let cell = crate::format::numbers::shown(cell);
            format!("\"{cell}\" says neither that the pen is down nor that it is up")
        })?;
        Ok(said != self.of_up)
    }

    /// The one column that tells of the pen, whose cells all say yes or no, not all of them the same.
    fn of(columns: &Columns, cells: &Cells, decimal: Decimal) -> Option<Self> {
        let is_pen = |i: &usize| {
            let words = words(columns.names.get(*i).map_or("", String::as_str));
            let known = |w: &&str| PEN.contains(w) || BESIDE.contains(w);
            words.iter().any(|w| PEN.contains(w)) && words.iter().all(known)
        };
        let says_all = |i: &usize| {
            let mut said: BTreeSet<bool> = BTreeSet::new();
            let all = column(cells, *i).all(|c| says(c, decimal).map(|b| said.insert(b)).is_some());
            all && said.len() == 2
        };
        let mut found = columns
            .unread
            .iter()
            .copied()
            .filter(is_pen)
            .filter(says_all);
        let (column_of, None) = (found.next()?, found.next()) else {
            return None;
        };
        let name = columns.names.get(column_of).map_or("", String::as_str);
        let of_up = words(name).iter().any(|w| UP.contains(w));
        let up = |c: &str| says(c, decimal) == Some(of_up);
        let lifts: Vec<bool> = column(cells, column_of).map(up).collect();
        let begins = lifts.first() == Some(&true);
        let single = lifts.windows(2).all(|pair| pair != [true, true]);
        Some(Self {
            column: column_of,
            of_up,
            moves: begins && single,
        })
    }
}

/// Settles by the sample's points what the columns' names leave open: the column of the pen, if there is one.
///
/// # Errors
/// Says what a column may mean where the person has to say it.
pub(super) fn settle(
    columns: &mut Columns,
    cells: &Cells,
    decimal: Decimal,
) -> Result<Option<Pen>, String> {
    // What has a new label in every row numbers the rows.
    let rows = cells.len();
    for i in columns.labels.clone() {
        if rows > 2 && variety(cells, i).1 + 1 == rows {
            columns.strokes.retain(|s| *s != i);
            columns.unread.push(i);
        }
    }
    columns.unread.sort_unstable();
    let pen = Pen::of(columns, cells, decimal);
    if let Some(pen) = pen {
        columns.is_read(pen.column);
        return Ok(Some(pen));
    }
    if !columns.strokes.is_empty() {
        return Ok(None);
    }
    for i in columns.unread.clone() {
        let (values, changes) = variety(cells, i);
        let name = columns.names.get(i).map_or("", String::as_str);
        let open = words(name)
            .iter()
            .all(|w| PERHAPS.contains(w) || PEN.contains(w));
        // One value throughout parts nothing, and a new one in nearly every row is a number or a measure.
        if name.is_empty() || !open || values < 2 || 2 * changes >= rows {
            continue;
        }
        let flag = |role: &str| {
            let names = (0..columns.count).map(|k| match k {
                _ if k == columns.x => "x",
                _ if k == columns.y => "y",
                _ if k == i => role,
                _ if Some(k) == columns.t => "t",
                _ => "-",
            });
            names.collect::<Vec<_>>().join(",")
        };
        return Err(format!(
            "the column {} may part the points into strokes: --columns {} says so, --columns {} that it does not",
            columns.name(i),
            flag("stroke"),
            flag("-")
        ));
    }
    Ok(None)
}

/// How far the pen rises by a column of heights, mm, where that is more than a hand's plate is out of level.
pub(super) fn lifted(
    columns: &Columns,
    cells: &Cells,
    decimal: Decimal,
    scale: f64,
) -> Option<f64> {
    let z = columns.z?;
    let mut ends: Option<(f64, f64)> = None;
    for cell in column(cells, z) {
        let Ok(v) = figures::number(cell.as_bytes(), decimal) else {
            continue;
        };
        ends = Some(ends.map_or((v, v), |(low, high)| (low.min(v), high.max(v))));
    }
    let (low, high) = ends?;
    Some((high - low) * scale).filter(|rise| *rise > LIFT)
}
