//! From outlines to a plan the torch can follow.
//!
//! ```text
//! outline ─▶ layout ─▶ kerf ─▶ bridge, lead ─▶ order ─▶ checks ─▶ plan
//! ```
//!
//! [`plan`] is a pure function of an outline, as it lies on the stock, and of [`CutSettings`];
//! [`layout::layout`] says where copies lie. What is written from a plan is the business of
//! [`format`](crate::format).

pub mod bridge;
mod checks;
pub mod clear;
mod cleared;
mod corrected;
pub mod course;
pub mod figures;
pub mod gauge;
pub mod job;
pub mod kerf;
pub mod layout;
pub mod lead;
pub mod material;
pub mod order;
mod plan;
pub mod ranges;
mod settings;
mod severed;
pub mod stock;
#[cfg(test)]
mod tests;
pub mod tolerance;
mod twice;

pub use cleared::{Accepted, Cleared};
pub use figures::Figures;
pub use job::{Group, Job, Lay, job, pieces};
pub use layout::{Layout, Placement, Spacing, Turns};
pub use material::Material;
pub use plan::roles::{Keep, kept};
pub use plan::{
    Cut, MAX_PLAN_CUTS, MAX_PLAN_EDGES, Pierce, Plan, Totals, Warning, WarningKind, plan,
};
pub use settings::{CutSettings, Heights, LeadStyle, STEEL, Way};
pub use stock::Stock;
