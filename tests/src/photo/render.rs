//! A scene becomes a picture: the camera's view, blur, noise, rounding, JPEG.

use super::scene::Scene;
use crate::rng::Rng;
use image::{ExtendedColorType, ImageEncoder, codecs::jpeg::JpegEncoder};
use trued::Point;

/// What the camera adds.
#[derive(Clone, Copy, Debug)]
pub struct Film {
    /// Standard deviation of the blur, pixels.
    pub blur: f64,
    /// Moved while it was open, pixels.
    pub motion: (f64, f64),
    /// Standard deviation of the noise in the middle tones, of 255.
    pub noise: f64,
    /// Exposure: 1 has a bright ground near white.
    pub exposure: f64,
    /// Quality of the JPEG.
    pub quality: u8,
    /// Orientation as EXIF numbers it: 1, 3, 6 or 8.
    pub orientation: u8,
    /// How strongly edges are sharpened.
    pub sharpen: f64,
    /// Share of the light that the picture's corners lose.
    pub vignette: f64,
}

impl Film {
    /// A passable picture by chance.
    pub fn draw(rng: &mut Rng) -> Self {
        let a = rng.range(0.0, 6.2);
        let far = if rng.chance(0.3) {
            rng.range(0.0, 4.0)
        } else {
            0.0
        };
        Self {
            blur: rng.range(0.6, 2.4),
            motion: (far * libm::cos(a), far * libm::sin(a)),
            noise: rng.range(0.8, 4.5),
            exposure: rng.range(0.8, 1.25),
            quality: 78 + rng.below(19) as u8,
            orientation: [1, 1, 3, 6, 8][rng.below(5)],
            sharpen: 0.0,
            vignette: 0.0,
        }
    }

    /// A worse camera: it sharpens, its corners are dark, its files are small.
    pub fn harsh(rng: &mut Rng) -> Self {
        let plain = Self::draw(rng);
        Self {
            noise: rng.range(1.0, 7.0),
            exposure: rng.range(0.6, 1.3),
            quality: 62 + rng.below(30) as u8,
            sharpen: rng.range(0.0, 1.2),
            vignette: rng.range(0.0, 0.5),
            ..plain
        }
    }
}

/// Linear RGB, row by row.
struct Exposure {
    width: usize,
    height: usize,
    planes: [Vec<f32>; 3],
}

fn expose(scene: &Scene) -> Exposure {
    let (width, height) = scene.camera.size;
    let mut planes = [0, 1, 2].map(|_| vec![0f32; width * height]);
    let (near, far) = scene.colours;
    let gloss = scene.ground.gloss();
    // Between every eighth pixel the plate runs straight enough.
    const EVERY: usize = 8;
    for y in 0..height {
        let exact = |x: usize| scene.camera.point(x as f64 + 0.5, y as f64 + 0.5, 0.0);
        let mut ends = (exact(0), exact(EVERY));
        for x in 0..width {
            let part = x % EVERY;
            if part == 0 && x > 0 {
                ends = (ends.1, exact(x + EVERY));
            }
            let p = ends.0.lerp(ends.1, part as f64 / EVERY as f64);
            let t = f64::from(scene.texture.at(p));
            let mut colour = [0, 1, 2].map(|c| (near[c] + t * (far[c] - near[c])).max(0.01));
            for layer in &scene.layers {
                let k = f64::from(layer.cover.at(p));
                if k > 0.0 {
                    for (tone, ink) in colour.iter_mut().zip(layer.colour) {
                        *tone += k * (ink - *tone);
                    }
                }
            }
            let (light, glare) = scene.light.at(p);
            for (plane, tone) in planes.iter_mut().zip(colour) {
                plane[y * width + x] = (tone * light + gloss * glare) as f32;
            }
        }
    }
    Exposure {
        width,
        height,
        planes,
    }
}

/// Three running means: near enough to a Gaussian.
fn soften(plane: &mut [f32], width: usize, height: usize, sigma: f64, motion: (f64, f64)) {
    let rows = |plane: &mut [f32], wide: f64| {
        let mut out = vec![0f32; width];
        for row in plane.chunks_mut(width) {
            mean(row, &mut out, wide);
            row.copy_from_slice(&out);
        }
    };
    let columns = |plane: &mut [f32], wide: f64| down(plane, width, height, wide);
    // The variance of a mean over a width w is w²/12.
    let wide = 2.0 * sigma;
    for _ in 0..3 {
        rows(plane, wide);
        columns(plane, wide);
    }
    if motion.0.abs() > 0.5 {
        rows(plane, motion.0.abs());
    }
    if motion.1.abs() > 0.5 {
        columns(plane, motion.1.abs());
    }
}

/// The same for all columns, a few side by side so that memory is walked along.
fn down(plane: &mut [f32], width: usize, height: usize, wide: f64) {
    const SIDE: usize = 16;
    let mut columns = vec![vec![0f32; height]; SIDE];
    let mut out = vec![0f32; height];
    for x0 in (0..width).step_by(SIDE) {
        let n = SIDE.min(width - x0);
        for y in 0..height {
            for (c, column) in columns.iter_mut().enumerate().take(n) {
                column[y] = plane[y * width + x0 + c];
            }
        }
        for column in columns.iter_mut().take(n) {
            mean(column, &mut out, wide);
            column.copy_from_slice(&out);
        }
        for y in 0..height {
            for (c, column) in columns.iter().enumerate().take(n) {
                plane[y * width + x0 + c] = column[y];
            }
        }
    }
}

/// Mean over a window of a width that need not be whole.
fn mean(from: &[f32], out: &mut [f32], wide: f64) {
    let half = (0.5 * (wide - 1.0)).max(0.0);
    let whole = half as usize;
    let rest = (half - whole as f64) as f32;
    let n = from.len();
    let at = |i: isize| from[i.clamp(0, n as isize - 1) as usize];
    let w = whole as isize;
    let mut sum: f32 = (-w..=w).map(at).sum();
    let weight = 1.0 / (2.0 * (whole as f32 + rest) + 1.0);
    for i in 0..n as isize {
        out[i as usize] = (sum + rest * (at(i - w - 1) + at(i + w + 1))) * weight;
        sum += at(i + w + 1) - at(i - w);
    }
}

/// What the camera does to it: dark corners, and edges sharpened against a softer copy.
fn finish(e: &mut Exposure, film: Film) {
    let (width, height) = (e.width, e.height);
    let reach = 0.25 * ((width * width + height * height) as f64);
    for plane in &mut e.planes {
        if film.vignette > 0.0 {
            for (i, v) in plane.iter_mut().enumerate() {
                let (x, y) = ((i % width) as f64, (i / width) as f64);
                let (x, y) = (x - 0.5 * width as f64, y - 0.5 * height as f64);
                *v *= (1.0 - film.vignette * (x * x + y * y) / reach) as f32;
            }
        }
        if film.sharpen > 0.0 {
            let mut soft = plane.clone();
            soften(&mut soft, width, height, 2.0, (0.0, 0.0));
            for (v, s) in plane.iter_mut().zip(&soft) {
                *v += film.sharpen as f32 * (*v - s);
            }
        }
    }
}

fn curve(v: f32) -> f32 {
    let v = v.clamp(0.0, 1.0);
    if v < 0.003_130_8 {
        12.92 * v
    } else {
        1.055 * libm::powf(v, 1.0 / 2.4) - 0.055
    }
}

/// The picture as RGB bytes, upright.
#[must_use]
pub fn render(scene: &Scene, film: Film, rng: &mut Rng) -> (usize, usize, Vec<u8>) {
    let mut e = expose(scene);
    for plane in &mut e.planes {
        soften(plane, e.width, e.height, film.blur, film.motion);
    }
    finish(&mut e, film);
    let table: Vec<f32> = (0..=4096)
        .map(|i| 255.0 * curve(i as f32 / 4096.0))
        .collect();
    let mut rgb = vec![0u8; 3 * e.width * e.height];
    let exposure = (1.15 * film.exposure) as f32;
    for i in 0..e.width * e.height {
        // One draw serves three channels: sums of bytes are near enough to normal.
        let word = rng.word().to_le_bytes();
        let common =
            (f32::from(word[0]) + f32::from(word[1]) + f32::from(word[2]) + f32::from(word[3])
                - 510.0)
                / 148.0;
        for c in 0..3 {
            let own = (f32::from(word[4 + c]) - 127.5) / 74.0;
            let v = (e.planes[c][i] * exposure).clamp(0.0, 1.0);
            let tone = table[(v * 4096.0) as usize];
            let noisy = tone + film.noise as f32 * (0.8 * common + 0.6 * own);
            rgb[3 * i + c] = (noisy + 0.5).clamp(0.0, 255.0) as u8;
        }
    }
    (e.width, e.height, rgb)
}

/// The picture as a JPEG file, its samples turned and the turn stated as EXIF has it.
#[must_use]
pub fn file(picture: &(usize, usize, Vec<u8>), film: Film) -> Vec<u8> {
    let (w, h, rgb) = picture;
    let (w, h) = (*w, *h);
    let (tw, th) = if film.orientation > 4 { (h, w) } else { (w, h) };
    let mut turned = vec![0u8; rgb.len()];
    for y in 0..h {
        for x in 0..w {
            // Where the upright pixel lies in the file.
            let (u, v) = match film.orientation {
                3 => (w - 1 - x, h - 1 - y),
                6 => (y, w - 1 - x),
                8 => (h - 1 - y, x),
                _ => (x, y),
            };
            let (from, to) = (3 * (y * w + x), 3 * (v * tw + u));
            turned[to..to + 3].copy_from_slice(&rgb[from..from + 3]);
        }
    }
    let mut bytes = Vec::new();
    let encoder = JpegEncoder::new_with_quality(&mut bytes, film.quality);
    let done = encoder.write_image(&turned, tw as u32, th as u32, ExtendedColorType::Rgb8);
    assert!(done.is_ok(), "a picture of this size is a JPEG");
    with_orientation(&bytes, film.orientation)
}

/// Puts an EXIF segment with the orientation behind the first marker.
fn with_orientation(jpeg: &[u8], orientation: u8) -> Vec<u8> {
    let mut tiff = b"Exif\0\0II*\0\x08\0\0\0\x01\0\x12\x01\x03\0\x01\0\0\0".to_vec();
    tiff.extend([orientation, 0, 0, 0, 0, 0, 0, 0]);
    let mut out = jpeg[..2].to_vec();
    out.extend([0xFF, 0xE1]);
    out.extend((tiff.len() as u16 + 2).to_be_bytes());
    out.extend(tiff);
    out.extend(&jpeg[2..]);
    out
}

/// The corner marks as they are seen, for tests.
#[must_use]
pub fn corners(scene: &Scene) -> [Point; 4] {
    let (w, h) = scene.frame;
    [(0.0, 0.0), (w, 0.0), (w, h), (0.0, h)].map(|(x, y)| scene.camera.sees(Point::new(x, y), 0.0))
}
