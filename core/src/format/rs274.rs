//! A plan as a program for the machine, in the standard language RS-274/NGC (NIST IR 6556).
//!
//! Plane, unit, absolute places and feed per minute are set first (`G17 G21 G90 G94`), the torch is
//! off before anything moves, every travel is a `G0` with the torch off, and the end is `M5 M2`.
//! Arcs are written in the centre form: I and J run from the start to the centre, and the standard
//! (3.5.3.2) asks that start and end lie equally far from it, to 0.002 mm or 0.0002 in. So rounding
//! comes first and the check after: each arc is judged by the numbers that will stand in the file.
//! An arc that rounding would spoil (shorter than a few steps of the last digit, so that its ends
//! coincide and it would be read as a whole circle, or so flat that it is a line to the last digit)
//! is written as a straight move.

use crate::cautions::CAUTIONS;
use crate::cut::{Cleared, Cut, Plan};
use crate::format::{Units, comments, figures};
use crate::geom::{Arc, Edge, Point, Vec2};
use crate::outline::Bounds;
use core::f64::consts::TAU;

/// How much the two radii of an arc may differ, mm (the standard's tolerance).
const SAME_RADIUS: f64 = 0.002;

/// What is written besides the moves.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Options {
    /// Unit of the file.
    pub units: Units,
    /// The same moves with the torch off throughout.
    pub dry_run: bool,
}

struct Writer {
    text: String,
    units: Units,
    dry_run: bool,
    /// Where the machine stands, as written.
    at: Option<(f64, f64)>,
}

/// The plan as a program.
#[must_use]
pub fn write(plan: Cleared<'_>, options: Options) -> String {
    let mut out = Writer {
        text: String::new(),
        units: options.units,
        dry_run: options.dry_run,
        at: None,
    };
    out.heading(&plan);
    out.line(if options.units == Units::Mm {
        "G17 G21 G90 G94"
    } else {
        "G17 G20 G90 G94"
    });
    out.line("M5");
    for (number, cut) in plan.cuts.iter().enumerate() {
        out.cut(number + 1, cut, &plan);
    }
    out.line("M5");
    if let Some(h) = plan.settings.heights {
        let safe = out.number(h.safe);
        out.line(&format!("G0 Z{safe}"));
    }
    out.line("M2");
    out.text
}

impl Writer {
    fn line(&mut self, text: &str) {
        self.text.push_str(text);
        self.text.push('\n');
    }

    /// A sentence as comments, in the unit of the file.
    fn say(&mut self, text: &str) {
        for line in comments::lines(&self.units.said(text)) {
            self.line(&format!("({line})"));
        }
    }

    /// A length as written: mm to four places, inches to five.
    fn rounded(&self, mm: f64) -> f64 {
        let (unit, scale) = match self.units {
            Units::Mm => (1.0, 1e4),
            Units::Inch => (25.4, 1e5),
        };
        // Adding 0 makes a negative zero a plain one.
        libm::round(mm / unit * scale) / scale + 0.0
    }

    fn number(&self, mm: f64) -> String {
        self.rounded(mm).to_string()
    }

    fn heading(&mut self, plan: &Plan) {
        let title = match plan.settings.title.as_str() {
            "" => "cut plan",
            title => title,
        };
        self.say(&format!("job: {title}"));
        if self.dry_run {
            self.say("DRY RUN: the same moves with the torch off");
        }
        for caution in CAUTIONS {
            self.say(caution);
        }
        for (i, doubt) in plan.doubts.iter().enumerate() {
            self.say(&format!("doubt {}, taken on: {}", i + 1, doubt.text));
        }
        for figure in figures::figures(plan, self.units) {
            self.say(&figure);
        }
        self.say("the kerf is already in the path: do not offset again");
        let moves = plan.cuts.iter().flat_map(Cut::moves);
        if let Some(b) = moves.map(Bounds::of_edge).reduce(|a, b| a.union(&b)) {
            let unit = self.units.name();
            self.say(&format!(
                "all cuts lie within X {} to {}, Y {} to {} {unit} of the machine's zero",
                self.number(b.min.x),
                self.number(b.max.x),
                self.number(b.min.y),
                self.number(b.max.y)
            ));
        }
        for note in figures::notes(plan, self.units) {
            self.say(&format!("note: {note}"));
        }
    }

    fn cut(&mut self, number: usize, cut: &Cut, plan: &Plan) {
        let role = match cut.role {
            crate::Role::Part => "part",
            crate::Role::Hole => "hole",
            crate::Role::Open => "open path",
        };
        self.say(&format!("cut {number}: {role}"));
        let heights = plan.settings.heights.map(|h| {
            (
                self.number(h.safe),
                self.number(h.pierce),
                self.number(h.cut),
            )
        });
        if let Some((safe, _, _)) = &heights {
            self.line(&format!("G0 Z{safe}"));
        }
        let start = cut.pierce.at;
        let (x, y) = self.go(start);
        self.line(&format!("G0 X{x} Y{y}"));
        let feed = self.number(cut.feed);
        if let Some((_, pierce, _)) = &heights {
            self.line(&format!("G1 Z{pierce} F{feed}"));
        }
        if !self.dry_run {
            self.line("M3");
        }
        if cut.pierce.delay_s > 0.0 {
            self.line(&format!("G4 P{}", cut.pierce.delay_s));
        }
        if let Some((_, _, height)) = &heights {
            self.line(&format!("G1 Z{height} F{feed}"));
        }
        self.line(&format!("F{feed}"));
        for edge in cut.moves() {
            match edge {
                Edge::Line(l) => self.straight(l.to),
                Edge::Arc(a) => self.arc(a),
            }
        }
        if !self.dry_run {
            self.line("M5");
        }
    }

    fn go(&mut self, to: Point) -> (f64, f64) {
        let at = (self.rounded(to.x), self.rounded(to.y));
        self.at = Some(at);
        at
    }

    fn straight(&mut self, to: Point) {
        let before = self.at;
        let (x, y) = self.go(to);
        if before != Some((x, y)) {
            self.line(&format!("G1 X{x} Y{y}"));
        }
    }

    fn arc(&mut self, arc: &Arc) {
        let Some(from) = self.at else { return };
        let to = (self.rounded(arc.to.x), self.rounded(arc.to.y));
        if arc.sweep.abs() > 0.9 * TAU && !arc.is_full() && from == to {
            // Nearly a whole circle whose ends round together is meant as one turn.
            return self.halves(arc);
        }
        let unit = self.units.in_mm();
        let start = Point::new(from.0 * unit, from.1 * unit);
        let (i, j) = (
            self.rounded(arc.center.x - start.x),
            self.rounded(arc.center.y - start.y),
        );
        if !self.holds(arc, from, to, (i, j)) {
            return self.straight(arc.to);
        }
        self.at = Some(to);
        let word = if arc.sweep > 0.0 { "G3" } else { "G2" };
        self.line(&format!("{word} X{} Y{} I{i} J{j}", to.0, to.1));
    }

    fn halves(&mut self, arc: &Arc) {
        for (a, b) in [(0.0, 0.5), (0.5, 1.0)] {
            if let Edge::Arc(half) = crate::cut::course::stretch(&Edge::Arc(*arc), a, b) {
                self.arc(&half);
            }
        }
    }

    /// The arc that the rounded numbers say is the arc that is meant.
    fn holds(&self, arc: &Arc, from: (f64, f64), to: (f64, f64), (i, j): (f64, f64)) -> bool {
        let unit = self.units.in_mm();
        let start = Vec2::new(-i, -j) * unit;
        let end = Vec2::new(to.0 - from.0 - i, to.1 - from.1 - j) * unit;
        let radii_agree = (start.length() - end.length()).abs() < SAME_RADIUS;
        let mut said = libm::atan2(start.cross(end), start.dot(end));
        if arc.sweep > 0.0 && (said < 0.0 || from == to) {
            said += TAU;
        } else if arc.sweep < 0.0 && (said > 0.0 || from == to) {
            said -= TAU;
        }
        // The last digit may move each end by a step; more than that in turn means a spoilt arc.
        let off = (said - arc.sweep).abs() * arc.radius;
        radii_agree && (i != 0.0 || j != 0.0) && off < 2.0 * SAME_RADIUS
    }
}
