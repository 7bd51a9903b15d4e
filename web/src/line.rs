//! The hand's line as the plate draws it: all strokes of a trace as one path of the screen.
//!
//! A pen of some 60 Hz to 1 kHz leaves far more points than a screen has room for, and a path of a
//! hundred thousand of them takes a browser several frames. So the line is thinned, for a scale at a
//! time, to what the eye cannot tell from the whole; moving the plate only shifts what was kept, and a
//! view costs what lies in it. Where that is still more than a frame has time for, as of a line that
//! trembles at every point, it is thinned further, so far that its pen covers what is left out.

use trued::{Point, Vec2};
use wasm_bindgen::prelude::*;
use web_sys::Path2d;

/// How far what is drawn may lie beside the hand's line, pixels: a tenth of the pen's width.
const UNSEEN: f64 = 0.4;
/// The same where more than [`MANY`] pieces of line are in view: less than half the pen's width.
const COVERED: f64 = 1.6;
/// So many pieces of line are stroked within a frame, pen and texture as they are.
const MANY: usize = 4000;
/// A line is thinned for scales up to so much closer than the one asked for…
const AHEAD: f64 = 2.0;
/// …and anew once the scale is so many times further away, when it has more points than it needs.
const BEHIND: f64 = 8.0;
/// How far beyond the plate's border a line still shows, pixels: half the pen's width and some.
const BORDER: f64 = 4.0;

/// The strokes of a trace.
#[wasm_bindgen]
#[derive(Default)]
pub struct HandLine {
    strokes: Vec<Vec<Point>>,
    thinned: Vec<Vec<Point>>,
    /// The closest look that `thinned` is good for, pixels per mm, and what it may be off then, pixels.
    scale: f64,
    within: f64,
}

#[wasm_bindgen]
impl HandLine {
    /// A line without strokes.
    #[wasm_bindgen(constructor)]
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// Adds a stroke: x, y by turns in mm.
    pub fn add(&mut self, points: &[f64]) {
        let stroke = points.as_chunks().0.iter().map(|&p| Point::from(p));
        self.strokes.push(stroke.collect());
        self.scale = 0.0;
    }

    /// What of the line a plate of a width and height shows, all in pixels: `scale` pixels are a mm,
    /// and (0, 0) lies at `x`, `y`.
    ///
    /// # Errors
    /// What the browser says when it makes no path.
    pub fn path(
        &mut self,
        scale: f64,
        x: f64,
        y: f64,
        width: f64,
        height: f64,
    ) -> Result<Path2d, JsValue> {
        if !(scale..=BEHIND * scale).contains(&self.scale) {
            self.thin(AHEAD * scale, UNSEEN);
        }
        let view = View {
            scale,
            x,
            y,
            width,
            height,
        };
        while self.within < COVERED && self.shown(&view).count() > MANY {
            self.thin(self.scale, 2.0 * self.within);
        }
        let path = Path2d::new()?;
        let mut pen = None;
        for [from, to] in self.shown(&view) {
            if pen != Some(from) {
                path.move_to(from.x, from.y);
            }
            path.line_to(to.x, to.y);
            pen = Some(to);
        }
        Ok(path)
    }
}

impl HandLine {
    fn thin(&mut self, scale: f64, within: f64) {
        (self.scale, self.within) = (scale, within);
        let strokes = self.strokes.iter();
        self.thinned = strokes.map(|s| thin(s, within / scale)).collect();
    }

    /// The pieces of line that a view shows, in its pixels.
    fn shown(&self, view: &View) -> impl Iterator<Item = [Point; 2]> {
        let pieces = self.thinned.iter().flat_map(|s| s.array_windows());
        pieces
            .map(|ends| ends.map(|p| view.to_screen(p)))
            .filter(|ends| view.shows(ends))
    }
}

/// What of the plate is seen, and how large.
struct View {
    scale: f64,
    x: f64,
    y: f64,
    width: f64,
    height: f64,
}

impl View {
    fn to_screen(&self, p: Point) -> Point {
        Point::new(self.x + self.scale * p.x, self.y - self.scale * p.y)
    }

    /// Whether a piece of line can touch the plate.
    fn shows(&self, [a, b]: &[Point; 2]) -> bool {
        a.x.max(b.x) > -BORDER
            && a.y.max(b.y) > -BORDER
            && a.x.min(b.x) < self.width + BORDER
            && a.y.min(b.y) < self.height + BORDER
    }
}

/// Leaves out the points of a line without which it runs as before.
///
/// From the last point kept, every further one allows chords of certain directions: those that pass it
/// `within` the tolerance. As long as the next point lies in a direction that all before it allow, and
/// is not on the way back, the chord to it stands for them. One look at each point, whatever the line.
///
/// Each point left out lies within the tolerance beside the chord, and, where the line turns back, at
/// most as far again beyond its end. A kept point is one of the line's own, so ends and turning points
/// stay. What fails is a line that has more turns, each farther apart than the tolerance, than a frame has
/// time for, such as a plate scribbled full: it is drawn in full, and slowly.
fn thin(line: &[Point], within: f64) -> Vec<Point> {
    let mut kept = Vec::new();
    let mut points = line.iter().copied();
    let Some(mut last) = points.next() else {
        return kept;
    };
    kept.push(last);
    let mut chord = Chord::new(last);
    for point in points {
        if !chord.reaches(point, within) {
            kept.push(last);
            chord = Chord::new(last);
        }
        chord.pass(point, within);
        last = point;
    }
    kept.push(last);
    kept
}

/// The chords from a point that pass all points since.
struct Chord {
    from: Point,
    far: f64,
    /// The outermost directions, the right one first; none while all are allowed.
    cone: Option<[Vec2; 2]>,
}

impl Chord {
    const fn new(from: Point) -> Self {
        Self {
            from,
            far: 0.0,
            cone: None,
        }
    }

    /// Whether the chord to a point passes all points since within the tolerance.
    fn reaches(&self, point: Point, within: f64) -> bool {
        let to = point - self.from;
        let allowed = |[right, left]: [Vec2; 2]| right.cross(to) >= 0.0 && to.cross(left) >= 0.0;
        to.length() >= self.far - within && self.cone.is_none_or(allowed)
    }

    /// Narrows the directions to those that pass a point.
    fn pass(&mut self, point: Point, within: f64) {
        let to = point - self.from;
        let far = to.length();
        self.far = self.far.max(far);
        if far <= within {
            return;
        }
        // The tangents from the chord's beginning to the circle about the point.
        let along = to * (far * far - within * within).sqrt();
        let across = to.left() * within;
        let (right, left) = (along - across, along + across);
        self.cone = Some(self.cone.map_or([right, left], |[r, l]| {
            [
                if r.cross(right) > 0.0 { right } else { r },
                if left.cross(l) > 0.0 { left } else { l },
            ]
        }));
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use trued::Line;

    /// A line that wanders, turns about, stands still and jumps.
    fn wandering(count: u32) -> Vec<Point> {
        let mut seed = 7_u32;
        let mut shake = move || {
            seed = seed.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            f64::from(seed) / f64::from(u32::MAX) - 0.5
        };
        let place = |i: u32| {
            let s = f64::from(i % 700) / 100.0;
            let jump = if i % 900 > 880 { 30.0 } else { 0.0 };
            Point::new(
                50.0 * (s - 3.5).abs() + shake() + jump,
                s * s + 0.3 * shake(),
            )
        };
        (0..count).map(place).collect()
    }

    #[test]
    fn what_is_left_out_lies_beside_what_is_kept() {
        let line = wandering(20_000);
        for within in [0.01, 0.3, 2.0] {
            let kept = thin(&line, within);
            let mut points = line.iter();
            for &[a, b] in kept.array_windows() {
                for &p in points.by_ref().take_while(|&&p| p != b) {
                    let near = Line { from: a, to: b }.nearest(p).0;
                    assert!(p.distance(near) < 1.5 * within, "{p:?} of {a:?} to {b:?}");
                }
            }
            assert_eq!((kept.first(), kept.last()), (line.first(), line.last()));
        }
    }

    #[test]
    fn a_dense_line_costs_what_it_shows() {
        let circle = |i| Point::default() + Vec2::from_angle(f64::from(i) / 1e5) * 10.0;
        let line: Vec<Point> = (0..628_319).map(circle).collect();
        assert!(thin(&line, 0.01).len() < 80);
        assert_eq!(thin(&[], 1.0), []);
    }

    #[test]
    fn turning_points_stay() {
        let there_and_back: Vec<Point> = [0.0, 1.0, 5.0, 9.0, 4.0, 0.5]
            .map(|x| Point::new(x, 0.0))
            .to_vec();
        let ends = [0.0, 9.0, 0.5].map(|x| Point::new(x, 0.0));
        assert_eq!(thin(&there_and_back, 0.4), ends);
    }
}
