//! Which column holds what: by its name, with or without a unit.

use crate::format::numbers;

/// Most columns a header may name.
const MOST_COLUMNS: usize = 64;

/// The columns of a file.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Columns {
    pub(super) x: usize,
    pub(super) y: usize,
    pub(super) t: Option<usize>,
    pub(super) stroke: Option<usize>,
    pub(super) count: usize,
    /// mm in one unit of x and y, where their names say so.
    pub(super) scale: Option<f64>,
    /// The column that says the unit of each row.
    pub(super) units: Option<usize>,
    /// Seconds in one unit of t.
    pub(super) second: f64,
    /// A time that is none refuses the row: its column is called t.
    pub(super) strict: bool,
    /// Names of those that nobody reads.
    pub(super) unread: Vec<String>,
}

/// What a column holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Role {
    X,
    Y,
    Time,
    Stroke,
}

/// What a column's name says: what it holds, its unit, and whether it says no more than the one letter.
struct Name<'a> {
    role: Option<Role>,
    unit: Option<&'a str>,
    bare: bool,
}

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
fn unit_in_seconds(name: &str) -> Option<f64> {
    Some(match name {
        "s" | "sec" | "secs" | "second" | "seconds" => 1.0,
        "ms" | "msec" | "millis" => 1e-3,
        "us" | "\u{b5}s" | "\u{3bc}s" => 1e-6,
        "min" => 60.0,
        _ => return None,
    })
}

/// Words that say that a unit follows.
const UNIT_WORDS: [&str; 9] = [
    "unit",
    "units",
    "einheit",
    "einheiten",
    "unité",
    "unités",
    "unidad",
    "unidades",
    "unità",
];

/// mm in the unit that a line above the points states in words of its own: `Unit: inch`, `Units,mm`.
pub(super) fn unit_stated(line: &str) -> Option<f64> {
    let lower = line.to_lowercase();
    let (key, value) = lower.split_once([':', '=', ',', ';', '\t'])?;
    let key = key.trim_matches(|c: char| !c.is_alphanumeric());
    let value = value.trim_matches(|c: char| c.is_whitespace() || "[](),;".contains(c));
    UNIT_WORDS.contains(&key).then(|| unit_in_mm(value))?
}

/// The column that says the unit of each row.
pub(super) fn unit_column(names: &[String]) -> Option<usize> {
    names.iter().position(|n| UNIT_WORDS.contains(&n.as_str()))
}

/// Words beside a letter that change nothing.
const BESIDE: [&str; 26] = [
    "pos",
    "position",
    "coord",
    "coords",
    "coordinate",
    "koordinate",
    "coordonnée",
    "coordenada",
    "coordinata",
    "posición",
    "posizione",
    "valeur",
    "valor",
    "eje",
    "axis",
    "achse",
    "value",
    "wert",
    "actual",
    "ist",
    "abs",
    "point",
    "punkt",
    "tip",
    "id",
    "stylus",
];

fn role_of(word: &str) -> Option<Role> {
    Some(match word {
        "x" => Role::X,
        "y" => Role::Y,
        "t" | "time" | "zeit" | "temps" | "tiempo" | "elapsed" | "timestamp" => Role::Time,
        "stroke" | "strokes" => Role::Stroke,
        _ => return None,
    })
}

impl<'a> Name<'a> {
    /// Reads a name that is all lower case.
    fn of(text: &'a str) -> Self {
        let letters = |c: char| !(c.is_alphanumeric() || c == '"');
        let words: Vec<&str> = text.split(letters).filter(|w| !w.is_empty()).collect();
        let unit = |w: &&&str| unit_in_mm(w).is_some() || unit_in_seconds(w).is_some();
        let mut name = Name {
            role: None,
            unit: words.iter().skip(1).rev().find(unit).copied(),
            bare: words.len() == 1,
        };
        let mut roles = 0;
        for word in words.iter().filter(|w| Some(**w) != name.unit) {
            match role_of(word).or_else(|| run_together(word)) {
                Some(role) => {
                    roles += 1;
                    name.role = Some(role);
                }
                // "X in mm".
                None if BESIDE.contains(word) || **word == *"in" => {}
                // "x error" is no x.
                None => roles += 2,
            }
        }
        if roles != 1 {
            name.role = None;
        }
        name
    }
}

/// `xpos`, `posx`, `xcoord`.
fn run_together(word: &str) -> Option<Role> {
    let beside = |rest: &str| BESIDE.contains(&rest);
    let ends = [("x", Role::X), ("y", Role::Y)];
    let found = ends.iter().find(|(letter, _)| {
        word.strip_prefix(letter).is_some_and(beside)
            || word.strip_suffix(letter).is_some_and(beside)
    });
    found.map(|(_, role)| *role)
}

/// A header's names, all lower case, without the empty ones at its end.
pub(super) fn names(fields: &[&[u8]]) -> Vec<String> {
    let lower = |f: &&[u8]| {
        crate::format::text::of_any(f)
            .trim()
            .trim_matches('"')
            .trim()
            .to_lowercase()
    };
    let mut names: Vec<String> = fields.iter().map(lower).collect();
    while names.last().is_some_and(String::is_empty) {
        names.pop();
    }
    names
}

impl Columns {
    /// The columns that a header names; nothing where it names no x and y, a problem where it does so twice.
    pub(super) fn of_header(names: &[String]) -> Result<Option<Self>, String> {
        if names.len() > MOST_COLUMNS {
            return Err(format!("more than {MOST_COLUMNS} columns"));
        }
        let read: Vec<Name<'_>> = names.iter().map(|n| Name::of(n)).collect();
        let find = |role: Role, called: &str| -> Result<Option<usize>, String> {
            let of_role = |bare: bool| {
                let all = read.iter().enumerate();
                all.filter(move |(_, n)| n.role == Some(role) && (n.bare || !bare))
                    .map(|(i, _)| i)
            };
            // Where one says no more than the letter, it is meant.
            let bare: Vec<usize> = of_role(true).collect();
            let all: Vec<usize> = of_role(false).collect();
            match (bare.as_slice(), all.as_slice()) {
                ([one], _) | ([], [one]) => Ok(Some(*one)),
                ([], []) => Ok(None),
                _ => Err(format!("the header names the column {called} twice")),
            }
        };
        let (Some(x), Some(y)) = (find(Role::X, "x")?, find(Role::Y, "y")?) else {
            return Ok(None);
        };
        let (t, stroke) = (find(Role::Time, "t")?, find(Role::Stroke, "stroke")?);
        let unit = |i: usize| read.get(i).and_then(|n| n.unit);
        let length = |i: usize| unit(i).and_then(unit_in_mm);
        if let (Some(a), Some(b)) = (length(x), length(y))
            && a != b
        {
            return Err("the header gives x and y in two different units".into());
        }
        let known = [Some(x), Some(y), t, stroke];
        let others = (0..names.len()).filter(|i| !known.contains(&Some(*i)));
        let named = others
            .filter_map(|i| names.get(i))
            .filter(|n| !n.is_empty());
        let unread = named
            .map(|n| format!("\"{}\"", numbers::shown(n.as_bytes())))
            .collect();
        Ok(Some(Self {
            x,
            y,
            t,
            stroke,
            count: names.len(),
            scale: length(x).or(length(y)),
            units: unit_column(names),
            second: t.and_then(unit).and_then(unit_in_seconds).unwrap_or(1.0),
            strict: t.and_then(|i| names.get(i)).is_some_and(|n| n == "t"),
            unread,
        }))
    }

    /// The column of units was no idle one.
    pub(super) fn units_are_read(&mut self) {
        let is_idle = |n: &String| !UNIT_WORDS.contains(&n.trim_matches('"'));
        self.unread.retain(is_idle);
    }

    /// Of a file without a header: the first two are x and y.
    pub(super) fn plain(count: usize) -> Self {
        Self {
            x: 0,
            y: 1,
            t: None,
            stroke: None,
            count,
            scale: None,
            units: None,
            second: 1.0,
            strict: false,
            unread: Vec::new(),
        }
    }

    /// Takes a row of units under the header; whether it is one.
    pub(super) fn take_units(&mut self, fields: &[String]) -> bool {
        let unit = |i: usize| {
            let text = fields.get(i)?.trim_matches(['[', ']', '(', ')', ' ']);
            unit_in_mm(text)
        };
        let (Some(a), Some(b)) = (unit(self.x), unit(self.y)) else {
            return false;
        };
        if a == b && self.scale.is_none_or(|s| s == a) {
            self.scale = Some(a);
        }
        a == b
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_of_all_kinds() {
        let columns = |header: &str| {
            let fields: Vec<&[u8]> = header.split(';').map(str::as_bytes).collect();
            Columns::of_header(&names(&fields)).map(|c| c.map(|c| (c.x, c.y, c.scale)))
        };
        for (header, x, y, scale) in [
            ("X [mm];Y [mm]", 0, 1, Some(1.0)),
            ("n;x(in);y(in);z(in)", 1, 2, Some(25.4)),
            ("Pos X;Pos Y", 0, 1, None),
            ("X-Achse in mm;Y-Achse in mm", 0, 1, Some(1.0)),
            ("time_ms;x_mm;y_mm", 1, 2, Some(1.0)),
            ("xpos;ypos;x error;y error", 0, 1, None),
            ("x;y;X Position;Y Position", 0, 1, None),
            ("\"y\";\"x\";", 1, 0, None),
            ("X/\u{b5}m;Y/\u{b5}m", 0, 1, Some(1e-3)),
        ] {
            assert_eq!(columns(header), Ok(Some((x, y, scale))), "{header}");
        }
        assert_eq!(columns("a;b"), Ok(None));
        assert!(columns("x;y;x").is_err() && columns("x [mm];y [in]").is_err());
        assert!(columns("x pos;x value;y").is_err());
    }
}
