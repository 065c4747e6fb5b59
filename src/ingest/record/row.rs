//! Converts one row to a record. An unreadable cell is reported and its text kept in the fields of
//! the record. Layer: `ingest`.

use jiff::civil::Date;
use rayon::prelude::*;

use super::column::Column;
use super::date::{self, Order, Settled};
use super::ditto;
use super::layout::{Layout, Slot};
use super::length::Habit;
use super::people::{self, People};
use super::table::Row;
use super::unread::{Unread, at_cell};
use super::{filled, photos, qualifier, shortened, time, weekdays};
use crate::error::Error;
use crate::ingest::position::{self, LetterO};
use crate::model::name_words::is_undetermined;
use crate::model::{Field, Record, RecordNumber, Sheet, WrittenCoordinates, WrittenTime};

/// Rows that one thread reads at a time.
const AT_A_TIME: usize = 4_096;

/// Reads the rows of one file.
#[derive(Clone)]
pub(super) struct Reader<'t> {
    pub(super) layout: &'t Layout,
    pub(super) order: Order,
    pub(super) elevations: Habit,
    pub(super) highest: Habit,
    pub(super) uncertainties: Habit,
    pub(super) delimiter: char,
    /// What the letter O means in coordinates.
    pub(super) letter: LetterO,
    /// Ditto marks as written.
    pub(super) marks: &'t ditto::Written,
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
    /// The records of all rows, and the reader with what it has to report, in the order of the rows.
    pub(super) fn all(self, mut rows: Vec<Row>) -> (Vec<Record>, Self) {
        // the records are in memory once, and the text of a row no longer than it is needed
        let mut records = Vec::new();
        records.resize_with(rows.len(), Record::default);
        let part = |(rows, records): (&mut [Row], &mut [Record])| {
            let mut reader = self.clone();
            for (row, record) in rows.iter_mut().zip(records) {
                *record = reader.record(&std::mem::take(row));
            }
            reader
        };
        let parts = rows.par_chunks_mut(AT_A_TIME).zip(records.par_chunks_mut(AT_A_TIME));
        let parts: Vec<Self> = parts.map(part).collect();
        let reader = parts.into_iter().reduce(Self::with_later).unwrap_or(self);
        (records, reader)
    }

    fn record(&mut self, row: &Row) -> Record {
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
        if let Some(qualifier) = text(Column::Qualifier)
            && self.name(row).is_none_or(|name| qualifier::added(&name, &qualifier).is_none())
        {
            record.fields.insert(Field::Other("identificationQualifier".into()), qualifier);
        }
        if let Some(author) = text(Column::Author)
            && !record.name.as_ref().is_some_and(|name| name.contains(&author))
        {
            record.fields.insert(Field::Other("scientificNameAuthorship".into()), author);
        }
        self.people(&mut record);
        if let Some(marks) = self.marks.get(&row.line) {
            record.fields.extend(marks.iter().cloned());
        }
        for (place, term) in self.layout.verbatim() {
            if let Some(text) = row.cells.get(*place).and_then(|cell| filled(cell)) {
                record.fields.insert(Field::Other((*term).to_owned()), text.to_owned());
            }
        }
        self.unknown_columns(row, &mut record);
        self.when(row, &mut record);
        self.when_as_typed(row, &mut record);
        self.elevation(row, &mut record);
        record.coordinates = self.coordinates(row, &mut record);
        self.without_coordinates(row, &mut record);
        self.without_name(row, &record);
        self.without_date(row, &mut record);
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

    /// A name in one column, or genus and epithet in two, and the author behind it where it is the author of
    /// that name.
    fn name(&self, row: &Row) -> Option<String> {
        let name = self.name_alone(row)?;
        Some(match self.layout.text(row, Column::Author) {
            Some(author) if !name.contains(&author) && self.takes_author(row, &name, &author) => {
                format!("{name} {author}")
            }
            _ => name,
        })
    }

    /// Whether an author of a column of its own is the author of the name: of `Russula sp.` it is not, and of a
    /// genus whose epithet is not filled in it may be the author of the species.
    fn takes_author(&self, row: &Row, name: &str, author: &str) -> bool {
        let text = |column| self.layout.text(row, column);
        let undetermined = || {
            let qualifier = text(Column::Qualifier).unwrap_or_default();
            name.split_whitespace().chain(qualifier.split_whitespace()).any(is_undetermined)
        };
        let named = text(Column::Name).is_some();
        qualifier::has_epithet(name) || named && !undetermined() && !author.contains('(')
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
        let beyond: Vec<&str> = row.cells.iter().skip(slots.len()).map(|cell| &**cell).collect();
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
            (Some(text), Some(cell)) if is_second_date(&cell.rest) => self.unread(
                record,
                "date",
                text,
                "it names two dates",
                "write one date, like 2026-05-03",
            ),
            (Some(text), Some(cell)) => self.settle(record, text, cell),
            (None, _) => record.date = self.date_of_parts(row),
        }
        let own = self.layout.text(row, Column::Time).map(|own| self.time_alone(own, record));
        let behind = read.map(|cell| cell.rest).filter(|rest| !is_second_date(rest));
        let behind = behind.unwrap_or_default();
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

    /// The day that a date means, or its readings.
    fn settle(&mut self, record: &mut Record, text: &str, cell: &date::Cell) {
        let Settled { date, readings } = self.order.settle(cell);
        if date.is_none() && readings.is_empty() {
            let (day_first, month_first) = match cell.date {
                date::Written::Open { day_first, month_first } => (day_first, month_first),
                date::Written::Day(date) => (date, date),
            };
            return self.unread(
                record,
                "date",
                text,
                &format!(
                    "it is {day_first} with the day first and {month_first} with the month \
                     first, and no other date of the column settles the order"
                ),
                "write it like 2026-05-03 or 3 May 2026",
            );
        }
        if date.is_none() {
            // the day of the track may decide
            let written = Field::Other(Record::UNREAD_DATE.into());
            record.fields.insert(written, text.to_owned());
        }
        if let Some(day) =
            date.filter(|day| readings.is_empty() && weekdays::contradict(text, *day))
        {
            let week = day.strftime("%A");
            self.remarks.push(at_cell(
                Error::input(format!(
                    "the day of the week of \"{}\" does not fit",
                    shortened(text)
                ))
                .because(format!("{day} is a {week}; it was read as this date"))
                .hint("check the date")
                .at_line(record.line),
                self.place(Column::Date),
            ));
        }
        record.date = date;
        record.date_readings = readings;
    }

    /// Keeps date and time as typed where that says more than what was read.
    fn when_as_typed(&self, row: &Row, record: &mut Record) {
        let date = self.layout.text(row, Column::Date);
        if date.is_none() && record.date.is_some() {
            return;
        }
        let parts = [date, self.layout.text(row, Column::Time)];
        let typed = parts.into_iter().flatten().collect::<Vec<_>>().join(" ");
        let read = record.date_and_time().unwrap_or_default();
        // spreadsheets add the seconds, and midnight to a date
        let added =
            typed.strip_prefix(&read).is_some_and(|end| ["", ":00", " 00:00:00"].contains(&end));
        if !typed.is_empty() && !added {
            let term = Field::Other(Record::VERBATIM_DATE.to_owned());
            record.fields.entry(term).or_insert(typed);
        }
    }

    /// A cell of the column of times that holds a date, too, as spreadsheets keep them: the time of it,
    /// and its date where the record has none.
    fn time_alone(&self, own: String, record: &mut Record) -> String {
        let Some(cell) = date::read(&own).filter(|cell| cell.rest.contains([':', '.', 'h'])) else {
            return own;
        };
        if record.date.is_none() && record.date_readings.is_empty() {
            record.date = self.order.settle(&cell).date;
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

    /// Coordinates from whichever columns hold them.
    fn coordinates(&mut self, row: &Row, record: &mut Record) -> Option<WrittenCoordinates> {
        let text = |column| self.layout.text(row, column);
        let typed = |term| self.layout.typed(row, term);
        let (mut latitude, mut longitude) = (text(Column::Latitude), text(Column::Longitude));
        let placed =
            [Column::Easting, Column::Coordinates].into_iter().any(|at| text(at).is_some());
        let by_typed = latitude.is_none() && longitude.is_none() && !placed;
        if by_typed {
            (latitude, longitude) = (typed("verbatimLatitude"), typed("verbatimLongitude"));
        }
        let alone = match (by_typed && latitude.is_none(), text(Column::Coordinates)) {
            (true, None) => typed("verbatimCoordinates"),
            (_, alone) => alone,
        };
        let of_typed = by_typed.then(|| typed("verbatimSRS")).flatten();
        let system = of_typed.or_else(|| text(Column::Datum));
        let system = system.as_deref();
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
        let no_grid = metres.is_some() && system.is_none() && text(Column::Zone).is_none();
        let verbatim = pair.clone().or_else(|| alone.clone()).or_else(|| metres.clone())?;
        let read = match (&latitude, &longitude, &alone, &metres) {
            (Some(latitude), Some(longitude), ..) => {
                position::read_columns_with(latitude, longitude, system, self.letter)
            }
            // both may be in one column
            (Some(both), None, ..) | (None, Some(both), ..) | (None, None, Some(both), _) => {
                position::read_with(both, system, self.letter)
            }
            (None, None, None, Some(metres)) => position::read(metres, system),
            (None, None, None, None) => return None,
        };
        let alone_is_none = alone.is_none();
        let of_pair = pair.is_some().then_some(alone.as_ref()).flatten();
        let of_grid = metres.as_ref().filter(|metres| **metres != verbatim);
        let others: Vec<&str> = of_pair.into_iter().chain(of_grid).map(|own| own.trim()).collect();
        if !others.is_empty() {
            let field = Field::Other("other coordinates".into());
            record.fields.insert(field, others.join("; "));
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
                stated_in: None,
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

    /// The place of a column in a workbook.
    pub(super) fn place(&self, column: Column) -> Option<usize> {
        self.sheet.as_ref().and_then(|_| self.layout.place(column))
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
/// Whether a text behind a date names another one: `oder 4.10.2025`.
fn is_second_date(behind: &str) -> bool {
    const WORDS: &str = "or oder ou o of eller tai lub albo nebo and und et y e og och ja i a";
    let end = behind.find(|c: char| !c.is_alphabetic()).unwrap_or(behind.len());
    let is_word = WORDS.split(' ').any(|word| behind[..end].to_lowercase() == word);
    let rest = behind[end..].trim_start_matches([' ', '&', '+', ',', ';']);
    (is_word || behind.starts_with(['&', '+', ',', ';'])) && date::read(rest).is_some()
}
