//! Words beside the places they name, none over another and as few as may be over lines.
//!
//! Greedy, in the order given: each label tries places on rings about its own, and takes the one that covers
//! least of what is there already. Good enough for some dozens of sizes; what a crowded picture cannot
//! hold apart still stands in the list beside it.

use crate::geom::{Point, Vec2};
use crate::outline::Bounds;

/// Rings that are tried, in heights of the text,
const RINGS: [f64; 6] = [0.95, 1.5, 2.2, 3.2, 4.6, 6.5];
/// and places on each.
const PLACES: usize = 16;
/// Width of a letter, in heights of the text, a little more than sans-serif letters are on the mean.
pub(super) const LETTER: f64 = 0.56;

/// Where words went.
pub(super) struct Placed {
    /// Middle of the box.
    pub(super) middle: Point,
    /// Half its width and height.
    pub(super) half: Vec2,
    /// It lies so far off that a line must lead to it.
    pub(super) led: bool,
}

/// What is in the way already.
pub(super) struct Crowd {
    /// The page.
    page: Bounds,
    /// Height of the text.
    text: f64,
    boxes: Vec<Bounds>,
    /// Places along the lines.
    lines: Vec<Point>,
}

impl Crowd {
    pub(super) const fn new(page: Bounds, text: f64, lines: Vec<Point>) -> Self {
        Self {
            page,
            text,
            boxes: Vec::new(),
            lines,
        }
    }

    /// Keeps a box free.
    pub(super) fn block(&mut self, middle: Point, half: Vec2) {
        self.boxes.push(about(middle, half));
    }

    /// Finds room for words of so many letters near a place, and keeps it.
    pub(super) fn place(&mut self, at: Point, letters: usize, height: f64) -> Placed {
        let half = Vec2::new(0.5 * LETTER * letters as f64 + 0.15, 0.62) * (height * self.text);
        let ring = |r: f64| {
            (0..PLACES).map(move |k| {
                // Above and below first, then beside.
                let turn = core::f64::consts::TAU * (k as f64 + 4.0) / PLACES as f64;
                (r, Vec2::from_angle(turn))
            })
        };
        let mut best: Option<(f64, Point, f64)> = None;
        for (r, way) in RINGS.into_iter().flat_map(ring) {
            // A wide box stands further off sideways than up.
            let reach = r * self.text + half.x * way.x.abs();
            let middle = at + way * reach;
            let cost = self.cost(&about(middle, half)) + 0.6 * r;
            if best.is_none_or(|b| cost < b.0 - 1e-9) {
                best = Some((cost, middle, r));
            }
        }
        let (_, middle, r) = best.unwrap_or((0.0, at, 0.0));
        self.boxes.push(about(middle, half));
        Placed {
            middle,
            half,
            led: r > 1.6,
        }
    }

    fn cost(&self, own: &Bounds) -> f64 {
        let covered = self.boxes.iter().filter(|b| b.touches(own, 0.0)).count();
        let holds = |p: &&Point| {
            own.min.x <= p.x && p.x <= own.max.x && own.min.y <= p.y && p.y <= own.max.y
        };
        let crossed = self.lines.iter().filter(holds).count();
        let off = own.min.x < self.page.min.x
            || own.min.y < self.page.min.y
            || own.max.x > self.page.max.x
            || own.max.y > self.page.max.y;
        40.0 * covered as f64 + 1.5 * crossed as f64 + if off { 60.0 } else { 0.0 }
    }
}

fn about(middle: Point, half: Vec2) -> Bounds {
    Bounds {
        min: middle + (-half),
        max: middle + half,
    }
}

/// A sentence in lines of at most so many letters.
pub(super) fn wrapped(text: &str, letters: usize) -> Vec<String> {
    let mut lines: Vec<String> = vec![String::new()];
    for word in text.split_whitespace() {
        let Some(line) = lines.last_mut() else { break };
        if line.is_empty() {
            line.push_str(word);
        } else if line.chars().count() + 1 + word.chars().count() <= letters {
            line.push(' ');
            line.push_str(word);
        } else {
            lines.push(word.to_owned());
        }
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn labels_at_one_place_do_not_cover_each_other() {
        let page = about(Point::new(0.0, 0.0), Vec2::new(100.0, 100.0));
        let line = (-50..50).map(|x| Point::new(f64::from(x), 0.0)).collect();
        let mut crowd = Crowd::new(page, 4.0, line);
        for _ in 0..12 {
            crowd.place(Point::new(0.0, 0.0), 9, 1.0);
        }
        for (i, a) in crowd.boxes.iter().enumerate() {
            assert!(a.min.y > 0.0 || a.max.y < 0.0, "a label lies over the line");
            assert!(crowd.boxes.iter().skip(i + 1).all(|b| !a.touches(b, 0.0)));
        }
        assert_eq!(
            wrapped("one two three four", 9),
            ["one two", "three", "four"]
        );
    }
}
