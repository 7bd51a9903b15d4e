//! How a drawing or a trace that we write takes its doubts along.
//!
//! What is doubtful is so in every file, or a way round by a file would lead past the doubt. Like
//! the machine a drawing is made for ([`super::stated`]) they stand near its head: in SVG in an attribute of its outermost
//! element, in DXF and CSV in comments, all as JSON in plain ASCII without a sign that markup knows.

use super::stated::headed;
use crate::report::{About, Doubt};
use memchr::memmem;
use std::fmt::Write as _;

/// The attribute of SVG.
const ATTRIBUTE: &str = "data-doubts=";
/// How a comment of CSV begins.
const ROW: &str = "# ";
/// How a comment begins that holds a doubt, and one that goes on with it.
const FIRST: &str = "Doubt: ";
const MORE: &str = "Doubt+ ";
/// Longest comment; readers of old releases cut off what is longer than 255 signs.
const LONGEST: usize = 240;
/// They stand within so many bytes of the beginning.
const HEAD: usize = 1 << 18;

/// The SVG or DXF text with its doubts.
pub(in crate::format) fn doubted(text: String, doubts: &[Doubt]) -> String {
    if doubts.is_empty() {
        return text;
    }
    headed(
        text,
        || format!("{ATTRIBUTE}'{}'", plain(&doubts)),
        || comments(doubts),
    )
}

/// A doubt as a row of comment in CSV.
pub(in crate::format) fn row(doubt: &Doubt) -> String {
    format!("{ROW}{FIRST}{}", plain(doubt))
}

/// Doubts as comments of DXF.
fn comments(doubts: &[Doubt]) -> String {
    let mut out = String::new();
    for doubt in doubts {
        let mut start = FIRST;
        let mut rest = plain(doubt);
        while !rest.is_empty() {
            // A space at either end of a line may be lost.
            let at = |at: usize| rest.as_bytes().get(at).is_some_and(|b| *b != b' ');
            let cut = (1..=LONGEST.min(rest.len())).rev();
            let mut cut = cut.filter(|c| *c == rest.len() || (at(*c) && at(*c - 1)));
            let after = rest.split_off(cut.next().unwrap_or(rest.len()));
            let _ = write!(out, "999\n{start}{rest}\n");
            (start, rest) = (MORE, after);
        }
    }
    out
}

/// As JSON of plain ASCII; signs that markup knows are written by their numbers.
fn plain<T: serde::Serialize>(value: &T) -> String {
    let json = serde_json::to_string(value).unwrap_or_default();
    let mut out = String::with_capacity(json.len());
    for c in json.chars() {
        match c {
            ' '..='~' if !matches!(c, '&' | '<' | '>' | '\'') => out.push(c),
            c => {
                for unit in c.encode_utf16(&mut [0; 2]) {
                    let _ = write!(out, "\\u{unit:04x}");
                }
            }
        }
    }
    out
}

/// The doubts that a drawing takes along. Those that cannot be read any more are one of their own.
pub(in crate::format) fn doubts_of(bytes: &[u8]) -> Vec<Doubt> {
    let head = bytes.get(..HEAD).unwrap_or(bytes);
    let lost = || {
        let text = "this drawing was written in doubt, and what about can't be read any more: look at the outline it was \
                    made of, or write it anew";
        vec![Doubt::new(About::File, text)]
    };
    if let Some(at) = memmem::find(head, ATTRIBUTE.as_bytes()) {
        let rest = head.get(at + ATTRIBUTE.len()..).unwrap_or_default();
        let text = rest.split_first().and_then(|(quote, rest)| {
            let end = rest.iter().position(|b| b == quote)?;
            core::str::from_utf8(rest.get(..end)?).ok()
        });
        let json = text.map(|t| t.replace("&quot;", "\"").replace("&#34;", "\""));
        let read = json.and_then(|t| serde_json::from_str(&t).ok());
        return read.unwrap_or_else(lost);
    }
    if memmem::find(head, FIRST.as_bytes()).is_none() {
        return Vec::new();
    }
    let mut said: Vec<String> = Vec::new();
    for line in head.split(|b| *b == b'\n') {
        let line = String::from_utf8_lossy(line.trim_ascii());
        let line = line.strip_prefix(ROW).unwrap_or(&line);
        match (
            line.strip_prefix(FIRST),
            line.strip_prefix(MORE),
            said.last_mut(),
        ) {
            (Some(first), ..) if first.starts_with('{') => said.push(first.to_owned()),
            (_, Some(more), Some(last)) => last.push_str(more),
            _ => {}
        }
    }
    let all: Result<Vec<Doubt>, _> = said.iter().map(|t| serde_json::from_str(t)).collect();
    all.unwrap_or_else(|_| lost())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Point;

    #[test]
    fn doubts_come_back_from_either_drawing() {
        let long = "30 mm ± 2 \"never\" traced; it's <closed> & so on, ".repeat(20);
        let all = [
            Doubt::at(About::Closing, long, Point::new(1.0 / 3.0, -2.5)),
            Doubt::new(About::Units, "which unit"),
        ];
        for text in ["<svg width=\"3\"/>", "0\nSECTION\n"] {
            let written = doubted(text.to_owned(), &all);
            assert!(
                written.is_ascii()
                    && written
                        .lines()
                        .all(|l| text.starts_with('<') || l.len() < 255)
            );
            assert_eq!(doubts_of(written.as_bytes()), all);
            assert_eq!(doubted(text.to_owned(), &[]), text);
        }
        let rows: Vec<String> = all.iter().map(row).collect();
        assert_eq!(doubts_of(rows.join("\n").as_bytes()), all);
        let broken = "999\nDoubt: {\"text\":\n0\nSECTION\n";
        assert_eq!(doubts_of(broken.as_bytes()).len(), 1);
    }
}
