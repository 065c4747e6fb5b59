//! Undoes what a spreadsheet does to `2-3` and `2/2025`, which it keeps as dates: in columns of numbers, quantities and
//! the like the text that the cell shows counts. Layer: `ingest`.

use super::book::PartDates;
use super::column::Column;
use super::columns::Columns;
use super::layout::Layout;
use super::table::Table;
use super::{date, filled, shortened};
use crate::error::Error;

/// Columns whose cells are never dates.
const OTHERS: [Column; 14] = [
    Column::Number,
    Column::Quantity,
    Column::Waypoint,
    Column::Photos,
    Column::Container,
    Column::Elevation,
    Column::Highest,
    Column::Uncertainty,
    Column::Latitude,
    Column::Longitude,
    Column::Coordinates,
    Column::Easting,
    Column::Northing,
    Column::CatalogNumber,
];
/// Of them those of which a text may look like a whole date.
const NAMES: [Column; 4] =
    [Column::Number, Column::Waypoint, Column::Photos, Column::CatalogNumber];

/// Writes what cells show into columns that hold no dates; reports each.
pub(super) fn as_shown(table: &mut Table, columns: &Columns, dates: &PartDates) -> Vec<Error> {
    let layout = Layout::of(table, columns);
    let mut notes = Vec::new();
    for column in OTHERS {
        let Some(place) = layout.place(column) else { continue };
        for row in &mut table.rows {
            let Some(cell) = row.cells.get_mut(place).filter(|cell| filled(cell).is_some()) else {
                continue;
            };
            let shown = dates.get(&(row.line, place));
            if shown.is_none() && (NAMES.contains(&column) || !is_iso(cell)) {
                continue;
            }
            if let Some(shown) = shown {
                cell.clone_from(shown);
            }
            notes.push(
                Error::input(format!("the {} \"{}\" is a date in the workbook", column.word(), shortened(cell)))
                    .because("spreadsheets keep texts such as 2-3 and 2/2025 as dates; what was typed is not kept")
                    .hint("give the cells the format of texts, and type it again")
                    .at_line(row.line)
                    .at_column(place),
            );
        }
    }
    notes
}

/// Whether a cell is a date as the reader of workbooks writes it.
fn is_iso(cell: &str) -> bool {
    cell.len() == 10
        && cell.as_bytes()[4] == b'-'
        && date::read(cell).is_some_and(|own| own.rest.is_empty())
}
