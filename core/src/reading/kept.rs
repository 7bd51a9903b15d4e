//! Studies kept from one reading to the next.
//!
//! **Problem.** A correction (an edge is an arc, a side is 120 mm, this mark is a hole) is said of a trace that was read
//! a moment ago, and a person waits for it. What a path may be read as depends on the path alone and on a few settings;
//! hints and whole sizes only choose among these readings and change what was chosen.
//!
//! **Idea.** What was studied last is kept beside what it depends on, word for word, and taken again where all of that
//! is the same: so what comes out is what a reading from nothing gives, to the last bit. Only the studies of the last
//! reading are kept; of several loops one that changed is studied, the others are not.
//!
//! **Fails** to save anything where the cleaned path is another: a mark that lies on the line, a stroke more.

use super::study::Study;
use crate::settings::{Hand, Settings};
use crate::trace::CleanPath;

/// A study with all that it depends on.
#[derive(Clone, Debug)]
struct Kept {
    path: CleanPath,
    station: f64,
    hand: Hand,
    both: bool,
    study: Study,
}

impl Kept {
    fn is_of(&self, path: &CleanPath, settings: &Settings, both: bool) -> bool {
        self.station.to_bits() == settings.station.to_bits()
            && self.hand == settings.hand
            && self.both == both
            && self.path == *path
    }
}

/// The studies of the last reading, and those of the one that is under way.
#[derive(Clone, Debug, Default)]
pub(super) struct Studies {
    last: Vec<Kept>,
    now: Vec<Kept>,
}

impl Studies {
    /// From here on the studies are those of a new reading.
    pub(super) fn turn(&mut self) {
        self.last = core::mem::take(&mut self.now);
    }

    /// The study of a path: closed and open where either is possible, or where `both` asks for it.
    pub(super) fn of(&mut self, path: &CleanPath, settings: &Settings, both: bool) -> Study {
        let is_it = |k: &Kept| k.is_of(path, settings, both);
        // One reading may ask twice: once as said before the drawing was scaled, once after.
        if let Some(kept) = self.now.iter().find(|k| is_it(k)) {
            return kept.study.clone();
        }
        let known = self.last.iter().position(is_it);
        let kept = known.map(|i| self.last.swap_remove(i));
        let kept = kept.unwrap_or_else(|| Kept {
            path: path.clone(),
            station: settings.station,
            hand: settings.hand,
            both,
            study: Study::of(path, settings, both),
        });
        let study = kept.study.clone();
        self.now.push(kept);
        study
    }
}
