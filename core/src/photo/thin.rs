//! A mask becomes lines of one pixel: Zhang and Suen's thinning (1984), with the list of pixels that may
//! still go kept small, so that each round costs what the rim costs. Small holes of a mask are filled first:
//! a speck that the pen missed is no loop.

/// Neighbours clockwise from above: above, right above, right, …
pub(super) const AROUND: [(isize, isize); 8] = [
    (0, -1),
    (1, -1),
    (1, 0),
    (1, 1),
    (0, 1),
    (-1, 1),
    (-1, 0),
    (-1, -1),
];

/// A mask with its width.
pub(super) struct Mask<'a> {
    pub bits: &'a mut [bool],
    pub wide: usize,
}

impl Mask<'_> {
    fn around(&self, i: usize) -> [bool; 8] {
        let x = (i % self.wide) as isize;
        AROUND.map(|(dx, dy)| {
            let inside = x + dx >= 0 && x + dx < self.wide as isize;
            let j = i as isize + dy * self.wide as isize + dx;
            inside && usize::try_from(j).is_ok_and(|j| self.bits.get(j).copied().unwrap_or(false))
        })
    }

    /// Thins to lines of one pixel.
    pub fn thin(&mut self) {
        let mut rim: Vec<usize> = (0..self.bits.len())
            .filter(|i| self.bits.get(*i).copied().unwrap_or(false))
            .collect();
        loop {
            let mut gone = 0;
            for second in [false, true] {
                let going: Vec<usize> = rim
                    .iter()
                    .copied()
                    .filter(|i| goes(self.around(*i), second))
                    .collect();
                gone += going.len();
                for i in going {
                    if let Some(b) = self.bits.get_mut(i) {
                        *b = false;
                    }
                }
                rim.retain(|i| self.bits.get(*i).copied().unwrap_or(false));
            }
            if gone == 0 {
                return;
            }
        }
    }

    /// Takes out what an octagon reaching `by` to each side does not fit into. A square would do away with slanting lines
    /// half as thick again as the upright ones it leaves.
    pub fn open(&mut self, by: usize) {
        for grows in [false, true] {
            for round in 0..by {
                // Neighbours by sides, then by corners as well, in turn.
                let step = 2 - round % 2;
                let turns = |i: &usize| {
                    self.bits.get(*i) != Some(&grows)
                        && self.around(*i).iter().step_by(step).any(|b| *b == grows)
                };
                let turned: Vec<usize> = (0..self.bits.len()).filter(turns).collect();
                for i in turned {
                    if let Some(b) = self.bits.get_mut(i) {
                        *b = grows;
                    }
                }
            }
        }
    }

    /// Fills holes of fewer than `least` pixels.
    pub fn fill(&mut self, least: usize) {
        let empty: Vec<bool> = self.bits.iter().map(|b| !b).collect();
        let holes = super::ink::Pieces::of(&empty, self.wide);
        for hole in holes.pixels.iter().skip(1).filter(|h| h.len() < least) {
            for i in hole {
                if let Some(b) = self.bits.get_mut(*i as usize) {
                    *b = true;
                }
            }
        }
    }
}

fn goes(n: [bool; 8], second: bool) -> bool {
    let [up, _, right, _, down, _, left, _] = n;
    let count = n.iter().filter(|b| **b).count();
    let turns = n
        .iter()
        .zip(n.iter().cycle().skip(1))
        .filter(|(a, b)| !**a && **b)
        .count();
    let open = match second {
        false => !(right && down && (up || left)),
        true => !(up && left && (right || down)),
    };
    (2..=6).contains(&count) && turns == 1 && open
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn opening_keeps_a_band_whichever_way_it_runs_and_takes_scratches() {
        let wide = 40;
        for (x, y) in [(1.0, 0.0), (0.6, 0.8), (0.707, 0.707), (-0.707, 0.707)] {
            let left_of = |thick: f64, by: usize| {
                let off =
                    |i: usize| x * ((i % wide) as f64 - 20.0) + y * ((i / wide) as f64 - 20.0);
                let mut bits: Vec<bool> = (0..wide * wide)
                    .map(|i| off(i).abs() < 0.5 * thick)
                    .collect();
                let before = bits.iter().filter(|b| **b).count();
                let mut mask = Mask {
                    bits: &mut bits,
                    wide,
                };
                mask.open(by);
                bits.iter().filter(|b| **b).count() as f64 / before as f64
            };
            assert!(left_of(4.2, 1) > 0.8, "{x} {y}");
            assert!(left_of(6.0, 2) > 0.8, "{x} {y}");
            assert!(left_of(1.3, 1) < 0.05, "{x} {y}");
        }
    }

    #[test]
    fn a_thick_ring_becomes_one_closed_line() {
        let wide = 60;
        let mut bits: Vec<bool> = (0..wide * wide)
            .map(|i| {
                let d = libm::hypot((i % wide) as f64 - 30.0, (i / wide) as f64 - 30.0);
                (15.0..22.0).contains(&d)
            })
            .collect();
        let mut mask = Mask {
            bits: &mut bits,
            wide,
        };
        mask.thin();
        let left: Vec<usize> = (0..wide * wide).filter(|i| mask.bits[*i]).collect();
        assert!((90..140).contains(&left.len()), "{}", left.len());
        let ends = left
            .iter()
            .filter(|i| mask.around(**i).iter().filter(|b| **b).count() < 2);
        assert_eq!(ends.count(), 0);
    }
}
