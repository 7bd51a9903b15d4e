//! On which side of a line a point lies, decided exactly.
//!
//! Topology needs a sign that never contradicts itself, and the cross product rounds: three points that lie
//! nearly on one line can come out left of it one way round and on it another, and then a loop is inside what it is
//! not. Shewchuk's adaptive predicates (1997) compute only as many digits as the sign needs. What comes within a tolerance
//! is another question and is asked with distances.

use super::Point;

/// Where a point lies beside a directed line.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Side {
    /// Left of it: going on to the point turns counter-clockwise.
    Left,
    /// Right of it.
    Right,
    /// Exactly on it.
    On,
}

/// The side of the line from `a` through `b` on which `c` lies.
#[must_use]
pub fn side_of(a: Point, b: Point, c: Point) -> Side {
    let coord = |p: Point| robust::Coord { x: p.x, y: p.y };
    match robust::orient2d(coord(a), coord(b), coord(c)) {
        twice_the_area if twice_the_area > 0.0 => Side::Left,
        twice_the_area if twice_the_area < 0.0 => Side::Right,
        _ => Side::On,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_sides_of_a_line() {
        let (a, b) = (Point::new(0.0, 0.0), Point::new(4.0, 2.0));
        assert_eq!(side_of(a, b, Point::new(1.0, 3.0)), Side::Left);
        assert_eq!(side_of(a, b, Point::new(3.0, 0.0)), Side::Right);
        assert_eq!(side_of(a, b, Point::new(-2.0, -1.0)), Side::On);
    }

    /// Kettner, Mehlhorn and others 2008: a point one step of the last digit off the diagonal, far from the two points
    /// that give the line, where the cross product in floating point comes out zero.
    #[test]
    fn one_last_digit_beside_the_line_is_not_on_it() {
        let (a, b) = (Point::new(12.0, 12.0), Point::new(24.0, 24.0));
        let step = f64::EPSILON / 2.0;
        for k in 1..64 {
            let off = 0.5 + f64::from(k) * step;
            assert_eq!(side_of(a, b, Point::new(0.5, off)), Side::Left, "{k}");
            assert_eq!(side_of(a, b, Point::new(off, 0.5)), Side::Right, "{k}");
        }
        assert_eq!(side_of(a, b, Point::new(0.5, 0.5)), Side::On);
    }
}
