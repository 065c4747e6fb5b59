//! Reads field records from CSV: detects delimiter, encoding and headings, parses dates and times
//! as people write them, and keeps every cell. Refuses files without two known headings; never
//! executes or changes a cell. Layer: `ingest`.

mod abbreviated;
mod about;
mod alike;
mod as_dates;
mod below;
mod beside;
mod book;
mod by_content;
mod column;
mod columns;
mod date;
mod day_places;
mod day_rows;
mod days;
mod ditto;
mod english;
mod gaps;
mod heading_rows;
mod headings;
mod layout;
mod length;
mod lengths;
mod letter_o;
pub mod listing;
mod months;
mod nearest;
mod numbered;
mod of_finds;
mod out_of_order;
mod people;
mod photos;
mod qualifier;
mod quotes;
mod row;
mod sections;
mod serials;
mod sheets;
mod table;
pub(in crate::ingest) mod text;
mod time;
mod totals;
mod translated;
mod units_row;
mod unread;
mod verbatim;
mod weekdays;
mod without;
mod years;

#[cfg(test)]
mod tests;

use std::path::Path;

pub use self::columns::{Columns, Remembered};

use self::column::Column;
use self::date::Order;
use self::layout::Layout;
use self::length::Quantity;
use self::row::Reader;
use self::table::{Limit, Row, Table};
use self::time::Habit;
use self::unread::Unread;
use crate::error::{Error, Result, merged, read_regular};
use crate::model::{FileKind, Record, RecordFile, Sheet, SourceFile, WrittenTime};

/// The largest file of field records (project choice).
pub const LARGEST: u64 = 64 * 1024 * 1024;

/// Reads a file of field records.
///
/// Cells that cannot be read are reported in [`RecordFile::set_aside`] with their line and kept
/// among the fields of the record; assumptions are reported in [`RecordFile::remarks`].
///
/// # Errors
/// When the file cannot be read, is no text, or no row of it names at least two columns that are
/// known.
///
/// # References
/// Darwin Core quick reference (TDWG) for the names of terms; RFC 4180 for CSV.
pub fn read(path: &Path) -> Result<RecordFile> {
    read_with(path, &Columns::default())
}

/// Reads a file of field records whose columns are partly mapped.
///
/// # Errors
/// As [`read`].
pub fn read_with(path: &Path, columns: &Columns) -> Result<RecordFile> {
    let failed = |source| Error::file("read", path, &source);
    let length = path.metadata().map_err(failed)?.len();
    if length > LARGEST {
        return Err(no_table(path, &format!("it is {} MiB long", length >> 20)));
    }
    of_bytes(&read_regular(path).map_err(failed)?, path, columns)
}

/// Reads field records from memory; `path` names the file.
///
/// # Errors
/// As [`read`].
pub fn read_from(bytes: &[u8], path: &Path) -> Result<RecordFile> {
    of_bytes(bytes, path, &Columns::default())
}

fn of_bytes(bytes: &[u8], path: &Path, columns: &Columns) -> Result<RecordFile> {
    // on the threads that read the rows, so that memory which one step frees serves the next
    let parts = rayon::scope(|_| parts(bytes, path, columns))?;
    let Parts { records, set_aside, remarks, .. } = parts;
    let here = |error: Error| error.in_file(path);
    Ok(RecordFile {
        source: SourceFile {
            path: path.to_owned(),
            kind: FileKind::Records,
            bytes: bytes.len() as u64,
            hash: blake3::hash(bytes).to_hex().to_string(),
        },
        records,
        set_aside: first_of(set_aside, "cells cannot be read").into_iter().map(here).collect(),
        remarks: first_of(remarks, "notes on rows").into_iter().map(here).collect(),
    })
}

fn parts(bytes: &[u8], path: &Path, columns: &Columns) -> Result<Parts> {
    Ok(if let Some(form) = book::form(bytes) {
        sheets::read(bytes, form, path, columns)?
    } else if may_be_workbook(bytes) {
        return Err(sheets::no_workbook(path));
    } else {
        let text = text::decoded(bytes).ok_or_else(|| no_table(path, "it is not text"))?;
        let table = table::read_whole(&text, columns).map_err(|limit| too_large(path, limit))?;
        let mut table = table.ok_or_else(|| no_table(path, &first_words(&text)))?;
        let of_days = day_rows::completed(&mut table, columns, "");
        table.notes.extend(of_days);
        drop(text);
        records_of(sections::divided(table, columns), None, columns)
    })
}

/// What one table gives.
#[derive(Default)]
struct Parts {
    records: Vec<Record>,
    set_aside: Vec<Error>,
    remarks: Vec<Error>,
    /// The lines of totals, which are no records.
    totals: Vec<u64>,
}

/// The records of the tables of a file; of a workbook's sheet with its place in it.
fn records_of(tables: Vec<Table>, sheet: Option<&Sheet>, columns: &Columns) -> Parts {
    let prepared: Vec<Prepared> =
        tables.into_iter().map(|table| Prepared::of(table, sheet, columns)).collect();
    let mut order = Order::default();
    for table in &prepared {
        table.learn_order(&mut order);
    }
    let order = order.learned();
    let mut parts = Parts::default();
    let open_quotes: Vec<u64> =
        prepared.iter().flat_map(|own| own.table.open_quotes.iter().copied()).collect();
    for table in prepared {
        table.read(order, sheet, &mut parts);
    }
    parts.set_aside.sort_by_key(Error::where_line);
    parts.remarks.extend(habit(&mut parts.records));
    parts.remarks.extend(out_of_order::reported(&parts.records));
    let row = if sheet.is_some() { "row" } else { "line" };
    parts.remarks.extend(order_reported(order, row));
    parts.remarks.extend(year_first_reported(order, row));
    parts.remarks.extend(open_quotes.into_iter().map(open_quote));
    parts.set_aside = merged(std::mem::take(&mut parts.set_aside), row);
    parts.remarks = merged(std::mem::take(&mut parts.remarks), row);
    if let Some(sheet) = sheet {
        let of_sheet = |error: Error| error.in_sheet(Some(&sheet.name));
        parts.set_aside = parts.set_aside.into_iter().map(of_sheet).collect();
        parts.remarks = parts.remarks.into_iter().map(of_sheet).collect();
    }
    parts
}

/// A table whose rows are those of records, with its layout and the notes on both.
struct Prepared {
    table: Table,
    layout: Layout,
    /// The lines of totals.
    totals: Vec<u64>,
    notes: Vec<Error>,
    /// Ditto marks without a text above them.
    set_aside: Vec<Error>,
    /// The ditto marks as written.
    marks: ditto::Written,
}

impl Prepared {
    fn of(mut table: Table, sheet: Option<&Sheet>, columns: &Columns) -> Self {
        let mut of_table = std::mem::take(&mut table.notes);
        by_content::with_letters(&mut table);
        if sheet.is_none() {
            of_table.extend(below::taken_out(&mut table, columns, false));
        }
        of_table.extend(beside::with_only_year(&mut table, columns));
        let of_sheet = days::given(&mut table, columns, sheet.map(|sheet| &*sheet.name));
        let layout = Layout::of(&table, columns);
        let mut notes = nearest::unknown_columns(&table, &layout, sheet.is_some());
        notes.extend(alike::reported(&table, &layout, sheet.is_some()));
        notes.extend(stated(columns, &table.headings));
        let (summed, rows): (Vec<Row>, Vec<Row>) =
            std::mem::take(&mut table.rows).into_iter().partition(|row| {
                totals::is_total(&layout, row)
                    || totals::is_print_date(row)
                    || totals::is_nothing(&layout, row)
            });
        table.rows = rows;
        let filled_down = gaps::fill_dates(&mut table.rows, &layout, &table.unread_days);
        let marks = ditto::resolved(&mut table.rows, &layout, sheet.is_some());
        notes.extend(of_table);
        notes.extend(summed.iter().map(totals::reported));
        notes.extend(of_sheet);
        notes.extend(filled_down);
        notes.extend(marks.notes);
        let totals = summed.iter().map(|row| row.line).collect();
        let (set_aside, marks) = (marks.set_aside, marks.written);
        Self { table, layout, totals, notes, set_aside, marks }
    }

    /// Learns the order of day and month from the dates of the table.
    fn learn_order(&self, order: &mut Order) {
        let headings = &self.table.headings;
        order.by_headings |= headings.iter().filter(|own| translated::is_foreign(own)).count() >= 2;
        for row in &self.table.rows {
            for cell in self.layout.cells(row, Column::Date).filter_map(date::read) {
                order.learn(&cell, row.line);
            }
        }
    }

    fn read(self, order: Order, sheet: Option<&Sheet>, parts: &mut Parts) {
        let Self { table, layout, totals, notes, set_aside: of_marks, marks } = self;
        let (letter, of_letter) = letter_o::of(&table, &layout);
        let reader = Reader {
            layout: &layout,
            order,
            elevations: layout.lengths(&table, Column::Elevation, Quantity::Elevation),
            highest: layout.lengths(&table, Column::Highest, Quantity::Elevation),
            uncertainties: layout.lengths(&table, Column::Uncertainty, Quantity::Uncertainty),
            delimiter: table.delimiter,
            letter,
            marks: &marks,
            sheet: sheet.cloned(),
            set_aside: Vec::new(),
            unread: Vec::new(),
            seen: 0,
            remarks: Vec::new(),
        };
        let (records, reader) = reader.all(table.rows);
        let Reader { set_aside, unread, remarks, .. } = reader;
        let mut unread: Vec<(usize, Error)> =
            unread.into_iter().flat_map(Unread::reported).collect();
        unread.sort_by_key(|(order, _)| *order);
        parts.set_aside.extend(unread.into_iter().map(|(_, error)| error));
        parts.set_aside.extend(of_marks);
        parts.set_aside.extend(set_aside);
        let (of_columns, of_rows): (Vec<Error>, Vec<Error>) =
            notes.into_iter().partition(|note| note.where_line().is_none());
        parts.remarks.extend(of_columns);
        parts.remarks.extend(of_letter);
        parts.remarks.extend(remarks);
        parts.remarks.extend(of_rows);
        if parts.records.is_empty() {
            // most files have one table: its records stay where they are
            parts.records = records;
        } else {
            parts.records.extend(records);
        }
        parts.totals.extend(totals);
    }
}

/// The codes of the languages in which headings are known.
pub const LANGUAGE_CODES: [&str; 13] =
    ["en", "de", "fr", "es", "pt", "it", "nl", "da", "no", "sv", "fi", "pl", "cs"];

/// The English name of a language with such a code.
#[must_use]
pub fn language_name(code: &str) -> Option<&'static str> {
    translated::LANGUAGES.iter().find(|(own, _)| *own == code).map(|(_, name)| *name)
}

/// The heading of a column in a language; the word of the column itself where it is not known.
#[must_use]
pub fn heading(word: &'static str, language: &str) -> &'static str {
    let column = Column::all().find(|column| column.word() == word);
    column.map_or(word, |column| translated::heading(column, language))
}

/// The word of the column that a heading means.
#[must_use]
pub fn column_word(heading: &str) -> Option<&'static str> {
    headings::column(heading).map(Column::word)
}

/// Whether a file that begins like this is a table of records that [`read`] takes.
#[must_use]
pub fn is_table(front: &[u8]) -> bool {
    is_table_with(front, &Columns::default())
}

/// Whether it is one with the columns that a user maps.
pub(crate) fn is_table_with(front: &[u8], columns: &Columns) -> bool {
    // a table that exceeds a limit is still a table; its reader reports the limit
    text::decoded(front).is_some_and(|text| !matches!(table::read(&text, columns), Ok(None)))
}

/// Columns that only an export computes.
const OWN_HEADINGS: [&str; 8] = [
    "occurrenceID",
    "eventID",
    "basisOfRecord",
    "occurrenceStatus",
    "georeferenceProtocol",
    "georeferenceRemarks",
    "informationWithheld",
    "dataGeneralizations",
];

/// Whether a file that begins like this is a table of finds that trug itself exported: it has
/// columns that only an export computes: the identifier of each find and its locating method.
#[must_use]
pub fn is_own_export(front: &[u8]) -> bool {
    let table = text::decoded(front)
        .and_then(|text| table::read(&text, &Columns::default()).ok().flatten());
    table.is_some_and(|table| has_own_headings(&table.headings) && has_own_identifiers(&table))
}

/// Whether a table that begins like this is a checklist of taxa and not of finds.
#[must_use]
pub fn is_checklist(front: &[u8]) -> bool {
    let first = text::decoded(front);
    let first = first.as_deref().and_then(|text| text.lines().find(|line| !line.trim().is_empty()));
    let Some(first) = first else { return false };
    let headings: Vec<String> = first.split(['\t', ',', ';', '|']).map(headings::bare).collect();
    let has = |wanted: &[&str]| wanted.iter().any(|word| headings.iter().any(|own| own == word));
    let references = ["taxonid", "acceptednameusageid", "acceptednameusage", "parentnameusageid"];
    let of_finds = ["eventdate", "date", "recordnumber", "recordedby", "occurrenceid", "locality"];
    has(&["scientificname"]) && has(&references) && !has(&of_finds)
}

/// Whether its rows, if any, identify finds as trug does. Other programs write the same Darwin Core terms.
fn has_own_identifiers(table: &table::Table) -> bool {
    table.rows.first().is_none_or(|row| has_own_identifier(&table.headings, row))
}

fn has_own_identifier(headings: &[String], row: &table::Row) -> bool {
    let column = headings.iter().position(|heading| heading.trim() == OWN_HEADINGS[0]);
    let cell = column.and_then(|column| row.cells.get(column));
    cell.is_some_and(|id| id.starts_with("urn:uuid:"))
}

/// Whether these are headings of a table that trug exported.
fn has_own_headings(headings: &[String]) -> bool {
    OWN_HEADINGS.iter().all(|heading| headings.iter().any(|own| own.trim() == *heading))
}

/// Whether a file that begins like this may be a workbook: an archive or a compound file.
#[must_use]
pub fn may_be_workbook(front: &[u8]) -> bool {
    front.starts_with(b"PK\x03\x04") || front.starts_with(b"\xd0\xcf\x11\xe0")
}

/// Whether a file is a workbook, by all of its content.
#[must_use]
pub fn is_workbook(bytes: &[u8]) -> bool {
    book::form(bytes).is_some()
}

/// Whether a file that begins like this is text at all.
#[must_use]
pub fn is_text(front: &[u8]) -> bool {
    text::decoded(front).is_some()
}

/// The cell without the blanks around it; `None` where it is empty, or a dash for nothing.
fn filled(cell: &str) -> Option<&str> {
    let cell = cell.trim();
    let nothing = ["", "-", "\u{2013}", "\u{2014}", "n/a", "N/A", "NA", "null", "NULL"];
    (!nothing.contains(&cell)).then_some(cell)
}

/// A cell as a message quotes it.
fn shortened(text: &str) -> String {
    const LONGEST: usize = 80;
    match text.char_indices().nth(LONGEST) {
        Some((end, _)) => format!("{}\u{2026}", &text[..end]),
        None => text.to_owned(),
    }
}

/// Messages of a file, of which the first are reported and the rest counted.
fn first_of(mut messages: Vec<Error>, what: &str) -> Vec<Error> {
    const MOST: usize = 1_000;
    let more = messages.len().saturating_sub(MOST);
    if more > 0 {
        messages.truncate(MOST);
        messages.push(
            Error::input(format!("{more} more {what}"))
                .because(format!("the first {MOST} of this file are listed"))
                .hint("every cell is kept in the fields of its record, as written"),
        );
    }
    messages
}

fn order_reported(order: Order, row: &str) -> Option<Error> {
    let (name, line) = match (order.day_first, order.month_first) {
        (Some(line), None) => ("day", line),
        (None, Some(line)) => ("month", line),
        (Some(day), Some(month)) => {
            return Some(
                Error::input("the dates of this file use different orders")
                    .because(format!("{row} {day} puts the day first, {row} {month} the month"))
                    .hint("write dates like 2026-05-03"),
            );
        }
        (None, None) => return None,
    };
    Some(
        Error::input(format!("dates were read with the {name} first"))
            .because(format!("{row} {line} shows it")),
    )
}

/// The note on dates whose year of two digits stands first.
fn year_first_reported(order: Order, row: &str) -> Option<Error> {
    if order.years.first() != Some(true) {
        return None;
    }
    let why = match order.years.shown_first {
        Some(line) => format!("{row} {line} shows it"),
        None => "the first numbers of the dates are of fewer years than the last, or of the years of other dates".into(),
    };
    Some(Error::input("dates were read with the year first").because(why))
}

/// Detects rounding from all times of the file.
fn habit(records: &mut [Record]) -> Option<Error> {
    let mut times: Vec<&mut WrittenTime> =
        records.iter_mut().filter_map(|record| record.time.as_mut()).collect();
    let count = times.len();
    let step = match time::settle(&mut times) {
        Habit::Exact => return None,
        Habit::FiveMinutes => "five minutes",
        Habit::Quarter => "a quarter of an hour",
    };
    Some(
        Error::input(format!("times are taken as rounded to {step}"))
            .because(format!("all {count} times of this file are multiples of it")),
    )
}

/// The note on columns that are read as somebody stated; the same where the store remembers it.
fn stated(columns: &Columns, headings: &[String]) -> Option<Error> {
    let known = columns.of_table(headings).in_words(headings);
    (!known.is_empty()).then(|| {
        Error::input(format!("columns are read as stated: {}", known.join(", ")))
            .because("--column or --columns says so, now or in an earlier import into this store")
            .hint("--column with another meaning replaces it")
    })
}

fn open_quote(line: u64) -> Error {
    Error::input("a quotation mark is not closed; the line was read without it")
        .hint("remove the mark, or double the marks inside a cell")
        .at_line(line)
}

fn no_table(path: &Path, why: &str) -> Error {
    let name = path.file_name().unwrap_or(path.as_os_str()).to_string_lossy();
    Error::input(format!("{name} is not a table of field records"))
        .because(why)
        .hint("its first line must name the columns, such as number, date, time, place, photos")
        .in_file(path)
}

fn too_large(path: &Path, limit: Limit) -> Error {
    let name = path.file_name().unwrap_or(path.as_os_str()).to_string_lossy();
    Error::input(format!("{name} exceeds the size limit for field records"))
        .because(limit.to_string())
        .hint("split it into several files, each with the heading line")
        .in_file(path)
}

fn first_words(text: &str) -> String {
    let Some(line) = text.lines().find(|line| !line.trim().is_empty()) else {
        return "it is empty".into();
    };
    let line: String =
        line.trim().chars().take(60).map(|c| if c.is_control() { ' ' } else { c }).collect();
    format!("no line of it names two known columns; it begins \"{line}\"")
}
