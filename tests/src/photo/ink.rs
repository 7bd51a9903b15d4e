//! What draws: its colour, how well it covers, how ragged its rim is.

use crate::rng::Rng;

/// Kinds of pen. Those after `Pen` are held out: nothing is tuned on them.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ink {
    /// A black marker.
    Black,
    /// A blue marker.
    Blue,
    /// A white paint marker.
    White,
    /// Soapstone: grainy and light.
    Soapstone,
    /// A pen on paper, thin.
    Pen,
    /// A red marker.
    Red,
    /// A yellow paint marker.
    Yellow,
    /// A soft pencil.
    Pencil,
}

impl Ink {
    /// Linear colour.
    #[must_use]
    pub const fn colour(self) -> [f64; 3] {
        match self {
            Self::Black => [0.02, 0.02, 0.025],
            Self::Blue => [0.02, 0.04, 0.18],
            Self::White => [0.82, 0.82, 0.80],
            Self::Soapstone => [0.60, 0.60, 0.58],
            Self::Pen => [0.03, 0.03, 0.10],
            Self::Red => [0.35, 0.02, 0.03],
            Self::Yellow => [0.75, 0.60, 0.05],
            Self::Pencil => [0.13, 0.13, 0.13],
        }
    }

    /// Share of the ground that it hides where it is full.
    #[must_use]
    pub const fn cover(self) -> f64 {
        match self {
            Self::Black | Self::Blue | Self::White => 0.95,
            Self::Soapstone => 0.75,
            Self::Pen | Self::Red | Self::Yellow => 0.9,
            Self::Pencil => 0.75,
        }
    }

    /// How grainy, 0..1.
    #[must_use]
    pub const fn grain(self) -> f64 {
        match self {
            Self::Soapstone => 0.55,
            Self::Pencil => 0.4,
            _ => 0.1,
        }
    }

    /// Width of its line by chance, mm.
    pub fn width(self, rng: &mut Rng) -> f64 {
        match self {
            Self::Pen => rng.range(0.5, 0.9),
            Self::Pencil => rng.range(0.8, 1.4),
            _ => rng.range(2.0, 4.0),
        }
    }

    /// One that shows on a ground, of the known or of those held out.
    pub fn on(dark: bool, paper: bool, held: bool, rng: &mut Rng) -> Self {
        let from: &[Self] = match (held, dark, paper) {
            (false, true, _) => &[Self::White, Self::Soapstone],
            (false, false, true) => &[Self::Black, Self::Blue, Self::Pen],
            (false, false, false) => &[Self::Black, Self::Black, Self::Blue],
            (true, true, _) => &[Self::Yellow, Self::White],
            (true, false, true) => &[Self::Red, Self::Pencil],
            (true, false, false) => &[Self::Red, Self::Black],
        };
        from[rng.below(from.len())]
    }
}
