//! The flags by which a trace is read, shared by all commands that take one, and the reading.

use super::{Stop, io, lengths};
use clap::{Args, ValueEnum};
use trued::format::{self, Content, Decimal, Input, Units, Wanted};
use trued::hint::Hint;
use trued::jobs;
use trued::machine::Profile;
use trued::{Outline, Refusal, Settings, TraceKind, Trued};

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
    /// A hand's trace, whatever file it comes in: the polylines and curves of a drawing are no drawing
    Traced,
    /// A stylus run along a line: many points in order
    Sampled,
    /// A few touches in order: each corner once, arcs by three or more touches
    Touched,
    /// Points in no order
    Cloud,
}

/// The decimal sign of a file.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum DecimalFlag {
    /// 1.5
    Point,
    /// 1,5
    Comma,
}

/// Flags of every command that reads traces.
#[derive(Args, Clone, Debug)]
#[command(next_help_heading = "How the trace is read")]
pub struct ReadingFlags {
    /// Unit of length of inputs that state none; without it mm, and a drawing that states none is doubted
    #[arg(long, value_enum, value_name = "UNIT")]
    pub units: Option<UnitsFlag>,
    /// Corrections as data: which edge is straight, which corner stays sharp, which size is meant
    #[arg(long, value_name = "FILE")]
    pub hints: Option<String>,
    /// Set sizes to whole multiples of STEP (1, 0.5, 1/16in) wherever that lies inside their ±
    #[arg(long, value_name = "STEP", value_parser = lengths::parse)]
    pub whole: Option<lengths::Length>,
    /// How the trace is to be taken; told from the trace itself where not said
    #[arg(long, value_enum, value_name = "KIND")]
    pub kind: Option<KindFlag>,
    /// Put chords of a curve back into arcs, and make curves arcs, no further than LENGTH from what was
    /// drawn (0.05 mm where not said); 0 leaves chords alone
    #[arg(long, value_name = "LENGTH", value_parser = lengths::parse_or_zero)]
    pub chords: Option<lengths::Length>,
    /// Take only these layers of a drawing (of an SVG: groups by id or label), comma between; all that are
    /// shown where not said
    #[arg(long, value_name = "LAYERS", value_delimiter = ',')]
    pub layers: Vec<String>,
    /// Decimal sign of a CSV file that can be read with either
    #[arg(long, value_enum, value_name = "SIGN")]
    pub decimal: Option<DecimalFlag>,
    /// Names of the columns of a CSV file that has none or others: x,y,t,stroke, and - for one to pass over
    #[arg(long, value_name = "NAMES", value_delimiter = ',')]
    pub columns: Vec<String>,
    /// Profile of a machine out of square (see `trued square`): what is written for cutting is
    /// pre-distorted so that it comes out true. Documents (.json) of outlines stay as they are
    #[arg(long, value_name = "FILE")]
    pub machine: Option<String>,
}

/// The flags made ready: settings and hints, read once for all inputs.
pub struct Reader {
    wanted: Wanted,
    settings: Settings,
    hints: Vec<Hint>,
    kind_said: bool,
    machine: Profile,
}

impl ReadingFlags {
    /// Unit of length of inputs that state none.
    pub fn units(&self) -> Units {
        self.units.unwrap_or_default().into()
    }

    /// What the flags say of files.
    pub fn wanted(&self) -> Wanted {
        let units = self.units();
        Wanted {
            units,
            units_said: self.units.is_some(),
            traced: self.kind.is_some(),
            chords: self.chords.map_or(format::CHORDS, |c| c.in_mm(units)),
            layers: self.layers.clone(),
            decimal: self.decimal.map(|d| match d {
                DecimalFlag::Point => Decimal::Point,
                DecimalFlag::Comma => Decimal::Comma,
            }),
            columns: self.columns.clone(),
        }
    }

    /// Reads the hints file and checks the flags.
    pub fn ready(&self) -> Result<Reader, Stop> {
        let hints = match &self.hints {
            None => Vec::new(),
            Some(path) => {
                let source = io::read_source(path).map_err(Stop::Usage)?;
                format::document::read_hints(&source.bytes)
                    .map_err(|e| Stop::Usage(format!("{}: {e}", source.name)))?
            }
        };
        let kind = match self.kind {
            None | Some(KindFlag::Traced) => TraceKind::Auto,
            Some(KindFlag::Sampled) => TraceKind::Sampled,
            Some(KindFlag::Touched) => TraceKind::Touched,
            Some(KindFlag::Cloud) => TraceKind::Cloud,
        };
        Ok(Reader {
            wanted: self.wanted(),
            hints,
            kind_said: self.kind.is_some(),
            machine: self
                .machine
                .as_deref()
                .map_or_else(|| Ok(Profile::default()), profile)?,
            settings: Settings {
                kind,
                whole: self.whole.map(|w| w.in_mm(self.units())),
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
        self.read_from(path, |input| match input.content {
            Content::Trace(trace) => {
                let (marks, settings) = jobs::opening::as_marks(trace, &self.settings);
                trued::true_up(&marks, &settings, &self.hints)
            }
            _ => self.outline_of(input),
        })
    }

    /// Reads a file (`-` is standard input) into an outline: a trace is trued, a saved job is
    /// trued by its own settings and hints with those of the command line after them, an outline
    /// document goes through unchanged. The error is a sentence that names the file.
    pub fn read(&self, path: &str) -> Result<Trued, String> {
        self.read_from(path, |input| self.outline_of(input))
    }

    /// Reads a file and makes an outline of it; what the file's reader said goes before all else.
    fn read_from<F>(&self, path: &str, outline_of: F) -> Result<Trued, String>
    where
        F: FnOnce(Input) -> Result<Trued, Refusal>,
    {
        let source = io::read_source(path)?;
        let read = format::read(path, &source.bytes, self.wanted.clone()).and_then(|mut input| {
            let notes = core::mem::take(&mut input.notes);
            let doubts = core::mem::take(&mut input.doubts);
            let mut trued = outline_of(input)?;
            trued.report.notes.splice(0..0, notes);
            trued.report.doubts.splice(0..0, doubts);
            Ok(trued)
        });
        read.map_err(|e| format!("{}: {e}", source.name))
    }

    fn outline_of(&self, input: Input) -> Result<Trued, Refusal> {
        match input.content {
            Content::Document(document) => Ok(Trued {
                outline: document.outline,
                report: document.report,
            }),
            Content::Hints(_) => Err(Refusal::File(
                "these are hints without a trace; give them with --hints".into(),
            )),
            Content::Job(job) => {
                let mut settings = job.settings;
                settings.whole = self.settings.whole.or(settings.whole);
                if self.kind_said {
                    settings.kind = self.settings.kind;
                }
                let hints = [job.hints.as_slice(), &self.hints].concat();
                trued::true_up(&job.trace, &settings, &hints)
            }
            Content::Trace(trace) if self.kind_said => {
                trued::true_up(&trace.undrawn(), &self.settings, &self.hints)
            }
            Content::Trace(trace) => trued::true_up(&trace, &self.settings, &self.hints),
        }
    }
}
