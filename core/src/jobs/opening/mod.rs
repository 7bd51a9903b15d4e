//! An opening with its holes from touched marks: a vent collar, a caster pad, a burner port.
//!
//! The marks say where the holes are, the pattern behind them ([`mod@crate::fit::pattern`]) where they were
//! meant, and its centre is the surest place there is: it averages all the marks. So the opening is
//! centred on the pattern and lined up with it, unless asked to stay where it was traced; how far
//! that shifts it is said either way.
//!
//! Refused: what cannot be cut (a hole in the opening, holes that run into each other, anything off the
//! stock). Noted: what had better not be (webs thinner than asked, holes small against the
//! thickness). The web that is enough and the hole that is not too small are common practice, not a
//! standard: a web as wide as the plate is thick, a hole of one and a half thicknesses.

mod checks;
mod sizes;

use crate::Refusal;
use crate::cut::stock::Stock;
use crate::fit::pattern::{Pattern, PatternKind, PatternSettings, pattern};
use crate::geom::{Edge, Point, Vec2};
use crate::outline::{Bounds, Chain, Circle, Loop, Outline, Path, Role, Shape};
use crate::reading::Trued;
use crate::report::{About, Doubt, Note, Relation, RelationKind, Report, Size, SizeKind};
use crate::settings::Settings;
use crate::trace::{Stroke, Trace};
use core::f64::consts::PI;

/// The preferred numbers of ISO 3, series R10, in one decade (from memory).
pub const R10: [f64; 10] = [1.0, 1.25, 1.6, 2.0, 2.5, 3.15, 4.0, 5.0, 6.3, 8.0];
/// How much larger than a size of the series a hand may trace it, as a share.
const HAND_OVER: f64 = 0.03;
/// Touches of one stroke further apart than this are no line, mm.
const APART: f64 = 5.0;
/// Most touches that one stroke may list.
const MOST_APART: usize = 12;
/// Another pattern that is likelier than this is a doubt, not a note.
const DOUBTFUL: f64 = 0.2;
/// Web that is enough where no thickness is known, mm.
const WEB: f64 = 3.0;

/// The opening's shape. Lengths are mm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum OpeningShape {
    /// Round, of this diameter.
    Round(f64),
    /// Round, of the next R10 size not below this diameter; without one, not below the traced
    /// opening's (3 % are allowed for the hand).
    NextRound(Option<f64>),
    /// A rectangle, width by height along the pattern's directions.
    Rectangle(f64, f64),
    /// Width by height with full round ends.
    RoundEnded(f64, f64),
    /// The traced one.
    Traced,
}

/// Where the opening goes.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Place {
    /// Its centre on the pattern's centre.
    #[default]
    Pattern,
    /// Where it was traced.
    Traced,
}

/// What is wanted.
#[derive(Clone, Debug, PartialEq)]
pub struct OpeningSettings {
    /// Diameter of the holes, mm.
    pub hole: f64,
    /// The opening's shape.
    pub shape: OpeningShape,
    /// Where it goes.
    pub place: Place,
    /// How the marks are read.
    pub pattern: PatternSettings,
    /// Direction of the width, radians. Default: the pattern's, or the traced opening's longest edge.
    pub angle: Option<f64>,
    /// Thickness of the plate, mm, where known.
    pub thickness: Option<f64>,
    /// Webs thinner than this are noted, mm. Default: the thickness, or 3 mm where that is unknown.
    pub least_web: Option<f64>,
    /// Holes smaller than so many thicknesses are noted. Default 1.5 (common practice).
    pub hole_ratio: f64,
    /// The plate, where known.
    pub stock: Option<Stock>,
}

impl OpeningSettings {
    /// Holes of a diameter with an opening; everything else at its default.
    #[must_use]
    pub fn new(hole: f64, shape: OpeningShape) -> Self {
        Self {
            hole,
            shape,
            place: Place::default(),
            pattern: PatternSettings::default(),
            angle: None,
            thickness: None,
            least_web: None,
            hole_ratio: 1.5,
            stock: None,
        }
    }

    fn web(&self) -> f64 {
        self.least_web.or(self.thickness).unwrap_or(WEB)
    }
}

/// The opening and what is to be said of it.
#[derive(Clone, Debug, PartialEq)]
pub struct Opening {
    /// First the opening, then the holes in the order of the marks; all of role hole.
    pub outline: Outline,
    /// Pattern, sizes with ±, notes.
    pub report: Report,
    /// The pattern as read.
    pub pattern: Pattern,
    /// From where the opening was traced to where it is, mm; `None` where none was traced.
    pub shift: Option<Vec2>,
    /// Metal between each hole and the opening, mm.
    pub webs: Vec<f64>,
}

impl Opening {
    /// The opening in the place of the marks it was made from; what was doubtful or done before is told first.
    #[must_use]
    pub fn after(self, read: Trued) -> Trued {
        let Trued { report: before, .. } = read;
        let mut report = self.report;
        report.notes = [before.notes, report.notes].concat();
        report.doubts = [before.doubts, report.doubts].concat();
        (report.traced_in, report.made_for) = (before.traced_in, before.made_for);
        Trued {
            outline: self.outline,
            report,
        }
    }
}

/// Makes an opening with its holes.
///
/// # Errors
/// Refuses sizes that are none, a traced opening that is missing, and what cannot be cut.
pub fn opening(
    marks: &[Point],
    traced: Option<&Loop>,
    settings: &OpeningSettings,
) -> Result<Opening, Refusal> {
    check(settings)?;
    let traced = traced.filter(|l| l.path.is_closed());
    let pattern = pattern(marks, &settings.pattern)?;
    let center = match settings.place {
        Place::Pattern => pattern.center,
        Place::Traced => center_of(need(traced)?),
    };
    let angle = settings
        .angle
        .unwrap_or_else(|| direction(&pattern, traced));
    let path = shape(settings, traced, center, angle)?;
    let shift = traced.map(|l| center - center_of(l));
    let mut loops = vec![made(path.clone())];
    loops.extend(pattern.holes.iter().map(|&center| {
        made(Path::Circle(Circle {
            center,
            radius: 0.5 * settings.hole,
            counter_clockwise: false,
        }))
    }));
    let mut notes = vec![Note::at(size_in_words(&path, settings), center)];
    notes.extend(said(&pattern, shift, settings.place, center));
    let webs = checks::webs(&loops, &pattern, settings, &mut notes)?;
    checks::between_holes(&pattern, settings, &mut notes)?;
    checks::against_thickness(settings, &mut notes);
    checks::on_stock(&loops, settings, &mut notes)?;
    Ok(Opening {
        report: report(&pattern, &loops, notes),
        outline: Outline {
            loops,
            marks: Vec::new(),
        },
        pattern,
        shift,
        webs,
    })
}

/// Touches as marks, and the settings that leave them where they were touched, for the pattern is told from
/// that: one stroke without pen lifts that is plainly a list of touched holes (up to twelve
/// points, no two of them within 5 mm) is a mark for each point, so that a file of marks need not number its strokes.
#[must_use]
pub fn as_marks(trace: Trace, settings: &Settings) -> (Trace, Settings) {
    let settings = Settings {
        tied: false,
        ..settings.clone()
    };
    let lone = |points: &[Point], i: usize, p: &Point| {
        points.iter().take(i).all(|q| q.distance(*p) > APART)
    };
    let trace = match trace.strokes.as_slice() {
        [Stroke { points, .. }]
            if trace.drawn.is_empty()
                && points.len() <= MOST_APART
                && points.iter().enumerate().all(|(i, p)| lone(points, i, p)) =>
        {
            Trace::from_strokes(points.iter().map(|p| vec![*p]))
        }
        _ => trace,
    };
    (trace, settings)
}

/// The rough opening among what was read: the largest closed loop.
#[must_use]
pub fn rough(outline: &Outline) -> Option<&Loop> {
    let closed = outline.loops.iter().filter(|l| l.path.is_closed());
    closed.max_by(|a, b| a.path.area().abs().total_cmp(&b.path.area().abs()))
}

/// The next size of the R10 series not below `at_least`, mm.
#[must_use]
pub fn next_round(at_least: f64) -> Option<f64> {
    if !(at_least > 0.0 && at_least <= crate::limits::MAX_COORDINATE) {
        return None;
    }
    let mut decade = 1e-3;
    while decade <= crate::limits::MAX_COORDINATE {
        // Sizes are decimal figures: round away what multiplying by the decade leaves.
        let sizes = R10.iter().map(|r| libm::round(r * decade * 1e6) / 1e6);
        if let Some(size) = sizes.into_iter().find(|s| *s >= at_least * (1.0 - 1e-12)) {
            return Some(size);
        }
        decade *= 10.0;
    }
    None
}

fn check(s: &OpeningSettings) -> Result<(), Refusal> {
    let length = |name: &str, value: f64| {
        let fine = value > 0.0 && value <= crate::limits::MAX_COORDINATE;
        fine.then_some(()).ok_or_else(|| {
            Refusal::Setting(format!("{name} is {value}: it must be a length over 0"))
        })
    };
    length("the hole diameter", s.hole)?;
    match s.shape {
        OpeningShape::Round(d) | OpeningShape::NextRound(Some(d)) => {
            length("the diameter of the opening", d)?;
        }
        OpeningShape::Rectangle(w, h) | OpeningShape::RoundEnded(w, h) => {
            length("the width of the opening", w)?;
            length("the height of the opening", h)?;
        }
        OpeningShape::NextRound(None) | OpeningShape::Traced => {}
    }
    if let Some(t) = s.thickness {
        length("the thickness", t)?;
    }
    if !(s.least_web.unwrap_or(0.0) >= 0.0 && s.hole_ratio >= 0.0) {
        return Err(Refusal::Setting(
            "the least web and the hole ratio must be 0 or more".into(),
        ));
    }
    if s.angle.is_some_and(|a| !a.is_finite()) {
        return Err(Refusal::Setting("the angle is no number".into()));
    }
    Ok(())
}

fn need(traced: Option<&Loop>) -> Result<&Loop, Refusal> {
    traced.ok_or_else(|| {
        Refusal::Trace("no rough opening was traced: trace it closed, or say a size".into())
    })
}

fn made(path: Path) -> Loop {
    let path = if path.area() > 0.0 {
        path.reversed()
    } else {
        path
    };
    Loop {
        role: Role::Hole,
        path,
        deviation: None,
    }
}

/// Centre of area.
fn center_of(l: &Loop) -> Point {
    if let Path::Circle(c) = &l.path {
        return c.center;
    }
    let points = l.path.flatten(0.001);
    let Some(&origin) = points.first() else {
        return Point::default();
    };
    let (mut area, mut moment) = (0.0, Vec2::default());
    for pair in points.windows(2) {
        if let [a, b] = pair {
            let (a, b) = (*a - origin, *b - origin);
            let twice = a.cross(b);
            area += twice;
            moment += (a + b) * (twice / 3.0);
        }
    }
    if area == 0.0 {
        origin
    } else {
        origin + moment / area
    }
}

/// Direction of the opening's width: the pattern's where it has one, else the longest straight traced edge's.
fn direction(pattern: &Pattern, traced: Option<&Loop>) -> f64 {
    match pattern.kind {
        PatternKind::Square | PatternKind::Rectangle | PatternKind::Row => pattern.angle,
        PatternKind::Circle | PatternKind::Single | PatternKind::Free => {
            let edges = traced.map(|l| l.path.edges()).unwrap_or_default();
            let longest = edges
                .iter()
                .filter(|e| matches!(e, Edge::Line(_)))
                .max_by(|a, b| a.length().total_cmp(&b.length()));
            // Along x as near as may be: width stays width.
            longest.map_or(0.0, |e| {
                0.25 * libm::remainder(4.0 * e.direction_at(0.5).angle(), 2.0 * PI)
            })
        }
    }
}

fn shape(
    s: &OpeningSettings,
    traced: Option<&Loop>,
    center: Point,
    angle: f64,
) -> Result<Path, Refusal> {
    let round = |d: f64| {
        Path::Circle(Circle {
            center,
            radius: 0.5 * d,
            counter_clockwise: false,
        })
    };
    Ok(match s.shape {
        OpeningShape::Round(d) => round(d),
        OpeningShape::NextRound(d) => {
            let at_least = match d {
                Some(d) => d,
                None => 2.0 * (need(traced)?.path.area().abs() / PI).sqrt() * (1.0 - HAND_OVER),
            };
            round(next_round(at_least).ok_or_else(|| {
                Refusal::Setting(format!(
                    "no size of the series is as large as {at_least:.1} mm"
                ))
            })?)
        }
        OpeningShape::Rectangle(w, h) => rectangle(center, angle, w, h),
        OpeningShape::RoundEnded(w, h) if w == h => round(w),
        OpeningShape::RoundEnded(w, h) => round_ended(center, angle, w, h),
        OpeningShape::Traced => {
            let traced = need(traced)?;
            moved(&traced.path, center - center_of(traced))
        }
    })
}

fn moved(path: &Path, by: Vec2) -> Path {
    match path {
        Path::Circle(c) => Path::Circle(Circle {
            center: c.center + by,
            ..*c
        }),
        Path::Chain(c) => Path::Chain(Chain {
            corners: c.corners.iter().map(|&p| p + by).collect(),
            shapes: c.shapes.clone(),
        }),
    }
}

/// Corners of a rectangle `w` wide along `angle` and `h` high, counter-clockwise.
fn corners(center: Point, angle: f64, w: f64, h: f64) -> Vec<Point> {
    let x = Vec2::from_angle(angle);
    let corner = |(s, t): (f64, f64)| center + x * (s * 0.5 * w) + x.left() * (t * 0.5 * h);
    [(-1.0, -1.0), (1.0, -1.0), (1.0, 1.0), (-1.0, 1.0)]
        .map(corner)
        .to_vec()
}

fn rectangle(center: Point, angle: f64, w: f64, h: f64) -> Path {
    Path::Chain(Chain {
        corners: corners(center, angle, w, h),
        shapes: vec![Shape::Line; 4],
    })
}

fn round_ended(center: Point, angle: f64, w: f64, h: f64) -> Path {
    // Laid along its longer side.
    let (angle, long, wide) = if w > h {
        (angle, w, h)
    } else {
        (angle + 0.5 * PI, h, w)
    };
    let end = Shape::Arc { sweep: PI };
    Path::Chain(Chain {
        corners: corners(center, angle, long - wide, wide),
        shapes: vec![Shape::Line, end, Shape::Line, end],
    })
}

/// How large the opening is, and which step of the series that is.
fn size_in_words(path: &Path, s: &OpeningSettings) -> String {
    let step = |d: f64| match next_round(d * (1.0 - 1e-9)) {
        Some(size) if (size - d).abs() < 1e-6 * d => {
            format!(
                "the opening is round, {d} mm across: step {d} of the preferred sizes R10 (ISO 3)"
            )
        }
        _ => format!("the opening is round, {d:.1} mm across"),
    };
    match (path, s.shape) {
        (Path::Circle(c), _) => step(libm::round(2e6 * c.radius) / 1e6),
        (_, OpeningShape::Rectangle(w, h)) => format!("the opening is {w} x {h} mm"),
        (_, OpeningShape::RoundEnded(w, h)) => {
            format!("the opening is {w} x {h} mm over its round ends")
        }
        _ => match Bounds::of_path(path) {
            Some(b) => format!(
                "the opening is as traced, {:.1} x {:.1} mm over all",
                b.width(),
                b.height()
            ),
            None => "the opening is as traced".to_owned(),
        },
    }
}

fn or_else(other: PatternKind, chance: f64) -> String {
    format!(
        "the holes could also be {} ({:.0} in 100): say which if you know",
        other.name(),
        100.0 * chance
    )
}

/// What is said of pattern and place.
fn said(pattern: &Pattern, shift: Option<Vec2>, place: Place, center: Point) -> Vec<Note> {
    let mut notes = vec![Note::at(pattern.sentence(), pattern.center)];
    if let Some((other, chance)) = pattern.else_maybe.filter(|e| e.1 > 0.01 && e.1 <= DOUBTFUL) {
        notes.push(Note::new(or_else(other, chance)));
    }
    if !matches!(pattern.kind, PatternKind::Free | PatternKind::Single) {
        for (i, (hole, off)) in pattern.holes.iter().zip(&pattern.off).enumerate() {
            notes.push(Note::at(
                format!(
                    "mark {} was {:.2} mm out of pattern ({:+.2}, {:+.2})",
                    i + 1,
                    off.length(),
                    off.x,
                    off.y
                ),
                *hole,
            ));
        }
    }
    notes.extend(pattern.notes.iter().map(Note::new));
    let vector = |v: Vec2| format!("{:.2} mm ({:+.2}, {:+.2})", v.length(), v.x, v.y);
    match (shift, place) {
        (Some(shift), Place::Pattern) => notes.push(Note::new(format!(
            "the opening was moved by {} onto the centre of the holes",
            vector(shift)
        ))),
        (Some(_), Place::Traced) => notes.push(Note::new(format!(
            "the opening stays where it was traced, {} off the centre of the holes",
            vector(center - pattern.center)
        ))),
        (None, _) => {}
    }
    notes
}

fn report(pattern: &Pattern, loops: &[Loop], notes: Vec<Note>) -> Report {
    let kind = match pattern.kind {
        PatternKind::Circle | PatternKind::Square => Some(RelationKind::HoleCircle),
        PatternKind::Row | PatternKind::Rectangle => Some(RelationKind::HoleRow),
        PatternKind::Single | PatternKind::Free => None,
    };
    let relation = |kind| Relation {
        kind,
        loop_index: 1,
        edges: Vec::new(),
        value: pattern.pitch.first().copied(),
        with: Vec::new(),
        marks: Vec::new(),
    };
    let size = |(value, plus_minus): (&f64, &f64)| Size {
        kind: SizeKind::Spacing,
        loop_index: 1,
        edges: Vec::new(),
        value: *value,
        plus_minus: *plus_minus,
        fixed: *plus_minus == 0.0,
        at: pattern.center,
        hole: None,
        mark: None,
    };
    let doubtful = pattern.else_maybe.filter(|e| e.1 > DOUBTFUL);
    let doubt = |(other, chance)| Doubt::at(About::Reading, or_else(other, chance), pattern.center);
    Report {
        doubts: doubtful.map(doubt).into_iter().collect(),
        relations: kind.map(relation).into_iter().collect(),
        sizes: pattern
            .pitch
            .iter()
            .zip(&pattern.pitch_plus_minus)
            .map(size)
            .chain(loops.iter().enumerate().flat_map(|(i, l)| sizes::of(i, l)))
            .collect(),
        notes,
        ..Report::default()
    }
}
