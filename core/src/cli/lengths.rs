//! Lengths as people type them: `0.5`, `12mm`, `1/16in`, `2 1/2 in`.

use trued::cut::gauge;
use trued::format::Units;

/// A length of the command line: its figure and the unit, where one was typed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Length {
    value: f64,
    units: Option<Units>,
}

impl Length {
    /// The length in mm; a bare figure is in `units`. Rounded to 1e-9 mm, so that 0.06 in reads as
    /// 1.524 mm wherever it is printed.
    pub fn in_mm(self, units: Units) -> f64 {
        let mm = self.value * self.units.unwrap_or(units).in_mm();
        if mm.abs() < 1e6 {
            libm::round(mm * 1e9) / 1e9
        } else {
            mm
        }
    }
}

/// Understands a positive length; for clap's `value_parser`.
pub fn parse(text: &str) -> Result<Length, String> {
    let text = text.trim();
    let figure = text.trim_end_matches(|c: char| c.is_ascii_alphabetic() || c == '"');
    let unit = text.get(figure.len()..).unwrap_or_default();
    let units = match unit {
        "" => None,
        name => Some(
            Units::from_name(name)
                .ok_or_else(|| format!("\"{name}\" is no unit of length here; write mm or in"))?,
        ),
    };
    let value = figure
        .split_whitespace()
        .map(part)
        .sum::<Option<f64>>()
        .filter(|v| v.is_finite())
        .ok_or_else(|| format!("\"{text}\" is no length; write for example 0.5, 12mm or 1/16in"))?;
    if figure.trim().is_empty() {
        return Err(format!(
            "\"{text}\" is no length; write for example 0.5, 12mm or 1/16in"
        ));
    }
    if value <= 0.0 {
        return Err(format!("it is {text} and must be over 0"));
    }
    Ok(Length { value, units })
}

/// A speed: `2400`, `2400mm/min`, `95in/min`; for clap's `value_parser`.
pub fn parse_speed(text: &str) -> Result<Length, String> {
    let bare = text.trim();
    let bare = bare.strip_suffix("/min").unwrap_or(bare);
    parse(bare).map_err(|problem| {
        if problem.contains("must be over") {
            problem
        } else {
            format!("\"{text}\" is no speed; write for example 2400, 2400mm/min or 95in/min")
        }
    })
}

/// A thickness of plate: a length, or a gauge of steel sheet (`14ga`, Manufacturers' Standard).
pub fn parse_thickness(text: &str) -> Result<Length, String> {
    let bare = text.trim().to_ascii_lowercase();
    let number = bare.strip_suffix("gauge").or(bare.strip_suffix("ga"));
    let Some(number) = number else {
        return parse(text);
    };
    let gauge = number.trim().parse().ok().and_then(gauge::steel);
    let value = gauge.ok_or_else(|| {
        format!("\"{text}\" is no gauge known here; 10ga to 20ga, 22ga and 24ga are")
    })?;
    Ok(Length {
        value: libm::round(value * 1e3) / 1e3,
        units: Some(Units::Mm),
    })
}

/// As [`parse`], but no length at all is a length too: `0`.
pub fn parse_or_zero(text: &str) -> Result<Length, String> {
    if text.trim().parse() == Ok(0.0) {
        return Ok(Length {
            value: 0.0,
            units: None,
        });
    }
    parse(text)
}

/// Two lengths: across and up.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pair(Length, Length);

impl Pair {
    /// Both in mm; bare figures are in `units`.
    pub fn in_mm(self, units: Units) -> (f64, f64) {
        (self.0.in_mm(units), self.1.in_mm(units))
    }
}

/// Two lengths with an x between them: `1200x600`, `48in x 24in`.
pub fn parse_pair(text: &str) -> Result<Pair, String> {
    let (across, up) = text
        .split_once(['x', 'X', '×'])
        .ok_or_else(|| format!("\"{text}\" is no width x height; write for example 1200x600"))?;
    Ok(Pair(parse(across)?, parse(up)?))
}

/// Two speeds with two dots between them: `1800..3000`, `70in..120in`.
pub fn parse_range(text: &str) -> Result<Pair, String> {
    let ends = text.split_once("..");
    let ends = ends.and_then(|(a, b)| Some(Pair(parse_speed(a).ok()?, parse_speed(b).ok()?)));
    ends.ok_or_else(|| format!("\"{text}\" is no range of feeds; write for example 1800..3000"))
}

/// A decimal figure or a fraction.
fn part(text: &str) -> Option<f64> {
    match text.split_once('/') {
        None => text.parse().ok(),
        Some((over, under)) => {
            let (over, under): (u32, u32) = (over.parse().ok()?, under.parse().ok()?);
            (under > 0).then(|| f64::from(over) / f64::from(under))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::{Units, parse, parse_speed, parse_thickness};

    #[test]
    fn fractions_units_and_nonsense() {
        let mm = |t: &str| parse(t).map(|l| l.in_mm(Units::Mm));
        assert_eq!(mm("0.5"), Ok(0.5));
        assert_eq!(mm("1/16in"), Ok(25.4 / 16.0));
        assert_eq!(mm("2 1/2 in"), Ok(2.5 * 25.4));
        assert_eq!(mm("12mm"), Ok(12.0));
        // As printed, without the last bits of the multiplication.
        assert_eq!(mm("0.06in"), Ok(1.524));
        let speed = |t: &str| parse_speed(t).map(|l| l.in_mm(Units::Mm));
        assert_eq!(speed("95in/min"), Ok(2413.0));
        assert_eq!(speed("2400mm/min"), speed("2400"));
        for bad in ["fast", "-3", "0", "in/min", "/min"] {
            assert!(speed(bad).is_err(), "{bad}");
        }
        let plate = |t: &str| parse_thickness(t).map(|l| l.in_mm(Units::Inch));
        assert_eq!(plate("14ga"), Ok(1.898));
        assert_eq!(plate("11 gauge"), Ok(3.037));
        assert_eq!(plate("3mm"), Ok(3.0));
        assert!(plate("99ga").is_err() && plate("ga").is_err());
        assert!(parse("-1").unwrap_err().contains("over 0"));
        assert_eq!(parse("1/8").map(|l| l.in_mm(Units::Inch)), Ok(25.4 / 8.0));
        for bad in [
            "",
            "0",
            "-1",
            "1/0",
            "nan",
            "inf",
            "3 furlongs",
            "in",
            "1e999",
        ] {
            assert!(parse(bad).is_err(), "{bad}");
        }
    }
}
