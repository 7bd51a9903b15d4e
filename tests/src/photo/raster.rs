//! A raster over the plate in mm, and the noises that textures are made of.

use crate::rng::Rng;
use trued::Point;

/// Values over a part of the plate.
#[derive(Clone)]
pub struct Raster {
    /// Lower left corner, mm.
    pub from: Point,
    /// Pixels a mm.
    pub fine: f64,
    width: usize,
    height: usize,
    values: Vec<f32>,
}

impl Raster {
    /// A raster of one value.
    #[must_use]
    pub fn new(from: Point, to: Point, fine: f64, value: f32) -> Self {
        let width = ((to.x - from.x) * fine) as usize + 2;
        let height = ((to.y - from.y) * fine) as usize + 2;
        Self {
            from,
            fine,
            width,
            height,
            values: vec![value; width * height],
        }
    }

    /// Each value anew from its place and what it was.
    pub fn each(&mut self, f: impl Fn(Point, f32) -> f32) {
        for y in 0..self.height {
            for x in 0..self.width {
                let p = Point::new(
                    self.from.x + x as f64 / self.fine,
                    self.from.y + y as f64 / self.fine,
                );
                let v = &mut self.values[y * self.width + x];
                *v = f(p, *v);
            }
        }
    }

    /// Between four pixels.
    #[must_use]
    pub fn at(&self, p: Point) -> f32 {
        let x = ((p.x - self.from.x) * self.fine).clamp(0.0, self.width as f64 - 1.01) as f32;
        let y = ((p.y - self.from.y) * self.fine).clamp(0.0, self.height as f64 - 1.01) as f32;
        let (i, j) = (x as usize, y as usize);
        let (u, v) = (x - i as f32, y - j as f32);
        let k = j * self.width + i;
        let low = self.values[k] * (1.0 - u) + self.values[k + 1] * u;
        let high = self.values[k + self.width] * (1.0 - u) + self.values[k + self.width + 1] * u;
        low * (1.0 - v) + high * v
    }

    /// Raises values to `strength` within `radius` of a segment, softly at its rim.
    pub fn draw(&mut self, a: Point, b: Point, radius: f64, strength: f32) {
        let pad = radius + 1.5 / self.fine;
        let place = |v: f64, from: f64, n: usize| {
            (((v - from) * self.fine).max(0.0) as usize).min(n.saturating_sub(1))
        };
        let (x0, x1) = (a.x.min(b.x) - pad, a.x.max(b.x) + pad);
        let (y0, y1) = (a.y.min(b.y) - pad, a.y.max(b.y) + pad);
        let d = b - a;
        for y in place(y0, self.from.y, self.height)..=place(y1, self.from.y, self.height) {
            for x in place(x0, self.from.x, self.width)..=place(x1, self.from.x, self.width) {
                let p = Point::new(
                    self.from.x + x as f64 / self.fine,
                    self.from.y + y as f64 / self.fine,
                );
                let t = ((p - a).dot(d) / d.length_squared().max(1e-12)).clamp(0.0, 1.0);
                let off = p.distance(a + d * t);
                let cover = ((radius - off) * self.fine + 0.5).clamp(0.0, 1.0) as f32 * strength;
                let v = &mut self.values[y * self.width + x];
                *v = v.max(cover);
            }
        }
    }

    /// Draws a run of points.
    pub fn line(&mut self, points: &[Point], radius: f64, strength: f32) {
        for w in points.windows(2) {
            self.draw(w[0], w[1], radius, strength);
        }
    }
}

fn lattice(seed: u64, x: i64, y: i64) -> f64 {
    let mut z = seed
        .wrapping_add((x as u64).wrapping_mul(0x9E37_79B9_7F4A_7C15))
        .wrapping_add((y as u64).wrapping_mul(0xC2B2_AE3D_27D4_EB4F));
    z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
    ((z ^ (z >> 31)) >> 11) as f64 / (1u64 << 52) as f64 - 1.0
}

/// Smooth noise between -1 and 1 with features of about 1.
#[must_use]
pub fn noise(seed: u64, x: f64, y: f64) -> f64 {
    let (i, j) = (x.floor(), y.floor());
    let ease = |t: f64| t * t * (3.0 - 2.0 * t);
    let (u, v) = (ease(x - i), ease(y - j));
    let (i, j) = (i as i64, j as i64);
    let mix = |a: f64, b: f64, t: f64| a + (b - a) * t;
    mix(
        mix(lattice(seed, i, j), lattice(seed, i + 1, j), u),
        mix(lattice(seed, i, j + 1), lattice(seed, i + 1, j + 1), u),
        v,
    )
}

/// Noise of several sizes: the largest features `size` mm, each next half as large and strong.
#[must_use]
pub fn rough(seed: u64, p: Point, size: f64, octaves: u32) -> f64 {
    let (mut sum, mut strength, mut scale) = (0.0, 1.0, 1.0 / size);
    for k in 0..octaves {
        sum += strength * noise(seed.wrapping_add(u64::from(k)), p.x * scale, p.y * scale);
        strength *= 0.55;
        scale *= 2.0;
    }
    sum
}

/// A seed for a noise.
pub fn seed(rng: &mut Rng) -> u64 {
    rng.word()
}
