//! How far a machine is out of square and out of scale, from calipers on one cut rectangle.
//!
//! A machine with straight axes and even (if wrong) steps turns what it is told into what it does by
//! an affine map: one step to the right comes out `scale_x` long, one step up `scale_y`, and the two
//! axes meet at 90° plus something. A turn and a shift of the whole cannot be seen on the piece and
//! do not matter. So there are three unknowns, and six measurements: four sides and two diagonals,
//! each with the caliper's own error. Least squares finds the three; the three spare measurements
//! say whether an affine machine can have cut this piece at all.
//!
//! The shop's own test, "it is square when its diagonals agree", is the special case: the law of
//! cosines gives `falling² − rising² = 4·a·b·sin(out of square)`.
//!
//! The ± are such that all three hold at once in 95 % of pieces (Bonferroni: 98.3 % each). What this
//! cannot see: a kerf that was set wrong makes every side short or long alike, which looks like
//! scale, the more so on a small piece. Set the kerf first (see [`mod@crate::jobs::coupon`]) and cut the
//! rectangle large.

use super::least_squares::{Fit, minimize};
use crate::Refusal;
use crate::geom::Sorted as _;
use core::f64::consts::FRAC_PI_2;
use serde::{Deserialize, Serialize};

/// 98.33 % of a normal distribution lie within so many standard deviations: three at once, 95 %.
const ALL_THREE: f64 = 2.393_979_8;
/// 99 % of a chi-square of three degrees of freedom lie below.
const CONSISTENT: f64 = 11.344_866_7;
/// Greatest departure from square that is taken for one (beyond it something was mistyped).
const MOST_OUT: f64 = 0.35;

/// A cut rectangle as calipers find it, mm.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "types", derive(ts_rs::TS))]
pub struct Measured {
    /// Width and height the machine was told to cut.
    pub nominal: [f64; 2],
    /// Bottom, right, top, left.
    pub sides: [f64; 4],
    /// Bottom left to top right, then bottom right to top left.
    pub diagonals: [f64; 2],
    /// Standard deviation of one caliper reading. Calipers and hands that promise "never worse
    /// than 0.1" may be given as 0.1: the ± then errs to the safe side.
    pub caliper: f64,
}

/// What the machine does to what it is told.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
#[cfg_attr(feature = "types", derive(ts_rs::TS))]
pub struct Squareness {
    /// Length done for a length of 1 told, along x.
    pub scale_x: f64,
    /// Length done for a length of 1 told, along y.
    pub scale_y: f64,
    /// How much more than 90° the angle from the x to the y axis is, radians (degrees in files).
    #[serde(rename = "out_of_square_deg", with = "super::profile::degrees")]
    #[cfg_attr(feature = "types", ts(type = "number"))]
    pub out_of_square: f64,
}

/// The machine found, and how sure.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub struct SquareFit {
    /// What the machine does.
    pub machine: Squareness,
    /// The ± of `scale_x`, `scale_y` and `out_of_square`: all three at once hold in 95 % of pieces.
    pub plus_minus: [f64; 3],
    /// What is left of each measurement after the fit, mm: four sides, then two diagonals.
    pub residuals: [f64; 6],
    /// Set where no affine machine explains the figures within the caliper's error.
    pub contradiction: Option<Contradiction>,
}

/// Figures that cannot all be true.
#[derive(Clone, Debug, PartialEq)]
pub struct Contradiction {
    /// Which figures may be the wrong one, most likely first: 0–3 sides, 4–5 diagonals.
    pub suspects: Vec<usize>,
    /// How far off the first suspect would be, mm.
    pub by: f64,
}

/// Names of the six measurements in their order.
pub const NAMES: [&str; 6] = [
    "the bottom side",
    "the right side",
    "the top side",
    "the left side",
    "the diagonal from bottom left to top right",
    "the diagonal from bottom right to top left",
];

impl Contradiction {
    /// One sentence naming the figure to measure again.
    #[must_use]
    pub fn sentence(&self) -> String {
        let name = |i: &usize| NAMES.get(*i).copied().unwrap_or("one of them");
        let names: Vec<&str> = self.suspects.iter().map(name).collect();
        format!(
            "the figures contradict each other: measure {} again (off by about {:.2} mm); if it stays, the machine does not run straight and a profile cannot mend it",
            names.join(", or "),
            self.by
        )
    }
}

impl Squareness {
    /// A machine that does what it is told.
    pub const TRUE: Self = Self {
        scale_x: 1.0,
        scale_y: 1.0,
        out_of_square: 0.0,
    };

    /// The six lengths this machine makes of a rectangle: bottom, right, top, left, two diagonals.
    #[must_use]
    pub fn lengths(&self, nominal: [f64; 2]) -> [f64; 6] {
        let [w, h] = [nominal[0] * self.scale_x, nominal[1] * self.scale_y];
        let lean = -w * h * 2.0 * libm::sin(self.out_of_square);
        let squares = w * w + h * h;
        let [rising, falling] = [squares + lean, squares - lean].map(|d| d.max(0.0).sqrt());
        [w, h, w, h, rising, falling]
    }
}

/// Finds scale and squareness from the measurements.
///
/// # Errors
/// Refuses figures that are no lengths, or that no rectangle of the nominal size could have.
pub fn squareness(m: &Measured) -> Result<SquareFit, Refusal> {
    check(m)?;
    let measured = six(m);
    let machine = |p: &[f64]| match *p {
        [scale_x, scale_y, out_of_square] => Squareness {
            scale_x,
            scale_y,
            out_of_square,
        },
        _ => Squareness::TRUE,
    };
    let residuals = |p: &[f64]| -> Vec<f64> {
        let made = machine(p).lengths(m.nominal);
        made.iter()
            .zip(measured)
            .map(|(a, b)| (a - b) / m.caliper)
            .collect()
    };
    let start = start(m, measured);
    let fit = minimize(&start, &[0.01, 0.01, 0.01], &residuals)
        .ok_or_else(|| Refusal::Setting("the figures are no rectangle".into()))?;
    let found = machine(&fit.values);
    if found.out_of_square.abs() > MOST_OUT {
        return Err(Refusal::Setting(format!(
            "the figures describe a piece {:.0}° out of square: check that the sides are in the order bottom, right, top, left and the diagonals rising, falling",
            found.out_of_square.to_degrees().abs()
        )));
    }
    let mut left = [0.0; 6];
    for (out, r) in left.iter_mut().zip(&fit.residuals) {
        *out = r * m.caliper;
    }
    Ok(SquareFit {
        machine: found,
        plus_minus: [0, 1, 2].map(|i| ALL_THREE * fit.deviation(i)),
        residuals: left,
        contradiction: (fit.cost() > CONSISTENT).then(|| contradiction(m, &fit)),
    })
}

/// The six measurements in their order.
fn six(m: &Measured) -> [f64; 6] {
    let [a, b, c, d] = m.sides;
    let [e, f] = m.diagonals;
    [a, b, c, d, e, f]
}

/// Mean sides and the law of cosines: exact where the figures agree.
fn start(m: &Measured, [a, b, c, d, e, f]: [f64; 6]) -> [f64; 3] {
    let (w, h) = (0.5 * (a + c), 0.5 * (b + d));
    let lean = ((f * f - e * e) / (4.0 * w * h)).clamp(-0.5, 0.5);
    let [nominal_w, nominal_h] = m.nominal;
    [w / nominal_w, h / nominal_h, FRAC_PI_2 - libm::acos(lean)]
}

fn check(m: &Measured) -> Result<(), Refusal> {
    let names = ["the nominal width", "the nominal height"].into_iter();
    let figures = names.zip(m.nominal).chain(NAMES.into_iter().zip(six(m)));
    for (name, value) in figures {
        if !(value.is_finite() && value > 0.0 && value <= crate::limits::MAX_COORDINATE) {
            return Err(Refusal::Setting(format!(
                "{name} is {value}: it must be a length over 0"
            )));
        }
    }
    if !(m.caliper.is_finite() && m.caliper > 0.0) {
        return Err(Refusal::Setting(format!(
            "the caliper's error is {}: it must be a length over 0",
            m.caliper
        )));
    }
    let [w, h] = m.nominal;
    let far = |value: f64, nominal: f64| !(0.8..1.25).contains(&(value / nominal));
    let diagonal = libm::hypot(w, h);
    for ((name, value), nominal) in NAMES
        .iter()
        .zip(six(m))
        .zip([w, h, w, h, diagonal, diagonal])
    {
        if far(value, nominal) {
            return Err(Refusal::Setting(format!(
                "{name} is {value} where about {nominal:.1} is expected: check the figure and the order bottom, right, top, left"
            )));
        }
    }
    Ok(())
}

/// Which figure, left out, would reconcile the others: a residual over the root of what the fit does
/// not absorb of it is the classical test for one outlier (deletion residual). Figures within 95 % of
/// the best explanation are named too: top and bottom often explain each other's fault equally well.
fn contradiction(m: &Measured, fit: &Fit) -> Contradiction {
    let mut gains: Vec<(usize, f64, f64)> = fit
        .residuals
        .iter()
        .enumerate()
        .map(|(i, r)| {
            let free = (1.0 - fit.leverage(i)).max(1e-9);
            (i, r * r / free, (r / free).abs() * m.caliper)
        })
        .collect();
    gains.order_by(|a, b| b.1.total_cmp(&a.1));
    let best = gains.first().map_or(0.0, |g| g.1);
    Contradiction {
        suspects: gains
            .iter()
            .filter(|g| best - g.1 < 3.84)
            .map(|g| g.0)
            .collect(),
        by: gains.first().map_or(0.0, |g| g.2),
    }
}
