//! A reader of machine programs, written from the text of the standard (RS-274/NGC as described in
//! NIST IR 6556) and from nothing in the core, for the part of the language that plans use.
//!
//! * A line holds at most 256 characters (3.3) and, outside of comments, words: a letter and a number
//!   without exponent (3.3.2.1). Comments stand in one pair of parentheses and hold none (3.3.4).
//! * Two words of one modal group may not stand on one line (3.4); a motion stays in force.
//! * An arc in the centre form gives I and J from its start; its two ends must lie equally far from the
//!   centre, to 0.002 mm or 0.0002 in; ends that coincide mean a whole turn (3.5.3.2).
//! * A line runs in the order feed, spindle, dwell, units and distance mode, motion, stop (3.8).
//!
//! [`agrees`] then holds what was read against the plan it came from.

use core::f64::consts::TAU;
use std::collections::BTreeSet;
use trued::cut::{Cut, Plan};
use trued::format::Units;
use trued::{Edge, Point};

/// One move of the program, in mm.
#[derive(Clone, Copy, Debug)]
pub struct Move {
    /// With the torch on.
    pub lit: bool,
    /// A travel (`G0`).
    pub rapid: bool,
    /// Where it begins and ends.
    pub from: Point,
    /// Where it ends.
    pub to: Point,
    /// Centre and turn (counter-clockwise positive) of an arc.
    pub arc: Option<(Point, f64)>,
    /// Feed in force, mm/min.
    pub feed: f64,
}

/// What a program does.
#[derive(Clone, Debug, Default)]
pub struct Program {
    /// All moves in the plane, in order.
    pub moves: Vec<Move>,
    /// How often the torch is lit.
    pub lit: usize,
}

#[derive(Default)]
struct Machine {
    at: Option<Point>,
    unit: Option<f64>,
    motion: Option<u32>,
    feed: Option<f64>,
    lit: bool,
    absolute: bool,
    ended: bool,
}

/// Reads a program.
///
/// # Errors
/// Says in which line the standard is broken, and how.
pub fn read(text: &str) -> Result<Program, String> {
    let mut machine = Machine::default();
    let mut program = Program::default();
    for (number, line) in text.lines().enumerate() {
        let fail = |what: String| format!("line {}: {what}: {line}", number + 1);
        if line.len() > 256 || !line.is_ascii() {
            return Err(fail("longer than 256 characters or not ASCII".into()));
        }
        if machine.ended && !line.trim().is_empty() {
            return Err(fail("after the end of the program".into()));
        }
        let words = words(line).map_err(&fail)?;
        machine.run(&words, &mut program).map_err(&fail)?;
    }
    if !machine.ended {
        return Err("the program has no end".into());
    }
    Ok(program)
}

/// Letters with their numbers; comments are passed over.
fn words(line: &str) -> Result<Vec<(char, f64)>, String> {
    let mut words = Vec::new();
    let mut rest = line.chars().filter(|c| *c != ' ' && *c != '\t').peekable();
    while let Some(c) = rest.next() {
        if c == '(' {
            let mut closed = false;
            for c in rest.by_ref() {
                match c {
                    ')' => {
                        closed = true;
                        break;
                    }
                    '(' => return Err("a comment in a comment".into()),
                    _ => {}
                }
            }
            if !closed {
                return Err("a comment without an end".into());
            }
            continue;
        }
        if !c.is_ascii_alphabetic() {
            return Err(format!("{c} where a word should begin"));
        }
        let mut number = String::new();
        while let Some(d) = rest.next_if(|d| d.is_ascii_digit() || matches!(d, '+' | '-' | '.')) {
            number.push(d);
        }
        let value: f64 = number
            .parse()
            .map_err(|_| format!("{c}{number} is no word"))?;
        words.push((c.to_ascii_uppercase(), value));
    }
    Ok(words)
}

/// The modal group of a code that plans use, and none of another.
fn group(letter: char, code: u32) -> Option<&'static str> {
    match (letter, code) {
        ('G', 0..=3) => Some("motion"),
        ('G', 4) => Some("dwell"),
        ('G', 17) => Some("plane"),
        ('G', 20 | 21) => Some("units"),
        ('G', 90) => Some("distance"),
        ('G', 94) => Some("feed mode"),
        ('M', 3 | 5) => Some("torch"),
        ('M', 2) => Some("stop"),
        _ => None,
    }
}

impl Machine {
    fn run(&mut self, words: &[(char, f64)], program: &mut Program) -> Result<(), String> {
        let mut codes = Vec::new();
        let mut groups = BTreeSet::new();
        let mut seen = BTreeSet::new();
        for &(letter, value) in words {
            if matches!(letter, 'G' | 'M') {
                let code = value as u32;
                let group = group(letter, code)
                    .filter(|_| f64::from(code) == value)
                    .ok_or(format!("{letter}{value} is not known here"))?;
                if !groups.insert(group) {
                    return Err(format!("two words of the group {group}"));
                }
                codes.push((letter, code));
            } else if !"XYZIJFP".contains(letter) || !seen.insert(letter) {
                return Err(format!("{letter} is not known here or stands twice"));
            }
        }
        let of = |letter: char| words.iter().find(|w| w.0 == letter).map(|w| w.1);
        for &(letter, code) in &codes {
            match (letter, code) {
                ('G', 20) => self.unit = Some(25.4),
                ('G', 21) => self.unit = Some(1.0),
                ('G', 90) => self.absolute = true,
                ('G', 0..=3) => self.motion = Some(code),
                _ => {}
            }
        }
        if let Some(f) = of('F') {
            if f <= 0.0 {
                return Err("a feed of nothing".into());
            }
            self.feed = Some(f * self.unit.ok_or("a feed before the units")?);
        }
        for &(letter, code) in &codes {
            match (letter, code) {
                ('M', 3) => {
                    self.lit = true;
                    program.lit += 1;
                }
                ('M', 5) => self.lit = false,
                ('G', 4) if of('P').is_none_or(|p| p < 0.0) => {
                    return Err("a dwell without its time".into());
                }
                _ => {}
            }
        }
        if "XYZIJ".chars().any(|c| of(c).is_some()) {
            self.travel(&of, program)?;
        } else if codes.iter().any(|c| c.0 == 'G' && c.1 <= 3) {
            return Err("a motion without a place".into());
        }
        self.ended |= codes.contains(&('M', 2));
        Ok(())
    }

    fn travel(
        &mut self,
        of: &dyn Fn(char) -> Option<f64>,
        program: &mut Program,
    ) -> Result<(), String> {
        let unit = self.unit.ok_or("a place before the units")?;
        if !self.absolute {
            return Err("a place before absolute places are set".into());
        }
        let motion = self.motion.ok_or("a place without a motion")?;
        if motion > 0 && self.feed.is_none() {
            return Err("a cutting move without a feed".into());
        }
        if of('X').is_none() && of('Y').is_none() && motion < 2 {
            return if of('Z').is_some() {
                Ok(())
            } else {
                Err("a motion without a place".into())
            };
        }
        let before = self.at;
        let axis = |letter: char, old: Option<f64>| {
            of(letter)
                .map(|v| v * unit)
                .or(old)
                .ok_or(format!("{letter} is not known yet"))
        };
        let to = Point::new(
            axis('X', before.map(|p| p.x))?,
            axis('Y', before.map(|p| p.y))?,
        );
        self.at = Some(to);
        let from = match (before, motion) {
            (Some(from), _) => from,
            (None, 0) => return Ok(()),
            (None, _) => return Err("a cutting move from nowhere".into()),
        };
        let arc = if motion >= 2 {
            if of('X').is_none() && of('Y').is_none() || of('I').is_none() && of('J').is_none() {
                return Err("an arc without its end or its centre".into());
            }
            let center = Point::new(
                from.x + unit * of('I').unwrap_or(0.0),
                from.y + unit * of('J').unwrap_or(0.0),
            );
            let (a, b) = (from - center, to - center);
            let allowed = if unit > 1.0 { 0.0002 * 25.4 } else { 0.002 };
            if (a.length() - b.length()).abs() > allowed || a.length() <= 0.0 {
                return Err(format!("radii {} and {}", a.length(), b.length()));
            }
            let mut sweep = libm::atan2(a.cross(b), a.dot(b));
            let whole = from == to;
            if motion == 3 && (sweep < 0.0 || whole) {
                sweep += TAU;
            } else if motion == 2 && (sweep > 0.0 || whole) {
                sweep -= TAU;
            }
            Some((center, sweep))
        } else {
            None
        };
        program.moves.push(Move {
            lit: self.lit,
            rapid: motion == 0,
            from,
            to,
            arc,
            feed: self.feed.unwrap_or(0.0),
        });
        Ok(())
    }
}

/// The program does what the plan says: every place within half its last written digit (four places
/// of mm, five of inches), every arc the same turn about the same centre, the torch lit on the cuts
/// and nowhere else.
///
/// # Errors
/// Says which cut and edge differ, and by how much.
pub fn agrees(plan: &Plan, program: &Program, units: Units) -> Result<(), String> {
    let digit = match units {
        Units::Mm => 1e-4,
        Units::Inch => 25.4e-5,
    };
    if program.lit != plan.cuts.len() {
        return Err(format!(
            "{} cuts, lit {} times",
            plan.cuts.len(),
            program.lit
        ));
    }
    if let Some(m) = program.moves.iter().find(|m| m.lit == m.rapid) {
        return Err(format!(
            "a travel with the torch on or a cut without: {m:?}"
        ));
    }
    let mut lit = program.moves.iter().filter(|m| m.lit).peekable();
    for (number, cut) in plan.cuts.iter().enumerate() {
        one_cut(cut, &mut lit, digit).map_err(|e| format!("cut {number}: {e}"))?;
    }
    match lit.next() {
        Some(m) => Err(format!("more moves than planned: {m:?}")),
        None => Ok(()),
    }
}

fn one_cut<'a>(
    cut: &Cut,
    moves: &mut core::iter::Peekable<impl Iterator<Item = &'a Move>>,
    digit: f64,
) -> Result<(), String> {
    // Half a digit, and what the division by the unit rounds.
    let half = |p: Point, q: Point| {
        let slack = 0.5 * digit + 1e-12 * (1.0 + p.x.abs() + p.y.abs());
        (p.x - q.x).abs() <= slack && (p.y - q.y).abs() <= slack
    };
    let mut at = cut.pierce.at;
    for (i, edge) in cut.moves().enumerate() {
        let fail = |what: &str, m: Option<&Move>| format!("edge {i}: {what}: {edge:?}, {m:?}");
        let turn = match edge {
            Edge::Arc(a) => a.sweep,
            Edge::Line(_) => 0.0,
        };
        let here = half(edge.to(), at) && turn.abs() < 0.5 * TAU;
        let next = moves.peek().copied();
        let whole = next
            .and_then(|m| m.arc)
            .is_some_and(|a| a.1.abs() > 0.9 * TAU);
        if let Some(m) = next.filter(|m| half(edge.to(), m.to) && !(here && whole)) {
            same(edge, m, digit).map_err(|e| fail(&e, next))?;
            at = m.to;
            if (m.feed - cut.feed).abs() > digit {
                return Err(fail("another feed", next));
            }
            moves.next();
        } else if here {
            // Shorter than the last digit shows: nothing is written.
        } else if turn.abs() > 0.9 * TAU {
            // Written as two arcs.
            let (Some(a), Some(b)) = (moves.next(), moves.next()) else {
                return Err(fail("not written", next));
            };
            let turned = a.arc.map_or(0.0, |a| a.1) + b.arc.map_or(0.0, |b| b.1);
            if !half(edge.to(), b.to) || (turned - turn).abs() > 0.01 {
                return Err(fail("its halves end elsewhere", Some(b)));
            }
            at = b.to;
        } else {
            return Err(fail("ends elsewhere", next));
        }
    }
    Ok(())
}

fn same(edge: &Edge, m: &Move, digit: f64) -> Result<(), String> {
    match (edge, m.arc) {
        (Edge::Line(_), None) => Ok(()),
        (Edge::Line(_), Some(_)) => Err("a line became an arc".into()),
        (Edge::Arc(a), Some((center, sweep))) => {
            let slack = 0.5 * digit + 1e-12 * (1.0 + a.center.x.abs() + a.center.y.abs());
            let off = center - a.center;
            if off.x.abs() > slack || off.y.abs() > slack {
                return Err(format!("its centre is off by {}", off.length()));
            }
            if (sweep - a.sweep).abs() * a.radius > 0.005 {
                return Err(format!("it turns by {sweep}"));
            }
            Ok(())
        }
        (Edge::Arc(a), None) => {
            let bow = (a.radius * (1.0 - libm::cos(0.5 * a.sweep))).abs();
            if bow > 0.005 {
                return Err(format!("an arc {bow} mm high became a line"));
            }
            Ok(())
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// NIST IR 6556, 3.5.3.2: `G17 G2 x10 y16 i3 j4` from (7, 7) turns about (10, 11) with radius 5.
    /// The turn is recomputed from those.
    #[test]
    fn the_arc_of_the_standard() {
        let text = "G17 G21 G90 G94\nF100\nG0 X7 Y6\nM3\nG1 X7 Y7\nG17 G2 x10 y16 i3 j4\nM5\nM2\n";
        let program = read(text).expect("a program as the standard has it");
        let last = program.moves.last().expect("an arc");
        let (center, sweep) = last.arc.expect("an arc");
        assert_eq!(center, Point::new(10.0, 11.0));
        assert!((center.distance(last.to) - 5.0).abs() < 1e-12);
        assert!((sweep.to_degrees() + 143.130_102_354_156).abs() < 1e-9);
    }

    #[test]
    fn what_the_standard_forbids_is_refused() {
        for (line, why) in [
            ("G1 X1e3", "an exponent"),
            ("G2 X10 Y0 I4 J0", "radii apart"),
            ("G2 X10 Y0", "no centre"),
            ("G2 X10 Y0 R5", "the R form is not written here"),
            ("G0 G1 X1", "two motions"),
            ("G1", "no place"),
            ("(a (b)", "a comment in a comment"),
            ("(a", "no end of the comment"),
            ("G1 X1 X2", "one axis twice"),
        ] {
            let text = format!("G17 G21 G90 G94 F1\nG0 X0 Y0\n{line}\nM2\n");
            assert!(read(&text).is_err(), "{why}: {line}");
        }
        assert!(read("G21 G90 F1\nG0 X0 Y0\n").is_err(), "no end");
    }
}
