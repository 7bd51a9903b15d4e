//! Numbers as text: read to the nearest f64, refused with a reason, written short.

use super::Units;
use crate::limits::MAX_COORDINATE;

/// A magnitude below this is no length at all and is taken as 0.
pub(crate) const NOTHING: f64 = 1e-30;

/// Why a piece of text is no coordinate.
pub(crate) enum Bad {
    /// Not a number at all.
    Text,
    /// NaN or infinity.
    NotFinite,
    /// Past [`MAX_COORDINATE`].
    TooLarge,
}

impl Bad {
    /// The sentence about the value `text`.
    pub(crate) fn say(&self, text: &[u8]) -> String {
        let value = shown(text);
        match self {
            Self::Text if text.trim_ascii().is_empty() => {
                "a number is missing where a coordinate belongs".into()
            }
            Self::Text => format!("\"{value}\" is not a number"),
            Self::NotFinite => format!("\"{value}\" is not a finite number"),
            Self::TooLarge => {
                format!("{value} is further from the origin than the limit of {MAX_COORDINATE} mm")
            }
        }
    }
}

/// A value as it may be shown in a sentence: printable, at most 40 characters.
pub(crate) fn shown(text: &[u8]) -> String {
    let text = String::from_utf8_lossy(text);
    let mut shown: String = text
        .trim()
        .chars()
        .take(40)
        .map(|c| if c.is_control() { '\u{FFFD}' } else { c })
        .collect();
    if text.trim().chars().nth(40).is_some() {
        shown.push('…');
    }
    shown
}

/// The finite number a text says, rounded to the nearest f64.
pub(crate) fn number(text: &[u8]) -> Result<f64, Bad> {
    let text = core::str::from_utf8(text.trim_ascii()).map_err(|_| Bad::Text)?;
    let value: f64 = text.parse().map_err(|_| Bad::Text)?;
    if value.is_finite() {
        Ok(value)
    } else if text.bytes().any(|b| b.is_ascii_digit()) {
        Err(Bad::TooLarge)
    } else {
        Err(Bad::NotFinite)
    }
}

/// The coordinate a text says, in mm, within the documented limit.
pub(crate) fn coordinate(text: &[u8], units: Units) -> Result<f64, Bad> {
    let value = number(text)? * units.in_mm();
    if value.abs() > MAX_COORDINATE {
        Err(Bad::TooLarge)
    } else {
        Ok(value)
    }
}

/// How many lines end in these bytes; CR, LF and CR LF each end one.
pub(crate) fn line_ends(bytes: &[u8]) -> usize {
    let mut before = 0;
    let mut count = 0;
    for &b in bytes {
        count += usize::from(b == b'\r' || (b == b'\n' && before != b'\r'));
        before = b;
    }
    count
}

/// A number for a file: the shortest digits that read back within 1e-12 of it, or the same f64
/// where it is too large for that; never an exponent, never `-0`.
pub(crate) fn short(value: f64) -> String {
    let tidy = if value.abs() < 1e3 {
        libm::round(value * 1e12) / 1e12
    } else {
        value
    };
    // -0 + 0 is 0.
    format!("{}", tidy + 0.0)
}
