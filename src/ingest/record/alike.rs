//! Columns of a table that mean the same: which are used, which are kept under their own headings, and the note
//! that says so. Layer: `ingest`.

use super::column::Column;
use super::layout::{Layout, Slot};
use super::table::Table;
use super::verbatim;
use super::{filled, shortened};
use crate::error::Error;

/// Several columns with one meaning.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Alike {
    pub(super) column: Column,
    /// The places of those that are used.
    pub(super) used: Vec<usize>,
    /// The places of the others.
    pub(super) kept: Vec<usize>,
}

/// Columns that mean the same. Verbatim terms beside their interpretation are the rule and not among them.
pub(super) fn of(ranks: &[Option<(Column, usize)>], slots: &[Slot]) -> Vec<Alike> {
    let mut all: Vec<Alike> = Vec::new();
    for (index, found) in ranks.iter().enumerate() {
        let Some((column, rank)) = *found else { continue };
        if verbatim::is_last(rank) {
            continue;
        }
        let place = all.iter().position(|alike| alike.column == column).unwrap_or_else(|| {
            all.push(Alike { column, used: Vec::new(), kept: Vec::new() });
            all.len() - 1
        });
        if slots[index] == Slot::Known(column) {
            all[place].used.push(index);
        } else {
            all[place].kept.push(index);
        }
    }
    all.retain(|alike| alike.used.len() + alike.kept.len() > 1);
    all
}

/// A note for each meaning that several filled columns have; notes themselves, which are always joined, have
/// none.
pub(super) fn reported(table: &Table, layout: &Layout, in_sheet: bool) -> Vec<Error> {
    let is_filled = |index: &usize| {
        table
            .rows
            .iter()
            .any(|row| row.cells.get(*index).is_some_and(|cell| filled(cell).is_some()))
    };
    let note = |alike: &Alike| {
        let used: Vec<usize> = alike.used.iter().copied().filter(is_filled).collect();
        let kept: Vec<usize> = alike.kept.iter().copied().filter(is_filled).collect();
        if alike.column == Column::Notes || used.len() + kept.len() < 2 {
            return None;
        }
        let names = |places: &[usize]| -> String {
            let names =
                places.iter().map(|place| format!("\"{}\"", shortened(layout.name(*place))));
            names.collect::<Vec<_>>().join(", ")
        };
        let word = alike.column.word();
        let what = format!("{} columns mean {word}", used.len() + kept.len());
        let verb = |places: &[usize]| if places.len() == 1 { "is" } else { "are" };
        let why = match (used.len(), kept.len()) {
            (_, 0) => format!("the texts of {} are joined", names(&used)),
            (0, _) => format!("{} {} kept under the heading", names(&kept), verb(&kept)),
            (1, _) => {
                let (used, own) = (names(&used), names(&kept));
                format!("{used} is used, {own} {} kept under the heading", verb(&kept))
            }
            _ => {
                let (used, own) = (names(&used), names(&kept));
                format!(
                    "the texts of {used} are joined, {own} {} kept under the heading",
                    verb(&kept)
                )
            }
        };
        let other = kept.first().or(used.last()).map_or("", |place| layout.name(*place));
        let note = Error::input(what).because(why).hint(format!(
            "if another one counts: --column \"{}={word}\"; to keep one under its heading and end this note: \
             --column \"{}=keep\"",
            shortened(other),
            shortened(other)
        ));
        Some(if in_sheet { note.at_column(*kept.first().or(used.last())?) } else { note })
    };
    layout.alike().iter().filter_map(note).collect()
}
