//! Folders of recorded strokes whose index says how many lines and arcs were meant.
//!
//! A folder holds `INDEX.csv` with the columns file, label, strokes, lines, arcs, closed; rows without
//! lines and arcs are passed over. The reader here is the tests' own and knows only what such
//! folders hold.

use std::path::Path as FilePath;
use trued::{Edge, Outline, Point, Role, Stroke, Trace};

/// One recorded drawing and what was meant by it.
#[derive(Clone, Debug)]
pub struct Recorded {
    /// File name inside the folder.
    pub file: String,
    /// What was to be drawn.
    pub label: String,
    /// Straight edges meant.
    pub lines: usize,
    /// Arcs meant.
    pub arcs: usize,
    /// Closed or open.
    pub closed: bool,
    /// The strokes.
    pub trace: Trace,
}

/// All scored rows of a folder.
///
/// # Errors
/// A sentence when the index or a file it names cannot be read.
pub fn folder(dir: &FilePath) -> Result<Vec<Recorded>, String> {
    let index = dir.join("INDEX.csv");
    let mut reader =
        csv::Reader::from_path(&index).map_err(|e| format!("{}: {e}", index.display()))?;
    let mut all = Vec::new();
    for row in reader.records() {
        let row = row.map_err(|e| e.to_string())?;
        let cell = |i: usize| row.get(i).unwrap_or("").trim().to_owned();
        let (Ok(lines), Ok(arcs)) = (cell(3).parse(), cell(4).parse()) else {
            continue;
        };
        all.push(Recorded {
            file: cell(0),
            label: cell(1),
            lines,
            arcs,
            closed: cell(5) == "yes",
            trace: read_trace(&dir.join(cell(0)))?,
        });
    }
    Ok(all)
}

/// A trace file with columns x, y and perhaps t and stroke.
///
/// # Errors
/// A sentence when it cannot be read.
pub fn read_trace(file: &FilePath) -> Result<Trace, String> {
    let mut reader = csv::ReaderBuilder::new()
        .comment(Some(b'#'))
        .from_path(file)
        .map_err(|e| format!("{}: {e}", file.display()))?;
    let headers = reader.headers().map_err(|e| e.to_string())?.clone();
    let column = |name: &str| headers.iter().position(|h| h.trim() == name);
    let (x, y) = (column("x"), column("y"));
    let (t, s) = (column("t"), column("stroke"));
    let mut strokes: Vec<(String, Stroke)> = Vec::new();
    for row in reader.records() {
        let row = row.map_err(|e| e.to_string())?;
        let number = |c: Option<usize>| c.and_then(|c| row.get(c)?.trim().parse::<f64>().ok());
        let (Some(px), Some(py)) = (number(x), number(y)) else {
            return Err(format!("{}: a row without x and y", file.display()));
        };
        let label = s.and_then(|c| row.get(c)).unwrap_or("").to_owned();
        if strokes.last().is_none_or(|(l, _)| *l != label) {
            strokes.push((label, Stroke::default()));
        }
        if let Some((_, stroke)) = strokes.last_mut() {
            stroke.points.push(Point::new(px, py));
            stroke.times.extend(number(t));
        }
    }
    Ok(Trace {
        strokes: strokes.into_iter().map(|(_, s)| s).collect(),
        drawn: Vec::new(),
    })
}

/// Whether an outline is one path with the edges that were meant, open or closed as meant.
#[must_use]
pub fn is_whole(want: &Recorded, outline: &Outline) -> bool {
    let [only] = outline.loops.as_slice() else {
        return false;
    };
    let edges = only.path.edges();
    let lines = edges.iter().filter(|e| matches!(e, Edge::Line(_))).count();
    let closed = only.path.is_closed() && only.role != Role::Open;
    outline.marks.is_empty()
        && lines == want.lines
        && edges.len() - lines == want.arcs
        && closed == want.closed
}
