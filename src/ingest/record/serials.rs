//! Writes out dates and times that a sheet keeps as plain serial numbers, because the format of their
//! cells was lost, and final zeros of coordinates, which a spreadsheet drops. Layer: `ingest`.

use super::book::{Shown, serial};
use super::column::Column;
use super::columns::Columns;
use super::filled;
use super::layout::Layout;
use super::table::Table;
use crate::error::Error;

/// Serial numbers of dates from 1927 to 2119, of the first system.
const DATES: std::ops::Range<f64> = 10_000.0..80_000.0;

/// Replaces serial numbers by dates and times; reports them.
pub(super) fn written_out(table: &mut Table, columns: &Columns, from_1904: bool) -> Option<Error> {
    let layout = Layout::of(table, columns);
    let (dates, times) = (layout.place(Column::Date), layout.place(Column::Time));
    let mut first = None;
    let mut count = 0;
    // a time such as 9:36 has the short fraction 0.4: the other cells of the column tell what it is
    let fractions = times.is_some_and(|time| {
        let cells = table.rows.iter().filter_map(|row| row.cells.get(time));
        let cells: Vec<_> = cells.collect();
        cells.iter().any(|cell| date_or_time(cell, true, from_1904).is_some())
            || are_fractions(&cells)
    });
    for row in &mut table.rows {
        for (column, shown) in [(dates, Shown::Unknown), (times, Shown::Time)] {
            let Some((place, cell)) = column.and_then(|c| Some((c, row.cells.get_mut(c)?))) else {
                continue;
            };
            let is_time = shown == Shown::Time;
            let text = date_or_time(cell, is_time, from_1904);
            let short = || short_fraction(cell).filter(|_| is_time && fractions);
            if let Some(text) = text.or_else(short) {
                first.get_or_insert_with(|| (row.line, place, cell.clone(), text.clone()));
                count += 1;
                *cell = text.into();
            }
        }
    }
    for column in [Column::Latitude, Column::Longitude] {
        if let Some(place) = layout.place(column) {
            final_zeros(table, place);
        }
    }
    let (line, column, number, text) = first?;
    Some(
        Error::input(format!(
            "{count} {} read from serial numbers",
            if count == 1 { "date or time was" } else { "dates and times were" }
        ))
        .because(format!("{number} stands for {text} in the date system of the workbook"))
        .hint("give the cells the format of a date or a time")
        .at_line(line)
        .at_column(column),
    )
}

fn date_or_time(cell: &str, is_time: bool, from_1904: bool) -> Option<String> {
    let plain = cell.bytes().all(|byte| byte.is_ascii_digit() || byte == b'.');
    let value: f64 = if plain { cell.parse().ok()? } else { return None };
    let fraction = cell.split_once('.').map_or(0, |(_, digits)| digits.len());
    if DATES.contains(&value) && cell.split('.').next().is_some_and(|whole| whole.len() == 5) {
        return Some(serial(value, from_1904, if is_time { Shown::Time } else { Shown::Unknown }));
    }
    // common practice: nobody writes an hour with more than three decimals
    (is_time && value < 1.0 && fraction > 3).then(|| serial(value, false, Shown::Time))
}

/// Whether all times of a column are less than one, and one of them is no time such as `0.55`.
fn are_fractions(cells: &[&compact_str::CompactString]) -> bool {
    let filled = || cells.iter().filter_map(|cell| filled(cell));
    let no_clock = |cell: &str| short_fraction(cell).is_some() && cell.len() != "0.55".len();
    filled().count() > 1
        && filled().all(|cell| short_fraction(cell).is_some())
        && filled().any(no_clock)
}

/// The time of a fraction of a day with few decimals.
fn short_fraction(cell: &str) -> Option<String> {
    let digits = cell.strip_prefix("0.")?;
    let plain = !digits.is_empty() && digits.bytes().all(|byte| byte.is_ascii_digit());
    plain.then(|| serial(cell.parse().unwrap_or(0.0), false, Shown::Time))
}

/// Adds one final zero where all other numbers of the column have one decimal more: one number in ten
/// ends in a zero, which a spreadsheet does not keep.
fn final_zeros(table: &mut Table, place: usize) {
    let decimals = |cell: &str| {
        let number = cell.trim_start_matches('-');
        let (whole, fraction) = number.split_once('.')?;
        let digits = |text: &str| !text.is_empty() && text.bytes().all(|b| b.is_ascii_digit());
        (digits(whole) && digits(fraction)).then_some(fraction.len())
    };
    let most = table.rows.iter().filter_map(|row| decimals(row.cells.get(place)?)).max();
    let Some(most) = most.filter(|most| (3..=8).contains(most)) else { return };
    for row in &mut table.rows {
        if let Some(cell) = row.cells.get_mut(place)
            && decimals(cell) == Some(most - 1)
        {
            cell.push('0');
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn serial_numbers_without_a_format() {
        assert_eq!(date_or_time("46145", false, false).as_deref(), Some("2026-05-03"));
        assert_eq!(date_or_time("44683", false, true).as_deref(), Some("2026-05-03"));
        assert_eq!(date_or_time("0.586805556", true, false).as_deref(), Some("14:05:00"));
        assert_eq!(date_or_time("46145.586805556", true, false).as_deref(), Some("14:05:00"));
        for kept in ["14.05", "1405", "2026", "20260503", "9", "0.5", "3.5.26"] {
            assert_eq!(date_or_time(kept, true, false), None, "{kept}");
        }
        assert_eq!(short_fraction("0.4").as_deref(), Some("09:36:00"));
        assert_eq!(short_fraction("9.36"), None);
        let are = |all: &[&str]| {
            let cells: Vec<compact_str::CompactString> =
                all.iter().map(|cell| (*cell).into()).collect();
            are_fractions(&cells.iter().collect::<Vec<_>>())
        };
        assert!(are(&["0.5", "0.625", "0.55", "0.75"]) && are(&["", "0.5", "0.55"]));
        assert!(!are(&["0.55", "0.15"]) && !are(&["0.5", "9.36"]) && !are(&["0.5"]));
    }
}
