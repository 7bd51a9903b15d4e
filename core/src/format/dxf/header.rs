//! The units a drawing states.
//!
//! `$INSUNITS` names the unit of length. Where it is missing or 0, `$MEASUREMENT` still tells
//! metric from English. Where neither is there the file states none.

use super::pairs::Pair;
use crate::format::{Units, Wanted};

/// What the header has said so far.
#[derive(Default)]
pub(super) struct Header {
    variable: Variable,
    insunits: Option<i64>,
    measurement: Option<i64>,
}

#[derive(Default)]
enum Variable {
    #[default]
    Other,
    Insunits,
    Measurement,
}

/// mm in one unit of `$INSUNITS`, by the numbers of the published reference.
fn in_mm(insunits: i64) -> Option<f64> {
    Some(match insunits {
        1 => 25.4,
        2 => 304.8,
        3 => 1_609_344.0,
        4 => 1.0,
        5 => 10.0,
        6 => 1000.0,
        7 => 1e6,
        8 => 25.4e-6,
        9 => 25.4e-3,
        10 => 914.4,
        11 => 1e-7,
        12 => 1e-6,
        13 => 1e-3,
        14 => 100.0,
        15 => 1e4,
        16 => 1e5,
        17 => 1e12,
        18 => 149_597_870_700_000.0,
        19 => 9.460_730_472_580_8e18,
        20 => 3.085_677_581_491_367e19,
        // The foot of the United States' survey is 1200/3937 m.
        21 => 1_200_000.0 / 3937.0,
        22 => 100_000.0 / 3937.0,
        23 => 3_600_000.0 / 3937.0,
        24 => 5280.0 * 1_200_000.0 / 3937.0,
        _ => return None,
    })
}

impl Header {
    /// Takes one group of the section HEADER.
    pub(super) fn take(&mut self, pair: &Pair<'_>) {
        match (pair.code, &self.variable) {
            (9, _) => {
                self.variable = match pair.value {
                    b"$INSUNITS" => Variable::Insunits,
                    b"$MEASUREMENT" => Variable::Measurement,
                    _ => Variable::Other,
                }
            }
            (70, Variable::Insunits) => self.insunits = Some(pair.integer()),
            (70, Variable::Measurement) => self.measurement = Some(pair.integer()),
            _ => {}
        }
    }

    /// The unit the drawing states, or the one of the two we speak that is nearest to it.
    pub(super) fn stated(&self) -> Option<Units> {
        match (self.insunits, self.measurement) {
            // Inches, feet, miles, microinches, mils and yards; whatever else has a number is metric.
            (Some(1..=3 | 8..=10 | 21..=24), _) => Some(Units::Inch),
            (Some(n), _) if n != 0 => Some(Units::Mm),
            (_, Some(0)) => Some(Units::Inch),
            (_, Some(1)) => Some(Units::Mm),
            _ => None,
        }
    }

    /// mm in one unit of the drawing, and what is to be said where that had to be guessed. Where the drawing
    /// states none, the person's word counts.
    pub(super) fn scale(&self, wanted: &Wanted) -> (f64, Option<String>) {
        let units = wanted.units;
        let unit = units.name();
        let guess = |text: String| (units.in_mm(), Some(text));
        match (self.insunits.unwrap_or(0), self.measurement) {
            (1, Some(1)) => (
                25.4,
                Some("the drawing says both that it is in inches and that it is metric: taken as inches".into()),
            ),
            (0, _) if wanted.units_said => guess(format!("the drawing states no unit of length: taken as {unit}, as was said")),
            (0, Some(0)) => (
                25.4,
                Some("the drawing says only that it is in English units: taken as inches".into()),
            ),
            (0, Some(1)) => (
                1.0,
                Some("the drawing says only that it is metric: taken as mm".into()),
            ),
            (0, _) => guess(format!(
                "the drawing states no unit of length; its lengths are taken as {unit}"
            )),
            (n, _) => match in_mm(n) {
                Some(mm) => (mm, None),
                None => guess(format!(
                    "the drawing states a unit that is not known ($INSUNITS is {n}); its lengths are taken as {unit}"
                )),
            },
        }
    }
}
