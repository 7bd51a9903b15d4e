//! Refusals: which, where and why, in one sentence.

use core::fmt;

/// Why a file, a trace or a set of settings was refused.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum Refusal {
    /// A file could not be understood at a line.
    #[error("line {line}: {}", Sentence(problem))]
    Line {
        /// Counted from 1.
        line: usize,
        /// What is wrong, with the offending value.
        problem: String,
    },
    /// A file could not be understood as a whole.
    #[error("{}", Sentence(_0))]
    File(String),
    /// A documented limit is passed.
    #[error("{what} is {}, over the limit of {limit}", Sentence(value))]
    Limit {
        /// Which quantity.
        what: &'static str,
        /// Its value, as written or counted.
        value: String,
        /// The documented limit.
        limit: String,
    },
    /// There is nothing to read an outline from.
    #[error("{}", Sentence(_0))]
    Trace(String),
    /// A setting or hint makes no sense.
    #[error("{}", Sentence(_0))]
    Setting(String),
}

/// What a refusal is about, for whoever decides by it: the sentence is for people and may be put in other words.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[non_exhaustive]
pub enum RefusalKind {
    /// A file is broken, or none of those that are read.
    File,
    /// A documented limit is passed: the same with less of it goes through.
    Limit,
    /// A trace or drawing from which no outline can be read.
    Trace,
    /// A setting or hint that makes no sense, or does not go with the others.
    Setting,
}

impl Refusal {
    /// What it is about.
    #[must_use]
    pub const fn kind(&self) -> RefusalKind {
        match self {
            Self::Line { .. } | Self::File(_) => RefusalKind::File,
            Self::Limit { .. } => RefusalKind::Limit,
            Self::Trace(_) => RefusalKind::Trace,
            Self::Setting(_) => RefusalKind::Setting,
        }
    }

    /// The line of the file, counted from 1, where one is to blame.
    #[must_use]
    pub const fn line(&self) -> Option<usize> {
        match self {
            Self::Line { line, .. } => Some(*line),
            _ => None,
        }
    }
}

/// Longest sentence, characters.
const LONGEST: usize = 600;

/// What a file said, quoted in a sentence, may be of any length and hold anything: line ends become
/// blanks, what steers a terminal is taken out, and a sentence has an end.
struct Sentence<'a>(&'a str);

impl fmt::Display for Sentence<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        use fmt::Write as _;
        for (i, c) in self.0.chars().enumerate() {
            match c {
                _ if i == LONGEST => return f.write_char('…'),
                '\n' | '\r' | '\t' => f.write_char(' ')?,
                c if c.is_control() => f.write_char('\u{FFFD}')?,
                c => f.write_char(c)?,
            }
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_sentence_is_one_line_with_an_end_and_steers_no_terminal() {
        let said = Refusal::File(format!("the name is \"a\nb\u{1b}[2J{}\"", "x".repeat(5000)));
        let said = said.to_string();
        assert!(said.starts_with("the name is \"a b\u{FFFD}[2J"), "{said}");
        assert!(said.ends_with('…') && said.chars().count() == LONGEST + 1);
        assert!(!said.chars().any(char::is_control));
        let line = Refusal::Line {
            line: 3,
            problem: "\"1,5\" is no number".into(),
        };
        assert_eq!(line.to_string(), "line 3: \"1,5\" is no number");
    }
}
