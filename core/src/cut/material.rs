//! The person's own rows: what their cutter's book says for each plate they use.
//!
//! ```toml
//! # One table a row. Numbers from the cutter's own book; lengths in mm, feed in mm/min.
//! [[material]]
//! name = "mild 3"
//! thickness = 3.0
//! kerf = 1.4
//! feed = 2400.0
//! pierce = 0.4
//! ```

use super::settings::CutSettings;
use crate::Refusal;
use crate::tables;
use serde::Serialize;
use std::collections::BTreeSet;

/// Most rows in one file.
pub const MAX_ROWS: usize = 10_000;

/// One row.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Material {
    /// What the person calls it.
    pub name: String,
    /// Thickness, mm.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub thickness: Option<f64>,
    /// Width of the cut, mm.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub kerf: Option<f64>,
    /// Cutting speed, mm/min.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub feed: Option<f64>,
    /// Pierce delay, s.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub pierce: Option<f64>,
    /// Weight, kg/m³; steel where left out.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub density: Option<f64>,
}

/// Reads all rows of a material file.
///
/// # Errors
/// What the file says wrong, with line and value; a number out of range with the row's name; two
/// rows of one name.
pub fn read(text: &str) -> Result<Vec<Material>, Refusal> {
    let mut rows: Vec<Material> = Vec::new();
    for table in tables::read(text)? {
        if !(table.row && table.name == ["material"]) {
            return Err(Refusal::Line {
                line: table.line.max(1),
                problem: format!(
                    "unknown table [{}]; here may stand [[material]]",
                    table.title()
                ),
            });
        }
        table.only(&["name", "thickness", "kerf", "feed", "pierce", "density"])?;
        let name = table.text("name")?.ok_or_else(|| table.missing("name"))?;
        rows.push(Material {
            name: name.to_owned(),
            thickness: table.number("thickness")?,
            kerf: table.number("kerf")?,
            feed: table.number("feed")?,
            pierce: table.number("pierce")?,
            density: table.number("density")?,
        });
    }
    if rows.len() > MAX_ROWS {
        return Err(Refusal::Limit {
            what: "the number of rows in the material file",
            value: rows.len().to_string(),
            limit: MAX_ROWS.to_string(),
        });
    }
    let mut names = BTreeSet::new();
    for row in &rows {
        row.check()?;
        if !names.insert(plain(&row.name)) {
            return Err(Refusal::File(format!(
                "two materials are called \"{}\"",
                row.name
            )));
        }
    }
    Ok(rows)
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

    const BOOK: &str = "# from the book\n[[material]]\nname = \"mild 3\"\nthickness = 3.0\nkerf = 1.4\nfeed = 2400\npierce = 0.4\n\n[[material]]\nname = \"mild 6\"\nkerf = 1.7\n";

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
        let wrong = read("[[material]]\nname = \"a\"\nkerf = \"wide\"\n").unwrap_err();
        assert!(matches!(wrong, Refusal::Line { line: 3, .. }), "{wrong}");
        assert!(read("[[material]]\nname = \"a\"\nkerf = -1\n").is_err());
        assert!(read("[[material]]\nname = \"a\"\n[[material]]\nname = \"A\"\n").is_err());
        assert!(read("[[material]]\nname = \"a\"\nspeed = 3\n").is_err());
    }
}
