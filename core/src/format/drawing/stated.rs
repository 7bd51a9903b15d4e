//! How a drawing that we write says that its edges are what was meant.
//!
//! SVG and DXF have no word for it, so chords would be put back into arcs, and ends joined. Both formats let
//! a program put a word of its own beside a piece of geometry, which others keep or drop: SVG a `data-`
//! attribute (SVG 2, 2.12), DXF extended data under a registered application name (the published reference,
//! group codes 1000 and 1001). A course that bears it comes back edge by edge, joined to nothing. In SVG, where a wide arc is written in
//! pieces, the word is of how many pieces each edge is; where another program has changed their number it
//! says nothing any more.
//!
//! In the same way a file may say that what it draws is the trace of a hand: it then is read as one.

use memchr::memmem;
use std::fmt::Write as _;

/// The attribute of an SVG path.
pub(crate) const ATTRIBUTE: &str = "data-edges";
/// The application whose extended data they are.
pub(crate) const APPLICATION: &str = "TRUED";
/// What they say of a polyline, each of whose edges is one piece.
pub(crate) const EDGES: &str = "as-stated";

/// The attribute of an SVG element that holds a trace; its value does not matter.
pub(crate) const TRACE: &str = "data-trace";
/// What the extended data of a trace say.
pub(crate) const TRACED: &str = "traced";

/// The attribute's value: of how many pieces each edge is.
pub(crate) fn attribute(pieces: &[usize]) -> String {
    let mut text = String::new();
    for (i, n) in pieces.iter().enumerate() {
        let space = if i == 0 { "" } else { " " };
        // Writing into a String cannot fail.
        let _ = write!(text, "{space}{n}");
    }
    text
}

/// The same read back; nothing where it is something else.
pub(crate) fn pieces(attribute: &str) -> Option<Vec<usize>> {
    attribute.split(' ').map(|n| n.parse().ok()).collect()
}

/// Where a drawing is pre-distorted for a machine it says so near its head, so that nobody corrects it
/// twice: SVG in an attribute of its outermost element, DXF in a comment.
pub(crate) const MACHINE: &str = "data-machine=\"";
/// The same in a comment of DXF.
pub(crate) const MACHINE_SAID: &str = "Pre-distorted for the machine \"";
/// It stands within so many bytes of the beginning.
const HEAD: usize = 1 << 16;

/// The SVG or DXF text with the word that it is pre-distorted for a machine.
#[must_use]
pub fn made_for(text: String, machine: &str) -> String {
    let name: String = machine
        .chars()
        .map(|c| match c {
            '"' | '<' | '>' | '&' => '_',
            c if c.is_control() => '_',
            c => c,
        })
        .collect();
    headed(
        text,
        || format!("{MACHINE}{name}\""),
        || format!("999\n{MACHINE_SAID}{name}\"\n"),
    )
}

/// The text of a drawing with a word at its head: in SVG an attribute of its outermost element, in DXF comments.
pub(super) fn headed(
    text: String,
    attribute: impl FnOnce() -> String,
    comments: impl FnOnce() -> String,
) -> String {
    const ELEMENT: &str = "<svg ";
    match text.find(ELEMENT) {
        Some(at) => {
            let (head, rest) = text.split_at(at + ELEMENT.len());
            format!("{head}{} {rest}", attribute())
        }
        None => comments() + &text,
    }
}

/// The machine that a drawing says it is pre-distorted for.
pub(crate) fn machine_of(bytes: &[u8]) -> Option<String> {
    let head = bytes.get(..HEAD).unwrap_or(bytes);
    let rest = [MACHINE, MACHINE_SAID].into_iter().find_map(|said| {
        let at = memmem::find(head, said.as_bytes())?;
        head.get(at + said.len()..)
    })?;
    let name = rest.split(|b| *b == b'"').next()?;
    Some(String::from_utf8_lossy(name).into_owned())
}

/// What a drawing of a plan bears and no other: in DXF its layers, which other programs keep, in SVG the names of
/// its groups.
const PLAN: [&[&str]; 4] = [
    &["CUT_PARTS", "LEADS", "PIERCES"],
    &["CUT_HOLES", "LEADS", "PIERCES"],
    &["CUT_OPEN", "LEADS", "PIERCES"],
    &["id=\"cut-1\"", "id=\"pierces\""],
];

/// Whether a drawing is a plan that we wrote: the kerf is in its paths, and would be taken off twice.
pub(crate) fn is_plan(bytes: &[u8]) -> bool {
    let has = |word: &&str| memmem::find(bytes, word.as_bytes()).is_some();
    PLAN.iter().any(|words| words.iter().all(has))
}
