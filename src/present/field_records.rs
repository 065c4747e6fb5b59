//! Writes finds back as a table of field records: the columns that an import reads, with the values as
//! they were written, so that reading the table gives the same records. Layer: `present`.

use std::borrow::Cow;
use std::collections::BTreeMap;

use csv::{Terminator, WriterBuilder};
use rust_xlsxwriter::{Format, Workbook};

use super::csv::harmless;
use crate::error::{Error, Result};
use crate::model::{Field, KeptFind, Record, TimePrecision, WrittenTime};
use crate::units::Metres;

/// The columns that a record has places for, in the order of a notebook: the word that means each, and its heading.
const COLUMNS: [(&str, &str); 18] = [
    ("number", "number"),
    ("date", "date"),
    ("time", "time"),
    ("place", "place"),
    ("name", "name"),
    ("substrate", "substrate"),
    ("host", "host"),
    ("habitat", "habitat"),
    ("collector", "collector"),
    ("photos", "photos"),
    ("waypoint", "waypoint"),
    ("container", "container"),
    ("coordinates", "coordinates"),
    ("latitude", "latitude"),
    ("longitude", "longitude"),
    ("datum", "datum"),
    ("uncertainty", "uncertainty (m)"),
    ("elevation", "elevation (m)"),
];

/// The heading of the identifiers by which an edited listing is matched; an import ignores them.
pub(crate) const IDENTIFIER: &str = "find identifier";

/// A table of field records: headings and rows of equal length. Columns that no find fills are left out,
/// except those of number, date and name.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Sheet {
    /// The headings.
    pub headings: Vec<String>,
    /// One row for each find.
    pub rows: Vec<Vec<String>>,
}

/// The records of the finds as a table.
///
/// # Accuracy
/// Read again, a record is the same, with three additions: the date and the collector of its outing where
/// it has none of its own, and the midpoint of a written range of times as a range of equal width.
#[must_use]
pub fn sheet(finds: &[KeptFind]) -> Sheet {
    let rows: Vec<BTreeMap<String, String>> = finds.iter().map(cells).collect();
    let filled = |heading: &str| rows.iter().any(|row| row.contains_key(heading));
    let kept = |heading: &&str| matches!(*heading, "number" | "date" | "name") || filled(heading);
    let notes = Field::Notes;
    let in_order = COLUMNS.iter().map(|(_, heading)| *heading).chain([notes.heading()]);
    let mut headings: Vec<String> = in_order.filter(kept).map(str::to_owned).collect();
    for heading in rows.iter().flat_map(BTreeMap::keys) {
        if !headings.contains(heading) {
            headings.push(heading.clone());
        }
    }
    headings.push(IDENTIFIER.to_owned());
    let row = |(find, cells): (&KeptFind, &BTreeMap<String, String>)| {
        let cell = |heading: &String| match heading.as_str() {
            IDENTIFIER => find.id.to_string(),
            heading => cells.get(heading).cloned().unwrap_or_default(),
        };
        headings.iter().map(cell).collect()
    };
    let rows = finds.iter().zip(&rows).map(row).collect();
    Sheet { headings, rows }
}

/// The table as comma-separated values; UTF-8, CR LF. A cell that a spreadsheet would run as a formula
/// begins with a blank, which an import ignores.
#[must_use]
pub fn csv(finds: &[KeptFind]) -> String {
    let sheet = sheet(finds);
    let mut writer = WriterBuilder::new().terminator(Terminator::CRLF).from_writer(Vec::new());
    // writing to memory cannot fail
    let _ = writer.write_record(&sheet.headings);
    for row in &sheet.rows {
        let _ = writer.write_record(row.iter().map(|cell| guarded(cell)));
    }
    let bytes = writer.into_inner().unwrap_or_default();
    String::from_utf8_lossy(&bytes).into_owned()
}

/// The table as a workbook with one sheet. Every cell is text, so that nothing is reinterpreted.
///
/// # Errors
/// When a cell or the table is longer than the format allows.
pub fn xlsx(finds: &[KeptFind]) -> Result<Vec<u8>> {
    workbook(&sheet(finds)).map_err(|fault| {
        Error::input("the finds cannot be written as XLSX")
            .because(fault.to_string())
            .hint("write them as CSV, which has no limits: --format records")
    })
}

fn workbook(table: &Sheet) -> std::result::Result<Vec<u8>, rust_xlsxwriter::XlsxError> {
    let mut book = Workbook::new();
    let page = book.add_worksheet().set_name("Finds")?;
    let bold = Format::new().set_bold();
    for (column, heading) in (0_u16..).zip(&table.headings) {
        page.write_string_with_format(0, column, heading, &bold)?;
    }
    for (line, row) in (1_u32..).zip(&table.rows) {
        for (column, cell) in (0_u16..).zip(row).filter(|(_, cell)| !cell.is_empty()) {
            page.write_string(line, column, cell)?;
        }
    }
    page.set_freeze_panes(1, 0)?;
    page.autofit();
    book.save_to_buffer()
}

/// Whether a listing heads a column of a record with these very words; not one of its fields.
pub(crate) fn is_column(heading: &str) -> bool {
    COLUMNS.iter().any(|(_, own)| *own == heading) || heading == IDENTIFIER
}

/// The heading under which a listing has the column of a record that a word means.
pub(crate) fn column_heading(word: &str) -> Option<&'static str> {
    COLUMNS.iter().find(|(own, _)| *own == word).map(|(_, heading)| *heading)
}

/// Before a field of the user whose heading is that of a column of a record.
const EXTRA: &str = "extra ";

/// The heading of a field in a listing; no other field and no column has it.
pub(crate) fn heading(field: &Field) -> Cow<'_, str> {
    let own = field.heading();
    if is_column(own.trim_start_matches(EXTRA)) {
        Cow::Owned(format!("{EXTRA}{own}"))
    } else {
        Cow::Borrowed(own)
    }
}

/// The field that a listing lists under a heading.
pub(crate) fn field(heading: &str) -> Field {
    let inner =
        heading.strip_prefix(EXTRA).filter(|_| is_column(heading.trim_start_matches(EXTRA)));
    Field::from(inner.unwrap_or(heading).to_owned())
}

/// The text with a leading blank where a spreadsheet would run it as a formula.
fn guarded(cell: &str) -> String {
    if harmless(cell) == cell { cell.to_owned() } else { format!(" {cell}") }
}

/// The filled cells of a find by heading, without its identifier.
pub(crate) fn cells(find: &KeptFind) -> BTreeMap<String, String> {
    let record = &find.record;
    let mut cells = BTreeMap::new();
    let mut set = |heading: &str, value: Option<String>| {
        let value = value.filter(|value| !value.trim().is_empty());
        cells.extend(value.map(|value| (heading.to_owned(), value)));
    };
    set("number", record.number.as_ref().map(|number| number.0.clone()));
    set("date", Some(record.date.unwrap_or(find.date).to_string()));
    set("time", record.time.map(|time| written(time, record)));
    set("place", record.place.clone());
    set("name", record.name.clone());
    set("substrate", record.substrate.clone());
    set("host", record.host.clone());
    set("habitat", record.habitat.clone());
    set("collector", record.collector.clone().or_else(|| find.collector.clone()));
    let photos: Vec<&str> = record.photos.iter().map(|photo| photo.0.as_str()).collect();
    set("photos", Some(photos.join("; ")));
    set("waypoint", record.waypoint.clone());
    set("container", record.container.clone());
    set("elevation (m)", record.elevation.map(|metres| elevations(metres, record)));
    if let Some(coordinates) = &record.coordinates {
        match pair(&coordinates.verbatim) {
            Some((latitude, longitude)) => {
                set("latitude", Some(latitude.to_owned()));
                set("longitude", Some(longitude.to_owned()));
            }
            None => set("coordinates", Some(coordinates.verbatim.clone())),
        }
        set("datum", coordinates.system.clone());
        set("uncertainty (m)", coordinates.stated_uncertainty.map(|metres| metres.0.to_string()));
    }
    for (field, text) in &record.fields {
        // they stand behind the time and the elevation
        let highest = field.heading() == Record::HIGHEST && record.elevation.is_some();
        if *field != Field::Other(Record::TIME_OFFSET.to_owned()) && !highest {
            set(&heading(field), Some(text.clone()));
        }
    }
    cells
}

/// Two plain numbers: they came from a column each.
fn pair(verbatim: &str) -> Option<(&str, &str)> {
    let mut parts = verbatim.split_whitespace();
    let (first, second) = (parts.next()?, parts.next()?);
    let plain = |text: &str| text.parse::<f64>().is_ok();
    (parts.next().is_none() && plain(first) && plain(second)).then_some((first, second))
}

/// An elevation, or a range of them, as it is read.
fn elevations(low: Metres, record: &Record) -> String {
    match record.highest().filter(|high| *high != low) {
        Some(high) => format!("{}-{}", low.0, high.0),
        None => low.0.to_string(),
    }
}

/// A time as it is read with the same precision.
fn written(time: WrittenTime, record: &Record) -> String {
    let clock = time.clock;
    let exact = if clock.second() == 0 && time.precision != TimePrecision::Second {
        clock.strftime("%H:%M").to_string()
    } else {
        clock.strftime("%H:%M:%S").to_string()
    };
    let offset = record.fields.get(&Field::Other(Record::TIME_OFFSET.to_owned()));
    let exact = exact + offset.map_or("", String::as_str);
    match time.precision {
        TimePrecision::Second | TimePrecision::Minute | TimePrecision::FiveMinutes => exact,
        TimePrecision::Quarter => format!("ca {exact}"),
        TimePrecision::Hour if clock.minute() == 0 => format!("ca {}", clock.strftime("%H")),
        TimePrecision::Hour => {
            let half = jiff::SignedDuration::from_mins(30);
            let (from, to) = (clock.saturating_sub(half), clock.saturating_add(half));
            format!("{}-{}", from.strftime("%H:%M"), to.strftime("%H:%M"))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::present::fixture;

    #[test]
    fn only_filled_columns_are_written() {
        let sheet = sheet(&[]);
        assert_eq!(sheet.headings, ["number", "date", "name", "find identifier"]);
        let finds = [fixture::kept_find("TH 17"), fixture::kept_find("TH 18")];
        let sheet = super::sheet(&finds);
        assert_eq!(sheet.rows.len(), finds.len());
        assert!(sheet.rows.iter().all(|row| row.len() == sheet.headings.len()));
    }

    #[test]
    fn formulas_are_guarded_by_a_blank_that_an_import_ignores() {
        assert_eq!(guarded("=HYPERLINK(\"x\")"), " =HYPERLINK(\"x\")");
        assert_eq!(guarded("-42.6"), "-42.6");
        assert_eq!(guarded("caps brown"), "caps brown");
    }

    #[test]
    fn fields_headed_like_columns_are_listed_apart() {
        for own in ["date", "extra date", "extra extra find identifier", "smell", "extra smell"] {
            let own = Field::from(own.to_owned());
            assert_eq!(field(&heading(&own)), own);
            assert!(!is_column(&heading(&own)));
        }
        assert_eq!(heading(&Field::Other("date".into())), "extra date");
        assert_eq!(heading(&Field::Notes), "notes");
    }

    #[test]
    fn a_pair_of_plain_numbers_has_two_columns() {
        assert_eq!(pair("-42.5 146.25"), Some(("-42.5", "146.25")));
        assert_eq!(pair("42.5 S 146.25 E"), None);
        assert_eq!(pair("55G 501234"), None);
    }
}
