//! Relations between edges: the table of their kinds, how they are found, and the solver.

pub(crate) mod across;
pub(crate) mod ask;
pub mod blocks;
pub(crate) mod change;
pub(crate) mod choose;
pub(crate) mod conditioned;
pub mod constraint;
pub(crate) mod dense;
mod descent;
pub mod equations;
pub mod figure;
pub mod find;
pub mod kinds;
pub(crate) mod measures;
pub mod mirror;
pub mod normal;
pub mod quantity;
pub mod round;
mod rows;
pub mod solve;
pub mod start;
pub(crate) mod view;
