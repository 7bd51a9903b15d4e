//! Which layers come in: all that are shown, or those that were asked for.
//!
//! A DXF entity lies on a layer, and within blocks on those of the blocks too; an SVG shape lies in all the
//! groups around it that have a name. Asking for any of these takes it. What is hidden is not cut, and
//! counted. A layer whose name says that it is for bending, engraving or construction comes in like any
//! other where nobody asked, since names are only names; but cut through, a bend is scrap, so it is doubted.

use super::super::numbers::{counted, shown};
use crate::Refusal;
use crate::report::{About, Doubt};
use std::collections::{BTreeMap, BTreeSet};

/// A layer by its number; the default is none.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct Layer(usize);

/// Why something is not shown.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Why {
    /// Its layer is switched off.
    Off,
    /// Its layer is frozen.
    Frozen,
    /// It is marked as invisible, or not displayed.
    Invisible,
    /// Neither filled nor stroked.
    Unpainted,
    /// On a sheet of paper rather than in the model.
    OnSheet,
}

impl Why {
    fn said(self) -> &'static str {
        match self {
            Self::Off => "on a layer that is off",
            Self::Frozen => "on a layer that is frozen",
            Self::Invisible => "invisible",
            Self::Unpainted => "neither filled nor stroked",
            Self::OnSheet => "on a sheet of paper, not in the model",
        }
    }
}

/// How much of a name counts, bytes.
const LONGEST_NAME: usize = 256;
/// Most names that a sentence lists.
const MOST_NAMED: usize = 12;

/// The layers of a drawing, and what was left out because of them.
pub(crate) struct Layers {
    asked: Vec<String>,
    numbers: BTreeMap<String, usize>,
    /// Name and pieces taken, by number.
    known: Vec<(String, usize)>,
    /// Those that show on the screen and are never plotted, by number.
    unplotted: BTreeSet<usize>,
    hidden: BTreeMap<(Why, usize), usize>,
    passed: usize,
    /// Pieces drawn in lines with gaps, by line type.
    broken: BTreeMap<String, usize>,
}

impl Layers {
    pub(crate) fn new(asked: &[String]) -> Self {
        Self {
            asked: asked.iter().map(|a| folded(a)).collect(),
            numbers: BTreeMap::new(),
            known: vec![(String::new(), 0)],
            unplotted: BTreeSet::new(),
            hidden: BTreeMap::new(),
            passed: 0,
            broken: BTreeMap::new(),
        }
    }

    /// Counts a piece that was taken and is drawn in a line with gaps.
    pub(crate) fn broken(&mut self, line_type: String) {
        *self.broken.entry(line_type).or_default() += 1;
    }

    /// A layer that the drawing has, whether or not anything lies on it.
    pub(crate) fn meet(&mut self, name: &str) -> usize {
        let folded = folded(name);
        if let Some(number) = self.numbers.get(&folded) {
            return *number;
        }
        self.numbers.insert(folded, self.known.len());
        self.known.push((short_name(name).to_owned(), 0));
        self.known.len() - 1
    }

    /// A layer that the drawing has, and never plots.
    pub(crate) fn unplotted(&mut self, name: &str) {
        let number = self.meet(name);
        self.unplotted.insert(number);
    }

    /// Whether something that lies on all of these is to be seen and was asked for.
    pub(crate) fn shows(&self, names: &[&str], hidden: Option<Why>) -> bool {
        let asked = names.iter().any(|n| self.asked.contains(&folded(n)));
        hidden.is_none() && (asked || self.asked.is_empty())
    }

    /// The layer of something that lies on all of these, the nearest first; nothing where it stays out.
    pub(crate) fn take(&mut self, names: &[&str], hidden: Option<Why>) -> Option<Layer> {
        let asked = names.iter().any(|n| self.asked.contains(&folded(n)));
        if !self.asked.is_empty() && !asked {
            for name in names {
                self.meet(name);
            }
            self.passed += 1;
            return None;
        }
        // A layer that is off is shown by asking for it.
        let hidden = hidden.filter(|why| !(asked && matches!(why, Why::Off | Why::Frozen)));
        let named = names.iter().find(|n| purpose(n).is_some());
        let name = named.or(names.first()).copied().unwrap_or_default();
        let number = self.meet(name);
        if let Some(why) = hidden {
            *self.hidden.entry((why, number)).or_default() += 1;
            return None;
        }
        if let Some((_, count)) = self.known.get_mut(number) {
            *count += 1;
        }
        Some(Layer(number))
    }

    /// Refuses where a layer was asked for that there is not.
    pub(crate) fn check(&self) -> Result<(), Refusal> {
        let known = |asked: &&String| self.numbers.contains_key(*asked);
        let Some(missing) = self.asked.iter().find(|a| !known(a)) else {
            return Ok(());
        };
        let all = self.known.iter().map(|k| k.0.as_str());
        let names: Vec<&str> = all.filter(|n| !n.is_empty()).collect();
        let list = match names.len() {
            0 => "it names none".to_owned(),
            _ => format!("there are {}", listed(&names)),
        };
        Err(Refusal::File(format!(
            "the drawing has no layer \"{}\"; {list}",
            shown(missing.as_bytes())
        )))
    }

    /// What was left out, in a sentence.
    pub(crate) fn left_out(&self) -> Vec<String> {
        let mut notes = Vec::new();
        if !self.hidden.is_empty() {
            let name = |number: &usize| self.known.get(*number).map_or("", |k| k.0.as_str());
            let say = |((why, number), n): (&(Why, usize), &usize)| match name(number) {
                "" => format!("{n} {}", why.said()),
                name => format!("{n} {} (\"{}\")", why.said(), shown(name.as_bytes())),
            };
            let list: Vec<String> = self.hidden.iter().take(MOST_NAMED).map(say).collect();
            notes.push(format!("left out, since not shown: {}", list.join(", ")));
        }
        if self.passed > 0 {
            let n = counted(self.passed, "piece", "pieces");
            notes.push(format!(
                "left out, since on layers that were not asked for: {n}"
            ));
        }
        notes
    }

    /// Layers that came in though their names say they are not for cutting, and lines that are drawn as what is
    /// hidden, a middle or a bend mostly is.
    pub(crate) fn doubts(&self) -> Vec<Doubt> {
        if !self.asked.is_empty() {
            return Vec::new();
        }
        let taken = self.known.iter().enumerate().filter(|(_, (_, n))| *n > 0);
        let told = taken.filter_map(|(number, (name, n))| {
            // Helpers are kept on such layers, though whole drawings are too: either may be meant.
            let unplotted = self.unplotted.contains(&number);
            let purpose = purpose(name).map(|p| format!("seems to be for {p}"));
            let why =
                purpose.or(unplotted.then(|| "shows on the screen and is not plotted".into()));
            Some((shown(name.as_bytes()), why?, *n))
        });
        let say = |(name, why, n): (String, String, usize)| {
            let n = counted(n, "piece comes", "pieces come");
            format!(
                "layer \"{name}\" {why}: its {n} in like all others and would be cut; --layers says which layers are meant"
            )
        };
        let broken = self.broken.iter().map(|(line, n)| {
            let n = counted(*n, "piece is", "pieces are");
            format!(
                "{n} drawn in the broken line \"{}\", as hidden edges, middles and bends are: all would be cut as whole lines; --layers says which layers are meant",
                shown(line.as_bytes())
            )
        });
        let told = told
            .map(say)
            .take(MOST_NAMED)
            .chain(broken.take(MOST_NAMED));
        told.map(|text| Doubt::new(About::File, text)).collect()
    }
}

fn listed(names: &[&str]) -> String {
    let quoted = |n: &&str| format!("\"{}\"", shown(n.as_bytes()));
    let list: Vec<String> = names.iter().take(MOST_NAMED).map(quoted).collect();
    let more = if names.len() > MOST_NAMED {
        ", …"
    } else {
        ""
    };
    format!("{}{more}", list.join(", "))
}

/// A name's beginning, which is all of it that counts: names are looked at for every piece that is drawn.
pub(crate) fn short_name(name: &str) -> &str {
    let name = name.trim();
    let end = name.floor_char_boundary(LONGEST_NAME);
    name.get(..end).unwrap_or(name)
}

/// Names are compared without regard to case or blanks around them.
fn folded(name: &str) -> String {
    short_name(name).to_lowercase()
}

/// Words that tell what a layer is for, in the languages of the drawings that come along: the start of a
/// word, or the whole of a short one.
const PURPOSES: [(&str, &[&str], &[&str]); 3] = [
    (
        "bending",
        &[
            "bend", "fold", "creas", "bieg", "knick", "falz", "plieg", "pliage", "doblez", "piega",
        ],
        &["bent", "pli", "plis"],
    ),
    (
        "engraving",
        &[
            "engrav", "etch", "gravur", "gravier", "gravure", "grabado", "incis", "scribe", "scrib",
        ],
        &["score", "scoring", "raster"],
    ),
    (
        "construction",
        &[
            "construct",
            "konstruktion",
            "hilfs",
            "guide",
            "dimension",
            "annotat",
            "centerline",
            "centreline",
            "bemass",
            "bemaß",
            "defpoints",
        ],
        &[
            "dim",
            "dims",
            "center",
            "centre",
            "hidden",
            "phantom",
            "notes",
            "helper",
            "mittellinie",
            "axes",
        ],
    ),
];

/// What a layer of this name is for, where the name says so.
fn purpose(name: &str) -> Option<&'static str> {
    let folded = folded(name);
    let words = || {
        folded
            .split(|c: char| !c.is_alphabetic())
            .filter(|w| !w.is_empty())
    };
    let says = |starts: &[&str], whole: &[&str]| {
        words().any(|w| whole.contains(&w) || starts.iter().any(|s| w.starts_with(s)))
    };
    let found = PURPOSES
        .iter()
        .find(|(_, starts, whole)| says(starts, whole));
    found.map(|(purpose, ..)| *purpose)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_tell_what_a_layer_is_for() {
        for (name, told) in [
            ("BEND_UP", Some("bending")),
            ("Biegelinien", Some("bending")),
            ("etch-text", Some("engraving")),
            ("Defpoints", Some("construction")),
            ("DIM", Some("construction")),
            ("cut", None),
            ("dimple", None),
            ("0", None),
            ("PART", None),
            ("Plate outline", None),
            ("marks", None),
        ] {
            assert_eq!(purpose(name), told, "{name}");
        }
    }

    #[test]
    fn what_was_asked_for_comes_in_and_what_is_not_there_is_refused() {
        let mut layers = Layers::new(&["Cut".to_owned(), "missing".to_owned()]);
        assert!(layers.take(&["0", "CUT"], None).is_some());
        assert!(layers.take(&["cut"], Some(Why::Off)).is_some());
        assert!(layers.take(&["bend"], None).is_none());
        assert!(layers.take(&["cut"], Some(Why::Invisible)).is_none());
        assert_eq!(layers.doubts(), []);
        let said = layers.check().map_err(|e| e.to_string());
        assert!(said.is_err_and(|s| s.contains("\"missing\"") && s.contains("\"bend\"")));
    }
}
