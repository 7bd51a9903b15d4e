//! Rows of touched points.
//!
//! The first row that is neither blank nor a comment is the header. It names the columns, in any
//! order: `x` and `y` must be there, `t` (seconds) and `stroke` (any label) may be. Other columns
//! are left unread and named in a note. After it each row is one point, in the order the hand
//! made them:
//!
//! * a change of `stroke` label, or a blank line, starts a stroke;
//! * `#` starts a comment line; `# units: mm` or `# units: in` before the first point states the units;
//! * `t` may repeat, jump or run backwards, or be left empty: row order counts.
//!
//! Lines end with LF, CR or CR LF, mixed as they come; a byte order mark is passed over. One bad
//! row refuses the file, with its line and value.
//!
//! A million rows must not be felt, so rows are cut from the bytes in place and nothing is
//! allocated for one. Only a line that holds a quotation mark goes through the general CSV reader.
//! Numbers are rounded to the nearest f64, as the standard library rounds them.

use super::numbers::{self, Bad, NOTHING};
use super::{Content, Input, Units};
use crate::report::Note;
use crate::{Point, Refusal, Stroke, Trace, limits};

/// Most columns a header may name.
const MAX_COLUMNS: usize = 64;

/// Which column holds what.
struct Columns {
    x: usize,
    y: usize,
    t: Option<usize>,
    stroke: Option<usize>,
    count: usize,
}

/// The trace under construction.
struct Rows<'a> {
    units: Units,
    stated: Option<Units>,
    columns: Option<Columns>,
    label: Vec<u8>,
    open: bool,
    /// Some line of the file holds a quotation mark.
    quotes: bool,
    points: usize,
    tiny: usize,
    strokes: Vec<Stroke>,
    notes: Vec<Note>,
    fields: Vec<&'a [u8]>,
}

/// Reads a CSV trace; `units` are those of a file that states none.
///
/// # Errors
/// Refuses the file at the first row that is not a point.
pub fn read(bytes: &[u8], units: Units) -> Result<Input, Refusal> {
    let bytes = bytes.strip_prefix(b"\xEF\xBB\xBF").unwrap_or(bytes);
    if let Err(e) = core::str::from_utf8(bytes) {
        return Err(super::not_utf8(bytes, e.valid_up_to()));
    }
    let mut rows = Rows {
        units,
        stated: None,
        columns: None,
        label: Vec::new(),
        open: false,
        quotes: memchr::memchr(b'"', bytes).is_some(),
        points: 0,
        tiny: 0,
        strokes: Vec::new(),
        notes: Vec::new(),
        fields: Vec::new(),
    };
    let mut rest = bytes;
    let mut line = 0;
    while !rest.is_empty() {
        line += 1;
        let (row, after) = split_line(rest);
        rest = after;
        rows.take(row)
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

impl<'a> Rows<'a> {
    /// Takes one line.
    fn take(&mut self, row: &'a [u8]) -> Result<(), String> {
        let row = row.trim_ascii();
        match row.first() {
            None => {
                self.open = false;
                Ok(())
            }
            Some(b'#') => self.comment(row),
            Some(_) if self.quotes && row.contains(&b'"') => {
                let fields = unquoted(row)?;
                let fields: Vec<&[u8]> = fields.iter().map(|f| f.trim_ascii()).collect();
                self.row(&fields)
            }
            Some(_) => {
                let mut fields = core::mem::take(&mut self.fields);
                fields.clear();
                // Fields are short: looking at every byte is quicker than any search.
                fields.extend(row.split(|&b| b == b','));
                let done = self.row(&fields);
                self.fields = fields;
                done
            }
        }
    }

    fn comment(&mut self, row: &[u8]) -> Result<(), String> {
        let text = String::from_utf8_lossy(row);
        let text = text.trim_start_matches('#').trim();
        let Some((key, name)) = text.split_once(':') else {
            return Ok(());
        };
        if !key.trim().eq_ignore_ascii_case("units") {
            return Ok(());
        }
        let units = Units::from_name(name)
            .ok_or_else(|| format!("\"{}\" is no unit; write mm or in", name.trim()))?;
        if self.points > 0 && units != self.units {
            return Err("the units must be stated before the first point".into());
        }
        self.units = units;
        self.stated = Some(units);
        Ok(())
    }

    /// Takes the fields of a row: the header first, then points.
    fn row(&mut self, fields: &[&[u8]]) -> Result<(), String> {
        match self.columns.take() {
            None => {
                let (columns, unread) = Columns::from_header(fields)?;
                self.columns = Some(columns);
                if !unread.is_empty() {
                    let names = unread.join(", ");
                    self.notes.push(Note::new(format!(
                        "columns left unread (only x, y, t and stroke are known): {names}"
                    )));
                }
                Ok(())
            }
            Some(columns) => {
                let done = self.point(&columns, fields);
                self.columns = Some(columns);
                done
            }
        }
    }

    fn point(&mut self, columns: &Columns, fields: &[&[u8]]) -> Result<(), String> {
        if fields.len() != columns.count {
            return Err(format!(
                "the row has {} columns where the header has {}",
                fields.len(),
                columns.count
            ));
        }
        let field = |i: usize| fields.get(i).copied().unwrap_or_default();
        let x = self.coordinate(field(columns.x))?;
        let y = self.coordinate(field(columns.y))?;
        let t = columns.t.map(|i| time(field(i))).transpose()?.flatten();
        if let Some(i) = columns.stroke {
            let label = field(i).trim_ascii();
            if self.label != label {
                self.label.clear();
                self.label.extend_from_slice(label);
                self.open = false;
            }
        }
        self.push(Point::new(x, y), t)
    }

    fn coordinate(&mut self, text: &[u8]) -> Result<f64, String> {
        let value = numbers::coordinate(text, self.units).map_err(|bad| bad.say(text))?;
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
        if self.columns.is_none() {
            return Err(Refusal::File("the file has no header x,y".into()));
        }
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
        let trace = Trace {
            strokes: self.strokes,
            drawn: Vec::new(),
        };
        Ok(Input {
            notes: self.notes,
            units: self.stated,
            ..Input::of(Content::Trace(trace))
        })
    }
}

impl Columns {
    /// The columns a header names, and the names of those nobody reads.
    fn from_header(fields: &[&[u8]]) -> Result<(Self, Vec<String>), String> {
        if fields.len() > MAX_COLUMNS {
            return Err(format!("more than {MAX_COLUMNS} columns"));
        }
        let names: Vec<String> = fields
            .iter()
            .map(|f| numbers::shown(f).to_ascii_lowercase())
            .collect();
        let find = |name: &str| -> Result<Option<usize>, String> {
            let mut places = names.iter().enumerate().filter(|(_, n)| *n == name);
            let place = places.next().map(|(i, _)| i);
            match places.next() {
                Some(_) => Err(format!("the header names the column {name} twice")),
                None => Ok(place),
            }
        };
        let needed = |name: &str| -> Result<usize, String> {
            find(name)?.ok_or_else(|| {
                let header = numbers::shown(names.join(",").as_bytes());
                format!("the header must name the columns x and y, separated by commas; it says \"{header}\"")
            })
        };
        let columns = Self {
            x: needed("x")?,
            y: needed("y")?,
            t: find("t")?,
            stroke: find("stroke")?,
            count: names.len(),
        };
        let known = ["x", "y", "t", "stroke"];
        let unread = names.iter().filter(|n| !known.contains(&n.as_str()));
        Ok((columns, unread.map(|n| format!("\"{n}\"")).collect()))
    }
}

/// A time in seconds, or none where the field is empty.
fn time(text: &[u8]) -> Result<Option<f64>, String> {
    if text.trim_ascii().is_empty() {
        return Ok(None);
    }
    match numbers::number(text) {
        Ok(t) => Ok(Some(t)),
        Err(Bad::TooLarge) => Err(Bad::NotFinite.say(text)),
        Err(bad) => Err(bad.say(text)),
    }
}

/// The fields of one line that uses quotation marks.
fn unquoted(row: &[u8]) -> Result<Vec<Vec<u8>>, String> {
    let mut reader = ::csv::ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .from_reader(row);
    let mut record = ::csv::ByteRecord::new();
    match reader.read_byte_record(&mut record) {
        Ok(true) => Ok(record.iter().map(<[u8]>::to_vec).collect()),
        _ => Err("the quotation marks do not pair up".into()),
    }
}
