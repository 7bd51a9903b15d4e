//! How a file's rows are written, told from the first of them.
//!
//! Every way that fields may be parted and decimals written is tried on a sample. A way that makes points of
//! the most rows is the file's. Two ways that do so and come to different points are two meanings, and only
//! the person knows which: `12,345;67,890` may be twelve or twelve thousand.
//!
//! A header is the first line that names x and y under any separator; what stands above it are titles. A file
//! without a header has x and y first; where a third column or a header in other words makes that a guess, it
//! is refused and says how to name the columns.

use super::columns::{Columns, names};
use super::figures;
use super::header::{commented, header, uncommented};
use super::opening::Opening;
use super::{Line, line_of, split_line};
use crate::Refusal;
use crate::format::numbers::shown;
use crate::format::{Decimal, Wanted, text};
use crate::geom::Point;
use crate::limits;

/// Most rows that are looked at, and most titles above them.
const SAMPLE: usize = 2000;
pub(super) const MOST_TITLES: usize = 100;

/// What stands between two fields.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Between {
    Byte(u8),
    /// A comma and a blank, where a comma alone is a decimal sign.
    CommaBlank,
    /// A comma, and every other one is a decimal sign.
    EveryOther,
    Blanks,
}

/// How rows are written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Dialect {
    between: Between,
    pub(super) decimal: Decimal,
}

impl Dialect {
    const fn new(between: Between, decimal: Decimal) -> Self {
        Self { between, decimal }
    }

    /// Fields are parted by commas alone.
    pub(super) fn is_comma(&self) -> bool {
        self.between == Between::Byte(b',')
    }

    /// Cuts a row into its fields.
    pub(super) fn split<'a>(&self, row: &'a [u8], fields: &mut Vec<&'a [u8]>) {
        fields.clear();
        match self.between {
            // Fields are short: looking at every byte is quicker than any search.
            Between::Byte(byte) => fields.extend(row.split(|b| *b == byte)),
            Between::Blanks => {
                let blank = |b: &u8| matches!(b, b' ' | b'\t');
                fields.extend(row.split(blank).filter(|f| !f.is_empty()));
            }
            Between::CommaBlank => {
                let mut rest = row;
                while let Some(at) = memchr::memmem::find(rest, b", ") {
                    let (field, after) = rest.split_at(at);
                    fields.push(field);
                    rest = after.get(2..).unwrap_or_default();
                }
                fields.push(rest);
            }
            Between::EveryOther => {
                let mut rest = row;
                while !rest.is_empty() {
                    let mut commas = memchr::memchr_iter(b',', rest);
                    let end = commas.nth(1).unwrap_or(rest.len());
                    let (field, after) = rest.split_at(end);
                    fields.push(field);
                    rest = after.get(1..).unwrap_or_default();
                }
            }
        }
    }

    /// The fields of one line that uses quotation marks.
    pub(super) fn unquoted(&self, row: &[u8]) -> Result<Vec<Vec<u8>>, String> {
        let delimiter = match self.between {
            Between::Byte(byte) => byte,
            Between::Blanks => b' ',
            Between::CommaBlank | Between::EveryOther => b',',
        };
        let mut reader = ::csv::ReaderBuilder::new()
            .has_headers(false)
            .flexible(true)
            .delimiter(delimiter)
            .from_reader(row);
        let mut record = ::csv::ByteRecord::new();
        match reader.read_byte_record(&mut record) {
            Ok(true) => Ok(record.iter().map(<[u8]>::to_vec).collect()),
            _ => Err("the quotation marks do not pair up".into()),
        }
    }

    /// The fields as texts, whatever the row holds.
    fn texts(&self, row: &[u8]) -> Vec<Vec<u8>> {
        if row.contains(&b'"') {
            return self.unquoted(row).unwrap_or_default();
        }
        let mut fields = Vec::new();
        self.split(row, &mut fields);
        fields.into_iter().map(<[u8]>::to_vec).collect()
    }

    /// A row's names, were it a header.
    pub(super) fn names(&self, row: &[u8]) -> Vec<String> {
        let fields = self.texts(row);
        names(&fields.iter().map(Vec::as_slice).collect::<Vec<_>>())
    }

    /// The point that a row is.
    pub(super) fn point(&self, row: &[u8], columns: &Columns) -> Option<(f64, f64)> {
        let fields = self.texts(row);
        let (own, beyond) = fields.split_at_checked(columns.count)?;
        let figure = |i: usize| figures::number(own.get(i)?, self.decimal).ok();
        let spare = beyond.iter().all(|f| f.trim_ascii().is_empty());
        (figure(columns.x)).zip(figure(columns.y)).filter(|_| spare)
    }
}

/// A line that holds fields, with its number.
pub(super) type Row<'a> = (usize, &'a [u8]);

/// A way to read the file, and what it makes of the sample.
struct Reading {
    dialect: Dialect,
    columns: Columns,
    points: Vec<(f64, f64)>,
}

/// Tells how the file is written.
pub(super) fn opening(bytes: &[u8], wanted: &Wanted) -> Result<Opening, Refusal> {
    let mut rest = bytes;
    let mut rows: Vec<Row<'_>> = Vec::new();
    let mut comments: Vec<Row<'_>> = Vec::new();
    let mut stated = None;
    let mut number = 0;
    while !rest.is_empty() && rows.len() < SAMPLE {
        number += 1;
        let (line, after) = split_line(rest);
        rest = after;
        let row = match line_of(line) {
            Line::Row(row) => row,
            Line::Comment(text) if rows.is_empty() && comments.len() < MOST_TITLES => {
                comments.push((number, uncommented(text)));
                continue;
            }
            Line::Comment(_) | Line::Blank => continue,
        };
        match row.trim_ascii().strip_prefix(b"sep=") {
            Some([byte]) if rows.is_empty() => stated = Some(*byte),
            _ => rows.push((number, row)),
        }
    }
    let ways = ways(stated, wanted);
    let mut opening = match header(&rows, &ways, wanted)? {
        Some((at, names)) => with_header(&rows, at, &names, &ways)?,
        None => match commented(&comments, &rows, &ways, wanted) {
            // Some programs write the header as a comment.
            Some((line, names)) => {
                let mut all = vec![line];
                all.extend(&rows);
                with_header(&all, 0, &names, &ways)?
            }
            None => headless(&rows, &ways, wanted)?,
        },
    };
    let from = opening.first_line;
    let titles = rows.iter().take_while(|r| r.0 < from);
    opening.take_units(titles, &rows)?;
    opening.settle(&rows, wanted)?;
    Ok(opening)
}

/// All ways that rows may be written, the plainest first.
fn ways(stated: Option<u8>, wanted: &Wanted) -> Vec<Dialect> {
    let mut parted = vec![
        Between::Byte(b','),
        Between::Byte(b';'),
        Between::Byte(b'\t'),
        Between::Byte(b'|'),
    ];
    parted.extend([Between::Blanks, Between::CommaBlank]);
    if wanted.decimal == Some(Decimal::Comma) {
        parted.push(Between::EveryOther);
    }
    if let Some(byte) = stated {
        parted = vec![Between::Byte(byte)];
    }
    let decimals = [Decimal::Point, Decimal::Comma];
    let said = |d: &Decimal| wanted.decimal.is_none_or(|w| w == *d);
    let both = |b: Between| {
        decimals
            .into_iter()
            .filter(said)
            .map(move |d| Dialect::new(b, d))
    };
    parted.into_iter().flat_map(both).collect()
}

/// The way under which the most rows are points; refused where two differ in what they mean.
fn best(rows: &[Row<'_>], readings: Vec<Reading>) -> Result<Option<Reading>, Refusal> {
    let most = readings.iter().map(|r| r.points.len()).max().unwrap_or(0);
    // A place that no trace may have is no meaning.
    let held = |r: &Reading| (r.points.iter()).all(|p| limits::holds(Point::new(p.0, p.1)));
    let any_held = readings.iter().any(|r| r.points.len() == most && held(r));
    let mut best: Option<Reading> = None;
    for reading in readings
        .into_iter()
        .filter(|r| r.points.len() == most && most > 0)
        .filter(|r| !any_held || held(r))
    {
        match &best {
            None => best = Some(reading),
            Some(first) if first.points == reading.points => {}
            Some(first) => {
                let differ = first
                    .points
                    .iter()
                    .zip(&reading.points)
                    .position(|(a, b)| a != b);
                let i = differ.unwrap_or(0);
                let (line, row) = rows.get(i).copied().unwrap_or((1, b""));
                let say = |r: &Reading| {
                    r.points
                        .get(i)
                        .map_or(String::new(), |p| format!("({}, {})", p.0, p.1))
                };
                let flag = if first.dialect.decimal == reading.dialect.decimal {
                    "--columns"
                } else {
                    "--decimal"
                };
                let settle = match flag {
                    "--decimal" => "--decimal point or --decimal comma says which",
                    _ => "--columns x,y with all its columns says which",
                };
                return Err(Refusal::Line {
                    line,
                    problem: format!(
                        "\"{}\" may be the point {} or {}: {settle}",
                        shown(row),
                        say(first),
                        say(&reading)
                    ),
                });
            }
        }
    }
    Ok(best)
}

/// The points of a sample under one way. A decimal comma is only thought of where there is one.
fn read_as(rows: &[Row<'_>], dialect: Dialect, columns: &Columns) -> Vec<(f64, f64)> {
    let comma = dialect.decimal == Decimal::Comma && dialect.between == Between::Byte(b',');
    let quoted = || rows.iter().any(|(_, row)| row.contains(&b'"'));
    // Between commas only quotation marks can hold a decimal comma.
    if (comma && !quoted())
        || (dialect.decimal == Decimal::Comma && !rows.iter().any(|(_, r)| r.contains(&b',')))
    {
        return Vec::new();
    }
    let points = rows
        .iter()
        .map_while(|(_, row)| dialect.point(row, columns));
    points.collect()
}

fn with_header(
    rows: &[Row<'_>],
    at: usize,
    names: &[String],
    ways: &[Dialect],
) -> Result<Opening, Refusal> {
    let line = rows.get(at).map_or(1, |r| r.0);
    let refuse = |problem| Refusal::Line { line, problem };
    let mut columns = Columns::of_header(names)
        .map_err(refuse)?
        .ok_or_else(|| refuse("the header names no x and y".into()))?;
    let mut after = rows.get(at + 1..).unwrap_or_default();
    if let Some((_, row)) = after.first()
        && ways.iter().any(|w| columns.take_units(&w.names(row)))
    {
        after = after.get(1..).unwrap_or_default();
    }
    let readings = ways.iter().map(|way| Reading {
        dialect: *way,
        points: read_as(after, *way, &columns),
        columns: columns.clone(),
    });
    let found = best(after, readings.collect())?;
    // No row is a point: the header's own separator says best what is wrong with the first.
    let own = ways
        .iter()
        .find(|w| w.names(rows.get(at).map_or(b"", |r| r.1)) == names);
    let dialect = found.map(|f| f.dialect).or(own.copied());
    Ok(Opening {
        dialect: dialect.unwrap_or(Dialect::new(Between::Byte(b','), Decimal::Point)),
        columns,
        first_line: after.first().map_or(line + 1, |r| r.0),
        pen: None,
        lifted: None,
        titles: at,
        headless: false,
    })
}

/// A file whose columns have no names that are known.
fn headless(rows: &[Row<'_>], ways: &[Dialect], wanted: &Wanted) -> Result<Opening, Refusal> {
    let said = said_columns(wanted)?;
    let mut found: Option<(usize, Reading)> = None;
    // Titles stand above the first row that is a point under any way.
    for (i, (_, row)) in rows.iter().take(MOST_TITLES).enumerate() {
        let columns_of = |way: &Dialect| {
            said.clone()
                .unwrap_or_else(|| Columns::plain(way.names(row).len()))
        };
        let fits = |way: &&Dialect| {
            let columns = columns_of(way);
            columns.count > 1 && way.point(row, &columns).is_some()
        };
        if !ways.iter().any(|w| fits(&w)) {
            continue;
        }
        let rest = rows.get(i..).unwrap_or_default();
        let readings = ways.iter().filter(fits).map(|way| Reading {
            points: read_as(rest, *way, &columns_of(way)),
            dialect: *way,
            columns: columns_of(way),
        });
        if let Some(reading) = best(rest, readings.collect())? {
            found = Some((i, reading));
            break;
        }
    }
    let Some((at, reading)) = found else {
        let (line, row) = rows.first().copied().unwrap_or((1, b""));
        return Err(Refusal::Line {
            line,
            problem: format!(
                "no row is a point, and no header names the columns x and y; the first says \"{}\"",
                shown(&text::of_any(row).into_owned().into_bytes())
            ),
        });
    };
    if said.is_none() {
        doubtful(rows, at, &reading)?;
    }
    Ok(Opening {
        dialect: reading.dialect,
        columns: reading.columns,
        first_line: rows.get(at).map_or(1, |r| r.0),
        pen: None,
        lifted: None,
        titles: at,
        headless: said.is_none(),
    })
}

/// Refuses where the first two columns need not be x and y.
fn doubtful(rows: &[Row<'_>], at: usize, reading: &Reading) -> Result<(), Refusal> {
    let count = reading.columns.count;
    let above = at.checked_sub(1).and_then(|i| rows.get(i));
    let header = above.filter(|(_, row)| reading.dialect.names(row).len() == count);
    let line = header.or(rows.get(at)).map_or(1, |r| r.0);
    let problem = if let Some((_, row)) = header {
        format!(
            "the header must name the columns x and y; it says \"{}\"",
            shown(row)
        )
    } else if count > 3 {
        format!("nothing says which of the {count} columns are x and y")
    } else if count == 3 && never_falls(&reading.points) {
        "the first of three columns never falls: it may be x, or a number or time before x and y"
            .into()
    } else {
        return Ok(());
    };
    let example = match count {
        2 => "x,y",
        3 => "t,x,y or --columns x,y,-",
        _ => "-,x,y,-",
    };
    Err(Refusal::Line {
        line,
        problem: format!("{problem}; name them, for example by --columns {example}"),
    })
}

fn never_falls(points: &[(f64, f64)]) -> bool {
    let mut pairs = points.iter().zip(points.iter().skip(1));
    points.len() > 2 && pairs.all(|(a, b)| b.0 >= a.0)
}

/// The columns as the person names them.
fn said_columns(wanted: &Wanted) -> Result<Option<Columns>, Refusal> {
    if wanted.columns.is_empty() {
        return Ok(None);
    }
    let names: Vec<String> = wanted
        .columns
        .iter()
        .map(|n| n.trim().to_lowercase())
        .collect();
    let mut columns = Columns::of_header(&names)
        .map_err(Refusal::Setting)?
        .ok_or_else(|| Refusal::Setting("--columns must name x and y".into()))?;
    // Only a pen among the others says something.
    let names = columns.names.clone();
    let is_pen = |i: &usize| names.get(*i).is_some_and(|n| n == "pen");
    columns.unread.retain(is_pen);
    Ok(Some(columns))
}
