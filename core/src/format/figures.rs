//! What is said of a plan in figures and sentences: on the sheet and on the terminal.

use crate::cut::{Plan, Warning, kept};
use crate::format::Units;

/// Notes of one kind that are said in full before the others are only counted.
const MOST_OF_A_KIND: usize = 3;

/// Lengths and speeds as a person reads them, in the unit asked for.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Said(pub(crate) Units);

impl Said {
    /// A setting: as many digits as it has, without empty ones.
    pub(crate) fn setting(self, mm: f64) -> String {
        let places = match self.0 {
            Units::Mm => 1e3,
            Units::Inch => 1e4,
        };
        format!("{} {}", self.rounded(mm, places), self.0.name())
    }

    /// The figure in the unit asked for, to one part in so many, without a minus at zero.
    fn rounded(self, mm: f64, places: f64) -> f64 {
        libm::round(mm / self.0.in_mm() * places) / places + 0.0
    }

    /// A size: to a tenth of a mm or a hundredth of an inch, the unit left to the reader.
    pub(crate) fn bare(self, mm: f64) -> String {
        match self.0 {
            Units::Mm => format!("{:.1}", self.rounded(mm, 10.0)),
            Units::Inch => format!("{:.3}", self.rounded(mm, 1e3)),
        }
    }

    /// How far a size may be off: a digit more than the size.
    pub(crate) fn off(self, mm: f64) -> String {
        match self.0 {
            Units::Mm => format!("{mm}"),
            Units::Inch => format!("{:.3}", mm / 25.4),
        }
    }

    /// A size with its unit.
    pub(crate) fn size(self, mm: f64) -> String {
        format!("{} {}", self.bare(mm), self.0.name())
    }

    /// A long way: whole mm or tenths of an inch.
    pub(crate) fn way(self, mm: f64) -> String {
        match self.0 {
            Units::Mm => format!("{mm:.0} mm"),
            Units::Inch => format!("{:.1} in", mm / 25.4),
        }
    }

    /// A speed.
    pub(crate) fn speed(self, mm_per_min: f64) -> String {
        let places = match self.0 {
            Units::Mm => 10.0,
            Units::Inch => 100.0,
        };
        format!("{} {}/min", self.rounded(mm_per_min, places), self.0.name())
    }
}

/// "1 cut", "2 cuts".
pub(crate) fn count(n: usize, what: &str) -> String {
    format!("{n} {what}{}", if n == 1 { "" } else { "s" })
}

/// Minutes and seconds.
pub(crate) fn minutes(s: f64) -> String {
    let s = libm::round(s);
    format!(
        "{:.0} min {:02.0} s",
        libm::floor(s / 60.0),
        s - 60.0 * libm::floor(s / 60.0)
    )
}

/// The figures of a plan, one line each.
#[must_use]
pub fn figures(plan: &Plan, units: Units) -> Vec<String> {
    let (s, t, said) = (&plan.settings, &plan.totals, Said(units));
    let thick = s
        .thickness
        .map_or(String::new(), |t| format!(", plate {}", said.setting(t)));
    let travel = if t.time_has_travel {
        "with travel"
    } else {
        "for cutting and piercing; travel is not counted, its speed was not given"
    };
    let mut lines = vec![
        format!(
            "kerf {}, feed {}, pierce delay {} s{thick}",
            said.setting(s.kerf),
            said.speed(s.feed),
            s.pierce
        ),
        format!(
            "{}, {} with the torch on",
            count(t.pierces, "cut"),
            said.way(t.cut_length)
        ),
        format!("time {} {travel}", minutes(t.time_s)),
        format!(
            "travel {}; no order can do with less than {}",
            said.way(t.travel),
            said.way(t.travel_bound)
        ),
    ];
    if t.warm_in_a_row > 0 {
        lines.push(format!(
            "{} of {} begin{} beside the one just made, while it is hot",
            t.warm_in_a_row,
            count(t.pierces, "cut"),
            if t.warm_in_a_row == 1 { "s" } else { "" }
        ));
    }
    lines.push(kept(&plan.outline));
    if let Some(kg) = t.weight_kg {
        lines.push(format!("pieces weigh {kg:.3} kg together"));
    }
    if let Some(share) = t.stock_use {
        lines.push(format!(
            "{:.1} % of the stock becomes pieces",
            100.0 * share
        ));
    }
    lines
}

/// What there is to know before cutting, doubts apart; of many notes of one kind the first few in full and
/// the number of the others. The plan itself holds them all.
#[must_use]
pub fn notes(plan: &Plan, units: Units) -> Vec<String> {
    let mut all = Vec::new();
    let ordinary: Vec<&Warning> = (plan.warnings.iter())
        .filter(|w| w.kind.doubt().is_none())
        .collect();
    for run in ordinary.chunk_by(|a, b| a.kind == b.kind) {
        // A single one left over is no longer than the line that would count it.
        let full = match run.len() {
            n if n <= MOST_OF_A_KIND + 1 => n,
            _ => MOST_OF_A_KIND,
        };
        all.extend(run.iter().take(full).map(|w| units.said(&w.text)));
        if run.len() > full {
            all.push(format!("… and {} more like the last", run.len() - full));
        }
    }
    all
}

/// Doubts, numbered, then notes.
#[must_use]
pub fn told(plan: &Plan, units: Units) -> Vec<String> {
    let doubts = plan.doubts.iter().enumerate();
    doubts
        .map(|(i, d)| format!("doubt {}: {}", i + 1, units.said(&d.text)))
        .chain(notes(plan, units))
        .collect()
}
