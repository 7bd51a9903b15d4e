//! What the figures of a cut usually are. Outside these nothing is impossible, so it is a doubt, not a
//! refusal: mostly a slip of the finger, of the unit, or of the field. All of it is common practice: the ends
//! of what makers' cut charts print for sheet and plate, with some room, as far as a small shop meets them.

use super::figures::row;
use super::settings::CutSettings;
use crate::Refusal;
use crate::report::{About, Doubt};
use serde::Serialize;

/// A usual range and its reason.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "types", derive(ts_rs::TS))]
pub struct Range {
    /// Less is unusual.
    pub least: f64,
    /// More is unusual.
    pub most: f64,
    /// The unit of both.
    pub unit: &'static str,
    /// The sentence that runs on with them.
    pub why: &'static str,
}

/// The finest nozzles leave some 0.6 mm, the heaviest torches 6 mm.
pub const KERF: Range = Range {
    least: 0.5,
    most: 6.0,
    unit: "mm",
    why: "a torch takes away",
};
/// From thick plate at the end of what a small cutter severs to the thinnest sheet.
pub const FEED: Range = Range {
    least: 250.0,
    most: 16_000.0,
    unit: "mm/min",
    why: "sheet and plate are cut at",
};
/// From here on, mm, plate is cut slowly,
const THICK: f64 = 12.0;
/// at down to this.
const SLOWEST: f64 = 50.0;
/// Plate of 25 mm is pierced in some 2 s; longer only wears the nozzle.
pub const PIERCE: Range = Range {
    least: 0.0,
    most: 5.0,
    unit: "s",
    why: "a plate is pierced within",
};
/// Thinner is foil, which burns away; thicker no cutter of a small shop severs.
pub const THICKNESS: Range = Range {
    least: 0.4,
    most: 50.0,
    unit: "mm",
    why: "plates that a torch cuts are",
};
/// The arc needs some room and goes out beyond it.
pub const CUT_HEIGHT: Range = Range {
    least: 0.5,
    most: 8.0,
    unit: "mm",
    why: "a torch cuts at",
};
/// About twice the cut height, so that the blown metal misses the nozzle.
pub const PIERCE_HEIGHT: Range = Range {
    least: 1.0,
    most: 16.0,
    unit: "mm",
    why: "a torch pierces at",
};
/// Over what may have tipped up; higher only costs time.
pub const SAFE_HEIGHT: Range = Range {
    least: 3.0,
    most: 200.0,
    unit: "mm",
    why: "a torch travels at",
};
/// One and a half times the thickest plate; longer ones only spoil the sheet.
pub const LEAD: Range = Range {
    least: 0.0,
    most: 75.0,
    unit: "mm",
    why: "leads are",
};
/// A few kerfs close the cut; further on the torch runs through its own kerf, which widens it.
pub const OVERLAP: Range = Range {
    least: 0.0,
    most: 20.0,
    unit: "mm",
    why: "a cut is closed by running on for",
};
/// More copies than this of one piece are hardly laid on one plate.
pub const MOST_COPIES: usize = 250;

impl Range {
    fn doubt(&self, what: &str, value: f64) -> Option<Doubt> {
        let fine = (self.least..=self.most).contains(&value);
        let Self {
            least,
            most,
            unit,
            why,
        } = self;
        (!fine).then(|| {
            let text = format!(
                "{what} is {value} {unit}; {why} {least} to {most} {unit}: look in the cutter's book, and whether \
                 the figure is in the unit you meant (write {}, say)",
                if *unit == "s" { "0.4" } else { "1.5mm or 0.06in" }
            );
            Doubt::new(About::Machine, text)
        })
    }
}

/// A doubt for each figure out of its usual range.
#[must_use]
pub fn doubts(s: &CutSettings) -> Vec<Doubt> {
    let thick = s.thickness.is_some_and(|t| t >= THICK);
    let said = [
        ("kerf", Some(s.kerf)),
        ("feed", Some(s.feed)),
        ("pierce", Some(s.pierce)),
        ("thickness", s.thickness),
        ("lead", s.lead),
        ("lead_out", s.lead_out),
        ("overlap", s.overlap),
        ("cut_height", s.heights.map(|h| h.cut)),
        ("pierce_height", s.heights.map(|h| h.pierce)),
        ("safe_height", s.heights.map(|h| h.safe)),
    ];
    let unusual = said.iter().filter_map(|(key, value)| {
        let (row, value) = row(key).zip(*value)?;
        let usual = row.usual?;
        let least = if thick && *key == "feed" {
            SLOWEST
        } else {
            usual.least
        };
        Range { least, ..usual }.doubt(row.name, value)
    });
    unusual.collect()
}

/// The doubt about one figure of the form alone, by its key.
///
/// # Errors
/// What no cut takes at all.
pub fn figure_doubt(key: &str, value: f64) -> Result<Option<Doubt>, Refusal> {
    let Some(row) = row(key) else { return Ok(None) };
    row.check(value)?;
    Ok(row.usual.and_then(|usual| usual.doubt(row.name, value)))
}

/// The doubt about a kerf alone.
#[must_use]
pub fn kerf_doubt(kerf: f64) -> Option<Doubt> {
    KERF.doubt("the kerf", kerf)
}
