//! `trued blanks`: one tab and a scrap in, as many true blanks as fit out.

use super::lengths::{self, Length};
use super::reading::{ReadingFlags, UnitsFlag};
use super::{Finish, Stop, cut, io};
use std::path::PathBuf;
use trued::cut::{material, plan};
use trued::format::{Units, sheet};
use trued::jobs::blanks::rectangle;
use trued::jobs::{BlanksSettings, blanks};

/// Lay as many true blanks as fit on a scrap, ready to cut
///
/// One rough tab (or a size), how many are wanted, and the scrap traced round its edge, its own
/// holes too. What fits is laid out, ordered and given leads; what the scrap lacks for the rest is
/// said.
#[derive(clap::Args)]
#[command(after_help = EXAMPLES, allow_negative_numbers = true)]
#[command(group(clap::ArgGroup::new("blank").required(true).args(["tab", "size"])))]
pub struct Args {
    /// The tab: a trace, drawing or outline document; - is standard input
    #[arg(value_name = "TAB")]
    tab: Option<String>,
    /// A rectangular blank instead of a traced tab, mm
    #[arg(long, value_name = "WxH", value_parser = lengths::parse_pair)]
    size: Option<(f64, f64)>,
    /// How many blanks are wanted
    #[arg(long, value_name = "N", value_parser = cut::whole)]
    count: usize,
    /// The scrap: traced round its edge and its holes, or a size in mm
    #[arg(long, value_name = "FILE|WxH")]
    scrap: String,
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
    /// Metal between blanks besides the kerf, mm; without it as much as the leads need
    #[arg(long, value_name = "MM", value_parser = lengths::parse_or_zero)]
    gap: Option<Length>,
    /// From a blank to the edge of the scrap, mm; without it as much as the leads need
    #[arg(long, value_name = "MM", value_parser = lengths::parse_or_zero)]
    edge: Option<Length>,
    /// Which turns blanks may be given; none keeps the grain
    #[arg(long, value_enum, default_value_t, value_name = "TURNS")]
    turns: cut::TurnsFlag,
    /// Look only for a moment, and do not find out how much longer the scrap would have to be
    #[arg(long)]
    quick: bool,
    /// The same moves with the torch off (.ngc)
    #[arg(long)]
    dry_run: bool,
    /// Also write a one-page cut sheet to print (.html)
    #[arg(long, value_name = "FILE")]
    sheet: Option<PathBuf>,
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
  trued blanks hinge-blank.csv --count 16 --scrap scrap.csv --kerf 1.5 --feed 2400 --pierce 0.4 -o hinges.ngc
  trued blanks --size 80x50 --count 16 --turns none --scrap 600x300 --material \"mild 3\" --materials book.toml -o leaves.svg";

/// Runs the command.
pub fn run(args: &Args) -> Result<Finish, Stop> {
    let kind = cut::kind_of(&args.output)?;
    if args.dry_run && !cut::is_program(kind) {
        return Err(Stop::Usage(
            "a dry run is a program for the machine: write it to a file ending in .ngc".into(),
        ));
    }
    for file in [Some(&args.output), args.sheet.as_ref()]
        .into_iter()
        .flatten()
    {
        io::check_file(file)?;
    }
    let reader = args.reading.ready()?;
    let usage = |e: trued::Refusal| Stop::Usage(e.to_string());
    let mm = |l: Option<Length>| l.map(|l| l.in_mm(Units::Mm));
    let row = cut::recalled(args.materials.as_deref(), args.material.as_deref())?;
    let mut settings = material::settings(row.as_ref(), mm(args.kerf), mm(args.feed), args.pierce)
        .map_err(usage)?;
    settings.thickness = mm(args.thickness).or(settings.thickness);
    let stem = args.output.file_stem().and_then(|n| n.to_str());
    settings.title = stem.unwrap_or("blanks").to_owned();
    settings.check().map_err(usage)?;
    let scrap = cut::stock(&args.scrap, &reader)?;
    settings.stock = Some(scrap.clone());
    let blank = match (&args.tab, args.size) {
        (_, Some((w, h))) => rectangle(w, h).map_err(usage)?,
        (Some(tab), None) => reader.read(tab).map_err(Stop::Failed)?.outline,
        (None, None) => return Err(Stop::Usage("give a tab or a --size".into())),
    };
    let lead = settings.lead_length() + settings.kerf;
    let wanted = BlanksSettings {
        count: args.count,
        kerf: settings.kerf,
        gap: mm(args.gap).unwrap_or(lead),
        edge: mm(args.edge).unwrap_or(lead),
        turns: args.turns.into(),
        missing: !args.quick,
        thorough: !args.quick,
    };
    let failed = |e: trued::Refusal| Stop::Failed(e.to_string());
    let laid = blanks(&blank, &scrap, &wanted).map_err(failed)?;
    if laid.layout.fits_in_all() == 0 {
        return Err(Stop::Failed(laid.sentence));
    }
    let plan = plan(&laid.outline, &settings).map_err(failed)?;
    let units: Units = args.out_units.into();
    let text = cut::text_of(kind, &plan.corrected(reader.machine()), units, args.dry_run);
    io::replace_file(&args.output, text.as_bytes()).map_err(Stop::Failed)?;
    if let Some(file) = &args.sheet {
        let page = sheet::write(&plan, trued::format::template::Paper::A4, units);
        io::replace_file(file, page.as_bytes()).map_err(Stop::Failed)?;
    }
    if !args.quiet {
        eprintln!("{}", laid.sentence);
        cut::say(&plan, None, units);
    }
    Ok(Finish::Done)
}
