//! Reads the sheets of a workbook that hold records; the others are reported with the reason, and so
//! are hidden rows and faulty formulas. Layer: `ingest`.

use std::path::Path;

use super::book::{self, Form, Refusal, SheetRows};
use super::column::Column;
use super::columns::Columns;
use super::layout::Layout;
use super::table::{self, Table};
use super::{
    Parts, as_dates, below, beside, day_rows, days, filled, has_own_headings, of_finds, records_of,
    sections, serials, shortened,
};
use crate::error::{Error, Result};
use crate::model::Sheet;

/// Rows of title and explanation that may stand above the headings of a sheet.
const ROWS_ABOVE: usize = 25;

/// Columns of which a sheet of records has one: without any a find has no day and no place.
const WHEN_OR_WHERE: [Column; 10] = [
    Column::Date,
    Column::Year,
    Column::Time,
    Column::Photos,
    Column::Waypoint,
    Column::Coordinates,
    Column::Latitude,
    Column::Easting,
    Column::Collector,
    Column::Place,
];

/// What a sheet is.
enum Kind {
    Records(Vec<Table>),
    /// Not read, for this reason.
    Other(String),
    /// A table of finds that trug exported.
    Export,
    Empty,
}

/// The records of all sheets.
pub(super) fn read(bytes: &[u8], form: Form, path: &Path, columns: &Columns) -> Result<Parts> {
    let book = book::read(bytes, form).map_err(|refusal| refused(path, &refusal))?;
    let (mut parts, mut read, mut notes) = (Parts::default(), 0, Vec::new());
    let kinds: Vec<(SheetRows, Kind)> = book
        .sheets
        .into_iter()
        .map(|mut sheet| {
            let rows = std::mem::take(&mut sheet.rows);
            let kind = kind(rows, columns, &sheet.name);
            (sheet, kind)
        })
        .collect();
    let has_finds = kinds.iter().any(|(sheet, kind)| match kind {
        Kind::Records(tables) if !sheet.hidden => {
            tables.iter().any(|table| of_finds::are_finds(table, columns, &sheet.name))
        }
        _ => false,
    });
    for (sheet, kind) in kinds {
        let place = Sheet { number: sheet.number, name: sheet.name.as_str().into() };
        let lacks = match &kind {
            Kind::Records(tables) if has_finds => of_finds::lacking(tables, columns, &sheet.name),
            _ => None,
        };
        if let Some(why) = lacks {
            notes.push(other(&sheet, why).hint("give it such a column if its rows are finds"));
            continue;
        }
        match kind {
            Kind::Empty => {}
            Kind::Records(_) if sheet.hidden => parts.set_aside.push(hidden(&sheet)),
            Kind::Records(mut tables) => {
                read += 1;
                let (mut notes_of_sheet, mut serials) = (Vec::new(), Vec::new());
                for table in &mut tables {
                    notes_of_sheet.extend(as_dates::as_shown(table, columns, &sheet.part_dates));
                    notes_of_sheet.extend(below::taken_out(table, columns, true));
                    notes_of_sheet.extend(beside::taken_out(table, columns));
                    notes_of_sheet.extend(beside::with_year(table, columns, &sheet.name));
                    serials.extend(serials::written_out(table, columns, book.from_1904));
                }
                let of_sheet = records_of(tables, Some(&place), columns);
                let of_sheet_totals = of_sheet.totals;
                parts.records.extend(of_sheet.records);
                parts.set_aside.extend(of_sheet.set_aside);
                parts.remarks.extend(of_sheet.remarks);
                notes_of_sheet.extend(serials);
                let of_sheet = |error: Error| error.in_sheet(Some(&sheet.name));
                parts.remarks.extend(notes_of_sheet.into_iter().map(of_sheet));
                parts.remarks.extend(hidden_rows(&sheet));
                parts.set_aside.extend(faults(&sheet));
                // a total is not read, whether it has a value or not
                let is_total = |row: &u64| of_sheet_totals.contains(row);
                if !sheet.faulty_rows.iter().all(is_total) {
                    parts.set_aside.extend(unvalued(&sheet, form));
                }
            }
            Kind::Export => notes.push(export(&sheet)),
            Kind::Other(why) => notes.push(other(&sheet, &why)),
        }
    }
    if read == 0 && parts.set_aside.is_empty() {
        return Err(none(path, notes));
    }
    parts.remarks.extend(notes);
    Ok(parts)
}

fn kind(rows: Vec<table::Row>, columns: &Columns, name: &str) -> Kind {
    if rows.is_empty() {
        return Kind::Empty;
    }
    let begin = rows.iter().flat_map(|row| &row.cells).find_map(|cell| filled(cell));
    let begin = shortened(begin.unwrap_or_default());
    let Some(mut table) = table::whole(rows, ROWS_ABOVE, columns) else {
        return Kind::Other(format!("no row of it names two known columns; it begins \"{begin}\""));
    };
    if has_own_headings(&table.headings) {
        return Kind::Export;
    }
    let of_days = day_rows::completed(&mut table, columns, name);
    table.notes.extend(of_days);
    let layout = Layout::of(&table, columns);
    let when_or_where = || WHEN_OR_WHERE.iter().any(|column| layout.place(*column).is_some());
    if !when_or_where() && !days::has_day(&table, name) {
        return Kind::Other(
            "it has no column of dates, times, places, coordinates, waypoints, photographs or \
             collectors"
                .into(),
        );
    }
    let mut tables = sections::divided(table, columns);
    for table in &mut tables {
        // columns beyond the last heading are columns without a heading
        let widest = table.rows.iter().map(|row| row.cells.len()).max().unwrap_or(0);
        if table.headings.len() < widest {
            table.headings.resize(widest, String::new());
        }
    }
    Kind::Records(tables)
}

fn hidden(sheet: &SheetRows) -> Error {
    Error::input(format!("the sheet \"{}\" was not read", sheet.name))
        .because("it is hidden")
        .hint("unhide it in the workbook if its records count")
}

fn other(sheet: &SheetRows, why: &str) -> Error {
    Error::input(format!("the sheet \"{}\" holds no records", sheet.name)).because(why)
}

fn export(sheet: &SheetRows) -> Error {
    Error::input(format!("the sheet \"{}\" holds finds that trug exported", sheet.name))
        .because("its columns hold identifiers and positions that trug computed")
        .hint("import the field records that the finds came from")
}

/// Notes on hidden rows.
fn hidden_rows(sheet: &SheetRows) -> Option<Error> {
    let first = sheet.hidden_rows.first()?;
    let rows: Vec<String> = sheet.hidden_rows.iter().map(u64::to_string).collect();
    let more = if sheet.hidden_count > rows.len() { ", \u{2026}" } else { "" };
    let (count, word) = match sheet.hidden_count {
        1 => (1, "row is"),
        count => (count, "rows are"),
    };
    let rows =
        format!("{} {}{more}", if rows.len() == 1 { "row" } else { "rows" }, rows.join(", "));
    Some(
        Error::input(format!("{count} hidden {word} read as well"))
            .because(format!("{rows}: hidden by a filter or by hand"))
            .hint("delete them in the workbook if they do not count")
            .at_line(*first)
            .in_sheet(Some(&sheet.name)),
    )
}

/// Cells in which a formula failed.
fn faults(sheet: &SheetRows) -> Option<Error> {
    let (row, column, fault) = sheet.faulty.as_ref()?;
    let what = match sheet.faulty_count {
        1 => "a formula has no value".to_owned(),
        count => format!("the formulas of {count} cells have no value"),
    };
    Some(
        Error::input(what)
            .because(format!("the workbook keeps \"{fault}\" for it; the cell counts as empty"))
            .hint("mend the formula, or write the value")
            .at_line(*row)
            .at_column(*column)
            .in_sheet(Some(&sheet.name)),
    )
}

/// Cells with a formula for which the workbook keeps no value.
fn unvalued(sheet: &SheetRows, form: Form) -> Option<Error> {
    let (row, column) = sheet.unvalued?;
    // XLS has no other form for such cells
    let why = match form {
        Form::Xls => {
            "all formulas of the workbook have an empty text as their value, as programs write them that do not \
             calculate; the cells count as empty"
        }
        Form::Xlsx | Form::Ods => {
            "the program that wrote the workbook did not calculate them; the cells count as empty"
        }
    };
    let what = match sheet.unvalued_count {
        1 => "a formula has no value".to_owned(),
        count => format!("the formulas of {count} cells have no value"),
    };
    Some(
        Error::input(what)
            .because(why)
            .hint("open the workbook in a spreadsheet program and save it again")
            .at_line(row)
            .at_column(column)
            .in_sheet(Some(&sheet.name)),
    )
}

/// No sheet can be read.
fn none(path: &Path, mut notes: Vec<Error>) -> Error {
    let name = path.file_name().unwrap_or(path.as_os_str()).to_string_lossy();
    let why = match &notes[..] {
        [] => "all of its sheets are empty".to_owned(),
        [one] => format!("{}: {}", one.what(), one.why().unwrap_or_default()),
        more => {
            let said: Vec<String> = more.iter().map(|note| note.what().to_owned()).collect();
            let last = notes.pop().and_then(|note| note.why().map(str::to_owned));
            format!("{}; of the last one: {}", said.join("; "), last.unwrap_or_default())
        }
    };
    Error::input(format!("{name} holds no sheet of field records"))
        .because(why)
        .hint("a row of the sheet must name the columns, such as number, date, time, place, photos")
        .in_file(path)
}

/// An archive or compound file that is not a workbook.
pub(super) fn no_workbook(path: &Path) -> Error {
    refused(path, &Refusal::Damaged("it is neither XLSX, XLS nor ODS, or it is damaged".into()))
}

pub(super) fn refused(path: &Path, refusal: &Refusal) -> Error {
    let name = path.file_name().unwrap_or(path.as_os_str()).to_string_lossy();
    let (what, hint) = match refusal {
        Refusal::Password => ("is encrypted", "save it without a password, then import it again"),
        Refusal::Limit(..) | Refusal::Part(_) => (
            "exceeds the size limit for field records",
            "copy the rows with records into a new workbook, or save the sheet as CSV",
        ),
        Refusal::Entities | Refusal::Damaged(_) => (
            "cannot be read as a workbook",
            "open it in a spreadsheet program and save it again as XLSX, ODS or CSV",
        ),
    };
    let why = match refusal {
        Refusal::Password => "the workbook asks for a password".to_owned(),
        refusal => refusal.to_string().replace("line ", "row "),
    };
    Error::input(format!("{name} {what}")).because(why).hint(hint).in_file(path)
}
