//! `trued blanks`: one tab and a scrap in, as many true blanks as fit out.

use super::cutting::{CutFlags, plate, usage, whole};
use super::door::{Door, DoorFlags, Out, PaperFlags};
use super::lengths::{self, Length};
use super::reading::ReadingFlags;
use super::{Finish, Stop, cut};
use std::path::{Path, PathBuf};
use trued::cut::stock::TOUCHED_HOLE;
use trued::cut::{Group, job::planned};
use trued::format::look::Seen;
use trued::jobs::blanks::rectangle;
use trued::jobs::{BlanksSettings, blanks};

/// Lay as many true blanks as fit on a scrap, ready to cut
///
/// One rough tab (or a size), how many are wanted, and the scrap traced round its edge, its own
/// holes and slits too. What fits is laid out, ordered and given leads; what the scrap lacks for the rest is
/// said.
#[derive(clap::Args)]
#[command(after_help = EXAMPLES, allow_negative_numbers = true)]
#[command(group(clap::ArgGroup::new("blank").required(true).args(["tab", "size"])))]
pub struct Args {
    /// The tab: a trace, drawing or outline document; - is standard input
    #[arg(value_name = "TAB")]
    tab: Option<String>,
    /// A rectangular blank instead of a traced tab
    #[arg(long, value_name = "WxH", value_parser = lengths::parse_pair)]
    size: Option<lengths::Pair>,
    /// How many blanks are wanted
    #[arg(long, value_name = "N", value_parser = whole)]
    count: usize,
    /// The scrap: traced round its edge, its holes and slits (touched holes are kept clear), or a size
    #[arg(long, value_name = "FILE|WxH")]
    scrap: String,
    /// Write the plan here; the ending tells the format: .ngc (RS-274) .dxf .svg .json
    #[arg(short, long, value_name = "FILE")]
    output: PathBuf,
    /// From a blank to the edge of the scrap; without it as much as the leads need
    #[arg(long, value_name = "LENGTH", value_parser = lengths::parse_or_zero)]
    edge: Option<Length>,
    /// Look only for a moment, and do not find out how much longer the scrap would have to be
    #[arg(long)]
    quick: bool,
    #[command(flatten)]
    cutting: CutFlags,
    #[command(flatten)]
    papers: PaperFlags,
    #[command(flatten)]
    door: DoorFlags,
    #[command(flatten)]
    reading: ReadingFlags,
}

const EXAMPLES: &str = "\
Examples (the figures are not yours: look in your cutter's book):
  trued blanks hinge-blank.csv --count 16 --scrap scrap.csv --kerf 1.5 --feed 2400 --pierce 0.4 -o hinges.ngc
  trued blanks --size 80x50 --count 16 --turns none --scrap 600x300 --material \"mild 3\" --materials book.csv -o leaves.svg";

/// Runs the command.
pub fn run(args: &Args) -> Result<Finish, Stop> {
    let mut read: Vec<&str> = args.tab.iter().map(String::as_str).collect();
    read.push(&args.scrap);
    read.extend(args.reading.read());
    read.extend(args.cutting.read().and_then(Path::to_str));
    let door = Door::new(&args.output, &args.door, &args.papers, &read)?;
    let reader = args.reading.ready()?;
    let tab = args.tab.as_deref().map(|tab| reader.read(tab)).transpose();
    let tab: Vec<_> = tab.map_err(Stop::Failed)?.into_iter().collect();
    let units = reader.units(&tab);
    let title = door.title("blanks");
    let figures = args.cutting.figures(units, &title, &CutFlags::unsaid())?;
    let touched = figures.scrap_hole.unwrap_or(TOUCHED_HOLE);
    let scrap = plate(&args.scrap, &reader, units, touched)?;
    let settings = figures.settings(Some(scrap.stock.clone())).map_err(usage)?;
    let mut group = Group::default();
    let mut seen = Seen::default();
    match (args.size, tab.first()) {
        (Some(size), _) => {
            let (w, h) = size.in_mm(units);
            group.outline = rectangle(w, h).map_err(usage)?;
        }
        (None, Some(tab)) => {
            seen = Seen::of(&tab.trued, tab.trace.as_ref(), door.units(units));
            group.outline = tab.trued.outline.clone();
            group.doubts = tab.trued.report.doubts.clone();
        }
        (None, None) => return Err(Stop::Usage("give a tab or a --size".into())),
    }
    let lead = settings.lead_length() + settings.kerf;
    let wanted = BlanksSettings {
        count: args.count,
        kerf: settings.kerf,
        gap: figures.gap.unwrap_or(lead),
        edge: args.edge.map_or(lead, |e| e.in_mm(units)),
        turns: figures.turns,
        missing: !args.quick,
        thorough: !args.quick,
    };
    let failed = |e: trued::Refusal| Stop::Failed(units.said(&e.to_string()));
    let laid = blanks(&group.outline, &scrap.stock, &wanted).map_err(failed)?;
    if laid.layout.fits_in_all() == 0 {
        return Err(Stop::Failed(units.said(&laid.sentence)));
    }
    let mut plan = planned(&[group], &laid.layout, &settings).map_err(failed)?;
    plan.doubts.splice(0..0, scrap.doubts);
    let mut notes = cut::notes_of(&tab);
    notes.extend(scrap.notes);
    notes.push(laid.sentence);
    door.deliver(&Out {
        plan: &plan,
        seen: Seen::laid(&[seen], &laid.layout),
        notes,
        machine: reader.machine(),
        machine_name: reader.machine_name(),
        units,
        beside: Vec::new(),
    })
}
