//! Heat: neighbours in a row are parted as far as the travel may grow.

use super::problem::Problem;
use super::shake::SHAKE_WORK;

/// Prices that are tried for a neighbour in a row,
const PRICES: usize = 6;
/// the dearest, in mean legs,
const DEAREST: f64 = 8.0;
/// and the one under which the rest of the travel is spent.
const LAST_PRICE: f64 = 3.0;

impl Problem<'_> {
    /// The tour with the fewest neighbours in a row that travels no further than `most`: bettered
    /// under a price for each, the price raised while the travel allows it and lowered when not.
    pub(super) fn cooler(&mut self, shortest: &[usize], most: f64) -> Vec<usize> {
        let mut chosen = shortest.to_vec();
        let mean = self.travel(shortest) / shortest.len().max(1) as f64;
        let (mut cheap, mut dear) = (0.0, DEAREST);
        for _ in 0..PRICES {
            if self.warm(&chosen) == 0 || self.travel(shortest) >= most {
                break;
            }
            let price = 0.5 * (cheap + dear);
            self.price = price * mean;
            let mut tour = shortest.to_vec();
            self.better(&mut tour);
            self.shake(&mut tour, SHAKE_WORK / 12, f64::INFINITY);
            if self.travel(&tour) > most {
                dear = price;
                continue;
            }
            cheap = price;
            if self.warm(&tour) < self.warm(&chosen) {
                chosen = tour;
            }
        }
        // One price for all pairs often makes all worth parting or none: the rest of what the travel
        // allows is spent pair by pair.
        if self.warm(&chosen) > 0 && self.travel(shortest) < most {
            self.price = LAST_PRICE * mean;
            self.shake(&mut chosen, SHAKE_WORK / 4, most);
        }
        chosen
    }
}
