//! What a file leaves unsaid, guessed, and how sure the guess is.

use super::Units;
use crate::outline::Bounds;
use crate::reading::Trued;
use crate::report::{About, Doubt};
use crate::trace::Trace;

/// A trace whose larger extent is under this is hardly one in mm: a hand that wanders by half a mm and cuts
/// each corner by as much hardly traces a part so small, and a torch's kerf is a tenth of it. A part of
/// under 40 inches or 40 cm is.
const SMALL: f64 = 40.0;
/// Up to this extent the trace may be in inches if its hand is too steady for mm.
const PERHAPS: f64 = 100.0;
/// No hand wanders less than this, mm: a tenth of a steady one's, and under the tremor of a braced hand (0.05
/// to 0.25 mm rms: Riviere, Rader, Khosla 1997). In inches half a mm is 0.02.
const STEADIEST: f64 = 0.035;

/// The doubt whether a trace whose file states no unit is in mm, as it was taken.
#[must_use]
pub fn units_doubt(trace: &Trace, trued: &Trued) -> Option<Doubt> {
    // As traced: what was read of so small a trace may be anything.
    let points = trace.strokes.iter().flat_map(|s| s.points.iter().copied());
    let b = Bounds::of_points(points).or_else(|| Bounds::of_outline(&trued.outline))?;
    let extent = b.width().max(b.height());
    let hands = trued.report.wander.iter().map(|w| w.size);
    // Drawn geometry has no hand; its reader says itself what unit it took.
    let wander = hands.fold(0.0, f64::max);
    let steady = wander > 0.0 && wander < STEADIEST;
    if !(extent < SMALL || (extent < PERHAPS && steady)) {
        return None;
    }
    let text = format!(
        "the file states no unit and its trace is {:.2} by {:.2}: that was taken as {}, which is small for a \
         part; if it is inches or anything else, say which (--units in)",
        b.width(),
        b.height(),
        Units::Mm.name()
    );
    Some(Doubt::new(About::Units, text))
}
