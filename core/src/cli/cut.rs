//! `trued cut`: outlines or traces in, a plan for the torch out.

use super::cutting::{CutFlags, Plate, plate, traced, usage, whole};
use super::door::{Door, DoorFlags, Out, PaperFlags};
use super::reading::{Read, ReadingFlags, Saved};
use super::said::{RoleFlags, SaidFlags};
use super::{Finish, Stop, io};
use clap::ValueEnum;
use std::path::PathBuf;
use trued::cut::stock::TOUCHED_HOLE;
use trued::cut::{self, Group, Keep, Lay};
use trued::format::Units;
use trued::format::look::Seen;
use trued::{Settings, Trace};

/// Make outlines ready for the torch: kerf, leads, order, layout on stock
///
/// Takes outline documents, drawings or traces and writes what the torch is to do. Kerf, feed and
/// pierce delay come from the cutter's own book: give them by flag, or keep them in a material file
/// and recall them by name. Without --stock and --copies everything stays where it was traced; with
/// them the loops and marks of one input are moved, turned and copied together. Where something may be
/// wrong it says so and writes no file for the machine until you have settled or accepted it.
#[derive(clap::Args)]
#[command(after_help = EXAMPLES, allow_negative_numbers = true)]
pub struct Args {
    /// Outline documents, drawings or traces; - is standard input
    #[arg(required = true, value_name = "IN")]
    inputs: Vec<String>,
    /// Write the plan here; the ending tells the format: .ngc (RS-274) .dxf .svg .json
    #[arg(short, long, value_name = "FILE")]
    output: PathBuf,
    /// The plate: a traced scrap (its openings, slits and touched holes are kept clear) or a size
    #[arg(long, value_name = "FILE|WxH")]
    stock: Option<String>,
    /// Copies of every input
    #[arg(long, value_name = "N", value_parser = whole)]
    copies: Option<usize>,
    /// Lay out every part of an input by itself
    #[arg(long)]
    apart: bool,
    /// Which side of the outermost lines is kept: inside (parts) or outside (openings in a sheet)
    #[arg(long, value_enum, value_name = "SIDE")]
    keep: Option<KeepFlag>,
    #[command(flatten)]
    cutting: CutFlags,
    #[command(flatten)]
    papers: PaperFlags,
    #[command(flatten)]
    door: DoorFlags,
    #[command(flatten)]
    reading: ReadingFlags,
    #[command(flatten)]
    said: SaidFlags,
}

const EXAMPLES: &str = "\
Examples (the figures are not yours: look in your cutter's book):
  trued cut burner-plate.json --kerf 1.5 --feed 2400 --pierce 0.4 -o burner-plate.ngc --look look.html
  trued cut shelf-gusset.csv --materials book.csv --material \"mild 3\" --copies 8 --stock 600x400 -o gussets.ngc
  trued cut hinge-blank.csv --size 1=80 --radius c3=6 --material \"mild 3\" -o hinge.ngc
  trued cut vent-collar.csv --kerf 1.5 --feed 2400 --pierce 0.4 --hole 9 --stock scrap.csv -o collar.dxf --sheet collar.html

Numbers without a unit are in the trace's own; 1.5mm, 1/16in and 95in/min are what they say.

A material file is a table, in mm, mm a minute and seconds:
  name,thickness,kerf,feed,pierce
  mild 3,3,1.4,2400,0.4";

/// Which side is kept.
#[derive(Clone, Copy, Debug, ValueEnum)]
enum KeepFlag {
    /// What the lines enclose
    Inside,
    /// The sheet around them
    Outside,
}

impl From<KeepFlag> for Keep {
    fn from(flag: KeepFlag) -> Self {
        match flag {
            KeepFlag::Inside => Self::Inside,
            KeepFlag::Outside => Self::Outside,
        }
    }
}

/// Runs the command.
pub fn run(args: &Args) -> Result<Finish, Stop> {
    let mut read: Vec<&str> = args.inputs.iter().map(String::as_str).collect();
    if read.iter().filter(|i| **i == io::STDIN).count() > 1 {
        return Err(Stop::Usage("standard input can be read only once".into()));
    }
    read.extend(args.stock.as_deref());
    read.extend(args.reading.read());
    read.extend(args.cutting.read().and_then(std::path::Path::to_str));
    let door = Door::new(&args.output, &args.door, &args.papers, &read)?;
    let reader = args.reading.ready()?;
    let corrects = args.reading.ready()?;
    let corrects = corrects.with_corrections(&args.said, &RoleFlags::default())?;
    if corrects.is_correcting() && args.inputs.len() > 1 {
        return Err(Stop::Usage(
            "corrections are said of one trace: give one input, or correct each with `trued outline`"
                .into(),
        ));
    }
    let inputs = all_of(&args.inputs, |input| corrects.read(input))?;
    let units = reader.units(&inputs);
    let (saved, mut notes) = saved(&inputs);
    let unsaid = CutFlags::unsaid();
    let own = saved.map_or(&unsaid, |s| &s.figures);
    let mut figures = args.cutting.figures(units, &door.title("cut plan"), own)?;
    figures.copies = args.copies.or(figures.copies.filter(|n| *n > 1));
    figures.keep = args.keep.map(Keep::from).or(figures.keep);
    let touched = figures.scrap_hole.unwrap_or(TOUCHED_HOLE);
    let plate = match (&args.stock, saved.and_then(|s| s.scrap.as_ref())) {
        (Some(said), _) => Some(plate(said, &reader, units, touched)?),
        (None, Some(scrap)) => Some(of_scrap(scrap, touched)?),
        (None, None) => None,
    };
    notes.extend(notes_of(&inputs));
    let (mut doubts, mut stock) = (Vec::new(), None);
    if let Some(mut plate) = plate {
        stock = Some(plate.stock);
        notes.append(&mut plate.notes);
        doubts = plate.doubts;
    }
    let settings = figures.settings(stock).map_err(usage)?;
    let (groups, seen) = groups(&inputs, args.apart, door.units(units));
    let laid = settings.stock.is_some() || figures.copies.is_some() || args.apart;
    let lay = laid.then(|| Lay {
        copies: figures.copies.unwrap_or(1).max(1),
        gap: figures.gap,
        turns: figures.turns,
    });
    let failed = |e: trued::Refusal| Stop::Failed(units.said(&e.to_string()));
    let job = cut::job(&groups, lay, &settings).map_err(failed)?;
    let Some(mut plan) = job.plan else {
        let left_out: Vec<String> = job.layout.left_out().into_iter().map(|l| l.0).collect();
        return Err(Stop::Failed(units.said(&left_out.join("; "))));
    };
    plan.doubts.splice(0..0, doubts);
    if job.layout.asked_in_all() > 0 {
        notes.push(format!(
            "{} of {} copies fit",
            job.layout.fits_in_all(),
            job.layout.asked_in_all()
        ));
    }
    door.deliver(&Out {
        plan: &plan,
        seen: Seen::laid(&seen, &job.layout),
        notes,
        machine: reader.machine(),
        machine_name: reader.machine_name(),
        units,
        beside: Vec::new(),
    })
}

/// How a job was to be cut when it was saved, where one job alone is cut, and what is said of that.
fn saved(inputs: &[Read]) -> (Option<&Saved>, Vec<String>) {
    let jobs = inputs.iter().filter_map(|r| Some((r, r.saved.as_ref()?)));
    let jobs: Vec<(&Read, &Saved)> = jobs.collect();
    match (inputs, jobs.as_slice()) {
        ([_], [(read, saved)]) => {
            let mut names = saved.figures.names();
            names.extend(saved.scrap.as_ref().map(|_| "the traced scrap"));
            let text = format!(
                "how {} is cut was saved with it and holds where no flag says otherwise: {}",
                read.name,
                names.join(", ")
            );
            (Some(saved), vec![text])
        }
        (_, []) => (None, Vec::new()),
        _ => {
            let names: Vec<&str> = jobs.iter().map(|(r, _)| r.name.as_str()).collect();
            let text = format!(
                "several inputs are cut together: how to cut that was saved with {} is passed over",
                names.join(" and ")
            );
            (None, vec![text])
        }
    }
}

/// The scrap that was saved with a job.
fn of_scrap(scrap: &Trace, touched: f64) -> Result<Plate, Stop> {
    let read = trued::true_up(scrap, &Settings::default(), &[]);
    let plate = read.and_then(|read| traced("the saved scrap", read, touched));
    plate.map_err(|e| Stop::Failed(format!("the saved scrap: {e}")))
}

/// Every input read, or all the sentences of those that could not be: what a machine runs is made of all of
/// them or of none.
fn all_of(
    inputs: &[String],
    read: impl Fn(&str) -> Result<Read, String>,
) -> Result<Vec<Read>, Stop> {
    let (mut all, mut failed) = (Vec::new(), Vec::new());
    for input in inputs {
        match read(input) {
            Ok(one) => all.push(one),
            Err(sentence) => failed.push(sentence),
        }
    }
    match failed.is_empty() {
        true => Ok(all),
        false => Err(Stop::Failed(failed.join("\ntrued: "))),
    }
}

/// What was done to the traces, under their names where there are several.
pub fn notes_of(inputs: &[Read]) -> Vec<String> {
    let several = inputs.len() > 1;
    let told = |read: &Read| -> Vec<String> {
        let notes = read.trued.report.notes.iter();
        notes
            .map(|n| match several {
                true => format!("{}: {}", read.name, n.text),
                false => n.text.clone(),
            })
            .collect()
    };
    inputs.iter().flat_map(told).collect()
}

/// The groups to cut, and what pictures show of each.
fn groups(inputs: &[Read], apart: bool, units: Units) -> (Vec<Group>, Vec<Seen>) {
    let (mut groups, mut seen) = (Vec::new(), Vec::new());
    for read in inputs {
        let whole = Seen::of(&read.trued, read.trace.as_ref(), units);
        let pieces = match apart {
            true => cut::pieces(&read.trued.outline),
            false => vec![read.trued.outline.clone()],
        };
        for (i, outline) in pieces.into_iter().enumerate() {
            // A doubt is told once, whatever becomes of the pieces.
            let doubts = match i {
                0 => read.trued.report.doubts.clone(),
                _ => Vec::new(),
            };
            seen.push(match apart {
                true => whole.within(&outline),
                false => whole.clone(),
            });
            groups.push(Group {
                name: read.name.clone(),
                outline,
                doubts,
            });
        }
    }
    (groups, seen)
}
