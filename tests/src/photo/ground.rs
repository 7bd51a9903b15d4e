//! What lies under the line: plates and papers, their colour, texture and gloss.

use super::raster::{Raster, noise, rough};
use crate::rng::Rng;
use trued::Point;

/// Kinds of ground. Those after `Paper` are held out: nothing is tuned on them.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ground {
    /// Steel with the grain of a grinder.
    Ground,
    /// Dark steel as rolled, with flakes.
    Scale,
    /// Steel with patches of rust.
    Rust,
    /// White or brown paper.
    Paper,
    /// Zinc in crystals.
    Zinc,
    /// Boards.
    Wood,
    /// Brushed aluminium with scratches.
    Brushed,
    /// A lacquered plate that chips.
    Chipped,
    /// Concrete with pits. This and those after it belong to the other way of drawing (`other`).
    Concrete,
    /// A green mat with a grid of lines.
    Mat,
    /// A floor with joints.
    Tiles,
    /// Brown board with flutes.
    Board,
}

impl Ground {
    /// Those that may be tuned on.
    pub const KNOWN: [Self; 4] = [Self::Ground, Self::Scale, Self::Rust, Self::Paper];
    /// Those that may not.
    pub const HELD: [Self; 4] = [Self::Zinc, Self::Wood, Self::Brushed, Self::Chipped];

    /// Those of the other way of drawing.
    pub const OTHER: [Self; 4] = [Self::Concrete, Self::Mat, Self::Tiles, Self::Board];

    /// Dark enough for soapstone and white paint.
    #[must_use]
    pub const fn is_dark(self) -> bool {
        matches!(self, Self::Scale | Self::Chipped | Self::Mat)
    }

    /// How much of a lamp it mirrors.
    #[must_use]
    pub const fn gloss(self) -> f64 {
        match self {
            Self::Paper | Self::Wood | Self::Concrete | Self::Board => 0.1,
            Self::Scale | Self::Rust => 0.4,
            _ => 0.8,
        }
    }

    /// Colour (linear, 0..1) of its mean, and of what the texture pulls it to.
    #[must_use]
    pub fn colours(self, rng: &mut Rng) -> ([f64; 3], [f64; 3]) {
        let tone = rng.range(0.8, 1.2);
        let (a, b) = match self {
            Self::Ground => ([0.36, 0.37, 0.38], [0.26, 0.26, 0.26]),
            Self::Scale => ([0.075, 0.08, 0.09], [0.13, 0.12, 0.12]),
            Self::Rust => ([0.30, 0.29, 0.28], [0.24, 0.12, 0.06]),
            Self::Paper => ([0.66, 0.65, 0.60], [0.58, 0.56, 0.50]),
            Self::Zinc => ([0.40, 0.42, 0.45], [0.30, 0.32, 0.35]),
            Self::Wood => ([0.48, 0.34, 0.20], [0.32, 0.20, 0.10]),
            Self::Brushed => ([0.52, 0.53, 0.54], [0.42, 0.42, 0.43]),
            Self::Chipped => ([0.05, 0.09, 0.13], [0.10, 0.10, 0.09]),
            Self::Concrete => ([0.40, 0.39, 0.37], [0.30, 0.29, 0.27]),
            Self::Mat => ([0.03, 0.10, 0.07], [0.12, 0.22, 0.18]),
            Self::Tiles => ([0.45, 0.42, 0.38], [0.28, 0.26, 0.24]),
            Self::Board => ([0.42, 0.30, 0.19], [0.34, 0.23, 0.14]),
        };
        (a.map(|v| v * tone), b.map(|v| v * tone))
    }

    /// The texture over a part of the plate: 0 the mean colour, 1 the other, and beyond.
    #[must_use]
    pub fn texture(self, from: Point, to: Point, rng: &mut Rng) -> Raster {
        let s = rng.word();
        let (c, d) = (libm::cos(rng.range(0.0, 3.2)), rng.range(0.5, 1.3));
        let turn = libm::sqrt(1.0 - c * c);
        let mut raster = Raster::new(from, to, 3.3, 0.0);
        let along = move |p: Point| (p.x * c + p.y * turn, p.y * c - p.x * turn);
        raster.each(|p, _| {
            let (u, v) = along(p);
            let v = match self {
                Self::Ground => {
                    0.4 * noise(s, u / 25.0, v / 0.5)
                        + 0.3 * noise(s ^ 1, u / 9.0, v / 0.3)
                        + 0.25 * rough(s ^ 2, p, 60.0, 3)
                }
                Self::Scale => {
                    let flake = rough(s, p, 6.0, 3);
                    0.35 * flake
                        + 0.5 * f64::from(u8::from(flake > 0.75))
                        + 0.3 * rough(s ^ 3, p, 80.0, 2)
                }
                Self::Rust => {
                    let patch = rough(s, p, 45.0, 4) + 0.1;
                    (1.6 * patch).clamp(0.0, 1.0) * (0.8 + 0.35 * rough(s ^ 4, p, 1.5, 2))
                        + 0.15 * noise(s ^ 5, u / 20.0, v / 0.6)
                }
                Self::Paper => 0.12 * rough(s, p, 1.0, 2) + 0.2 * rough(s ^ 6, p, 90.0, 2),
                Self::Zinc => {
                    let (i, j) = (
                        p.x / 11.0 + 0.6 * noise(s, p.x / 9.0, p.y / 9.0),
                        p.y / 11.0 + 0.6 * noise(s ^ 1, p.x / 9.0, p.y / 9.0),
                    );
                    0.8 * noise(s ^ 2, i.floor() * 7.3, j.floor() * 3.1)
                        + 0.15 * rough(s ^ 3, p, 3.0, 2)
                }
                Self::Wood => {
                    let ring = v / 5.0 + 0.9 * noise(s, u / 90.0, v / 25.0);
                    0.5 * libm::sin(core::f64::consts::TAU * ring)
                        + 0.3 * noise(s ^ 2, u / 30.0, v / 0.4)
                }
                Self::Brushed => {
                    0.5 * noise(s, u / 60.0, v / 0.25) + 0.3 * rough(s ^ 7, p, 40.0, 3)
                }
                Self::Concrete | Self::Mat | Self::Tiles | Self::Board => {
                    super::other::texture(self, s, p)
                }
                Self::Chipped => {
                    let chip = rough(s, p, 14.0, 4);
                    3.0 * f64::from(u8::from(chip > 0.95)) + 0.15 * rough(s ^ 2, p, 5.0, 2)
                }
            };
            (d * v) as f32
        });
        raster
    }
}
