//! How far a piece may be off where nothing else is agreed: the general tolerances of ISO 2768-1 for
//! sizes and angles, and the ranges of ISO 9013 for how far a cut face leans.
//!
//! The tables were taken from memory and from transcriptions that agree; several public copies are
//! wrong in the coarser classes. For a contract look into the standards themselves.

use serde::{Deserialize, Serialize};

/// A tolerance class of ISO 2768-1.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "types", derive(ts_rs::TS))]
pub enum Class {
    /// f.
    #[serde(rename = "f")]
    Fine,
    /// m.
    #[serde(rename = "m")]
    Medium,
    /// c.
    #[serde(rename = "c")]
    Coarse,
    /// v.
    #[serde(rename = "v")]
    VeryCoarse,
}

/// Sizes up to here, mm, and what each class allows either way, mm; NaN where a class has none.
const LINEAR: [(f64, [f64; 4]); 7] = [
    (3.0, [0.05, 0.1, 0.2, f64::NAN]),
    (6.0, [0.05, 0.1, 0.3, 0.5]),
    (30.0, [0.1, 0.2, 0.5, 1.0]),
    (120.0, [0.15, 0.3, 0.8, 1.5]),
    (400.0, [0.2, 0.5, 1.2, 2.5]),
    (1000.0, [0.3, 0.8, 2.0, 4.0]),
    (2000.0, [0.5, 1.2, 3.0, 6.0]),
];

/// Shorter legs up to here, mm, and the angle each class allows either way, minutes of arc.
const ANGULAR: [(f64, [f64; 4]); 5] = [
    (10.0, [60.0, 60.0, 90.0, 180.0]),
    (50.0, [30.0, 30.0, 60.0, 120.0]),
    (120.0, [20.0, 20.0, 30.0, 60.0]),
    (400.0, [10.0, 10.0, 15.0, 30.0]),
    (f64::INFINITY, [5.0, 5.0, 10.0, 20.0]),
];

/// Least size with a tolerance, mm.
const LEAST: f64 = 0.5;

impl Class {
    /// Its letter in the standard.
    #[must_use]
    pub const fn letter(self) -> char {
        match self {
            Self::Fine => 'f',
            Self::Medium => 'm',
            Self::Coarse => 'c',
            Self::VeryCoarse => 'v',
        }
    }

    fn of(self, row: &[f64; 4]) -> f64 {
        let [f, m, c, v] = *row;
        match self {
            Self::Fine => f,
            Self::Medium => m,
            Self::Coarse => c,
            Self::VeryCoarse => v,
        }
    }

    /// How far a size may be off either way, mm; `None` outside the table.
    #[must_use]
    pub fn linear(self, size: f64) -> Option<f64> {
        let row = LINEAR.iter().find(|(up_to, _)| size <= *up_to)?;
        let allowed = self.of(&row.1);
        (size >= LEAST && allowed.is_finite()).then_some(allowed)
    }

    /// How far an angle may be off either way, degrees, by its shorter leg, mm.
    #[must_use]
    pub fn angular(self, leg: f64) -> Option<f64> {
        let row = ANGULAR.iter().find(|(up_to, _)| leg <= *up_to)?;
        (leg > 0.0).then_some(self.of(&row.1) / 60.0)
    }
}

/// How far the cut face of a plate may lean, mm: the squareness of ISO 9013, ranges 1 to 5.
#[must_use]
pub fn face_lean(range: usize, thickness: f64) -> Option<f64> {
    const RANGES: [(f64, f64); 5] = [
        (0.05, 0.003),
        (0.15, 0.007),
        (0.4, 0.01),
        (0.8, 0.02),
        (1.2, 0.035),
    ];
    let (least, slope) = RANGES.get(range.checked_sub(1)?)?;
    Some(least + slope * thickness)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sizes_as_in_iso_2768_1() {
        // ISO 2768-1:1989, linear sizes (from memory and transcriptions that agree).
        let sizes = [1.0, 5.0, 20.0, 100.0, 300.0, 800.0, 1500.0];
        let classes = [
            (Class::Fine, [0.05, 0.05, 0.1, 0.15, 0.2, 0.3, 0.5]),
            (Class::Medium, [0.1, 0.1, 0.2, 0.3, 0.5, 0.8, 1.2]),
            (Class::Coarse, [0.2, 0.3, 0.5, 0.8, 1.2, 2.0, 3.0]),
            (Class::VeryCoarse, [f64::NAN, 0.5, 1.0, 1.5, 2.5, 4.0, 6.0]),
        ];
        for (class, row) in classes {
            for (size, allowed) in sizes.into_iter().zip(row) {
                let told = Some(allowed).filter(|a| a.is_finite());
                assert_eq!(class.linear(size), told, "{} {size}", class.letter());
            }
        }
        // A limit belongs to the row it ends.
        assert_eq!(Class::Medium.linear(30.0), Some(0.2));
        assert_eq!(Class::Medium.linear(0.2), None);
        assert_eq!(Class::Medium.linear(2500.0), None);
    }

    #[test]
    fn angles_as_in_iso_2768_1() {
        // ISO 2768-1:1989, angles by the shorter leg (from memory and transcriptions).
        let legs = [5.0, 40.0, 100.0, 300.0, 500.0];
        let minutes = [
            (Class::Fine, [60.0, 30.0, 20.0, 10.0, 5.0]),
            (Class::Medium, [60.0, 30.0, 20.0, 10.0, 5.0]),
            (Class::Coarse, [90.0, 60.0, 30.0, 15.0, 10.0]),
            (Class::VeryCoarse, [180.0, 120.0, 60.0, 30.0, 20.0]),
        ];
        for (class, row) in minutes {
            for (leg, allowed) in legs.into_iter().zip(row) {
                let told = class.angular(leg).map(|d| d * 60.0);
                assert!(told.is_some_and(|t| (t - allowed).abs() < 1e-9));
            }
        }
    }

    #[test]
    fn faces_as_in_iso_9013() {
        // ISO 9013, squareness u of the cut face in a 10 mm plate (from memory and transcriptions).
        let ranges = [(1, 0.08), (2, 0.22), (3, 0.5), (4, 1.0), (5, 1.55)];
        for (range, u) in ranges {
            assert!(face_lean(range, 10.0).is_some_and(|f| (f - u).abs() < 1e-12));
        }
        assert_eq!(face_lean(0, 10.0), None);
        assert_eq!(face_lean(6, 10.0), None);
    }
}
