//! Tells sheets of finds from the other sheets of a workbook by their columns: a list of species, a diary of the weather,
//! addresses and appointments have some columns of records, and no finds. Layer: `ingest`.

use super::by_content;
use super::column::Column;
use super::columns::Columns;
use super::layout::Layout;
use super::table::Table;
use super::{days, filled};

const NAMES: [Column; 3] = [Column::Name, Column::Genus, Column::Epithet];
const PLACED: [Column; 5] =
    [Column::Photos, Column::Waypoint, Column::Coordinates, Column::Latitude, Column::Easting];
const DATED: [Column; 3] = [Column::Date, Column::Year, Column::Time];

/// Whether a table is surely one of finds: each has a number or a name, and a day or a place.
pub(super) fn are_finds(table: &Table, columns: &Columns, sheet: &str) -> bool {
    let layout = Layout::of(table, columns);
    let has = |any: &[Column]| any.iter().any(|column| layout.place(*column).is_some());
    let named = has(&[Column::Number]) || has(&NAMES) && !is_of_things(table, &layout);
    named && (has(&PLACED) || has(&DATED) || days::has_day(table, sheet))
}

/// What tables lack to be finds beside a sheet of finds; `None` where one may be.
pub(super) fn lacking(tables: &[Table], columns: &Columns, sheet: &str) -> Option<&'static str> {
    const WHICH: &str = "it has no column of numbers, taxa, photographs, waypoints or coordinates, and another sheet has \
        the finds";
    const WHEN: &str = "it has no column of numbers, dates, times, photographs, waypoints or coordinates, and another \
        sheet has the finds";
    let mut why = None;
    for table in tables {
        let layout = Layout::of(table, columns);
        let has = |any: &[Column]| any.iter().any(|column| layout.place(*column).is_some());
        if has(&[Column::Number]) || has(&PLACED) {
            return None;
        }
        let named = has(&NAMES) && !is_of_things(table, &layout);
        why = match (named, has(&DATED) || days::has_day(table, sheet)) {
            (true, true) => return None,
            (true, false) => Some(WHEN),
            (false, _) => Some(WHICH),
        };
    }
    why
}

/// Whether its names may be of people or things: the heading is general, no cell has the form of a taxon, and there
/// are neither places nor hosts.
fn is_of_things(table: &Table, layout: &Layout) -> bool {
    let Some(place) = layout.place(Column::Name) else { return false };
    let of_finds = [
        Column::Place,
        Column::Host,
        Column::Substrate,
        Column::Habitat,
        Column::Time,
        Column::Genus,
    ];
    let mut cells = table.rows.iter().filter_map(|row| filled(row.cells.get(place)?));
    by_content::is_general(&table.headings[place])
        && of_finds.iter().all(|column| layout.place(*column).is_none())
        && !cells.any(by_content::is_taxon)
}
