//! Refusals: which, where and why, in one sentence.

/// Why a file, a trace or a set of settings was refused.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum Refusal {
    /// A file could not be understood at a line.
    #[error("line {line}: {problem}")]
    Line {
        /// Counted from 1.
        line: usize,
        /// What is wrong, with the offending value.
        problem: String,
    },
    /// A file could not be understood as a whole.
    #[error("{0}")]
    File(String),
    /// A documented limit is passed.
    #[error("{what} is {value}, over the limit of {limit}")]
    Limit {
        /// Which quantity.
        what: &'static str,
        /// Its value, as written or counted.
        value: String,
        /// The documented limit.
        limit: String,
    },
    /// There is nothing to read an outline from.
    #[error("{0}")]
    Trace(String),
    /// A setting or hint makes no sense.
    #[error("{0}")]
    Setting(String),
}
