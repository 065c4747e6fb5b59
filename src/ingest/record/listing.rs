//! Reads a listing of finds that trug wrote and somebody edited in a spreadsheet, from CSV or a workbook: the
//! cells of each row under their headings. Layer: `ingest`.

use std::path::Path;

use jiff::civil::Date;

use super::book::{self, SheetRows};
use super::column::Column;
use super::columns::Columns;
use super::table::{self, Row, Table};
use super::{date, headings, no_table, sheets, text, time, too_large};
use crate::error::{Error, Result, read_regular};
use crate::model::{Field, WrittenTime};

/// Rows of title and explanation that may stand above the headings.
const ROWS_ABOVE: usize = 25;
/// The Darwin Core term of the identifier of a find.
const TERM: &str = "occurrenceID";

/// A listing.
#[derive(Clone, Debug, PartialEq)]
pub struct Listing {
    /// The headings in the order of the file.
    pub headings: Vec<String>,
    /// Each row with its line, counted from one.
    pub rows: Vec<(u64, Vec<String>)>,
    /// The sheet of a workbook.
    pub sheet: Option<String>,
    /// Lines on which a formula has no value, in order: their empty cells may have been filled.
    pub faults: Vec<u64>,
}

impl Listing {
    /// The cell of a row under a heading; `None` where the file lacks the column.
    #[must_use]
    pub fn cell<'a>(&self, row: &'a [String], heading: &str) -> Option<&'a str> {
        let column = self.headings.iter().position(|own| own.trim() == heading)?;
        Some(row.get(column).map_or("", String::as_str))
    }

    /// The cell of a row under the first heading that means this column of field records.
    #[must_use]
    pub fn cell_meaning<'a>(&self, row: &'a [String], word: &str) -> Option<&'a str> {
        let means = |own: &String| super::column_word(own) == Some(word);
        let column = self.headings.iter().position(means)?;
        Some(row.get(column).map_or("", String::as_str))
    }

    /// The identifier in a row.
    #[must_use]
    pub fn identifier<'a>(&self, row: &'a [String]) -> Option<&'a str> {
        // field records can have a column of the user that is headed like the term
        let word = Column::FindIdentifier.word();
        let own = self.cell(row, word).or_else(|| self.cell_meaning(row, word));
        let has = |heading: &str| self.headings.iter().any(|own| own.trim() == heading);
        let is_of_records = has("number") && has("date");
        own.or_else(|| self.cell(row, TERM).filter(|_| !is_of_records))
    }
}

/// The field of a find that a heading of field records means, where it is none with its own place.
#[must_use]
pub fn field(heading: &str) -> Option<Field> {
    headings::column(heading)?.field()
}

/// The dates that a cell can mean: one, or several where it does not show which number is the month or the year.
#[must_use]
pub fn dates(cell: &str) -> Vec<Date> {
    let Some(read) = date::read(cell) else { return Vec::new() };
    let mut dates = match read.date {
        date::Written::Day(day) => vec![day],
        date::Written::Open { day_first, month_first } => vec![day_first, month_first],
    };
    dates.extend(read.short.year_first());
    dates.dedup();
    dates
}

/// The days that a text means which is a date and nothing else, as [`dates`].
#[must_use]
pub fn days(text: &str) -> Vec<Date> {
    let is_whole = date::read(text).is_some_and(|read| read.rest.is_empty());
    if is_whole { dates(text) } else { Vec::new() }
}

/// The time of day in a cell.
#[must_use]
pub fn time_of_day(cell: &str) -> Option<WrittenTime> {
    time::read(cell).map(|(time, _)| time)
}

/// Reads a listing.
///
/// # Errors
/// When the file cannot be read, or has no column that identifies finds, or several sheets have one.
pub fn read(path: &Path) -> Result<Listing> {
    let failed = |source| Error::file("read", path, &source);
    let length = path.metadata().map_err(failed)?.len();
    if length > super::LARGEST {
        return Err(no_table(path, &format!("it is {} MiB long", length >> 20)));
    }
    let bytes = read_regular(path).map_err(failed)?;
    if let Some(form) = book::form(&bytes) {
        let book = book::read(&bytes, form).map_err(|refusal| sheets::refused(path, &refusal))?;
        return of_sheets(book.sheets, path);
    }
    if super::may_be_workbook(&bytes) {
        return Err(sheets::no_workbook(path));
    }
    let text = text::decoded(&bytes).ok_or_else(|| no_table(path, "it is not text"))?;
    let table = table::read(&text, &known()).map_err(|limit| too_large(path, limit))?;
    let table = table.filter(|table| identifies(&table.headings)).ok_or_else(|| none(path))?;
    if let Some(line) = table.open_quotes.first() {
        return Err(Error::input("a quotation mark is not closed")
            .because("the cells of its row cannot be separated")
            .hint("remove the mark, or save the listing again from the spreadsheet")
            .in_file(path)
            .at_line(*line));
    }
    Ok(of_table(table, None, Vec::new()))
}

/// The identifying headings count as known, so that they find the row of headings.
fn known() -> Columns {
    let mut columns = Columns::default();
    // the word is one of the guide
    let _ = columns.state(&format!("{TERM}={}", Column::FindIdentifier.word()));
    columns
}

/// Whether rows can be matched with finds: by their identifier, or by number and date.
fn identifies(headings: &[String]) -> bool {
    let is = |column: Column| headings.iter().any(|own| headings::column(own) == Some(column));
    let term = headings.iter().any(|own| own.trim() == TERM);
    term || is(Column::FindIdentifier) || is(Column::Number) && is(Column::Date)
}

fn of_table(table: Table, sheet: Option<String>, faults: Vec<u64>) -> Listing {
    let texts = |row: Row| row.cells.into_iter().map(String::from).collect();
    let rows = table.rows.into_iter().map(|row| (row.line, texts(row))).collect();
    Listing { headings: table.headings, rows, sheet, faults }
}

/// The one sheet that is a listing; hidden sheets do not count.
fn of_sheets(all: Vec<SheetRows>, path: &Path) -> Result<Listing> {
    let mut listings = Vec::new();
    for mut sheet in all.into_iter().filter(|sheet| !sheet.hidden) {
        let rows = std::mem::take(&mut sheet.rows);
        let table = table::of_rows(rows, ROWS_ABOVE, &known());
        if let Some(table) = table.filter(|table| identifies(&table.headings)) {
            listings.push(of_table(table, Some(sheet.name), sheet.faulty_rows));
        }
    }
    match listings.len() {
        0 => Err(none(path)),
        1 => Ok(listings.remove(0)),
        _ => {
            let names = listings.iter().filter_map(|listing| listing.sheet.as_deref());
            Err(Error::input("several sheets of the workbook are listings of finds")
                .because(names.collect::<Vec<_>>().join(", "))
                .hint("delete or hide all but the edited one")
                .in_file(path))
        }
    }
}

fn none(path: &Path) -> Error {
    let name = path.file_name().unwrap_or(path.as_os_str()).to_string_lossy();
    Error::input(format!("{name} is not a listing of finds"))
        .because("it has no column occurrenceID or \"find identifier\", and no columns of numbers and dates")
        .hint("write one with trug finds --format csv or xlsx, edit it and keep the column that identifies finds")
        .in_file(path)
}

#[cfg(test)]
mod tests {
    use rust_xlsxwriter::{Formula, Workbook};

    use super::*;

    fn of(content: &[u8]) -> Result<Listing> {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("edited.csv");
        std::fs::write(&path, content).unwrap();
        read(&path)
    }

    #[test]
    fn semicolons_and_missing_cells_are_read() {
        let listing =
            of(b"occurrenceID;recordNumber;locality\r\nurn:uuid:1;TH-1;Ridge\r\nurn:uuid:2\r\n")
                .unwrap();
        assert_eq!(listing.rows.len(), 2);
        let (line, row) = &listing.rows[0];
        assert_eq!((*line, listing.cell(row, "locality")), (2, Some("Ridge")));
        assert_eq!(listing.cell(&listing.rows[1].1, "locality"), Some(""));
        assert_eq!(listing.cell(row, "habitat"), None);
        assert_eq!(listing.identifier(row), Some("urn:uuid:1"));
    }

    #[test]
    fn dropped_columns_leave_what_identifies() {
        for content in
            ["occurrenceID,habitat\nurn:uuid:1,x\n", "Number,Find identifier\n1,urn:uuid:1\n"]
        {
            let listing = of(content.as_bytes()).unwrap();
            assert_eq!(listing.identifier(&listing.rows[0].1), Some("urn:uuid:1"), "{content}");
        }
        for content in
            ["Number,Date,Host\n1,2026-05-03,x\n", "number,date,occurrenceID\n1,2026-05-03,x\n"]
        {
            let listing = of(content.as_bytes()).unwrap();
            assert_eq!(listing.identifier(&listing.rows[0].1), None, "{content}");
        }
    }

    #[test]
    fn other_files_are_refused_with_the_reason() {
        assert!(
            of(b"recordNumber,locality\nTH-1,Ridge\n")
                .unwrap_err()
                .to_string()
                .contains("occurrenceID")
        );
        assert!(of(b"PK\x03\x04xlsx").unwrap_err().to_string().contains("workbook"));
        let open = of(b"occurrenceID,habitat\nurn:uuid:1,\"x\nurn:uuid:2,y\n").unwrap_err();
        assert_eq!(open.where_line(), Some(2));
    }

    #[test]
    fn one_visible_sheet_is_the_listing() {
        let sheet = |book: &mut Workbook, name: &str| {
            let page = book.add_worksheet();
            page.set_name(name).unwrap();
            for (column, heading) in (0..).zip(["occurrenceID", "recordNumber", "locality"]) {
                page.write(0, column, heading).unwrap();
            }
            page.write(1, 0, "urn:uuid:1").unwrap();
            page.write(1, 1, 212).unwrap();
            page.write_formula(1, 2, Formula::new("=X1").set_result("#N/A")).unwrap();
            name.to_owned()
        };
        let mut book = Workbook::new();
        book.add_worksheet().write(0, 0, "About").unwrap();
        sheet(&mut book, "Edited");
        let listing = of(&book.save_to_buffer().unwrap()).unwrap();
        assert_eq!(listing.sheet.as_deref(), Some("Edited"));
        assert_eq!(listing.rows[0].1[1], "212");
        assert_eq!(listing.faults, [2]);
        sheet(&mut book, "Copy");
        let two = of(&book.save_to_buffer().unwrap()).unwrap_err();
        assert_eq!(two.why(), Some("Edited, Copy"));
    }

    #[test]
    fn dates_and_times_as_people_write_them() {
        assert_eq!(dates("2026-05-03").len(), 1);
        assert_eq!(dates("03/05/2026").len(), 2);
        assert_eq!(dates("26-11-01").len(), 2);
        assert!(dates("soon").is_empty());
        assert_eq!((days("2.10.2026").len(), days("2.10.2026 9:15").len()), (1, 0));
        assert_eq!(time_of_day("9:05").unwrap().clock, time_of_day("09:05:00").unwrap().clock);
    }
}
