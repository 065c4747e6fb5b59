//! Compares an edited row of a listing with the find that it lists and reads the differences as
//! amendments. Cells that a spreadsheet only formatted again count as unchanged. Layer: `commands`.

mod cells;
mod identified;
mod located;
mod records;
mod terms;

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

/// A row with the headings of its file.
#[derive(Clone, Copy, Debug)]
pub(super) struct Row<'a> {
    /// The headings.
    pub(super) headings: &'a [String],
    /// The cells; missing ones at the end are empty.
    pub(super) cells: &'a [String],
}

impl<'a> Row<'a> {
    /// The cell under a heading; `None` where the file lacks the column.
    fn cell(&self, heading: &str) -> Option<&'a str> {
        let column = self.headings.iter().position(|own| own.trim() == heading)?;
        Some(self.cells.get(column).map_or("", String::as_str))
    }

    /// The headings with their cells.
    fn columns(&self) -> impl Iterator<Item = (&'a str, &'a str)> + use<'a> {
        let cells = self.cells;
        let cell = move |place: usize| cells.get(place).map_or("", String::as_str);
        self.headings.iter().enumerate().map(move |(place, own)| (own.trim(), cell(place)))
    }
}

/// The differences between a row and the find as it is now. The headings tell whether it is a listing with
/// Darwin Core terms or one of field records.
///
/// # Errors
/// When a changed position, time or date cannot be read or is impossible, or when the number was deleted.
pub(super) fn differences(find: &KeptFind, row: &Row<'_>) -> Result<Differences> {
    if terms::heads(row.headings) {
        terms::differences(find, row)
    } else {
        records::differences(find, row)
    }
}
