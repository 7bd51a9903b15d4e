//! Units of length. Inside, everything is mm; files may be in inches.

use serde::{Deserialize, Serialize};

/// A unit of length that files are written in.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub enum Units {
    /// Millimetres.
    #[default]
    #[serde(rename = "mm")]
    Mm,
    /// Inches of exactly 25.4 mm.
    #[serde(rename = "in")]
    Inch,
}

impl Units {
    /// How many mm one unit is.
    #[must_use]
    pub const fn in_mm(self) -> f64 {
        match self {
            Self::Mm => 1.0,
            Self::Inch => 25.4,
        }
    }

    /// As written in files: `mm` or `in`.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Mm => "mm",
            Self::Inch => "in",
        }
    }

    /// The unit called `name`, as people write it.
    #[must_use]
    pub fn from_name(name: &str) -> Option<Self> {
        match name.trim().to_ascii_lowercase().as_str() {
            "mm" | "millimetre" | "millimetres" | "millimeter" | "millimeters" => Some(Self::Mm),
            "in" | "inch" | "inches" | "\"" => Some(Self::Inch),
            _ => None,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::Units;

    #[test]
    fn an_inch_is_25_4_mm_exactly() {
        // NBS Circular 572 addendum (1959): 1 in = 25.4 mm exactly.
        assert_eq!(Units::Inch.in_mm().to_bits(), 25.4_f64.to_bits());
        assert_eq!(Units::from_name(" IN "), Some(Units::Inch));
        assert_eq!(Units::from_name("furlong"), None);
    }
}
