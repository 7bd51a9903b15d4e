//! What there is to know before cutting, and which of it stops a file for the machine.

use crate::geom::Point;
use crate::report::{About, Doubt};
use serde::{Deserialize, Serialize};

/// Something to know before cutting.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[non_exhaustive]
pub struct Warning {
    /// Which kind.
    pub kind: WarningKind,
    /// The sentence, with place and size.
    pub text: String,
    /// Where, if it has a place.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub at: Option<Point>,
    /// How large the thing warned of is, mm (or copies, for what does not fit).
    #[serde(skip_serializing_if = "Option::is_none")]
    pub size: Option<f64>,
}

/// The kinds of warning.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum WarningKind {
    /// A hole (or a whole part's path) no wider than the kerf: not cut.
    Swallowed,
    /// The kerf pinches a hole into several.
    Split,
    /// An opening's sides cannot be reached: its mouth is narrower than the kerf.
    ClosedMouth,
    /// The lines of two loops cross: pieces overlap, or a hole breaks out.
    Crossed,
    /// An open path goes across a part from edge to edge.
    Severed,
    /// The cut of one loop eats into another piece.
    Eaten,
    /// A part on another's metal, or a hole where there is none.
    Misplaced,
    /// An open path that goes all but round.
    AllButClosed,
    /// A bridge too narrow to survive, or none where some were asked for.
    WeakBridge,
    /// A lead or path leaves the stock.
    OffStock,
    /// A move leaves the machine's reach.
    OutOfReach,
    /// Metal between cuts, or a neck of a part, thinner than it should be.
    ThinWeb,
    /// A hole smaller than the thickness allows.
    SmallHole,
    /// An edge too short for the machine.
    ShortEdge,
    /// No lead fits, or only one too short for comfort.
    NoLead,
    /// Not all copies fit on the stock.
    DoesNotFit,
    /// An open path is cut along itself.
    OpenPath,
    /// A mark was left alone.
    MarkLeft,
    /// Fewer bridges than asked.
    FewBridges,
}

impl WarningKind {
    /// What it is a doubt about, where the piece would come out wrong; the rest is worth knowing only.
    #[must_use]
    pub const fn doubt(self) -> Option<About> {
        match self {
            Self::Swallowed
            | Self::Split
            | Self::ClosedMouth
            | Self::Crossed
            | Self::Severed
            | Self::Eaten
            | Self::WeakBridge
            | Self::OffStock => Some(About::Plan),
            Self::Misplaced | Self::AllButClosed => Some(About::Role),
            Self::OutOfReach => Some(About::Machine),
            Self::ThinWeb
            | Self::SmallHole
            | Self::ShortEdge
            | Self::NoLead
            | Self::DoesNotFit
            | Self::OpenPath
            | Self::MarkLeft
            | Self::FewBridges => None,
        }
    }
}

/// Doubts of one kind beyond this many are one more, which counts them.
const MOST_OF_A_KIND: usize = 3;

/// The doubts among warnings that are sorted by kind.
pub(super) fn doubts(warnings: &[Warning]) -> Vec<Doubt> {
    let mut all = Vec::new();
    for run in warnings.chunk_by(|a, b| a.kind == b.kind) {
        let Some(about) = run.first().and_then(|w| w.kind.doubt()) else {
            continue;
        };
        let told = |w: &Warning| Doubt {
            text: w.text.clone(),
            at: w.at,
            about,
        };
        // One left over is told as quickly as it is counted.
        let full = match run.len() {
            n if n <= MOST_OF_A_KIND + 1 => n,
            _ => MOST_OF_A_KIND,
        };
        all.extend(run.iter().take(full).map(told));
        if let Some(next) = run.get(full) {
            let text = format!(
                "{} more like the last; the next: {}",
                run.len() - full,
                next.text
            );
            all.push(Doubt { text, ..told(next) });
        }
    }
    all
}
