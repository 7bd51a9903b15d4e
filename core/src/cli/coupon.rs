//! `trued coupon`: a test piece for a new sheet, and what was measured on it.

use super::cutting::{BookFlags, usage};
use super::door::{self, Door, DoorFlags, Out, PaperFlags};
use super::lengths::{self, Length};
use super::reading::UnitsFlag;
use super::{Finish, Stop, io, reading, table};
use std::path::{Path, PathBuf};
use trued::cut::material;
use trued::format::Units;
use trued::format::look::Seen;
use trued::jobs::coupon::{self, CouponSettings, measured, read_sheet, sheet};

/// Cut a test piece for a new sheet, then turn what was measured on it into kerf and feed
///
/// First: a ladder of short cuts over a range of feeds (as many notches below a cut as its number),
/// a slot and a plug for the kerf, a square for squareness, and a sheet to write figures on. Then, with
/// --measured: kerf and the chosen feed, kept in your material file.
#[derive(clap::Args)]
#[command(after_help = EXAMPLES, allow_negative_numbers = true)]
pub struct Args {
    /// Write the plan of the coupon here: .ngc (RS-274) .dxf .svg .json
    #[arg(short, long, value_name = "FILE", required_unless_present = "measured")]
    output: Option<PathBuf>,
    /// Write the sheet for the measurements here (.csv); without it, beside the plan
    #[arg(long, value_name = "FILE")]
    sheet: Option<PathBuf>,
    /// Feeds of the ladder, first and last
    #[arg(long, value_name = "FROM..TO", value_parser = lengths::parse_range, required_unless_present = "measured")]
    feeds: Option<lengths::Pair>,
    /// Rungs of the ladder
    #[arg(long, value_name = "N", default_value_t = 6)]
    rungs: usize,
    /// Width of the cut as the book says it
    #[arg(long, value_name = "LENGTH", value_parser = lengths::parse)]
    kerf: Option<Length>,
    /// Pierce delay, seconds
    #[arg(long, value_name = "S")]
    pierce: Option<f64>,
    /// Thickness of the plate, a length or a gauge of steel (14ga)
    #[arg(long, value_name = "LENGTH", value_parser = lengths::parse_thickness)]
    thickness: Option<Length>,
    /// A filled-in sheet: says kerf and feed, and keeps them with --material and --materials
    #[arg(long, value_name = "FILE", conflicts_with = "output")]
    measured: Option<String>,
    #[command(flatten)]
    book: BookFlags,
    /// Profile of a machine out of square: the coupon is pre-distorted for it
    #[arg(long, value_name = "FILE")]
    machine: Option<String>,
    /// Unit of bare numbers and of what is said
    #[arg(long, value_enum, default_value_t, value_name = "UNIT")]
    units: UnitsFlag,
    #[command(flatten)]
    door: DoorFlags,
}

const EXAMPLES: &str = "\
Examples (the figures are not yours: look in your cutter's book):
  trued coupon --feeds 1800..3000 --kerf 1.5 --pierce 0.4 -o coupon.ngc
  trued coupon --measured coupon.csv --material \"hood 2\" --materials book.csv";

/// Runs the command.
pub fn run(args: &Args) -> Result<Finish, Stop> {
    match (&args.measured, &args.output, args.feeds) {
        (Some(file), _, _) => after(args, file),
        (None, Some(output), Some(range)) => before(args, output, range),
        _ => Err(Stop::Usage("give --feeds and -o, or --measured".into())),
    }
}

/// Makes the coupon.
fn before(args: &Args, output: &Path, feeds: lengths::Pair) -> Result<Finish, Stop> {
    let paper = args
        .sheet
        .clone()
        .unwrap_or_else(|| output.with_extension("csv"));
    io::check_file(&paper)?;
    let read = args.machine.as_deref().into_iter();
    let read: Vec<&str> = read.chain(args.book.file().to_str()).collect();
    let door = Door::new(output, &args.door, &PaperFlags::default(), &read)?;
    io::check_apart(read.iter().copied(), &[output, &paper])?;
    let machine = args.machine.as_deref().map(reading::profile).transpose()?;
    let units = Units::from(args.units);
    let (feed_from, feed_to) = feeds.in_mm(units);
    // A row that is not there yet is what the coupon is for.
    let row = args.book.row().ok().flatten();
    let mm = |l: Option<Length>| l.map(|l| l.in_mm(units));
    let middle = 0.5 * (feed_from + feed_to);
    let mut settings = material::settings(row.as_ref(), mm(args.kerf), Some(middle), args.pierce)
        .map_err(usage)?;
    settings.thickness = mm(args.thickness).or(settings.thickness);
    settings.title = "coupon".into();
    let ladder = CouponSettings {
        feed_from,
        feed_to,
        rungs: args.rungs,
    };
    let made = coupon::coupon(&ladder, &settings).map_err(usage)?;
    let rungs = made.feeds.iter().enumerate();
    let mut notes: Vec<String> = rungs
        .map(|(i, feed)| format!("rung {}: {feed} mm/min", i + 1))
        .collect();
    // A sheet that was filled in already must not be lost.
    let mut beside = Vec::new();
    notes.push(match paper.exists() {
        true => format!(
            "{}: is there already and was left as it is",
            paper.display()
        ),
        false => {
            let text = sheet(&ladder, &settings, &made.feeds, units);
            beside.push((paper.as_path(), text));
            format!("write what you measure into {}", paper.display())
        }
    });
    door.deliver(&Out {
        plan: &made.plan,
        seen: Seen::default(),
        notes,
        machine: &machine.unwrap_or_default(),
        machine_name: args.machine.as_deref(),
        units,
        beside,
    })
}

/// Turns measurements into figures and keeps them.
fn after(args: &Args, file: &str) -> Result<Finish, Stop> {
    let book = args.book.file();
    if args.book.material.is_some() {
        io::check_file(book)?;
        io::check_apart([file], &[book])?;
    }
    let source = io::read_source(file).map_err(Stop::Failed)?;
    let failed = |e: trued::Refusal| Stop::Failed(format!("{}: {e}", source.name));
    let text = core::str::from_utf8(&source.bytes)
        .map_err(|_| Stop::Failed(format!("{}: is not text", source.name)))?;
    let (figures, ladder) = read_sheet(text).map_err(failed)?;
    let says = measured(&figures, ladder.as_ref()).map_err(failed)?;
    let units = Units::from(args.units);
    if !args.door.quiet {
        if let Some((kerf, pm)) = says.kerf {
            eprintln!("{}", units.said(&format!("kerf {kerf:.2} ± {pm:.2} mm")));
        }
        if let Some(feed) = says.feed {
            eprintln!("{}", units.said(&format!("feed {feed} mm/min")));
        }
        if let Some(square) = &says.square {
            super::square::say(square);
        }
        for note in &says.notes {
            eprintln!("note: {note}");
        }
    }
    let standing = args.door.standing(says.doubts.len());
    door::doubts(&says.doubts, units);
    let Some(name) = &args.book.material else {
        if !args.door.quiet {
            eprintln!("not kept: say --material NAME to keep it in your material file");
            table::cautions();
        }
        return Ok(Finish::Done);
    };
    if !standing.is_empty() {
        return Err(Stop::Failed(format!(
            "{} was left as it is: {}",
            book.display(),
            door::stand(&standing)
        )));
    }
    let old = match std::fs::read_to_string(book) {
        Ok(text) => text,
        Err(e) if e.kind() == std::io::ErrorKind::NotFound => String::new(),
        Err(e) => {
            return Err(Stop::Failed(format!(
                "{}: cannot be read: {e}",
                book.display()
            )));
        }
    };
    let new = material::keep(&old, &says.row(name, &figures))
        .map_err(|e| Stop::Failed(format!("{}: {e}", book.display())))?;
    io::replace_file(book, new.as_bytes()).map_err(Stop::Failed)?;
    if !args.door.quiet {
        eprintln!("kept as \"{name}\" in {}", book.display());
        table::cautions();
    }
    Ok(Finish::Done)
}
