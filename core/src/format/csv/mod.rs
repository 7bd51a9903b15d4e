//! Rows of touched points.
//!
//! The plain form: the first row that is neither blank nor a comment is the header. It names the columns, in
//! any order: `x` and `y` must be there, `t` (seconds) and `stroke` (any label) may be. Other columns are left
//! unread and named in a note. After it each row is one point, in the order the hand made them:
//!
//! * a change of `stroke` label, or a blank line, starts a stroke;
//! * `#` starts a comment line; `# units: mm` or `# units: in` before the first point states the units,
//!   as a title or a column of units may; a header may stand in a comment;
//! * `t` may repeat, jump or run backwards, or be left empty: row order counts.
//!
//! Loggers and spreadsheets write it in many other ways: between fields a semicolon, a tab, blanks; decimal
//! commas; a header with units, or none; titles above. Which way a file is written is told from its first
//! rows ([`dialect`], [`columns`]); where they can be read in two ways, the refusal says both and how to
//! settle it. All rows are then held to that one way, and one bad row refuses the file, with its line and
//! value.
//!
//! Lines end with LF, CR or CR LF, mixed as they come; a byte order mark is passed over. A million rows must
//! not be felt, so rows are cut from the bytes in place and nothing is allocated for one of the plain form.
//! Only a line that holds a quotation mark goes through the general CSV reader. Numbers are rounded to the
//! nearest f64, as the standard library rounds them.

mod breaks;
mod columns;
mod dialect;
mod figures;
mod header;
mod opening;
mod units;

use self::opening::Opening;
use self::units::unit_stated;
use super::numbers::{self, Bad, NOTHING};
use super::{Content, Input, Units, Wanted, text};
use crate::report::{About, Doubt, Note};
use crate::{Point, Refusal, Stroke, Trace, limits};

/// The trace under construction.
struct Rows<'a> {
    opening: Opening,
    /// mm in one unit, and whether the file states it.
    scale: f64,
    stated: bool,
    labels: Vec<Vec<u8>>,
    open: bool,
    /// Rows with the pen up, and rows whose x and y are no numbers but say so.
    up: usize,
    empty: usize,
    /// Some line of the file holds a quotation mark.
    quotes: bool,
    points: usize,
    tiny: usize,
    strokes: Vec<Stroke>,
    notes: Vec<Note>,
    fields: Vec<&'a [u8]>,
}

/// Reads a CSV trace.
///
/// # Errors
/// Refuses a file that can be read in two ways, and any at the first row that is not a point.
pub fn read(bytes: &[u8], wanted: &Wanted) -> Result<Input, Refusal> {
    let bytes = text::decoded(bytes);
    // Some programs end a file with what once ended all files.
    let bytes = bytes.strip_suffix(b"\x1A").unwrap_or(&bytes);
    let opening = dialect::opening(bytes, wanted)?;
    let mut rows = Rows {
        scale: opening.columns.scale.unwrap_or(wanted.units.in_mm()),
        stated: opening.columns.scale.is_some(),
        labels: vec![Vec::new(); opening.columns.strokes.len()],
        open: false,
        up: 0,
        empty: 0,
        quotes: memchr::memchr(b'"', bytes).is_some(),
        points: 0,
        tiny: 0,
        strokes: Vec::new(),
        notes: opening.notes().into_iter().map(Note::new).collect(),
        fields: Vec::new(),
        opening,
    };
    let mut rest = bytes;
    let mut line = 0;
    while !rest.is_empty() {
        line += 1;
        let (row, after) = split_line(rest);
        rest = after;
        rows.take(row, line)
            .map_err(|problem| Refusal::Line { line, problem })?;
    }
    rows.finish()
}

/// The first line without its end, and what follows it.
fn split_line(bytes: &[u8]) -> (&[u8], &[u8]) {
    let Some(end) = memchr::memchr2(b'\n', b'\r', bytes) else {
        return (bytes, &[]);
    };
    let (line, rest) = bytes.split_at(end);
    let rest = rest.strip_prefix(b"\r\n").or(rest.get(1..));
    (line, rest.unwrap_or_default())
}

/// What a line is, blanks around it aside.
enum Line<'a> {
    Blank,
    Comment(&'a [u8]),
    Row(&'a [u8]),
}

fn line_of(line: &[u8]) -> Line<'_> {
    let row = line.trim_ascii();
    match row.first() {
        None => Line::Blank,
        Some(b'#' | b'%') => Line::Comment(row),
        Some(b'/') if row.starts_with(b"//") => Line::Comment(row),
        // A spreadsheet's blank row: separators and nothing between.
        Some(b',' | b';' | b'\t') if row.iter().all(|b| b",; \t".contains(b)) => Line::Blank,
        // A tab at an end may be an empty field.
        Some(_) => Line::Row(line.trim_ascii_end()),
    }
}

impl<'a> Rows<'a> {
    /// Takes one line.
    fn take(&mut self, line: &'a [u8], number: usize) -> Result<(), String> {
        match line_of(line) {
            Line::Blank => {
                self.open = false;
                Ok(())
            }
            Line::Comment(text) => self.comment(text),
            Line::Row(_) if number < self.opening.first_line => Ok(()),
            Line::Row(row) => {
                let dialect = self.opening.dialect;
                if self.quotes && row.contains(&b'"') {
                    let fields = dialect.unquoted(row)?;
                    let fields: Vec<&[u8]> = fields.iter().map(|f| f.trim_ascii()).collect();
                    return self.point(&fields);
                }
                let mut fields = core::mem::take(&mut self.fields);
                dialect.split(row, &mut fields);
                let done = self.point(&fields);
                self.fields = fields;
                done
            }
        }
    }

    fn comment(&mut self, row: &[u8]) -> Result<(), String> {
        let text = String::from_utf8_lossy(row);
        let text = text.trim_start_matches(['#', '%', '/']).trim();
        let own = text.split_once(':');
        let own = own.filter(|(key, _)| key.trim().eq_ignore_ascii_case("units"));
        let scale = match (own, unit_stated(text)) {
            (_, Some(scale)) => scale,
            (Some((_, name)), None) => {
                let name = name.trim();
                let scale = Units::from_name(name).map(Units::in_mm);
                scale.ok_or_else(|| format!("\"{name}\" is no unit; write mm or in"))?
            }
            (None, None) => return Ok(()),
        };
        if (self.points > 0 || self.opening.columns.scale.is_some()) && scale != self.scale {
            return Err(if self.points > 0 {
                "the units must be stated before the first point".into()
            } else {
                "the header and this line state two different units".into()
            });
        }
        (self.scale, self.stated) = (scale, true);
        Ok(())
    }

    fn point(&mut self, fields: &[&[u8]]) -> Result<(), String> {
        let columns = &self.opening.columns;
        let count = columns.count;
        let beyond = fields.get(count..).unwrap_or_default();
        if fields.len() < count || beyond.iter().any(|f| !f.trim_ascii().is_empty()) {
            let n = fields.len();
            let asked = if n == 2 * count && self.opening.dialect.is_comma() {
                "; if its commas are decimal signs, --decimal comma says so"
            } else {
                ""
            };
            return Err(format!(
                "the row has {n} columns where the header has {count}{asked}"
            ));
        }
        let field = |i: usize| fields.get(i).copied().unwrap_or_default();
        let (ix, iy, it) = (columns.x, columns.y, columns.t);
        let (second, strict) = (columns.second, columns.strict);
        let decimal = self.opening.dialect.decimal;
        if is_empty(field(ix)) && is_empty(field(iy)) {
            (self.empty, self.open) = (self.empty + 1, false);
            return Ok(());
        }
        if let Some(pen) = self.opening.pen
            && !pen.is_down(fields, decimal)?
        {
            (self.up, self.open) = (self.up + 1, false);
            if !pen.moves {
                return Ok(());
            }
        }
        let x = self.coordinate(field(ix))?;
        let y = self.coordinate(field(iy))?;
        let time = it.map(|i| time(field(i), decimal, second)).transpose();
        let t = match time {
            Ok(t) => t.flatten(),
            Err(problem) if strict => return Err(problem),
            // Under another name it may be a date, or anything else.
            Err(_) => None,
        };
        for (i, was) in self.opening.columns.strokes.iter().zip(&mut self.labels) {
            let label = field(*i).trim_ascii();
            if was != label {
                was.clear();
                was.extend_from_slice(label);
                self.open = false;
            }
        }
        self.push(Point::new(x, y), t)
    }

    fn coordinate(&mut self, text: &[u8]) -> Result<f64, String> {
        let value = figures::number(text, self.opening.dialect.decimal)
            .and_then(|v| numbers::in_mm(v, self.scale));
        let value = value.map_err(|bad| bad.say(text))?;
        if let Some(scale) = figures::unit_beside(text)
            && scale != self.scale
        {
            let shown = numbers::shown(text);
            return Err(format!(
                "\"{shown}\" is in another unit than what stands above it"
            ));
        }
        if value != 0.0 && value.abs() < NOTHING {
            self.tiny += 1;
            return Ok(0.0);
        }
        Ok(value)
    }

    fn push(&mut self, point: Point, time: Option<f64>) -> Result<(), String> {
        if self.points >= limits::MAX_POINTS {
            return Err(format!("more than {} points", limits::MAX_POINTS));
        }
        if !self.open {
            if self.strokes.len() >= limits::MAX_STROKES {
                return Err(format!("more than {} strokes", limits::MAX_STROKES));
            }
            self.strokes.push(Stroke::default());
            self.open = true;
        }
        self.points += 1;
        if let Some(stroke) = self.strokes.last_mut() {
            // Times are kept only while every point of the stroke has one.
            if let Some(t) = time.filter(|_| stroke.times.len() == stroke.points.len()) {
                stroke.times.push(t);
            }
            stroke.points.push(point);
        }
        Ok(())
    }

    fn finish(mut self) -> Result<Input, Refusal> {
        if self.points == 0 {
            return Err(Refusal::File("the file has a header and no points".into()));
        }
        for stroke in &mut self.strokes {
            if stroke.times.len() != stroke.points.len() {
                stroke.times = Vec::new();
            }
        }
        if self.tiny > 0 {
            self.notes.push(Note::new(format!(
                "{} coordinates smaller than {NOTHING:e} are taken as 0",
                self.tiny
            )));
        }
        if self.empty > 0 {
            let rows = numbers::counted(self.empty, "row", "rows");
            self.notes.push(Note::new(format!(
                "{rows} without a point: another stroke begins there"
            )));
        }
        if let Some(pen) = self.opening.pen {
            let rows = numbers::counted(self.up, "row", "rows");
            let said = if pen.moves {
                "each begins a stroke"
            } else {
                "left out"
            };
            self.notes
                .push(Note::new(format!("{rows} with the pen up: {said}")));
        }
        let lifted = self.opening.lifted.map(|rise| {
            let text = format!(
                "its column z rises by {rise:.1} mm and is not read: where the pen was lifted, its way is part of the line"
            );
            Doubt::new(About::File, text)
        });
        let trace = Trace {
            strokes: self.strokes,
            drawn: Vec::new(),
        };
        // Feet and mils are said in inches.
        let inches = [25.4, 304.8, 0.0254].contains(&self.scale);
        let units = if inches { Units::Inch } else { Units::Mm };
        Ok(Input {
            notes: self.notes,
            doubts: lifted.into_iter().collect(),
            units: self.stated.then_some(units),
            ..Input::of(Content::Trace(trace))
        })
    }
}

/// A cell that says that there is no number.
fn is_empty(cell: &[u8]) -> bool {
    let cell = cell.trim_ascii();
    cell.is_empty() || cell.eq_ignore_ascii_case(b"nan")
}

/// A time in seconds, or none where the field is empty.
fn time(text: &[u8], decimal: super::Decimal, second: f64) -> Result<Option<f64>, String> {
    if text.trim_ascii().is_empty() {
        return Ok(None);
    }
    match (figures::number(text, decimal), figures::clock(text)) {
        (Ok(t), _) => Ok(Some(t * second)),
        (_, Some(t)) => Ok(Some(t)),
        (Err(Bad::TooLarge), _) => Err(Bad::NotFinite.say(text)),
        (Err(bad), _) => Err(bad.say(text)),
    }
}

/// A trace as rows that read back the same: strokes numbered, what is to be said of them in comments, doubts so
/// that they come back.
#[must_use]
pub fn write(trace: &Trace, comments: &[&str], doubts: &[Doubt]) -> String {
    use core::fmt::Write as _;
    let mut out = String::from("# units: mm\n");
    for line in comments.iter().flat_map(|c| c.lines()) {
        let _ = writeln!(out, "# {line}");
    }
    for doubt in doubts {
        let _ = writeln!(out, "{}", super::drawing::row(doubt));
    }
    out.push_str("x,y,stroke\n");
    for (i, stroke) in trace.strokes.iter().enumerate() {
        for p in &stroke.points {
            let _ = writeln!(out, "{:.4},{:.4},{}", p.x, p.y, i + 1);
        }
    }
    out
}
