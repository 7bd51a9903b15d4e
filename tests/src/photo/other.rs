//! A second way to draw the same: grounds, marks, clutter, lens and film that the first does not have, so that
//! what was worked out on the first is judged by something else.
//!
//! Marks are drawn by a hand: dots are lumpy and of unlike size, arms of crosses are of unlike length and not quite
//! square, punch marks are lit from one side. Round about lie washers, screws, a ruler, a strip of tape; the floor has
//! joints, the mat a grid. The camera sharpens, darkens towards its corners, and its lens bends by a second term and
//! about another middle.

use super::raster::{Raster, noise, rough};
use super::scene::{FINE, Layer, Marks, Scene};
use crate::rng::Rng;
use core::f64::consts::TAU;
use trued::{Point, Vec2};

impl Scene {
    /// The four marks as a hand makes them; one may be left out.
    pub(super) fn corners_by_hand(&mut self, from: Point, to: Point, rng: &mut Rng) {
        let (w, h) = self.frame;
        let mut cover = Raster::new(from, to, FINE, 0.0);
        let mut lit = Raster::new(from, to, FINE, 0.0);
        let radius = match self.marks {
            Marks::Punches => rng.range(0.9, 2.0),
            Marks::Crosses => rng.range(5.0, 11.0),
            _ => rng.range(2.0, 6.5),
        };
        let half = rng.range(0.35, 0.11 * radius + 0.4);
        let lamp = Vec2::from_angle(rng.range(0.0, TAU));
        let left_out = self.missing.then(|| rng.below(4));
        let places = [(0.0, 0.0), (w, 0.0), (w, h), (0.0, h)].map(|(x, y)| Point::new(x, y));
        for (i, &p) in places.iter().enumerate() {
            let r = radius * rng.range(0.86, 1.16);
            let turn = rng.range(-0.7, 0.7);
            if left_out == Some(i) {
                continue;
            }
            match self.marks {
                Marks::Crosses => {
                    for k in 0..2 {
                        let bent = turn + 0.5 * core::f64::consts::PI * f64::from(k);
                        let d = Vec2::from_angle(bent + rng.range(-0.12, 0.12));
                        let (a, b) = (r * rng.range(0.75, 1.2), r * rng.range(0.75, 1.2));
                        cover.draw(p + d * -a, p + d * b, half, 1.0);
                    }
                }
                Marks::Punches => {
                    cover.draw(p, p + Vec2::new(0.01, 0.0), r, 1.0);
                    // The pit's far wall catches the light.
                    lit.draw(p + lamp * (0.45 * r), p + lamp * (0.5 * r), 0.45 * r, 0.7);
                }
                _ => lump(&mut cover, p, r, 0.045, rng),
            }
        }
        let dark = self.is_dark();
        let tone = match dark && self.marks != Marks::Punches {
            true => rng.range(0.5, 0.85),
            false => rng.range(0.015, 0.05),
        };
        for (cover, tone) in [(cover, tone), (lit, 0.55)] {
            self.layers.push(Layer {
                cover,
                colour: [tone; 3],
            });
        }
        let mut blots = Raster::new(from, to, FINE, 0.0);
        for _ in 0..rng.below(7) {
            let by = places[rng.below(4)];
            let p = by + Vec2::from_angle(rng.range(0.0, TAU)) * rng.range(13.0, 38.0);
            if self.is_clear(p, 2.0 * radius + self.width) {
                let r = match self.marks {
                    Marks::Crosses => rng.range(1.5, 5.0),
                    _ => radius * rng.range(0.6, 1.5),
                };
                lump(&mut blots, p, r, rng.range(0.0, 0.12), rng);
            }
        }
        let tone = if dark { 0.6 } else { 0.03 };
        self.layers.push(Layer {
            cover: blots,
            colour: [tone; 3],
        });
    }

    fn is_clear(&self, p: Point, room: f64) -> bool {
        let lines = self.lines.iter();
        lines
            .map(|l| super::shape::depth(l, p).abs())
            .all(|d| d > room)
    }

    /// What lies beside the frame on a bench.
    pub(super) fn clutter(&mut self, from: Point, to: Point, rng: &mut Rng) {
        let (w, h) = self.frame;
        let mut dark = Raster::new(from, to, FINE, 0.0);
        let mut bright = Raster::new(from, to, FINE, 0.0);
        for _ in 0..rng.below(6) {
            // Beyond the frame, on any side of it.
            let out = rng.range(14.0, 38.0);
            let p = match rng.below(4) {
                0 => Point::new(-out, rng.range(0.0, h)),
                1 => Point::new(w + out, rng.range(0.0, h)),
                2 => Point::new(rng.range(0.0, w), -out),
                _ => Point::new(rng.range(0.0, w), h + out),
            };
            let u = Vec2::from_angle(rng.range(0.0, TAU));
            match rng.below(4) {
                0 => {
                    let r = rng.range(5.0, 9.0);
                    let ring: Vec<Point> = (0..=60)
                        .map(|i| p + Vec2::from_angle(TAU * f64::from(i) / 60.0) * r)
                        .collect();
                    bright.line(&ring, 0.35 * r, 0.9);
                }
                1 => {
                    bright.draw(p, p + u * 0.01, rng.range(3.0, 6.0), 0.9);
                    dark.draw(p + u * -2.0, p + u * 2.0, 0.6, 1.0);
                }
                2 => dark.draw(p, p + u * rng.range(5.0, 25.0), rng.range(0.8, 2.5), 1.0),
                _ => {
                    let along = rng.range(10.0, 60.0);
                    bright.draw(p + u * -along, p + u * along, rng.range(4.0, 9.0), 0.95);
                    for i in 0..(along / 2.5) as i32 {
                        let q = p + u * (-along + 5.0 * f64::from(i));
                        dark.draw(q, q + u.left() * 3.0, 0.2, 1.0);
                    }
                }
            }
        }
        // Nothing of it comes into the frame's neighbourhood.
        let inside = |p: Point| p.x.min(w - p.x).min(p.y).min(h - p.y) > -9.0;
        for cover in [&mut dark, &mut bright] {
            cover.each(|p, v| if inside(p) { 0.0 } else { v });
        }
        self.layers.push(Layer {
            cover: bright,
            colour: [0.55, 0.55, 0.52],
        });
        self.layers.push(Layer {
            cover: dark,
            colour: [0.04; 3],
        });
    }
}

/// A round thing by hand: lumpy, and of any shape the stronger its waves are.
fn lump(cover: &mut Raster, p: Point, r: f64, waves: f64, rng: &mut Rng) {
    let form: Vec<(f64, f64, f64)> = (2..6)
        .map(|k| {
            (
                f64::from(k),
                waves * rng.normal() / f64::from(k).sqrt(),
                rng.range(0.0, TAU),
            )
        })
        .collect();
    for i in 0..72 {
        let a = TAU * f64::from(i) / 72.0;
        let off: f64 = form.iter().map(|(k, s, f)| s * libm::cos(k * a + f)).sum();
        let pen = 0.3 * r;
        let reach = (r * (1.0 + off) - pen).max(0.0);
        cover.draw(p, p + Vec2::from_angle(a) * reach, pen, 1.0);
    }
}

/// Texture of a mat with a grid, of a tiled floor's joints, of board with flutes, of concrete with pits.
pub(super) fn texture(kind: super::ground::Ground, s: u64, p: Point) -> f64 {
    use super::ground::Ground;
    let near = |v: f64, every: f64| (v - every * libm::round(v / every)).abs();
    match kind {
        Ground::Mat => {
            let line = near(p.x, 10.0).min(near(p.y, 10.0));
            let bold = near(p.x, 50.0).min(near(p.y, 50.0));
            let share = |d: f64, half: f64| ((half - d) / 0.15 + 0.5).clamp(0.0, 1.0);
            0.9 * share(line, 0.15) + share(bold, 0.3) + 0.1 * rough(s, p, 2.0, 2)
        }
        Ground::Tiles => {
            let joint =
                near(p.x + 0.2 * p.y + 47.0, 135.0).min(near(p.y - 0.2 * p.x + 31.0, 135.0));
            1.6 * ((2.0 - joint) / 0.4 + 0.5).clamp(0.0, 1.0) + 0.25 * rough(s, p, 9.0, 3)
        }
        Ground::Board => {
            0.35 * libm::sin(TAU * p.x / 7.0 + noise(s, p.x / 60.0, p.y / 60.0))
                + 0.2 * rough(s ^ 1, p, 1.2, 2)
        }
        _ => {
            let pit = rough(s, p, 4.0, 2);
            0.4 * rough(s ^ 1, p, 25.0, 5) + if pit > 1.05 { 1.5 } else { 0.0 }
        }
    }
}
