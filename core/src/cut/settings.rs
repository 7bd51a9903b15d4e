//! What a cut needs to know, in the trade's words.
//!
//! Kerf, feed and pierce delay have no default: they belong to the cutter, the plate and the
//! consumables, stand in the cutter's own book, and are asked for. Everything else has one.

use super::figures::{HEAT_SHARE, row};
use super::plan::roles::Keep;
use super::stock::Stock;
use super::tolerance::Class;
use crate::Refusal;
use serde::{Deserialize, Serialize};

/// Steel, kg/m³ (common practice).
pub const STEEL: f64 = 7850.0;

/// Which way round the torch goes.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "types", derive(ts_rs::TS))]
pub enum Way {
    /// Clockwise: the part's side is on the right of travel where the usual swirl cuts squarest.
    #[default]
    #[serde(rename = "cw")]
    Clockwise,
    /// Counter-clockwise, for a swirl ring that turns the other way.
    #[serde(rename = "ccw")]
    CounterClockwise,
}

impl Way {
    /// The other way.
    #[must_use]
    pub const fn other(self) -> Self {
        match self {
            Self::Clockwise => Self::CounterClockwise,
            Self::CounterClockwise => Self::Clockwise,
        }
    }
}

/// How the torch comes from the pierce to the path.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
#[cfg_attr(feature = "types", derive(ts_rs::TS))]
pub enum LeadStyle {
    /// A quarter arc that runs into the path without a kink; straight where no arc fits.
    #[default]
    Arc,
    /// A straight run.
    Straight,
}

/// Torch heights over the plate, mm; written only when given.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Heights {
    /// While cutting.
    pub cut: f64,
    /// While piercing.
    pub pierce: f64,
    /// While travelling with the torch off.
    pub safe: f64,
}

/// Everything about a cut that a person may set. Lengths are mm.
///
/// Read by serde, kerf, feed and pierce delay must stand; whatever else is left out has its default.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(from = "Written")]
pub struct CutSettings {
    /// Width of the cut, mm; over 0, at most 50. More moves the path further into the waste.
    pub kerf: f64,
    /// Speed while cutting, mm/min; over 0, at most 100 000.
    pub feed: f64,
    /// Wait between torch on and the first move, s; 0 to 60.
    pub pierce: f64,
    /// Thickness of the plate, mm; needed for the weight and for the checks of small holes.
    pub thickness: Option<f64>,
    /// Weight of the material, kg/m³. Default: steel.
    pub density: f64,
    /// Length of the lead-in, mm. Default: chosen, and shortened to what fits.
    pub lead: Option<f64>,
    /// Shape of the leads.
    pub lead_style: LeadStyle,
    /// Length of the lead-out of outsides, mm. Default: half the lead-in. Holes have none: their
    /// slug has dropped.
    pub lead_out: Option<f64>,
    /// How far the torch runs on past its starting place at the close, mm. Default: one kerf.
    pub overlap: Option<f64>,
    /// Cut every mark as a round hole of this diameter, mm. Default: marks are left alone.
    pub hole: Option<f64>,
    /// Which side of the outermost loops is kept. Default: as the outline's roles say, which for a lone
    /// loop is a guess.
    pub keep: Option<Keep>,
    /// Which way outsides run; holes run the other way. Default clockwise: with the usual swirl
    /// the square side of the cut is on the right of travel.
    pub outside: Way,
    /// The plate, when it is known: leads stay on it, everything is checked against it.
    pub stock: Option<Stock>,
    /// Bridges that hold each part in the plate. Default 0.
    pub bridges: usize,
    /// Metal left standing at a bridge, mm. Default: one kerf, half the thickness, at least 1.5 mm.
    pub bridge_width: Option<f64>,
    /// Speed while travelling with the torch off, mm/min. Default: unknown, and travel is not
    /// counted in the time.
    pub rapid: Option<f64>,
    /// Cuts nearer to one another than this heat one another, mm. Default 12.
    pub heat_distance: f64,
    /// How much longer the travel may become so that neighbours are not cut in a row, as a share.
    /// Default 0.05; 0 puts travel alone first.
    pub heat_share: f64,
    /// Torch heights. Default: none are written, the machine or the hand minds them.
    pub heights: Option<Heights>,
    /// Reach of the machine from its zero, mm (across, up). Default: not checked.
    pub reach: Option<(f64, f64)>,
    /// Shortest edge that the machine can follow, mm. Default 0.5.
    pub least_edge: f64,
    /// Least diameter of a hole as a multiple of the thickness. Default 1.5 (common practice).
    pub hole_ratio: f64,
    /// General tolerance that the cut sheet prints beside the sizes. Default: none.
    pub tolerance: Option<Class>,
    /// What the job is called, for headings.
    pub title: String,
}

/// The settings as they are read: what is left out has the default of [`CutSettings::new`].
#[derive(Deserialize)]
struct Written {
    kerf: f64,
    feed: f64,
    pierce: f64,
    thickness: Option<f64>,
    density: Option<f64>,
    lead: Option<f64>,
    lead_style: Option<LeadStyle>,
    lead_out: Option<f64>,
    overlap: Option<f64>,
    hole: Option<f64>,
    keep: Option<Keep>,
    outside: Option<Way>,
    stock: Option<Stock>,
    bridges: Option<usize>,
    bridge_width: Option<f64>,
    rapid: Option<f64>,
    heat_distance: Option<f64>,
    heat_share: Option<f64>,
    heights: Option<Heights>,
    reach: Option<(f64, f64)>,
    least_edge: Option<f64>,
    hole_ratio: Option<f64>,
    tolerance: Option<Class>,
    title: Option<String>,
}

impl From<Written> for CutSettings {
    fn from(w: Written) -> Self {
        let new = Self::new(w.kerf, w.feed, w.pierce);
        Self {
            thickness: w.thickness,
            density: w.density.unwrap_or(new.density),
            lead: w.lead,
            lead_style: w.lead_style.unwrap_or(new.lead_style),
            lead_out: w.lead_out,
            overlap: w.overlap,
            hole: w.hole,
            keep: w.keep,
            outside: w.outside.unwrap_or(new.outside),
            stock: w.stock,
            bridges: w.bridges.unwrap_or(new.bridges),
            bridge_width: w.bridge_width,
            rapid: w.rapid,
            heat_distance: w.heat_distance.unwrap_or(new.heat_distance),
            heat_share: w.heat_share.unwrap_or(new.heat_share),
            heights: w.heights,
            reach: w.reach,
            least_edge: w.least_edge.unwrap_or(new.least_edge),
            hole_ratio: w.hole_ratio.unwrap_or(new.hole_ratio),
            tolerance: w.tolerance,
            title: w.title.unwrap_or(new.title),
            ..new
        }
    }
}

impl CutSettings {
    /// Settings with everything but the three that only the cutter's book knows at its default.
    #[must_use]
    pub fn new(kerf: f64, feed: f64, pierce: f64) -> Self {
        Self {
            kerf,
            feed,
            pierce,
            thickness: None,
            density: STEEL,
            lead: None,
            lead_style: LeadStyle::default(),
            lead_out: None,
            overlap: None,
            hole: None,
            keep: None,
            outside: Way::default(),
            stock: None,
            bridges: 0,
            bridge_width: None,
            rapid: None,
            heat_distance: 12.0,
            heat_share: 0.05,
            heights: None,
            reach: None,
            least_edge: 0.5,
            hole_ratio: 1.5,
            tolerance: None,
            title: String::new(),
        }
    }

    /// The lead-in that is tried first, mm: as asked, or the larger of 3 mm, two kerfs and one and
    /// a half thicknesses (common practice: the pierce must leave no mark on the part).
    #[must_use]
    pub fn lead_length(&self) -> f64 {
        let thick = 1.5 * self.thickness.unwrap_or(0.0);
        self.lead
            .unwrap_or_else(|| 3.0_f64.max(2.0 * self.kerf).max(thick).min(15.0))
    }

    /// Overlap at the close, mm.
    #[must_use]
    pub fn overlap_length(&self) -> f64 {
        self.overlap.unwrap_or(self.kerf)
    }

    /// Metal left standing at a bridge, mm.
    #[must_use]
    pub fn bridge_metal(&self) -> f64 {
        let half = 0.5 * self.thickness.unwrap_or(0.0);
        self.bridge_width
            .unwrap_or_else(|| self.kerf.max(half).max(1.5))
    }

    /// A bridge narrower than this melts through beside the cut: 1 mm, a third of the thickness (common practice).
    #[must_use]
    pub fn least_bridge(&self) -> f64 {
        (self.thickness.unwrap_or(0.0) / 3.0).max(1.0)
    }

    /// Webs of metal narrower than this are named, mm: the larger of kerf and thickness.
    #[must_use]
    pub fn least_web(&self) -> f64 {
        self.kerf.max(self.thickness.unwrap_or(0.0))
    }

    /// Checks every number once, at the door.
    ///
    /// # Errors
    /// The first setting out of its range, with its value and the range.
    pub fn check(&self) -> Result<(), Refusal> {
        let heights = self.heights;
        let reach = self.reach;
        let said = [
            ("kerf", Some(self.kerf)),
            ("feed", Some(self.feed)),
            ("pierce", Some(self.pierce)),
            ("thickness", self.thickness),
            ("density", Some(self.density)),
            ("hole", self.hole),
            ("lead", self.lead),
            ("lead_out", self.lead_out),
            ("overlap", self.overlap),
            ("bridge_width", self.bridge_width),
            ("rapid", self.rapid),
            ("heat_distance", Some(self.heat_distance)),
            ("least_edge", Some(self.least_edge)),
            ("hole_ratio", Some(self.hole_ratio)),
            ("cut_height", heights.map(|h| h.cut)),
            ("pierce_height", heights.map(|h| h.pierce)),
            ("safe_height", heights.map(|h| h.safe)),
            ("reach_width", reach.map(|r| r.0)),
            ("reach_height", reach.map(|r| r.1)),
        ];
        for (row, value) in said.iter().filter_map(|(key, v)| row(key).zip(*v)) {
            row.check(value)?;
        }
        HEAT_SHARE.check(self.heat_share)?;
        if let Some(h) = self.heights
            && !(h.cut <= h.pierce && h.pierce <= h.safe)
        {
            return Err(Refusal::Setting(format!(
                "the torch would cut at {} mm, pierce at {} mm and travel at {} mm: the cut height must be the least \
                 and the safe height the largest",
                h.cut, h.pierce, h.safe
            )));
        }
        if self.bridges > 1000 {
            return Err(Refusal::Limit {
                what: "the number of bridges",
                value: self.bridges.to_string(),
                limit: "1000".into(),
            });
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_left_out_has_its_default_and_all_reads_back() {
        let read = |text: &str| serde_json::from_str::<CutSettings>(text);
        let least = read("{\"kerf\": 1.5, \"feed\": 2400, \"pierce\": 0.4}").unwrap();
        assert_eq!(least, CutSettings::new(1.5, 2400.0, 0.4));
        assert!(read("{\"kerf\": 1.5, \"feed\": 2400}").is_err());
        let more = CutSettings {
            thickness: Some(3.0),
            stock: Some(Stock::rectangle(300.0, 200.0).unwrap()),
            heat_share: 0.0,
            bridges: 2,
            ..least
        };
        let text = serde_json::to_string(&more).unwrap();
        assert_eq!(read(&text).unwrap(), more);
    }

    #[test]
    fn out_of_range_is_named_with_its_value() {
        assert!(CutSettings::new(1.5, 2000.0, 0.4).check().is_ok());
        for (kerf, feed, pierce) in [
            (0.0, 1.0, 1.0),
            (f64::NAN, 1.0, 1.0),
            (1.0, -3.0, 1.0),
            (1.0, 1.0, -0.1),
        ] {
            assert!(CutSettings::new(kerf, feed, pierce).check().is_err());
        }
        let said = CutSettings::new(-2.0, 1.0, 1.0)
            .check()
            .unwrap_err()
            .to_string();
        assert!(said.contains("kerf") && said.contains("-2"), "{said}");
    }
}
