//! Takes out rows of a sheet that are no records: remarks below the table, and rows that were numbered
//! in advance and never filled. Completes dates that lack the year which the sheet names. Layer:
//! `ingest`.

use super::column::Column;
use super::columns::Columns;
use super::layout::Layout;
use super::table::{Row, Table};
use super::{date, day_rows, days, filled, shortened};
use crate::error::Error;

/// Takes out what is no record; reports it.
pub(super) fn taken_out(table: &mut Table, columns: &Columns) -> Vec<Error> {
    let layout = Layout::of(table, columns);
    let number = layout.place(Column::Number);
    let mut notes = Vec::new();
    let filled_cells = |row: &Row| -> Vec<usize> {
        let cells = row.cells.iter().enumerate();
        cells.filter(|(_, cell)| filled(cell).is_some()).map(|(place, _)| place).collect()
    };
    let more = table.rows.iter().filter(|row| filled_cells(row).len() > 1).count();
    if more == 0 || layout.slots().len() < 3 {
        return notes;
    }
    table.rows.retain(|row| {
        let own = filled_cells(row);
        let [only] = own[..] else { return true };
        let is_text = filled(&row.cells[only]).is_some_and(is_remark);
        let kept = !is_text
            || only > 0 && Some(only) != number
            || days::alone(row, layout.place(Column::Date)).is_some();
        if !kept {
            notes.push(
                Error::input("a row with one text was skipped")
                    .because(format!(
                        "it says \"{}\" and nothing else",
                        shortened(row.cells[only].trim())
                    ))
                    .at_line(row.line),
            );
        }
        kept
    });
    let numbered = |row: &Row| filled_cells(row).iter().all(|place| Some(*place) == number);
    let last = table.rows.iter().rposition(|row| !numbered(row)).map_or(0, |place| place + 1);
    let unfilled = table.rows.len() - last;
    if unfilled >= 2 && last > 0 {
        let first = table.rows[last].line;
        table.rows.truncate(last);
        notes.push(
            Error::input(format!("{unfilled} rows below the records hold only a number"))
                .because("they were numbered in advance and are not filled in")
                .at_line(first),
        );
    }
    notes
}

/// A text of several words, which no number of a find is.
fn is_remark(text: &str) -> bool {
    let words = text
        .split_whitespace()
        .filter(|word| word.chars().filter(|c| c.is_alphabetic()).count() > 1);
    words.count() >= 2 && date::read(text).is_none()
}

/// Completes `3.5.` and `3 May` where the name of the sheet names one year.
pub(super) fn with_year(table: &mut Table, columns: &Columns, sheet: &str) -> Option<Error> {
    let year = only_year(sheet)?;
    let place = Layout::of(table, columns).place(Column::Date)?;
    let (mut count, mut first) = (0, None);
    for row in &mut table.rows {
        let Some(cell) = row.cells.get_mut(place) else { continue };
        if let Some(whole) = filled(cell).and_then(|text| date::with_year(text, year)) {
            first.get_or_insert((row.line, cell.clone()));
            count += 1;
            *cell = whole.into();
        }
    }
    let (line, text) = first?;
    Some(
        Error::input(format!(
            "the year of {} was taken from the name of the sheet",
            if count == 1 { "1 date".to_owned() } else { format!("{count} dates") }
        ))
        .because(format!(
            "\"{}\" has none, and the sheet is called \"{}\"",
            text.trim(),
            shortened(sheet)
        ))
        .at_line(line)
        .at_column(place),
    )
}

/// Completes `13.9.` where the other dates of the column are of one year and near it.
pub(super) fn with_only_year(table: &mut Table, columns: &Columns) -> Option<Error> {
    let place = Layout::of(table, columns).place(Column::Date)?;
    let cells = || table.rows.iter().filter_map(|row| filled(row.cells.get(place)?));
    if !cells().any(|cell| date::with_year(cell, "2000").is_some()) {
        return None;
    }
    let dates: Vec<jiff::civil::Date> = cells().filter_map(date::day).collect();
    let year = dates.first()?.year();
    if dates.iter().any(|date| date.year() != year) {
        return None;
    }
    let (mut count, mut first) = (0, None);
    for row in &mut table.rows {
        let Some(cell) = row.cells.get_mut(place) else { continue };
        let whole = filled(cell).filter(|cell| day_rows::is_near(cell, year, &dates));
        if let Some(whole) = whole.and_then(|text| date::with_year(text, &year.to_string())) {
            first.get_or_insert((row.line, cell.clone()));
            count += 1;
            *cell = whole.into();
        }
    }
    let (line, text) = first?;
    Some(
        Error::input(format!(
            "the year of {} was taken from the other dates of the column",
            if count == 1 { "1 date".to_owned() } else { format!("{count} dates") }
        ))
        .because(format!("\"{}\" has none, and all others are of {year}", text.trim()))
        .at_line(line),
    )
}

/// The year that a name holds, where it is the only one.
fn only_year(name: &str) -> Option<&str> {
    let mut years = name
        .split(|c: char| !c.is_ascii_digit())
        .filter(|part| part.len() == 4 && matches!(part.parse(), Ok(1750..=2200)));
    let year = years.next()?;
    years.next().is_none().then_some(year)
}

#[cfg(test)]
mod tests {
    use super::super::table::of_rows;
    use super::*;

    fn table(rows: &[&str]) -> Table {
        let row = |(line, text): (usize, &&str)| Row {
            line: line as u64 + 1,
            cells: text.split(';').map(Into::into).collect(),
        };
        of_rows(rows.iter().enumerate().map(row).collect(), 12, &Columns::default()).unwrap()
    }

    #[test]
    fn remarks_and_unfilled_rows_are_no_records() {
        let mut read = table(&[
            "number;date;name",
            "1;2026-05-03;Mycena",
            "2;;",
            "3;2026-05-03;Mycena",
            "Thanks to all helpers;;",
            "4;;",
            "5;;",
        ]);
        let notes = taken_out(&mut read, &Columns::default());
        let lines: Vec<u64> = read.rows.iter().map(|row| row.line).collect();
        assert_eq!(lines, [2, 3, 4]);
        assert_eq!(notes.len(), 2, "{notes:?}");
        // numbers alone may be those of waypoints
        let mut numbers = table(&["number;date;name", "1", "2", "3"]);
        assert!(taken_out(&mut numbers, &Columns::default()).is_empty());
        assert_eq!(numbers.rows.len(), 3);
    }

    #[test]
    fn the_year_of_the_sheet_completes_dates() {
        let mut read =
            table(&["number;date;name", "1;3.5.;a", "2;17 Oct;b", "3;4/13;c", "4;soon;d"]);
        let note = with_year(&mut read, &Columns::default(), "Finds 2026").unwrap();
        let dates: Vec<&str> = read.rows.iter().map(|row| row.cells[1].as_str()).collect();
        assert_eq!(dates, ["3.5.2026", "17 Oct 2026", "4/13/2026", "soon"]);
        assert!(note.to_string().starts_with("the year of 3 dates"), "{note}");
        assert!(with_year(&mut read, &Columns::default(), "2025-2026").is_none());
    }

    #[test]
    fn the_other_dates_of_the_column_give_the_year() {
        let mut read = table(&["number;date;name", "1;3.10.2025;a", "2;4.10.;b", "3;3.1.;c"]);
        let note = with_only_year(&mut read, &Columns::default()).unwrap();
        let dates: Vec<&str> = read.rows.iter().map(|row| row.cells[1].as_str()).collect();
        // January may be of the next year
        assert_eq!(dates, ["3.10.2025", "4.10.2025", "3.1."]);
        assert!(
            note.to_string().contains("\"4.10.\" has none, and all others are of 2025"),
            "{note}"
        );
        let mut two = table(&["number;date;name", "1;3.10.2025;a", "2;3.10.2024;a", "3;4.10.;b"]);
        assert!(with_only_year(&mut two, &Columns::default()).is_none());
    }
}
