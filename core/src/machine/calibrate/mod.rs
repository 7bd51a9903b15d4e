//! The arm's geometry from touches of known points: a ruler, a grid, a plate with holes.
//!
//! The person puts the tip on points whose places are known relative to each other and lets the machine report
//! itself each time, either by joint angles or by the place it *believes* the tip to be at. A believed
//! place is taken back to joint angles through the believed profile; from there on the believed
//! profile serves only as a start. Where the pattern lies relative to the base is not known and need
//! not be: for each placement of the pattern its pose (three figures) is found along with the arm's
//! (three figures, and two more for every further tip). The frame of the first placement becomes the plate's
//! frame, and the base's place and angle are given in it.
//!
//! Two figures no touch can tell apart: link 2 and a tip's offset along it occur only as their sum. Link 2 is kept
//! as believed and the tip's offset takes the rest; that changes nothing anywhere else. Likewise an error
//! in where joint 2 has its zero shows as an offset of the tip across the link.
//!
//! Least squares on the distances (mm) between where each tip was and the known point, as
//! Levenberg–Marquardt. Before an answer is given the singular values of the problem are looked at.
//! Three kinds of touches leave the arm open, and each has a geometrical reason:
//!
//! | all touches with | the arm looks like | so that |
//! |---|---|---|
//! | one elbow angle | one stiff bar | link 1 trades against the offset of the tip |
//! | one angle of link 1 | link 2 alone | link 1 trades against the place of the base |
//! | one direction of link 2 | link 1 alone | the tip's offset trades against the place of the base |
//!
//! Each is refused by name, with places to touch that would settle it: those places of the table that
//! raise the least singular value most.

mod open;
mod tell;

use super::arm::{Arm, Elbow, Joints};
use super::least_squares::{Fit, Svd, jacobian, minimize, student_95};
use crate::Refusal;
use crate::geom::{Point, Vec2, normalize_angle};

/// Most touches taken.
pub const MAX_TOUCHES: usize = 2000;
/// Touch error assumed when judging whether touches determine the arm, if they agree better than
/// that: no hand and no ruler is surer, mm (standard deviation each way).
const LEAST_ERROR: f64 = 0.02;
/// Pose parameters of one placement: base x, base y, base angle.
const POSE: usize = 3;

/// What the machine reported at one touch.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Reported {
    /// Its joint angles, radians.
    Joints(Joints),
    /// The place it believes the tip to be at, by the believed profile, mm.
    Place(Point),
}

/// One touch of a known point.
#[derive(Clone, Debug, PartialEq)]
pub struct Touch {
    /// The known place, in the frame of its placement, mm.
    pub known: Point,
    /// What the machine reported.
    pub reported: Reported,
    /// Name of the tip that touched.
    pub tip: String,
    /// Which placement of the ruler, grid or pattern (any label).
    pub placement: String,
}

/// How touches are to be taken.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct CalibrationSettings {
    /// Standard deviation of one touch in each direction, mm, where known; else it is estimated.
    pub touch_error: Option<f64>,
    /// Corners of the table for the error map; default: what the known points span.
    pub table: Option<[Point; 2]>,
}

/// What error to expect at a place of the table.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ErrorAt {
    /// The place.
    pub at: Point,
    /// 95 % of arms so calibrated are nearer than this there, mm.
    pub within: f64,
}

/// The arm found, and how sure.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub struct ArmFit {
    /// The arm, in the frame of the first placement.
    pub arm: Arm,
    /// What was found, by name, with its value and ± (95 %), mm or radians.
    pub figures: Vec<Figure>,
    /// Distance left at each touch, mm.
    pub residuals: Vec<f64>,
    /// Standard deviation of one touch in each direction as the touches show it, mm.
    pub touch_error: f64,
    /// Expected error over the table, row by row from its lower left corner, five by five.
    pub map: Vec<ErrorAt>,
    /// Sentences: what cannot be told apart, what looks odd.
    pub notes: Vec<String>,
}

/// One figure of the arm.
#[derive(Clone, Debug, PartialEq)]
pub struct Figure {
    /// Its name in words.
    pub name: String,
    /// mm, or radians for the base angle.
    pub value: f64,
    /// Half-width of the 95 % interval.
    pub plus_minus: f64,
    /// An angle rather than a length.
    pub angle: bool,
}

/// The problem in a form the solver takes: unknowns are link 1, then two for every tip, then three for
/// every placement.
struct Problem<'a> {
    believed: &'a Arm,
    tips: Vec<&'a str>,
    placements: Vec<&'a str>,
    /// Joint angles, known place, number of tip, number of placement.
    touches: Vec<(Joints, Point, usize, usize)>,
}

/// Finds the arm from touches. `believed` is the profile the machine runs by: it turns reported places
/// into joint angles, and the search starts from it.
///
/// # Errors
/// Refuses touches that do not determine the arm, naming why and what to touch; reported places out of
/// the believed arm's reach; figures that are none.
pub fn calibrate(
    touches: &[Touch],
    believed: &Arm,
    settings: &CalibrationSettings,
) -> Result<ArmFit, Refusal> {
    believed.check()?;
    check(touches, settings)?;
    let problem = Problem::new(touches, believed)?;
    problem.check_count()?;
    let start = problem.start();
    let scale = problem.scale();
    let residuals = |p: &[f64]| problem.residuals(p);
    problem.refuse_open(
        &Svd::new(jacobian(&start, &scale, &residuals)),
        &start,
        LEAST_ERROR,
        settings.table,
    )?;
    let fit = minimize(&start, &scale, &residuals)
        .ok_or_else(|| Refusal::Setting("the touches fit no arm".into()))?;
    let spare = fit.residuals.len().saturating_sub(fit.values.len());
    let seen = (fit.cost() / spare.max(1) as f64).sqrt();
    let error = settings.touch_error.unwrap_or(seen);
    if let Err(refusal) =
        problem.refuse_open(fit.svd(), &start, error.max(LEAST_ERROR), settings.table)
    {
        return Err(problem.wrong_touch(&fit).unwrap_or(refusal));
    }
    let quantile = match settings.touch_error {
        Some(_) => student_95(usize::MAX),
        None => student_95(spare),
    };
    let arm = problem.arm(&fit)?;
    Ok(ArmFit {
        figures: problem.figures(&fit, &arm, error * quantile),
        residuals: pairs(&fit.residuals),
        touch_error: seen,
        map: problem.map(
            &fit,
            &arm,
            error * quantile / student_95(usize::MAX),
            settings.table,
        ),
        notes: problem.notes(&fit, settings.touch_error, seen, spare),
        arm,
    })
}

fn check(touches: &[Touch], settings: &CalibrationSettings) -> Result<(), Refusal> {
    if touches.len() > MAX_TOUCHES {
        return Err(Refusal::Limit {
            what: "the number of touches",
            value: touches.len().to_string(),
            limit: MAX_TOUCHES.to_string(),
        });
    }
    for (i, t) in touches.iter().enumerate() {
        let reported = match t.reported {
            Reported::Joints(j) => j.first.is_finite() && j.second.is_finite(),
            Reported::Place(p) => p.is_finite(),
        };
        let near = t.known.to_vec().length() <= 2.0 * crate::limits::MAX_COORDINATE;
        if !(reported && near) {
            return Err(Refusal::Setting(format!(
                "touch {} holds figures that are no places",
                i + 1
            )));
        }
    }
    match settings.touch_error {
        Some(e) if !(e > 0.0 && e.is_finite()) => Err(Refusal::Setting(format!(
            "the error of a touch is {e}: it must be a length over 0"
        ))),
        _ => Ok(()),
    }
}

/// Distances from residuals that come in pairs x, y.
fn pairs(residuals: &[f64]) -> Vec<f64> {
    let size = |xy: &[f64]| xy.iter().map(|v| v * v).sum::<f64>().sqrt();
    residuals.chunks(2).map(size).collect()
}

/// Number of a label in a list, adding it where new.
fn number<'a>(labels: &mut Vec<&'a str>, label: &'a str) -> usize {
    labels.iter().position(|l| *l == label).unwrap_or_else(|| {
        labels.push(label);
        labels.len() - 1
    })
}

impl<'a> Problem<'a> {
    fn new(touches: &'a [Touch], believed: &'a Arm) -> Result<Self, Refusal> {
        let (mut tips, mut placements) = (Vec::new(), Vec::new());
        let mut read = Vec::with_capacity(touches.len());
        for (i, t) in touches.iter().enumerate() {
            let joints = match t.reported {
                Reported::Joints(j) => j,
                Reported::Place(p) => {
                    believed.inverse(p, believed.tip(&t.tip)?).map_err(|beyond| {
                        Refusal::Setting(format!(
                            "touch {}: the reported place ({}, {}) is {:.2} mm {}: is this the profile the machine runs by, and the right tip?",
                            i + 1, p.x, p.y, beyond.abs(),
                            if beyond > 0.0 { "beyond the arm's reach" } else { "too near the base" }
                        ))
                    })?
                }
            };
            let tip = number(&mut tips, &t.tip);
            let placement = number(&mut placements, &t.placement);
            read.push((joints, t.known, tip, placement));
        }
        Ok(Self {
            believed,
            tips,
            placements,
            touches: read,
        })
    }

    fn unknowns(&self) -> usize {
        1 + 2 * self.tips.len() + POSE * self.placements.len()
    }

    fn check_count(&self) -> Result<(), Refusal> {
        let (have, need) = (self.touches.len(), self.unknowns().div_ceil(2));
        if have >= need {
            return Ok(());
        }
        Err(Refusal::Setting(format!(
            "{have} touches cannot determine the {} figures of the arm and its place: at least {need} are needed, ten or more are better, spread over the whole table",
            self.unknowns()
        )))
    }

    /// The tip in the arm's own frame (base at the origin, base angle 0) and its pose.
    fn in_base(&self, p: &[f64], joints: Joints, tip: usize) -> Vec2 {
        let get = |i: usize| p.get(i).copied().unwrap_or(0.0);
        let last = Vec2::from_angle(joints.first + joints.second);
        Vec2::from_angle(joints.first) * get(0)
            + last * get(1 + 2 * tip)
            + last.left() * get(2 + 2 * tip)
    }

    /// Where the tip is in the frame of a placement.
    fn place(&self, p: &[f64], joints: Joints, tip: usize, placement: usize) -> Point {
        let at = self.in_base(p, joints, tip);
        let first = 1 + 2 * self.tips.len() + POSE * placement;
        let get = |i: usize| p.get(first + i).copied().unwrap_or(0.0);
        let x_axis = Vec2::from_angle(get(2));
        Point::new(get(0), get(1)) + x_axis * at.x + x_axis.left() * at.y
    }

    fn residuals(&self, p: &[f64]) -> Vec<f64> {
        let mut out = Vec::with_capacity(2 * self.touches.len());
        for &(joints, known, tip, placement) in &self.touches {
            let off = self.place(p, joints, tip, placement) - known;
            out.extend([off.x, off.y]);
        }
        out
    }

    /// A large change of each unknown: the links' own size, and a radian.
    fn scale(&self) -> Vec<f64> {
        let length = 0.5 * (self.believed.link1 + self.believed.link2);
        let mut scale = vec![length; 1 + 2 * self.tips.len()];
        for _ in &self.placements {
            scale.extend([length, length, 1.0]);
        }
        scale
    }

    /// The believed arm, and for each placement the turn and shift that bring what it says nearest to
    /// the known points (closed form).
    fn start(&self) -> Vec<f64> {
        let mut p = vec![self.believed.link1];
        for name in &self.tips {
            let tip = self.believed.tips.get(*name).copied().unwrap_or_default();
            p.extend([self.believed.link2 + tip.x, tip.y]);
        }
        for placement in 0..self.placements.len() {
            let own = self.touches.iter().filter(|t| t.3 == placement);
            let ends: Vec<(Vec2, Vec2)> = own
                .map(|&(joints, known, tip, _)| (self.in_base(&p, joints, tip), known.to_vec()))
                .collect();
            let n = ends.len().max(1) as f64;
            let sum = |f: fn(&(Vec2, Vec2)) -> Vec2| {
                ends.iter().fold(Vec2::default(), |s, e| s + f(e)) / n
            };
            let (from, to) = (sum(|e| e.0), sum(|e| e.1));
            let (mut cross, mut along) = (0.0, 0.0);
            for (a, b) in &ends {
                cross += (*a - from).cross(*b - to);
                along += (*a - from).dot(*b - to);
            }
            let angle = if cross == 0.0 && along == 0.0 {
                self.believed.base_angle
            } else {
                libm::atan2(cross, along)
            };
            let x_axis = Vec2::from_angle(angle);
            let base = to - x_axis * from.x - x_axis.left() * from.y;
            p.extend([base.x, base.y, angle]);
        }
        p
    }

    fn elbow(&self, p: &[f64]) -> Elbow {
        let bend = |t: &(Joints, Point, usize, usize)| {
            let get = |i: usize| p.get(i).copied().unwrap_or(0.0);
            let tip = Vec2::new(get(1 + 2 * t.2), get(2 + 2 * t.2));
            libm::sin(t.0.second + tip.angle())
        };
        if self.touches.iter().map(bend).sum::<f64>() < 0.0 {
            Elbow::Left
        } else {
            Elbow::Right
        }
    }

    /// The arm these unknowns describe, in the frame of the first placement.
    fn arm_from(&self, values: &[f64]) -> Arm {
        let get = |i: usize| values.get(i).copied().unwrap_or(0.0);
        let mut arm = self.believed.clone();
        arm.link1 = get(0);
        let mut first_move = None;
        for (i, name) in self.tips.iter().enumerate() {
            let found = Vec2::new(get(1 + 2 * i) - arm.link2, get(2 + 2 * i));
            let was = arm
                .tips
                .insert((*name).to_owned(), found)
                .unwrap_or_default();
            first_move.get_or_insert(found - was);
        }
        // Tips that did not touch keep their place relative to the one that did: what moved is the wrist.
        for (name, tip) in &mut arm.tips {
            if !self.tips.contains(&name.as_str()) {
                *tip += first_move.unwrap_or_default();
            }
        }
        let pose = 1 + 2 * self.tips.len();
        arm.base = Point::new(get(pose), get(pose + 1));
        arm.base_angle = normalize_angle(get(pose + 2));
        arm.elbow = self.elbow(values);
        arm
    }

    fn arm(&self, fit: &Fit) -> Result<Arm, Refusal> {
        let arm = self.arm_from(&fit.values);
        arm.check().map_err(|e| {
            Refusal::Setting(format!("the touches fit no arm that could be built ({e})"))
        })?;
        Ok(arm)
    }

    /// Names, values and ± of all figures but the poses of later placements.
    fn figures(&self, fit: &Fit, arm: &Arm, half_width: f64) -> Vec<Figure> {
        let figure = |name: String, value: f64, i: usize, angle: bool| Figure {
            name,
            value,
            plus_minus: half_width * fit.deviation(i),
            angle,
        };
        let mut out = vec![figure("link 1".into(), arm.link1, 0, false)];
        for (i, name) in self.tips.iter().enumerate() {
            let tip = arm.tips.get(*name).copied().unwrap_or_default();
            let label = |way: &str| format!("offset of tip {name} {way} link 2");
            out.push(figure(label("along"), tip.x, 1 + 2 * i, false));
            out.push(figure(label("across"), tip.y, 2 + 2 * i, false));
        }
        let pose = 1 + 2 * self.tips.len();
        out.push(figure("base x".into(), arm.base.x, pose, false));
        out.push(figure("base y".into(), arm.base.y, pose + 1, false));
        out.push(figure("base angle".into(), arm.base_angle, pose + 2, true));
        out
    }

    /// Where the first tip that touched sits on an arm.
    fn first_tip(&self, arm: &Arm) -> Vec2 {
        let found = self.tips.first().and_then(|t| arm.tips.get(*t));
        found.copied().unwrap_or_default()
    }
}
