//! Which column of this file holds what? Of several that mean the same the best-named one counts, or
//! all of them where their texts belong together; the rest keep their own headings. Layer: `ingest`.

use super::headings::{self, Column, ranked};
use super::length::{Habit, Quantity};
use super::table::{Row, Table};
use super::{date, filled};

/// What one column of the file is.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Slot {
    Known(Column),
    /// Kept under this heading.
    Other(String),
}

/// The columns of a file in their order.
#[derive(Debug)]
pub(super) struct Layout {
    slots: Vec<Slot>,
}

impl Layout {
    pub(super) fn of(table: &Table) -> Self {
        let ranks: Vec<_> = table.headings.iter().map(|heading| ranked(heading)).collect();
        let best = |column: Column| {
            ranks
                .iter()
                .enumerate()
                .filter_map(|(index, found)| {
                    found.filter(|(known, _)| *known == column).map(|(_, rank)| (rank, index))
                })
                .min()
        };
        let mut layout = Self { slots: Vec::new() };
        for (index, heading) in table.headings.iter().enumerate() {
            let slot = match ranks[index] {
                Some((column, _))
                    if column.joins() || best(column).is_some_and(|(_, at)| at == index) =>
                {
                    Slot::Known(column)
                }
                _ => Slot::Other(layout.own_heading(heading, index)),
            };
            layout.slots.push(slot);
        }
        layout.datum_may_be_a_date(&table.rows);
        layout
    }

    /// The heading itself, numbered where it is empty or stood before.
    fn own_heading(&self, heading: &str, index: usize) -> String {
        let heading = heading.split_whitespace().collect::<Vec<_>>().join(" ");
        if heading.is_empty() {
            return format!("column {}", index + 1);
        }
        let taken = |name: &str| self.slots.contains(&Slot::Other(name.to_owned()));
        let numbered = (2..).map(|count| format!("{heading} ({count})"));
        std::iter::once(heading.clone())
            .chain(numbered)
            .find(|name| !taken(name))
            .unwrap_or(heading)
    }

    /// In several languages a date is headed `Datum`.
    fn datum_may_be_a_date(&mut self, rows: &[Row]) {
        if self.slots.contains(&Slot::Known(Column::Date)) {
            return;
        }
        let Some(index) = self.slots.iter().position(|slot| *slot == Slot::Known(Column::Datum))
        else {
            return;
        };
        let first = rows.iter().find_map(|row| filled(row.cells.get(index)?));
        if first.is_some_and(|cell| date::read(cell).is_some()) {
            self.slots[index] = Slot::Known(Column::Date);
        }
    }

    pub(super) fn slots(&self) -> &[Slot] {
        &self.slots
    }

    /// The filled cells of a row under a column.
    pub(super) fn cells<'r>(
        &'r self,
        row: &'r Row,
        column: Column,
    ) -> impl Iterator<Item = &'r str> + 'r {
        self.slots
            .iter()
            .zip(&row.cells)
            .filter(move |(slot, _)| **slot == Slot::Known(column))
            .filter_map(|(_, cell)| filled(cell))
    }

    /// What the cells of a column of lengths and its heading show.
    pub(super) fn lengths(&self, table: &Table, column: Column, quantity: Quantity) -> Habit {
        let place = self.slots.iter().position(|slot| *slot == Slot::Known(column));
        let heading = place.and_then(|place| table.headings.get(place));
        let unit = heading.and_then(|heading| headings::unit(heading));
        let cells = table.rows.iter().flat_map(|row| self.cells(row, column));
        Habit::of(cells, unit, quantity)
    }

    /// The text under a column; of several columns joined by semicolons.
    pub(super) fn text(&self, row: &Row, column: Column) -> Option<String> {
        let mut parts: Vec<&str> = self.cells(row, column).collect();
        parts.dedup();
        (!parts.is_empty()).then(|| parts.join("; "))
    }
}
