//! The picture seen straight from above: so many pixels a mm, y up, true to size.

use super::grid::Grid;
use super::picture::{Picture, linear};
use super::view::View;
use crate::geom::Point;

/// Most pixels of it.
const MOST: f64 = 5.0e6;
/// No finer than this, mm a pixel.
const FINEST: f64 = 0.04;

/// The plate from above.
pub struct Flat {
    /// mm from a pixel to the next.
    pub step: f64,
    /// Where the middle of the upper left pixel lies, mm.
    pub from: Point,
    /// Red, green and blue, linear in light.
    pub(super) rgb: [Grid; 3],
    /// Rows of what the picture shows; the rest is beyond its rim.
    pub(super) seen: Vec<bool>,
}

/// A box on the plate, mm.
#[derive(Clone, Copy, Debug)]
pub(super) struct Area {
    pub low: Point,
    pub high: Point,
}

impl Area {
    pub fn grown(self, by: f64) -> Self {
        Self {
            low: Point::new(self.low.x - by, self.low.y - by),
            high: Point::new(self.high.x + by, self.high.y + by),
        }
    }

    pub fn holds(&self, p: Point) -> bool {
        p.x >= self.low.x && p.y >= self.low.y && p.x <= self.high.x && p.y <= self.high.y
    }

    /// What of it a view shows, as a box.
    fn shown(self, view: &View, picture: &Picture) -> Self {
        let (w, h) = (picture.width() as f64, picture.height() as f64);
        let inside = |p: Point| {
            let q = view.sees(p);
            q.x >= 0.0 && q.y >= 0.0 && q.x < w && q.y < h
        };
        let mut out: Option<Self> = None;
        const N: i32 = 60;
        for i in 0..=N {
            for j in 0..=N {
                let (s, t) = (f64::from(i) / f64::from(N), f64::from(j) / f64::from(N));
                let p = Point::new(
                    self.low.x + s * (self.high.x - self.low.x),
                    self.low.y + t * (self.high.y - self.low.y),
                );
                if inside(p) {
                    let o = out.get_or_insert(Self { low: p, high: p });
                    o.low = Point::new(o.low.x.min(p.x), o.low.y.min(p.y));
                    o.high = Point::new(o.high.x.max(p.x), o.high.y.max(p.y));
                }
            }
        }
        out.unwrap_or(self)
    }
}

impl Flat {
    /// What an area of the plate looks like from above, as fine as the picture shows its middle.
    pub(super) fn of(picture: &Picture, view: &View, area: Area) -> Self {
        let area = area.shown(view, picture);
        let (w, h) = (area.high.x - area.low.x, area.high.y - area.low.y);
        let (across, up) = view.rates(area.low.midpoint(area.high));
        let finest = 1.0 / across.length().max(up.length()).max(1e-6);
        let step = finest.max(libm::sqrt(w * h / MOST)).max(FINEST);
        let (columns, rows) = ((w / step) as usize + 1, (h / step) as usize + 1);
        let mut out = Self {
            step,
            from: Point::new(area.low.x, area.low.y + (rows - 1) as f64 * step),
            rgb: [0; 3].map(|_| Grid::new(columns, rows)),
            seen: Vec::with_capacity(columns * rows),
        };
        let table: Vec<f32> = (0..=255u8).map(linear).collect();
        // Where the picture is finer than this, four places a pixel.
        let fine = step > 1.4 * finest;
        let offsets: &[(f64, f64)] = match fine {
            true => &[(-0.25, -0.25), (0.25, -0.25), (-0.25, 0.25), (0.25, 0.25)],
            false => &[(0.0, 0.0)],
        };
        let weight = 1.0 / offsets.len() as f32;
        let [red, green, blue] = &mut out.rgb;
        let pixels = red
            .values
            .iter_mut()
            .zip(&mut green.values)
            .zip(&mut blue.values);
        let (wide, high) = (picture.width() as f64, picture.height() as f64);
        for (i, ((r, g), b)) in pixels.enumerate() {
            let (x, y) = ((i % columns) as f64, (i / columns) as f64);
            for (dx, dy) in offsets {
                let p = Point::new(out.from.x + (x + dx) * step, out.from.y - (y + dy) * step);
                let [u, v, w] = sample(picture, &table, view.sees(p));
                *r += weight * u;
                *g += weight * v;
                *b += weight * w;
            }
            let q = view.sees(Point::new(out.from.x + x * step, out.from.y - y * step));
            out.seen
                .push(q.x > 1.0 && q.y > 1.0 && q.x < wide - 2.0 && q.y < high - 2.0);
        }
        out
    }

    /// Pixels across and down.
    #[must_use]
    pub fn size(&self) -> (usize, usize) {
        let [red, ..] = &self.rgb;
        (red.width, red.height)
    }

    /// Where a point of the plate lies, pixels.
    pub(super) fn pixel(&self, p: Point) -> Point {
        Point::new(
            (p.x - self.from.x) / self.step,
            (self.from.y - p.y) / self.step,
        )
    }

    /// The point of the plate at a place of a grid `by` times as coarse.
    pub(super) fn plate(&self, x: f64, y: f64, by: usize) -> Point {
        let k = by as f64;
        let (x, y) = ((x + 0.5) * k - 0.5, (y + 0.5) * k - 0.5);
        Point::new(self.from.x + x * self.step, self.from.y - y * self.step)
    }

    /// Rows of red, green, blue and 255, to be looked at.
    #[must_use]
    pub fn rgba(&self) -> Vec<u8> {
        let byte = |v: f32| (255.0 * libm::powf(v.clamp(0.0, 1.0), 1.0 / 2.2) + 0.5) as u8;
        let [red, green, blue] = &self.rgb;
        let pixels = red.values.iter().zip(&green.values).zip(&blue.values);
        pixels
            .flat_map(|((r, g), b)| [byte(*r), byte(*g), byte(*b), 255])
            .collect()
    }
}

#[inline]
fn sample(picture: &Picture, table: &[f32], p: Point) -> [f32; 3] {
    let (x, y) = (libm::floor(p.x), libm::floor(p.y));
    let (u, v) = ((p.x - x) as f32, (p.y - y) as f32);
    let (i, j) = (x as isize, y as isize);
    let light = |i, j| {
        picture
            .rgb(i, j)
            .map(|b| table.get(usize::from(b)).copied().unwrap_or(0.0))
    };
    let ([a0, a1, a2], [b0, b1, b2]) = (light(i, j), light(i + 1, j));
    let ([c0, c1, c2], [d0, d1, d2]) = (light(i, j + 1), light(i + 1, j + 1));
    let mix = |a: f32, b: f32, c: f32, d: f32| {
        (a * (1.0 - u) + b * u) * (1.0 - v) + (c * (1.0 - u) + d * u) * v
    };
    [
        mix(a0, b0, c0, d0),
        mix(a1, b1, c1, d1),
        mix(a2, b2, c2, d2),
    ]
}
