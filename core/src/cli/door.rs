//! The one way out for what a machine runs.
//!
//! A door says what it knows, then its doubts, numbered; it writes pictures and sheets, which show the doubts,
//! and writes the file for the machine only when none stands or each was accepted. All files of a run are on
//! the disk before the first is put in its place.

use super::outline::endings;
use super::reading::UnitsFlag;
use super::{Finish, Stop, io, table};
use clap::{Args, ValueEnum};
use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use trued::cut::{Accepted, Plan};
use trued::format::look::{self, Seen};
use trued::format::{Format, PlanOptions, Units, figures, plan_dxf, sheet, template};
use trued::machine::Profile;
use trued::{Doubt, Refusal};

/// What every door that writes a plan asks for.
#[derive(Args, Clone, Debug)]
#[command(next_help_heading = "What is written")]
pub struct DoorFlags {
    /// Write the file for the machine although doubts stand: all, or those of these numbers (1,3)
    #[arg(long, value_name = "N,N", num_args = 0..=1, default_missing_value = "all", value_parser = accepted)]
    accept_doubts: Option<Accepted>,
    /// The same moves with the torch off (.ngc)
    #[arg(long)]
    pub dry_run: bool,
    /// DXF with single lines, arcs and circles instead of one polyline a path
    #[arg(long)]
    single: bool,
    /// Unit of length of RS-274, DXF and SVG files; without it the trace's own; JSON is always in mm
    #[arg(long, value_enum, value_name = "UNIT")]
    out_units: Option<UnitsFlag>,
    /// Say nothing but errors
    #[arg(short, long)]
    pub quiet: bool,
}

/// Papers beside the plan.
#[derive(Args, Clone, Debug, Default)]
#[command(next_help_heading = "What is written")]
pub struct PaperFlags {
    /// Also write the picture to trust before any spark: trace, outline, kept side, sizes, doubts (.html)
    #[arg(long, value_name = "FILE")]
    pub look: Option<PathBuf>,
    /// Also write a one-page cut sheet to print (.html)
    #[arg(long, value_name = "FILE")]
    pub sheet: Option<PathBuf>,
    /// Also write a paper template in true size, tiled over pages (.html)
    #[arg(long, value_name = "FILE")]
    pub template: Option<PathBuf>,
    /// Paper of sheet and template
    #[arg(long, value_enum, default_value_t, value_name = "PAPER")]
    paper: PaperFlag,
}

/// Paper sizes.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, ValueEnum)]
enum PaperFlag {
    /// 210 x 297 mm
    #[default]
    A4,
    /// 8 1/2 x 11 in
    Letter,
}

/// `all`, or numbers with commas between; for clap's `value_parser`.
fn accepted(text: &str) -> Result<Accepted, String> {
    if text == "all" {
        return Ok(Accepted::All);
    }
    let numbers = text.split(',').map(|n| n.trim().parse::<usize>());
    let numbers: Result<BTreeSet<usize>, _> = numbers.collect();
    numbers
        .map(Accepted::These)
        .map_err(|_| format!("\"{text}\" is no list of doubts; write \"all\" or numbers as in 1,3"))
}

impl DoorFlags {
    fn accepted(&self) -> Accepted {
        self.accept_doubts.clone().unwrap_or_default()
    }

    /// Numbers of the doubts that stand, of so many.
    pub fn standing(&self, count: usize) -> Vec<usize> {
        self.accepted().standing(count)
    }
}

/// A door, checked before anything is read.
pub struct Door<'a> {
    format: Format,
    output: &'a Path,
    flags: &'a DoorFlags,
    papers: PaperFlags,
}

/// What goes out.
pub struct Out<'a> {
    /// The plan, as for a true machine.
    pub plan: &'a Plan,
    /// What pictures show besides.
    pub seen: Seen,
    /// What is said first.
    pub notes: Vec<String>,
    /// The machine it is for.
    pub machine: &'a Profile,
    /// What that is called, where one was named.
    pub machine_name: Option<&'a str>,
    /// The unit of the person.
    pub units: Units,
    /// What goes with the file for the machine: without that it is not written either.
    pub beside: Vec<(&'a Path, String)>,
}

impl<'a> Door<'a> {
    /// Checks that what is asked for can be written, and that nothing that is read would be overwritten.
    pub fn new(
        output: &'a Path,
        flags: &'a DoorFlags,
        papers: &PaperFlags,
        read: &[&str],
    ) -> Result<Self, Stop> {
        let format = format_of(output)?;
        if flags.dry_run && format != Format::Rs274 {
            return Err(Stop::Usage(
                "a dry run is a program for the machine: write it to a file ending in .ngc".into(),
            ));
        }
        let papers = papers.clone();
        let written: Vec<&Path> = [Some(output)]
            .into_iter()
            .chain([&papers.look, &papers.sheet, &papers.template].map(Option::as_deref))
            .flatten()
            .collect();
        for file in &written {
            io::check_file(file)?;
        }
        io::check_apart(read.iter().copied(), &written)?;
        Ok(Self {
            format,
            output,
            flags,
            papers,
        })
    }

    /// The unit that is written and spoken: the one said, else the person's.
    pub fn units(&self, person: Units) -> Units {
        self.flags.out_units.map_or(person, Units::from)
    }

    /// What the job is called: the name of its file.
    pub fn title(&self, or: &str) -> String {
        let stem = self.output.file_stem().and_then(|n| n.to_str());
        stem.unwrap_or(or).to_owned()
    }

    /// Says and writes all of it, the file for the machine only when no doubt stands.
    pub fn deliver(&self, out: &Out<'_>) -> Result<Finish, Stop> {
        let units = self.units(out.units);
        let accept = self.flags.accepted();
        let sent = out.plan.corrected(out.machine);
        let text = self.text(&sent, &accept, units);
        let mut files = self.sheets(out, units);
        let refused = match text {
            Ok(text) => {
                files.extend(out.beside.iter().cloned());
                files.push((self.output, text));
                None
            }
            Err(e) => Some(e),
        };
        io::replace_files(&files).map_err(Stop::Failed)?;
        let written: Vec<&Path> = files.iter().map(|f| f.0).collect();
        self.say(out, units, refused.is_some());
        match refused {
            None => Ok(Finish::Done),
            Some(_) => Err(Stop::Failed(self.refusal(&sent, &accept, &written))),
        }
    }

    fn refusal(&self, plan: &Plan, accept: &Accepted, written: &[&Path]) -> String {
        let shown: Vec<String> = written.iter().map(|f| f.display().to_string()).collect();
        let look = match shown.is_empty() {
            true => String::new(),
            false => format!("; {} shows where", shown.join(" and ")),
        };
        let standing = accept.standing(plan.doubts.len());
        format!(
            "{} was not written{look}: {}",
            self.output.display(),
            stand(&standing)
        )
    }

    /// The plan in its format.
    fn text(&self, plan: &Plan, accept: &Accepted, units: Units) -> Result<String, Refusal> {
        let options = PlanOptions {
            units,
            dry_run: self.flags.dry_run,
            entities: match self.flags.single {
                true => plan_dxf::Entities::Single,
                false => plan_dxf::Entities::Polylines,
            },
            accepted: accept.clone(),
        };
        self.format.write_plan(plan, &options)
    }

    /// The papers, of the piece as it will be.
    fn sheets(&self, out: &Out<'_>, units: Units) -> Vec<(&Path, String)> {
        let paper = match self.papers.paper {
            PaperFlag::A4 => template::Paper::A4,
            PaperFlag::Letter => template::Paper::Letter,
        };
        let (plan, seen) = (out.plan, &out.seen);
        let mut files: Vec<(&Path, String)> = Vec::new();
        if let Some(file) = &self.papers.look {
            files.push((file, look::of_plan(plan, seen, units)));
        }
        if let Some(file) = &self.papers.sheet {
            files.push((file, sheet::write(plan, seen, paper, units)));
        }
        if let Some(file) = &self.papers.template {
            files.push((file, template::write(plan, paper)));
        }
        files
    }

    fn say(&self, out: &Out<'_>, units: Units, refused: bool) {
        if self.flags.quiet && !refused {
            return;
        }
        if !self.flags.quiet {
            for note in &out.notes {
                eprintln!("note: {}", units.said(note));
            }
            for line in figures::figures(out.plan, units) {
                eprintln!("{line}");
            }
            if let Some(name) = out.machine_name {
                eprintln!("the moves are corrected for the machine \"{name}\"");
            }
            for note in figures::notes(out.plan, units) {
                eprintln!("note: {note}");
            }
        }
        doubts(&out.plan.doubts, units);
        if !refused {
            table::cautions();
        }
    }
}

/// Which doubts stand, and the two ways out.
pub fn stand(standing: &[usize]) -> String {
    let numbers: Vec<String> = standing.iter().map(ToString::to_string).collect();
    let numbers = numbers.join(",");
    match standing.len() {
        1 => format!(
            "doubt {numbers} stands. Do what it says, or take it on with --accept-doubts {numbers}"
        ),
        _ => format!(
            "doubts {numbers} stand. Do what they say, or take them on with --accept-doubts {numbers}"
        ),
    }
}

/// The doubts, numbered, a line each.
pub fn doubts(doubts: &[Doubt], units: Units) {
    for (i, doubt) in doubts.iter().enumerate() {
        eprintln!("doubt {}: {}", i + 1, units.said(&look::told(doubt)));
    }
}

/// The format of a plan by its file's ending.
fn format_of(path: &Path) -> Result<Format, Stop> {
    let name = path.file_name().and_then(|n| n.to_str());
    let format = name.and_then(Format::of_name);
    format.filter(|f| f.takes_plans()).ok_or_else(|| {
        Stop::Usage(format!(
            "{}: the ending tells no format; use {}",
            path.display(),
            endings(Format::takes_plans)
        ))
    })
}
