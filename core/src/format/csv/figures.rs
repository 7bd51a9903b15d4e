//! Numbers as spreadsheets and loggers write them.

use crate::format::Decimal;
use crate::format::numbers::{self, Bad};

/// Longest number with signs that are not plain.
const LONGEST: usize = 48;

/// The number a field says, with the decimal sign of its file.
pub(super) fn number(text: &[u8], decimal: Decimal) -> Result<f64, Bad> {
    let plain = numbers::number(text);
    // A plain number without a point says the same with either sign.
    let same = decimal == Decimal::Point || !text.contains(&b'.');
    match plain {
        Ok(v) if same => Ok(v),
        Err(bad @ (Bad::NotFinite | Bad::TooLarge)) => Err(bad),
        plain => match tidied(text, decimal) {
            Some(tidy) => numbers::number(&tidy),
            None if decimal == Decimal::Point => plain,
            None => Err(Bad::Text),
        },
    }
}

/// Digits with a point, without marks between thousands: `-1.234,5`, `1'234.5`, `+12 345,0`, `−3`.
/// Nothing where the marks do not stand three digits apart.
fn tidied(text: &[u8], decimal: Decimal) -> Option<Vec<u8>> {
    let text = core::str::from_utf8(text.trim_ascii())
        .ok()
        .filter(|t| t.len() <= LONGEST)?;
    let (text, minus) = match text.strip_prefix(['-', '\u{2212}']) {
        Some(rest) => (rest, true),
        None => (text.strip_prefix('+').unwrap_or(text), false),
    };
    let (point, thousands) = match decimal {
        Decimal::Point => ('.', ','),
        Decimal::Comma => (',', '.'),
    };
    let (whole, fraction) = match text.split_once(point) {
        Some((whole, fraction)) => (whole, Some(fraction)),
        None => (text, None),
    };
    let mut tidy = if minus { b"-".to_vec() } else { Vec::new() };
    let marks = [thousands, '\'', '\u{2019}', ' ', '\u{A0}', '\u{202F}'];
    let groups: Vec<&str> = whole.split(marks).collect();
    let digits = |t: &str| t.bytes().all(|b| b.is_ascii_digit());
    for (i, group) in groups.iter().enumerate() {
        let length = group.len();
        let fits = if groups.len() == 1 {
            digits(group) && (length > 0 || fraction.is_some_and(|f| !f.is_empty()))
        } else if i == 0 {
            digits(group) && (1..=3).contains(&length) && !group.starts_with('0')
        } else {
            digits(group) && length == 3
        };
        if !fits {
            // An exponent is no matter of thousands.
            return (groups.len() == 1 && decimal == Decimal::Comma && fraction.is_none())
                .then(|| text.as_bytes().to_vec())
                .filter(|t| !t.contains(&b'.') && t.iter().any(|b| matches!(b, b'e' | b'E')));
        }
        tidy.extend_from_slice(group.as_bytes());
    }
    if let Some(fraction) = fraction {
        let (digits_of, _) = fraction.split_once(['e', 'E']).unwrap_or((fraction, ""));
        if digits_of.is_empty() || !digits(digits_of) {
            return None;
        }
        tidy.push(b'.');
        tidy.extend_from_slice(fraction.as_bytes());
    }
    Some(tidy)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn thousands_and_signs_are_understood_or_not_taken() {
        let point = |t: &str| number(t.as_bytes(), Decimal::Point).ok();
        let comma = |t: &str| number(t.as_bytes(), Decimal::Comma).ok();
        for (text, value) in [
            ("1,234.5", 1234.5),
            ("1'234", 1234.0),
            ("\u{2212}3.5", -3.5),
            ("+2", 2.0),
            ("1e3", 1000.0),
        ] {
            assert_eq!(point(text), Some(value), "{text}");
        }
        for (text, value) in [
            ("1,5", 1.5),
            ("-0,25", -0.25),
            ("1.234,5", 1234.5),
            ("12\u{A0}345,0", 12345.0),
            ("1,5e-3", 0.0015),
            ("7", 7.0),
            (",5", 0.5),
        ] {
            assert_eq!(comma(text), Some(value), "{text}");
        }
        for text in ["1,5", "1,2345", "0,123", "1,,2", "", "x"] {
            assert_eq!(point(text), None, "{text}");
        }
        for text in ["1.5", "1,2,3", "1,", "12.34,5", "x"] {
            assert_eq!(comma(text), None, "{text}");
        }
    }
}
