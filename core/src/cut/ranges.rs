//! What the figures of a cut usually are. Outside these nothing is impossible, so it is a doubt, not a
//! refusal: mostly a slip of the finger, of the unit, or of the field. All of it is common practice: the ends
//! of what makers' cut charts print for sheet and plate, with some room, as far as a small shop meets them.

use super::settings::CutSettings;
use crate::report::{About, Doubt};

/// A usual range and its reason.
struct Range {
    least: f64,
    most: f64,
    unit: &'static str,
    why: &'static str,
}

/// The finest nozzles leave some 0.6 mm, the heaviest torches 6 mm.
const KERF: Range = Range {
    least: 0.5,
    most: 6.0,
    unit: "mm",
    why: "a torch takes away",
};
/// From thick plate at the end of what a small cutter severs to the thinnest sheet.
const FEED: Range = Range {
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
const PIERCE: Range = Range {
    least: 0.0,
    most: 5.0,
    unit: "s",
    why: "a plate is pierced within",
};
/// Thinner is foil, which burns away; thicker no cutter of a small shop severs.
const THICKNESS: Range = Range {
    least: 0.4,
    most: 50.0,
    unit: "mm",
    why: "plates that a torch cuts are",
};
/// The arc needs some room and goes out beyond it.
const CUT_HEIGHT: Range = Range {
    least: 0.5,
    most: 8.0,
    unit: "mm",
    why: "a torch cuts at",
};
/// About twice the cut height, so that the blown metal misses the nozzle.
const PIERCE_HEIGHT: Range = Range {
    least: 1.0,
    most: 16.0,
    unit: "mm",
    why: "a torch pierces at",
};
/// Over what may have tipped up; higher only costs time.
const SAFE_HEIGHT: Range = Range {
    least: 3.0,
    most: 200.0,
    unit: "mm",
    why: "a torch travels at",
};
/// One and a half times the thickest plate; longer ones only spoil the sheet.
const LEAD: Range = Range {
    least: 0.0,
    most: 75.0,
    unit: "mm",
    why: "leads are",
};
/// A few kerfs close the cut; further on the torch runs through its own kerf, which widens it.
const OVERLAP: Range = Range {
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
                "the {what} is {value} {unit}; {why} {least} to {most} {unit}: look in the cutter's book, and whether \
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
    let feed = Range {
        least: match s.thickness {
            Some(t) if t >= THICK => SLOWEST,
            _ => FEED.least,
        },
        ..FEED
    };
    let heights = s.heights.map(|h| {
        [
            CUT_HEIGHT.doubt("cut height", h.cut),
            PIERCE_HEIGHT.doubt("pierce height", h.pierce),
            SAFE_HEIGHT.doubt("safe height", h.safe),
        ]
    });
    [
        KERF.doubt("kerf", s.kerf),
        feed.doubt("feed", s.feed),
        PIERCE.doubt("pierce delay", s.pierce),
        s.thickness.and_then(|t| THICKNESS.doubt("thickness", t)),
        s.lead.and_then(|l| LEAD.doubt("lead", l)),
        s.lead_out.and_then(|l| LEAD.doubt("lead-out", l)),
        s.overlap.and_then(|o| OVERLAP.doubt("overlap", o)),
    ]
    .into_iter()
    .chain(heights.into_iter().flatten())
    .flatten()
    .collect()
}

/// The doubt about a kerf alone.
#[must_use]
pub fn kerf_doubt(kerf: f64) -> Option<Doubt> {
    KERF.doubt("kerf", kerf)
}
