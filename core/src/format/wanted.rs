//! What a person says of a file beyond what the file says itself.

use super::Units;

/// How far chords and curves may be off the arcs that stand for them, in mm, where nobody said otherwise.
pub const CHORDS: f64 = 0.05;

/// The sign between whole numbers and fractions.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Decimal {
    /// `1.5`
    Point,
    /// `1,5`
    Comma,
}

/// How a file is to be read. A file that states something itself is believed.
#[derive(Clone, Debug, PartialEq)]
pub struct Wanted {
    /// Unit of length of a file that states none.
    pub units: Units,
    /// The person said that unit; else a drawing that states none comes with a doubt.
    pub units_said: bool,
    /// What a drawing shows was traced by a hand: its polylines and curves become strokes to be read.
    /// Without it a drawing is a drawing, and stays edge by edge as drawn.
    pub traced: bool,
    /// Chords of a curve are put back into arcs, and curves become arcs, no further than this from what was
    /// drawn, mm. 0 leaves chords alone.
    pub chords: f64,
    /// The layers (of an SVG: named groups) that come in; where none is named, all that are shown.
    pub layers: Vec<String>,
    /// The decimal sign of a CSV file that can be read with either.
    pub decimal: Option<Decimal>,
    /// Names of the columns of a CSV file, in order, where it has none or others.
    pub columns: Vec<String>,
}

impl Default for Wanted {
    fn default() -> Self {
        Self {
            units: Units::Mm,
            units_said: false,
            traced: false,
            chords: CHORDS,
            layers: Vec::new(),
            decimal: None,
            columns: Vec::new(),
        }
    }
}

impl From<Units> for Wanted {
    /// Nothing said but a unit to fall back on.
    fn from(units: Units) -> Self {
        Self {
            units,
            ..Self::default()
        }
    }
}
