//! What of the plate is line: narrow, and the ground returns on both sides.
//!
//! Whatever is darker than its surroundings and narrower than a width goes when the picture is closed by a
//! square of that width (the least of the greatest; Serra 1982): what the closing adds is ink. A shadow's
//! edge, however sharp, has dark ground on one side as far as the eye reaches and adds nothing. Light lines
//! on dark ground are the same with the sign turned. All of it is done on logarithms of light, so that the
//! same ink adds the same in light and in shadow.
//!
//! The width is not known beforehand, so a few are tried, on grids just fine enough for each; a line is found
//! at every width above its own, but the nearest sets it best apart from what is beside it. Texture adds a little everywhere;
//! ink must add several times as much.

use super::flat::Flat;
use super::grid::{Grid, quantile};
use crate::geom::Point;

/// Widths that are tried, mm, in this order: a closing by one takes all lines up to 1.6 times as wide.
pub(super) const WIDTHS: [f64; 4] = [2.8, 1.4, 5.6, 0.7];
/// Pixels across a line, at least, on the grid it is looked for on.
const ACROSS: f64 = 5.0;
/// Least that ink adds (logarithm of light).
const LEAST: f32 = 0.16;
/// How many times what texture adds.
const TIMES: f32 = 3.5;

/// Ink on a grid of its own.
pub(super) struct Ink {
    /// The grid is so many times as coarse as the flat picture.
    pub by: usize,
    /// Where it is.
    pub mask: Vec<bool>,
    pub width: usize,
    /// What it adds, pixel by pixel.
    pub adds: Grid,
    /// Darker than the ground.
    pub dark: bool,
    /// Width it was looked for at, mm.
    pub scale: f64,
}

/// The logarithm of light of one kind.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Tint {
    /// All colours.
    Grey,
    /// The most of the three: a coloured ground is bright in it.
    Most,
    /// The least of the three: coloured ink is dark in it.
    Least,
}

impl Tint {
    pub const ALL: [Self; 3] = [Self::Grey, Self::Most, Self::Least];

    /// The flat picture's light in this tint.
    pub fn light(self, flat: &Flat) -> Grid {
        let [r, g, b] = &flat.rgb;
        let mut out = Grid::new(r.width, r.height);
        let all = r.values.iter().zip(&g.values).zip(&b.values);
        for (to, ((r, g), b)) in out.values.iter_mut().zip(all) {
            *to = match self {
                Self::Grey => 0.3 * r + 0.59 * g + 0.11 * b,
                Self::Most => r.max(*g).max(*b),
                Self::Least => r.min(*g).min(*b),
            };
        }
        out
    }
}

/// Light to its logarithm; in black the camera's noise counts for little.
fn log(light: &Grid) -> Grid {
    light.map(|v| libm::logf(v.max(0.0) + 0.012))
}

/// Ink up to about a width, dark and light; nothing where the picture is too coarse for it.
pub(super) fn inks(
    flat: &Flat,
    light: &Grid,
    scale: f64,
    keep: &dyn Fn(Point) -> bool,
) -> Vec<Ink> {
    if scale < 2.2 * flat.step {
        return Vec::new();
    }
    let by = ((scale / ACROSS / flat.step) as usize).max(1);
    let tones = log(&light.reduced(by));
    let signed = [(true, tones.clone()), (false, tones.map(|v| -v))];
    let found = signed
        .iter()
        .filter_map(|(dark, t)| at_width(flat, t, by, scale, *dark, keep));
    found.collect()
}

/// Ink at one width; nothing where nothing reaches far.
fn at_width(
    flat: &Flat,
    tones: &Grid,
    by: usize,
    scale: f64,
    dark: bool,
    keep: &dyn Fn(Point) -> bool,
) -> Option<Ink> {
    let pixel = flat.step * by as f64;
    let soft = tones.soft(0.16 * scale / pixel);
    let reach = libm::ceil(0.8 * scale / pixel) as usize;
    let closed = soft.highest(reach).lowest(reach);
    let mut adds = closed.with(&soft, |c, v| c - v);
    let wide = adds.width;
    let [red, ..] = &flat.rgb;
    for (i, v) in adds.values.iter_mut().enumerate() {
        let (x, y) = (i % wide.max(1), i / wide.max(1));
        let at = |x: usize, y: usize| flat.seen.get(y * red.width + x).copied().unwrap_or(false);
        let seen = at(x * by, y * by) && at(x * by + by - 1, y * by + by - 1);
        if !(seen && keep(flat.plate(x as f64, y as f64, by))) {
            *v = 0.0;
        }
    }
    let texture = adds.quantile(0.6);
    let floor = (TIMES * texture).max(LEAST);
    // The ink's own strength hereabouts: the most that is added within a width of it.
    let strength = adds.highest(reach).soft(scale / pixel);
    let is_ink = |v: f32, s: f32, least: f32| v > 0.5 * s && s > least;
    let strong: Vec<bool> = adds
        .values
        .iter()
        .zip(&strength.values)
        .map(|(v, s)| is_ink(*v, *s, floor))
        .collect();
    let pieces = Pieces::of(&strong, wide);
    let best = pieces.plainest(&adds, pixel, texture.max(0.02))?;
    // Beside plain ink the weaker counts too: where glare or a worn tip left little of it.
    let least = (0.3 * best).max(1.6 * texture).max(0.08).min(floor);
    let weak: Vec<bool> = adds
        .values
        .iter()
        .zip(&strength.values)
        .map(|(v, s)| is_ink(*v, *s, least))
        .collect();
    let pieces = Pieces::of(&weak, wide);
    let mask = pieces.reaching(&strong, 2.0 * scale / pixel);
    Some(Ink {
        by,
        mask,
        width: wide,
        adds,
        dark,
        scale,
    })
}

/// Pixels that hang together, numbered.
pub(super) struct Pieces {
    /// Number of each pixel's piece; 0 is none.
    pub of: Vec<u32>,
    wide: usize,
    /// Pixels of each piece, by number.
    pub pixels: Vec<Vec<u32>>,
}

impl Pieces {
    /// The pieces of a mask, neighbours by side and corner.
    pub fn of(mask: &[bool], wide: usize) -> Self {
        let mut of = vec![0u32; mask.len()];
        let mut pixels: Vec<Vec<u32>> = vec![Vec::new()];
        let w = wide as isize;
        for start in 0..mask.len() {
            if !mask.get(start).copied().unwrap_or(false) || of.get(start).is_some_and(|n| *n > 0) {
                continue;
            }
            let number = pixels.len() as u32;
            let mut list = vec![start as u32];
            if let Some(n) = of.get_mut(start) {
                *n = number;
            }
            let mut next = 0;
            while let Some(&i) = list.get(next) {
                next += 1;
                let x = i as isize % w;
                for (dx, dy) in [
                    (1, 0),
                    (-1, 0),
                    (0, 1),
                    (0, -1),
                    (1, 1),
                    (1, -1),
                    (-1, 1),
                    (-1, -1),
                ] {
                    if x + dx < 0 || x + dx >= w {
                        continue;
                    }
                    let j = i as isize + dy * w + dx;
                    let Ok(j) = usize::try_from(j) else { continue };
                    if mask.get(j).copied().unwrap_or(false)
                        && let Some(n) = of.get_mut(j)
                        && *n == 0
                    {
                        *n = number;
                        list.push(j as u32);
                    }
                }
            }
            pixels.push(list);
        }
        Self { of, wide, pixels }
    }

    /// Width and height of a piece, pixels.
    pub fn extent(&self, pixels: &[u32]) -> (usize, usize) {
        let wide = self.wide.max(1) as u32;
        let range = |f: fn(u32, u32) -> u32| {
            let all = pixels.iter().map(|i| f(*i, wide));
            let (lo, hi) = all.fold((u32::MAX, 0), |(a, b), v| (a.min(v), b.max(v)));
            (hi.saturating_sub(lo) + 1) as usize
        };
        (range(|i, w| i % w), range(|i, w| i / w))
    }

    /// What the plainest piece adds, typically, and how plain it is: how far it reaches, and by how much its
    /// ink stands out of the texture.
    fn plainest(&self, adds: &Grid, pixel: f64, texture: f32) -> Option<f32> {
        let mut best: Option<(f32, f64)> = None;
        for piece in self.pixels.iter().skip(1) {
            let (w, h) = self.extent(piece);
            let reach = pixel * libm::hypot(w as f64, h as f64);
            if reach < 15.0 {
                continue;
            }
            let mut values: Vec<f32> = piece
                .iter()
                .filter_map(|i| adds.values.get(*i as usize).copied())
                .collect();
            let typical = quantile(&mut values, 0.6);
            let stands = f64::from(typical / (texture + 0.1 * typical));
            let plain = libm::sqrt(reach.min(400.0)) * stands * f64::from(typical).min(1.2);
            if best.is_none_or(|b| plain > b.1) {
                best = Some((typical, plain));
            }
        }
        best.map(|b| b.0)
    }

    /// The pieces that hold something of a mask and are no specks: at least so many pixels across.
    fn reaching(&self, strong: &[bool], least: f64) -> Vec<bool> {
        let mut out = vec![false; strong.len()];
        for piece in self.pixels.iter().skip(1) {
            let (w, h) = self.extent(piece);
            let holds = piece
                .iter()
                .any(|i| strong.get(*i as usize).copied().unwrap_or(false));
            if holds && (w.max(h) as f64) > 0.3 * least {
                for i in piece {
                    if let Some(o) = out.get_mut(*i as usize) {
                        *o = true;
                    }
                }
            }
        }
        out
    }
}
