//! How fast the hand went: what a line that was drawn from memory has and a traced one never.
//!
//! **Why.** What a hand leaves on the plate does not tell a badly drawn circle from a well traced oval. How fast it
//! went does, where it is known: a hand that follows something goes at a tenth to half of the drawing's diagonal in a
//! second, one that draws from memory at a third to several diagonals.
//!
//! **How.** The way of all strokes over their time, without rests; fast against the diagonal *and* in mm a second, for
//! whoever traces a small part with care goes through its diagonal quickly as well.
//!
//! **Source.** People tracing a spiral template (0.11 to 0.3 diagonals a second, the other hand up to 0.56) and drawing it
//! from memory (0.28 to 0.82): sample data of an open toolkit for such recordings; 845 recorded drawings of circles,
//! squares and the like (nineteen in twenty above 0.69, the middle one at 1.6). A hand that leads a machine goes at 20
//! to 80 mm/s (*common practice*).
//!
//! **Fails** where the times are not those of the hand: then nothing is concluded, or a fast replay is taken for a
//! drawing, which is told.

use super::Trace;
use crate::outline::Bounds;

/// Drawn, where it is faster than this in diagonals a second and in units a second.
const DIAGONALS: f64 = 0.6;
const UNITS: f64 = 100.0;
/// Between two samples so far apart, seconds, the hand rested or the clock jumped.
const REST: f64 = 0.5;
/// Fewer steps with times tell nothing.
const FEWEST: usize = 8;

/// Speed of the hand, mm/s, where it shows that the line was drawn from memory. `unit` is the length built-in lengths
/// are stated in, mm.
#[must_use]
pub fn of_a_drawing(trace: &Trace, unit: f64) -> Option<f64> {
    let (mut way, mut time, mut steps) = (0.0, 0.0, 0_usize);
    for s in &trace.strokes {
        let pairs = s.points.windows(2).zip(s.times.windows(2));
        for (p, t) in pairs {
            let ([a, b], [from, to]) = (p, t) else {
                continue;
            };
            let lasted = to - from;
            if (0.0..REST).contains(&lasted) {
                way += a.distance(*b);
                time += lasted;
                steps += 1;
            }
        }
    }
    let all = trace.strokes.iter().flat_map(|s| &s.points).copied();
    let bounds = Bounds::of_points(all)?;
    let size = bounds.min.distance(bounds.max);
    let speed = way / time;
    let fast = steps >= FEWEST && speed > UNITS * unit && speed > DIAGONALS * size;
    (fast && speed.is_finite()).then_some(speed)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geom::Point;
    use crate::trace::Stroke;

    /// A circle of diameter 100 in so many seconds.
    fn circle(seconds: f64) -> Trace {
        let turn = |i: i32| core::f64::consts::TAU * f64::from(i) / 60.0;
        let points =
            (0..60).map(|i| Point::new(50.0 * libm::cos(turn(i)), 50.0 * libm::sin(turn(i))));
        Trace {
            strokes: vec![Stroke {
                points: points.collect(),
                times: (0..60).map(|i| seconds * f64::from(i) / 60.0).collect(),
            }],
            ..Trace::default()
        }
    }

    #[test]
    fn a_fast_line_was_drawn_and_a_slow_or_untimed_one_tells_nothing() {
        let speed = of_a_drawing(&circle(1.0), 1.0);
        assert!(
            speed.is_some_and(|s| (300.0..320.0).contains(&s)),
            "{speed:?}"
        );
        assert_eq!(of_a_drawing(&circle(8.0), 1.0), None);
        let mut untimed = circle(1.0);
        untimed.strokes.iter_mut().for_each(|s| s.times.clear());
        assert_eq!(of_a_drawing(&untimed, 1.0), None);
        assert_eq!(of_a_drawing(&Trace::default(), 1.0), None);
    }

    #[test]
    fn a_small_part_traced_at_an_ordinary_speed_is_no_drawing() {
        let mut small = circle(0.7);
        for s in &mut small.strokes {
            s.points
                .iter_mut()
                .for_each(|p| *p = Point::new(0.2 * p.x, 0.2 * p.y));
        }
        assert_eq!(of_a_drawing(&small, 1.0), None);
    }
}
