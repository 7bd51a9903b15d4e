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
    let text = text.trim_ascii();
    let value: f64 = fast_float2::parse(text).map_err(|_| Bad::Text)?;
    if value.is_finite() {
        Ok(value)
    } else if text.iter().any(u8::is_ascii_digit) {
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

/// `1 loop`, `3 loops`.
pub(crate) fn counted(n: usize, one: &str, many: &str) -> String {
    format!("{n} {}", if n == 1 { one } else { many })
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn what_is_no_number_is_told_apart() {
        let bad = |text: &str| {
            number(text.as_bytes())
                .err()
                .map(|b| b.say(text.as_bytes()))
        };
        assert_eq!(bad(" 1.5 "), None);
        assert_eq!(bad("1,5").as_deref(), Some("\"1,5\" is not a number"));
        assert_eq!(
            bad("").as_deref(),
            Some("a number is missing where a coordinate belongs")
        );
        assert!(bad("NaN").is_some_and(|s| s.contains("finite")));
        assert!(bad("-inf").is_some_and(|s| s.contains("finite")));
        assert!(bad("1e999").is_some_and(|s| s.contains("limit")));
    }

    #[test]
    fn short_numbers_are_tidy() {
        assert_eq!(short(0.1 + 0.2), "0.3");
        assert_eq!(short(-0.0), "0");
        assert_eq!(short(-1e-300), "0");
        assert_eq!(short(1e5), "100000");
    }

    proptest! {
        /// The standard library rounds to the nearest f64; so must the faster parser.
        #[test]
        fn numbers_are_rounded_to_the_nearest(bits in any::<u64>(), text in "-?[0-9]{1,25}(\\.[0-9]{0,25})?(e-?[0-9]{1,2})?") {
            let value = f64::from_bits(bits);
            if value.is_finite() {
                let back = number(format!("{value:e}").as_bytes()).ok();
                prop_assert_eq!(back.map(f64::to_bits), Some(bits));
            }
            let ours = number(text.as_bytes()).ok();
            prop_assert_eq!(ours.map(f64::to_bits), text.parse::<f64>().ok().map(f64::to_bits));
        }
    }
}
