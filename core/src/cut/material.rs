//! The person's own rows: what their cutter's book says for each plate they use.
//!
//! ```csv
//! # From the cutter's own book: lengths in mm, feed in mm a minute, pierce delay in seconds.
//! name,thickness,kerf,feed,pierce,remark
//! mild 3,3,1.4,2400,0.4,new consumables
//! ```
//!
//! A table that any spreadsheet opens. Columns stand in any order, a figure that is not known is left empty,
//! `#` starts a comment line. [`keep`] changes one row and leaves every other line as it is.

use super::settings::CutSettings;
use crate::Refusal;
use csv::StringRecord;
use serde::{Deserialize, Serialize};
use std::collections::BTreeSet;

/// Most rows in one file.
pub const MAX_ROWS: usize = 10_000;
/// The columns there may be.
const COLUMNS: [&str; 7] = [
    "name",
    "thickness",
    "kerf",
    "feed",
    "pierce",
    "density",
    "remark",
];
/// How a new file begins.
const HEAD: &str = "# From the cutter's own book: lengths in mm, feed in mm a minute, pierce delay in seconds.\nname,thickness,kerf,feed,pierce,remark\n";
/// What the remark says of figures that a coupon gave.
const COUPON: &str = "from a coupon";

/// One row.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "types", derive(ts_rs::TS))]
pub struct Material {
    /// What the person calls it.
    pub name: String,
    /// Thickness, mm.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "types", ts(optional))]
    pub thickness: Option<f64>,
    /// Width of the cut, mm.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "types", ts(optional))]
    pub kerf: Option<f64>,
    /// Cutting speed, mm/min.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "types", ts(optional))]
    pub feed: Option<f64>,
    /// Pierce delay, s.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "types", ts(optional))]
    pub pierce: Option<f64>,
    /// Weight, kg/m³; steel where left out.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "types", ts(optional))]
    pub density: Option<f64>,
}

/// Reads all rows of a material file.
///
/// # Errors
/// What the file says wrong, with line and value; a number out of range with the row's name; two
/// rows of one name.
pub fn read(text: &str) -> Result<Vec<Material>, Refusal> {
    let mut rows: Vec<Material> = Vec::new();
    let mut names = BTreeSet::new();
    let mut head: Option<Vec<String>> = None;
    for (line, text) in lines(text) {
        let fail = |problem: String| Refusal::Line { line, problem };
        let record = record(text).ok_or_else(|| fail("this row cannot be read".into()))?;
        let Some(head) = &head else {
            head = Some(columns(&record).map_err(fail)?);
            continue;
        };
        let row = row(head, &record).map_err(fail)?;
        row.check()?;
        if !names.insert(plain(&row.name)) {
            return Err(Refusal::File(format!(
                "two materials are called \"{}\"",
                row.name
            )));
        }
        rows.push(row);
        if rows.len() > MAX_ROWS {
            return Err(Refusal::Limit {
                what: "the number of rows in the material file",
                value: "more".into(),
                limit: MAX_ROWS.to_string(),
            });
        }
    }
    Ok(rows)
}

/// The lines that say something, with their numbers from 1.
fn lines(text: &str) -> impl Iterator<Item = (usize, &str)> {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let numbered = text.lines().enumerate().map(|(i, l)| (i + 1, l));
    numbered.filter(|(_, l)| !l.trim().is_empty() && !l.trim_start().starts_with('#'))
}

/// The fields of one line.
fn record(line: &str) -> Option<StringRecord> {
    let mut reader = csv::ReaderBuilder::new()
        .has_headers(false)
        .trim(csv::Trim::All)
        .from_reader(line.as_bytes());
    reader.records().next()?.ok()
}

fn columns(record: &StringRecord) -> Result<Vec<String>, String> {
    let names: Vec<String> = record.iter().map(str::to_ascii_lowercase).collect();
    if let Some(other) = names.iter().find(|n| !COLUMNS.contains(&n.as_str())) {
        return Err(format!(
            "\"{other}\" is no column of a material file; there may be {}",
            COLUMNS.join(", ")
        ));
    }
    match names.iter().any(|n| n == "name") {
        true => Ok(names),
        false => Err("the first row names the columns, and there is none called name".into()),
    }
}

fn row(head: &[String], record: &StringRecord) -> Result<Material, String> {
    let mut row = Material::default();
    for (column, value) in head.iter().zip(record) {
        if column == "name" {
            row.name = value.to_owned();
        } else if column != "remark" && !value.is_empty() {
            let figure: f64 = value
                .parse()
                .ok()
                .filter(|v: &f64| v.is_finite())
                .ok_or_else(|| format!("{column} is \"{value}\": that is no number"))?;
            match row.figure(column) {
                Some(slot) => *slot = Some(figure),
                None => return Err(format!("{column} has no figure")),
            }
        }
    }
    if record.len() > head.len() {
        return Err(format!(
            "{} fields under {} columns; words with a comma stand in quotation marks",
            record.len(),
            head.len()
        ));
    }
    match row.name.is_empty() {
        true => Err("a row without a name".into()),
        false => Ok(row),
    }
}

/// A name as it is compared: case and outer blanks do not matter.
fn plain(name: &str) -> String {
    name.trim().to_lowercase()
}

/// The row of that name; case and outer blanks do not matter.
///
/// # Errors
/// Names the rows there are when there is none of that name.
pub fn find<'a>(rows: &'a [Material], name: &str) -> Result<&'a Material, Refusal> {
    let wanted = plain(name);
    rows.iter()
        .find(|r| plain(&r.name) == wanted)
        .ok_or_else(|| {
            let names: Vec<String> = rows.iter().map(|r| format!("\"{}\"", r.name)).collect();
            Refusal::Setting(match names.len() {
                0 => format!("no material \"{name}\": the material file has no rows"),
                _ => format!("no material \"{name}\": there are {}", names.join(", ")),
            })
        })
}

impl Material {
    /// The figure under a column.
    fn figure(&mut self, column: &str) -> Option<&mut Option<f64>> {
        Some(match column {
            "thickness" => &mut self.thickness,
            "kerf" => &mut self.kerf,
            "feed" => &mut self.feed,
            "pierce" => &mut self.pierce,
            "density" => &mut self.density,
            _ => return None,
        })
    }

    fn check(&self) -> Result<(), Refusal> {
        // A missing number is no error here: it may come by flag.
        let mut settings = CutSettings::new(
            self.kerf.unwrap_or(1.0),
            self.feed.unwrap_or(1.0),
            self.pierce.unwrap_or(0.0),
        );
        settings.thickness = self.thickness;
        settings.density = self.density.unwrap_or(settings.density);
        settings
            .check()
            .map_err(|e| Refusal::File(format!("material \"{}\": {e}", self.name)))
    }
}

/// The file with the figures that `found` has in the row of its name, which is added where there is none. What
/// stood there before goes into the remark; every other line stays as it is.
///
/// # Errors
/// Refuses a file that is no material file, and figures out of range.
pub fn keep(file: &str, found: &Material) -> Result<String, Refusal> {
    found.check()?;
    if found.name.trim().is_empty() || found.name.contains(['\n', '\r', '#']) {
        return Err(Refusal::Setting(format!(
            "\"{}\" is no name for a material",
            found.name
        )));
    }
    let before = read(file)?;
    let file = match lines(file).next() {
        Some(_) => file.to_owned(),
        None => format!("{file}{HEAD}"),
    };
    let old = before.iter().find(|r| plain(&r.name) == plain(&found.name));
    let mut found = found.clone();
    let mut head: Vec<String> = Vec::new();
    let mut out: Vec<String> = file.lines().map(str::to_owned).collect();
    let mut changed = false;
    for (line, text) in lines(&file) {
        let Some(record) = record(text) else { continue };
        let Some(slot) = out.get_mut(line - 1) else {
            continue;
        };
        if head.is_empty() {
            head = columns(&record).map_err(|problem| Refusal::Line { line, problem })?;
            let missing = COLUMNS.iter().filter(|c| {
                let known = found.figure(c).is_some_and(|f| f.is_some()) || **c == "remark";
                known && !head.iter().any(|h| h == *c)
            });
            let missing: Vec<String> = missing.map(|c| (*c).to_owned()).collect();
            for column in missing {
                slot.push_str(&format!(",{column}"));
                head.push(column);
            }
        } else if row(&head, &record).is_ok_and(|r| plain(&r.name) == plain(&found.name)) {
            *slot = written(&head, &record, &mut found, old);
            changed = true;
        }
    }
    if !changed {
        let mut fresh = StringRecord::new();
        let name = |h: &String| if h == "name" { found.name.as_str() } else { "" };
        head.iter().for_each(|h| fresh.push_field(name(h)));
        out.push(written(&head, &fresh, &mut found, None));
    }
    Ok(out.join("\n") + "\n")
}

/// The row with what was found in it.
fn written(
    head: &[String],
    record: &StringRecord,
    found: &mut Material,
    old: Option<&Material>,
) -> String {
    let mut before: Vec<String> = Vec::new();
    let mut old = old.cloned();
    let mut fields: Vec<String> = Vec::with_capacity(head.len());
    for (i, column) in head.iter().enumerate() {
        let was = record.get(i).unwrap_or_default().to_owned();
        let new = found.figure(column).copied().flatten();
        fields.push(match new {
            Some(new) => {
                let new = libm::round(new * 1000.0) / 1000.0;
                let held = old
                    .as_mut()
                    .and_then(|o| o.figure(column).copied().flatten());
                if held.is_some_and(|h| h != new) {
                    before.push(format!("{column} {was}"));
                }
                new.to_string()
            }
            None => was,
        });
    }
    let remark = head.iter().position(|h| h == "remark");
    if let Some(remark) = remark.and_then(|i| fields.get_mut(i)) {
        // A figure from the book is not lost; one from an earlier coupon is.
        let own = remark
            .split(COUPON)
            .next()
            .unwrap_or_default()
            .trim_end_matches("; ")
            .to_owned();
        let earlier = remark.contains(COUPON);
        let before = match (earlier, before.is_empty()) {
            (true, _) => remark.split_once("before: ").map(|(_, b)| b.to_owned()),
            (false, true) => None,
            (false, false) => Some(before.join(", ")),
        };
        let mut said: Vec<String> = Vec::new();
        said.extend(Some(own).filter(|o| !o.is_empty()));
        said.push(match before {
            Some(before) => format!("{COUPON}, before: {before}"),
            None => COUPON.to_owned(),
        });
        *remark = said.join("; ");
    }
    let mut writer = csv::WriterBuilder::new().from_writer(Vec::new());
    let line = writer
        .write_record(&fields)
        .ok()
        .and_then(|()| writer.into_inner().ok());
    String::from_utf8_lossy(&line.unwrap_or_default())
        .trim_end()
        .to_owned()
}

/// Settings from a row and what was said besides; what was said goes before the row.
///
/// # Errors
/// Names every one of kerf, feed and pierce delay that neither gives: they are never invented.
pub fn settings(
    row: Option<&Material>,
    kerf: Option<f64>,
    feed: Option<f64>,
    pierce: Option<f64>,
) -> Result<CutSettings, Refusal> {
    let kerf = kerf.or(row.and_then(|r| r.kerf));
    let feed = feed.or(row.and_then(|r| r.feed));
    let pierce = pierce.or(row.and_then(|r| r.pierce));
    let (Some(kerf), Some(feed), Some(pierce)) = (kerf, feed, pierce) else {
        let asked = [
            (kerf, "the kerf"),
            (feed, "the feed"),
            (pierce, "the pierce delay"),
        ];
        let missing: Vec<&str> = asked
            .iter()
            .filter(|(v, _)| v.is_none())
            .map(|(_, n)| *n)
            .collect();
        return Err(Refusal::Setting(format!(
            "{} must be given: look in the cutter's own book",
            missing.join(" and ")
        )));
    };
    let mut settings = CutSettings::new(kerf, feed, pierce);
    if let Some(row) = row {
        settings.thickness = row.thickness;
        settings.density = row.density.unwrap_or(settings.density);
    }
    Ok(settings)
}

#[cfg(test)]
mod tests {
    use super::*;

    const BOOK: &str = "# from the book\nname,thickness,kerf,feed,pierce\nmild 3,3.0,1.4,2400,0.4\n\nmild 6,,1.7\n";

    #[test]
    fn a_row_is_recalled_and_a_flag_goes_before_it() {
        let rows = read(BOOK).unwrap();
        let row = find(&rows, " Mild 3").unwrap();
        let s = settings(Some(row), None, Some(2000.0), None).unwrap();
        assert_eq!(
            (s.kerf, s.feed, s.pierce, s.thickness),
            (1.4, 2000.0, 0.4, Some(3.0))
        );
    }

    #[test]
    fn what_is_missing_is_named_and_never_invented() {
        let rows = read(BOOK).unwrap();
        let row = find(&rows, "mild 6").unwrap();
        let said = settings(Some(row), None, None, None)
            .unwrap_err()
            .to_string();
        assert!(
            said.contains("feed") && said.contains("pierce") && !said.contains("kerf"),
            "{said}"
        );
        let said = find(&rows, "brass").unwrap_err().to_string();
        assert!(said.contains("mild 3") && said.contains("mild 6"), "{said}");
    }

    #[test]
    fn a_wrong_file_is_refused_with_its_line() {
        let wrong = read("name,kerf\na,wide\n").unwrap_err();
        assert!(matches!(wrong, Refusal::Line { line: 2, .. }), "{wrong}");
        for bad in [
            "name,kerf\na,-1\n",
            "name\na\nA\n",
            "name,speed\na,3\n",
            "kerf\n1\n",
            "name,kerf\na,1,2\n",
            "name,kerf\n,1\n",
        ] {
            assert!(read(bad).is_err(), "{bad}");
        }
    }

    #[test]
    fn what_was_found_is_kept_and_all_else_stays() {
        let file = "# my book\nname,kerf,pierce,remark\n# hood\nhood 2,1.4,0.3,\"new, fine\"\n\ncart 5,1.9,0.6,\n";
        let found = Material {
            name: "Hood 2".into(),
            kerf: Some(1.567_89),
            feed: Some(2280.0),
            ..Material::default()
        };
        let new = keep(file, &found).unwrap();
        assert_eq!(
            new,
            "# my book\nname,kerf,pierce,remark,feed\n# hood\nhood 2,1.568,0.3,\"new, fine; from a coupon, before: kerf 1.4\",2280\n\ncart 5,1.9,0.6,\n"
        );
        // A second coupon changes the figure, and what the book said stays.
        let again = keep(
            &new,
            &Material {
                kerf: Some(1.6),
                feed: None,
                ..found.clone()
            },
        )
        .unwrap();
        assert!(
            again.contains("hood 2,1.6,0.3,\"new, fine; from a coupon, before: kerf 1.4\",2280\n"),
            "{again}"
        );
        let added = keep("", &found).unwrap();
        assert_eq!(
            find(&read(&added).unwrap(), "hood 2").unwrap().feed,
            Some(2280.0)
        );
        assert!(keep("nonsense", &found).is_err());
        let wild = Material {
            kerf: Some(80.0),
            ..found
        };
        assert!(keep(file, &wild).is_err());
    }
}
