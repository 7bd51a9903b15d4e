//! Sizes in words: as many digits as their ± deserves, in the unit of the person.

use super::{Size, SizeKind};
use crate::units::Units;

/// Most decimals of mm, of inches, of degrees.
const MOST: [usize; 3] = [3, 4, 2];

impl Size {
    /// `80.0 ±0.2`, `R 8.0 ±0.3`, `⌀ 60`, `92.0° ±0.3`. The ± has one digit, two where it starts with 1; a size that
    /// is fixed has none, and no zeros at its end.
    #[must_use]
    pub fn figure(&self, units: Units) -> String {
        let (sign, unit, k, most) = match (self.kind, units) {
            (SizeKind::Angle, _) => ("", "°", 1f64.to_degrees(), MOST[2]),
            (SizeKind::Radius, Units::Mm) => ("R ", "", 1.0, MOST[0]),
            (SizeKind::Diameter, Units::Mm) => ("⌀ ", "", 1.0, MOST[0]),
            (SizeKind::Radius, Units::Inch) => ("R ", "", 1.0 / units.in_mm(), MOST[1]),
            (SizeKind::Diameter, Units::Inch) => ("⌀ ", "", 1.0 / units.in_mm(), MOST[1]),
            (_, Units::Mm) => ("", "", 1.0, MOST[0]),
            (_, Units::Inch) => ("", "", 1.0 / units.in_mm(), MOST[1]),
        };
        let (value, spread) = (k * self.value, k * self.plus_minus);
        if spread > 0.0 {
            let digits = decimals(spread, most);
            format!("{sign}{value:.digits$}{unit} ±{spread:.digits$}")
        } else {
            format!("{sign}{}{unit}", trimmed(&format!("{value:.most$}")))
        }
    }

    /// What is measured, where the figure alone does not say.
    #[must_use]
    pub fn what(&self) -> &'static str {
        match self.kind {
            SizeKind::Length | SizeKind::Radius | SizeKind::Diameter | SizeKind::Angle => "",
            SizeKind::Distance => "between ",
            SizeKind::Centers => "centres ",
            SizeKind::Spacing => "spacing ",
            SizeKind::ToEdge => "to edge ",
        }
    }
}

/// Decimals of a number that is known to ±`spread`.
fn decimals(spread: f64, most: usize) -> usize {
    let mut digits = 0;
    let mut rest = spread;
    // 0.19 has two decimals, 0.21 one.
    while rest < 1.95 && digits < most {
        rest *= 10.0;
        digits += 1;
    }
    digits
}

/// Without zeros that say nothing.
fn trimmed(figure: &str) -> &str {
    match figure.contains('.') {
        true => figure.trim_end_matches('0').trim_end_matches('.'),
        false => figure,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geom::Point;

    fn size(kind: SizeKind, value: f64, plus_minus: f64) -> Size {
        Size {
            kind,
            loop_index: 0,
            edges: vec![0],
            value,
            plus_minus,
            fixed: plus_minus == 0.0,
            at: Point::default(),
            hole: None,
            mark: None,
        }
    }

    #[test]
    fn digits_go_by_the_plus_minus() {
        let said = |kind, value, spread, units| size(kind, value, spread).figure(units);
        assert_eq!(
            said(SizeKind::Length, 80.0213, 0.214, Units::Mm),
            "80.0 ±0.2"
        );
        assert_eq!(
            said(SizeKind::Length, 80.0213, 0.143, Units::Mm),
            "80.02 ±0.14"
        );
        assert_eq!(said(SizeKind::Length, 803.4, 3.2, Units::Mm), "803 ±3");
        assert_eq!(said(SizeKind::Radius, 8.0, 0.0, Units::Mm), "R 8");
        assert_eq!(said(SizeKind::Diameter, 50.8, 0.0, Units::Inch), "⌀ 2");
        let right = core::f64::consts::FRAC_PI_2;
        assert_eq!(said(SizeKind::Angle, right, 0.0, Units::Mm), "90°");
    }
}
