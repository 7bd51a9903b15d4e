//! Checks of trued against the outside: shapes of known truth, hands that trace them, and how well
//! what is read back meets the truth.
#![forbid(unsafe_code)]

pub mod cleaning;
pub mod demos;
pub mod hand;
pub mod invariants;
pub mod motion;
pub mod nasty;
pub mod recorded;
pub mod rng;
pub mod score;
pub mod shapes;
