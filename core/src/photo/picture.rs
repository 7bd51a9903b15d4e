//! The picture as it was taken: bytes of three or four channels, upright.

use super::grid::Grid;
use crate::Refusal;
use crate::geom::Point;

/// Most pixels of a picture.
pub const MAX_PIXELS: usize = 50_000_000;
/// Fewest pixels along its shorter side: below, a line is hardly wider than a pixel.
const LEAST_SIDE: usize = 240;

/// A picture: rows from the top, each pixel red, green, blue (and how opaque it is).
pub struct Picture {
    width: usize,
    height: usize,
    channels: usize,
    bytes: Vec<u8>,
}

impl Picture {
    /// A picture from RGBA bytes, as a browser's canvas gives them.
    ///
    /// # Errors
    /// Refuses a picture that is too small or too large, or bytes that do not fit its size.
    pub fn from_rgba(width: usize, height: usize, bytes: Vec<u8>) -> Result<Self, Refusal> {
        Self::new(width, height, 4, bytes)
    }

    /// A picture from RGB bytes.
    ///
    /// # Errors
    /// As [`Picture::from_rgba`].
    pub fn from_rgb(width: usize, height: usize, bytes: Vec<u8>) -> Result<Self, Refusal> {
        Self::new(width, height, 3, bytes)
    }

    fn new(width: usize, height: usize, channels: usize, bytes: Vec<u8>) -> Result<Self, Refusal> {
        check_size(width, height)?;
        if bytes.len() != width * height * channels {
            return Err(Refusal::File(format!(
                "the picture of {width} x {height} pixels comes with {} bytes, not {}",
                bytes.len(),
                width * height * channels
            )));
        }
        Ok(Self {
            width,
            height,
            channels,
            bytes,
        })
    }

    /// Pixels across.
    #[must_use]
    pub const fn width(&self) -> usize {
        self.width
    }

    /// Pixels down.
    #[must_use]
    pub const fn height(&self) -> usize {
        self.height
    }

    /// Red, green and blue of a pixel; beyond the rim, of the pixel at the rim.
    #[inline]
    pub(super) fn rgb(&self, x: isize, y: isize) -> [u8; 3] {
        let x = x.clamp(0, self.width as isize - 1) as usize;
        let y = y.clamp(0, self.height as isize - 1) as usize;
        let i = (y * self.width + x) * self.channels;
        match self.bytes.get(i..i + 3) {
            Some([r, g, b]) => [*r, *g, *b],
            _ => [0; 3],
        }
    }

    /// How bright it is between pixels, linear in light, 0..1.
    pub(super) fn light(&self, p: Point) -> f32 {
        let (x, y) = (libm::floor(p.x), libm::floor(p.y));
        let (u, v) = ((p.x - x) as f32, (p.y - y) as f32);
        let (i, j) = (x as isize, y as isize);
        let at = |i, j| {
            let [r, g, b] = self.rgb(i, j).map(linear);
            0.3 * r + 0.59 * g + 0.11 * b
        };
        let low = at(i, j) * (1.0 - u) + at(i + 1, j) * u;
        let high = at(i, j + 1) * (1.0 - u) + at(i + 1, j + 1) * u;
        low * (1.0 - v) + high * v
    }

    /// Brightness as written in the file (0..255), in means of squares of `by` pixels.
    pub(super) fn grey(&self, by: usize) -> Grid {
        let mut out = Grid::new(self.width / by, self.height / by);
        let weight = 0.01 / (by * by) as f32;
        let row = self.width * self.channels;
        let wide = out.width.max(1);
        for (to, band) in out
            .values
            .chunks_exact_mut(wide)
            .zip(self.bytes.chunks_exact(row * by))
        {
            for line in band.chunks_exact(row) {
                for (t, cell) in to.iter_mut().zip(line.chunks_exact(self.channels * by)) {
                    let mut sum = 0u32;
                    for pixel in cell.chunks_exact(self.channels) {
                        if let [r, g, b, ..] = pixel {
                            sum += 30 * u32::from(*r) + 59 * u32::from(*g) + 11 * u32::from(*b);
                        }
                    }
                    *t += weight * sum as f32;
                }
            }
        }
        out
    }
}

/// Light from a byte as sRGB has it (IEC 61966-2-1, from memory), near enough: a square and a cube.
#[inline]
pub(super) fn linear(byte: u8) -> f32 {
    let v = f32::from(byte) / 255.0;
    v * (v * (v * 0.305_306 + 0.682_171_1) + 0.012_522_878)
}

/// Refuses what has too few or too many pixels.
pub(super) fn check_size(width: usize, height: usize) -> Result<(), Refusal> {
    let pixels = width.saturating_mul(height);
    if pixels > MAX_PIXELS {
        return Err(Refusal::Limit {
            what: "the picture's size in pixels",
            value: pixels.to_string(),
            limit: MAX_PIXELS.to_string(),
        });
    }
    if width.min(height) < LEAST_SIDE {
        return Err(Refusal::File(format!(
            "the picture has {width} x {height} pixels: too few to measure on; take it with the camera's full size"
        )));
    }
    Ok(())
}
