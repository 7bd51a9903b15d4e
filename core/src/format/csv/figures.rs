//! Numbers as spreadsheets and loggers write them.

use super::units::unit_in_mm;
use crate::format::Decimal;
use crate::format::numbers::{self, Bad};
use crate::format::text::of_any;

/// Longest number with signs that are not plain.
const LONGEST: usize = 48;

/// The number a field says, with the decimal sign of its file; a unit of length may stand behind it.
pub(super) fn number(text: &[u8], decimal: Decimal) -> Result<f64, Bad> {
    match bare_number(text, decimal) {
        Err(Bad::Text) => match parted(text) {
            Some((figure, _)) => bare_number(figure.as_bytes(), decimal),
            None => Err(Bad::Text),
        },
        said => said,
    }
}

/// mm in the unit that stands behind a number, if one does.
pub(super) fn unit_beside(text: &[u8]) -> Option<f64> {
    // Most fields end in a digit.
    if text.last().is_none_or(u8::is_ascii_digit) {
        return None;
    }
    parted(text).map(|(_, scale)| scale)
}

/// A number and mm in the unit behind it.
fn parted(text: &[u8]) -> Option<(&str, f64)> {
    let text = core::str::from_utf8(text).ok()?.trim();
    let end = text.rfind(|c: char| c.is_ascii_digit())? + 1;
    let (figure, unit) = text.split_at_checked(end)?;
    unit_in_mm(unit).map(|scale| (figure, scale))
}

/// Seconds since midnight by a clock: `10:02:03.5`, a date before it or not.
pub(super) fn clock(text: &[u8]) -> Option<f64> {
    let text = core::str::from_utf8(text.trim_ascii()).ok()?;
    let time = text.trim_end_matches('Z').rsplit(['T', ' ']).next()?;
    let mut parts = time.split(':');
    let (hours, minutes, seconds) = (parts.next()?, parts.next()?, parts.next()?);
    let whole = |t: &str, below: u32| t.parse::<u32>().ok().filter(|v| t.len() <= 2 && *v < below);
    let seconds: f64 = seconds.replace(',', ".").parse().ok()?;
    let fits = parts.next().is_none() && (0.0..61.0).contains(&seconds);
    let minutes = 60 * whole(hours, 24)? + whole(minutes, 60)?;
    fits.then(|| f64::from(60 * minutes) + seconds)
}

fn bare_number(text: &[u8], decimal: Decimal) -> Result<f64, Bad> {
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
    // One byte a letter, a dash between words is 150.
    let text = of_any(text.get(..LONGEST + 1).unwrap_or(text));
    let text = Some(text.trim()).filter(|t| t.len() <= LONGEST)?;
    let (text, minus) = match text.strip_prefix(['-', '\u{2212}', '\u{2013}', '\u{96}']) {
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
            ("\u{2013}3.5", -3.5),
            ("\u{a0}4\u{a0}", 4.0),
            ("2.5 mm", 2.5),
            ("1e1in", 10.0),
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

    #[test]
    fn a_clock_is_read_and_nothing_else() {
        for (text, seconds) in [
            ("10:02:03.5", 36123.5),
            ("0:00:07,25", 7.25),
            ("2024-02-01T00:01:00Z", 60.0),
            ("01.02.2024 23:59:59", 86399.0),
        ] {
            assert_eq!(clock(text.as_bytes()), Some(seconds), "{text}");
        }
        for text in [
            "10:02", "24:00:00", "1:60:00", "1:2:3:4", "a:b:c", "1:2:-3", "",
        ] {
            assert_eq!(clock(text.as_bytes()), None, "{text}");
        }
        assert_eq!(unit_beside(b"2.5mm"), Some(1.0));
        assert_eq!(unit_beside(b"1\""), Some(25.4));
        assert_eq!(unit_beside(b"2.5"), None);
    }
}
