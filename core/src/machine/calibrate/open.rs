//! What touches leave open: whether the arm can be told from them, why not, and which touches would settle it.
//!
//! The singular values of the problem say how sure the least sure direction in the unknowns is; the three reasons
//! are geometrical ([`super`]). Of the places of the table those are told that raise the least singular value most.

use super::Problem;
use crate::Refusal;
use crate::geom::Sorted as _;
use crate::geom::{Point, Vec2, normalize_angle};
use crate::machine::arm::Joints;
use crate::machine::least_squares::{Svd, jacobian, student_95};

/// An arm is left open when a figure's ± passes this share of the links (a millimetre in fifty).
const MOST_UNSURE: f64 = 0.02;

impl Problem<'_> {
    /// Refuses when some direction in the unknowns stays too unsure at this touch error.
    pub(super) fn refuse_open(
        &self,
        svd: &Svd,
        start: &[f64],
        error: f64,
        table: Option<[Point; 2]>,
    ) -> Result<(), Refusal> {
        if svd.least() * MOST_UNSURE > student_95(usize::MAX) * error {
            return Ok(());
        }
        let mut text = self.reason();
        let places = self.settling(svd, start, table);
        if !places.is_empty() {
            let list: Vec<String> = places
                .iter()
                .map(|p| format!("({:.0}, {:.0})", p.x, p.y))
                .collect();
            text.push_str(&format!(
                "; touches near {} would settle it most (places in the frame of placement {})",
                list.join(" and "),
                self.placements
                    .first()
                    .copied()
                    .filter(|l| !l.is_empty())
                    .unwrap_or("1")
            ));
        }
        Err(Refusal::Setting(text))
    }

    /// Why the touches leave the arm open: the tightest of the three geometrical reasons, if one is tight.
    fn reason(&self) -> String {
        let known = self.touches.iter().map(|t| t.1);
        let first = self.touches.first().map_or(Point::default(), |t| t.1);
        if known.map(|k| k.distance(first)).fold(0.0, f64::max) < 1.0 {
            return "all touches are of one point: the arm cannot be told from them; touch points spread over the table".into();
        }
        let bend = spread(self.touches.iter().map(|t| t.0.second));
        let shoulder = spread(self.touches.iter().map(|t| t.0.first));
        let heading = spread(self.touches.iter().map(|t| t.0.first + t.0.second));
        let mut tightest = [
            (
                bend,
                "all touches were made at nearly one elbow angle",
                "link 1 cannot be told from the tip's offset: also touch points nearer to the base and farther from it",
            ),
            (
                shoulder,
                "link 1 hardly turned between the touches",
                "its length cannot be told from the place of the base: also touch points to the left and right, as seen from the base",
            ),
            (
                heading,
                "link 2 kept nearly one direction in all touches",
                "its length and the tip's offset cannot be told from the place of the base: also touch points that turn it",
            ),
        ];
        tightest.order_by(|a, b| a.0.total_cmp(&b.0));
        match tightest.first() {
            Some((by, what, so)) if *by < 0.2 => {
                format!("{what} (within ±{:.1}°): {so}", by.to_degrees())
            }
            _ => "the touches lie too close together, or agree too badly, to determine the arm: touch points spread over the whole table".into(),
        }
    }

    /// Up to two places whose touch raises the least singular value most, chosen greedily among places of
    /// the table that the believed arm reaches.
    fn settling(&self, svd: &Svd, start: &[f64], table: Option<[Point; 2]>) -> Vec<Point> {
        let mut rows = rows_of(svd);
        let scale = self.scale();
        let candidates = self.candidates(start, table);
        let mut chosen = Vec::new();
        for _ in 0..2 {
            let mut best: Option<(f64, Point, [Vec<f64>; 2])> = None;
            for &(place, joints) in &candidates {
                let at = |p: &[f64]| {
                    let at = self.place(p, joints, 0, 0);
                    vec![at.x, at.y]
                };
                let columns = jacobian(start, &scale, &at);
                let row = |i: usize| -> Vec<f64> {
                    columns
                        .iter()
                        .map(|c| c.get(i).copied().unwrap_or(0.0))
                        .collect()
                };
                let new = [row(0), row(1)];
                let mut with = rows.clone();
                with.extend(new.iter().cloned());
                let least = Svd::new(transposed(&with)).least();
                if best.as_ref().is_none_or(|b| least > b.0) {
                    best = Some((least, place, new));
                }
            }
            if let Some((_, place, new)) = best {
                chosen.push(place);
                rows.extend(new);
            }
        }
        chosen
    }

    /// Nine by nine places of the table (or of what was touched and 150 mm around it) within the believed
    /// arm's reach, with their joint angles.
    fn candidates(&self, start: &[f64], table: Option<[Point; 2]>) -> Vec<(Point, Joints)> {
        let margin = Vec2::new(150.0, 150.0);
        let [low, high] = table.unwrap_or_else(|| self.span().map(|p| p + margin));
        let low = if table.is_none() {
            low - margin * 2.0
        } else {
            low
        };
        let arm = self.arm_from(start);
        let tip = self.first_tip(&arm);
        let step = |i: i32| f64::from(i) / 8.0;
        (0..81)
            .filter_map(|i| {
                let (s, t) = (step(i % 9), step(i / 9));
                let at = Point::new(low.x + s * (high.x - low.x), low.y + t * (high.y - low.y));
                let joints = arm.inverse(at, tip).ok()?;
                // Well short of straight: the found arm may reach a little less far.
                (libm::cos(joints.second) < 0.95).then_some((at, joints))
            })
            .collect()
    }
}

/// Spread of directions about the first, radians (half the range).
fn spread(angles: impl Iterator<Item = f64> + Clone) -> f64 {
    let first = angles.clone().next().unwrap_or(0.0);
    let turned = angles.map(|a| normalize_angle(a - first));
    let (low, high) = turned.fold((0.0f64, 0.0f64), |(l, h), a| (l.min(a), h.max(a)));
    0.5 * (high - low)
}

/// The rows `Σ·Vᵀ`, which stand for a whole Jacobian: same singular values, same directions.
fn rows_of(svd: &Svd) -> Vec<Vec<f64>> {
    svd.v
        .iter()
        .zip(&svd.sigma)
        .map(|(v, s)| v.iter().map(|x| x * s).collect())
        .collect()
}

fn transposed(rows: &[Vec<f64>]) -> Vec<Vec<f64>> {
    let columns = rows.first().map_or(0, Vec::len);
    let column = |j: usize| {
        rows.iter()
            .map(|r| r.get(j).copied().unwrap_or(0.0))
            .collect()
    };
    (0..columns).map(column).collect()
}
