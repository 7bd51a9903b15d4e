//! The figures of a cut as a form holds them: which there are, and what is to be said of each.
//!
//! One listing makes the type that forms fill in and saved jobs keep ([`Figures`]) and the rows that describe it
//! ([`FORM`]), so that neither can know of a figure that the other lacks. The page's blanks with their words and its
//! TypeScript types are made of the rows (`trued-web build`), the limits of
//! [`CutSettings::check`] and the usual ranges ([`ranges`]) are theirs.
//!
//! A figure that is not yet given is `None`. What most cuts leave as it is has a default; what that is, is said in `empty`.

use super::layout::Turns;
use super::plan::roles::Keep;
use super::ranges::{self, Range};
use super::settings::{CutSettings, Heights, LeadStyle, Way};
use super::stock::Stock;
use super::tolerance::Class;
use super::{Lay, material};
use crate::Refusal;
use crate::limits::MAX_COORDINATE;
use serde::{Deserialize, Serialize};

/// What one writes into a blank.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[serde(rename_all = "snake_case")]
#[cfg_attr(feature = "types", derive(ts_rs::TS))]
pub enum Ask {
    /// A length; mm inside, the person's unit to the eye.
    Length,
    /// A speed; mm a minute inside, the person's unit a minute to the eye.
    Speed,
    /// A plain number of this unit.
    Number(&'static str),
    /// A whole number.
    Count,
    /// Words.
    Words,
    /// One of these, by what is kept and the words for it; "" is none of them.
    Choice(&'static [(&'static str, &'static str)]),
}

use Ask::{Choice, Count, Length, Number, Speed, Words};

/// Where on the form a figure stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "types", derive(ts_rs::TS))]
pub enum Part {
    /// What every cut asks for.
    #[serde(rename = "")]
    Cut,
    /// The plate it is cut from.
    Stock,
    /// How the torch comes onto the path and leaves it.
    Leads,
    /// Which way round, and in which order.
    #[serde(rename = "Way round and order")]
    Order,
    /// How copies and blanks lie.
    #[serde(rename = "Several on a plate")]
    Lay,
    /// What holds parts in the plate.
    Bridges,
    /// What the machine can do.
    #[serde(rename = "The machine")]
    Machine,
    /// What the cut sheet says beside the sizes.
    #[serde(rename = "The sheet")]
    Sheet,
    /// A blank that is no piece on the plate.
    Blank,
    /// What marks become; the page makes them holes of the piece instead, so that every file knows of them.
    Marks,
}

/// Outside of this a figure is refused.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "types", derive(ts_rs::TS))]
pub struct Limit {
    /// 0 itself is refused too.
    pub over_zero: bool,
    /// The most it may be.
    pub most: f64,
}

/// What is to be said of one figure.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "types", derive(ts_rs::TS))]
pub struct Row {
    /// Its key in the saved job.
    pub key: &'static str,
    /// Its name within a sentence: "the kerf".
    pub name: &'static str,
    /// Its name on the form.
    pub label: &'static str,
    /// What one writes there.
    pub ask: Ask,
    /// Where it stands.
    pub part: Part,
    /// What it is for; "" where the name says so.
    pub help: &'static str,
    /// What holds while it is left empty; "" where nothing does.
    pub empty: &'static str,
    /// Outside of this it is refused.
    pub limit: Option<Limit>,
    /// Outside of this it is doubted.
    pub usual: Option<Range>,
}

impl Row {
    const fn new(part: Part, label: &'static str, name: &'static str, ask: Ask) -> Self {
        Self {
            key: "",
            name,
            label,
            ask,
            part,
            help: "",
            empty: "",
            limit: None,
            usual: None,
        }
    }

    const fn help(self, help: &'static str) -> Self {
        Self { help, ..self }
    }

    const fn empty(self, empty: &'static str) -> Self {
        Self { empty, ..self }
    }

    const fn over_zero(self, most: f64) -> Self {
        let limit = Some(Limit {
            over_zero: true,
            most,
        });
        Self { limit, ..self }
    }

    const fn up_to(self, most: f64) -> Self {
        let limit = Some(Limit {
            over_zero: false,
            most,
        });
        Self { limit, ..self }
    }

    const fn usually(self, range: Range) -> Self {
        Self {
            usual: Some(range),
            ..self
        }
    }

    /// The unit that its value is in, inside.
    #[must_use]
    pub const fn unit(&self) -> &'static str {
        match self.ask {
            Length => "mm",
            Speed => "mm/min",
            Number(unit) => unit,
            _ => "",
        }
    }

    /// # Errors
    /// A value out of its limits, with these.
    pub fn check(&self, value: f64) -> Result<(), Refusal> {
        let Some(Limit { over_zero, most }) = self.limit else {
            return Ok(());
        };
        let least = if over_zero { value > 0.0 } else { value >= 0.0 };
        if least && value <= most {
            return Ok(());
        }
        let (name, unit) = (self.name, self.unit());
        let range = match over_zero {
            true => format!("over 0 and at most {most} {unit}"),
            false => format!("between 0 and {most} {unit}"),
        };
        let said = format!("{name} is {value} {unit}");
        Err(Refusal::Setting(format!(
            "{}: it must be {}",
            said.trim_end(),
            range.trim_end()
        )))
    }
}

/// Makes the type and its rows of one listing: documentation, key and type of a figure, then its row.
macro_rules! figures {
    ($($(#[doc = $doc:literal])+ $key:ident: $of:ty = $row:expr;)+) => {
        /// The figures of a cut as a form holds them.
        #[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
        #[cfg_attr(feature = "types", derive(ts_rs::TS))]
        #[serde(default)]
        pub struct Figures {
            $($(#[doc = $doc])+ pub $key: $of,)+
        }

        /// What is to be said of each, in the order of the form.
        pub const FORM: &[Row] = &[$(Row { key: stringify!($key), ..$row },)+];
    };
}

figures! {
    /// Width of the cut, mm.
    kerf: Option<f64> = Row::new(Part::Cut, "Kerf", "the kerf", Length).help("width the torch takes away").over_zero(50.0).usually(ranges::KERF);
    /// Speed while cutting, mm/min.
    feed: Option<f64> = Row::new(Part::Cut, "Feed", "the feed", Speed).help("speed of the cut").over_zero(1e5).usually(ranges::FEED);
    /// Wait between torch on and the first move, s.
    pierce: Option<f64> = Row::new(Part::Cut, "Pierce", "the pierce delay", Number("s")).help("wait before moving").up_to(60.0).usually(ranges::PIERCE);
    /// Thickness of the plate, mm.
    thickness: Option<f64> = Row::new(Part::Cut, "Plate thickness", "the thickness", Length).help("for weight and small holes").over_zero(500.0).usually(ranges::THICKNESS);
    /// How many.
    copies: Option<usize> = Row::new(Part::Cut, "Copies", "the number of copies", Count).empty("one");

    /// Width of a stock that is a rectangle, mm.
    width: Option<f64> = Row::new(Part::Stock, "Width", "the stock's width", Length).over_zero(MAX_COORDINATE);
    /// Its height, mm.
    height: Option<f64> = Row::new(Part::Stock, "Height", "the stock's height", Length).over_zero(MAX_COORDINATE);

    /// Length of the lead-in, mm.
    lead: Option<f64> = Row::new(Part::Leads, "Lead-in", "the lead", Length).empty("chosen to fit").up_to(1e3).usually(ranges::LEAD);
    /// Length of the lead-out of outsides, mm.
    lead_out: Option<f64> = Row::new(Part::Leads, "Lead-out", "the lead-out", Length).empty("half the lead-in").up_to(1e3).usually(ranges::LEAD);
    /// Shape of the leads.
    lead_style: LeadStyle = Row::new(Part::Leads, "Shape", "the leads' shape", Choice(&[("arc", "a quarter arc"), ("straight", "straight")]));
    /// How far the torch runs on past its start, mm.
    overlap: Option<f64> = Row::new(Part::Leads, "Overlap", "the overlap", Length).help("how far the cut runs on past its start").empty("one kerf").up_to(1e3).usually(ranges::OVERLAP);

    /// Which way outsides run; holes run the other way.
    outside: Way = Row::new(Part::Order, "Outsides run", "the way round", Choice(&[("cw", "clockwise"), ("ccw", "counter-clockwise")]));
    /// Which side of the outermost loops is kept.
    keep: Option<Keep> = Row::new(Part::Order, "Kept is", "what is kept", Choice(&[("", "as the roles say"), ("inside", "what is enclosed"), ("outside", "what lies around")]));
    /// How much longer the travel may become so that neighbours are not cut in a row, percent.
    spread: Option<f64> = Row::new(Part::Order, "Travel may grow", "the travel's growth", Number("%")).help("so that neighbours are not cut in a row").empty("5 %").up_to(1e3);
    /// Cuts nearer to one another than this heat one another, mm.
    heat_distance: Option<f64> = Row::new(Part::Order, "Hot within", "the heat distance", Length).help("nearer cuts heat one another").empty("12 mm").up_to(1e3);

    /// Metal between pieces, mm.
    gap: Option<f64> = Row::new(Part::Lay, "Metal between", "the gap", Length).empty("room for the leads").up_to(1e3);
    /// Metal from a blank to the edge of the stock, mm.
    edge: Option<f64> = Row::new(Part::Lay, "Metal to the edge", "the metal to the edge", Length).empty("room for the leads").up_to(1e3);
    /// Turns that pieces may be given.
    turns: Turns = Row::new(Part::Lay, "Turned by", "the turns", Choice(&[("quarter", "quarter turns"), ("half", "half turns"), ("none", "none: the grain matters"), ("edges", "also along long sides")]));
    /// Diameter of holes of a traced stock that were touched, mm.
    scrap_hole: Option<f64> = Row::new(Part::Lay, "Touched holes of a scrap", "the touched hole", Length).empty("12 mm").over_zero(MAX_COORDINATE);

    /// Bridges that hold each part in the plate.
    bridges: Option<usize> = Row::new(Part::Bridges, "Bridges a part", "the number of bridges", Count).empty("none").up_to(1e3);
    /// Metal left standing at a bridge, mm.
    bridge_width: Option<f64> = Row::new(Part::Bridges, "Metal at each", "the bridge width", Length).empty("enough to hold").over_zero(1e3);

    /// Speed while travelling with the torch off, mm/min.
    rapid: Option<f64> = Row::new(Part::Machine, "Travel speed", "the travel speed", Speed).help("to count it in the time").over_zero(1e6);
    /// How far the machine reaches across from its zero, mm.
    reach_width: Option<f64> = Row::new(Part::Machine, "Reach across", "the reach across", Length).help("from its zero").empty("not checked").up_to(MAX_COORDINATE);
    /// How far up, mm.
    reach_height: Option<f64> = Row::new(Part::Machine, "Reach up", "the reach up", Length).empty("not checked").up_to(MAX_COORDINATE);
    /// Shortest edge that the machine can follow, mm.
    least_edge: Option<f64> = Row::new(Part::Machine, "Shortest edge", "the shortest edge", Length).empty("0.5 mm").up_to(1e3);
    /// Torch height while cutting, mm.
    cut_height: Option<f64> = Row::new(Part::Machine, "Height, cutting", "the cut height", Length).help("heights are written when all three are said").up_to(500.0).usually(ranges::CUT_HEIGHT);
    /// Torch height while piercing, mm.
    pierce_height: Option<f64> = Row::new(Part::Machine, "Height, piercing", "the pierce height", Length).up_to(500.0).usually(ranges::PIERCE_HEIGHT);
    /// Torch height while travelling, mm.
    safe_height: Option<f64> = Row::new(Part::Machine, "Height, travelling", "the safe height", Length).up_to(500.0).usually(ranges::SAFE_HEIGHT);

    /// What the job is called, for headings.
    title: String = Row::new(Part::Sheet, "Called", "the title", Words);
    /// General tolerance that the cut sheet prints beside the sizes.
    tolerance: Option<Class> = Row::new(Part::Sheet, "General tolerance", "the tolerance", Choice(&[("", "none"), ("f", "fine"), ("m", "medium"), ("c", "coarse"), ("v", "very coarse")]));
    /// Weight of the material, kg/m³.
    density: Option<f64> = Row::new(Part::Sheet, "Density", "the density", Number("kg/m³")).empty("steel").over_zero(1e5);
    /// Least diameter of a hole as a multiple of the thickness.
    hole_ratio: Option<f64> = Row::new(Part::Sheet, "Least hole", "the least hole in thicknesses", Number("thicknesses")).empty("1.5").up_to(100.0);

    /// Width of a blank that is no piece on the plate, mm.
    blank_width: Option<f64> = Row::new(Part::Blank, "Width", "the blank's width", Length).empty("the piece on the plate").over_zero(MAX_COORDINATE);
    /// Its height, mm.
    blank_height: Option<f64> = Row::new(Part::Blank, "Height", "the blank's height", Length).empty("the piece on the plate").over_zero(MAX_COORDINATE);

    /// Every mark is cut as a round hole of this diameter, mm.
    hole: Option<f64> = Row::new(Part::Marks, "Holes", "the hole for marks", Length).empty("marks are left alone").over_zero(MAX_COORDINATE);
}

/// The travel's growth as [`CutSettings`] holds it: a share.
pub(super) const HEAT_SHARE: Row =
    Row::new(Part::Order, "Travel may grow", "the heat share", Number("")).up_to(10.0);

/// The row of a figure.
#[must_use]
pub fn row(key: &str) -> Option<&'static Row> {
    FORM.iter().find(|row| row.key == key)
}

impl Figures {
    /// The settings that these figures amount to on a stock.
    ///
    /// # Errors
    /// Names those that only the cutter's book knows and that are not given yet, and the first that is out of its limits.
    pub fn settings(&self, stock: Option<Stock>) -> Result<CutSettings, Refusal> {
        let mut settings = material::settings(None, self.kerf, self.feed, self.pierce)?;
        settings.thickness = self.thickness;
        settings.stock = match (stock, self.width, self.height) {
            (None, Some(width), Some(height)) => Some(Stock::rectangle(width, height)?),
            (stock, ..) => stock,
        };
        settings.hole = self.hole;
        settings.lead = self.lead;
        settings.lead_style = self.lead_style;
        settings.lead_out = self.lead_out;
        settings.overlap = self.overlap;
        settings.keep = self.keep;
        settings.outside = self.outside;
        settings.bridges = self.bridges.unwrap_or_default();
        settings.bridge_width = self.bridge_width;
        settings.rapid = self.rapid;
        settings.tolerance = self.tolerance;
        settings.title.clone_from(&self.title);
        let said = [
            (self.spread.map(|p| 0.01 * p), &mut settings.heat_share),
            (self.heat_distance, &mut settings.heat_distance),
            (self.least_edge, &mut settings.least_edge),
            (self.hole_ratio, &mut settings.hole_ratio),
            (self.density, &mut settings.density),
        ];
        for (value, place) in said {
            *place = value.unwrap_or(*place);
        }
        settings.reach = self.reach_width.zip(self.reach_height);
        settings.heights = self.heights()?;
        settings.check()?;
        Ok(settings)
    }

    /// Those that were said, by their keys.
    #[must_use]
    pub fn said(&self) -> impl Serialize + use<> {
        let whole = |f: &Self| match serde_json::to_value(f) {
            Ok(serde_json::Value::Object(map)) => map,
            _ => serde_json::Map::new(),
        };
        let (mut said, unsaid) = (whole(self), whole(&Self::default()));
        said.retain(|key, value| unsaid.get(key) != Some(value));
        said
    }

    /// The names of those that were said, in the order of the form: "the kerf".
    #[must_use]
    pub fn names(&self) -> Vec<&'static str> {
        let whole = |f: &Self| serde_json::to_value(f).unwrap_or_default();
        let (said, unsaid) = (whole(self), whole(&Self::default()));
        let is_said = |row: &&Row| said.get(row.key) != unsaid.get(row.key);
        FORM.iter().filter(is_said).map(|row| row.name).collect()
    }

    fn heights(&self) -> Result<Option<Heights>, Refusal> {
        match (self.cut_height, self.pierce_height, self.safe_height) {
            (None, None, None) => Ok(None),
            (Some(cut), Some(pierce), Some(safe)) => Ok(Some(Heights { cut, pierce, safe })),
            _ => Err(Refusal::Setting(
                "heights are written only when all three are said: cutting, piercing and travelling".into(),
            )),
        }
    }

    /// How copies lie, where there is a stock or more than one; else the piece is cut where it was traced.
    #[must_use]
    pub fn lay(&self, settings: &CutSettings) -> Option<Lay> {
        let copies = self.copies.unwrap_or(1).max(1);
        (settings.stock.is_some() || copies > 1).then_some(Lay {
            copies,
            gap: self.gap,
            turns: self.turns,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_rows_are_the_figures_and_each_says_what_it_is() {
        let empty = serde_json::to_value(Figures::default()).unwrap();
        let keys: Vec<&String> = empty.as_object().unwrap().keys().collect();
        let mut rows: Vec<&str> = FORM.iter().map(|r| r.key).collect();
        rows.sort_unstable();
        assert_eq!(keys, rows);
        for row in FORM {
            assert!(!row.label.is_empty() && !row.name.is_empty(), "{}", row.key);
            let Some(usual) = row.usual else { continue };
            assert_eq!(usual.unit, row.unit(), "{}", row.key);
            assert!(row.check(usual.most).is_ok(), "{}", row.key);
        }
    }

    #[test]
    fn every_choice_is_one_that_reads() {
        for row in FORM {
            let Choice(choices) = row.ask else { continue };
            for (value, _) in choices.iter().filter(|(v, _)| !v.is_empty()) {
                let text = format!("{{\"{}\": \"{value}\"}}", row.key);
                let read = serde_json::from_str::<Figures>(&text);
                assert!(read.is_ok(), "{text}: {read:?}");
            }
        }
    }

    #[test]
    fn the_defaults_that_are_said_are_those_of_the_settings() {
        let least = Figures {
            kerf: Some(1.5),
            feed: Some(2400.0),
            pierce: Some(0.4),
            ..Figures::default()
        };
        let settings = least.settings(None).unwrap();
        assert_eq!(settings, CutSettings::new(1.5, 2400.0, 0.4));
        assert!(least.lay(&settings).is_none());
        assert_eq!(least.names(), ["the kerf", "the feed", "the pierce delay"]);
        for (key, is) in [
            ("spread", format!("{} %", 100.0 * settings.heat_share)),
            ("heat_distance", format!("{} mm", settings.heat_distance)),
            ("least_edge", format!("{} mm", settings.least_edge)),
            ("hole_ratio", settings.hole_ratio.to_string()),
            (
                "scrap_hole",
                format!("{} mm", super::super::stock::TOUCHED_HOLE),
            ),
        ] {
            assert_eq!(row(key).map(|r| r.empty), Some(is.as_str()));
        }
    }

    #[test]
    fn what_lacks_or_is_out_of_its_limits_is_named() {
        let said = Figures::default().settings(None).unwrap_err().to_string();
        assert!(said.contains("kerf"), "{said}");
        let much = Figures {
            kerf: Some(1.5),
            feed: Some(2400.0),
            pierce: Some(61.0),
            ..Figures::default()
        };
        let said = much.settings(None).unwrap_err().to_string();
        assert!(
            said.contains("the pierce delay is 61 s: it must be between 0 and 60 s"),
            "{said}"
        );
    }
}
