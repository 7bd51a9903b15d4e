//! What the beginning of a CSV file tells of all of it: how its rows are written, what the columns hold, the unit.

use super::breaks::{self, Cells, Pen};
use super::columns::Columns;
use super::dialect::{Dialect, Row};
use super::figures;
use super::units::{unit_in_mm, unit_stated};
use crate::Refusal;
use crate::format::numbers::counted;
use crate::format::{Decimal, Wanted, text};

/// What the beginning of a file tells of it.
pub(super) struct Opening {
    pub(super) dialect: Dialect,
    pub(super) columns: Columns,
    /// The line of the first row that is a point.
    pub(super) first_line: usize,
    /// The column that tells of the pen, and how far it rises by that of heights, mm.
    pub(super) pen: Option<Pen>,
    pub(super) lifted: Option<f64>,
    pub(super) titles: usize,
    pub(super) headless: bool,
}

impl Opening {
    /// Takes the unit that a title or a column of units states.
    pub(super) fn take_units<'a>(
        &mut self,
        titles: impl Iterator<Item = &'a Row<'a>>,
        rows: &[Row<'_>],
    ) -> Result<(), Refusal> {
        let stated = titles.filter_map(|(line, row)| {
            let scale = unit_stated(&text::of_any(row))?;
            Some((*line, scale))
        });
        let column = self.columns.units.map(|i| {
            let cells = rows.iter().filter(|r| r.0 >= self.first_line);
            let cells = cells.map(|(line, row)| {
                let names = self.dialect.names(row);
                (*line, names.get(i).and_then(|n| unit_in_mm(n)))
            });
            cells.collect::<Vec<_>>()
        });
        for (line, scale) in column.into_iter().flatten() {
            let Some(scale) = scale else { break };
            self.take_unit(line, scale)?;
            if let Some(i) = self.columns.units {
                self.columns.is_read(i);
            }
        }
        stated
            .into_iter()
            .try_for_each(|(line, scale)| self.take_unit(line, scale))?;
        // Or it stands in every cell.
        let first = rows.iter().find(|r| r.0 >= self.first_line);
        let beside = first.and_then(|(line, row)| {
            let cells = self.dialect.names(row);
            Some((
                *line,
                figures::unit_beside(cells.get(self.columns.x)?.as_bytes())?,
            ))
        });
        match beside {
            Some((line, scale)) => self.take_unit(line, scale),
            None => Ok(()),
        }
    }

    /// Settles what the columns beside x and y mean.
    pub(super) fn settle(&mut self, rows: &[Row<'_>], wanted: &Wanted) -> Result<(), Refusal> {
        let rows = rows.iter().filter(|r| r.0 >= self.first_line);
        let points = rows.filter(|(_, row)| self.dialect.point(row, &self.columns).is_some());
        let cells: Cells = points.map(|(_, row)| self.dialect.names(row)).collect();
        let decimal = self.dialect.decimal;
        self.pen = breaks::settle(&mut self.columns, &cells, decimal).map_err(|problem| {
            Refusal::Line {
                line: self.first_line,
                problem,
            }
        })?;
        let scale = self.columns.scale.unwrap_or(wanted.units.in_mm());
        self.lifted = breaks::lifted(&self.columns, &cells, decimal, scale);
        Ok(())
    }

    fn take_unit(&mut self, line: usize, scale: f64) -> Result<(), Refusal> {
        if self.columns.scale.is_some_and(|s| s != scale) {
            let problem = "this line and one above state two different units".into();
            return Err(Refusal::Line { line, problem });
        }
        self.columns.scale = Some(scale);
        Ok(())
    }

    /// What was made of it, in sentences.
    pub(super) fn notes(&self) -> Vec<String> {
        let mut notes = Vec::new();
        if self.titles > 0 {
            notes.push(format!(
                "{} above the points passed over",
                counted(self.titles, "line", "lines")
            ));
        }
        if self.headless {
            let more = if self.columns.count > 2 {
                ", the others left unread"
            } else {
                ""
            };
            notes.push(format!(
                "the file has no header: its first two columns are taken as x and y{more}"
            ));
        }
        if self.dialect.decimal == Decimal::Comma {
            notes.push("its commas are taken as decimal signs".into());
        }
        if !self.columns.unread.is_empty() {
            let names: Vec<String> = self
                .columns
                .unread
                .iter()
                .map(|i| self.columns.name(*i))
                .collect();
            notes.push(format!("columns left unread: {}", names.join(", ")));
        }
        notes
    }
}
