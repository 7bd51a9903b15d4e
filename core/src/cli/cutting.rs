//! The figures of a cut as they are typed, shared by the commands that plan one.

use super::lengths::{self, Length};
use super::reading::{Read, Reader};
use super::{Stop, io};
use clap::{Args, ValueEnum};
use std::path::{Path, PathBuf};
use trued::cut::{Figures, LeadStyle, Material, Stock, Turns, Way, material, tolerance::Class};
use trued::format::Units;
use trued::{Doubt, Refusal, Trued};

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
    /// Shape of the leads; a quarter arc where not said
    #[arg(long, value_enum, value_name = "SHAPE")]
    lead_style: Option<LeadFlag>,
    /// Length of the lead-out of outsides; without it half the lead-in
    #[arg(long, value_name = "LENGTH", value_parser = lengths::parse_or_zero)]
    lead_out: Option<Length>,
    /// How far to run on past the start at the close; without it one kerf
    #[arg(long, value_name = "LENGTH", value_parser = lengths::parse_or_zero)]
    overlap: Option<Length>,
    /// Cut every mark as a round hole of this diameter
    #[arg(long, value_name = "DIA", value_parser = lengths::parse)]
    hole: Option<Length>,
    /// Which way round outsides run, clockwise where not said; holes run the other way
    #[arg(long, value_enum, value_name = "WAY")]
    outside: Option<WayFlag>,
    /// Metal between pieces besides the kerf; without it as much as the leads need
    #[arg(long, value_name = "LENGTH", value_parser = lengths::parse_or_zero)]
    gap: Option<Length>,
    /// Which turns pieces may be given on the stock, along its edges too where not said; none keeps the grain
    #[arg(long, value_enum, value_name = "TURNS")]
    turns: Option<TurnsFlag>,
    /// Holes of a traced scrap that were touched, not traced, are this wide; without it 12 mm
    #[arg(long, value_name = "DIA", value_parser = lengths::parse)]
    scrap_hole: Option<Length>,
    /// Bridges that hold each part in the plate
    #[arg(long, value_name = "N")]
    bridges: Option<usize>,
    /// Metal left standing at a bridge; without it one kerf, half the thickness, at least 1.5 mm
    #[arg(long, value_name = "LENGTH", value_parser = lengths::parse)]
    bridge_width: Option<Length>,
    /// Speed while travelling with the torch off, a minute, to count it in the time
    #[arg(long, value_name = "SPEED", value_parser = lengths::parse_speed)]
    rapid: Option<Length>,
    /// How much longer the travel may become so that neighbours are not cut in a row, percent, 5 where not
    /// said; more spreads the heat further
    #[arg(long, value_name = "PERCENT")]
    spread: Option<f64>,
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
#[derive(Clone, Copy, Debug, ValueEnum)]
enum LeadFlag {
    /// A quarter arc, straight where none fits
    Arc,
    /// Straight
    Straight,
}

/// Which way round outsides run.
#[derive(Clone, Copy, Debug, ValueEnum)]
enum WayFlag {
    /// Clockwise: right for the usual swirl
    Cw,
    /// Counter-clockwise
    Ccw,
}

/// Which turns pieces may be given.
#[derive(Clone, Copy, Debug, ValueEnum)]
enum TurnsFlag {
    /// None
    None,
    /// Half turns
    Half,
    /// Quarter turns
    Quarter,
    /// Quarter turns, and along the sides of the stock
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
    /// The figures these flags amount to, before those of the material file, before those that were `saved`; bare
    /// numbers are in `units`, `title` names the job where nothing else does.
    pub fn figures(&self, units: Units, title: &str, saved: &Figures) -> Result<Figures, Stop> {
        let mm = |l: Option<Length>| l.map(|l| l.in_mm(units));
        let row = self.book.row()?.unwrap_or_default();
        let mut f = saved.clone();
        let figures = [
            (&mut f.kerf, mm(self.kerf).or(row.kerf)),
            (&mut f.feed, mm(self.feed).or(row.feed)),
            (&mut f.pierce, self.pierce.or(row.pierce)),
            (&mut f.thickness, mm(self.thickness).or(row.thickness)),
            (&mut f.density, row.density),
            (&mut f.lead, mm(self.lead)),
            (&mut f.lead_out, mm(self.lead_out)),
            (&mut f.overlap, mm(self.overlap)),
            (&mut f.hole, mm(self.hole)),
            (&mut f.gap, mm(self.gap)),
            (&mut f.scrap_hole, mm(self.scrap_hole)),
            (&mut f.bridge_width, mm(self.bridge_width)),
            (&mut f.rapid, mm(self.rapid)),
            (&mut f.spread, self.spread),
            (&mut f.reach_width, self.reach.map(|r| r.in_mm(units).0)),
            (&mut f.reach_height, self.reach.map(|r| r.in_mm(units).1)),
            (&mut f.cut_height, mm(self.cut_height)),
            (&mut f.pierce_height, mm(self.pierce_height)),
            (&mut f.safe_height, mm(self.safe_height)),
        ];
        for (figure, said) in figures {
            *figure = said.or(*figure);
        }
        f.bridges = self.bridges.or(f.bridges);
        f.lead_style = self.lead_style.map_or(f.lead_style, |flag| match flag {
            LeadFlag::Arc => LeadStyle::Arc,
            LeadFlag::Straight => LeadStyle::Straight,
        });
        f.outside = self.outside.map_or(f.outside, |flag| match flag {
            WayFlag::Cw => Way::Clockwise,
            WayFlag::Ccw => Way::CounterClockwise,
        });
        f.turns = self.turns.map_or(f.turns, |flag| match flag {
            TurnsFlag::None => Turns::None,
            TurnsFlag::Half => Turns::Half,
            TurnsFlag::Quarter => Turns::Quarter,
            TurnsFlag::Edges => Turns::QuarterAndEdges,
        });
        let class = self.tolerance.map(|flag| match flag {
            ToleranceFlag::F => Class::Fine,
            ToleranceFlag::M => Class::Medium,
            ToleranceFlag::C => Class::Coarse,
            ToleranceFlag::V => Class::VeryCoarse,
        });
        f.tolerance = class.or(f.tolerance);
        if f.title.is_empty() {
            title.clone_into(&mut f.title);
        }
        Ok(f)
    }

    /// What holds where neither a flag nor a saved job says anything.
    pub fn unsaid() -> Figures {
        Figures {
            turns: Turns::QuarterAndEdges,
            ..Figures::default()
        }
    }

    /// Files that these flags read.
    pub fn read(&self) -> Option<&Path> {
        self.book.material.is_some().then(|| self.book.file())
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
    traced(&name, trued, touched).map_err(|e| Stop::Failed(format!("{said}: {e}")))
}

/// The plate that was read of a traced scrap.
pub fn traced(name: &str, trued: Trued, touched: f64) -> Result<Plate, Refusal> {
    let stock = Stock::from_outline(&trued.outline, touched)?;
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
