//! The line that names the columns: among the rows, or in a comment above them.

use super::columns::Columns;
use super::dialect::{Dialect, MOST_TITLES, Row};
use crate::Refusal;
use crate::format::Wanted;

/// A comment's text.
pub(super) fn uncommented(comment: &[u8]) -> &[u8] {
    let mark = |b: &u8| b"#%/ \t".contains(b);
    let from = comment.iter().position(|b| !mark(b));
    comment
        .get(from.unwrap_or(comment.len())..)
        .unwrap_or_default()
}

/// A header that stands in a comment: the last that names x and y, and as many columns as the first row has.
pub(super) fn commented<'a>(
    comments: &[Row<'a>],
    rows: &[Row<'a>],
    ways: &[Dialect],
    wanted: &Wanted,
) -> Option<(Row<'a>, Vec<String>)> {
    let first = rows.first().filter(|_| wanted.columns.is_empty())?;
    comments.iter().rev().find_map(|line| {
        let found = ways.iter().find_map(|way| {
            let names = way.names(line.1);
            let columns = Columns::of_header(&names).ok().flatten()?;
            let fits = |w: &Dialect| {
                w.names(first.1).len() == names.len() && w.point(first.1, &columns).is_some()
            };
            ways.iter().any(fits).then_some(names)
        });
        Some((*line, found?))
    })
}

/// The header's place among the rows, and its names: the first that names x and y. Where the person names the
/// columns there is none. A title of many words may name them under one way as well, so a way counts first under
/// which the row below is a point.
pub(super) fn header(
    rows: &[Row<'_>],
    ways: &[Dialect],
    wanted: &Wanted,
) -> Result<Option<(usize, Vec<String>)>, Refusal> {
    if !wanted.columns.is_empty() {
        return Ok(None);
    }
    let mut first = None;
    for (i, (line, row)) in rows.iter().take(MOST_TITLES).enumerate() {
        // A row of units may stand between.
        let below = || rows.iter().skip(i + 1).take(2);
        for way in ways {
            let names = way.names(row);
            let columns = Columns::of_header(&names).map_err(|problem| Refusal::Line {
                line: *line,
                problem,
            });
            let Some(columns) = columns? else { continue };
            if below().any(|(_, row)| ways.iter().any(|w| w.point(row, &columns).is_some())) {
                return Ok(Some((i, names)));
            }
            first.get_or_insert((i, names));
        }
    }
    Ok(first)
}
