//! The browser's door to trued: a translator.
//!
//! Typed arrays and one settings object come in, plain results go out. Nothing in here shapes a piece or
//! words a sentence: both belong to the library, so that the page, the program and a test cannot
//! disagree. The page keeps a [`Bench`] in a worker; what is held there between calls is only what
//! would be dear to send again. On its own thread it keeps a [`line::HandLine`], to draw.

mod clock;
mod jobs;
mod line;
mod machine;
mod plan;
mod trace;
#[cfg(not(target_arch = "wasm32"))]
pub mod types;
mod view;

use serde::Serialize;
use serde::de::DeserializeOwned;
use serde_wasm_bindgen::Serializer;
use trued::cut::Accepted;
use trued::format::look::{self, Seen};
use trued::format::{self, Content, Document, Job, Units};
use trued::machine::Profile;
use trued::report::About;
use trued::{Doubt, Hint, Outline, Reader, Refusal, Settings, Trace, Trued};
use wasm_bindgen::prelude::*;

/// A panic says why on the console before the module traps.
#[wasm_bindgen(start)]
fn say_panics() {
    std::panic::set_hook(Box::new(|panic| {
        web_sys::console::error_1(&panic.to_string().into());
    }));
}

/// What the page is working on.
#[wasm_bindgen]
#[derive(Default)]
pub struct Bench {
    trace: Trace,
    /// Reads it, and remembers how.
    reader: Reader,
    /// The unit that its file states.
    traced_in: Option<Units>,
    /// What its file left doubtful.
    doubted: Vec<Doubt>,
    trued: Trued,
    plan: Option<trued::cut::Plan>,
    /// The plan lies elsewhere than the trace.
    laid: bool,
}

#[wasm_bindgen]
impl Bench {
    /// An empty bench.
    #[wasm_bindgen(constructor)]
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// Takes a trace: `points` are x, y by turns in mm; `starts` is the number of the first point
    /// of each stroke; `times` in seconds, one for each point or none at all (NaN where a stroke
    /// has none); `drawn` the exact edges a drawing file stated; `inches` where the file says that it is in them;
    /// `doubts` what its file left doubtful.
    ///
    /// # Errors
    /// Says which part does not fit together.
    pub fn hold(
        &mut self,
        points: &[f64],
        starts: &[u32],
        times: &[f64],
        drawn: JsValue,
        inches: bool,
        doubts: JsValue,
    ) -> Result<(), JsError> {
        let mut trace = trace::from_arrays(points, starts, times)?;
        if !drawn.is_undefined() {
            trace.drawn = taken(&drawn)?;
        }
        self.trace = trace;
        self.traced_in = inches.then_some(Units::Inch);
        self.doubted = taken::<Option<_>>(&doubts)?.unwrap_or_default();
        Ok(())
    }

    /// Reads the held trace under settings and hints; with an opening asked for, makes it from the
    /// marks and the rough loop that were read.
    ///
    /// # Errors
    /// The library's refusal, one sentence.
    #[wasm_bindgen(unchecked_return_type = "Outcome")]
    pub fn read(
        &mut self,
        #[wasm_bindgen(unchecked_param_type = "Partial<Settings>")] settings: JsValue,
        #[wasm_bindgen(unchecked_param_type = "Hint[]")] hints: JsValue,
        #[wasm_bindgen(unchecked_param_type = "OpeningAsked | null")] opening: JsValue,
    ) -> Result<JsValue, JsError> {
        let settings: Settings = taken(&settings)?;
        let hints: Vec<Hint> = taken(&hints)?;
        let opening: Option<jobs::OpeningAsked> = taken(&opening)?;
        let began = clock::now();
        // A refusal must not leave the outline of an earlier trace to be saved.
        self.trued = Trued::default();
        self.trued = match opening {
            None => self.reader.true_up(&self.trace, &settings, &hints)?,
            Some(asked) => {
                let (marks, settings) =
                    trued::jobs::opening::as_marks(self.trace.clone(), &settings);
                jobs::opening(self.reader.true_up(&marks, &settings, &hints)?, &asked)?
            }
        };
        self.trued.report.traced_in = self.traced_in;
        self.trued
            .report
            .doubts
            .splice(0..0, self.doubted.iter().cloned());
        let took = began.zip(clock::now()).map(|(from, to)| to - from);
        given(&view::outcome(&self.trued, took))
    }

    /// Reads a file: what it held, as arrays and plain values. A trace or job in it is not yet
    /// held; an outline that is already true is.
    ///
    /// # Errors
    /// The library's refusal, one sentence.
    #[wasm_bindgen(unchecked_return_type = "Opened")]
    pub fn open(&mut self, name: &str, bytes: &[u8], inches: bool) -> Result<JsValue, JsError> {
        let mut input = format::read(name, bytes, units(inches))?;
        if input.is_plan {
            return Err(Refusal::File(format::PLAN_AGAIN.into()).into());
        }
        if let Some(machine) = &input.made_for {
            let text = format!(
                "this file is pre-distorted for the machine \"{machine}\" already: take that machine's profile out, or \
                 open the outline it was made of"
            );
            input.doubts.push(Doubt::new(About::Machine, text));
        }
        let mut opened = trace::Opened {
            kind: "trace",
            ..trace::Opened::default()
        };
        match input.content {
            Content::Trace(trace) => opened.trace = trace,
            Content::Job(job) => {
                opened.kind = "job";
                opened.trace = job.trace;
                opened.settings = Some(job.settings);
                opened.hints = job.hints;
                opened.cut = Some(*job.cut);
                opened.scrap = job.scrap;
            }
            Content::Hints(hints) => {
                opened.kind = "hints";
                opened.hints = hints;
            }
            Content::Document(Document { outline, report }) => {
                opened.trace = view::as_drawn(&outline);
                input.doubts.extend(report.doubts);
            }
        }
        let inches = input.units == Some(Units::Inch);
        let said = (given(&input.notes)?, given(&input.doubts)?);
        trace::to_object(&opened, said, inches)
    }

    /// Lays out and plans the cut of what was read. `scrap` is a traced stock, as arrays.
    ///
    /// # Errors
    /// The library's refusal, one sentence.
    #[wasm_bindgen(unchecked_return_type = "PlanView")]
    pub fn plan(
        &mut self,
        #[wasm_bindgen(unchecked_param_type = "Figures")] figures: JsValue,
        scrap_points: &[f64],
        scrap_starts: &[u32],
        scrap_drawn: JsValue,
    ) -> Result<JsValue, JsError> {
        self.plan = None;
        let figures: trued::cut::Figures = taken(&figures)?;
        let scrap = scrap_of(scrap_points, scrap_starts, &scrap_drawn)?;
        let made = plan::make(&self.trued, &figures, scrap.as_ref())?;
        let view = given(&plan::view(&made));
        self.laid = made.laid;
        self.plan = made.plan;
        view
    }

    /// Lays blanks on a scrap and plans their cut: of what was read, or of a size.
    ///
    /// # Errors
    /// The library's refusal, one sentence.
    #[wasm_bindgen(unchecked_return_type = "BlanksView")]
    pub fn blanks(
        &mut self,
        #[wasm_bindgen(unchecked_param_type = "Figures")] figures: JsValue,
        scrap_points: &[f64],
        scrap_starts: &[u32],
        scrap_drawn: JsValue,
    ) -> Result<JsValue, JsError> {
        self.plan = None;
        let scrap = scrap_of(scrap_points, scrap_starts, &scrap_drawn)?;
        let made = jobs::blanks(&self.trued, &taken(&figures)?, scrap.as_ref())?;
        let view = given(&made.view());
        self.laid = true;
        self.plan = made.into_plan();
        view
    }

    /// A test piece with its plan.
    ///
    /// # Errors
    /// The library's refusal, one sentence.
    #[wasm_bindgen(unchecked_return_type = "CouponView")]
    pub fn coupon(
        &mut self,
        #[wasm_bindgen(unchecked_param_type = "CouponAsked")] asked: JsValue,
    ) -> Result<JsValue, JsError> {
        self.plan = None;
        let made = jobs::coupon_of(&taken(&asked)?)?;
        let view = given(&made.view());
        self.laid = true;
        self.plan = made.into_plan();
        view
    }

    /// The held trace as another tip than the believed one drew it; `notes` names the points that
    /// cannot have been reached and were left out.
    ///
    /// # Errors
    /// The library's refusal, one sentence.
    #[wasm_bindgen(unchecked_return_type = "Retipped")]
    pub fn retip(
        &self,
        #[wasm_bindgen(unchecked_param_type = "Arm")] arm: JsValue,
        believed: &str,
        actual: &str,
    ) -> Result<JsValue, JsError> {
        machine::retipped(&self.trace, &taken(&arm)?, believed, actual)
    }

    /// The plan as one of its files: `rs274`, `dry`, `plan-dxf`, `plan-svg`, `sheet`, `look` or `template`.
    /// `accepted` are the numbers of the doubts that the person takes on.
    ///
    /// # Errors
    /// Says what is no profile of a machine, and which doubts stand.
    pub fn plan_file(
        &self,
        kind: &str,
        inches: bool,
        #[wasm_bindgen(unchecked_param_type = "Profile | null")] machine: JsValue,
        accepted: &[u32],
    ) -> Result<Option<String>, JsError> {
        let machine = profile_of(&machine)?;
        let numbers = accepted.iter().map(|n| *n as usize);
        let accepted = Accepted::These(numbers.collect());
        // Laid out elsewhere, a piece leaves the hand's line behind.
        let seen = match self.laid {
            true => Seen::default(),
            false => Seen::of(&self.trued, Some(&self.trace), units(inches)),
        };
        let file = |plan| plan::file(plan, &seen, &machine, kind, units(inches), &accepted);
        Ok(self.plan.as_ref().map(file).transpose()?.flatten())
    }

    /// What was read as a picture to look at before anything is cut.
    #[must_use]
    pub fn look(&self, inches: bool) -> String {
        let (report, units) = (&self.trued.report, units(inches));
        let seen = Seen::of(&self.trued, Some(&self.trace), units);
        let notes: Vec<String> = report.notes.iter().map(|n| n.text.clone()).collect();
        look::of_outline(
            "Outline",
            &self.trued.outline,
            &seen,
            &report.doubts,
            &notes,
            units,
        )
    }

    /// The outline document as text: byte for byte what the program writes.
    #[must_use]
    pub fn document(&self) -> String {
        format::document::write(&self.trued.outline, &self.trued.report)
    }

    /// The job document as text.
    ///
    /// # Errors
    /// Says which setting, hint or figure is none.
    pub fn job(
        &self,
        #[wasm_bindgen(unchecked_param_type = "Partial<Settings>")] settings: JsValue,
        #[wasm_bindgen(unchecked_param_type = "Hint[]")] hints: JsValue,
        #[wasm_bindgen(unchecked_param_type = "Figures")] cut: JsValue,
        scrap_points: &[f64],
        scrap_starts: &[u32],
        scrap_drawn: JsValue,
    ) -> Result<String, JsError> {
        Ok(format::document::write_job(&Job {
            trace: self.trace.clone(),
            settings: taken(&settings)?,
            hints: taken(&hints)?,
            doubts: self.doubted.clone(),
            cut: taken(&cut)?,
            scrap: scrap_of(scrap_points, scrap_starts, &scrap_drawn)?,
        }))
    }

    /// The outline as SVG text, pre-distorted for the machine.
    ///
    /// # Errors
    /// Says what is no profile of a machine.
    pub fn svg(
        &self,
        inches: bool,
        #[wasm_bindgen(unchecked_param_type = "Profile | null")] machine: JsValue,
    ) -> Result<String, JsError> {
        Ok(format::svg::write(&self.sent(&machine)?, units(inches)))
    }

    /// The outline as DXF text, pre-distorted for the machine.
    ///
    /// # Errors
    /// Says what is no profile of a machine.
    pub fn dxf(
        &self,
        inches: bool,
        #[wasm_bindgen(unchecked_param_type = "Profile | null")] machine: JsValue,
    ) -> Result<String, JsError> {
        Ok(format::dxf::write(&self.sent(&machine)?, units(inches)))
    }
}

impl Bench {
    /// The outline as the machine has to be told it.
    fn sent(&self, machine: &JsValue) -> Result<Outline, JsError> {
        Ok(profile_of(machine)?.correct_outline(&self.trued.outline))
    }
}

/// What must be said wherever a cut file leaves the page.
#[wasm_bindgen]
#[must_use]
pub fn cautions() -> Vec<String> {
    trued::cautions::CAUTIONS.map(str::to_owned).to_vec()
}

/// The same in one line.
#[wasm_bindgen]
#[must_use]
pub fn caution_line() -> String {
    trued::cautions::CAUTION_LINE.to_owned()
}

/// The machine that files are for; one that does as it is told where none is named.
fn profile_of(machine: &JsValue) -> Result<Profile, JsError> {
    let machine = taken::<Option<Profile>>(machine)?.unwrap_or_default();
    machine.check()?;
    Ok(machine)
}

/// A traced scrap as arrays; none where there is nothing in them.
fn scrap_of(points: &[f64], starts: &[u32], drawn: &JsValue) -> Result<Option<Trace>, JsError> {
    let mut scrap = trace::from_arrays(points, starts, &[])?;
    if !drawn.is_undefined() {
        scrap.drawn = taken(drawn)?;
    }
    let some = !(scrap.strokes.is_empty() && scrap.drawn.is_empty());
    Ok(some.then_some(scrap))
}

fn units(inches: bool) -> Units {
    if inches { Units::Inch } else { Units::Mm }
}

// Plain values come in as JSON text: the library reads JSON anyway, a second reader of every type would
// weigh much, and every number survives it bit for bit. They go out as they are.

fn taken<T: DeserializeOwned>(value: &JsValue) -> Result<T, JsError> {
    let text = js_sys::JSON::stringify(value).map_err(|_| JsError::new("not a plain value"))?;
    serde_json::from_str(&String::from(text)).map_err(|e| JsError::new(&e.to_string()))
}

fn given<T: Serialize>(value: &T) -> Result<JsValue, JsError> {
    Ok(value.serialize(&Serializer::json_compatible())?)
}
