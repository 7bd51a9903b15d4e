//! `trued outline`: traces in, outlines out.

use super::photo::PhotoFlags;
use super::reading::{Read, Reader, ReadingFlags, UnitsFlag};
use super::said::{RoleFlags, SaidFlags};
use super::{Finish, Stop, io, sketch, table};
use clap::ValueEnum;
use clap::builder::{PossibleValuesParser, TypedValueParser};
use indicatif::{ProgressBar, ProgressStyle};
use rayon::prelude::*;
use std::collections::BTreeMap;
use std::io::IsTerminal as _;
use std::path::{Path, PathBuf};
use trued::format::look::{self, Seen};
use trued::format::{Format, Units};
use trued::{Refusal, Trued};

/// Read traces and write the outlines that were meant
///
/// Takes traces as a hand leaves them (spikes, gaps, overruns, strokes in any order) and writes
/// outlines of straight lines and true arcs: square where square was meant, closed, to size.
/// Drawings whose lines are straight already stay as they are. Without -o the terminal shows what became
/// of the trace, with numbers that corrections go by.
#[derive(clap::Args)]
#[command(after_help = EXAMPLES)]
pub struct Args {
    /// Traces: CSV, SVG, DXF, a photo (with --frame) or a document of this tool; - is standard input
    #[arg(required = true, value_name = "IN")]
    inputs: Vec<String>,
    /// Write the one outline here; the ending (.json .svg .dxf) tells the format
    #[arg(short, long, value_name = "FILE", conflicts_with = "out_dir")]
    output: Option<PathBuf>,
    /// Write every outline into this folder, under the name of its trace
    #[arg(long, value_name = "DIR")]
    out_dir: Option<PathBuf>,
    /// Format of what is written; without it, as the ending of -o says, else json
    #[arg(long, value_parser = outline_formats(), value_name = "FORMAT")]
    format: Option<Format>,
    /// Also write the picture of the one outline: trace, kept side, sizes, doubts (.html)
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
    #[command(flatten)]
    photo: PhotoFlags,
    #[command(flatten)]
    said: SaidFlags,
    #[command(flatten)]
    roles: RoleFlags,
}

const EXAMPLES: &str = "\
Examples:
  trued outline hinge_blank.csv                          just look: what became of it, numbered
  trued outline hinge_blank.csv --size 1=80 --radius c3=6 -o hinge_blank.svg
  trued outline *.csv --out-dir outlines --format dxf --out-units in
  trued outline burner_plate.csv --whole 1/16in --hints burner_plate-hints.json
  trued outline collar.jpg --frame 300x200 --look collar.html -o collar.json
  trued outline - --units in < peep_slot.csv > peep_slot.json";

/// For `--format`: the formats of the core's list in which an outline is written.
fn outline_formats() -> impl TypedValueParser<Value = Format> {
    let all = Format::all().filter(|f| f.takes_outlines());
    PossibleValuesParser::new(all.filter_map(|f| f.to_possible_value()))
        .try_map(|name| <Format as ValueEnum>::from_str(&name, true))
}

/// The format of an outline by its file's ending.
pub fn format_of(path: &Path) -> Option<Format> {
    Format::of_name(path.file_name()?.to_str()?).filter(|f| f.takes_outlines())
}

/// The endings of some formats, as in ".json, .svg or .dxf".
pub fn endings(which: fn(Format) -> bool) -> String {
    let all: Vec<String> = Format::all()
        .filter(|f| which(*f))
        .map(|f| format!(".{}", f.ending()))
        .collect();
    match all.split_last() {
        Some((last, [])) => last.clone(),
        Some((last, others)) => format!("{} or {last}", others.join(", ")),
        None => String::new(),
    }
}

/// Where one outline goes.
enum Goal {
    File(PathBuf),
    Stdout,
    /// It is only looked at.
    Nowhere,
}

/// Runs the command.
pub fn run(args: &Args) -> Result<Finish, Stop> {
    let (format, goals) = plan(args)?;
    let reader = args
        .reading
        .ready()?
        .with_pictures(&args.photo)
        .with_corrections(&args.said, &args.roles)?;
    let jobs: Vec<(&String, Goal)> = args.inputs.iter().zip(goals).collect();
    let progress = progress(jobs.len(), args.quiet);
    let results: Vec<Result<Read, String>> = jobs
        .par_iter()
        .map(|(input, goal)| {
            let done = one(&reader, input, goal, format, args);
            progress.inc(1);
            done
        })
        .collect();
    progress.finish_and_clear();
    report(args, &reader, format, &results)
}

/// Reads one input and writes its outline.
fn one(
    reader: &Reader,
    input: &str,
    goal: &Goal,
    format: Format,
    args: &Args,
) -> Result<Read, String> {
    let read = reader.read(input)?;
    let trued = &read.trued;
    // Nothing that is no outline is ever written, whatever led to it.
    trued
        .outline
        .check_invariants()
        .map_err(|e| format!("{input}: no sound outline came of it: {e}"))?;
    let units = spoken(args.out_units, trued);
    let text = text_of(reader, trued, format, units).map_err(|e| format!("{input}: {e}"))?;
    let look = args
        .look
        .as_deref()
        .map(|file| (file, look_of(&read, units)));
    let mut files: Vec<(&Path, String)> = look.into_iter().collect();
    match goal {
        Goal::File(path) => files.push((path, text)),
        Goal::Stdout => io::print(text.as_bytes())?,
        Goal::Nowhere => {}
    }
    io::replace_files(&files)?;
    Ok(read)
}

/// The unit that is written and spoken: the one said, else the trace's own.
pub fn spoken(said: Option<UnitsFlag>, trued: &Trued) -> Units {
    let said = said.map(Units::from);
    said.or(trued.report.traced_in).unwrap_or_default()
}

/// The picture of an outline.
pub fn look_of(read: &Read, units: Units) -> String {
    let Trued { outline, report } = &read.trued;
    let seen = Seen::of(&read.trued, read.trace.as_ref(), units);
    let notes: Vec<String> = report.notes.iter().map(|n| n.text.clone()).collect();
    look::of_outline(&read.name, outline, &seen, &report.doubts, &notes, units)
}

fn report(
    args: &Args,
    reader: &Reader,
    format: Format,
    results: &[Result<Read, String>],
) -> Result<Finish, Stop> {
    if let [Err(sentence)] = results {
        return Err(Stop::Failed(sentence.clone()));
    }
    let mut written: Vec<(&str, &Trued)> = Vec::with_capacity(results.len());
    for (input, result) in args.inputs.iter().zip(results) {
        match result {
            Ok(read) => written.push((input, &read.trued)),
            Err(sentence) => eprintln!("trued: {sentence}"),
        }
    }
    if !args.quiet {
        match written.as_slice() {
            [] => {}
            [(name, trued)] => {
                sketch::print(&trued.outline);
                table::one(name, trued, spoken(args.out_units, trued));
            }
            many => table::many(many, args.out_units.map_or(Units::Mm, Units::from)),
        }
        if !written.is_empty() {
            say_machine(reader, format);
            table::cautions();
        }
    }
    Ok(if written.len() == results.len() {
        Finish::Done
    } else {
        Finish::SomeFailed
    })
}

/// What the profile did to what was written.
pub fn say_machine(reader: &Reader, format: Format) {
    if let Some(name) = reader.machine_name() {
        match format {
            Format::Json => eprintln!(
                "the machine \"{name}\" is not in the document, which stays true: name it when cutting"
            ),
            _ => eprintln!(
                "the drawing is pre-distorted for the machine \"{name}\": do not name that again when cutting"
            ),
        }
    }
}

/// The format and, input by input, where it goes; all that can be refused is refused here, before
/// anything is read or written.
fn plan(args: &Args) -> Result<(Format, Vec<Goal>), Stop> {
    let inputs = &args.inputs;
    if inputs.iter().filter(|i| *i == io::STDIN).count() > 1 {
        return Err(Stop::Usage("standard input can be read only once".into()));
    }
    if let Some(folder) = &args.out_dir {
        let format = args.format.unwrap_or(Format::Json);
        io::check_folder(folder)?;
        let files = into_folder(inputs, folder, format)?;
        let paths: Vec<&Path> = files.iter().map(PathBuf::as_path).collect();
        if args.look.is_some() && inputs.len() > 1 {
            return Err(Stop::Usage(
                "--look shows one outline: give one input".into(),
            ));
        }
        check(args, paths)?;
        return Ok((format, files.into_iter().map(Goal::File).collect()));
    }
    if inputs.len() > 1 {
        return Err(Stop::Usage(format!(
            "{} inputs need a folder to write into: --out-dir DIR",
            inputs.len()
        )));
    }
    let Some(path) = &args.output else {
        check(args, Vec::new())?;
        // A document is nothing to read on a screen: in a pipe it goes on, on a terminal the table is what is
        // looked at.
        let looks = args.format.is_none() && std::io::stdout().is_terminal();
        let goal = if looks { Goal::Nowhere } else { Goal::Stdout };
        return Ok((args.format.unwrap_or(Format::Json), vec![goal]));
    };
    let ending = format_of(path);
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
    check(args, vec![path])?;
    Ok((format, vec![Goal::File(path.clone())]))
}

/// Nothing that is read is overwritten, nothing written twice.
fn check<'a>(args: &'a Args, mut written: Vec<&'a Path>) -> Result<(), Stop> {
    if let Some(look) = args.look.as_deref() {
        io::check_file(look)?;
        written.push(look);
    }
    let read = args.inputs.iter().map(String::as_str);
    io::check_apart(read.chain(args.reading.read()), &written)
}

/// `DIR/<stem>.<format>` for each input; two of one stem are refused.
fn into_folder(inputs: &[String], folder: &Path, format: Format) -> Result<Vec<PathBuf>, Stop> {
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
pub fn text_of(
    reader: &Reader,
    trued: &Trued,
    format: Format,
    units: Units,
) -> Result<String, Refusal> {
    let Trued { outline, report } = trued;
    if format == Format::Json {
        return format.write_outline(outline, report, units);
    }
    let made_for = reader.machine_name().or(report.made_for.as_deref());
    let drawn = format.write_outline(&reader.for_machine(outline), report, units)?;
    Ok(match made_for {
        Some(machine) => trued::format::made_for(drawn, machine),
        None => drawn,
    })
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
