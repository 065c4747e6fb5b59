//! Gives the rows of a table the day that stands outside its columns: in a row of its own above the finds of the
//! day, above the headings, or in the name of the sheet. Layer: `ingest`.

use super::column::Column;
use super::columns::Columns;
use super::layout::Layout;
use super::table::{Row, Table};
use super::{date, day_places, filled, headings, shortened};
use crate::error::Error;

/// The longest text behind the date of a day, bytes: a place.
const LONGEST: usize = 80;
/// The headings of the columns that are added.
const DATE: &str = "date";
const PLACE: &str = "place";

/// The date in a row of its own, as written.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Alone {
    pub(super) date: String,
    /// What stands behind it.
    pub(super) behind: String,
}

/// The date in a row that holds nothing else, perhaps with the word for date before it or a place behind it.
/// `column`: the place of the column of dates, where the table has one.
pub(super) fn alone(row: &Row, column: Option<usize>) -> Option<Alone> {
    let mut cells = row.cells.iter().enumerate();
    let mut next = || cells.find_map(|(place, cell)| Some((place, filled(cell)?)));
    let (first, second) = (next()?, next());
    // most rows end here
    if second.is_some() && next().is_some() {
        return None;
    }
    let (place, text) = match second {
        None => first,
        Some(second) if is_word(first.1) => second,
        Some(_) => return None,
    };
    let text = match text.split_once(':') {
        Some((word, behind)) if is_word(word) => behind.trim(),
        _ => text,
    };
    // eight figures may be a number
    if text.bytes().all(|byte| byte.is_ascii_digit()) && Some(place) != column {
        return None;
    }
    let read = date::read(text)?;
    let written = text[..text.len() - read.rest.len()].trim_end_matches([' ', ',', ':', '-']);
    (read.rest.len() < LONGEST).then(|| Alone { date: written.to_owned(), behind: read.rest })
}

/// Whether a text is a heading of dates.
fn is_word(text: &str) -> bool {
    let text = text.trim().trim_end_matches(':');
    matches!(headings::column(text), Some(Column::Date | Column::Datum))
}

/// Whether a table can take its dates from outside its columns.
pub(super) fn has_day(table: &Table, sheet: &str) -> bool {
    table.above.iter().any(|row| alone(row, None).is_some()) || of_name(sheet).is_some()
}

/// The date that the name of a sheet is.
fn of_name(name: &str) -> Option<&str> {
    let read = date::read(name)?;
    (!read.rest.contains(|c: char| c.is_ascii_digit()))
        .then(|| name[..name.len() - read.rest.len()].trim_end_matches([' ', ',', '-', '_']))
}

/// Gives the rows of a table without dates of their own those that stand elsewhere.
pub(super) fn given(table: &mut Table, columns: &Columns, sheet: Option<&str>) -> Option<Error> {
    let layout = Layout::of(table, columns);
    if layout.place(Column::Year).is_some() || layout.slots().len() < 2 {
        return None;
    }
    let column = layout.place(Column::Date);
    let in_table =
        !table.unread_days.is_empty() || table.rows.iter().any(|row| alone(row, column).is_some());
    let own = |row: &Row| column.and_then(|place| filled(row.cells.get(place)?)).is_some();
    let dated = table.rows.iter().any(|row| own(row) && alone(row, column).is_none());
    if dated && !in_table {
        return None;
    }
    let above = table.above.iter().rev().find_map(|row| Some((row.line, alone(row, None)?)));
    let of_sheet = sheet.and_then(of_name).filter(|_| !in_table && above.is_none());
    if !in_table && above.is_none() && of_sheet.is_none() {
        return None;
    }
    let in_rows = table.rows.iter().filter_map(|row| alone(row, column));
    let mut days = in_rows.chain(above.iter().map(|(_, day)| day.clone()));
    let has_place = days.any(|day| day_places::is_place(&day.behind));
    if has_place && layout.place(Column::Place).is_none() {
        add_column(table, PLACE);
    }
    let column = column.unwrap_or_else(|| add_column(table, DATE));
    if let Some((line, Alone { date, behind })) = above {
        let text = if behind.is_empty() { date } else { format!("{date}, {behind}") };
        table.rows.insert(0, Row { line, cells: vec![text.into()] });
        return None;
    }
    of_sheet.and_then(|date| fill(table, column, date, sheet.unwrap_or_default()))
}

/// Adds an empty column behind the others.
fn add_column(table: &mut Table, heading: &str) -> usize {
    let widest = table.rows.iter().map(|row| row.cells.len()).max().unwrap_or(0);
    let column = table.headings.len().max(widest);
    table.headings.resize(column, String::new());
    table.headings.push(heading.to_owned());
    column
}

/// Writes the date of the sheet into all rows.
fn fill(table: &mut Table, column: usize, date: &str, sheet: &str) -> Option<Error> {
    let first = table.rows.first()?.line;
    for row in &mut table.rows {
        if row.cells.len() <= column {
            row.cells.resize(column + 1, compact_str::CompactString::default());
        }
        row.cells[column] = date.into();
    }
    let rows = match table.rows.len() {
        1 => "1 row".to_owned(),
        count => format!("{count} rows"),
    };
    Some(
        Error::input(format!("the date of {rows} was taken from the name of the sheet"))
            .because(format!("no row has one, and the sheet is called \"{}\"", shortened(sheet)))
            .at_line(first),
    )
}

#[cfg(test)]
mod tests {
    use super::super::table::of_rows;
    use super::super::tests::{file, messages};
    use super::*;

    #[test]
    fn days_above_each_table_are_the_dates_of_its_rows() {
        for (head, first, second) in [
            ("N\u{b0};Heure;Esp\u{e8}ce", "Mardi 7 octobre 2025;;", "Mercredi 8 octobre 2025;;"),
            ("Nr.;Uhrzeit;Art", "Datum: 7.10.2025;;", "Datum;8.10.2025;"),
            ("number;date;time;name", "7 October 2025;;;", ";8 October 2025;;"),
        ] {
            let find = if head.contains("date") { ";;9:15;a" } else { ";9:15;a" };
            let text = format!("{first}\n{head}\n1{find}\n2{find}\n\n{second}\n{head}\n3{find}\n");
            let read = file(&text);
            let dates: Vec<String> =
                read.records.iter().filter_map(|record| Some(record.date?.to_string())).collect();
            assert_eq!(dates, ["2025-10-07", "2025-10-07", "2025-10-08"], "{text}");
            let notes = messages(&read.remarks).join("\n");
            assert!(notes.contains("the date of 3 rows was taken from the row above"), "{notes}");
        }
    }

    #[test]
    fn a_date_above_a_table_with_dates_of_its_own_counts_for_nothing() {
        let read = file("18.10.2026;;\nnumber;date;name\n1;2026-05-03;a\n2;;b\n3;2026-05-04;c\n");
        assert_eq!(read.records.len(), 3);
        assert_eq!(read.records[1].date, None);
        let numbers = file("number;time;name\n20260503;;\n20260504;;\n3;9:15;a\n");
        assert_eq!(numbers.records.len(), 3);
    }

    #[test]
    fn the_name_of_a_sheet_is_the_date_of_its_rows() {
        let dates = |name: &str, rows: &[&str]| -> Vec<String> {
            let row = |(line, text): (usize, &&str)| Row {
                line: line as u64 + 1,
                cells: text.split(';').map(Into::into).collect(),
            };
            let rows = rows.iter().enumerate().map(row).collect();
            let mut table = of_rows(rows, 12, &Columns::default()).unwrap();
            let note = given(&mut table, &Columns::default(), Some(name));
            let cell = |row: &Row| row.cells.get(3).map_or(String::new(), ToString::to_string);
            let dates: Vec<String> = table.rows.iter().map(cell).collect();
            assert_eq!(note.is_some(), dates.iter().any(|date| !date.is_empty()), "{name}");
            dates
        };
        let rows = ["Nr.;Uhrzeit;Art", "1;9:15;a", "2;9:30;b"];
        for name in ["7 oct. 2025", "03.09.2025", "2025-10-07", "Di 7.10.2025 Wald"] {
            let date = name.trim_start_matches("Di ").trim_end_matches(" Wald");
            assert!(dates(name, &rows).iter().all(|own| own.ends_with(date)), "{name}");
        }
        for name in ["Feuil1", "2025", "2025-10-07 bis 2025-10-09"] {
            assert!(dates(name, &rows).iter().all(String::is_empty), "{name}");
        }
    }
}
