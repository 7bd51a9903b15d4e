//! Numbers as text: read to the nearest f64, refused with a reason, written short.

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
    if let Some(value) = plain(text) {
        return Ok(value);
    }
    let value: f64 = fast_float2::parse(text).map_err(|_| Bad::Text)?;
    if value.is_finite() {
        Ok(value)
    } else if text.iter().any(u8::is_ascii_digit) {
        Err(Bad::TooLarge)
    } else {
        Err(Bad::NotFinite)
    }
}

/// Most digits of a whole number that is surely an exact f64.
const EXACT_DIGITS: usize = 15;
/// Powers of ten up to there, all exact.
const POWERS: [f64; EXACT_DIGITS + 1] = [
    1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15,
];

/// A number as coordinates are mostly written: a sign, a few digits, perhaps a point. Digits and power
/// of ten are exact, so their quotient is rounded once, to the nearest (Clinger 1990). `None` for
/// everything else, which the general parser knows.
fn plain(text: &[u8]) -> Option<f64> {
    let digits = text.strip_prefix(b"-").unwrap_or(text);
    if digits.len() > EXACT_DIGITS + 1 {
        return None;
    }
    let (mut whole, mut count, mut point) = (0_u64, 0, None);
    for &b in digits {
        let digit = b.wrapping_sub(b'0');
        if digit < 10 {
            whole = whole * 10 + u64::from(digit);
            count += 1;
        } else if b == b'.' && point.is_none() {
            point = Some(count);
        } else {
            return None;
        }
    }
    if count == 0 || count > EXACT_DIGITS {
        return None;
    }
    let value = whole as f64 / POWERS.get(count - point.unwrap_or(count))?;
    Some(if digits.len() < text.len() {
        -value
    } else {
        value
    })
}

/// A coordinate in mm, within the documented limit.
pub(crate) fn in_mm(value: f64, unit: f64) -> Result<f64, Bad> {
    let value = value * unit;
    if value.abs() > MAX_COORDINATE {
        Err(Bad::TooLarge)
    } else {
        Ok(value)
    }
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
        fn numbers_are_rounded_to_the_nearest(
            bits in any::<u64>(),
            text in "-?[0-9]{1,25}(\\.[0-9]{0,25})?(e-?[0-9]{1,2})?",
            short in "-?[0-9]{0,9}\\.?[0-9]{0,8}",
        ) {
            let value = f64::from_bits(bits);
            if value.is_finite() {
                let back = number(format!("{value:e}").as_bytes()).ok();
                prop_assert_eq!(back.map(f64::to_bits), Some(bits));
            }
            for text in [text, short] {
                let ours = number(text.as_bytes()).ok();
                prop_assert_eq!(ours.map(f64::to_bits), text.parse::<f64>().ok().map(f64::to_bits));
            }
        }
    }
}
