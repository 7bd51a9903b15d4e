//! How a drawing that we write says that its edges are what was meant.
//!
//! SVG and DXF have no word for it, so a drawing of many short straight edges might as well be what a
//! scanner left, and is read as a trace ([`super::sampling`]). Both formats let a program put a word of its
//! own beside a piece of geometry, which others keep or drop: SVG a `data-` attribute (SVG 2, 2.12), DXF
//! extended data under a registered application name (the published reference, group codes 1000 and 1001).
//! A course that bears it comes back edge by edge, joined to nothing. In SVG, where a wide arc is written in
//! pieces, the word is of how many pieces each edge is; where another program has changed their number it
//! says nothing any more.

use std::fmt::Write as _;

/// The attribute of an SVG path.
pub(crate) const ATTRIBUTE: &str = "data-edges";
/// The application whose extended data they are.
pub(crate) const APPLICATION: &str = "TRUED";
/// What they say of a polyline, each of whose edges is one piece.
pub(crate) const EDGES: &str = "as-stated";

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
