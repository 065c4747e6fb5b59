//! Represents field records as written. Layer: `model`.
//!
//! A record keeps what a person wrote, as written, beside how it was read. Nothing is dropped: a column without a
//! known meaning becomes a field under its own heading.

use std::collections::BTreeMap;
use std::fmt;
use std::sync::Arc;

use jiff::civil::{Date, Time};
use jiff::tz::Offset;
use serde::{Deserialize, Serialize};

use super::{ElevationReading, SourceFile, term};
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

/// The collector's number, kept as written; compared by its letters and its number.
///
/// # Examples
/// ```
/// use trug::model::RecordNumber;
///
/// let number = RecordNumber("TH-0017".into());
/// assert_eq!((number.series(), number.ordinal()), ("TH-", Some(17)));
/// assert!(number.means("th 17"));
/// assert!(!number.means("TH-0018"));
/// ```
#[derive(Clone, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(transparent)]
pub struct RecordNumber(pub String);

impl RecordNumber {
    /// The number's digits at its end, for finding gaps in a series: 17 for `TH-0017`.
    #[must_use]
    pub fn ordinal(&self) -> Option<u64> {
        let digits = self.0.trim_end().rsplit(|c: char| !c.is_ascii_digit()).next()?;
        digits.parse().ok()
    }

    /// What stands before the digits at its end: `TH-` for `TH-0017`.
    #[must_use]
    pub fn series(&self) -> &str {
        self.0.trim_end().trim_end_matches(|c: char| c.is_ascii_digit())
    }

    /// Whether another way of writing means the same number: case, spaces, hyphens and leading
    /// zeros aside.
    #[must_use]
    pub fn means(&self, written: &str) -> bool {
        let other = Self(written.to_owned());
        match (self.ordinal(), other.ordinal()) {
            (Some(a), Some(b)) => a == b && bare(self.series()) == bare(other.series()),
            _ => bare(&self.0) == bare(written),
        }
    }
}

/// One number or a range of numbers of one series, as a user asks for them.
///
/// # Examples
/// ```
/// use trug::model::{NumberChoice, RecordNumber};
///
/// let choice = NumberChoice::read("TH-0017..30");
/// assert!(choice.holds(&RecordNumber("TH-0030".into())));
/// assert!(!choice.holds(&RecordNumber("TH-0031".into())));
/// assert!(!choice.holds(&RecordNumber("MB-0020".into())));
/// ```
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum NumberChoice {
    /// This number, however it is written.
    One(String),
    /// From the first to the second, both included.
    Range(RecordNumber, RecordNumber),
}

impl NumberChoice {
    /// Reads `TH-0017`, or `TH-0017..TH-0030`, also with ` to ` between and with the bare digits of the
    /// last number. Anything else is one number.
    #[must_use]
    pub fn read(text: &str) -> Self {
        let parts = text.split_once("..").or_else(|| text.split_once(" to "));
        let Some((first, last)) = parts else { return Self::One(text.to_owned()) };
        let first = RecordNumber(first.trim().to_owned());
        let last = last.trim_matches(['.', ' ']);
        let digits_only = !last.is_empty() && last.bytes().all(|byte| byte.is_ascii_digit());
        let last = if digits_only { format!("{}{last}", first.series()) } else { last.to_owned() };
        let last = RecordNumber(last);
        let one_series = bare(first.series()) == bare(last.series());
        if one_series && first.ordinal().is_some() && last.ordinal().is_some() {
            Self::Range(first, last)
        } else {
            Self::One(text.to_owned())
        }
    }

    /// Whether a number is meant.
    #[must_use]
    pub fn holds(&self, number: &RecordNumber) -> bool {
        match self {
            Self::One(written) => number.means(written),
            Self::Range(first, last) => {
                bare(number.series()) == bare(first.series())
                    && number.ordinal().is_some_and(|ordinal| {
                        first.ordinal().is_some_and(|first| first <= ordinal)
                            && last.ordinal().is_some_and(|last| ordinal <= last)
                    })
            }
        }
    }
}

fn bare(text: &str) -> String {
    text.chars().filter(|c| c.is_alphanumeric()).flat_map(char::to_lowercase).collect()
}

impl fmt::Display for RecordNumber {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(&self.0)
    }
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

/// The heading of a field that has no place of its own in [`Record`].
///
/// In JSON and in the store it is its heading: `spore print`.
///
/// # Examples
/// ```
/// use trug::model::Field;
///
/// assert_eq!(Field::from("spore print".to_owned()), Field::SporePrint);
/// assert_eq!(Field::from("slope facing".to_owned()).heading(), "slope facing");
/// ```
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(from = "String", into = "String")]
pub enum Field {
    /// Colour change when cut or handled.
    Bruising,
    /// Milk from cut flesh.
    Latex,
    /// Smell.
    Smell,
    /// Taste (noted by those who know how to; never a sign that anything is edible).
    Taste,
    /// Colour of the spore print.
    SporePrint,
    /// Colour of cap and other parts when fresh.
    Colour,
    /// How many, with the unit as written.
    Quantity,
    /// Who named it.
    IdentifiedBy,
    /// Anything else.
    Notes,
    /// A column that trug has no word for, kept under its own heading.
    Other(String),
}

impl Field {
    /// The fields that have a word of their own, in the order of a label.
    pub const NAMED: [Self; 9] = [
        Self::Colour,
        Self::Bruising,
        Self::Latex,
        Self::Smell,
        Self::Taste,
        Self::SporePrint,
        Self::Quantity,
        Self::IdentifiedBy,
        Self::Notes,
    ];

    /// Darwin Core terms of places, collections and determinations that records keep under their names.
    pub const TERMS: [&'static str; 10] = [
        "country",
        "stateProvince",
        "county",
        "municipality",
        "institutionCode",
        "collectionCode",
        "catalogNumber",
        "otherCatalogNumbers",
        "disposition",
        "dateIdentified",
    ];

    /// The Darwin Core term that this field is, if any of [`Field::TERMS`].
    #[must_use]
    pub fn term(&self) -> Option<&'static str> {
        let Self::Other(heading) = self else { return None };
        Self::TERMS.into_iter().find(|term| term == heading)
    }

    /// The Darwin Core term that its heading is, of all that people record.
    #[must_use]
    pub fn darwin_core_term(&self) -> Option<&'static str> {
        let Self::Other(heading) = self else { return None };
        self.term().or_else(|| term::of_heading(heading))
    }

    /// The terms of [`Self::is_written_form`].
    const WRITTEN_FORMS: [&'static str; 10] = [
        Record::VERBATIM_DATE,
        "verbatimLocality",
        Record::VERBATIM_ELEVATION,
        Record::HIGHEST,
        "verbatimIdentification",
        "verbatimLatitude",
        "verbatimLongitude",
        "verbatimCoordinates",
        "verbatimCoordinateSystem",
        "verbatimSRS",
    ];

    /// Whether it repeats a part of the record as typed, or is the other end of one, and therefore needs no
    /// line of its own.
    #[must_use]
    pub fn is_written_form(&self) -> bool {
        let Self::Other(heading) = self else { return false };
        Self::WRITTEN_FORMS.contains(&heading.as_str())
    }

    /// The heading in words.
    #[must_use]
    pub fn heading(&self) -> &str {
        match self {
            Self::Bruising => "bruising",
            Self::Latex => "latex",
            Self::Smell => "smell",
            Self::Taste => "taste",
            Self::SporePrint => "spore print",
            Self::Colour => "colour",
            Self::Quantity => "quantity",
            Self::IdentifiedBy => "identified by",
            Self::Notes => "notes",
            Self::Other(heading) => heading,
        }
    }
}

impl From<String> for Field {
    fn from(heading: String) -> Self {
        let named = Self::NAMED.into_iter().find(|field| field.heading() == heading);
        named.unwrap_or(Self::Other(heading))
    }
}

impl From<Field> for String {
    fn from(field: Field) -> Self {
        field.heading().to_owned()
    }
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_compared_ignoring_case_and_zeros() {
        let number = RecordNumber("TH-0017".into());
        assert_eq!(number.ordinal(), Some(17));
        assert_eq!(number.series(), "TH-");
        assert!(number.means("th 17"));
        assert!(!number.means("TH-170"));
        assert!(!number.means("17"));
    }

    #[test]
    fn a_range_of_numbers_holds_those_of_its_series() {
        let number = |text: &str| RecordNumber(text.into());
        for range in ["TH-0017..TH-0030", "th 17 .. 30", "TH17 to TH30", "TH-17...TH-30"] {
            let choice = NumberChoice::read(range);
            assert!(choice.holds(&number("TH-0017")) && choice.holds(&number("TH 30")), "{range}");
            assert!(!choice.holds(&number("TH-0031")) && !choice.holds(&number("AQ-0020")));
        }
        assert_eq!(NumberChoice::read("TH-0017"), NumberChoice::One("TH-0017".into()));
        assert_eq!(NumberChoice::read("TH-1..AQ-2"), NumberChoice::One("TH-1..AQ-2".into()));
    }

    #[test]
    fn a_field_goes_by_its_heading() {
        for field in Field::NAMED {
            assert_eq!(Field::from(field.heading().to_owned()), field);
        }
        let json = serde_json::to_string(&Field::SporePrint).unwrap();
        assert_eq!(json, r#""spore print""#);
        let other: Field = serde_json::from_str(r#""Wetter""#).unwrap();
        assert_eq!(other, Field::Other("Wetter".into()));
    }
}
