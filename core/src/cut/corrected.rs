//! A plan for a machine that is out of square or out of scale.
//!
//! The kerf belongs to the torch and is offset in true mm; what the machine then makes of its moves is
//! another matter. So a plan is made as for a true machine and only its moves are pre-distorted, by the inverse of what the
//! machine does: lines stay lines, arcs become arcs within
//! [`ARC_TOLERANCE`](crate::machine::profile::ARC_TOLERANCE). Lengths and times stay those of the true moves.

use super::plan::{Cut, Pierce, Plan};
use crate::geom::Edge;
use crate::machine::Profile;

impl Plan {
    /// The same plan with every move sent where the machine has to be sent. The outline stays true: it is
    /// what the piece will be.
    #[must_use]
    pub fn corrected(&self, machine: &Profile) -> Self {
        let moves = |edges: &[Edge]| edges.iter().flat_map(|e| machine.correct_edge(e)).collect();
        let cut = |c: &Cut| Cut {
            pierce: Pierce {
                at: machine.correct_point(c.pierce.at),
                ..c.pierce
            },
            lead_in: moves(&c.lead_in),
            path: moves(&c.path),
            lead_out: moves(&c.lead_out),
            ..c.clone()
        };
        Self {
            cuts: self.cuts.iter().map(cut).collect(),
            ..self.clone()
        }
    }
}
