//! Compares an edited row of a listing with the find that it lists and reads the differences as
//! amendments. Cells that a spreadsheet only formatted again count as unchanged. Layer: `commands`.

mod cells;
mod columns;
mod identified;
mod located;
mod records;
mod terms;
#[cfg(test)]
mod unedited;

use jiff::civil::Date;

use columns::Column;
pub(super) use columns::Columns;
pub(super) use identified::{accepted, possible};

use crate::error::Result;
use crate::model::{KeptFind, Patch, TextProperty};

/// The differences of a row.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Differences {
    /// What was changed.
    pub(super) patches: Vec<Patch>,
    /// Headings of changed cells that cannot be amended in a listing.
    pub(super) not_amendable: Vec<String>,
}

impl Differences {
    fn text(&mut self, property: TextProperty, value: String) {
        let value = Some(value).filter(|value| !value.is_empty());
        self.patches.push(Patch::Text { property, value });
    }
}

/// A row of an edited listing beside the find that it lists.
#[derive(Clone, Copy, Debug)]
pub(super) struct EditedRow<'a> {
    /// The find as it is now.
    pub(super) find: &'a KeptFind,
    /// The columns of the listing.
    pub(super) columns: &'a Columns,
    /// The cells of the row.
    pub(super) cells: &'a [String],
    /// Nothing was identified later.
    pub(super) today: Date,
}

impl<'a> EditedRow<'a> {
    /// The differences between the row and its find. The headings tell whether it is a listing with Darwin Core terms
    /// or one of field records.
    ///
    /// # Errors
    /// When a changed position, time or date cannot be read or is impossible, or when the number was deleted.
    pub(super) fn differences(self) -> Result<Differences> {
        if self.columns.has_terms { terms::differences(self) } else { records::differences(self) }
    }

    /// The columns with the cells of the row.
    fn filled(self) -> impl Iterator<Item = (&'a Column, &'a str)> {
        self.columns.cells(self.cells)
    }
}
