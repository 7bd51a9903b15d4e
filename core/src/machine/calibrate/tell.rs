//! What the fit is told with: the error to expect over the table, the touch that goes with no other, notes.

use super::{ErrorAt, Problem, pairs};
use crate::Refusal;
use crate::geom::{Point, Sorted as _};
use crate::machine::arm::{Arm, Joints};
use crate::machine::least_squares::{Fit, jacobian};

impl Problem<'_> {
    /// Expected error at five by five places of the table, where the first tip reaches them.
    pub(super) fn map(
        &self,
        fit: &Fit,
        arm: &Arm,
        error: f64,
        table: Option<[Point; 2]>,
    ) -> Vec<ErrorAt> {
        let [low, high] = table.unwrap_or_else(|| self.span());
        let tip = self.first_tip(arm);
        let mut map = Vec::with_capacity(25);
        for row in 0..5 {
            for column in 0..5 {
                let (s, t) = (f64::from(column) / 4.0, f64::from(row) / 4.0);
                let at = Point::new(low.x + s * (high.x - low.x), low.y + t * (high.y - low.y));
                if let Ok(joints) = arm.inverse(at, tip) {
                    map.push(ErrorAt {
                        at,
                        within: error * self.radius_95(fit, joints),
                    });
                }
            }
        }
        map
    }

    /// Radius that holds 95 % of the predicted error at a pose, for a touch error of 1: exact for an
    /// error that is round or along one line, and between those in proportion.
    pub(super) fn radius_95(&self, fit: &Fit, joints: Joints) -> f64 {
        let at = |p: &[f64]| {
            let at = self.place(p, joints, 0, 0);
            vec![at.x, at.y]
        };
        let columns = jacobian(&fit.values, &self.scale(), &at);
        let gradient = |i: usize| -> Vec<f64> {
            let per_scale = columns.iter().zip(self.scale());
            per_scale
                .map(|(c, s)| c.get(i).copied().unwrap_or(0.0) / s)
                .collect()
        };
        let (gx, gy) = (gradient(0), gradient(1));
        let xx = fit.covariance_of(&gx, &gx);
        let yy = fit.covariance_of(&gy, &gy);
        let xy = fit.covariance_of(&gx, &gy);
        let (half, apart) = (0.5 * (xx + yy), libm::hypot(0.5 * (xx - yy), xy));
        let (large, small) = (half + apart, (half - apart).max(0.0));
        (3.841_459 * large + (5.991_465 - 3.841_459) * small).sqrt()
    }

    /// Corners of what the known points of the first placement span.
    pub(super) fn span(&self) -> [Point; 2] {
        let own = self.touches.iter().filter(|t| t.3 == 0).map(|t| t.1);
        let first = self.touches.first().map_or(Point::default(), |t| t.1);
        own.fold([first, first], |[low, high], k| {
            [
                Point::new(low.x.min(k.x), low.y.min(k.y)),
                Point::new(high.x.max(k.x), high.y.max(k.y)),
            ]
        })
    }

    /// Where touches agree so badly that the arm stays open: the one that, left out, reconciles the others.
    pub(super) fn wrong_touch(&self, fit: &Fit) -> Option<Refusal> {
        let spare = fit.residuals.len().checked_sub(fit.values.len() + 2)?;
        // What the sum of squares loses with each touch (to first order: leverage as if x and y were apart).
        let gain = |i: usize| -> f64 {
            [2 * i, 2 * i + 1]
                .iter()
                .map(|k| {
                    let r = fit.residuals.get(*k).copied().unwrap_or(0.0);
                    r * r / (1.0 - fit.leverage(*k)).max(0.05)
                })
                .sum()
        };
        let (worst, gained) = (0..self.touches.len())
            .map(|i| (i, gain(i)))
            .max_by(|a, b| a.1.total_cmp(&b.1))?;
        let off = gained.sqrt();
        (spare > 0 && gained > 0.7 * fit.cost()).then(|| {
            Refusal::Setting(format!(
                "touch {} does not go with the others (off by some {off:.0} mm): was it of another point? Correct it or leave it out",
                worst + 1
            ))
        })
    }

    pub(super) fn notes(
        &self,
        fit: &Fit,
        told: Option<f64>,
        seen: f64,
        spare: usize,
    ) -> Vec<String> {
        let mut notes = vec![
            "link 2 and the tip's offset along it show only as their sum: link 2 is kept as believed, the offset takes the rest".to_owned(),
        ];
        if spare == 0 {
            notes.push(
                "there are just enough touches and none to check them by: the ± are unknown".into(),
            );
        }
        if let Some(told) = told.filter(|t| spare > 0 && seen > 2.0 * t) {
            notes.push(format!(
                "the touches agree to {seen:.2} mm only, worse than the {told} mm stated: look at the largest distances left"
            ));
        }
        // A touch far outside what the others allow: most likely of another point than was noted.
        let distances = pairs(&fit.residuals);
        let mut sorted = distances.clone();
        sorted.order_by(f64::total_cmp);
        let median = sorted.get(sorted.len() / 2).copied().unwrap_or(0.0);
        for (i, d) in distances.iter().enumerate() {
            if *d > 5.0 * median.max(0.05) {
                notes.push(format!("touch {} is {d:.2} mm off where the others are about {median:.2}: was it of another point?", i + 1));
            }
        }
        notes
    }
}
