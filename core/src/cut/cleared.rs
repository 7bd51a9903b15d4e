//! Leave to write what a machine runs.
//!
//! A plan knows its doubts. The writers of files that a machine can run ([`rs274`](crate::format::rs274),
//! [`plan_dxf`](crate::format::plan_dxf)) take a [`Cleared`] plan, and only [`Plan::cleared`] makes one: no
//! door can forget to ask. Pictures and sheets take the plan as it is and show its doubts.

use super::plan::Plan;
use crate::Refusal;
use core::ops::Deref;
use std::collections::BTreeSet;

/// The doubts that the person takes on, by the numbers they were told with, from 1.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub enum Accepted {
    /// None.
    #[default]
    None,
    /// All there are.
    All,
    /// These.
    These(BTreeSet<usize>),
}

impl Accepted {
    /// The doubt of that number is among them.
    #[must_use]
    pub fn holds(&self, number: usize) -> bool {
        match self {
            Self::None => false,
            Self::All => true,
            Self::These(numbers) => numbers.contains(&number),
        }
    }

    /// Numbers of the doubts that stand, of so many.
    #[must_use]
    pub fn standing(&self, count: usize) -> Vec<usize> {
        (1..=count).filter(|number| !self.holds(*number)).collect()
    }
}

/// A plan none of whose doubts stands.
#[derive(Clone, Copy, Debug)]
pub struct Cleared<'a>(&'a Plan);

impl Deref for Cleared<'_> {
    type Target = Plan;

    fn deref(&self) -> &Plan {
        self.0
    }
}

impl Plan {
    /// Leave to write it for a machine.
    ///
    /// # Errors
    /// Names the doubts that stand.
    pub fn cleared(&self, accepted: &Accepted) -> Result<Cleared<'_>, Refusal> {
        let standing = accepted.standing(self.doubts.len());
        if standing.is_empty() {
            return Ok(Cleared(self));
        }
        let numbers: Vec<String> = standing.iter().map(ToString::to_string).collect();
        Err(Refusal::Setting(format!(
            "no file for a machine is written while a doubt stands (number {})",
            numbers.join(",")
        )))
    }
}
