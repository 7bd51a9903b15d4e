//! Units of length and time: their names, and the words that state one.

/// mm in a unit of length.
pub(super) fn unit_in_mm(name: &str) -> Option<f64> {
    Some(match name.trim().to_lowercase().as_str() {
        "mm" | "millimeter" | "millimeters" | "millimetre" | "millimetres" => 1.0,
        "cm" => 10.0,
        "m" => 1000.0,
        "in" | "inch" | "inches" | "zoll" | "\"" => 25.4,
        "um" | "\u{b5}m" | "\u{3bc}m" | "micron" | "microns" => 1e-3,
        "mil" | "mils" | "thou" => 0.0254,
        "ft" | "feet" | "foot" => 304.8,
        _ => return None,
    })
}

/// Seconds in a unit of time.
pub(super) fn unit_in_seconds(name: &str) -> Option<f64> {
    Some(match name {
        "s" | "sec" | "secs" | "second" | "seconds" => 1.0,
        "ms" | "msec" | "millis" => 1e-3,
        "us" | "\u{b5}s" | "\u{3bc}s" => 1e-6,
        "min" => 60.0,
        _ => return None,
    })
}

/// Words that say that a unit follows.
const UNIT_WORDS: [&str; 12] = [
    "unit",
    "units",
    "einheit",
    "einheiten",
    "ma\u{df}einheit",
    "masseinheit",
    "l\u{e4}ngeneinheit",
    "unit\u{e9}",
    "unit\u{e9}s",
    "unidad",
    "unidades",
    "unit\u{e0}",
];
/// Words for what is in a unit: `all values in inches`.
const MEASURED: [&str; 16] = [
    "value",
    "values",
    "dimension",
    "dimensions",
    "length",
    "lengths",
    "coordinate",
    "coordinates",
    "position",
    "positions",
    "measurements",
    "ma\u{df}e",
    "masse",
    "werte",
    "koordinaten",
    "abmessungen",
];

/// mm in the unit that a line above the points states in words of its own: `Unit: inch`, `Units,mm`,
/// `All values in inches`, `Positions (cm)`.
pub(super) fn unit_stated(line: &str) -> Option<f64> {
    let lower = line.to_lowercase();
    let tidy = |t: &str| -> String {
        let around = |c: char| c.is_whitespace() || "[](),;.".contains(c);
        t.trim_matches(around).to_owned()
    };
    let words = |t: &str| -> Vec<String> {
        let split = t.split(|c: char| !c.is_alphanumeric());
        split.filter(|w| !w.is_empty()).map(str::to_owned).collect()
    };
    let said = lower
        .split_once([':', '=', ',', ';', '\t'])
        .and_then(|(key, value)| {
            let names_units = words(key).iter().any(|w| UNIT_WORDS.contains(&w.as_str()));
            names_units.then(|| unit_in_mm(&tidy(value)))?
        });
    said.or_else(|| {
        let (before, unit) = lower.trim_end().rsplit_once([' ', '[', '('])?;
        let before = words(before);
        let about = before.iter().any(|w| MEASURED.contains(&w.as_str()));
        let joined = before.last().is_some_and(|w| w == "in") || lower.contains(['[', '(']);
        (about && joined).then(|| unit_in_mm(&tidy(unit)))?
    })
}

/// The column that says the unit of each row.
pub(super) fn unit_column(names: &[String]) -> Option<usize> {
    names.iter().position(|n| UNIT_WORDS.contains(&n.as_str()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_states_a_unit_in_many_words_and_no_other_does() {
        for (line, scale) in [
            ("Unit: inch", 25.4),
            ("Units of length = mm", 1.0),
            ("Ma\u{df}einheit;cm", 10.0),
            ("All dimensions in inches", 25.4),
            ("all values in mm.", 1.0),
            ("Positions (cm)", 10.0),
        ] {
            assert_eq!(unit_stated(line), Some(scale), "{line}");
        }
        for line in [
            "a value came in",
            "part 7 in",
            "logged on Monday",
            "Unit: 12",
            "lengths of mm",
            "",
        ] {
            assert_eq!(unit_stated(line), None, "{line}");
        }
    }
}
