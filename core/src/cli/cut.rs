//! `trued cut`: outlines or traces in, a plan for the torch out.

use super::lengths::{self, Length};
use super::reading::{Reader, ReadingFlags, UnitsFlag};
use super::{Finish, Stop, io, table};
use clap::ValueEnum;
use std::path::{Path, PathBuf};
use trued::cut::tolerance::Class;
use trued::cut::{self, CutSettings, Heights, Lay, LeadStyle, Plan, Stock, Turns, Way, material};
use trued::format::{Units, plan_dxf, plan_json, plan_svg, rs274, sheet, template};
use trued::{Outline, Refusal};

/// Make outlines ready for the torch: kerf, leads, order, layout on stock
///
/// Takes outline documents, drawings or traces and writes what the torch is to do. Kerf, feed and
/// pierce delay come from the cutter's own book: give them by flag, or keep them in a material file
/// and recall them by name. Without --stock and --copies the pieces stay where they were traced.
#[derive(clap::Args)]
#[command(after_help = EXAMPLES, allow_negative_numbers = true)]
pub struct Args {
    /// Outline documents, drawings or traces; - is standard input
    #[arg(required = true, value_name = "IN")]
    inputs: Vec<String>,
    /// Write the plan here; the ending tells the format: .ngc (RS-274) .dxf .svg .json
    #[arg(short, long, value_name = "FILE")]
    output: PathBuf,
    /// Width of the cut, mm
    #[arg(long, value_name = "MM", value_parser = lengths::parse)]
    kerf: Option<Length>,
    /// Cutting speed, mm/min
    #[arg(long, value_name = "MM_PER_MIN", value_parser = lengths::parse_speed)]
    feed: Option<Length>,
    /// Pierce delay, seconds
    #[arg(long, value_name = "S")]
    pierce: Option<f64>,
    /// Take kerf, feed, pierce delay and thickness from this row of the material file
    #[arg(long, value_name = "NAME")]
    material: Option<String>,
    /// Your own material file (TOML); without it materials.toml in the folder you are in
    #[arg(long, value_name = "FILE")]
    materials: Option<PathBuf>,
    /// Thickness of the plate, mm or a gauge of steel (14ga)
    #[arg(long, value_name = "MM", value_parser = lengths::parse_thickness)]
    thickness: Option<Length>,
    /// Length of the lead-in, mm; without it one is chosen and shortened to what fits
    #[arg(long, value_name = "MM", value_parser = lengths::parse_or_zero)]
    lead: Option<Length>,
    /// Shape of the leads
    #[arg(long, value_enum, default_value_t, value_name = "SHAPE")]
    lead_style: LeadFlag,
    /// Length of the lead-out of outsides, mm; without it half the lead-in
    #[arg(long, value_name = "MM", value_parser = lengths::parse_or_zero)]
    lead_out: Option<Length>,
    /// How far to run on past the start at the close, mm; without it one kerf
    #[arg(long, value_name = "MM", value_parser = lengths::parse_or_zero)]
    overlap: Option<Length>,
    /// Cut every mark as a round hole of this diameter, mm
    #[arg(long, value_name = "DIA", value_parser = lengths::parse)]
    hole: Option<Length>,
    /// Which way round outsides run; holes run the other way
    #[arg(long, value_enum, default_value_t, value_name = "WAY")]
    outside: WayFlag,
    /// The plate: a traced scrap (its openings are kept clear) or a size in mm
    #[arg(long, value_name = "FILE|WxH")]
    stock: Option<String>,
    /// Copies of every piece
    #[arg(long, value_name = "N", value_parser = whole)]
    copies: Option<usize>,
    /// Metal between pieces besides the kerf, mm; without it as much as the leads need
    #[arg(long, value_name = "MM", value_parser = lengths::parse_or_zero)]
    gap: Option<Length>,
    /// Which turns pieces may be given on the stock
    #[arg(long, value_enum, default_value_t, value_name = "TURNS")]
    turns: TurnsFlag,
    /// Bridges that hold each part in the plate
    #[arg(long, value_name = "N", default_value_t = 0)]
    bridges: usize,
    /// Metal left standing at a bridge, mm
    #[arg(long, value_name = "MM", value_parser = lengths::parse)]
    bridge_width: Option<Length>,
    /// Speed while travelling with the torch off, mm/min, to count it in the time
    #[arg(long, value_name = "MM_PER_MIN", value_parser = lengths::parse_speed)]
    rapid: Option<Length>,
    /// How much longer the travel may become so that neighbours are not cut in a row, percent; more
    /// spreads the heat further
    #[arg(long, value_name = "PERCENT", default_value_t = 5.0)]
    spread: f64,
    /// Reach of the machine from its zero, mm
    #[arg(long, value_name = "WxH", value_parser = lengths::parse_pair)]
    reach: Option<(f64, f64)>,
    /// Torch height while cutting, mm (heights are written only when all three are given)
    #[arg(long, value_name = "MM", value_parser = lengths::parse, requires_all = ["pierce_height", "safe_height"])]
    cut_height: Option<Length>,
    /// Torch height while piercing, mm
    #[arg(long, value_name = "MM", value_parser = lengths::parse, requires = "cut_height")]
    pierce_height: Option<Length>,
    /// Torch height while travelling, mm
    #[arg(long, value_name = "MM", value_parser = lengths::parse, requires = "cut_height")]
    safe_height: Option<Length>,
    /// The same moves with the torch off (.ngc)
    #[arg(long)]
    dry_run: bool,
    /// DXF with single lines, arcs and circles instead of one polyline a path
    #[arg(long)]
    single: bool,
    /// Also write a one-page cut sheet to print (.html)
    #[arg(long, value_name = "FILE")]
    sheet: Option<PathBuf>,
    /// Also write a paper template in true size, tiled over pages (.html)
    #[arg(long, value_name = "FILE")]
    template: Option<PathBuf>,
    /// General tolerance of ISO 2768-1 to print beside the sizes on the sheet
    #[arg(long, value_enum, value_name = "CLASS")]
    tolerance: Option<ToleranceFlag>,
    /// Paper of sheet and template
    #[arg(long, value_enum, default_value_t, value_name = "PAPER")]
    paper: PaperFlag,
    /// Unit of length of RS-274, DXF and SVG files; JSON is always in mm
    #[arg(long, value_enum, default_value_t, value_name = "UNIT")]
    out_units: UnitsFlag,
    /// Say nothing but errors
    #[arg(short, long)]
    quiet: bool,
    #[command(flatten)]
    reading: ReadingFlags,
}

const EXAMPLES: &str = "\
Examples (the figures are not yours: look in your cutter's book):
  trued cut burner-plate.json --kerf 1.5 --feed 2400 --pierce 0.4 -o burner-plate.ngc
  trued cut shelf-gusset.csv --materials book.toml --material \"mild 3\" --copies 8 --stock 600x400 -o gussets.ngc
  trued cut vent-collar.csv --kerf 1.5 --feed 2400 --pierce 0.4 --hole 9 --stock scrap.csv -o collar.dxf --sheet collar.html

A material file holds one table a row:
  [[material]]
  name = \"mild 3\"
  thickness = 3.0
  kerf = 1.4
  feed = 2400.0
  pierce = 0.4";

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
pub enum TurnsFlag {
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

/// Paper sizes.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, ValueEnum)]
enum PaperFlag {
    /// 210 x 297 mm
    #[default]
    A4,
    /// 8 1/2 x 11 in
    Letter,
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

impl From<ToleranceFlag> for Class {
    fn from(flag: ToleranceFlag) -> Self {
        match flag {
            ToleranceFlag::F => Self::Fine,
            ToleranceFlag::M => Self::Medium,
            ToleranceFlag::C => Self::Coarse,
            ToleranceFlag::V => Self::VeryCoarse,
        }
    }
}

impl From<TurnsFlag> for Turns {
    fn from(flag: TurnsFlag) -> Self {
        match flag {
            TurnsFlag::None => Self::None,
            TurnsFlag::Half => Self::Half,
            TurnsFlag::Quarter => Self::Quarter,
            TurnsFlag::Edges => Self::QuarterAndEdges,
        }
    }
}

impl From<PaperFlag> for template::Paper {
    fn from(flag: PaperFlag) -> Self {
        match flag {
            PaperFlag::A4 => Self::A4,
            PaperFlag::Letter => Self::Letter,
        }
    }
}

/// A count of one or more; for clap's `value_parser`.
pub fn whole(text: &str) -> Result<usize, String> {
    let count = text.trim().parse::<usize>().ok().filter(|n| *n > 0);
    count.ok_or_else(|| format!("\"{text}\" is no count; write a whole number from 1 up"))
}

#[derive(Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    Rs274,
    Dxf,
    Svg,
    Json,
}

/// The format of a plan by its file's ending.
pub fn kind_of(path: &Path) -> Result<Kind, Stop> {
    let ending = path
        .extension()
        .and_then(|e| e.to_str())
        .map(str::to_ascii_lowercase);
    match ending.as_deref() {
        Some("ngc") => Ok(Kind::Rs274),
        Some("dxf") => Ok(Kind::Dxf),
        Some("svg") => Ok(Kind::Svg),
        Some("json") => Ok(Kind::Json),
        _ => Err(Stop::Usage(format!(
            "{}: the ending tells no format; use .ngc, .dxf, .svg or .json",
            path.display()
        ))),
    }
}

/// Runs the command.
pub fn run(args: &Args) -> Result<Finish, Stop> {
    let kind = kind_of(&args.output)?;
    if args.dry_run && kind != Kind::Rs274 {
        return Err(Stop::Usage(
            "a dry run is a program for the machine: write it to a file ending in .ngc".into(),
        ));
    }
    if args.inputs.iter().filter(|i| *i == io::STDIN).count() > 1 {
        return Err(Stop::Usage("standard input can be read only once".into()));
    }
    let files = [
        Some(&args.output),
        args.sheet.as_ref(),
        args.template.as_ref(),
    ];
    for file in files.into_iter().flatten() {
        io::check_file(file)?;
    }
    let reader = args.reading.ready()?;
    let mut settings = settings(args)?;
    if let Some(stock) = &args.stock {
        settings.stock = Some(self::stock(stock, &reader)?);
    }
    let mut outlines = Vec::new();
    let mut failed = Vec::new();
    for input in &args.inputs {
        match reader.read(input) {
            Ok(trued) => outlines.push(trued.outline),
            Err(sentence) => failed.push(sentence),
        }
    }
    if outlines.is_empty() {
        return Err(Stop::Failed(failed.join("\ntrued: ")));
    }
    for sentence in &failed {
        eprintln!("trued: {sentence}");
    }
    let (plan, found) =
        make(args, &outlines, &settings).map_err(|e| Stop::Failed(e.to_string()))?;
    write(args, kind, &plan, &plan.corrected(reader.machine())).map_err(Stop::Failed)?;
    if !args.quiet {
        say(&plan, found.as_ref(), args.out_units.into());
    }
    Ok(if failed.is_empty() {
        Finish::Done
    } else {
        Finish::SomeFailed
    })
}

fn usage(e: Refusal) -> Stop {
    Stop::Usage(e.to_string())
}

/// The material file where none is named.
const MATERIALS: &str = "materials.toml";

/// The material file: the one named, or the one in this folder.
pub fn material_file(named: Option<&Path>) -> &Path {
    named.unwrap_or(Path::new(MATERIALS))
}

/// The row of a material file, where one is named.
pub fn recalled(file: Option<&Path>, name: Option<&str>) -> Result<Option<cut::Material>, Stop> {
    let Some(name) = name else {
        return Ok(None);
    };
    let path = material_file(file);
    if file.is_none() && !path.exists() {
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

/// The plate: a size, or a traced scrap.
pub fn stock(said: &str, reader: &Reader) -> Result<Stock, Stop> {
    match lengths::parse_pair(said) {
        Ok((w, h)) => Stock::rectangle(w, h).map_err(usage),
        Err(_) if said != io::STDIN && !Path::new(said).exists() => Err(Stop::Usage(format!(
            "{said}: neither a file nor a size such as 1200x600"
        ))),
        Err(_) => {
            let trued = reader.read(said).map_err(Stop::Usage)?;
            Stock::from_outline(&trued.outline).map_err(|e| Stop::Usage(format!("{said}: {e}")))
        }
    }
}

/// A program for the machine rather than a drawing.
pub fn is_program(kind: Kind) -> bool {
    kind == Kind::Rs274
}

/// A plan in a format.
pub fn text_of(kind: Kind, plan: &Plan, units: Units, dry_run: bool) -> String {
    match kind {
        Kind::Rs274 => rs274::write(plan, rs274::Options { units, dry_run }),
        Kind::Dxf => plan_dxf::write(plan, units, plan_dxf::Entities::Polylines),
        Kind::Svg => plan_svg::write(plan, units),
        Kind::Json => plan_json::write(plan),
    }
}

fn settings(args: &Args) -> Result<CutSettings, Stop> {
    let mm = |l: Option<Length>| l.map(|l| l.in_mm(Units::Mm));
    let row = recalled(args.materials.as_deref(), args.material.as_deref())?;
    let mut s = material::settings(row.as_ref(), mm(args.kerf), mm(args.feed), args.pierce)
        .map_err(usage)?;
    s.thickness = mm(args.thickness).or(s.thickness);
    s.lead = mm(args.lead);
    s.lead_style = match args.lead_style {
        LeadFlag::Arc => LeadStyle::Arc,
        LeadFlag::Straight => LeadStyle::Straight,
    };
    s.lead_out = mm(args.lead_out);
    s.overlap = mm(args.overlap);
    s.hole = mm(args.hole);
    s.outside = match args.outside {
        WayFlag::Cw => Way::Clockwise,
        WayFlag::Ccw => Way::CounterClockwise,
    };
    s.bridges = args.bridges;
    s.bridge_width = mm(args.bridge_width);
    s.rapid = mm(args.rapid);
    s.heat_share = 0.01 * args.spread;
    s.reach = args.reach;
    s.tolerance = args.tolerance.map(Into::into);
    s.heights = match (
        mm(args.cut_height),
        mm(args.pierce_height),
        mm(args.safe_height),
    ) {
        (Some(cut), Some(pierce), Some(safe)) => Some(Heights { cut, pierce, safe }),
        _ => None,
    };
    let stem = args.output.file_stem().and_then(|n| n.to_str());
    s.title = stem.unwrap_or("cut plan").to_owned();
    s.check().map_err(usage)?;
    Ok(s)
}

fn make(
    args: &Args,
    outlines: &[Outline],
    settings: &CutSettings,
) -> Result<(Plan, Option<cut::Layout>), Refusal> {
    let copies = args.copies.unwrap_or(1);
    if settings.stock.is_none() && copies == 1 && outlines.len() == 1 {
        let plan = cut::plan(outlines.first().unwrap_or(&Outline::default()), settings)?;
        return Ok((plan, None));
    }
    let turns = args.turns.into();
    let gap = args.gap.map(|g| g.in_mm(Units::Mm));
    let (laid, found) = cut::lay_out(outlines, Lay { copies, gap, turns }, settings)?;
    if laid.loops.is_empty() && found.asked_in_all() > 0 {
        let left_out: Vec<String> = found.left_out().into_iter().map(|l| l.0).collect();
        return Err(Refusal::Setting(left_out.join("; ")));
    }
    let mut plan = cut::plan(&laid, settings)?;
    plan.tell_layout(&found);
    Ok((plan, Some(found)))
}

/// Writes the file for the machine from the pre-distorted plan, and the papers from the true one.
fn write(args: &Args, kind: Kind, plan: &Plan, sent: &Plan) -> Result<(), String> {
    let units: Units = args.out_units.into();
    let text = match kind {
        Kind::Dxf if args.single => plan_dxf::write(sent, units, plan_dxf::Entities::Single),
        kind => text_of(kind, sent, units, args.dry_run),
    };
    io::replace_file(&args.output, text.as_bytes())?;
    if let Some(file) = &args.sheet {
        io::replace_file(
            file,
            sheet::write(plan, args.paper.into(), units).as_bytes(),
        )?;
    }
    if let Some(file) = &args.template {
        io::replace_file(file, template::write(plan, args.paper.into()).as_bytes())?;
    }
    Ok(())
}

/// What is said of a plan.
pub fn say(plan: &Plan, found: Option<&cut::Layout>, units: Units) {
    for line in sheet::figures(plan, units) {
        eprintln!("{line}");
    }
    if let Some(found) = found.filter(|f| f.asked_in_all() > 0) {
        eprintln!(
            "{} of {} copies fit",
            found.fits_in_all(),
            found.asked_in_all()
        );
    }
    for note in sheet::notes(plan) {
        eprintln!("note: {note}");
    }
    table::cautions();
}
