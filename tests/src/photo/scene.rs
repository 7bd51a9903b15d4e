//! What lies before the camera: ground, marks, line, and whatever else is on a real plate.

use super::camera::Camera;
use super::ground::Ground;
use super::ink::Ink;
use super::light::Light;
use super::raster::{Raster, noise, rough};
use super::shape;
use crate::rng::Rng;
use trued::{Point, Vec2};

/// What stands at the corners of the frame.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Marks {
    /// Filled dots.
    Dots,
    /// Crosses of two strokes.
    Crosses,
    /// Small pits with a bright rim.
    Punches,
    /// None: a white sheet of A4 lies there instead.
    Sheet,
}

/// Ink, paint or pit over the ground.
pub struct Layer {
    /// How much of it there is, 0..1.
    pub cover: Raster,
    /// Linear colour.
    pub colour: [f64; 3],
}

/// A plate with everything on it.
pub struct Scene {
    /// W and H of the frame, mm.
    pub frame: (f64, f64),
    /// What the marks are.
    pub marks: Marks,
    /// A mark is missing.
    pub missing: bool,
    /// The ground's kind.
    pub ground: Ground,
    /// What the line was drawn with.
    pub ink: Ink,
    /// Its width, mm.
    pub width: f64,
    /// The line's true middle, loop by loop.
    pub lines: Vec<Vec<Point>>,
    /// Marks of hole centres that were dotted inside.
    pub dots: Vec<Point>,
    /// What the loops are, where a list has them.
    pub cases: Vec<crate::shapes::Case>,
    pub(super) texture: Raster,
    pub(super) colours: ([f64; 3], [f64; 3]),
    pub(super) layers: Vec<Layer>,
    pub(super) light: Light,
    /// Where it is seen from.
    pub camera: Camera,
}

/// What a scene shall be.
#[derive(Clone, Copy, Debug)]
pub struct Wish {
    /// Pixels across and down.
    pub size: (usize, usize),
    /// Grounds and pens that nothing was tuned on.
    pub held: bool,
    /// Drawn in the other way altogether (`other`).
    pub other: bool,
    /// Leave out a mark.
    pub missing: bool,
    /// A part of metal in place of a line.
    pub part: bool,
}

/// Room round the frame that is drawn, mm.
const ROOM: f64 = 45.0;
pub(super) const FINE: f64 = 8.0;

impl Scene {
    /// A scene by chance.
    #[must_use]
    pub fn draw(wish: Wish, rng: &mut Rng) -> Self {
        let grounds = match (wish.other, wish.held) {
            (true, _) => Ground::OTHER,
            (_, true) => Ground::HELD,
            _ => Ground::KNOWN,
        };
        let ground = grounds[rng.below(4)];
        let marks = match rng.below(8) {
            0..=2 => Marks::Dots,
            3 | 4 => Marks::Crosses,
            5 => Marks::Punches,
            _ => Marks::Sheet,
        };
        let marks = match (marks, ground) {
            (Marks::Punches, Ground::Paper | Ground::Wood) => Marks::Dots,
            (Marks::Sheet, Ground::Paper) => Marks::Crosses,
            (m, _) if wish.missing && m == Marks::Sheet => Marks::Dots,
            (m, _) => m,
        };
        let frame = match marks {
            Marks::Sheet => (297.0, 210.0),
            _ => [
                (300.0, 200.0),
                (300.0, 200.0),
                (240.0, 160.0),
                (200.0, 280.0),
                (400.0, 250.0),
            ][rng.below(5)],
        };
        let (from, to) = (
            Point::new(-ROOM, -ROOM),
            Point::new(frame.0 + ROOM, frame.1 + ROOM),
        );
        // On a sheet the line is on paper.
        let paper = ground == Ground::Paper || marks == Marks::Sheet;
        let held = wish.held || wish.other;
        let ink = Ink::on(ground.is_dark() && !paper, paper, held, rng);
        let width = ink.width(rng);
        let texture = ground.texture(
            Point::new(-160.0, -160.0),
            Point::new(frame.0 + 160.0, frame.1 + 160.0),
            rng,
        );
        let mut scene = Self {
            frame,
            marks,
            missing: wish.missing,
            ground,
            ink,
            width,
            lines: Vec::new(),
            dots: Vec::new(),
            cases: Vec::new(),
            texture,
            colours: ground.colours(rng),
            layers: Vec::new(),
            light: Light::draw(frame, rng),
            camera: Camera::held(wish.size, frame, 9.0, 0.61, rng),
        };
        if wish.other {
            scene.camera = scene.camera.with_odd_lens(rng);
            scene.clutter(from, to, rng);
        }
        if marks == Marks::Sheet {
            scene.sheet(from, to);
        }
        if wish.part {
            scene.part(from, to, rng);
        } else {
            scene.scribed(from, to, rng);
            scene.outline(from, to, rng);
        }
        match marks {
            Marks::Sheet => {}
            _ if wish.other => scene.corners_by_hand(from, to, rng),
            _ => scene.corners(from, to, rng),
        }
        scene
    }

    pub(super) const fn is_dark(&self) -> bool {
        self.ground.is_dark()
    }

    fn sheet(&mut self, from: Point, to: Point) {
        let mut cover = Raster::new(from, to, FINE, 0.0);
        let (w, h) = self.frame;
        cover.each(|p, _| {
            let inside = p.x.min(w - p.x).min(p.y).min(h - p.y);
            (inside * FINE + 0.5).clamp(0.0, 1.0) as f32
        });
        self.layers.push(Layer {
            cover,
            colour: [0.72, 0.72, 0.70],
        });
    }

    /// A part of another tone lies on the ground in place of a line, perhaps with a hole.
    fn part(&mut self, from: Point, to: Point, rng: &mut Rng) {
        let (lines, cases) = shape::in_frame(self.frame, rng);
        let mut cover = Raster::new(from, to, FINE, 0.0);
        cover.each(|p, _| {
            let depth = lines
                .iter()
                .map(|l| shape::depth(l, p))
                .fold(
                    f64::INFINITY,
                    |a, d| if a.is_infinite() { d } else { a.min(-d) },
                );
            (depth * FINE + 0.5).clamp(0.0, 1.0) as f32
        });
        let bright = self.colours.0[1] < 0.2 && self.marks != Marks::Sheet;
        let tone = if bright {
            rng.range(0.4, 0.6)
        } else {
            rng.range(0.05, 0.12)
        };
        self.layers.push(Layer {
            cover,
            colour: [tone, tone, tone * 1.03],
        });
        (self.lines, self.cases) = (lines, cases);
    }

    /// Thin scratched lines across the plate, bright, seldom straight through the line's corners.
    fn scribed(&mut self, from: Point, to: Point, rng: &mut Rng) {
        if !rng.chance(0.6) {
            return;
        }
        let mut cover = Raster::new(from, to, FINE, 0.0);
        for _ in 0..1 + rng.below(3) {
            let p = Point::new(rng.range(0.0, self.frame.0), rng.range(0.0, self.frame.1));
            let d = Vec2::from_angle(rng.range(0.0, 3.2));
            let strength = rng.range(0.4, 1.0) as f32;
            cover.draw(
                p + d * -500.0,
                p + d * 500.0,
                rng.range(0.07, 0.18),
                strength,
            );
        }
        let bright = !self.ground.is_dark() && rng.chance(0.3);
        let tone = if bright { 0.12 } else { 0.7 };
        self.layers.push(Layer {
            cover,
            colour: [tone; 3],
        });
    }

    /// The line itself, dots for holes, and writing beside it.
    fn outline(&mut self, from: Point, to: Point, rng: &mut Rng) {
        let (lines, cases) = shape::in_frame(self.frame, rng);
        let mut cover = Raster::new(from, to, FINE, 0.0);
        let s = rng.word();
        let r = 0.5 * self.width;
        for line in &lines {
            let mut along = 0.0;
            for w in line.windows(2) {
                along += w[0].distance(w[1]);
                let press = 1.0 + 0.06 * noise(s, along / 15.0, 0.0);
                cover.draw(w[0], w[1], r * press, 1.0);
            }
        }
        let dotted = rng.chance(0.3);
        if dotted && let Some(outer) = lines.first() {
            for _ in 0..1 + rng.below(3) {
                let p = Point::new(rng.range(0.0, self.frame.0), rng.range(0.0, self.frame.1));
                let clear = lines.iter().all(|l| shape::depth(l, p).abs() > 12.0);
                let apart = self.dots.iter().all(|d| d.distance(p) > 15.0);
                if clear && apart && shape::depth(outer, p) > 0.0 {
                    cover.draw(
                        p,
                        p + Vec2::new(0.01, 0.0),
                        r.max(0.6) * rng.range(1.1, 1.6),
                        1.0,
                    );
                    self.dots.push(p);
                }
            }
        }
        if rng.chance(0.6) {
            shape::writing(
                &mut cover,
                self.frame,
                &lines,
                (0.25 * self.width).max(0.3),
                rng,
            );
        }
        let grain = self.ink.grain();
        cover.each(|p, v| {
            let g = 1.0 - grain * (0.5 + 0.8 * rough(s ^ 9, p, 0.8, 2)).clamp(0.0, 1.0);
            v * g as f32
        });
        let k = self.ink.cover();
        cover.each(|_, v| v * k as f32);
        self.layers.push(Layer {
            cover,
            colour: self.ink.colour(),
        });
        (self.lines, self.cases) = (lines, cases);
    }

    /// The four marks, and holes and blots about as large beside them.
    fn corners(&mut self, from: Point, to: Point, rng: &mut Rng) {
        let (w, h) = self.frame;
        let mut cover = Raster::new(from, to, FINE, 0.0);
        let mut rim = Raster::new(from, to, FINE, 0.0);
        let radius = match self.marks {
            Marks::Punches => rng.range(0.9, 1.6),
            _ => rng.range(2.5, 5.0),
        };
        let left_out = self.missing.then(|| rng.below(4));
        let places = [(0.0, 0.0), (w, 0.0), (w, h), (0.0, h)].map(|(x, y)| Point::new(x, y));
        for (i, &p) in places.iter().enumerate() {
            if left_out == Some(i) {
                continue;
            }
            match self.marks {
                Marks::Crosses => {
                    let d = Vec2::from_angle(rng.range(-0.15, 0.15)) * (2.2 * radius);
                    let half = (0.18 * radius).max(0.4);
                    cover.draw(p + (-d), p + d, half, 1.0);
                    cover.draw(p + (-d.left()), p + d.left(), half, 1.0);
                }
                _ => {
                    let r = radius * rng.range(0.96, 1.04);
                    cover.draw(p, p + Vec2::new(0.01, 0.0), r, 1.0);
                    if self.marks == Marks::Punches {
                        rim.draw(p, p + Vec2::new(0.01, 0.0), 1.5 * r, 0.8);
                    }
                }
            }
        }
        let dark = self.ground.is_dark();
        let tone = if dark && self.marks != Marks::Punches {
            0.8
        } else {
            0.025
        };
        let mut decoys = Raster::new(from, to, FINE, 0.0);
        for _ in 0..rng.below(6) {
            let by = places[rng.below(4)];
            let p = by + Vec2::from_angle(rng.range(-3.2, 3.2)) * rng.range(14.0, 40.0);
            let clear = self
                .lines
                .iter()
                .all(|l| shape::depth(l, p).abs() > 2.0 * radius + self.width);
            if clear {
                shape::blot(&mut decoys, p, radius * rng.range(0.7, 1.3), rng);
            }
        }
        self.layers.push(Layer {
            cover: rim,
            colour: [0.6; 3],
        });
        self.layers.push(Layer {
            cover,
            colour: [tone; 3],
        });
        let blot = if dark { 0.5 } else { 0.03 };
        self.layers.push(Layer {
            cover: decoys,
            colour: [blot; 3],
        });
    }

    /// A scene without anything the tool could use: no frame, no line.
    pub fn bare(&mut self) {
        self.layers.clear();
    }
}
