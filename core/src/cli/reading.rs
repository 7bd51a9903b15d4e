//! The flags by which a trace is read, shared by all commands that take one, and the reading.

use super::photo::{self, PhotoFlags};
use super::said::{RoleFlags, Said, SaidFlags};
use super::{Stop, io, lengths, said_twice};
use clap::{Args, ValueEnum};
use std::path::Path;
use trued::cut::Figures;
use trued::format::{self, Content, Decimal, Document, Units, Wanted};
use trued::hint::Hint;
use trued::jobs;
use trued::machine::Profile;
use trued::photo::{Ask, decode};
use trued::report::Placed;
use trued::{About, Hand, Note, Outline, Refusal, Settings, Trace, TraceKind, Trued};

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

/// How the line came about.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum HandFlag {
    /// It followed something: a marker line, a template, the old part
    Traced,
    /// It was drawn from memory, with nothing to follow
    Drawn,
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
    /// Unit of length of inputs that state none, and of bare numbers; without it the inputs' own, else mm
    /// with a doubt
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
    /// How the line came about: a hand that follows something errs less than one that draws from memory; both
    /// are thought of where not said
    #[arg(long, value_enum, value_name = "HAND")]
    pub hand: Option<HandFlag>,
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
    /// Names of the columns of a CSV file that has none or others: x,y,t,stroke,pen (1 where it is down), and - for one
    /// to pass over
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
    whole: Option<lengths::Length>,
    hints: Vec<Hint>,
    /// Corrections by flags.
    corrections: Vec<Said>,
    kind_said: bool,
    hand: Hand,
    machine: Profile,
    machine_name: Option<String>,
    /// What is asked of pictures; nothing where the command takes none.
    pictures: Option<Option<Ask>>,
}

/// What came of one input.
pub struct Read {
    /// Its name as given; `standard input` for `-`.
    pub name: String,
    /// The outline and what is said of it, by the reader of the file too.
    pub trued: Trued,
    /// What the hand left, where the input was a trace.
    pub trace: Option<Trace>,
    /// How it was to be cut, where the input was a job that says so.
    pub saved: Option<Saved>,
}

/// How a saved job is to be cut.
pub struct Saved {
    /// The figures that were said.
    pub figures: Box<Figures>,
    /// The scrap to cut from, where one was traced.
    pub scrap: Option<Trace>,
}

impl ReadingFlags {
    /// Files that these flags read.
    pub fn read(&self) -> impl Iterator<Item = &str> {
        self.hints.iter().chain(&self.machine).map(String::as_str)
    }

    /// Unit of length of inputs that state none.
    fn units(&self) -> Units {
        self.units.unwrap_or_default().into()
    }

    /// What the flags say of files.
    fn wanted(&self) -> Wanted {
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
        let hand = match self.hand {
            None => Hand::Unsaid,
            Some(HandFlag::Traced) => Hand::Traced,
            Some(HandFlag::Drawn) => Hand::Drawn,
        };
        Ok(Reader {
            wanted: self.wanted(),
            hints,
            corrections: Vec::new(),
            whole: self.whole,
            kind_said: self.kind.is_some(),
            hand,
            machine: self
                .machine
                .as_deref()
                .map_or_else(|| Ok(Profile::default()), profile)?,
            machine_name: self.machine.as_deref().map(|m| {
                let stem = Path::new(m).file_stem().and_then(|s| s.to_str());
                stem.unwrap_or(m).to_owned()
            }),
            settings: Settings {
                kind,
                hand,
                ..Settings::default()
            },
            pictures: None,
        })
    }
}

/// Reads a machine profile.
pub fn profile(path: &str) -> Result<Profile, Stop> {
    let source = io::read_source(path).map_err(Stop::Usage)?;
    let text = core::str::from_utf8(&source.bytes)
        .map_err(|_| Stop::Usage(format!("{}: is not text", source.name)))?;
    Profile::read(text).map_err(|e| Stop::Usage(format!("{}: {e}", source.name)))
}

impl Reader {
    /// The machine that what is written is for; one that does as it is told where none was named.
    pub fn machine(&self) -> &Profile {
        &self.machine
    }

    /// What the profile is called, where one was named.
    pub fn machine_name(&self) -> Option<&str> {
        self.machine_name.as_deref()
    }

    /// An outline as the machine has to be told it, for files that go to a machine.
    pub fn for_machine(&self, outline: &Outline) -> Outline {
        self.machine.correct_outline(outline)
    }

    /// The same for a command that takes pictures too.
    pub fn with_pictures(self, flags: &PhotoFlags) -> Self {
        let ask = flags.ask(self.wanted.units);
        Self {
            pictures: Some(ask),
            ..self
        }
    }

    /// The same with corrections of the command line.
    pub fn with_corrections(self, said: &SaidFlags, roles: &RoleFlags) -> Result<Self, Stop> {
        Ok(Self {
            corrections: said.ready(roles)?,
            ..self
        })
    }

    /// Whether the command line corrects what is read.
    pub fn is_correcting(&self) -> bool {
        !self.corrections.is_empty()
    }

    /// The unit that was said.
    fn said(&self) -> Option<Units> {
        self.wanted.units_said.then_some(self.wanted.units)
    }

    /// The unit that bare numbers are meant in and that is spoken: the one said, else the one all these
    /// inputs state, else mm.
    pub fn units(&self, inputs: &[Read]) -> Units {
        let stated = |r: &Read| r.trued.report.traced_in;
        let first = inputs.iter().find_map(stated);
        let alike = inputs.iter().filter_map(stated).all(|u| Some(u) == first);
        self.said().or(first.filter(|_| alike)).unwrap_or_default()
    }

    /// Reads touched marks and what else was traced: marks go first, the outline of the rest is trued.
    pub fn read_marks(&self, path: &str) -> Result<Read, String> {
        self.read_by(path, |trace, settings, hints| {
            let (marks, settings) = jobs::opening::as_marks(trace.clone(), settings);
            trued::true_up(&marks, &settings, hints)
        })
    }

    /// Reads a file (`-` is standard input) into an outline: a trace is trued, a saved job is
    /// trued by its own settings and hints with those of the command line after them, an outline
    /// document goes through unchanged. The error is a sentence that names the file.
    pub fn read(&self, path: &str) -> Result<Read, String> {
        self.read_by(path, |trace, settings, hints| {
            let corners = settings.kind == TraceKind::Touched;
            let corners = corners.then(|| trace.clone().as_corners());
            let mut trued = trued::true_up(corners.as_ref().unwrap_or(trace), settings, hints)?;
            let marks = trued.outline.marks.len();
            if trued.outline.loops.is_empty() && marks > 2 {
                let text = format!(
                    "{marks} touches were taken as marks of holes; if they are the corners of an outline, in their order, \
                     read them with --kind touched"
                );
                trued.report.notes.push(Note::new(text));
            }
            Ok(trued)
        })
    }

    /// The hints of files with the corrections of the command line after them; what their numbers name is looked
    /// up in what `read` makes of the hints alone.
    fn corrected(
        &self,
        hints: &[Hint],
        units: Units,
        read: impl Fn(&[Hint]) -> Result<Trued, Refusal>,
    ) -> Result<Vec<Hint>, Refusal> {
        let mut out = hints.to_vec();
        let numbered = self.corrections.iter().any(Said::is_numbered);
        let frames = self.corrections.iter().filter(|s| s.moves_all()).count();
        let seen = match numbered || frames > 1 {
            true => Some(read(hints)?),
            false => None,
        };
        let outline = seen.as_ref().map(|s| s.outline.clone()).unwrap_or_default();
        let before = seen.and_then(|s| s.report.placed).unwrap_or_default();
        self.once(hints, &outline, before, units, &read)?;
        let mut moved = before;
        for (i, said) in self.corrections.iter().enumerate() {
            let hint = said.hint(&outline, units).map_err(Refusal::File)?;
            // Said of the drawing as it was looked at; those before it may have moved that.
            out.push(hint.placed(|p| moved.place(before.back(p)), 1.0));
            let more = self.corrections.iter().skip(i + 1);
            if said.moves_all() && more.count() > 0 {
                moved = read(&out)?.report.placed.unwrap_or_default();
            }
        }
        Ok(out)
    }

    /// Refuses two sizes of one thing among what the command line and its hints file say; `outline` is what its numbers
    /// name. What a saved job says gives way to them.
    fn once(
        &self,
        hints: &[Hint],
        outline: &Outline,
        before: Placed,
        units: Units,
        read: impl Fn(&[Hint]) -> Result<Trued, Refusal>,
    ) -> Result<(), Refusal> {
        let own = self
            .hints
            .iter()
            .map(|h| Ok(h.placed(|p| before.place(p), 1.0)));
        let said = self.corrections.iter();
        let said = said.map(|s| s.hint(outline, units).map_err(Refusal::File));
        let all = own.chain(said).collect::<Result<Vec<Hint>, Refusal>>()?;
        if !said_twice::may_differ(&all) {
            return Ok(());
        }
        let bare = outline.loops.is_empty() && outline.marks.is_empty();
        let seen = bare.then(|| read(hints)).transpose()?;
        said_twice::check(&all, seen.as_ref().map_or(outline, |s| &s.outline), units)
    }

    fn read_by(
        &self,
        path: &str,
        true_up: impl Fn(&Trace, &Settings, &[Hint]) -> Result<Trued, Refusal>,
    ) -> Result<Read, String> {
        let source = io::read_source(path)?;
        self.read_bytes(path, &source, true_up)
            .map_err(|e| format!("{}: {e}", source.name))
    }

    fn read_bytes(
        &self,
        path: &str,
        source: &io::Source,
        true_up: impl Fn(&Trace, &Settings, &[Hint]) -> Result<Trued, Refusal>,
    ) -> Result<Read, Refusal> {
        let mut input = match decode::is_picture(&source.bytes) {
            true => photo::input(&source.bytes, self.pictures.as_ref().map(Option::as_ref))?,
            false => format::read(path, &source.bytes, self.wanted.clone())?,
        };
        let units = input.units.or(self.said());
        // Layers that were picked by name are what they are.
        if input.is_plan && self.wanted.layers.is_empty() {
            return Err(Refusal::File(format::PLAN_AGAIN.into()));
        }
        if let (Some(made_for), Some(machine)) = (&input.made_for, &self.machine_name) {
            return Err(Refusal::File(format!(
                "this drawing is pre-distorted for the machine \"{made_for}\" already; for \"{machine}\" it \
                 would be so twice: leave --machine out, or give the document (.json) or the trace"
            )));
        }
        let mut settings = self.settings.clone();
        let whole = |step: lengths::Length| step.in_mm(self.said().or(units).unwrap_or_default());
        settings.whole = self.whole.map(whole);
        let mut saved = None;
        let (mut trued, trace) = match input.content {
            Content::Document(_) if !self.corrections.is_empty() => {
                return Err(Refusal::File(
                    "this is an outline that was read already; corrections are said of its trace or job"
                        .into(),
                ));
            }
            Content::Document(Document { outline, report }) => (Trued { outline, report }, None),
            Content::Hints(_) => {
                return Err(Refusal::File(
                    "these are hints without a trace; give them with --hints".into(),
                ));
            }
            Content::Job(job) => {
                settings = Settings {
                    whole: settings.whole.or(job.settings.whole),
                    kind: match self.kind_said {
                        true => settings.kind,
                        false => job.settings.kind,
                    },
                    hand: match self.hand {
                        Hand::Unsaid => job.settings.hand,
                        said => said,
                    },
                    ..job.settings
                };
                let hints = [job.hints.as_slice(), &self.hints].concat();
                let read = |hints: &[Hint]| trued::true_up(&job.trace, &settings, hints);
                let spoken = self.said().or(units).unwrap_or_default();
                let hints = self.corrected(&hints, spoken, read)?;
                let trued = read(&hints)?;
                if *job.cut != Figures::default() || job.scrap.is_some() {
                    saved = Some(Saved {
                        figures: job.cut,
                        scrap: job.scrap,
                    });
                }
                (trued, Some(job.trace))
            }
            Content::Trace(trace) => {
                let read = |hints: &[Hint]| true_up(&trace, &settings, hints);
                let spoken = self.said().or(units).unwrap_or_default();
                let trued = read(&self.corrected(&self.hints, spoken, read)?)?;
                // A reader that guessed a unit has said so itself.
                if units.is_none() && !input.doubts.iter().any(|d| d.about == About::Units) {
                    input.doubts.extend(format::units_doubt(&trace, &trued));
                }
                (trued, Some(trace))
            }
        };
        let report = &mut trued.report;
        input.notes.append(&mut report.notes);
        input.doubts.append(&mut report.doubts);
        (report.notes, report.doubts) = (input.notes, input.doubts);
        (report.traced_in, report.made_for) = (units, input.made_for);
        Ok(Read {
            name: source.name.clone(),
            trued,
            trace,
            saved,
        })
    }
}
