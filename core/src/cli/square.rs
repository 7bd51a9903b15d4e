//! `trued square`: calipers on a cut rectangle in, a machine profile out.

use super::lengths::{self, Length};
use super::{Finish, Stop, io, reading, table};
use std::path::PathBuf;
use trued::format::Units;
use trued::machine::{Measured, Profile, SquareFit, squareness};

/// Find out how far the machine is out of square and out of scale
///
/// Cut a rectangle (the larger the better), measure its four sides and both diagonals, and give the
/// figures here. The profile that is written makes the next piece come out square: name it with
/// --machine in cut, blanks, opening, coupon and outline.
#[derive(clap::Args)]
#[command(after_help = EXAMPLES, allow_negative_numbers = true)]
pub struct Args {
    /// Size the machine was told to cut, mm
    #[arg(long, value_name = "WxH", value_parser = lengths::parse_pair)]
    nominal: lengths::Pair,
    /// The four sides: bottom, right, top, left, mm
    #[arg(long, value_name = "B,R,T,L", value_delimiter = ',', required = true)]
    sides: Vec<f64>,
    /// The two diagonals: from bottom left, from bottom right, mm
    #[arg(
        long,
        value_name = "RISING,FALLING",
        value_delimiter = ',',
        required = true
    )]
    diagonals: Vec<f64>,
    /// How far one reading of the calipers may be off (standard deviation)
    #[arg(long, value_name = "LENGTH", value_parser = lengths::parse, default_value = "0.1")]
    caliper: Length,
    /// Write the machine profile here (.json); an arm that is in it stays
    #[arg(short, long, value_name = "FILE")]
    output: Option<PathBuf>,
    /// The profile the rectangle was cut with, if one was in use: the new one takes it into account
    #[arg(long, value_name = "FILE")]
    machine: Option<String>,
    /// Say nothing but errors
    #[arg(short, long)]
    quiet: bool,
}

const EXAMPLES: &str = "\
Example:
  trued square --nominal 400x300 --sides 404.1,297.0,403.9,297.1 --diagonals 499.5,503.3 -o shop-machine.json
  trued cut hood-panel.json --machine shop-machine.json --kerf … --feed … --pierce … -o hood-panel.ngc";

/// Runs the command.
pub fn run(args: &Args) -> Result<Finish, Stop> {
    let (Ok(sides), Ok(diagonals)) = (
        <[f64; 4]>::try_from(args.sides.as_slice()),
        <[f64; 2]>::try_from(args.diagonals.as_slice()),
    ) else {
        return Err(Stop::Usage(
            "give four --sides and two --diagonals, with commas between".into(),
        ));
    };
    let used = args.machine.as_deref().map(reading::profile).transpose()?;
    let mut profile = Profile::default();
    if let Some(path) = &args.output {
        io::check_file(path)?;
        if path.exists() {
            profile = reading::profile(&path.to_string_lossy())?;
        }
    }
    let fit = squareness(&Measured {
        nominal: args.nominal.in_mm(Units::Mm).into(),
        sides,
        diagonals,
        caliper: args.caliper.in_mm(Units::Mm),
    })
    .map_err(|e| Stop::Usage(e.to_string()))?;
    if !args.quiet {
        say(&fit);
    }
    if let Some(c) = &fit.contradiction {
        let and = if args.output.is_some() {
            "; no profile was written"
        } else {
            ""
        };
        return Err(Stop::Failed(c.sentence() + and));
    }
    if let Some(path) = &args.output {
        profile.square = Some(match used.and_then(|u| u.square) {
            Some(before) => before.then_found(&fit.machine),
            None => fit.machine,
        });
        let text = profile.write().map_err(|e| Stop::Failed(e.to_string()))?;
        io::replace_file(path, text.as_bytes()).map_err(Stop::Failed)?;
        if !args.quiet {
            eprintln!(
                "written to {}: name it with --machine when cutting",
                path.display()
            );
            table::cautions();
        }
    }
    Ok(Finish::Done)
}

/// What was found, in three lines.
pub fn say(fit: &SquareFit) {
    let [x, y, angle] = fit.plus_minus;
    let m = &fit.machine;
    eprintln!(
        "scale x {:.4} ± {x:.4}: 100 mm told are {:.2} mm done",
        m.scale_x,
        100.0 * m.scale_x
    );
    eprintln!(
        "scale y {:.4} ± {y:.4}: 100 mm told are {:.2} mm done",
        m.scale_y,
        100.0 * m.scale_y
    );
    let out = m.out_of_square.to_degrees();
    eprintln!(
        "out of square {out:+.3}° ± {:.3}°: x and y meet at {:.3}°",
        angle.to_degrees(),
        90.0 + out
    );
}
