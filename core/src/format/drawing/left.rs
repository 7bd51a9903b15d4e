//! What a drawing shows and no outline is read from, by kind and number.

use super::super::numbers::{counted, shown};
use crate::report::{About, Doubt};
use std::collections::BTreeMap;

/// How much it matters that something is left out.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Kind {
    /// Texts, dimensions, fills, pictures: nobody cuts them.
    Aside,
    /// Geometry that shows and would be cut if it could be read.
    Lost,
}

/// Most kinds of thing that are named.
const MOST_KINDS: usize = 12;

/// What was left out, counted.
#[derive(Default)]
pub(crate) struct Left {
    kinds: BTreeMap<(Kind, String), usize>,
    /// Pieces that rise out of the drawing's plane, and come in as seen from above.
    pub(crate) leaning: usize,
    /// Lines drawn as bands, of which the middle comes in.
    pub(crate) wide: usize,
}

impl Left {
    pub(crate) fn add(&mut self, kind: Kind, name: &str) {
        let key = (kind, shown(name.as_bytes()));
        if self.kinds.len() < 4 * MOST_KINDS || self.kinds.contains_key(&key) {
            *self.kinds.entry(key).or_default() += 1;
        }
    }

    fn list(&self, only: Option<Kind>) -> String {
        let kinds = self
            .kinds
            .iter()
            .filter(|((k, _), _)| only.is_none_or(|o| o == *k));
        let list: Vec<String> = kinds
            .take(MOST_KINDS)
            .map(|((_, name), n)| format!("{n} {name}"))
            .collect();
        list.join(", ")
    }

    /// All of it, for a refusal where nothing else was there.
    pub(crate) fn all(&self) -> String {
        self.list(None)
    }

    pub(crate) fn notes(&self) -> impl Iterator<Item = String> {
        let list = self.list(Some(Kind::Aside));
        let left = (!list.is_empty())
            .then(|| format!("left out, since no outline is read from it: {list}"));
        let n = counted(self.wide, "line is", "lines are");
        let wide =
            (self.wide > 0).then(|| format!("{n} drawn wide: the middle comes in, not the sides"));
        left.into_iter().chain(wide)
    }

    /// What comes in otherwise than it lies in space.
    pub(crate) fn flattened(&self) -> Option<Doubt> {
        let n = counted(self.leaning, "piece rises", "pieces rise");
        let text = format!("{n} out of the drawing's plane: taken as seen from above");
        (self.leaning > 0).then(|| Doubt::new(About::File, text))
    }

    pub(crate) fn doubt(&self) -> Option<Doubt> {
        let list = self.list(Some(Kind::Lost));
        let text = format!("the drawing shows more than could be read from it; missing are {list}");
        (!list.is_empty()).then(|| Doubt::new(About::File, text))
    }
}
