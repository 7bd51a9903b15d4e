//! The machine profile: a small document that keeps what was found about one machine. Lengths mm, angles degrees.
//!
//! ```json
//! { "trued_machine": 1,
//!   "square": { "scale_x": 1.01, "scale_y": 0.995, "out_of_square_deg": 0.4 },
//!   "arm": { "link1": 450.0, "link2": 400.0, "base": [0.0, 0.0], "base_angle_deg": 0.0, "elbow": "left",
//!            "tips": { "stylus": [0.0, 0.0], "torch": [30.0, 4.0] } } }
//! ```
//!
//! Both parts may be missing. A profile with `square` pre-distorts what is to be cut by the inverse of
//! what the machine does, keeping the direction of x: lines stay lines and corners stay shared;
//! an arc becomes a piece of an ellipse and is cut as arcs that leave it by no more than
//! [`ARC_TOLERANCE`]. Each such ellipse piece is replaced by *biarcs*: two arcs that meet the piece's ends with
//! its directions there and each other without a kink (Bolton 1975); pieces are halved until the
//! distance, measured along the piece, is small enough.

use super::arm::Arm;
use super::square::Squareness;
use crate::Refusal;
use crate::geom::{Arc, Edge, Line, Point, Vec2, turn_between};
use crate::outline::{Chain, Circle, Loop, Mark, Outline, Path, Shape};
use core::f64::consts::TAU;
use serde::{Deserialize, Serialize};

/// How far a pre-distorted arc may lie from the exact ellipse, mm.
pub const ARC_TOLERANCE: f64 = 0.01;
/// Halvings of an arc at most; the error falls eightfold with each.
const MAX_HALVINGS: u32 = 8;

/// What was found about one machine.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
#[cfg_attr(feature = "types", derive(ts_rs::TS))]
pub struct Profile {
    /// Scale and squareness.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "types", ts(optional))]
    pub square: Option<Squareness>,
    /// The arm and its tips.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "types", ts(optional))]
    pub arm: Option<Arm>,
}

/// Radians in memory, degrees in files.
pub(crate) mod degrees {
    use serde::{Deserialize, Deserializer, Serializer};

    pub fn serialize<S: Serializer>(radians: &f64, out: S) -> Result<S::Ok, S::Error> {
        out.serialize_f64(radians.to_degrees())
    }

    pub fn deserialize<'de, D: Deserializer<'de>>(from: D) -> Result<f64, D::Error> {
        f64::deserialize(from).map(f64::to_radians)
    }
}

/// The document: the profile under the key that names it.
#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Document {
    trued_machine: u32,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    square: Option<Squareness>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    arm: Option<Arm>,
}

impl Profile {
    /// Reads a profile file.
    ///
    /// # Errors
    /// Names the line that is no profile, or the figure that no machine has.
    pub fn read(text: &str) -> Result<Self, Refusal> {
        let document: Document = serde_json::from_str(text).map_err(|e| Refusal::Line {
            line: e.line().max(1),
            problem: format!("this is no machine profile: {e}"),
        })?;
        if document.trued_machine != 1 {
            return Err(Refusal::File(format!(
                "\"trued_machine\" is {}; only version 1 is known",
                document.trued_machine
            )));
        }
        let profile = Self {
            square: document.square,
            arm: document.arm,
        };
        profile.check()?;
        Ok(profile)
    }

    /// The profile as a file.
    ///
    /// # Errors
    /// Refuses to write what could not be read back.
    pub fn write(&self) -> Result<String, Refusal> {
        self.check()?;
        let document = Document {
            trued_machine: 1,
            square: self.square,
            arm: self.arm.clone(),
        };
        let text = serde_json::to_string_pretty(&document);
        Ok(text.unwrap_or_default() + "\n")
    }

    /// Says which figure no machine has.
    ///
    /// # Errors
    /// Scales must be near 1, the axes near square, the arm an arm.
    pub fn check(&self) -> Result<(), Refusal> {
        if let Some(s) = &self.square {
            for (name, scale) in [("scale_x", s.scale_x), ("scale_y", s.scale_y)] {
                if !(0.5..=2.0).contains(&scale) {
                    return Err(Refusal::Setting(format!(
                        "{name} of the machine is {scale}: it must lie between 0.5 and 2"
                    )));
                }
            }
            if s.out_of_square.is_nan() || s.out_of_square.abs() > 0.5 {
                return Err(Refusal::Setting(format!(
                    "the machine is {}° out of square: it must be less than 28°",
                    s.out_of_square.to_degrees()
                )));
            }
        }
        self.arm.as_ref().map_or(Ok(()), Arm::check)
    }

    /// Where to send the machine so that it comes to `p`.
    #[must_use]
    pub fn correct_point(&self, p: Point) -> Point {
        self.square.map_or(p, |s| s.correct(p))
    }

    /// An edge pre-distorted: one line for a line, as many arcs as needed for an arc.
    #[must_use]
    pub fn correct_edge(&self, edge: &Edge) -> Vec<Edge> {
        match (&self.square, edge) {
            (None, _) => vec![*edge],
            (Some(s), Edge::Line(l)) => vec![Edge::Line(Line {
                from: s.correct(l.from),
                to: s.correct(l.to),
            })],
            (Some(s), Edge::Arc(a)) => s.correct_arc(a),
        }
    }

    /// A loop or path pre-distorted: corners stay shared, closed stays closed, circles become rings of
    /// arcs unless both scales are one and the machine is square.
    #[must_use]
    pub fn correct_path(&self, path: &Path) -> Path {
        let Some(s) = &self.square else {
            return path.clone();
        };
        if let (Path::Circle(c), Some(k)) = (path, s.similarity()) {
            return Path::Circle(Circle {
                center: s.correct(c.center),
                radius: c.radius / k,
                ..*c
            });
        }
        let closed = path.is_closed();
        let edges: Vec<Edge> = path
            .edges()
            .iter()
            .flat_map(|e| self.correct_edge(e))
            .collect();
        let mut corners: Vec<Point> = edges.iter().map(Edge::from).collect();
        if !closed {
            corners.extend(edges.last().map(Edge::to));
        }
        let shape = |e: &Edge| match e {
            Edge::Line(_) => Shape::Line,
            Edge::Arc(a) => Shape::Arc { sweep: a.sweep },
        };
        Path::Chain(Chain {
            corners,
            shapes: edges.iter().map(shape).collect(),
        })
    }

    /// An outline pre-distorted, loop by loop and mark by mark.
    #[must_use]
    pub fn correct_outline(&self, outline: &Outline) -> Outline {
        let each = |l: &Loop| Loop {
            path: self.correct_path(&l.path),
            ..l.clone()
        };
        Outline {
            loops: outline.loops.iter().map(each).collect(),
            marks: outline
                .marks
                .iter()
                .map(|m| Mark {
                    at: self.correct_point(m.at),
                })
                .collect(),
        }
    }
}

impl Squareness {
    /// Where the machine goes when it is sent to `p`.
    #[must_use]
    pub fn apply(&self, p: Point) -> Point {
        // The y axis leans to the left by `out_of_square`: its direction is (-sin, cos).
        let (sin, cos) = libm::sincos(self.out_of_square);
        let y = self.scale_y * p.y;
        Point::new(self.scale_x * p.x - y * sin, y * cos)
    }

    /// Where to send the machine so that it goes to `p`: the inverse of [`Squareness::apply`].
    #[must_use]
    pub fn correct(&self, p: Point) -> Point {
        let (sin, cos) = libm::sincos(self.out_of_square);
        let y = p.y / cos;
        Point::new((p.x + y * sin) / self.scale_x, y / self.scale_y)
    }

    /// The machine as it is when a piece cut through this profile came out as `found`: the machine did
    /// `found` to a told piece that had been pre-distorted, so both follow one another.
    #[must_use]
    pub fn then_found(&self, found: &Self) -> Self {
        // Images of the unit steps under pre-distorting first and cutting after, undone: the machine is
        // `found ∘ self`, brought back to the form in which x keeps its direction.
        let image = |x: f64, y: f64| found.apply(self.apply(Point::new(x, y))).to_vec();
        let (u, v) = (image(1.0, 0.0), image(0.0, 1.0));
        Self {
            scale_x: u.length(),
            scale_y: v.length(),
            out_of_square: turn_between(u, v) - 0.25 * TAU,
        }
    }

    fn correct_direction(&self, v: Vec2) -> Vec2 {
        self.correct(Point::new(v.x, v.y)).to_vec()
    }

    /// The one scale of a machine that is square and alike in both axes.
    fn similarity(&self) -> Option<f64> {
        (self.scale_x == self.scale_y && self.out_of_square == 0.0).then_some(self.scale_x)
    }

    fn correct_arc(&self, arc: &Arc) -> Vec<Edge> {
        if let Some(k) = self.similarity().filter(|_| !arc.is_full()) {
            return vec![Edge::Arc(Arc {
                from: self.correct(arc.from),
                to: self.correct(arc.to),
                center: self.correct(arc.center),
                radius: arc.radius / k,
                sweep: arc.sweep,
            })];
        }
        // Pieces of a quarter turn at most keep every biarc well shaped.
        let mut pieces = libm::ceil(arc.sweep.abs() / (0.25 * TAU) - 1e-9).clamp(1.0, 5.0) as usize;
        for _ in 0..MAX_HALVINGS {
            let (edges, off) = self.biarcs(arc, pieces);
            if off <= ARC_TOLERANCE {
                return edges;
            }
            pieces *= 2;
        }
        self.biarcs(arc, pieces).0
    }

    /// The arc's image in so many biarcs, and how far they leave it.
    fn biarcs(&self, arc: &Arc, pieces: usize) -> (Vec<Edge>, f64) {
        let n = pieces as f64;
        let edge = Edge::Arc(*arc);
        let place = |i: usize| match i {
            0 => self.correct(arc.from),
            i if i == pieces => self.correct(arc.to),
            i => self.correct(arc.point_at(i as f64 / n)),
        };
        let heading = |i: usize| self.correct_direction(edge.direction_at(i as f64 / n));
        let (mut edges, mut off) = (Vec::new(), 0.0f64);
        for i in 0..pieces {
            let pair = biarc(place(i), heading(i), place(i + 1), heading(i + 1));
            for j in 1..16 {
                let t = (i as f64 + f64::from(j) / 16.0) / n;
                let at = self.correct(arc.point_at(t));
                let near = pair.iter().map(|e| e.distance(at));
                off = off.max(near.fold(f64::INFINITY, f64::min));
            }
            edges.extend(pair);
        }
        (edges, off)
    }
}

/// Two arcs from `p` along `u` to `q` along `v`, meeting without a kink; a line where that is
/// what they are. The joint is the one with equal tangent lengths.
fn biarc(p: Point, u: Vec2, q: Point, v: Vec2) -> Vec<Edge> {
    let straight = vec![Edge::Line(Line { from: p, to: q })];
    let (Some(u), Some(v)) = (u.unit(), v.unit()) else {
        return straight;
    };
    // |q − p − d(u+v)| = 2d, solved for the tangent length d.
    let (w, sum) = (q - p, u + v);
    let (a, b, c) = (4.0 - sum.length_squared(), w.dot(sum), w.length_squared());
    let d = if b + (b * b + a * c).sqrt() > 0.0 {
        c / (b + (b * b + a * c).sqrt())
    } else {
        0.0
    };
    if !(d > 0.0 && d.is_finite()) {
        return straight;
    }
    let joint = (p + u * d).midpoint(q - v * d);
    let half = |from: Point, to: Point, sweep: f64| {
        Arc::from_sweep(from, to, sweep)
            .filter(|a| a.radius.is_finite() && a.sweep.abs() > 1e-9)
            .map_or(Edge::Line(Line { from, to }), Edge::Arc)
    };
    vec![
        half(p, joint, 2.0 * turn_between(u, joint - p)),
        half(joint, q, 2.0 * turn_between(q - joint, v)),
    ]
}
