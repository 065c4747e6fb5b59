//! Divides the rows of a file or sheet into its tables: below headings in another order, which hold from there on, and
//! beside a column without cells, where the headings are repeated. Layer: `ingest`.

use std::collections::HashSet;

use compact_str::CompactString;

use super::column::Column;
use super::columns::Columns;
use super::headings::{bare, column};
use super::table::{self, Row, Table};
use super::{days, filled, heading_rows, shortened};
use crate::error::Error;

/// Headings that are named in a note.
const FEW: usize = 6;
/// The fewest columns that a table beside another one repeats.
const FEWEST: u32 = 3;
/// Blank headings that are tried as the border between two tables.
const MOST_TRIES: usize = 64;

/// The tables of a file or sheet, of which rows that repeat the headings are no part.
pub(super) fn divided(table: Table, columns: &Columns) -> Vec<Table> {
    let mut all = Vec::new();
    for section in below_each_other(table, columns) {
        beside_each_other(section, columns, &mut all);
    }
    all
}

/// The tables below each other.
fn below_each_other(mut table: Table, columns: &Columns) -> Vec<Table> {
    let Breaks { starts, repeats } = Breaks::of(&table, columns);
    let delimiter = table.delimiter;
    let unread_days = table.unread_days.clone();
    let mut later = Vec::with_capacity(starts.len());
    // from the last one on, so that each row is moved once
    let mut end = repeats.len();
    for start in starts.into_iter().rev() {
        let rows = table.rows.split_off(start);
        let repeats = repeats[start..end].iter();
        end = start;
        let rows = rows.into_iter().zip(repeats).filter(|(_, repeats)| !**repeats);
        let rows: Vec<Row> = rows.map(|(row, _)| row).collect();
        let line = rows.first().map_or(0, |row| row.line);
        later.extend(table::of_rows(rows, 1, columns).map(|mut section| {
            section.delimiter = delimiter;
            section.unread_days.clone_from(&unread_days);
            section.notes.insert(0, continued(&section, line));
            section
        }));
    }
    let mut kept = repeats.iter();
    table.rows.retain(|_| kept.next() != Some(&true));
    let mut all = vec![table];
    for mut section in later.into_iter().rev() {
        if let Some(before) = all.last_mut() {
            // the day of the section
            while before.rows.last().is_some_and(|row| days::alone(row, None).is_some()) {
                section.above.extend(before.rows.pop());
            }
            section.above.reverse();
        }
        all.push(section);
    }
    all
}

/// Where rows of headings stand in a table.
struct Breaks {
    /// The places of those in another order.
    starts: Vec<usize>,
    /// Of each row, whether it repeats the headings above it.
    repeats: Vec<bool>,
}

impl Breaks {
    fn of(table: &Table, columns: &Columns) -> Self {
        let mut own = table.own.clone();
        let (mut starts, mut repeats) = (Vec::new(), vec![false; table.rows.len()]);
        for (place, row) in table.rows.iter().enumerate() {
            if own.contains(&row.cells) {
                repeats[place] = true;
            } else if heading_rows::are_headings(row, columns) {
                if own.first().is_some_and(|head| has_order_of(&row.cells, head)) {
                    repeats[place] = true;
                } else if own.first().is_some_and(|head| has_columns_of(&row.cells, head)) {
                    starts.push(place);
                    own = vec![row.cells.clone()];
                }
            }
        }
        Self { starts, repeats }
    }
}

/// Whether two rows of headings name the same columns in one order.
fn has_order_of(row: &[CompactString], head: &[CompactString]) -> bool {
    let named = |row: &[CompactString]| -> Vec<(usize, String)> {
        let cells = row.iter().enumerate().filter(|(_, cell)| filled(cell).is_some());
        cells.map(|(place, cell)| (place, bare(cell))).collect()
    };
    named(row) == named(head)
}

/// Whether two rows of headings have at least two columns in common.
fn has_columns_of(row: &[CompactString], head: &[CompactString]) -> bool {
    let known = |row: &[CompactString]| -> HashSet<Column> {
        row.iter().filter_map(|cell| column(cell)).collect()
    };
    known(row).intersection(&known(head)).count() >= 2
}

fn continued(section: &Table, line: u64) -> Error {
    Error::input("the table is continued below headings in another order")
        .because(format!("from there on its columns are {}", named(&section.headings)))
        .at_line(line)
}

fn named(headings: &[String]) -> String {
    let filled_ones = || headings.iter().filter(|heading| !heading.trim().is_empty());
    let names: Vec<String> =
        filled_ones().take(FEW).map(|own| format!("\"{}\"", shortened(own.trim()))).collect();
    let more = if filled_ones().count() > FEW { ", \u{2026}" } else { "" };
    format!("{}{more}", names.join(", "))
}

/// The tables beside each other, from the left.
fn beside_each_other(mut table: Table, columns: &Columns, all: &mut Vec<Table>) {
    let mut count = 0;
    while let Some((end, begin)) = border(&table, columns) {
        let right = right_of(&mut table, end, begin);
        all.push(table);
        table = right;
        count += 1;
        // a table of so many is none of field records
        if count == FEW {
            break;
        }
    }
    all.push(table);
}

/// Where the columns of a table end and those of the next one beside it begin.
fn border(table: &Table, columns: &Columns) -> Option<(usize, usize)> {
    let heads: Vec<String> = table.headings.iter().map(|heading| bare(heading)).collect();
    let is_blank = |place: usize| table.headings[place].trim().is_empty();
    let from = (0..heads.len()).find(|place| !is_blank(*place))?;
    let known: Vec<Known> = table.headings.iter().map(|own| Known::of(own, columns)).collect();
    // the columns from each place on
    let mut behind = vec![Known::default(); heads.len() + 1];
    for place in (0..heads.len()).rev() {
        behind[place] = behind[place + 1].with(known[place]);
    }
    let mut left = known[from];
    let mut tries = 0;
    for place in from + 1..heads.len() {
        if left.is_repeated_by(behind[place]) {
            if is_blank(place) {
                tries += 1;
                if tries > MOST_TRIES {
                    return None;
                }
                if is_unfilled(table, place) {
                    let begin = (place..heads.len()).find(|at| !is_blank(*at))?;
                    return Some((place, begin));
                }
            } else if repeats_all(&heads[from..place], &heads[place..]) {
                return Some((place, place));
            }
        }
        left = left.with(known[place]);
    }
    None
}

fn is_unfilled(table: &Table, place: usize) -> bool {
    let is_empty = |row: &Row| row.cells.get(place).is_none_or(|cell| filled(cell).is_none());
    table.rows.iter().all(is_empty)
}

/// Whether headings begin with all of those before them, in one order.
fn repeats_all(left: &[String], right: &[String]) -> bool {
    let is_same = |(one, other): (&String, &String)| !one.is_empty() && one == other;
    right.len() >= left.len() && left.iter().zip(right).all(is_same)
}

/// Columns as a set.
#[derive(Clone, Copy, Default)]
struct Known(u64);

impl Known {
    fn of(heading: &str, columns: &Columns) -> Self {
        let known = columns.stated(heading).or_else(|| column(heading));
        known.map_or(Self::default(), Self::one)
    }

    fn one(column: Column) -> Self {
        Self(1 << (column as u64))
    }

    fn with(self, other: Self) -> Self {
        Self(self.0 | other.0)
    }

    /// Whether headings repeat these: at least three, half of them or more, and among them one of finds.
    fn is_repeated_by(self, other: Self) -> bool {
        let common = self.0 & other.0;
        let of_finds = [Column::Number, Column::Name, Column::Genus];
        common.count_ones() >= FEWEST
            && 2 * common.count_ones() >= other.0.count_ones()
            && of_finds.into_iter().any(|column| common & Self::one(column).0 != 0)
    }
}

/// Takes the columns from `begin` on out of a table, which ends before `end`. They keep their places.
fn right_of(table: &mut Table, end: usize, begin: usize) -> Table {
    let take = |row: &mut Row| -> Option<Row> {
        let right: Vec<CompactString> = row.cells.get(begin..)?.to_vec();
        row.cells.truncate(end);
        let mut cells = vec![CompactString::default(); begin];
        cells.extend(right);
        cells.iter().any(|cell| !cell.trim().is_empty()).then_some(Row { line: row.line, cells })
    };
    let rows = table.rows.iter_mut().filter_map(take).collect();
    table.rows.retain(|row| row.cells.iter().any(|cell| !cell.trim().is_empty()));
    let own_above: Vec<Row> = table.above.iter_mut().filter_map(take).collect();
    // one title stands above both
    let above = if own_above.is_empty() { table.above.clone() } else { own_above };
    let mut headings = vec![String::new(); begin];
    headings.extend(table.headings.split_off(begin));
    table.headings.truncate(end);
    let note = Error::input("another table stands beside the first one; both are read")
        .because(format!("its columns are {}", named(&headings)));
    let note = match headings.iter().position(|heading| !heading.trim().is_empty()) {
        Some(column) => note.at_column(column),
        None => note,
    };
    Table {
        headings,
        above,
        rows,
        delimiter: table.delimiter,
        open_quotes: Vec::new(),
        own: Vec::new(),
        notes: vec![note],
        unread_days: table.unread_days.clone(),
    }
}

#[cfg(test)]
mod tests {
    use super::super::tests::{file, messages};

    fn finds(text: &str) -> (Vec<String>, Vec<String>) {
        let read = file(text);
        assert_eq!(messages(&read.set_aside), [""; 0], "{text}");
        let find = |record: &crate::model::Record| {
            let number = record.number.as_ref().map_or("", |number| number.0.as_str());
            let date = record.date.map(|date| date.to_string()).unwrap_or_default();
            let text = |text: &Option<String>| text.clone().unwrap_or_default();
            format!(
                "{} {number} {date} {} {}",
                record.line,
                text(&record.name),
                text(&record.place)
            )
        };
        (read.records.iter().map(find).collect(), messages(&read.remarks))
    }

    #[test]
    fn headings_in_another_order_hold_from_there_on() {
        let (finds, notes) = finds(
            "Nr.;Datum;Art;Ort\n1;13.5.2026;Mycena;Bach\n2;13.5.2026;Russula;Bach\n\
             Art;Ort;Nr.;Datum;H\u{f6}he (m)\nLactarius;Hang;3;14.5.2026;310\n\
             Nr.;Datum;Art;Ort\n4;15.5.2026;Boletus;Moor\nNR.;DATUM;ART;ORT\n5;15.5.2026;Amanita;Moor\n",
        );
        assert_eq!(
            finds,
            [
                "2 1 2026-05-13 Mycena Bach",
                "3 2 2026-05-13 Russula Bach",
                "5 3 2026-05-14 Lactarius Hang",
                "7 4 2026-05-15 Boletus Moor",
                "9 5 2026-05-15 Amanita Moor",
            ]
        );
        let continued = notes.iter().filter(|note| note.contains("in another order"));
        assert_eq!(continued.count(), 2, "{notes:?}");
    }

    #[test]
    fn a_table_above_headings_of_which_more_are_known_is_read() {
        let (finds, _) = finds(
            "Nr.;Datum;Art\n1;13.5.2026;Mycena\n\nNr.;Ort;Datum;Art;Finder\n2;Bach;14.5.2026;Russula;A. Heron\n",
        );
        assert_eq!(finds, ["2 1 2026-05-13 Mycena ", "5 2 2026-05-14 Russula Bach"]);
    }

    #[test]
    fn words_about_the_outing_above_the_headings_are_no_finds() {
        let (finds, _) = finds(
            "Finder;Ort;Datum\nA. Heron;Bach;13.5.2026\nNr.;Datum;Art;Ort\n1;13.5.2026;Mycena;Bach\n",
        );
        assert_eq!(finds, ["4 1 2026-05-13 Mycena Bach"]);
    }

    #[test]
    fn a_find_of_words_that_are_headings_is_a_find() {
        let (finds, _) = finds(
            "number;date;name;place;host;notes\n1;2026-05-13;Mycena;Forest;Tree;Photo\n\
             ;;Mushroom;Forest;;Moss on a fallen log\n",
        );
        assert_eq!(finds.len(), 2);
    }

    #[test]
    fn the_order_of_dates_is_that_of_all_sections() {
        let (finds, _) =
            finds("number;date;name\n1;13/5/2026;Mycena\nname;number;date\nRussula;2;3/5/2026\n");
        assert_eq!(finds[1], "4 2 2026-05-03 Russula ");
    }

    #[test]
    fn the_day_above_later_headings_is_theirs() {
        let (finds, _) = finds(
            "13.5.2026;;\nNr.;Uhrzeit;Art\n1;9:15;Mycena\n14.5.2026;;\nArt;Nr.;Uhrzeit\nRussula;2;9:30\n",
        );
        assert_eq!(finds, ["3 1 2026-05-13 Mycena ", "6 2 2026-05-14 Russula "]);
    }

    #[test]
    fn tables_beside_each_other_are_both_read() {
        for (between, repeated) in [(";", "Nr.;Art;Datum"), ("", "Nr.;Datum;Art")] {
            let right = |number: &str| match between {
                "" => format!("{number};14.5.2026;Boletus"),
                _ => format!("{number};Boletus;14.5.2026"),
            };
            let (finds, notes) = finds(&format!(
                "Nr.;Datum;Art;{between}{repeated}\n1;13.5.2026;Mycena;{between}{}\n2;13.5.2026;Russula;{between};;\n\
                 ;;;{between}{}\n",
                right("11"),
                right("12")
            ));
            assert_eq!(
                finds,
                [
                    "2 1 2026-05-13 Mycena ",
                    "3 2 2026-05-13 Russula ",
                    "2 11 2026-05-14 Boletus ",
                    "4 12 2026-05-14 Boletus ",
                ]
            );
            assert!(
                notes.iter().any(|note| note.contains("another table stands beside")),
                "{notes:?}"
            );
        }
    }

    #[test]
    fn columns_that_repeat_some_headings_are_no_other_table() {
        let (finds, _) =
            finds("Nr.;Datum;Art;Ort;;Datum;Ort\n1;13.5.2026;Mycena;Bach;;14.5.2026;Museum\n");
        assert_eq!(finds.len(), 1);
    }
}
