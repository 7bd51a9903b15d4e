//! `trued outline`: traces in, outlines out.

use super::reading::{Reader, ReadingFlags, UnitsFlag};
use super::{Finish, Stop, io, table};
use clap::ValueEnum;
use indicatif::{ProgressBar, ProgressStyle};
use rayon::prelude::*;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use trued::Trued;

/// Read traces and write the outlines that were meant
///
/// Takes traces as a hand leaves them (spikes, gaps, overruns, strokes in any order) and writes
/// outlines of straight lines and true arcs: square where square was meant, closed, to size.
/// Drawings whose lines are straight already stay as they are.
#[derive(clap::Args)]
#[command(after_help = EXAMPLES)]
pub struct Args {
    /// Traces: CSV, SVG, DXF or a document of this tool; - is standard input
    #[arg(required = true, value_name = "IN")]
    inputs: Vec<String>,
    /// Write the one outline here; the ending (.json .svg .dxf) tells the format
    #[arg(short, long, value_name = "FILE", conflicts_with = "out_dir")]
    output: Option<PathBuf>,
    /// Write every outline into this folder, under the name of its trace
    #[arg(long, value_name = "DIR")]
    out_dir: Option<PathBuf>,
    /// Format of what is written; without it, as the ending of -o says, else json
    #[arg(long, value_enum, value_name = "FORMAT")]
    format: Option<FormatFlag>,
    /// Unit of length of SVG and DXF files written; JSON is always in mm
    #[arg(long, value_enum, default_value_t, value_name = "UNIT")]
    out_units: UnitsFlag,
    /// Say nothing but errors
    #[arg(short, long)]
    quiet: bool,
    #[command(flatten)]
    reading: ReadingFlags,
}

const EXAMPLES: &str = "\
Examples:
  trued outline hinge-blank.csv -o hinge-blank.svg
  trued outline *.csv --out-dir outlines --format dxf --out-units in
  trued outline burner-plate.csv --whole 1/16in --hints burner-plate-hints.json
  trued outline - --units in < peep-slot.csv > peep-slot.json";

/// What can be written.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum FormatFlag {
    /// The outline document: edges, sizes with their ±, relations
    Json,
    /// A picture in real mm (or inches)
    Svg,
    /// A drawing for other programs
    Dxf,
}

impl FormatFlag {
    fn ending(self) -> &'static str {
        match self {
            Self::Json => "json",
            Self::Svg => "svg",
            Self::Dxf => "dxf",
        }
    }

    /// The format a file's ending says.
    pub fn of_path(path: &Path) -> Option<Self> {
        let ending = path.extension()?.to_str()?.to_ascii_lowercase();
        [Self::Json, Self::Svg, Self::Dxf]
            .into_iter()
            .find(|f| f.ending() == ending)
    }
}

/// Where one outline goes.
enum Goal {
    File(PathBuf),
    Stdout,
}

/// Runs the command.
pub fn run(args: &Args) -> Result<Finish, Stop> {
    let (format, goals) = plan(args)?;
    let reader = args.reading.ready()?;
    let jobs: Vec<(&String, Goal)> = args.inputs.iter().zip(goals).collect();
    let progress = progress(jobs.len(), args.quiet);
    let results: Vec<Result<Trued, String>> = jobs
        .par_iter()
        .map(|(input, goal)| {
            let done = one(&reader, input, goal, format, args.out_units);
            progress.inc(1);
            done
        })
        .collect();
    progress.finish_and_clear();
    report(args, &results)
}

/// Reads one input and writes its outline.
fn one(
    reader: &Reader,
    input: &str,
    goal: &Goal,
    format: FormatFlag,
    units: UnitsFlag,
) -> Result<Trued, String> {
    let trued = reader.read(input)?;
    let text = text_of(reader, &trued, format, units);
    match goal {
        Goal::File(path) => io::replace_file(path, text.as_bytes())?,
        Goal::Stdout => io::print(text.as_bytes())?,
    }
    Ok(trued)
}

fn report(args: &Args, results: &[Result<Trued, String>]) -> Result<Finish, Stop> {
    if let [Err(sentence)] = results {
        return Err(Stop::Failed(sentence.clone()));
    }
    let mut written: Vec<(&str, &Trued)> = Vec::new();
    for (input, result) in args.inputs.iter().zip(results) {
        match result {
            Ok(trued) => written.push((input, trued)),
            Err(sentence) => eprintln!("trued: {sentence}"),
        }
    }
    if !args.quiet {
        match written.as_slice() {
            [] => {}
            [(name, trued)] => table::one(name, trued, args.out_units.into()),
            many => table::many(many, args.out_units.into()),
        }
        if !written.is_empty() {
            table::cautions();
        }
    }
    Ok(if written.len() == results.len() {
        Finish::Done
    } else {
        Finish::SomeFailed
    })
}

/// The format and, input by input, where it goes; all that can be refused is refused here, before
/// anything is read or written.
fn plan(args: &Args) -> Result<(FormatFlag, Vec<Goal>), Stop> {
    let inputs = &args.inputs;
    if inputs.iter().filter(|i| *i == io::STDIN).count() > 1 {
        return Err(Stop::Usage("standard input can be read only once".into()));
    }
    if let Some(folder) = &args.out_dir {
        let format = args.format.unwrap_or(FormatFlag::Json);
        io::check_folder(folder)?;
        let files = into_folder(inputs, folder, format)?;
        return Ok((format, files.into_iter().map(Goal::File).collect()));
    }
    if inputs.len() > 1 {
        return Err(Stop::Usage(format!(
            "{} inputs need a folder to write into: --out-dir DIR",
            inputs.len()
        )));
    }
    let Some(path) = &args.output else {
        return Ok((args.format.unwrap_or(FormatFlag::Json), vec![Goal::Stdout]));
    };
    let ending = FormatFlag::of_path(path);
    let format = match (args.format, ending) {
        (Some(said), Some(named)) if said != named => {
            return Err(Stop::Usage(format!(
                "{}: the ending does not go with --format {}",
                path.display(),
                said.ending()
            )));
        }
        (said, named) => said.or(named).ok_or_else(|| {
            Stop::Usage(format!(
                "{}: the ending tells no format; use .json, .svg or .dxf, or say --format",
                path.display()
            ))
        })?,
    };
    io::check_file(path)?;
    Ok((format, vec![Goal::File(path.clone())]))
}

/// `DIR/<stem>.<format>` for each input; two of one stem are refused.
fn into_folder(inputs: &[String], folder: &Path, format: FormatFlag) -> Result<Vec<PathBuf>, Stop> {
    let mut taken: BTreeMap<String, &String> = BTreeMap::new();
    let mut files = Vec::with_capacity(inputs.len());
    for input in inputs {
        let stem = if input == io::STDIN {
            "stdin".to_owned()
        } else {
            let stem = Path::new(input).file_stem().and_then(|s| s.to_str());
            stem.map(str::to_owned)
                .ok_or_else(|| Stop::Usage(format!("{input}: is no file name")))?
        };
        let file = folder.join(format!("{stem}.{}", format.ending()));
        if let Some(other) = taken.insert(stem, input) {
            return Err(Stop::Usage(format!(
                "{other} and {input} would both be written to {}",
                file.display()
            )));
        }
        files.push(file);
    }
    Ok(files)
}

/// The outline in a format; files for a machine are pre-distorted for it, the document is not.
pub fn text_of(reader: &Reader, trued: &Trued, format: FormatFlag, units: UnitsFlag) -> String {
    match format {
        FormatFlag::Json => trued::format::document::write(&trued.outline, &trued.report),
        FormatFlag::Svg => {
            trued::format::svg::write(&reader.for_machine(&trued.outline), units.into())
        }
        FormatFlag::Dxf => {
            trued::format::dxf::write(&reader.for_machine(&trued.outline), units.into())
        }
    }
}

/// A bar on a terminal, nothing in a pipe.
fn progress(jobs: usize, quiet: bool) -> ProgressBar {
    if quiet || jobs < 2 {
        return ProgressBar::hidden();
    }
    let bar = ProgressBar::new(jobs as u64);
    let style = ProgressStyle::with_template("{bar:30} {pos} of {len}  {eta} left");
    if let Ok(style) = style {
        bar.set_style(style);
    }
    bar
}
