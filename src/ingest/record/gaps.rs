//! Fills gaps in a column of dates: ditto marks, rows below the only row of a day that names its
//! date, and dates that stand in a row of their own above the finds of the day. Layer: `ingest`.

use std::collections::HashSet;

use super::column::Column;
use super::day_rows::Unread;
use super::layout::Layout;
use super::table::Row;
use super::{date, day_places, days, ditto};
use super::{filled, shortened};
use crate::error::Error;

/// Writes the date of the row above into the rows that mean it, and takes out rows that hold nothing but
/// a date. Blank cells are filled where the table is kept in that way: at least two rows, and as many as
/// have a date, have none, and the first row has one; or between two rows of one date.
pub(super) fn fill_dates(rows: &mut Vec<Row>, layout: &Layout, unread: &[Unread]) -> Vec<Error> {
    let Some(column) = layout.place(Column::Date) else { return Vec::new() };
    let is_date = |row: &Row| row.cells.get(column).is_some_and(|cell| date::read(cell).is_some());
    let blank = |row: &Row| row.cells.get(column).is_none_or(|cell| filled(cell).is_none());
    let alone = sections(rows, column, layout);
    let places = day_places::filled_in(rows, &alone, layout, column);
    let dated = rows.iter().filter(|row| is_date(row)).count();
    let blanks = rows.iter().filter(|row| blank(row)).count();
    let by_day = !alone.is_empty()
        || !unread.is_empty()
        || dated > 0 && blanks >= dated.max(2) && rows.first().is_some_and(is_date);
    let between = between_equal_dates(rows, column, unread);
    let (mut above, mut first, mut count) = (None::<String>, None, 0_usize);
    // a ditto mark stands for a date that cannot be read as well
    let mut written = None::<String>;
    let mut kept = Vec::with_capacity(rows.len());
    let (mut later, mut of_unread) = (unread.iter().peekable(), false);
    for (place, mut row) in std::mem::take(rows).into_iter().enumerate() {
        while let Some(day) = later.next_if(|day| day.line < row.line) {
            above = Some(day.text.clone());
            of_unread = true;
        }
        let at = alone.binary_search_by_key(&place, |(own, _)| *own);
        if let Ok((_, day)) = at.map(|at| &alone[at]) {
            above = Some(day.date.clone());
            of_unread = false;
            continue;
        }
        let own = row.cells.get(column).and_then(|cell| filled(cell));
        let ditto = own.is_some_and(ditto::is_of_date);
        if ditto || own.is_none() && (by_day || between.contains(&place)) {
            let unreadable = written.as_ref().filter(|_| ditto);
            if let Some(date) = above.as_ref().or(unreadable) {
                if row.cells.len() <= column {
                    row.cells.resize(column + 1, compact_str::CompactString::default());
                }
                row.cells[column] = date.as_str().into();
                if !of_unread && above.is_some() {
                    count += 1;
                    first.get_or_insert(row.line);
                }
            }
        } else if own.is_some() {
            of_unread = false;
            written = own.map(str::to_owned);
            above = own.filter(|_| is_date(&row)).map(str::to_owned);
        }
        kept.push(row);
    }
    *rows = kept;
    reported(count, first).into_iter().chain(places).collect()
}

/// Rows without a date between two rows of the same date.
fn between_equal_dates(rows: &[Row], column: usize, unread: &[Unread]) -> HashSet<usize> {
    let mut between = HashSet::new();
    let (mut before, mut open) = (None, Vec::new());
    let mut later = unread.iter().peekable();
    for (place, row) in rows.iter().enumerate() {
        while later.next_if(|day| day.line < row.line).is_some() {
            before = None;
            open.clear();
        }
        let Some(own) = row.cells.get(column).and_then(|cell| filled(cell)) else {
            open.push(place);
            continue;
        };
        let own = date::read(own).map(|cell| cell.date);
        if own.is_some() && own == before {
            between.extend(open.drain(..));
        }
        open.clear();
        before = own;
    }
    between
}

/// Rows that hold only a date, perhaps with a place behind it.
fn sections(rows: &[Row], column: usize, layout: &Layout) -> Vec<(usize, days::Alone)> {
    if rows.len() < 2 || layout.slots().len() < 3 {
        return Vec::new();
    }
    let above_others = rows.iter().take(rows.len() - 1).enumerate();
    above_others.filter_map(|(place, row)| Some((place, days::alone(row, Some(column))?))).collect()
}

fn reported(count: usize, first: Option<u64>) -> Option<Error> {
    let note = Error::input(format!(
        "the date of {} was taken from the row above",
        if count == 1 { "1 row".to_owned() } else { format!("{count} rows") }
    ))
    .because(shortened("their own date is blank or a ditto mark"));
    Some(note.at_line(first?))
}

#[cfg(test)]
mod tests {
    use super::super::tests::{file, messages};

    fn dates(table: &str) -> (Vec<Option<String>>, String) {
        let read = file(table);
        let dates = read.records.iter().map(|record| record.date.map(|date| date.to_string()));
        (dates.collect(), messages(&read.remarks).join("\n"))
    }

    #[test]
    fn a_date_counts_for_the_rows_below_it() {
        let (found, said) = dates(
            "number,date,name\n1,2026-05-03,a\n2,,b\n3,,c\n4,2026-05-04,d\n5,\",\",e\n6,,f\n",
        );
        let day = |day: u32| Some(format!("2026-05-0{day}"));
        assert_eq!(found, [day(3), day(3), day(3), day(4), None, None]);
        assert!(
            said.contains("the date of 2 rows was taken from the row above (notes.csv, line 3)"),
            "{said}"
        );
    }

    #[test]
    fn a_ditto_mark_below_a_date_that_cannot_be_read_stands_for_it() {
        let read = file("number;date;name\n1;soon;a\n2;ditto;b\n3;ditto;c\n");
        let said = messages(&read.set_aside).join("\n");
        assert!(!said.contains("no date above"), "{said}");
        assert_eq!(read.records[2].other("date as written"), Some("soon"));
    }

    #[test]
    fn one_missing_date_stays_missing() {
        let (found, said) = dates("number,date,name\n1,2026-05-03,a\n2,,b\n3,2026-05-04,c\n");
        assert_eq!((found[1].as_deref(), said.as_str()), (None, ""));
        let (found, _) =
            dates("number,date,name\n1,2026-05-03,a\n2,,b\n3,3 May 2026,c\n4,2026-05-04,d\n");
        assert_eq!(found[1].as_deref(), Some("2026-05-03"));
    }

    #[test]
    fn ditto_marks_and_rows_of_a_date_alone() {
        let (found, _) = dates("number;date;name\n1;2026-05-03;a\n2;ditto;b\n3;2026-05-04;c\n");
        assert_eq!(found[1].as_deref(), Some("2026-05-03"));
        let (found, _) =
            dates("number;date;name\n3 May 2026;;\n1;;a\n4 May 2026, Fern gully;;\n2;;b\n");
        assert_eq!(found.len(), 2);
        assert_eq!(found[1].as_deref(), Some("2026-05-04"));
    }
}
