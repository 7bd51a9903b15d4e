//! `trued arm`: touches of known points in, the arm's profile out.

use super::lengths::{self, Length};
use super::{Finish, Stop, io, reading, table};
use std::path::PathBuf;
use trued::Point;
use trued::format::Units;
use trued::jobs::touches;
use trued::machine::{Arm, ArmFit, CalibrationSettings, calibrate};

/// Find the geometry of a two-link arm from touches of known points
///
/// Put the tip on points whose places are known (a ruler, a grid, a plate with holes) and note what
/// the machine reports each time. Ten or more touches, spread over the whole table. Touches that cannot
/// determine the arm are refused, with places to touch that would.
#[derive(clap::Args)]
#[command(after_help = EXAMPLES, allow_negative_numbers = true)]
pub struct Args {
    /// Touches: rows of known_x,known_y,reported_x,reported_y (mm) or …,joint1_deg,joint2_deg; also tip, placement
    #[arg(value_name = "TOUCHES")]
    touches: String,
    /// The profile the machine runs by: turns reported places into joint angles, and the search starts from it
    #[arg(long, value_name = "FILE")]
    machine: String,
    /// The tip that touched, where the rows do not say it
    #[arg(long, value_name = "TIP")]
    tip: Option<String>,
    /// How far one touch may be off, if you know it (standard deviation each way)
    #[arg(long, value_name = "LENGTH", value_parser = lengths::parse)]
    touch_error: Option<Length>,
    /// The table, mm, for the map of expected errors: left,bottom,right,top; without it what the points span
    #[arg(
        long,
        value_name = "L,B,R,T",
        value_delimiter = ',',
        allow_hyphen_values = true
    )]
    table: Option<Vec<f64>>,
    /// Write the profile here (.json); squareness that is in it stays
    #[arg(short, long, value_name = "FILE")]
    output: Option<PathBuf>,
    /// Say nothing but errors
    #[arg(short, long)]
    quiet: bool,
}

const EXAMPLES: &str = "\
Example:
  trued arm touches.csv --machine as-delivered.json --tip stylus -o shop-machine.json";

/// Runs the command.
pub fn run(args: &Args) -> Result<Finish, Stop> {
    if let Some(path) = &args.output {
        io::check_file(path)?;
        // A profile that is there is kept up to date; touches are lost.
        io::check_apart([args.touches.as_str()], &[path])?;
    }
    let believed = reading::profile(&args.machine)?;
    let arm = believed.arm.clone().ok_or_else(|| {
        Stop::Usage(format!(
            "{}: the profile knows no arm; write [arm] with link1, link2 and elbow as delivered",
            args.machine
        ))
    })?;
    let source = io::read_source(&args.touches).map_err(Stop::Failed)?;
    let failed = |e: trued::Refusal| Stop::Failed(format!("{}: {e}", source.name));
    let tip = tip(args, &arm)?;
    let touched = touches::read(&source.bytes, &tip).map_err(failed)?;
    let settings = CalibrationSettings {
        touch_error: args.touch_error.map(|l| l.in_mm(Units::Mm)),
        table: table(args)?,
    };
    let fit = calibrate(&touched, &arm, &settings).map_err(failed)?;
    if let Some(path) = &args.output {
        let mut profile = match path.exists() {
            true => reading::profile(&path.to_string_lossy())?,
            false => believed,
        };
        profile.arm = Some(fit.arm.clone());
        let text = profile.write().map_err(|e| Stop::Failed(e.to_string()))?;
        io::replace_file(path, text.as_bytes()).map_err(Stop::Failed)?;
    }
    if !args.quiet {
        say(&fit);
        table::cautions();
    }
    Ok(Finish::Done)
}

/// The tip named, or the only one there is.
fn tip(args: &Args, arm: &Arm) -> Result<String, Stop> {
    let mut names = arm.tips.keys();
    match (&args.tip, names.next(), names.next()) {
        (Some(name), _, _) => Ok(name.clone()),
        (None, Some(only), None) => Ok(only.clone()),
        _ => Ok(touches::TIP.to_owned()),
    }
}

fn table(args: &Args) -> Result<Option<[Point; 2]>, Stop> {
    match args.table.as_deref() {
        None => Ok(None),
        Some([l, b, r, t]) if l < r && b < t => Ok(Some([Point::new(*l, *b), Point::new(*r, *t)])),
        Some(_) => Err(Stop::Usage(
            "--table: left,bottom,right,top, each pair from less to more".into(),
        )),
    }
}

fn say(fit: &ArmFit) {
    let rows: Vec<Vec<String>> = fit
        .figures
        .iter()
        .map(|f| {
            let (value, pm, unit) = match f.angle {
                true => (f.value.to_degrees(), f.plus_minus.to_degrees(), "°"),
                false => (f.value, f.plus_minus, " mm"),
            };
            vec![f.name.clone(), format!("{value:.3} ± {pm:.3}{unit}")]
        })
        .collect();
    table::print(&["figure", "found"], &rows);
    let worst = fit.residuals.iter().copied().fold(0.0, f64::max);
    eprintln!(
        "{} touches, off by {:.2} mm each way (standard deviation), the worst by {worst:.2} mm",
        fit.residuals.len(),
        fit.touch_error
    );
    eprintln!("expected error over the table (95 % within):");
    // Rows of the map from the top, as the table lies.
    let mut lines: Vec<(f64, String)> = Vec::new();
    for e in &fit.map {
        let cell = format!("  ({:.0}, {:.0}) {:.2} mm", e.at.x, e.at.y, e.within);
        match lines.iter_mut().find(|l| l.0 == e.at.y) {
            Some(line) => line.1.push_str(&cell),
            None => lines.push((e.at.y, cell)),
        }
    }
    for (_, line) in lines.iter().rev() {
        eprintln!("{line}");
    }
    for note in &fit.notes {
        eprintln!("note: {note}");
    }
}
