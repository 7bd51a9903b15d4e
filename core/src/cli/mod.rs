//! The program: arguments in, files and sentences out. No geometry here.
//!
//! Each command is one file with a `Args` (flags, help, an example) and a `run`. What they share
//! lies beside them: [`io`] reads inputs and replaces files whole, [`reading`] holds the flags by
//! which a trace is read and reads it, [`lengths`] understands `1/16in`, [`table`] lays out what
//! is said after a run. To add a command: one file, one line in [`Command`], one in
//! [`Command::run`].
//!
//! Results go to files or standard output, everything said to the person goes to standard error,
//! so that a pipe stays clean. Exit status: 0 done; 1 some input failed and the rest was written;
//! 2 the command itself makes no sense, and nothing was written.

use clap::{Parser, Subcommand};
use std::process::ExitCode;

pub mod arm;
pub mod blanks;
pub mod coupon;
pub mod cut;
pub mod cutting;
pub mod door;
pub mod io;
pub mod lengths;
pub mod opening;
pub mod outline;
pub mod photo;
pub mod reading;
pub mod said;
pub mod said_twice;
pub mod sketch;
pub mod square;
pub mod table;
pub mod tip;

/// Takes what a hand traced and gives back the outline that was meant, ready to cut.
///
/// A trace is a file of points (CSV with the header x,y and optionally t and stroke), an SVG or a
/// DXF drawing. What comes out has straight lines, true arcs, square corners and closed loops.
///
/// A drawing stays as drawn, edge by edge, unless --kind traced says that a hand left it. Curves and
/// chords of curves become arcs within --chords (0.05 mm). Of a DXF (text or binary, R12 on): LINE, ARC,
/// CIRCLE, LWPOLYLINE, POLYLINE, ELLIPSE, SPLINE, INSERT. Of an SVG: paths, shapes, use, transforms, styles.
/// What is off, frozen or hidden is not read, and named; --layers picks. Texts and hatches are left out.
#[derive(Parser)]
#[command(name = "trued", version, max_term_width = 100, after_help = AFTER)]
struct Program {
    #[command(subcommand)]
    command: Command,
}

const AFTER: &str = "\
Start here:
  trued outline hinge_blank.csv -o hinge_blank.svg     look at what became of the trace
  trued outline hinge_blank.csv -o hinge_blank.dxf     the same, for another program

`trued COMMAND --help` tells all about a command.
Exit status: 0 done, 1 some input failed and the rest was written, 2 usage.";

#[derive(Subcommand)]
enum Command {
    Outline(Box<outline::Args>),
    Photo(Box<photo::Args>),
    Cut(Box<cut::Args>),
    Opening(Box<opening::Args>),
    Blanks(Box<blanks::Args>),
    Coupon(Box<coupon::Args>),
    Square(square::Args),
    Tip(tip::Args),
    Arm(arm::Args),
}

impl Command {
    fn run(self) -> Result<Finish, Stop> {
        match self {
            Self::Outline(args) => outline::run(&args),
            Self::Photo(args) => photo::run(&args),
            Self::Cut(args) => cut::run(&args),
            Self::Opening(args) => opening::run(&args),
            Self::Blanks(args) => blanks::run(&args),
            Self::Coupon(args) => coupon::run(&args),
            Self::Square(args) => square::run(&args),
            Self::Tip(args) => tip::run(&args),
            Self::Arm(args) => arm::run(&args),
        }
    }
}

/// How a command that could start has ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Finish {
    /// Everything was written.
    Done,
    /// Some input failed, its sentence has been printed, the rest was written.
    SomeFailed,
}

/// Why a command ends at once, in one sentence.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Stop {
    /// The command makes no sense as given; nothing was written.
    Usage(String),
    /// The one thing it was to do failed.
    Failed(String),
}

/// Runs the program.
pub fn run() -> ExitCode {
    // Help and usage errors of the arguments themselves end here, with status 0 and 2.
    let program = Program::parse();
    match program.command.run() {
        Ok(Finish::Done) => ExitCode::SUCCESS,
        Ok(Finish::SomeFailed) => ExitCode::from(1),
        Err(Stop::Failed(sentence)) => {
            eprintln!("trued: {sentence}");
            ExitCode::from(1)
        }
        Err(Stop::Usage(sentence)) => {
            eprintln!("trued: {sentence}");
            ExitCode::from(2)
        }
    }
}
