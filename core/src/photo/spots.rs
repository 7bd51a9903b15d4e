//! Small things that may be marks: dots, pits, crosses, dark on bright or bright on dark.
//!
//! 1. On a reduced picture, for a row of sizes, a place that differs from its surroundings more than its
//!    neighbours do is a seed (differences of means, as in Lowe 2004 or older).
//! 2. From the seed everything beyond half its own contrast that hangs together is one spot: so each has its
//!    own threshold, in light or shadow. One that grows without end is no spot.
//! 3. Its area beside that of the ellipse of its second moments tells a filled disc from a cross.
//! 4. Its ring must be ground all round: something that runs on is a line's end or a corner.
//!
//! Fails where a mark touches a line, or lies half in a hard shadow's edge darker than itself.

use super::grid::{Grid, quantile};
use crate::geom::{Point, Sorted as _, Vec2};

/// A thing that may be a mark, in pixels of the reduced picture.
#[derive(Clone, Copy, Debug)]
pub(super) struct Spot {
    pub at: Point,
    /// Half its extent, pixels: the radius of a disc of the same second moments.
    pub radius: f64,
    /// Share of that disc that is filled.
    pub solid: f64,
    /// Darker than its ground.
    pub dark: bool,
    /// How much it differs from its ground (logarithm of brightness).
    pub contrast: f64,
}

/// Reach of the means, pixels.
const SIZES: [usize; 6] = [1, 2, 4, 7, 12, 20];
/// Least contrast (logarithm of brightness as written in the file).
const LEAST_CONTRAST: f32 = 0.1;
/// Most seeds of one size and kind that are looked at.
const MOST_SEEDS: usize = 120;

/// Brightness to its logarithm; black is not endlessly dark.
pub(super) fn tone(v: f32) -> f32 {
    // A polynomial in place of a logarithm would be as good; this runs over a million pixels at most.
    libm::logf(v.max(0.0) + 6.0)
}

/// All spots of a reduced grey picture, strongest first.
pub(super) fn spots(grey: &Grid) -> Vec<Spot> {
    let tones = grey.map(tone);
    let mut found: Vec<Spot> = Vec::new();
    for reach in SIZES {
        let near = tones.mean(reach);
        let around = tones.mean(3 * reach + 1);
        let differs = near.with(&around, |a, b| a - b);
        // A thin scratch through a large dot is nothing beside it; of a cross little would be left.
        let smooth = tones.mean(reach / 4);
        for dark in [true, false] {
            for (x, y) in seeds(&differs, reach, dark) {
                let spot = grown(&tones, x, y, reach, dark);
                if let Some(spot) = spot.or_else(|| grown(&smooth, x, y, reach, dark)) {
                    keep(&mut found, spot);
                }
            }
        }
    }
    found.order_by(|a, b| b.contrast.total_cmp(&a.contrast));
    found
}

/// The same thing found from two seeds is one; the more solid view of it stays.
fn keep(found: &mut Vec<Spot>, spot: Spot) {
    let same = |s: &&mut Spot| {
        s.dark == spot.dark && s.at.distance(spot.at) < 0.7 * s.radius.max(spot.radius)
    };
    match found.iter_mut().find(same) {
        Some(old) if old.solid < spot.solid => *old = spot,
        Some(_) => {}
        None => found.push(spot),
    }
}

/// Places that differ more than all within the reach, strongest first.
fn seeds(differs: &Grid, reach: usize, dark: bool) -> Vec<(isize, isize)> {
    let sign = if dark { -1.0 } else { 1.0 };
    let strength = differs.map(|v| sign * v);
    let most = strength.highest(reach + 1);
    let wide = differs.width.max(1);
    let mut out: Vec<(f32, usize)> = strength
        .values
        .iter()
        .zip(&most.values)
        .enumerate()
        .filter(|(_, (v, m))| v >= m && **v > 0.4 * LEAST_CONTRAST)
        .map(|(i, (v, _))| (*v, i))
        .collect();
    out.order_by(|a, b| b.0.total_cmp(&a.0));
    let place = |(_, i): (f32, usize)| ((i % wide) as isize, (i / wide) as isize);
    out.into_iter().take(MOST_SEEDS).map(place).collect()
}

/// What hangs together with a seed beyond half its contrast.
fn grown(tones: &Grid, x: isize, y: isize, reach: usize, dark: bool) -> Option<Spot> {
    let sign = if dark { 1.0 } else { -1.0 };
    let span = 4 * reach as isize + 6;
    // The seed proper is the strongest pixel near it: a cross is empty beside its middle.
    let square = |r: isize| (-r..=r).flat_map(move |j| (-r..=r).map(move |i| (i, j)));
    let (mut core, mut at) = (f32::INFINITY, (x, y));
    for (i, j) in square(1 + reach as isize / 2) {
        let v = sign * tones.at(x + i, y + j);
        if v < core {
            (core, at) = (v, (x + i, y + j));
        }
    }
    let ring = |r: f64, n: usize| {
        (0..n).map(move |k| {
            let v = Vec2::from_angle(core::f64::consts::TAU * k as f64 / n as f64) * r;
            (libm::round(v.x) as isize, libm::round(v.y) as isize)
        })
    };
    let ground = |r: f64| {
        let mut around: Vec<f32> = ring(r, 32)
            .map(|(i, j)| sign * tones.at(x + i, y + j))
            .collect();
        quantile(&mut around, 0.5)
    };
    let far = ground(2.6 * reach as f64 + 4.0);
    let contrast = far - core;
    if contrast < LEAST_CONTRAST {
        return None;
    }
    let level = far - 0.5 * contrast;
    let region = Region::grow(at, (x, y), span, |i, j| sign * tones.at(i, j) < level)?;
    let (middle, radius, solid) = region.moments();
    let (cx, cy) = (
        libm::round(middle.x) as isize,
        libm::round(middle.y) as isize,
    );
    let inside = |p: isize, n: usize| p > 0 && p < n as isize - 1;
    if radius < 1.2 || !inside(cx, tones.width) || !inside(cy, tones.height) {
        return None;
    }
    // Ground about it, beyond the farthest of it; another spot may lie beside it.
    let clear = ring(1.12 * region.farthest(middle) + 1.5, 24)
        .filter(|(i, j)| sign * tones.at(cx + i, cy + j) > level)
        .count();
    (clear >= 16).then_some(Spot {
        at: middle,
        radius,
        solid,
        dark,
        contrast: f64::from(contrast),
    })
}

/// Pixels that hang together.
struct Region {
    pixels: Vec<(isize, isize)>,
}

impl Region {
    /// Grows from a pixel over all that are `within`; nothing where it reaches `span` from `about`.
    fn grow(
        from: (isize, isize),
        about: (isize, isize),
        span: isize,
        within: impl Fn(isize, isize) -> bool,
    ) -> Option<Self> {
        let wide = (2 * span + 1) as usize;
        let mut seen = vec![false; wide * wide];
        let index = |(x, y): (isize, isize)| {
            let (i, j) = (x - about.0 + span, y - about.1 + span);
            let fits = i >= 0 && j >= 0 && i < wide as isize && j < wide as isize;
            fits.then(|| (j as usize) * wide + i as usize)
        };
        let mut pixels = vec![from];
        if let Some(s) = index(from).and_then(|k| seen.get_mut(k)) {
            *s = true;
        }
        let mut next = 0;
        while let Some(&(x, y)) = pixels.get(next) {
            next += 1;
            for (i, j) in [(1, 0), (-1, 0), (0, 1), (0, -1)] {
                let p = (x + i, y + j);
                if !within(p.0, p.1) {
                    continue;
                }
                let s = seen.get_mut(index(p)?)?;
                if !*s {
                    *s = true;
                    pixels.push(p);
                }
            }
        }
        Some(Self { pixels })
    }

    /// Middle, radius of the disc of the same second moments, and which share of that disc is filled.
    fn moments(&self) -> (Point, f64, f64) {
        let n = self.pixels.len().max(1) as f64;
        let (mut sx, mut sy) = (0.0, 0.0);
        for &(x, y) in &self.pixels {
            sx += x as f64;
            sy += y as f64;
        }
        let middle = Point::new(sx / n, sy / n);
        let (mut xx, mut yy, mut xy) = (0.0, 0.0, 0.0);
        for &(x, y) in &self.pixels {
            let d = Point::new(x as f64, y as f64) - middle;
            xx += d.x * d.x;
            yy += d.y * d.y;
            xy += d.x * d.y;
        }
        // A pixel is a square: a twelfth of a pixel's variance of its own.
        let (xx, yy, xy) = (xx / n + 1.0 / 12.0, yy / n + 1.0 / 12.0, xy / n);
        let root = libm::sqrt((xx * yy - xy * xy).max(1e-9));
        let area = 4.0 * core::f64::consts::PI * root;
        (middle, 2.0 * libm::sqrt(root), n / area)
    }

    fn farthest(&self, from: Point) -> f64 {
        let all = self.pixels.iter();
        all.map(|&(x, y)| from.distance(Point::new(x as f64, y as f64)))
            .fold(0.0, f64::max)
    }
}
