//! The figures of a cut as they are typed, shared by the commands that plan one.

use super::lengths::{self, Length};
use super::reading::{Read, Reader};
use super::{Stop, io};
use clap::{Args, ValueEnum};
use std::path::{Path, PathBuf};
use trued::cut::stock::TOUCHED_HOLE;
use trued::cut::{
    CutSettings, Heights, LeadStyle, Material, Stock, Turns, Way, material, tolerance::Class,
};
use trued::format::Units;
use trued::{Doubt, Refusal};

/// What cutter, plate and machine ask for.
#[derive(Args, Clone, Debug)]
#[command(next_help_heading = "How it is cut")]
pub struct CutFlags {
    /// Width of the cut
    #[arg(long, value_name = "LENGTH", value_parser = lengths::parse)]
    kerf: Option<Length>,
    /// Cutting speed, a minute
    #[arg(long, value_name = "SPEED", value_parser = lengths::parse_speed)]
    feed: Option<Length>,
    /// Pierce delay, seconds
    #[arg(long, value_name = "S")]
    pierce: Option<f64>,
    #[command(flatten)]
    book: BookFlags,
    /// Thickness of the plate, a length or a gauge of steel (14ga)
    #[arg(long, value_name = "LENGTH", value_parser = lengths::parse_thickness)]
    thickness: Option<Length>,
    /// Length of the lead-in; without it one is chosen and shortened to what fits
    #[arg(long, value_name = "LENGTH", value_parser = lengths::parse_or_zero)]
    lead: Option<Length>,
    /// Shape of the leads
    #[arg(long, value_enum, default_value_t, value_name = "SHAPE")]
    lead_style: LeadFlag,
    /// Length of the lead-out of outsides; without it half the lead-in
    #[arg(long, value_name = "LENGTH", value_parser = lengths::parse_or_zero)]
    lead_out: Option<Length>,
    /// How far to run on past the start at the close; without it one kerf
    #[arg(long, value_name = "LENGTH", value_parser = lengths::parse_or_zero)]
    overlap: Option<Length>,
    /// Cut every mark as a round hole of this diameter
    #[arg(long, value_name = "DIA", value_parser = lengths::parse)]
    hole: Option<Length>,
    /// Which way round outsides run; holes run the other way
    #[arg(long, value_enum, default_value_t, value_name = "WAY")]
    outside: WayFlag,
    /// Metal between pieces besides the kerf; without it as much as the leads need
    #[arg(long, value_name = "LENGTH", value_parser = lengths::parse_or_zero)]
    gap: Option<Length>,
    /// Which turns pieces may be given on the stock; none keeps the grain
    #[arg(long, value_enum, default_value_t, value_name = "TURNS")]
    turns: TurnsFlag,
    /// Holes of a traced scrap that were touched, not traced, are this wide; without it 12 mm
    #[arg(long, value_name = "DIA", value_parser = lengths::parse)]
    scrap_hole: Option<Length>,
    /// Bridges that hold each part in the plate
    #[arg(long, value_name = "N", default_value_t = 0)]
    bridges: usize,
    /// Metal left standing at a bridge; without it one kerf, half the thickness, at least 1.5 mm
    #[arg(long, value_name = "LENGTH", value_parser = lengths::parse)]
    bridge_width: Option<Length>,
    /// Speed while travelling with the torch off, a minute, to count it in the time
    #[arg(long, value_name = "SPEED", value_parser = lengths::parse_speed)]
    rapid: Option<Length>,
    /// How much longer the travel may become so that neighbours are not cut in a row, percent; more
    /// spreads the heat further
    #[arg(long, value_name = "PERCENT", default_value_t = 5.0)]
    spread: f64,
    /// Reach of the machine from its zero
    #[arg(long, value_name = "WxH", value_parser = lengths::parse_pair)]
    reach: Option<lengths::Pair>,
    /// Torch height while cutting (heights are written only when all three are given)
    #[arg(long, value_name = "LENGTH", value_parser = lengths::parse, requires_all = ["pierce_height", "safe_height"])]
    cut_height: Option<Length>,
    /// Torch height while piercing
    #[arg(long, value_name = "LENGTH", value_parser = lengths::parse, requires = "cut_height")]
    pierce_height: Option<Length>,
    /// Torch height while travelling
    #[arg(long, value_name = "LENGTH", value_parser = lengths::parse, requires = "cut_height")]
    safe_height: Option<Length>,
    /// General tolerance of ISO 2768-1 to print beside the sizes on the sheet
    #[arg(long, value_enum, value_name = "CLASS")]
    tolerance: Option<ToleranceFlag>,
}

/// The person's own material file.
#[derive(Args, Clone, Debug)]
pub struct BookFlags {
    /// Row of the material file: kerf, feed, pierce delay and thickness
    #[arg(long, value_name = "NAME")]
    pub material: Option<String>,
    /// Your own material file (CSV); without it materials.csv in the folder you are in
    #[arg(long, value_name = "FILE")]
    pub materials: Option<PathBuf>,
}

/// How the torch comes onto the path.
#[derive(Clone, Copy, Debug, Default, ValueEnum)]
enum LeadFlag {
    /// A quarter arc, straight where none fits
    #[default]
    Arc,
    /// Straight
    Straight,
}

/// Which way round outsides run.
#[derive(Clone, Copy, Debug, Default, ValueEnum)]
enum WayFlag {
    /// Clockwise: right for the usual swirl
    #[default]
    Cw,
    /// Counter-clockwise
    Ccw,
}

/// Which turns pieces may be given.
#[derive(Clone, Copy, Debug, Default, ValueEnum)]
enum TurnsFlag {
    /// None
    None,
    /// Half turns
    Half,
    /// Quarter turns
    Quarter,
    /// Quarter turns, and along the sides of the stock
    #[default]
    Edges,
}

/// Classes of general tolerance.
#[derive(Clone, Copy, Debug, ValueEnum)]
enum ToleranceFlag {
    /// Fine
    F,
    /// Medium
    M,
    /// Coarse
    C,
    /// Very coarse
    V,
}

/// A count of one or more; for clap's `value_parser`.
pub fn whole(text: &str) -> Result<usize, String> {
    let count = text.trim().parse::<usize>().ok().filter(|n| *n > 0);
    count.ok_or_else(|| format!("\"{text}\" is no count; write a whole number from 1 up"))
}

pub fn usage(e: Refusal) -> Stop {
    Stop::Usage(e.to_string())
}

/// The material file where none is named.
const MATERIALS: &str = "materials.csv";

impl BookFlags {
    /// The material file: the one named, or the one in this folder.
    pub fn file(&self) -> &Path {
        self.materials.as_deref().unwrap_or(Path::new(MATERIALS))
    }

    /// The row of that name, where one is named.
    pub fn row(&self) -> Result<Option<Material>, Stop> {
        let Some(name) = &self.material else {
            return Ok(None);
        };
        let path = self.file();
        if self.materials.is_none() && !path.exists() {
            return Err(Stop::Usage(format!(
                "there is no {MATERIALS} here to take \"{name}\" from: name your material file with --materials"
            )));
        }
        let text = std::fs::read_to_string(path)
            .map_err(|e| Stop::Usage(format!("{}: cannot be read: {e}", path.display())))?;
        let rows =
            material::read(&text).map_err(|e| Stop::Usage(format!("{}: {e}", path.display())))?;
        material::find(&rows, name)
            .cloned()
            .map(Some)
            .map_err(usage)
    }
}

impl CutFlags {
    /// The settings these flags amount to; bare numbers are in `units`, `title` names the job.
    pub fn settings(&self, units: Units, title: &str) -> Result<CutSettings, Stop> {
        let mm = |l: Option<Length>| l.map(|l| l.in_mm(units));
        let row = self.book.row()?;
        let mut s = material::settings(row.as_ref(), mm(self.kerf), mm(self.feed), self.pierce)
            .map_err(usage)?;
        s.thickness = mm(self.thickness).or(s.thickness);
        s.lead = mm(self.lead);
        s.lead_style = match self.lead_style {
            LeadFlag::Arc => LeadStyle::Arc,
            LeadFlag::Straight => LeadStyle::Straight,
        };
        s.lead_out = mm(self.lead_out);
        s.overlap = mm(self.overlap);
        s.hole = mm(self.hole);
        s.outside = match self.outside {
            WayFlag::Cw => Way::Clockwise,
            WayFlag::Ccw => Way::CounterClockwise,
        };
        s.bridges = self.bridges;
        s.bridge_width = mm(self.bridge_width);
        s.rapid = mm(self.rapid);
        s.heat_share = 0.01 * self.spread;
        s.reach = self.reach.map(|r| r.in_mm(units));
        s.tolerance = self.tolerance.map(|flag| match flag {
            ToleranceFlag::F => Class::Fine,
            ToleranceFlag::M => Class::Medium,
            ToleranceFlag::C => Class::Coarse,
            ToleranceFlag::V => Class::VeryCoarse,
        });
        s.heights = match (
            mm(self.cut_height),
            mm(self.pierce_height),
            mm(self.safe_height),
        ) {
            (Some(cut), Some(pierce), Some(safe)) => Some(Heights { cut, pierce, safe }),
            _ => None,
        };
        s.title = title.to_owned();
        s.check().map_err(usage)?;
        Ok(s)
    }

    /// Metal between pieces, where it is said, mm.
    pub fn gap(&self, units: Units) -> Option<f64> {
        self.gap.map(|g| g.in_mm(units))
    }

    /// Which turns pieces may be given.
    pub fn turns(&self) -> Turns {
        match self.turns {
            TurnsFlag::None => Turns::None,
            TurnsFlag::Half => Turns::Half,
            TurnsFlag::Quarter => Turns::Quarter,
            TurnsFlag::Edges => Turns::QuarterAndEdges,
        }
    }

    /// Files that these flags read.
    pub fn read(&self) -> Option<&Path> {
        self.book.material.is_some().then(|| self.book.file())
    }

    /// The plate: a size, or a traced scrap, with what is doubtful about that.
    pub fn stock(&self, said: &str, reader: &Reader, units: Units) -> Result<Plate, Stop> {
        let touched = self.scrap_hole.map_or(TOUCHED_HOLE, |d| d.in_mm(units));
        plate(said, reader, units, touched)
    }
}

/// The plate to cut from.
pub struct Plate {
    /// Its border and openings.
    pub stock: Stock,
    /// What may be wrong with them.
    pub doubts: Vec<Doubt>,
    /// What was done to its trace, and how holes in it were taken.
    pub notes: Vec<String>,
}

/// The plate said on the command line: a size, or a traced scrap whose touched holes are so wide.
pub fn plate(said: &str, reader: &Reader, units: Units, touched: f64) -> Result<Plate, Stop> {
    if let Ok(pair) = lengths::parse_pair(said) {
        let (w, h) = pair.in_mm(units);
        return Ok(Plate {
            stock: Stock::rectangle(w, h).map_err(usage)?,
            doubts: Vec::new(),
            notes: Vec::new(),
        });
    }
    if said != io::STDIN && !Path::new(said).exists() {
        return Err(Stop::Usage(format!(
            "{said}: neither a file nor a size such as 1200x600"
        )));
    }
    let Read { name, trued, .. } = reader.read(said).map_err(Stop::Failed)?;
    let stock = Stock::from_outline(&trued.outline, touched)
        .map_err(|e| Stop::Failed(format!("{said}: {e}")))?;
    let mut notes: Vec<String> = trued.report.notes.into_iter().map(|n| n.text).collect();
    let marks = trued.outline.marks.len();
    if marks > 0 {
        notes.push(format!(
            "{marks} touched hole{} of the scrap {} kept clear as if {touched} mm wide",
            if marks == 1 { "" } else { "s" },
            if marks == 1 { "is" } else { "are" }
        ));
    }
    let named = |d: Doubt| Doubt {
        text: format!("{name}: {}", d.text),
        ..d
    };
    Ok(Plate {
        stock,
        doubts: trued.report.doubts.into_iter().map(named).collect(),
        notes: notes.into_iter().map(|n| format!("{name}: {n}")).collect(),
    })
}
