//! `trued coupon`: a test piece for a new sheet, and what was measured on it.

use super::lengths::{self, Length};
use super::reading::UnitsFlag;
use super::{Finish, Stop, cut, io, reading, table};
use std::path::{Path, PathBuf};
use trued::cut::material;
use trued::format::Units;
use trued::jobs::coupon::{self, CouponSettings, keep, measured, read_sheet, sheet};

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
    /// Feeds of the ladder, mm/min, first and last
    #[arg(long, value_name = "FROM..TO", value_parser = feeds, required_unless_present = "measured")]
    feeds: Option<(f64, f64)>,
    /// Rungs of the ladder
    #[arg(long, value_name = "N", default_value_t = 6)]
    rungs: usize,
    /// Width of the cut as the book says it, mm
    #[arg(long, value_name = "MM", value_parser = lengths::parse)]
    kerf: Option<Length>,
    /// Pierce delay, seconds
    #[arg(long, value_name = "S")]
    pierce: Option<f64>,
    /// Thickness of the plate, mm or a gauge of steel (14ga)
    #[arg(long, value_name = "MM", value_parser = lengths::parse_thickness)]
    thickness: Option<Length>,
    /// A filled-in sheet: says kerf and feed, and keeps them with --material and --materials
    #[arg(long, value_name = "FILE", conflicts_with = "output")]
    measured: Option<String>,
    /// Row of the material file: taken from when cutting, written to when measured
    #[arg(long, value_name = "NAME")]
    material: Option<String>,
    /// Your own material file (TOML), made where there is none yet; without it materials.toml in the folder you are in
    #[arg(long, value_name = "FILE", requires = "material")]
    materials: Option<PathBuf>,
    /// Profile of a machine out of square: the coupon is pre-distorted for it
    #[arg(long, value_name = "FILE")]
    machine: Option<String>,
    /// The same moves with the torch off (.ngc)
    #[arg(long)]
    dry_run: bool,
    /// Unit of length of RS-274, DXF and SVG files; JSON is always in mm
    #[arg(long, value_enum, default_value_t, value_name = "UNIT")]
    out_units: UnitsFlag,
    /// Say nothing but errors
    #[arg(short, long)]
    quiet: bool,
}

const EXAMPLES: &str = "\
Examples (the figures are not yours: look in your cutter's book):
  trued coupon --feeds 1800..3000 --kerf 1.5 --pierce 0.4 -o coupon.ngc
  trued coupon --measured coupon.csv --material \"hood 2\" --materials book.toml";

fn feeds(text: &str) -> Result<(f64, f64), String> {
    let figures = text.split_once("..").and_then(|(a, b)| {
        let figure = |t: &str| {
            t.trim()
                .parse::<f64>()
                .ok()
                .filter(|v| *v > 0.0 && v.is_finite())
        };
        Some((figure(a)?, figure(b)?))
    });
    figures.ok_or_else(|| format!("\"{text}\" is no range of feeds; write for example 1800..3000"))
}

/// Runs the command.
pub fn run(args: &Args) -> Result<Finish, Stop> {
    match (&args.measured, &args.output, args.feeds) {
        (Some(file), _, _) => after(args, file),
        (None, Some(output), Some(range)) => before(args, output, range),
        _ => Err(Stop::Usage("give --feeds and -o, or --measured".into())),
    }
}

/// Makes the coupon.
fn before(args: &Args, output: &Path, (feed_from, feed_to): (f64, f64)) -> Result<Finish, Stop> {
    let kind = cut::kind_of(output)?;
    let paper = args
        .sheet
        .clone()
        .unwrap_or_else(|| output.with_extension("csv"));
    for file in [output, &paper] {
        io::check_file(file)?;
    }
    if args.dry_run && !cut::is_program(kind) {
        return Err(Stop::Usage(
            "a dry run is a program for the machine: write it to a file ending in .ngc".into(),
        ));
    }
    let usage = |e: trued::Refusal| Stop::Usage(e.to_string());
    let machine = args
        .machine
        .as_deref()
        .map_or_else(|| Ok(Default::default()), reading::profile)?;
    // A row that is not there yet is what the coupon is for.
    let book = cut::material_file(args.materials.as_deref());
    let row = match book.exists() {
        true => cut::recalled(Some(book), args.material.as_deref())
            .ok()
            .flatten(),
        false => None,
    };
    let mm = |l: Option<Length>| l.map(|l| l.in_mm(Units::Mm));
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
    let text = cut::text_of(
        kind,
        &made.plan.corrected(&machine),
        args.out_units.into(),
        args.dry_run,
    );
    io::replace_file(output, text.as_bytes()).map_err(Stop::Failed)?;
    // A sheet that was filled in already must not be lost.
    let kept = paper.exists();
    if !kept {
        io::replace_file(&paper, sheet(&ladder, &made.feeds).as_bytes()).map_err(Stop::Failed)?;
    }
    if !args.quiet {
        for (i, feed) in made.feeds.iter().enumerate() {
            eprintln!("rung {}: {feed} mm/min", i + 1);
        }
        match kept {
            true => eprintln!(
                "{}: is there already and was left as it is",
                paper.display()
            ),
            false => eprintln!("write what you measure into {}", paper.display()),
        }
        cut::say(&made.plan, None, args.out_units.into());
    }
    Ok(Finish::Done)
}

/// Turns measurements into figures and keeps them.
fn after(args: &Args, file: &str) -> Result<Finish, Stop> {
    let book = cut::material_file(args.materials.as_deref());
    if args.material.is_some() {
        io::check_file(book)?;
    }
    let source = io::read_source(file).map_err(Stop::Failed)?;
    let failed = |e: trued::Refusal| Stop::Failed(format!("{}: {e}", source.name));
    let text = core::str::from_utf8(&source.bytes)
        .map_err(|_| Stop::Failed(format!("{}: is not text", source.name)))?;
    let (figures, ladder) = read_sheet(text).map_err(failed)?;
    let says = measured(&figures, ladder.as_ref()).map_err(failed)?;
    let kerf = says.kerf.map(|k| k.0);
    if let Some(name) = &args.material {
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
        let new = keep(&old, name, kerf, says.feed)
            .map_err(|e| Stop::Failed(format!("{}: {e}", book.display())))?;
        io::replace_file(book, new.as_bytes()).map_err(Stop::Failed)?;
    }
    if !args.quiet {
        if let Some((kerf, pm)) = says.kerf {
            eprintln!("kerf {kerf:.2} ± {pm:.2} mm");
        }
        if let Some(feed) = says.feed {
            eprintln!("feed {feed} mm/min");
        }
        if let Some(square) = &says.square {
            super::square::say(square);
        }
        for note in &says.notes {
            eprintln!("note: {note}");
        }
        match &args.material {
            Some(name) => eprintln!("kept as \"{name}\" in {}", book.display()),
            None => eprintln!("not kept: say --material NAME to keep it in your material file"),
        }
        table::cautions();
    }
    Ok(Finish::Done)
}
