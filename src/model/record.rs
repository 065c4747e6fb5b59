//! Represents field records as written. Layer: `model`.
//!
//! A record keeps what a person wrote, as written, beside how it was read. Nothing is dropped: a column without a
//! known meaning becomes a field under its own heading.

use std::collections::BTreeMap;
use std::sync::Arc;

use jiff::civil::{Date, Time};
use jiff::tz::Offset;
use serde::{Deserialize, Serialize};

use super::{ElevationReading, Field, RecordNumber, SourceFile};
use crate::error::Error;
use crate::units::{LatLon, Metres, Seconds};

/// One line of a notebook or one field label.
///
/// Every value may be missing; a record with nothing but a name is one. What has more than one reading keeps them
/// all (`date_readings`, `coordinates`, `elevation_readings`) until the rest of the file or the day's track
/// decides.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Record {
    /// The collector's number.
    pub number: Option<RecordNumber>,
    /// The day as written.
    pub date: Option<Date>,
    /// The readings of the date, where no date of the file decides; beside a date it is the language of the headings
    /// that put the day first, or a year of two digits that may also stand first.
    #[serde(skip)]
    pub date_readings: Vec<DateReading>,
    /// The local time as written.
    pub time: Option<WrittenTime>,
    /// Place name.
    pub place: Option<String>,
    /// Substrate: soil, litter, wood and its state of decay, dung.
    pub substrate: Option<String>,
    /// Host: the tree or plant it grew with or on.
    pub host: Option<String>,
    /// The surroundings.
    pub habitat: Option<String>,
    /// Determined name, with or without authority.
    pub name: Option<String>,
    /// Who collected it, where the record says so.
    pub collector: Option<String>,
    /// Container.
    pub container: Option<String>,
    /// Photographs that show it.
    pub photos: Vec<PhotoRef>,
    /// The receiver's waypoint for it.
    pub waypoint: Option<String>,
    /// Coordinates as written, with how they were read.
    pub coordinates: Option<WrittenCoordinates>,
    /// Elevation as written, metres; of a range its lower end, see [`Record::highest`].
    pub elevation: Option<Metres>,
    /// The ways to read the elevation, where the file leaves its unit or its marks open.
    #[serde(skip)]
    pub elevation_readings: Vec<ElevationReading>,
    /// Every other filled field: fresh characters (bruising, latex, smell, taste, spore print),
    /// notes, and columns with no known meaning, each under its heading.
    pub fields: BTreeMap<Field, String>,
    /// The line of its file, counted from one; in a workbook the row of its sheet.
    pub line: u64,
    /// The sheet of a workbook.
    #[serde(skip)]
    pub sheet: Option<Sheet>,
}

/// A way to read a date whose numbers leave their order open.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct DateReading {
    /// What stands first.
    pub order: DateOrder,
    /// The day that it gives.
    pub date: Date,
}

/// What stands first in a date of numbers.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum DateOrder {
    /// Day, month, year.
    DayFirst,
    /// Month, day, year.
    MonthFirst,
    /// Year, month, day.
    YearFirst,
}

/// A sheet of a workbook.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Sheet {
    /// Its place in the workbook, from zero.
    pub number: u32,
    /// Its name.
    pub name: Arc<str>,
}

impl Record {
    /// The heading under which the offset from UTC that the written time states is kept.
    pub const TIME_OFFSET: &str = "offset of the time";

    /// The Darwin Core term under which date and time are kept as typed, where that differs from what
    /// [`Record::date_and_time`] gives.
    pub const VERBATIM_DATE: &str = "verbatimEventDate";
    /// The Darwin Core term under which the elevation is kept as typed.
    pub const VERBATIM_ELEVATION: &str = "verbatimElevation";
    /// The Darwin Core term under which the upper end of a range of elevations is kept.
    pub const HIGHEST: &str = "maximumElevationInMeters";

    /// The heading under which a date that could not be read is kept.
    pub const UNREAD_DATE: &str = "date as written";
    /// The heading under which the names of photographs are kept where they name copies of those that were read.
    pub(crate) const WRITTEN_PHOTOGRAPHS: &str = "photographs as written";

    /// Whether its date is written, but not known: unreadable, or of two readings of which nothing decides.
    #[must_use]
    pub fn has_unread_date(&self) -> bool {
        self.date.is_none() && self.other(Self::UNREAD_DATE).is_some()
    }

    /// The text under a heading that has no place of its own.
    #[must_use]
    pub fn other(&self, heading: &str) -> Option<&str> {
        self.fields.get(&Field::Other(heading.to_owned())).map(String::as_str)
    }

    /// Date and time that were read: `2026-05-03 14:05+10:00`.
    #[must_use]
    pub fn date_and_time(&self) -> Option<String> {
        self.date_and_time_of(self.date, self.time)
    }

    /// This date and time, with the offset of the record.
    #[must_use]
    pub fn date_and_time_of(
        &self,
        date: Option<Date>,
        time: Option<WrittenTime>,
    ) -> Option<String> {
        let date = date.map(|date| date.to_string());
        let offset = self.other(Self::TIME_OFFSET).unwrap_or_default();
        let time = time.map(|time| format!("{}{offset}", time.clock.strftime("%H:%M")));
        let parts: Vec<String> = date.into_iter().chain(time).collect();
        (!parts.is_empty()).then(|| parts.join(" "))
    }

    /// Date and time as typed.
    #[must_use]
    pub fn written_date_and_time(&self) -> Option<String> {
        let typed = self.other(Self::VERBATIM_DATE).map(str::to_owned);
        typed.or_else(|| self.date_and_time())
    }

    /// The upper end of the elevation; the elevation itself where it is no range.
    #[must_use]
    pub fn highest(&self) -> Option<Metres> {
        let stated = self.other(Self::HIGHEST).and_then(|text| text.trim().parse().ok());
        stated.filter(|metres: &f64| metres.is_finite()).map(Metres).or(self.elevation)
    }

    /// The elevation as typed, otherwise in metres.
    #[must_use]
    pub fn written_elevation(&self) -> Option<String> {
        let typed =
            self.other(Self::VERBATIM_ELEVATION).or_else(|| self.other("elevation as written"));
        let in_metres = |low: Metres| match self.highest().filter(|high| *high != low) {
            Some(high) => format!("{}-{} m", low.0, high.0),
            None => format!("{} m", low.0),
        };
        typed.map(str::to_owned).or_else(|| self.elevation.map(in_metres))
    }

    /// The name of its sheet, where it is from a workbook.
    #[must_use]
    pub fn sheet_name(&self) -> Option<&str> {
        self.sheet.as_ref().map(|sheet| &*sheet.name)
    }

    /// Its place in its file: `line 14`, or `row 14 of sheet "2025"`.
    #[must_use]
    pub fn origin(&self) -> String {
        match self.sheet_name() {
            Some(sheet) => format!("row {} of sheet \"{sheet}\"", self.line),
            None => format!("line {}", self.line),
        }
    }

    /// The offset from UTC that the written time states: `14:32+02:00`, `12:32Z`.
    #[must_use]
    pub fn time_offset(&self) -> Option<Offset> {
        offset(self.fields.get(&Field::Other(Self::TIME_OFFSET.to_owned()))?)
    }
}

/// `Z`, `+10`, `+1000`, `-03:30`, no farther from UTC than any place on Earth.
fn offset(written: &str) -> Option<Offset> {
    if written.eq_ignore_ascii_case("z") {
        return Some(Offset::UTC);
    }
    let mut characters = written.chars();
    let sign = match characters.next()? {
        '+' => 1,
        '-' | '\u{2212}' => -1,
        _ => return None,
    };
    let figures = characters.as_str();
    let (hours, minutes) = match figures.split_once(':') {
        Some(parts) => parts,
        None if figures.len() > 2 => figures.split_at_checked(figures.len() - 2)?,
        None => (figures, "0"),
    };
    let (hours, minutes): (i32, i32) = (hours.parse().ok()?, minutes.parse().ok()?);
    let whole = (0..=14).contains(&hours) && (0..60).contains(&minutes);
    whole.then(|| Offset::from_seconds(sign * (hours * 3600 + minutes * 60)).ok())?
}

/// A local time of day with how exactly it was written.
///
/// It has no zone: the notebook's zone is chosen for the whole outing ([`ZoneChoice`](super::ZoneChoice)), unless
/// the record itself states an offset ([`Record::time_offset`]).
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct WrittenTime {
    /// As written.
    pub clock: Time,
    /// How exactly.
    pub precision: TimePrecision,
}

/// The last figure of a written time that means something.
///
/// A time that is written to the minute is an interval. How wide it is decides how far along the track its find can
/// be.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum TimePrecision {
    /// Seconds were written.
    Second,
    /// Minutes were written.
    Minute,
    /// Minutes were written, but all of the file's times end in 0 or 5.
    FiveMinutes,
    /// A quarter, half or whole hour, or "about".
    Quarter,
    /// Only the hour.
    Hour,
}

impl TimePrecision {
    /// The whole width of the step, so that the truth lies within half of it of the written time
    /// (or, where people cut off rather than round, within the whole of it).
    #[must_use]
    pub fn step(self) -> Seconds {
        Seconds(match self {
            Self::Second => 1.0,
            Self::Minute => 60.0,
            Self::FiveMinutes => 300.0,
            Self::Quarter => 900.0,
            Self::Hour => 3600.0,
        })
    }
}

/// A photograph as a notebook names it: a file name, or the number in one.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct PhotoRef(pub String);

/// Coordinates as a person wrote them.
///
/// `1.5, 2.5` can be decimal degrees either way round, `0412` a grid reference or minutes: instead of a guess all
/// readings are kept, and the track of the day decides between them. Without a track several readings mean no
/// position.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct WrittenCoordinates {
    /// Exactly as written.
    pub verbatim: String,
    /// The datum or grid that the record named.
    pub system: Option<String>,
    /// Every way in which it can be read as it stands. One reading: clear. Several: to be decided by
    /// the day's track or refused. None: not understood (`RecordFile::set_aside` tells why), or
    /// impossible as it stands while a slip explains it.
    pub readings: Vec<CoordinateReading>,
    /// What it would say after correcting one common writing error: latitude and longitude changed
    /// over, a minus sign left out, minutes written behind a point. Not used without the
    /// day's track: where no reading fits the track and exactly one slip does, that is what was meant,
    /// and it is reported.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub slips: Vec<CoordinateReading>,
    /// Uncertainty as the record states it.
    pub stated_uncertainty: Option<Metres>,
    /// Whether the record states that they are measured and final: then they stand, whatever else says.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub measured: bool,
    /// The file that states them, where the record is now a row of another file that does not.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub stated_in: Option<String>,
}

/// One way to read written coordinates.
///
/// `precision` and `datum` are bounds: they add to the radius linearly.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct CoordinateReading {
    /// The position on WGS 84.
    pub at: LatLon,
    /// How it was read: "decimal degrees, latitude first", "MGRS 55G, corner of a 100 m square".
    pub manner: String,
    /// The largest distance that rounding or cutting off of the digits can make.
    pub precision: Metres,
    /// The largest distance that an unstated or coarsely converted datum can make.
    pub datum: Metres,
}

/// Everything that one file of records gave.
///
/// A row that cannot be read is in `set_aside` with its line; the others are records.
#[derive(Clone, Debug)]
pub struct RecordFile {
    /// The file.
    pub source: SourceFile,
    /// In the order of the file.
    pub records: Vec<Record>,
    /// What could not be read, with its line.
    pub set_aside: Vec<Error>,
    /// What was read on an assumption: the order of day and month, a heading that was guessed.
    pub remarks: Vec<Error>,
}
