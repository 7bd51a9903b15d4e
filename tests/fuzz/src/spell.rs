//! Traces, outlines and settings spelt by bytes.
//!
//! A place takes four bytes: two signed 16-bit steps of 1/64 mm, so that it lies within half a metre
//! of the origin. The lowest step of x is no place but a sign: the y beside it says what.

use trued::cut::CutSettings;
use trued::hint::{CornerKind, EdgeKind, LoopKind, Says};
use trued::{
    Chain, Circle, Hint, Loop, Mark, Outline, Path, Point, Role, Settings, Shape, Stroke, Trace,
    TraceKind,
};

const STEP: f64 = 1.0 / 64.0;
const SIGN: i16 = i16::MIN;

/// Bytes taken from the front; zeros when they run out.
pub struct Bytes<'a>(pub &'a [u8]);

impl Bytes<'_> {
    pub fn byte(&mut self) -> u8 {
        let Some((first, rest)) = self.0.split_first() else {
            return 0;
        };
        self.0 = rest;
        *first
    }

    fn word(&mut self) -> i16 {
        i16::from_le_bytes([self.byte(), self.byte()])
    }

    fn place(&mut self) -> Point {
        Point::new(f64::from(self.word()) * STEP, f64::from(self.word()) * STEP)
    }

    /// A size: 0 to 63.75 mm, or one that nobody means.
    fn size(&mut self) -> f64 {
        match self.byte() {
            255 => f64::NAN,
            254 => f64::INFINITY,
            253 => -1.0,
            252 => 1e300,
            251 => 1e-300,
            b => f64::from(b) * 0.25,
        }
    }
}

/// How a trace is to be read, the trace, and what the person says of it.
#[must_use]
pub fn trace(bytes: &[u8]) -> (Trace, Settings, Vec<Hint>) {
    let mut b = Bytes(bytes);
    let settings = settings(&mut b);
    let hints = b.byte() % 4;
    let hints = (0..hints).map(|_| hint(&mut b)).collect();
    let mut strokes = vec![Stroke::default()];
    while !b.0.is_empty() {
        let (x, y) = (b.word(), b.word());
        let last = strokes.len() - 1;
        let points = &mut strokes[last].points;
        match (x, y & 7) {
            (SIGN, 0) => points.push(Point::new(f64::NAN, 0.0)),
            (SIGN, 1) => points.push(Point::new(1e300, -1e300)),
            (SIGN, 2) => points.extend(points.first().copied()),
            (SIGN, 3) => points.extend(points.last().copied()),
            (SIGN, _) => strokes.push(Stroke::default()),
            _ => points.push(Point::new(f64::from(x) * STEP, f64::from(y) * STEP)),
        }
    }
    let trace = Trace {
        strokes,
        drawn: Vec::new(),
    };
    (trace, settings, hints)
}

fn settings(b: &mut Bytes) -> Settings {
    let flags = b.byte();
    let kinds = [
        TraceKind::Auto,
        TraceKind::Sampled,
        TraceKind::Touched,
        TraceKind::Cloud,
    ];
    let plain = Settings::default();
    Settings {
        kind: kinds[usize::from(flags & 3)],
        whole: (flags & 4 != 0).then(|| b.size()),
        mark_size: if flags & 8 != 0 {
            b.size()
        } else {
            plain.mark_size
        },
        station: if flags & 16 != 0 {
            b.size()
        } else {
            plain.station
        },
        tied: flags & 32 == 0,
        ..plain
    }
}

fn hint(b: &mut Bytes) -> Hint {
    let at = b.place();
    let says = match b.byte() % 24 {
        0 => Says::Edge(EdgeKind::Straight),
        1 => Says::Edge(EdgeKind::Arc),
        2 => Says::Size(b.size()),
        3 => Says::Corner(CornerKind::Sharp),
        4 => Says::Corner(CornerKind::Radius(b.size())),
        5 => Says::Parallel(b.place()),
        6 => Says::Equal(b.place()),
        7 => Says::Loop(LoopKind::Part),
        8 => Says::Loop(LoopKind::Hole),
        9 => Says::Loop(LoopKind::Open),
        10 => Says::Loop(LoopKind::Circle),
        11 => Says::Loop(LoopKind::Rectangle),
        12 => Says::Hole(b.size(), Vec::new()),
        13 => Says::Loop(LoopKind::Alone),
        14 => Says::Scale(b.size()),
        15 => Says::Diameter(b.size()),
        16 => Says::Radius(b.size()),
        17 => Says::Corner(CornerKind::Square),
        18 => Says::Corner(CornerKind::Angle(b.size())),
        19 => Says::Distance(b.size(), b.place()),
        20 => Says::InLine(b.place()),
        21 => Says::Level(b.size()),
        22 => Says::Zero,
        _ => Says::Datum(b.place()),
    };
    Hint { at, says }
}

/// A trace as bytes that [`trace`] reads, places rounded to the step; nothing else is said.
#[must_use]
pub fn spelt(trace: &Trace) -> Vec<u8> {
    let mut out = vec![0, 0];
    for (i, stroke) in trace.strokes.iter().enumerate() {
        if i > 0 {
            out.extend(SIGN.to_le_bytes());
            out.extend(7_i16.to_le_bytes());
        }
        for p in &stroke.points {
            for v in [p.x, p.y] {
                let step = libm::round(v / STEP).clamp(f64::from(SIGN + 1), f64::from(i16::MAX));
                out.extend((step as i16).to_le_bytes());
            }
        }
    }
    out
}

/// An outline and how it is to be cut.
#[must_use]
pub fn outline(bytes: &[u8]) -> (Outline, CutSettings) {
    let mut b = Bytes(bytes);
    let settings = cutting(&mut b);
    let mut outline = Outline::default();
    while !b.0.is_empty() {
        let kind = b.byte();
        if kind & 7 == 7 {
            outline.marks.push(Mark { at: b.place() });
            continue;
        }
        let path = if kind & 7 == 6 {
            let center = b.place();
            Path::Circle(Circle {
                center,
                radius: f64::from(b.word()) * STEP,
                counter_clockwise: kind & 8 != 0,
            })
        } else {
            let closed = kind & 7 < 5;
            let count = usize::from(kind >> 4) + 1;
            let corners: Vec<Point> = (0..count).map(|_| b.place()).collect();
            let edges = if closed { count } else { count - 1 };
            let shapes = (0..edges)
                .map(|_| match b.byte() as i8 {
                    sweep @ 1..=127 if sweep % 2 == 1 => Shape::Arc {
                        sweep: f64::from(sweep) * 0.049,
                    },
                    sweep @ -128..=-1 if sweep % 2 == -1 => Shape::Arc {
                        sweep: f64::from(sweep) * 0.049,
                    },
                    _ => Shape::Line,
                })
                .collect();
            Path::Chain(Chain { corners, shapes })
        };
        let role = match (path.is_closed(), kind & 1) {
            (false, _) => Role::Open,
            (true, 0) => Role::Part,
            _ => Role::Hole,
        };
        outline.loops.push(Loop {
            role,
            path,
            deviation: None,
        });
    }
    (outline, settings)
}

fn cutting(b: &mut Bytes) -> CutSettings {
    let (flags, kerf) = (b.byte(), b.byte());
    let mut s = CutSettings::new(0.1 + f64::from(kerf) / 32.0, 2500.0, 0.5);
    if flags & 1 != 0 {
        s.thickness = Some(b.size());
    }
    if flags & 2 != 0 {
        s.lead = Some(b.size());
    }
    if flags & 4 != 0 {
        s.bridges = usize::from(b.byte() % 8);
    }
    if flags & 8 != 0 {
        s.hole = Some(b.size());
    }
    if flags & 16 != 0 {
        s.overlap = Some(b.size());
    }
    if flags & 32 != 0 {
        let (w, h) = (b.size() * 10.0, b.size() * 10.0);
        s.stock = trued::cut::Stock::rectangle(w, h).ok();
    }
    if flags & 64 != 0 {
        s.lead_out = Some(b.size());
    }
    if flags & 128 != 0 {
        s.rapid = Some(6000.0);
        s.bridge_width = Some(b.size());
    }
    s
}

/// An outline as bytes that [`outline`] reads, places rounded to the step.
#[must_use]
pub fn spelt_outline(outline: &Outline) -> Vec<u8> {
    let mut out = vec![0, 45];
    let word = |v: f64| (libm::round(v / STEP).clamp(-32767.0, 32767.0) as i16).to_le_bytes();
    for l in &outline.loops {
        let hole = u8::from(l.role == Role::Hole);
        match &l.path {
            Path::Circle(c) => {
                out.push(6 | if c.counter_clockwise { 8 } else { 0 });
                for v in [c.center.x, c.center.y, c.radius] {
                    out.extend(word(v));
                }
            }
            Path::Chain(c) if c.corners.len() <= 16 => {
                let kind = if c.is_closed() { hole } else { 5 };
                out.push(kind | (((c.corners.len() - 1) as u8) << 4));
                for p in &c.corners {
                    out.extend(word(p.x));
                    out.extend(word(p.y));
                }
                for s in &c.shapes {
                    out.push(match s {
                        Shape::Line => 0,
                        Shape::Arc { sweep } => (libm::round(sweep / 0.049) as i8 | 1) as u8,
                    });
                }
            }
            Path::Chain(_) => {}
        }
    }
    out
}
