//! What the order of the cuts has to know of each: where it starts and ends, which come before it, and which it is
//! still warm beside.

use super::Cut;
use crate::cut::clear::Near;
use crate::cut::order::Stop;
use crate::cut::settings::CutSettings;
use crate::geom::Point;
use crate::outline::nesting::{CHORD, Place, Region, parents};
use crate::outline::{Bounds, Outline, Path, Role};

pub(super) fn stops(cuts: &[Cut], outline: &Outline, settings: &CutSettings) -> Vec<Stop> {
    let mut of_loop: Vec<Vec<usize>> = vec![Vec::new(); outline.loops.len()];
    for (i, cut) in cuts.iter().enumerate() {
        if let Some(list) = of_loop.get_mut(cut.loop_index) {
            list.push(i);
        }
    }
    let around = waits(outline);
    let near = Near::new(
        cuts.iter()
            .enumerate()
            .flat_map(|(i, c)| c.path.iter().map(move |e| (i, *e)))
            .collect(),
    );
    cuts.iter()
        .enumerate()
        .map(|(i, cut)| {
            let mut before: Vec<usize> = around
                .get(cut.loop_index)
                .into_iter()
                .flatten()
                .filter_map(|l| of_loop.get(*l))
                .flatten()
                .copied()
                .collect();
            // A pocket behind a closed mouth goes before the outside of its own part.
            let own = of_loop.get(cut.loop_index).and_then(|l| l.first()).copied();
            if cut.role == Role::Part && cut.closed && own.is_some_and(|o| o != i) {
                before.extend(own);
            }
            before.sort_unstable();
            let mut warm: Vec<usize> = cut
                .path
                .iter()
                .flat_map(|e| near.within(e, settings.heat_distance))
                .map(|h| h.owner)
                .filter(|o| *o != i && !before.contains(o))
                .collect();
            warm.sort_unstable();
            warm.dedup();
            Stop {
                start: cut.pierce.at,
                end: cut.end(),
                before,
                warm,
            }
        })
        .collect()
}

/// For each loop, the loops that lie around it: their cuts come after its own.
fn waits(outline: &Outline) -> Vec<Vec<usize>> {
    let mut all: Vec<Vec<usize>> = parents(&outline.loops)
        .into_iter()
        .map(Option::unwrap_or_default)
        .collect();
    let mut around = closed_loops(outline);
    let open = outline.loops.iter().enumerate();
    for (i, l) in open.filter(|(_, l)| l.role == Role::Open) {
        let (Some(at), Some(slot)) = (
            l.path.edges().first().map(|e| e.point_at(0.5)),
            all.get_mut(i),
        ) else {
            continue;
        };
        let holds = |c: &mut Closed<'_>| c.holds(at).then_some(c.number);
        *slot = around.iter_mut().filter_map(holds).collect();
    }
    all
}

/// A closed loop that is asked about places.
struct Closed<'a> {
    number: usize,
    path: &'a Path,
    bounds: Bounds,
    region: Option<Region>,
}

impl Closed<'_> {
    fn holds(&mut self, at: Point) -> bool {
        let within = self.bounds.touches(&Bounds::of_point(at), 0.0);
        let region = |path: &Path| Region::of(path, CHORD);
        within && (self.region.get_or_insert_with(|| region(self.path))).place(at) == Place::Inside
    }
}

fn closed_loops(outline: &Outline) -> Vec<Closed<'_>> {
    let closed = outline.loops.iter().enumerate();
    let closed = closed.filter(|(_, l)| l.path.is_closed());
    let of = |(number, path, bounds)| Closed {
        number,
        path,
        bounds,
        region: None,
    };
    closed
        .filter_map(|(i, l)| Some((i, &l.path, Bounds::of_path(&l.path)?)))
        .map(of)
        .collect()
}
