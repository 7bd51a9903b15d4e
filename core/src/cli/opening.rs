//! `trued opening`: touched hole marks in, an opening with its holes out.

use super::cutting::plate;
use super::lengths::{self, Length};
use super::outline::{endings, format_of, look_of, say_machine, spoken, text_of};
use super::reading::{ReadingFlags, UnitsFlag};
use super::{Finish, Stop, io, table};
use clap::ValueEnum;
use std::path::{Path, PathBuf};
use trued::Point;
use trued::cut::stock::TOUCHED_HOLE;
use trued::format::{Format, Units};
use trued::jobs::{self, OpeningSettings, OpeningShape, PatternKind, PatternSettings, Place};

/// Make an opening with its holes from touched marks
///
/// Touch each hole once (and trace the opening roughly, if you like). The pattern is read from the
/// marks: square, rectangle, circle of holes, row, or none; holes go where the pattern says, the
/// opening onto its centre. How far each mark was out of pattern is said.
#[derive(clap::Args)]
#[command(after_help = EXAMPLES, allow_negative_numbers = true)]
#[command(group(clap::ArgGroup::new("shape").required(true).args(["round", "series", "rect", "round_ended", "traced"]).multiple(true)))]
pub struct Args {
    /// The marks, and the rough opening if it was traced; - is standard input
    #[arg(value_name = "MARKS")]
    marks: String,
    /// Diameter of the holes
    #[arg(long, value_name = "DIA", value_parser = lengths::parse)]
    hole: Length,
    /// A round opening of this diameter
    #[arg(long, value_name = "DIA", value_parser = lengths::parse, conflicts_with_all = ["rect", "round_ended", "traced"])]
    round: Option<Length>,
    /// Round, of the next preferred size (100 125 160 200 250 315 400 …, R10 of ISO 3) not below --round or the traced opening
    #[arg(long, conflicts_with_all = ["rect", "round_ended", "traced"])]
    series: bool,
    /// A rectangular opening, width along the pattern
    #[arg(long, value_name = "WxH", value_parser = lengths::parse_pair, conflicts_with_all = ["round_ended", "traced"])]
    rect: Option<lengths::Pair>,
    /// An opening with full round ends
    #[arg(long, value_name = "WxH", value_parser = lengths::parse_pair, conflicts_with = "traced")]
    round_ended: Option<lengths::Pair>,
    /// The opening that was traced, trued
    #[arg(long)]
    traced: bool,
    /// Leave the opening where it was traced instead of on the centre of the holes
    #[arg(long)]
    stay: bool,
    /// Write the outline here; the ending (.json .svg .dxf) tells the format
    #[arg(short, long, value_name = "FILE")]
    output: PathBuf,
    /// The pattern, if you know it
    #[arg(long, value_enum, value_name = "PATTERN")]
    pattern: Option<PatternFlag>,
    /// How far one touch may be off, if you know it (standard deviation)
    #[arg(long, value_name = "LENGTH", value_parser = lengths::parse)]
    touch_error: Option<Length>,
    /// Thickness of the plate, to check holes and webs; a length or a gauge of steel (14ga)
    #[arg(long, value_name = "LENGTH", value_parser = lengths::parse_thickness)]
    thickness: Option<Length>,
    /// Name webs thinner than this; without it the thickness, or 3 mm
    #[arg(long, value_name = "LENGTH", value_parser = lengths::parse)]
    web: Option<Length>,
    /// The plate: a traced one, or a size with its corner at 0,0
    #[arg(long, value_name = "FILE|WxH")]
    stock: Option<String>,
    /// Also write the picture of the opening (.html)
    #[arg(long, value_name = "FILE")]
    look: Option<PathBuf>,
    /// Unit of length of SVG and DXF files written; without it the trace's own; JSON is always in mm
    #[arg(long, value_enum, value_name = "UNIT")]
    out_units: Option<UnitsFlag>,
    /// Say nothing but errors
    #[arg(short, long)]
    quiet: bool,
    #[command(flatten)]
    reading: ReadingFlags,
}

const EXAMPLES: &str = "\
Examples:
  trued opening vent-collar.csv --hole 8 --round 160 --whole 1 -o vent-collar.json
  trued opening vent-collar.csv --hole 8 --series --thickness 2 -o vent-collar.dxf
  trued opening peep-slot.csv --hole 6 --round-ended 80x25 -o peep-slot.json
then: trued cut vent-collar.json --kerf … --feed … --pierce … -o vent-collar.ngc";

/// What the marks form.
#[derive(Clone, Copy, Debug, ValueEnum)]
enum PatternFlag {
    /// Corners of a square
    Square,
    /// Corners of a rectangle
    Rectangle,
    /// Evenly round a circle
    Circle,
    /// In line at one pitch
    Row,
    /// None: every hole stays where it was touched
    None,
}

impl From<PatternFlag> for PatternKind {
    fn from(flag: PatternFlag) -> Self {
        match flag {
            PatternFlag::Square => Self::Square,
            PatternFlag::Rectangle => Self::Rectangle,
            PatternFlag::Circle => Self::Circle,
            PatternFlag::Row => Self::Row,
            PatternFlag::None => Self::Free,
        }
    }
}

/// Runs the command.
pub fn run(args: &Args) -> Result<Finish, Stop> {
    let format = format_of(&args.output).ok_or_else(|| {
        Stop::Usage(format!(
            "{}: the ending tells no format; use {}",
            args.output.display(),
            endings(Format::takes_outlines)
        ))
    })?;
    let mut written: Vec<&Path> = vec![&args.output];
    written.extend(args.look.as_deref());
    for file in &written {
        io::check_file(file)?;
    }
    let inputs = [args.marks.as_str()]
        .into_iter()
        .chain(args.stock.as_deref());
    io::check_apart(inputs.chain(args.reading.read()), &written)?;
    let reader = args.reading.ready()?;
    let mut read = reader.read_marks(&args.marks).map_err(Stop::Failed)?;
    let units = reader.units(std::slice::from_ref(&read));
    let mut settings = settings(args, units);
    if let Some(stock) = &args.stock {
        let mut plate = plate(stock, &reader, units, TOUCHED_HOLE)?;
        settings.stock = Some(plate.stock);
        read.trued.report.doubts.append(&mut plate.doubts);
    }
    let spoken = spoken(args.out_units, &read.trued);
    let marks: Vec<Point> = read.trued.outline.marks.iter().map(|m| m.at).collect();
    let rough = jobs::opening::rough(&read.trued.outline);
    let made = jobs::opening(&marks, rough, &settings)
        .map_err(|e| Stop::Failed(spoken.said(&format!("{}: {e}", args.marks))))?;
    read.trued = made.after(read.trued);
    let text =
        text_of(&reader, &read.trued, format, spoken).map_err(|e| Stop::Failed(e.to_string()))?;
    let look = args
        .look
        .as_deref()
        .map(|file| (file, look_of(&read, spoken)));
    let mut files: Vec<(&Path, String)> = look.into_iter().collect();
    files.push((&args.output, text));
    io::replace_files(&files).map_err(Stop::Failed)?;
    if !args.quiet {
        table::one(&args.marks, &read.trued, spoken);
        say_machine(&reader, format);
        table::cautions();
    }
    Ok(Finish::Done)
}

fn settings(args: &Args, units: Units) -> OpeningSettings {
    let mm = |l: Option<Length>| l.map(|l| l.in_mm(units));
    let round = mm(args.round);
    let pair = |p: Option<lengths::Pair>| p.map(|p| p.in_mm(units));
    let shape = match (pair(args.rect), pair(args.round_ended), round) {
        _ if args.traced => OpeningShape::Traced,
        (Some((w, h)), _, _) => OpeningShape::Rectangle(w, h),
        (_, Some((w, h)), _) => OpeningShape::RoundEnded(w, h),
        (_, _, Some(d)) if !args.series => OpeningShape::Round(d),
        (_, _, d) => OpeningShape::NextRound(d),
    };
    let mut settings = OpeningSettings::new(args.hole.in_mm(units), shape);
    settings.place = if args.stay {
        Place::Traced
    } else {
        Place::Pattern
    };
    settings.pattern = PatternSettings {
        kind: args.pattern.map(Into::into),
        touch_error: mm(args.touch_error),
        whole: mm(args.reading.whole),
    };
    settings.thickness = mm(args.thickness);
    settings.least_web = mm(args.web);
    settings
}
