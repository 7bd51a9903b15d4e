//! Units of length. Inside, everything is mm; files may be in inches, and people are spoken to in theirs.

use serde::{Deserialize, Serialize};

/// A unit of length that files are written in.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "types", derive(ts_rs::TS))]
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

    /// A sentence of this library as a person who thinks in this unit is told it.
    ///
    /// All sentences are composed in mm, where what they tell is known; whoever says them calls this. It
    /// turns every figure that stands before a `mm`, and what stands beside it in the same bracket or
    /// product: `(12.0, 7.5) mm`, `80.0 x 50.0 mm`, `2400 mm/min`, `2.65 mm (+2.10, -1.61)`. Two digits
    /// more than in mm lose nothing: an inch is not quite 30 times as long.
    #[must_use]
    pub fn said(self, text: &str) -> String {
        if self == Self::Mm || !text.contains("mm") {
            return text.to_owned();
        }
        let mut out = String::with_capacity(text.len());
        let mut rest = text;
        while let Some(at) = find_mm(rest) {
            let (before, after) = rest.split_at(at);
            let run = run_of_figures(before);
            out.push_str(before.get(..run).unwrap_or_default());
            out.push_str(&self.turned(before.get(run..).unwrap_or_default()));
            out.push_str(self.name());
            rest = after.get(2..).unwrap_or_default();
            // A vector behind its length: "2.65 mm (+2.10, -1.61)".
            let vector = rest.strip_prefix(" (").and_then(|r| r.find(')'));
            if let Some(end) = vector.filter(|_| rest.starts_with(" (+") || rest.starts_with(" (-"))
            {
                let (own, others) = rest.split_at(end + 3);
                out.push_str(&self.turned(own));
                rest = others;
            }
        }
        out.push_str(rest);
        out
    }

    /// The same text with every figure in this unit.
    fn turned(self, text: &str) -> String {
        let mut out = String::new();
        let mut figure = String::new();
        for c in text.chars().chain(['\0']) {
            if c.is_ascii_digit() || c == '.' {
                figure.push(c);
                continue;
            }
            if let Ok(mm) = figure.parse::<f64>() {
                let places = figure.split_once('.').map_or(0, |(_, d)| d.len()) + 2;
                out.push_str(&format!("{:.places$}", mm / self.in_mm()));
            } else {
                out.push_str(&figure);
            }
            figure.clear();
            if c != '\0' {
                out.push(c);
            }
        }
        out
    }
}

/// Where the next `mm` that is a word of its own behind a figure stands.
fn find_mm(text: &str) -> Option<usize> {
    text.match_indices("mm").map(|(at, _)| at).find(|&at| {
        // "1.5mm" is what somebody types.
        let before = text.get(..at).unwrap_or_default().strip_suffix(' ');
        let before = before.unwrap_or_default();
        let after = text.get(at + 2..).and_then(|t| t.chars().next());
        before.ends_with(|c: char| c.is_ascii_digit() || c == ')')
            && !after.is_some_and(|c| c.is_alphanumeric() || c == '²')
    })
}

/// Where the figures begin that the end of `text` is made of: `12.5`, `80.0 x 50.0`, `5 ± 0.2`, `(1.0, 2.0)`.
fn run_of_figures(text: &str) -> usize {
    let end = text.trim_end();
    if end.ends_with(')') {
        return end.rfind('(').unwrap_or(end.len());
    }
    let mut start = text.len();
    let mut joined = true;
    let mut at = end.len();
    for word in end.rsplit(' ') {
        at -= word.len();
        let joins = matches!(word, "x" | "×" | "±" | "to");
        let figure = word
            .trim_start_matches('(')
            .chars()
            .all(|c| c.is_ascii_digit() || ".+-x×±".contains(c));
        if !(figure || joins) || joins == joined {
            break;
        }
        if !joins {
            start = at;
        }
        joined = joins;
        at = at.saturating_sub(1);
    }
    start
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

    #[test]
    fn sentences_are_said_in_inches() {
        for (mm, inches) in [
            ("kerf 1.5 mm", "kerf 0.059 in"),
            ("loop 3 is 254 mm long", "loop 3 is 10.00 in long"),
            (
                "part 2 at (25.4, -50.8) mm is wide",
                "part 2 at (1.000, -2.000) in is wide",
            ),
            (
                "no piece of 80.0 x 50.0 mm fits",
                "no piece of 3.150 x 1.969 in fits",
            ),
            (
                "feed 2540 mm/min, then 3 holes",
                "feed 100.00 in/min, then 3 holes",
            ),
            (
                "moved by 2.54 mm (+2.54, -0.00)",
                "moved by 0.1000 in (+0.1000, -0.0000)",
            ),
            ("2 of 3, 5.08 ± 0.25 mm", "2 of 3, 0.2000 ± 0.0098 in"),
            ("0.5 to 6 mm: write 1.5mm", "0.020 to 0.24 in: write 1.5mm"),
            ("wide (+2.54 mm)", "wide (+0.1000 in)"),
            ("comma and hammer stay", "comma and hammer stay"),
        ] {
            assert_eq!(Units::Inch.said(mm), inches);
            assert_eq!(Units::Mm.said(mm), mm);
        }
    }
}
