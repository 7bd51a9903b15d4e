//! Shaking: a tour that no move betters any more is disturbed and bettered again, many times.

use super::moves::{apply, places};
use super::problem::Problem;
use crate::cut::layout::Dice;

/// Work of the shaking, in cuts times shakes,
pub(super) const SHAKE_WORK: usize = 250_000;
/// and least and most shakes.
const SHAKES: (usize, usize) = (40, 12_000);
/// Longest run that a shake moves.
const LONGEST_SHAKEN: usize = 30;
/// How much longer a shaken tour may be and still be gone on from, at first, in mean legs.
const SLACK: f64 = 0.35;
/// More cuts than this are ordered by nearest neighbour and moves only.
const MOST_SHAKEN: usize = 3_000;

impl Problem<'_> {
    /// Two neighbouring runs swapped at random and the tour about them bettered, again and again. A
    /// result a little longer is gone on from as well, less and less so; the shortest is kept. None may
    /// travel further than `most`.
    pub(super) fn shake(&self, best: &mut Vec<usize>, work: usize, most: f64) {
        let n = best.len();
        if !(4..=MOST_SHAKEN).contains(&n) {
            return;
        }
        let mut dice = Dice(0x2545_F491_4F6C_DD1D);
        let mut length = self.cost(best);
        let slack = SLACK * length / n as f64;
        let mut tour = best.clone();
        let mut place = places(&tour);
        let mut now = length;
        let (mut tried, mut tried_place) = (tour.clone(), place.clone());
        let rounds = (work / n).clamp(SHAKES.0, SHAKES.1);
        for round in 0..rounds {
            let low = dice.below(n - 1);
            let middle = low + 1 + dice.below((n - low - 1).min(LONGEST_SHAKEN));
            let high = (middle + dice.below(LONGEST_SHAKEN)).min(n - 1);
            if middle > high || !self.may_swap(&tour, &place, (low, middle, high)) {
                continue;
            }
            tried.clone_from(&tour);
            tried_place.clone_from(&place);
            let mut new = now - self.swap_gain(&tried, (low, middle, high));
            apply(&mut tried, &mut tried_place, (low, middle, high));
            let ends = [
                low.saturating_sub(1),
                low,
                low + high - middle,
                low + high - middle + 1,
                high,
                high + 1,
            ];
            let mut queue: Vec<usize> =
                ends.iter().filter_map(|&i| tried.get(i)).copied().collect();
            // Under a limit a long repair would spend all that is left at once.
            let mut steps = if most.is_finite() { round % 8 } else { 60 };
            while let (Some(stop), true) = (queue.pop(), steps > 0) {
                steps -= 1;
                if let Some((a, b, gain)) = self.improve_at(stop, &mut tried, &mut tried_place) {
                    new -= gain;
                    let touched = [a.saturating_sub(1), a, b, b + 1];
                    queue.extend(touched.iter().filter_map(|&i| tried.get(i)).copied());
                    queue.push(stop);
                }
            }
            let cooled = 1.0 - round as f64 / rounds as f64;
            let short = most.is_infinite() || self.travel(&tried) <= most;
            if short && new < now + slack * cooled * cooled {
                core::mem::swap(&mut tour, &mut tried);
                core::mem::swap(&mut place, &mut tried_place);
                now = new;
                if now < length - 1e-9 {
                    length = now;
                    best.clone_from(&tour);
                }
            }
        }
    }
}
