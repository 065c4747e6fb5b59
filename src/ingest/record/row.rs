//! Converts one row to a record. An unreadable cell is reported and its text kept in the fields of
//! the record. Layer: `ingest`.

use jiff::civil::Date;

use super::column::Column;
use super::date::{self, Order};
use super::layout::{Layout, Slot};
use super::length::{Habit, Refusal};
use super::people::{self, People};
use super::table::Row;
use super::{filled, photos, qualifier, shortened, time};
use crate::error::Error;
use crate::ingest::position;
use crate::model::{Field, Record, RecordNumber, Sheet, WrittenCoordinates, WrittenTime};
use crate::units::Metres;

/// Reads the rows of one file.
pub(super) struct Reader<'t> {
    pub(super) layout: &'t Layout,
    pub(super) order: Order,
    pub(super) elevations: Habit,
    pub(super) uncertainties: Habit,
    pub(super) delimiter: char,
    /// The sheet of a workbook.
    pub(super) sheet: Option<Sheet>,
    /// What could not be read, with its line.
    pub(super) set_aside: Vec<Error>,
    /// Cells that could not be read, those of one cause together.
    pub(super) unread: Vec<Unread>,
    /// How many cells could not be read so far.
    pub(super) seen: usize,
    pub(super) remarks: Vec<Error>,
}

/// Columns that a record stores as text or fields.
const FIELDS: [Column; 19] = [
    Column::Country,
    Column::State,
    Column::County,
    Column::Municipality,
    Column::DateIdentified,
    Column::Institution,
    Column::Collection,
    Column::CatalogNumber,
    Column::OtherCatalogNumbers,
    Column::Disposition,
    Column::Bruising,
    Column::Latex,
    Column::Smell,
    Column::Taste,
    Column::SporePrint,
    Column::Colour,
    Column::Quantity,
    Column::IdentifiedBy,
    Column::Notes,
];

impl Reader<'_> {
    pub(super) fn record(&mut self, row: &Row) -> Record {
        let text = |column| self.layout.text(row, column);
        let mut record = Record {
            number: text(Column::Number).map(|number| RecordNumber(without_decimals(number))),
            place: text(Column::Place),
            substrate: text(Column::Substrate),
            host: text(Column::Host),
            habitat: text(Column::Habitat),
            name: self.name(row).map(|name| self.qualified(row, name)),
            collector: text(Column::Collector),
            container: text(Column::Container),
            waypoint: text(Column::Waypoint).map(without_decimals),
            photos: text(Column::Photos).map(|cell| photos::read(&cell)).unwrap_or_default(),
            line: row.line,
            sheet: self.sheet.clone(),
            ..Record::default()
        };
        for column in FIELDS {
            if let (Some(field), Some(text)) = (column.field(), text(column)) {
                record.fields.insert(field, text);
            }
        }
        if let (Some(name), Some(qualifier)) = (self.name(row), text(Column::Qualifier))
            && qualifier::added(&name, &qualifier).is_none()
        {
            record.fields.insert(Field::Other("identificationQualifier".into()), qualifier);
        }
        self.people(&mut record);
        self.unknown_columns(row, &mut record);
        self.when(row, &mut record);
        self.elevation(row, &mut record);
        record.coordinates = self.coordinates(row, &mut record);
        record
    }

    /// Collector and determiner, which may stand in one cell.
    fn people(&self, record: &mut Record) {
        let date = || Field::Other("dateIdentified".into());
        if let Some(cell) = record.fields.remove(&Field::IdentifiedBy) {
            let (name, when) = people::of_determiner(&cell);
            record.fields.insert(Field::IdentifiedBy, name);
            if let Some(when) = when {
                record.fields.entry(date()).or_insert(when);
            }
        }
        let Some(cell) = record.collector.take() else { return };
        let People { collector, determiner, determined } = people::of_collector(&cell);
        record.collector = collector;
        let both = || record.collector.clone().filter(|_| self.layout.collector_named());
        if let Some(determiner) = determiner.or_else(both) {
            record.fields.entry(Field::IdentifiedBy).or_insert(determiner);
        }
        if let Some(when) = determined {
            record.fields.entry(date()).or_insert(when);
        }
    }

    /// A name in one column, or genus and epithet in two, and the author behind it.
    fn name(&self, row: &Row) -> Option<String> {
        let name = self.name_alone(row);
        let Some(author) = self.layout.text(row, Column::Author) else { return name };
        match name {
            Some(name) if name.contains(&author) => Some(name),
            Some(name) => Some(format!("{name} {author}")),
            None => None,
        }
    }

    /// The name with the qualifier of a column of its own.
    fn qualified(&self, row: &Row, name: String) -> String {
        match self.layout.text(row, Column::Qualifier) {
            Some(qualifier) => qualifier::added(&name, &qualifier).unwrap_or(name),
            None => name,
        }
    }

    fn name_alone(&self, row: &Row) -> Option<String> {
        let name = self.layout.text(row, Column::Name);
        let epithet = self.layout.text(row, Column::Epithet);
        let Some(genus) = self.layout.text(row, Column::Genus) else { return name.or(epithet) };
        match name.or(epithet) {
            Some(name) if name.starts_with(&genus) => Some(name),
            Some(name) if name.starts_with(char::is_lowercase) => Some(format!("{genus} {name}")),
            Some(name) => Some(name),
            None => Some(genus),
        }
    }

    /// Cells without a known heading, and those beyond the last one.
    fn unknown_columns(&mut self, row: &Row, record: &mut Record) {
        let slots = self.layout.slots();
        for (slot, cell) in slots.iter().zip(&row.cells) {
            if let (Slot::Other(heading), Some(text)) = (slot, filled(cell)) {
                record.fields.insert(Field::Other(heading.clone()), text.to_owned());
            }
        }
        let beyond: Vec<&str> = row.cells.iter().skip(slots.len()).map(String::as_str).collect();
        if beyond.iter().all(|cell| cell.trim().is_empty()) {
            return;
        }
        // as it was before splitting by the delimiter
        let joined = beyond.join(&self.delimiter.to_string());
        if let Some(Slot::Known(Column::Notes)) = slots.last() {
            let notes = record.fields.entry(Field::Notes).or_default();
            notes.push(self.delimiter);
            notes.push_str(joined.trim_end());
        } else {
            record.fields.insert(Field::Other(format!("column {}", slots.len() + 1)), joined);
        }
        self.remarks.push(
            Error::input("a row has more cells than the heading line")
                .because(format!("{} cells, {} headings", row.cells.len(), slots.len()))
                .hint(if self.sheet.is_some() {
                    "name the columns beside the table, or clear them"
                } else {
                    "put a cell that contains the delimiter in quotation marks"
                })
                .at_line(row.line),
        );
    }

    /// Date and time, each from its own column or the time after the date.
    fn when(&mut self, row: &Row, record: &mut Record) {
        let cell = self.layout.text(row, Column::Date);
        let read = cell.as_deref().and_then(date::read);
        match (&cell, &read) {
            (Some(text), None) => self.unread(
                record,
                "date",
                text,
                &date::why_unread(text),
                "write it like 2026-05-03 or 3 May 2026",
            ),
            (Some(text), Some(cell)) => match self.order.decide(&cell.date) {
                Ok(date) => record.date = Some(date),
                // the day of the track may decide
                Err((day_first, month_first)) if !self.order.contradicts_itself() => {
                    let written = Field::Other("date as written".into());
                    record.fields.insert(written, text.clone());
                    record.date_readings = Some([day_first, month_first]);
                }
                Err((day_first, month_first)) => self.unread(
                    record,
                    "date",
                    text,
                    &format!(
                        "it is {day_first} with the day first and {month_first} with the month \
                         first, and no other date of the column settles the order"
                    ),
                    "write it like 2026-05-03 or 3 May 2026",
                ),
            },
            (None, _) => record.date = self.date_of_parts(row),
        }
        let own = self.layout.text(row, Column::Time).map(|own| self.time_alone(own, record));
        let behind = read.map(|cell| cell.rest).unwrap_or_default();
        if let Some(own) = own {
            record.time = self.time(record, &own, row.line);
        } else if let Some(end) = behind.strip_prefix(['/', '\u{2013}']) {
            self.remarks.push(
                Error::input("a date is a range: its first day was used")
                    .because(format!("it ends on {end}"))
                    .at_line(row.line),
            );
        } else if !is_midnight(&behind) {
            record.time = self.time(record, &behind, row.line);
        }
    }

    /// A cell of the column of times that holds a date, too, as spreadsheets keep them: the time of it,
    /// and its date where the record has none.
    fn time_alone(&self, own: String, record: &mut Record) -> String {
        let Some(cell) = date::read(&own).filter(|cell| cell.rest.contains([':', '.', 'h'])) else {
            return own;
        };
        if record.date.is_none() && record.date_readings.is_none() {
            record.date = self.order.decide(&cell.date).ok();
        }
        cell.rest
    }

    /// Year, month and day in three columns.
    fn date_of_parts(&self, row: &Row) -> Option<Date> {
        let part = |column| self.layout.text(row, column);
        let (year, month, day) = (part(Column::Year)?, part(Column::Month)?, part(Column::Day)?);
        match date::read(&format!("{day} {month} {year}"))
            .or_else(|| date::read(&format!("{year}-{month}-{day}")))?
            .date
        {
            date::Written::Day(date) => Some(date),
            date::Written::Open { day_first, .. } => Some(day_first),
        }
    }

    fn time(&mut self, record: &mut Record, text: &str, line: u64) -> Option<WrittenTime> {
        let Some((time, offset)) = time::read(text) else {
            self.unread(
                record,
                "time",
                text,
                "it is not a time of day",
                "write it like 14:05, 2.05 pm or ca 14",
            );
            return None;
        };
        if let Some(offset) = offset {
            record.fields.insert(Field::Other(Record::TIME_OFFSET.into()), offset.clone());
            if record.time_offset().is_none() {
                self.remarks.push(
                    Error::input(format!(
                        "the time {text} states an offset from UTC that no time \
                     zone uses"
                    ))
                    .because(format!(
                        "{offset} from UTC; it was read in the time zone of the outing"
                    ))
                    .hint("write it like 14:05+10:00 or 04:05Z")
                    .at_line(line),
                );
            }
        }
        Some(time)
    }

    fn elevation(&mut self, row: &Row, record: &mut Record) {
        let Some(text) = self.layout.text(row, Column::Elevation) else { return };
        match self.elevations.read(&text) {
            Ok(elevation) => record.elevation = Some(elevation),
            Err(Refusal::Open(..)) if self.elevations.readings(&text).is_some() => {
                record.elevation_readings = self.elevations.readings(&text);
                let heading = Field::Other("elevation as written".to_owned());
                record.fields.insert(heading, text);
            }
            Err(refusal) => {
                let why = why_no_length(refusal);
                self.unread(record, "elevation", &text, &why, "write it like 412 m or 1350 ft");
            }
        }
    }

    /// Coordinates from whichever columns hold them.
    fn coordinates(&mut self, row: &Row, record: &mut Record) -> Option<WrittenCoordinates> {
        let text = |column| self.layout.text(row, column);
        let system = text(Column::Datum);
        let system = system.as_deref();
        let (latitude, longitude) = (text(Column::Latitude), text(Column::Longitude));
        let pair = match (&latitude, &longitude) {
            (Some(latitude), Some(longitude)) => Some(format!("{latitude} {longitude}")),
            (one, other) => one.clone().or(other.clone()),
        };
        let metres = match (text(Column::Easting), text(Column::Northing)) {
            (Some(east), Some(north)) => {
                Some(format!("{} E {east} N {north}", text(Column::Zone).unwrap_or_default()))
            }
            _ => None,
        };
        let alone = text(Column::Coordinates);
        let no_grid = metres.is_some() && system.is_none() && text(Column::Zone).is_none();
        let verbatim = pair.clone().or_else(|| alone.clone()).or_else(|| metres.clone())?;
        let read = match (&latitude, &longitude, &alone, &metres) {
            (Some(latitude), Some(longitude), ..) => {
                position::read_columns(latitude, longitude, system)
            }
            // both may be in one column
            (Some(both), None, ..) | (None, Some(both), ..) | (None, None, Some(both), _) => {
                position::read(both, system)
            }
            (None, None, None, Some(metres)) => position::read(metres, system),
            (None, None, None, None) => return None,
        };
        let alone_is_none = alone.is_none();
        if let Some(alone) = alone.filter(|_| pair.is_some()) {
            record.fields.insert(Field::Other("other coordinates".into()), alone);
        }
        let stated_uncertainty = self.uncertainty(row, record);
        let coordinates = read.unwrap_or_else(|error| {
            let error = if no_grid && pair.is_none() && alone_is_none {
                Error::input(format!("the grid of \"{}\" is not named", shortened(verbatim.trim())))
                    .because("easting and northing need a zone or the name of their grid")
                    .hint("add a column datum, such as EPSG:3006, or a column zone, such as 55G")
            } else {
                error
            };
            let columns =
                [Column::Latitude, Column::Longitude, Column::Coordinates, Column::Easting];
            let place = columns.into_iter().find_map(|column| self.place(column));
            self.set_aside.push(at_cell(error.at_line(row.line), place));
            WrittenCoordinates {
                verbatim,
                system: system.map(str::to_owned),
                readings: Vec::new(),
                slips: Vec::new(),
                stated_uncertainty: None,
                measured: false,
            }
        });
        let measured = self.measured(row, record);
        Some(WrittenCoordinates { stated_uncertainty, measured, ..coordinates })
    }

    /// Whether the record says that its coordinates are measured and final. Other values are
    /// reported, and the coordinates are not taken as measured.
    fn measured(&mut self, row: &Row, record: &mut Record) -> bool {
        const YES: [&str; 16] = [
            "yes", "y", "true", "x", "1", "1.0", "measured", "final", "fixed", "surveyed", "ja",
            "j", "oui", "si", "s\u{ed}", "\u{2713}",
        ];
        const NO: [&str; 11] =
            ["no", "n", "false", "0", "0.0", "-", "estimated", "nein", "non", "nej", "nee"];
        let Some(text) = self.layout.text(row, Column::Measured) else { return false };
        let said = text.trim().to_lowercase();
        if !YES.contains(&said.as_str()) && !NO.contains(&said.as_str()) {
            let why = "it is neither yes nor no";
            self.unread(record, "position final", &text, why, "write yes or no");
            return false;
        }
        record.fields.insert(Field::Other("position final".into()), text);
        YES.contains(&said.as_str())
    }

    /// The uncertainty that the record states; zero means unknown.
    fn uncertainty(&mut self, row: &Row, record: &mut Record) -> Option<Metres> {
        let text = self.layout.text(row, Column::Uncertainty)?;
        let read = self.uncertainties.read(&text);
        match read {
            Ok(length) if length.0 >= 0.0 => Some(length).filter(|length| length.0 > 0.0),
            Ok(_) => {
                self.unread(record, "uncertainty", &text, "it is negative", "write it in metres");
                None
            }
            Err(refusal) => {
                let why = why_no_length(refusal);
                self.unread(record, "uncertainty", &text, &why, "write it in metres");
                None
            }
        }
    }

    /// The place of a column in a workbook.
    fn place(&self, column: Column) -> Option<usize> {
        self.sheet.as_ref().and_then(|_| self.layout.place(column))
    }

    /// Reports an unreadable cell and keeps its text.
    fn unread(&mut self, record: &mut Record, what: &str, text: &str, why: &str, hint: &str) {
        record.fields.insert(Field::Other(format!("{what} as written")), text.to_owned());
        // readings differ between cells, their cause does not
        let open = why.contains(OPEN);
        let alike = |other: &&mut Unread| {
            other.what == what && (other.why == why || (open && other.why.contains(OPEN)))
        };
        self.seen += 1;
        let cell = (self.seen, shortened(text), record.line);
        // searched among the last causes only, so that the work stays linear
        if let Some(known) = self.unread.iter_mut().rev().take(CAUSES).find(alike) {
            known.count += 1;
            if known.cells.len() < FEW {
                known.cells.push(cell);
            }
        } else {
            let column = match what {
                "date" => Some(Column::Date),
                "time" => Some(Column::Time),
                "elevation" => Some(Column::Elevation),
                "uncertainty" => Some(Column::Uncertainty),
                "position final" => Some(Column::Measured),
                _ => None,
            };
            self.unread.push(Unread {
                column: column.and_then(|column| self.place(column)),
                what: what.to_owned(),
                why: why.to_owned(),
                hint: hint.to_owned(),
                cells: vec![cell],
                count: 1,
            });
        }
    }
}

/// The number of recent causes that are searched.
const CAUSES: usize = 64;
/// The most cells of one cause that are reported individually.
const FEW: usize = 3;
/// The common text of causes with two readings.
const OPEN: &str = "of the column settles";

fn why_no_length(refusal: Refusal) -> String {
    match refusal {
        Refusal::NoLength => "it is not a length".to_owned(),
        Refusal::Open(decimal, thousands) => format!(
            "it is {decimal} with a mark before decimals and {thousands} with a mark between thousands, \
             and no other cell {OPEN}"
        ),
    }
}

/// Cells of one column that could not be read for one cause.
#[derive(Clone, Debug)]
pub(super) struct Unread {
    /// The column in a workbook.
    column: Option<usize>,
    what: String,
    why: String,
    hint: String,
    /// The first of them: their place in the order of reading, text and line.
    cells: Vec<(usize, String, u64)>,
    count: usize,
}

impl Unread {
    /// One message for all of them, with its place in the order of reading; individual ones for a
    /// few cells.
    pub(super) fn reported(self) -> Vec<(usize, Error)> {
        let Self { column, what, why, hint, mut cells, count } = self;
        let together = count > FEW || (count > 1 && why.contains(OPEN));
        if together {
            cells.truncate(1);
        }
        let tell = |(order, text, line): (usize, String, u64)| {
            let said = if together {
                format!("the {what} of {count} rows cannot be read, first \"{text}\"")
            } else {
                format!("the {what} \"{text}\" cannot be read")
            };
            let error = Error::input(said).because(&why).hint(&hint).at_line(line);
            (order, at_cell(error, column))
        };
        cells.into_iter().map(tell).collect()
    }
}

fn at_cell(error: Error, column: Option<usize>) -> Error {
    match column {
        Some(column) => error.at_column(column),
        None => error,
    }
}

/// Nothing, or the `00:00:00` that programs put behind a date without a time.
fn is_midnight(time: &str) -> bool {
    time.trim_matches(['0', ':', '.', 'Z']).is_empty()
}

/// `17.0` is what a spreadsheet makes of 17.
fn without_decimals(number: String) -> String {
    match number.strip_suffix(".0") {
        Some(whole) if whole.bytes().all(|byte| byte.is_ascii_digit()) => whole.to_owned(),
        _ => number,
    }
}
