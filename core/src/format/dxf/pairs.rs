//! Group codes and values: the lines of a DXF file, two by two.

use crate::Refusal;
use crate::format::numbers::{self, shown};

/// One group.
#[derive(Clone, Copy, Debug)]
pub(super) struct Pair<'a> {
    pub(super) code: i16,
    pub(super) value: &'a [u8],
    /// Line of the value.
    pub(super) line: usize,
}

/// Reads groups one after another. A copy goes on from the same place.
#[derive(Clone, Debug)]
pub(super) struct Pairs<'a> {
    rest: &'a [u8],
    line: usize,
}

impl<'a> Pairs<'a> {
    pub(super) fn of(bytes: &'a [u8]) -> Self {
        Self {
            rest: bytes,
            line: 0,
        }
    }

    fn next_line(&mut self) -> Option<&'a [u8]> {
        if self.rest.is_empty() {
            return None;
        }
        self.line += 1;
        let end = memchr::memchr2(b'\n', b'\r', self.rest);
        let (line, rest) = match end {
            None => (self.rest, None),
            Some(end) => {
                let (line, rest) = self.rest.split_at(end);
                (line, rest.strip_prefix(b"\r\n").or(rest.get(1..)))
            }
        };
        self.rest = rest.unwrap_or_default();
        Some(line.trim_ascii())
    }

    /// The next group; `None` at the end of the file.
    pub(super) fn next(&mut self) -> Result<Option<Pair<'a>>, Refusal> {
        let Some(code) = self.next_line() else {
            return Ok(None);
        };
        let line = self.line;
        let parsed = core::str::from_utf8(code).ok().and_then(|c| c.parse().ok());
        let Some(code) = parsed else {
            let code = shown(code);
            return Err(Refusal::Line {
                line,
                problem: format!("\"{code}\" is no group code"),
            });
        };
        let Some(value) = self.next_line() else {
            return Err(cut_off(line));
        };
        Ok(Some(Pair {
            code,
            value,
            line: self.line,
        }))
    }

    /// The line it has got to.
    pub(super) fn line(&self) -> usize {
        self.line
    }
}

/// The file stops too early.
pub(super) fn cut_off(line: usize) -> Refusal {
    Refusal::Line {
        line,
        problem: "the file is cut off here: it has no EOF".into(),
    }
}

impl Pair<'_> {
    /// The value as a finite number. Programs that write as their country does put a comma where the point
    /// belongs; nothing else in a number can be one.
    pub(super) fn number(&self) -> Result<f64, Refusal> {
        let number = numbers::number(self.value).or_else(|bad| {
            let mut parts = self.value.splitn(3, |b| *b == b',');
            match (parts.next(), parts.next(), parts.next()) {
                (Some(whole), Some(part), None) if !self.value.contains(&b'.') => {
                    numbers::number(&[whole, b".", part].concat()).map_err(|_| bad)
                }
                _ => Err(bad),
            }
        });
        number.map_err(|bad| Refusal::Line {
            line: self.line,
            problem: bad.say(self.value),
        })
    }

    /// The value as a whole number; 0 where it is none.
    pub(super) fn integer(&self) -> i64 {
        let text = core::str::from_utf8(self.value).unwrap_or_default();
        text.parse().unwrap_or(0)
    }
}
