//! Finds the row of headings of a table, or the two rows of which the second continues the first: `Fund-` above
//! `nummer`, `Altitude` above `(m)`. Layer: `ingest`.

use std::ops::RangeInclusive;

use super::column::Column;
use super::columns::Columns;
use super::filled;
use super::headings::column;
use super::table::Row;
use super::units_row;
use crate::error::Error;

/// A cell of a second row of headings is not longer, characters.
const LONGEST: usize = 40;

/// The headings of a table.
pub(super) struct Headings {
    /// The rows that hold them.
    pub(super) rows: RangeInclusive<usize>,
    pub(super) cells: Vec<String>,
    /// How many are known.
    pub(super) known: usize,
    /// The note on a row of units below them.
    pub(super) note: Option<Error>,
}

/// The headings among the first rows: those of which the most are known, at least two.
pub(super) fn find(rows: &[Row], above: usize, columns: &Columns) -> Option<Headings> {
    let counted = rows.iter().take(above).map(|row| known(&row.cells, columns)).enumerate();
    let (head, known) = counted.reduce(|best, next| if next.1 > best.1 { next } else { best })?;
    (known >= 2).then(|| {
        let (head, known) = earlier(rows, head, columns).unwrap_or((head, known));
        let cells = rows[head].cells.iter().map(ToString::to_string).collect();
        let single = Headings { rows: head..=head, cells, known, note: None };
        let pairs = [head.checked_sub(1).map(|upper| (upper, head)), Some((head, head + 1))];
        let joined = pairs.into_iter().flatten();
        let joined = joined.filter_map(|(upper, lower)| of_two(rows, upper, lower, columns));
        let better = |best, next: Headings| if next.is_better(&best, rows) { next } else { best };
        joined.fold(single, better).with_units(rows, columns)
    })
}

/// The headings of an earlier table: a notebook may be continued below headings of which more are known. A row of
/// headings alone, or with one row of words about the outing, is none.
fn earlier(rows: &[Row], head: usize, columns: &Columns) -> Option<(usize, usize)> {
    let of_finds = |row: &Row| {
        row.cells
            .iter()
            .any(|cell| matches!(column(cell), Some(Column::Number | Column::Name | Column::Genus)))
    };
    let is_record = |row: &&Row, most: usize| {
        let filled_cells = row.cells.iter().filter(|cell| filled(cell).is_some()).count();
        let has_digit = row.cells.iter().any(|cell| cell.contains(|c: char| c.is_ascii_digit()));
        has_digit && filled_cells >= 2 && filled_cells <= most
    };
    (0..head).find_map(|place| {
        let row = &rows[place];
        if !are_headings(row, columns) || !of_finds(row) {
            return None;
        }
        let has = |wanted| row.cells.iter().any(|cell| column(cell) == Some(wanted));
        let complete = has(Column::Number) && (has(Column::Name) || has(Column::Genus));
        let below = rows[place + 1..head].iter();
        let records = below.filter(|below| is_record(below, row.cells.len())).count();
        let enough = records >= if complete { 1 } else { 2 };
        enough.then(|| (place, known(&row.cells, columns)))
    })
}

/// Whether a row within a table is one of headings: at least three are known, and most of its cells, none of which has
/// a digit.
pub(super) fn are_headings(row: &Row, columns: &Columns) -> bool {
    let mut count = 0;
    for cell in &row.cells {
        if cell.contains(|c: char| c.is_ascii_digit()) || cell.chars().count() > LONGEST {
            return false;
        }
        count += usize::from(filled(cell).is_some());
    }
    count >= 3 && {
        let known = known(&row.cells, columns);
        known >= 3 && 3 * known >= 2 * count
    }
}

impl Headings {
    /// With the units in the row below, where it is one of units.
    fn with_units(mut self, rows: &[Row], columns: &Columns) -> Self {
        let below = self.rows.end() + 1;
        if let Some(row) = rows.get(below)
            && units_row::is_units(&self.cells, row, columns)
        {
            self.note = Some(units_row::joined(&mut self.cells, row));
            self.rows = *self.rows.start()..=below;
            self.known = known(&self.cells, columns);
        }
        self
    }

    /// Whether joining rows makes more headings known, or adds only what stands in brackets.
    fn is_better(&self, other: &Self, rows: &[Row]) -> bool {
        let in_brackets = |cell: &str| cell.starts_with(['(', '[']) && cell.ends_with([')', ']']);
        let second = &rows[*self.rows.end()].cells;
        let only_brackets = second.iter().filter_map(|cell| filled(cell)).all(in_brackets);
        self.known > other.known
            || self.known == other.known && only_brackets && self.rows.start() == other.rows.start()
    }
}

fn of_two(rows: &[Row], upper: usize, lower: usize, columns: &Columns) -> Option<Headings> {
    let (first, second) = (rows.get(upper)?, rows.get(lower)?);
    // rows of data have numbers
    let of_headings = |row: &Row| {
        row.cells.iter().all(|cell| {
            !cell.contains(|c: char| c.is_ascii_digit()) && cell.chars().count() <= LONGEST
        })
    };
    if !of_headings(first) || !of_headings(second) {
        return None;
    }
    let upper_cells: Vec<String> = first.cells.iter().map(ToString::to_string).collect();
    if units_row::is_units(&upper_cells, second, columns) {
        return None;
    }
    let width = first.cells.len().max(second.cells.len());
    let cell =
        |row: &Row, place: usize| row.cells.get(place).map_or("", |cell| cell.trim()).to_owned();
    let is_known = |cell: &str| columns.stated(cell).or_else(|| column(cell)).is_some();
    let cells = (0..width).map(|place| {
        let (upper, lower) = (cell(first, place), cell(second, place));
        let joined = joined(&upper, &lower);
        // `Anzahl` above `FK`
        let addition = !is_known(&joined) && is_known(&upper);
        if addition { format!("{upper} ({lower})") } else { joined }
    });
    let cells: Vec<String> = cells.collect();
    let known = known(&cells, columns);
    Some(Headings { rows: upper..=lower, cells, known, note: None })
}

/// A heading in two rows: a word that a hyphen divides is whole again.
fn joined(upper: &str, lower: &str) -> String {
    let divided = upper.strip_suffix('-').filter(|_| lower.starts_with(char::is_lowercase));
    match divided {
        Some(front) => format!("{front}{lower}"),
        None => format!("{upper} {lower}").trim().to_owned(),
    }
}

/// How many columns the cells of a row name.
fn known<T: AsRef<str>>(cells: &[T], columns: &Columns) -> usize {
    let of_cell = |cell: &T| columns.stated(cell.as_ref()).or_else(|| column(cell.as_ref()));
    let mut known: Vec<Column> = cells.iter().filter_map(of_cell).collect();
    known.sort_unstable();
    known.dedup();
    known.len()
}

#[cfg(test)]
mod tests {
    use super::super::tests::file;

    #[test]
    fn two_rows_of_headings_are_one() {
        let read = file(
            "Fund-;Datum;Uhr-;Fundort;Art;H\u{f6}he;Anzahl\nnummer;;zeit;;(wiss. Name);(m \u{fc}.M.);FK\n\
             007;2026-05-03;9:11;Brook;Mycena;310;3\n",
        );
        let [record] = &read.records[..] else { panic!("{:?}", read.records) };
        assert_eq!(record.number.as_ref().map(|number| number.0.as_str()), Some("007"));
        assert_eq!(record.elevation.map(|elevation| elevation.0), Some(310.0));
        assert!(record.time.is_some() && record.line == 3);
    }

    #[test]
    fn a_row_of_units_alone_is_part_of_the_headings_and_a_find_is_not() {
        let read = file("number;date;name;elevation\n;;(latin);(m)\n1;2026-05-03;Mycena;310\n");
        assert_eq!(read.records.len(), 1);
        for find in ["a;;Mycena;", ";;Mycena (sp.);", ";;Photo;", "a;ditto;Mycena;high"] {
            let read =
                file(&format!("number;date;name;elevation\n{find}\n1;2026-05-03;Mycena;310\n"));
            assert_eq!(read.records.len(), 2, "{find}");
        }
    }
}
