//! Which column holds what: by its name, with or without a unit.

use super::units::{unit_column, unit_in_mm, unit_in_seconds};
use crate::format::numbers;

/// Most columns a header may name.
const MOST_COLUMNS: usize = 64;

/// The columns of a file.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Columns {
    pub(super) x: usize,
    pub(super) y: usize,
    pub(super) t: Option<usize>,
    /// Columns where another label begins another stroke.
    pub(super) strokes: Vec<usize>,
    /// Those of them that are not called stroke: they may number the rows.
    pub(super) labels: Vec<usize>,
    /// How high the pen stands.
    pub(super) z: Option<usize>,
    pub(super) count: usize,
    /// mm in one unit of x and y, where their names say so.
    pub(super) scale: Option<f64>,
    /// The column that says the unit of each row.
    pub(super) units: Option<usize>,
    /// Seconds in one unit of t.
    pub(super) second: f64,
    /// A time that is none refuses the row: its column is called t.
    pub(super) strict: bool,
    /// All names, in lower case; none where the file has none.
    pub(super) names: Vec<String>,
    /// Those that nobody reads.
    pub(super) unread: Vec<usize>,
}

/// What a column holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Role {
    X,
    Y,
    Z,
    Time,
    Stroke,
    /// What else parts points into strokes.
    Label,
}

/// What a column's name says: what it holds, its unit, and whether it says no more than the one letter.
struct Name<'a> {
    role: Option<Role>,
    unit: Option<&'a str>,
    bare: bool,
}

/// Words beside a letter that change nothing.
const BESIDE: [&str; 28] = [
    "no",
    "nr",
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
        "z" => Role::Z,
        "t" | "time" | "zeit" | "temps" | "tiempo" | "elapsed" | "timestamp" => Role::Time,
        "stroke" | "strokes" => Role::Stroke,
        "path" | "polyline" | "polygon" | "contour" | "kontur" | "curve" | "kurve" | "courbe"
        | "loop" | "shape" | "zug" | "strich" | "trait" | "trazo" | "tratto" => Role::Label,
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
        let of = |role| {
            let all = read.iter().enumerate();
            all.filter(move |(_, n)| n.role == Some(role))
                .map(|(i, _)| i)
        };
        let labels: Vec<usize> = match stroke {
            Some(_) => Vec::new(),
            None => of(Role::Label).collect(),
        };
        let z = of(Role::Z).next();
        let unit = |i: usize| read.get(i).and_then(|n| n.unit);
        let length = |i: usize| unit(i).and_then(unit_in_mm);
        if let (Some(a), Some(b)) = (length(x), length(y))
            && a != b
        {
            return Err("the header gives x and y in two different units".into());
        }
        let known = [Some(x), Some(y), t, stroke];
        let others = (0..names.len()).filter(|i| !known.contains(&Some(*i)) && !labels.contains(i));
        let unread = others.filter(|i| names.get(*i).is_some_and(|n| !n.is_empty()));
        let unread = unread.collect();
        Ok(Some(Self {
            x,
            y,
            t,
            strokes: stroke.into_iter().chain(labels.iter().copied()).collect(),
            labels,
            z,
            count: names.len(),
            names: names.to_vec(),
            scale: length(x).or(length(y)),
            units: unit_column(names),
            second: t.and_then(unit).and_then(unit_in_seconds).unwrap_or(1.0),
            strict: t.and_then(|i| names.get(i)).is_some_and(|n| n == "t"),
            unread,
        }))
    }

    /// A column is read after all.
    pub(super) fn is_read(&mut self, column: usize) {
        self.unread.retain(|i| *i != column);
    }

    /// A column's name, fit to be shown.
    pub(super) fn name(&self, column: usize) -> String {
        let name = self.names.get(column).map_or("", String::as_str);
        format!("\"{}\"", numbers::shown(name.as_bytes()))
    }

    /// Of a file without a header: the first two are x and y.
    pub(super) fn plain(count: usize) -> Self {
        Self {
            x: 0,
            y: 1,
            t: None,
            strokes: Vec::new(),
            labels: Vec::new(),
            z: None,
            count,
            names: Vec::new(),
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
