//! What is to be said of all that came together, in sentences.

use super::super::chords::Count;
use super::super::course::{GAP, ROUNDING};
use super::super::crossed;
use super::{Collector, STEP};
use crate::Refusal;
use crate::format::numbers::counted;
use crate::geom::{Edge, Point};
use crate::outline::Bounds;
use crate::report::{About, Doubt, Note};

/// Nor than this part of its size.
const GAP_SHARE: f64 = 0.1;
/// No plate that is cut by hand is larger than this, in mm, nor any part smaller.
const HUGE: f64 = 2e4;
const TINY: f64 = 1.0;
/// Most places that are told one by one.
const MOST_TOLD: usize = 5;

impl Collector {
    pub(super) fn nothing(&self) -> Refusal {
        let left = self.left.all();
        let mut all = self.layers.left_out();
        all.extend((!left.is_empty()).then(|| format!("only {left}")));
        let broken = self.doubts.iter().filter(|d| d.about == About::File);
        all.extend(broken.map(|d| d.text.clone()));
        Refusal::File(if all.is_empty() {
            "there is no geometry in the file".into()
        } else {
            format!(
                "there is no geometry in the file that can be read, {}",
                all.join("; ")
            )
        })
    }

    /// A drawing that is no plate's size is in another unit than its file says.
    pub(super) fn tell_size(&mut self, drawn: &[Vec<Edge>]) {
        let bounds = drawn
            .iter()
            .flatten()
            .map(Bounds::of_edge)
            .reduce(|a, b| a.union(&b));
        let size = bounds.map_or(1.0, |b| b.diagonal());
        if !(TINY..=HUGE).contains(&size) && !self.units_said {
            let text = format!(
                "all of the drawing is {size:.3} mm from corner to corner: is that its unit of length?"
            );
            self.doubt(About::Units, text);
        }
    }

    /// What the person should know, in sentences.
    pub(super) fn tell(
        &mut self,
        put: &Count,
        twice: usize,
        (branches, stars): (&[Point], &[Point]),
    ) {
        let tolerance = self.tolerance();
        if self.curves > 0 {
            let n = counted(self.curves, "curve that is", "curves that are");
            let became = if self.traced {
                format!(
                    "{n} neither straight nor circular: sampled every {STEP} mm and read as traces"
                )
            } else {
                format!(
                    "{n} neither straight nor circular became lines and arcs, no further than {tolerance} mm from what was drawn"
                )
            };
            self.note(became);
        }
        if put.arcs > 0 {
            let chords = counted(put.chords, "chord", "chords");
            let arcs = counted(put.arcs, "arc", "arcs");
            self.note(format!(
                "{chords} of curves put back into {arcs}, no further than {tolerance} mm from what was drawn (--chords 0 leaves them)"
            ));
        }
        if twice > 0 {
            let n = counted(twice, "piece", "pieces");
            self.note(format!("{n} drawn twice or over others: taken once"));
        }
        if let Some(at) = stars.first() {
            let n = counted(stars.len(), "place", "places");
            let text = format!(
                "three or more ends meet in {n} where no loop comes of them: each line is cut by itself"
            );
            self.notes.push(Note::at(text, *at));
        }
        let meet = "three or more ends meet here: nothing says which belong together, so they are not joined";
        let more = |n| {
            let n = counted(n, "place", "places");
            format!("three or more ends meet in {n} more, and are not joined there")
        };
        self.doubts.extend(Doubt::first_of(
            About::File,
            branches,
            MOST_TOLD,
            meet,
            more,
        ));
        self.notes
            .extend(self.layers.left_out().into_iter().map(Note::new));
        self.notes.extend(self.left.notes().map(Note::new));
        self.doubts.extend(self.layers.doubts());
        self.doubts.extend(self.left.doubt());
        self.doubts.extend(self.left.flattened());
    }

    /// Courses that stay open; where the ends nearly meet, that is hardly meant.
    pub(super) fn tell_open(&mut self, open: &[(Point, Point, f64)], drawn: &[Vec<Edge>]) {
        let Some((first, ..)) = open.first() else {
            return;
        };
        let n = counted(open.len(), "line stays", "lines stay");
        let text = format!("{n} open: the first begins here");
        self.notes.push(Note::at(text, *first));
        let gaps = open.iter().filter(|(from, to, size)| {
            let gap = from.distance(*to);
            gap > ROUNDING && gap <= GAP.min(GAP_SHARE * size)
        });
        for (from, to, _) in gaps.take(MOST_TOLD) {
            let gap = from.distance(*to);
            let text = format!("an outline stays open here: its ends lie {gap:.2} mm apart");
            self.doubts.push(Doubt::at(About::Closing, text, *from));
        }
        let comes_round = |c: &&[Edge]| c.first().map(Edge::from) == c.last().map(Edge::to);
        let lines = drawn.iter().map(Vec::as_slice);
        let lines: Vec<&[Edge]> = lines.filter(|c| !comes_round(c)).collect();
        self.doubts
            .extend(crossed::doubts(&crossed::enclosing(&lines)));
    }

    /// Filled shapes whose line does not come round, and what was made of them.
    pub(super) fn tell_filled(&mut self, lined: &[Point]) {
        let more = |n| format!("{} more are so", counted(n, "shape", "shapes"));
        if let Some(at) = self.filled.first() {
            let n = counted(self.filled.len(), "filled shape is", "filled shapes are");
            let text = format!(
                "{n} closed by a straight line, as the filling shows: the first begins here"
            );
            self.notes.push(Note::at(text, *at));
        }
        let text = "the inside of this line is filled, and the line does not come round: left open; if an area is meant, \
                    close it, and if a mere line is, give it no fill";
        let told = Doubt::first_of(About::Closing, lined, MOST_TOLD, text, more);
        self.doubts.extend(told);
    }

    pub(super) fn tell_like_traces(&mut self, starts: &[Point]) {
        if let Some(at) = starts.first() {
            let n = counted(starts.len(), "polyline looks", "polylines look");
            let text = format!(
                "{n} like a hand's trace, and stay as drawn: --kind traced reads them as one"
            );
            self.notes.push(Note::at(text, *at));
        }
    }
}
