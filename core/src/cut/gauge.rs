//! Sheet gauges: a number on the rack to a thickness.
//!
//! Both series are weights: a gauge means so many ounces to the square foot, and the thickness
//! follows from the trade's round weight of steel, 41.82 lb to the square foot an inch thick.

/// One inch, mm (exact).
pub const INCH: f64 = 25.4;

/// Gauge numbers and ounces per square foot of bare steel sheet.
const OUNCES: [(u32, f64); 13] = [
    (10, 90.0),
    (11, 80.0),
    (12, 70.0),
    (13, 60.0),
    (14, 50.0),
    (15, 45.0),
    (16, 40.0),
    (17, 36.0),
    (18, 32.0),
    (19, 28.0),
    (20, 24.0),
    (22, 20.0),
    (24, 16.0),
];

/// Thickness of bare steel sheet of a gauge, mm; `None` of a gauge not in the table.
#[must_use]
pub fn steel(gauge: u32) -> Option<f64> {
    ounces(gauge).map(|oz| oz / (16.0 * 41.82) * INCH)
}

/// Thickness of galvanized sheet of a gauge, zinc included, mm. Galvanized steel must not be cut
/// with a torch unless the zinc is off: its fumes make ill.
#[must_use]
pub fn galvanized(gauge: u32) -> Option<f64> {
    ounces(gauge).map(|oz| (oz + 2.5) / (16.0 * 41.82) * INCH)
}

fn ounces(gauge: u32) -> Option<f64> {
    OUNCES.iter().find(|(g, _)| *g == gauge).map(|(_, oz)| *oz)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bare_steel_agrees_with_the_manufacturers_standard_gauge() {
        // Manufacturers' Standard gauge table, inches.
        let table = [
            (10, 0.1345),
            (11, 0.1196),
            (12, 0.1046),
            (13, 0.0897),
            (14, 0.0747),
            (15, 0.0673),
            (16, 0.0598),
            (17, 0.0538),
            (18, 0.0478),
            (19, 0.0418),
            (20, 0.0359),
            (22, 0.0299),
            (24, 0.0239),
        ];
        for (gauge, inches) in table {
            assert!(
                (steel(gauge).unwrap() / INCH - inches).abs() < 6e-5,
                "{gauge}"
            );
        }
        assert_eq!(steel(9), None);
    }

    #[test]
    fn galvanized_agrees_with_its_table() {
        // Galvanized sheet gauge table, inches.
        let table = [
            (10, 0.1382),
            (12, 0.1084),
            (14, 0.0785),
            (16, 0.0635),
            (18, 0.0516),
            (20, 0.0396),
        ];
        for (gauge, inches) in table {
            assert!(
                (galvanized(gauge).unwrap() / INCH - inches).abs() < 6e-5,
                "{gauge}"
            );
        }
    }
}
