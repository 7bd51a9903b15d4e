//! The flags by which a trace is read, shared by all commands that take one, and the reading.

use super::{Stop, io, lengths};
use clap::{Args, ValueEnum};
use trued::format::{self, Content, Units};
use trued::hint::Hint;
use trued::jobs;
use trued::machine::Profile;
use trued::{Outline, Settings, Trace, TraceKind, Trued};

/// `mm` or `in`.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, ValueEnum)]
pub enum UnitsFlag {
    /// Millimetres
    #[default]
    Mm,
    /// Inches
    In,
}

impl From<UnitsFlag> for Units {
    fn from(flag: UnitsFlag) -> Self {
        match flag {
            UnitsFlag::Mm => Self::Mm,
            UnitsFlag::In => Self::Inch,
        }
    }
}

/// How a trace is to be taken.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum KindFlag {
    /// A stylus run along a line: many points in order
    Sampled,
    /// A few touches in order: each corner once, arcs by three or more touches
    Touched,
    /// Points in no order
    Cloud,
}

/// Flags of every command that reads traces.
#[derive(Args, Clone, Debug)]
#[command(next_help_heading = "How the trace is read")]
pub struct ReadingFlags {
    /// Unit of length of inputs that state none
    #[arg(long, value_enum, default_value_t, value_name = "UNIT")]
    pub units: UnitsFlag,
    /// Corrections as data: which edge is straight, which corner stays sharp, which size is meant
    #[arg(long, value_name = "FILE")]
    pub hints: Option<String>,
    /// Set sizes to whole multiples of STEP (1, 0.5, 1/16in) wherever that lies inside their ±
    #[arg(long, value_name = "STEP", value_parser = lengths::parse)]
    pub whole: Option<lengths::Length>,
    /// How the trace is to be taken; told from the trace itself where not said
    #[arg(long, value_enum, value_name = "KIND")]
    pub kind: Option<KindFlag>,
    /// Profile of a machine out of square (see `trued square`): what is written for cutting is
    /// pre-distorted so that it comes out true. Documents (.json) of outlines stay as they are
    #[arg(long, value_name = "FILE")]
    pub machine: Option<String>,
}

/// The flags made ready: settings and hints, read once for all inputs.
pub struct Reader {
    units: Units,
    settings: Settings,
    hints: Vec<Hint>,
    kind_said: bool,
    machine: Profile,
}

impl ReadingFlags {
    /// Reads the hints file and checks the flags.
    pub fn ready(&self) -> Result<Reader, Stop> {
        let units = Units::from(self.units);
        let hints = match &self.hints {
            None => Vec::new(),
            Some(path) => {
                let source = io::read_source(path).map_err(Stop::Usage)?;
                format::document::read_hints(&source.bytes)
                    .map_err(|e| Stop::Usage(format!("{}: {e}", source.name)))?
            }
        };
        let kind = match self.kind {
            None => TraceKind::Auto,
            Some(KindFlag::Sampled) => TraceKind::Sampled,
            Some(KindFlag::Touched) => TraceKind::Touched,
            Some(KindFlag::Cloud) => TraceKind::Cloud,
        };
        Ok(Reader {
            units,
            hints,
            kind_said: self.kind.is_some(),
            machine: self
                .machine
                .as_deref()
                .map_or_else(|| Ok(Profile::default()), profile)?,
            settings: Settings {
                kind,
                whole: self.whole.map(|w| w.in_mm(units)),
                ..Settings::default()
            },
        })
    }
}

/// Reads a machine profile.
pub fn profile(path: &str) -> Result<Profile, Stop> {
    let source = io::read_source(path).map_err(Stop::Usage)?;
    let text = core::str::from_utf8(&source.bytes)
        .map_err(|_| Stop::Usage(format!("{}: is not text", source.name)))?;
    Profile::from_toml(text).map_err(|e| Stop::Usage(format!("{}: {e}", source.name)))
}

impl Reader {
    /// The machine that what is written is for; one that does as it is told where none was named.
    pub fn machine(&self) -> &Profile {
        &self.machine
    }

    /// An outline as the machine has to be told it, for files that go to a machine.
    pub fn for_machine(&self, outline: &Outline) -> Outline {
        self.machine.correct_outline(outline)
    }

    /// Reads touched marks and what else was traced: marks go first, the outline of the rest is trued.
    pub fn read_marks(&self, path: &str) -> Result<Trued, String> {
        let source = io::read_source(path)?;
        let fail = |e: trued::Refusal| format!("{}: {e}", source.name);
        let input = format::read(path, &source.bytes, self.units).map_err(fail)?;
        match input.content {
            Content::Trace(trace) => self.marks_of(trace).map_err(fail),
            _ => self.read_bytes(path, &source.bytes).map_err(fail),
        }
    }

    fn marks_of(&self, trace: Trace) -> Result<Trued, trued::Refusal> {
        let (marks, settings) = jobs::opening::as_marks(trace, &self.settings);
        trued::true_up(&marks, &settings, &self.hints)
    }

    /// Reads a file (`-` is standard input) into an outline: a trace is trued, a saved job is
    /// trued by its own settings and hints with those of the command line after them, an outline
    /// document goes through unchanged. The error is a sentence that names the file.
    pub fn read(&self, path: &str) -> Result<Trued, String> {
        let source = io::read_source(path)?;
        self.read_bytes(path, &source.bytes)
            .map_err(|e| format!("{}: {e}", source.name))
    }

    fn read_bytes(&self, path: &str, bytes: &[u8]) -> Result<Trued, trued::Refusal> {
        let mut input = format::read(path, bytes, self.units)?;
        let mut trued = match input.content {
            Content::Document(document) => {
                return Ok(Trued {
                    outline: document.outline,
                    report: document.report,
                });
            }
            Content::Hints(_) => {
                return Err(trued::Refusal::File(
                    "these are hints without a trace; give them with --hints".into(),
                ));
            }
            Content::Job(job) => {
                let mut settings = job.settings;
                settings.whole = self.settings.whole.or(settings.whole);
                if self.kind_said {
                    settings.kind = self.settings.kind;
                }
                let hints = [job.hints.as_slice(), &self.hints].concat();
                trued::true_up(&job.trace, &settings, &hints)?
            }
            Content::Trace(trace) if self.kind_said => {
                trued::true_up(&trace.undrawn(), &self.settings, &self.hints)?
            }
            Content::Trace(trace) => trued::true_up(&trace, &self.settings, &self.hints)?,
        };
        input.notes.append(&mut trued.report.notes);
        trued.report.notes = input.notes;
        Ok(trued)
    }
}
