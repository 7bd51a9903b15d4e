//! `trued tip`: a trace taken with one tip while the machine believed another, re-read.

use super::reading::UnitsFlag;
use super::{Finish, Stop, io, reading};
use std::fmt::Write;
use std::path::PathBuf;
use trued::Trace;
use trued::format::{self, Content, Units};
use trued::machine::retip;

/// Re-read a trace that was taken with another tip than the machine believed
///
/// Goes back to the arm's joint angles through the believed tip and forward through the true one.
/// That is more than a shift: the tip's offset turns with the last link.
#[derive(clap::Args)]
#[command(after_help = EXAMPLES)]
pub struct Args {
    /// The trace; - is standard input
    #[arg(value_name = "TRACE")]
    trace: String,
    /// Machine profile with the arm and its tips
    #[arg(long, value_name = "FILE")]
    machine: String,
    /// The tip the machine believed it carried
    #[arg(long, value_name = "TIP")]
    believed: String,
    /// The tip that did the tracing
    #[arg(long = "true", value_name = "TIP")]
    actual: String,
    /// Write the trace here (.csv)
    #[arg(short, long, value_name = "FILE")]
    output: PathBuf,
    /// Leave out points the arm cannot have reached instead of stopping
    #[arg(long)]
    leave_out: bool,
    /// Unit of length of a trace that states none
    #[arg(long, value_enum, default_value_t, value_name = "UNIT")]
    units: UnitsFlag,
    /// Say nothing but errors
    #[arg(short, long)]
    quiet: bool,
}

const EXAMPLES: &str = "\
Example:
  trued tip burner-plate.csv --machine shop-machine.json --believed stylus --true torch -o burner-plate-true.csv";

/// Most points that are named one by one.
const MOST_NAMED: usize = 10;

/// Runs the command.
pub fn run(args: &Args) -> Result<Finish, Stop> {
    io::check_file(&args.output)?;
    io::check_apart([args.trace.as_str(), &args.machine], &[&args.output])?;
    let profile = reading::profile(&args.machine)?;
    let arm = profile.arm.ok_or_else(|| {
        Stop::Usage(format!(
            "{}: the profile knows no arm; find one with `trued arm`",
            args.machine
        ))
    })?;
    let usage = |e: trued::Refusal| Stop::Usage(format!("{}: {e}", args.machine));
    let believed = arm.tip(&args.believed).map_err(usage)?;
    let actual = arm.tip(&args.actual).map_err(usage)?;
    let source = io::read_source(&args.trace).map_err(Stop::Failed)?;
    let failed = |e: trued::Refusal| Stop::Failed(format!("{}: {e}", source.name));
    let input =
        format::read(&args.trace, &source.bytes, Units::from(args.units)).map_err(failed)?;
    let Content::Trace(trace) = input.content else {
        return Err(Stop::Failed(format!("{}: is no trace", source.name)));
    };
    if !trace.drawn.is_empty() {
        return Err(Stop::Failed(format!(
            "{}: holds drawn edges; only what a tip has traced can be re-read",
            source.name
        )));
    }
    let read = retip(&trace, &arm, believed, actual).map_err(failed)?;
    for out in read.unreachable.iter().take(MOST_NAMED) {
        eprintln!("trued: {}", out.sentence());
    }
    let more = read.unreachable.len().saturating_sub(MOST_NAMED);
    if more > 0 {
        eprintln!("trued: and {more} points more");
    }
    if !read.unreachable.is_empty() && !args.leave_out {
        return Err(Stop::Failed(format!(
            "{}: {} points cannot have been reached with tip {}: is this the right tip and arm? (--leave-out writes the others)",
            source.name,
            read.unreachable.len(),
            args.believed
        )));
    }
    io::replace_file(&args.output, csv_of(&read.trace).as_bytes()).map_err(Stop::Failed)?;
    if !args.quiet {
        eprintln!(
            "{}: {} points re-read as drawn by tip {}",
            source.name,
            read.trace.point_count(),
            args.actual
        );
    }
    Ok(Finish::Done)
}

/// A trace as rows, every digit kept.
fn csv_of(trace: &Trace) -> String {
    let timed = trace.strokes.iter().any(|s| !s.times.is_empty());
    let mut out = String::from("# units: mm\n");
    out.push_str(if timed {
        "x,y,t,stroke\n"
    } else {
        "x,y,stroke\n"
    });
    for (number, stroke) in trace.strokes.iter().enumerate() {
        for (i, p) in stroke.points.iter().enumerate() {
            let _ = write!(out, "{},{},", p.x, p.y);
            if timed {
                let _ = match stroke.times.get(i).filter(|t| t.is_finite()) {
                    Some(t) => write!(out, "{t},"),
                    None => write!(out, ","),
                };
            }
            let _ = writeln!(out, "{}", number + 1);
        }
    }
    out
}
