//! Relations between edges: their kinds, how they are found, and the joint solve.

pub(crate) mod across;
pub mod blocks;
pub(crate) mod choose;
pub mod condition;
pub(crate) mod conditioned;
pub(crate) mod dense;
pub mod equations;
pub mod figure;
pub mod find;
pub mod normal;
pub mod round;
mod rows;
pub mod solve;
pub mod start;
pub(crate) mod view;
