//! The best order of few stops, by dynamic programming over which are made (Held and Karp 1962).
//!
//! The best way to have made these stops and to stand at this one does not depend on what comes after. So for every
//! set, every last stop in it and every number of neighbours in a row that heat one another, the least travel is
//! kept; sets grow by one stop that waits for none outside them. With `n` stops that is `2^n · n³` steps:
//! a few hundred thousand for nine, where a shaken tour costs a hundred times as much and promises nothing.
#![allow(
    clippy::indexing_slicing,
    reason = "a table of 2^n by n by n rows, and numbers that stay under these by construction"
)]

use super::problem::Problem;

/// More stops than this are not ordered exactly.
pub(super) const MOST_EXACT: usize = 9;

/// The least travel to a state, and the state before it: the last stop and its warm neighbours.
#[derive(Clone, Copy)]
struct Reached {
    travel: f64,
    from: (usize, usize),
}

const NEVER: Reached = Reached {
    travel: f64::INFINITY,
    from: (0, 0),
};

impl Problem<'_> {
    /// The order with the fewest neighbours in a row of those that travel no further than `1 + share` times the
    /// shortest, and of these the shortest. Nothing where there are too many stops, or some wait for one another.
    pub(super) fn exact(&self, share: f64) -> Option<Vec<usize>> {
        let n = self.stops.len();
        if n == 0 || n > MOST_EXACT {
            return None;
        }
        let table = self.table(n);
        let all = (1 << n) - 1;
        let ends = (0..n).flat_map(|last| (0..n).map(move |warm| (warm, last)));
        let ends: Vec<(usize, usize, f64)> = ends
            .map(|(warm, last)| (warm, last, table[(all * n + last) * n + warm].travel))
            .filter(|end| end.2.is_finite())
            .collect();
        let shortest = ends.iter().map(|e| e.2).min_by(f64::total_cmp)?;
        let most = (1.0 + share.max(0.0)) * shortest;
        let (mut warm, mut last, _) = ends
            .into_iter()
            .filter(|e| e.2 <= most)
            .min_by(|a, b| a.0.cmp(&b.0).then(a.2.total_cmp(&b.2)))?;
        let mut order = Vec::with_capacity(n);
        let mut made = all;
        while made != 0 {
            order.push(last);
            let reached = table[(made * n + last) * n + warm];
            made &= !(1 << last);
            (last, warm) = reached.from;
        }
        order.reverse();
        Some(order)
    }

    fn table(&self, n: usize) -> Vec<Reached> {
        let mut table = vec![NEVER; (1 << n) * n * n];
        let waits_for: Vec<usize> = (self.after.iter())
            .map(|early| early.iter().fold(0, |set, i| set | (1 << i)))
            .collect();
        let ready = |made: usize, i: usize| made & (1 << i) == 0 && waits_for[i] & !made == 0;
        for i in (0..n).filter(|i| ready(0, *i)) {
            table[((1 << i) * n + i) * n].travel = self.home.distance(self.stops[i].start);
        }
        for made in 1..1_usize << n {
            for last in (0..n).filter(|i| made & (1 << i) != 0) {
                let stop = &self.stops[last];
                for warm in 0..n {
                    let travel = table[(made * n + last) * n + warm].travel;
                    if travel == f64::INFINITY {
                        continue;
                    }
                    for next in (0..n).filter(|i| ready(made, *i)) {
                        let heats = stop.warm.binary_search(&next).is_ok();
                        // Of n stops at most n - 1 pairs stand in a row, so the row exists.
                        let at = ((made | 1 << next) * n + next) * n + warm + usize::from(heats);
                        let travel = travel + stop.end.distance(self.stops[next].start);
                        if travel < table[at].travel {
                            let from = (last, warm);
                            table[at] = Reached { travel, from };
                        }
                    }
                }
            }
        }
        table
    }
}
