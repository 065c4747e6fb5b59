//! Findings about the inputs of an import: tracks without times, dates that are open, files that no outing
//! uses, receivers of one person or of two. Layer: `model`.

use jiff::civil::Date;
use serde::Serialize;

use crate::units::{Metres, Seconds, Timestamp};

/// A finding about the times of a track.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case", tag = "code")]
#[non_exhaustive]
pub enum TrackTimesNote {
    /// A track has no times.
    TrackWithoutTimes {
        /// Its name.
        file_name: String,
        /// Its fixes.
        fixes: usize,
        /// The one date of the records beside it, to which it is assigned.
        date: Option<Date>,
        /// The number of dates of the records beside it.
        dates: usize,
    },
    /// The receiver's dates were moved by rollovers of the week number.
    DatesMoved(MovedDates),
    /// A few fixes are timed far from all others.
    StrayTimes {
        /// The name of the file.
        file_name: String,
        /// How many.
        fixes: usize,
        /// Their dates.
        dates: Vec<Date>,
        /// The number of the others.
        others: usize,
        /// The first and the last time of the others.
        span: Option<(Timestamp, Timestamp)>,
    },
    /// The times of a file are not used.
    TimesNotUsed {
        /// The name of the file.
        file_name: String,
        /// Why.
        reason: UnusedTimes,
    },
}

/// Dates of a receiver that were moved.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct MovedDates {
    /// The name of the file.
    pub file_name: String,
    /// The fixes that were moved.
    pub moved: usize,
    /// All fixes with a time.
    pub fixes: usize,
    /// From this date.
    pub from: Date,
    /// To this one.
    pub to: Date,
    /// By so many weeks.
    pub weeks: i64,
    /// What shows it.
    pub basis: RolloverBasis,
}

/// A finding about a column whose values have more than one possible reading.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case", tag = "code")]
#[non_exhaustive]
pub enum OpenReadingNote {
    /// The order of day and month was decided.
    DateOrder {
        /// The number of dates.
        dates: usize,
        /// Whether the day stands first.
        day_first: bool,
        /// Whether the year, of two digits, stands first.
        year_first: bool,
        /// A date that only this order gives.
        date: Date,
        /// Whether it is a day of a track; otherwise of photographs.
        tracked: bool,
    },
    /// The language of the headings decided the order of day and month.
    LanguageDateOrder {
        /// The number of dates.
        dates: usize,
        /// The first one as read, with the day first.
        date: Date,
        /// Whether days of tracks or photographs fit both orders; otherwise neither.
        both: bool,
    },
    /// The order of day and month is open.
    DateOrderOpen {
        /// The first date as written.
        written: String,
        /// The number of rows.
        rows: usize,
        /// The date with the day first.
        #[serde(skip_serializing_if = "Option::is_none")]
        day_first: Option<Date>,
        /// The date with the month first.
        #[serde(skip_serializing_if = "Option::is_none")]
        month_first: Option<Date>,
        /// The date with the year first, where it has two digits.
        #[serde(skip_serializing_if = "Option::is_none")]
        year_first: Option<Date>,
        /// Whether several fall on a day of the tracks; otherwise none does.
        both: bool,
    },
}

/// A finding about which files belong together, or to no outing.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case", tag = "code")]
#[non_exhaustive]
pub enum FileNote {
    /// Two receivers are those of one person.
    OnePerson {
        /// The track that leads.
        lead: String,
        /// The track that fills its gaps.
        second: String,
        /// They are near each other when nearer than this.
        #[serde(rename = "near_m")]
        near: f64,
        /// The share of the common time in which they are.
        share: f64,
    },
    /// Two receivers of one person disagree.
    ReceiversDisagree {
        /// The track that leads.
        lead: String,
        /// The other.
        second: String,
        /// How far they are apart at the same place, on the mean.
        #[serde(rename = "distance_m")]
        distance: Metres,
        /// How far the clock of the second is ahead of the first's.
        #[serde(rename = "lag_s")]
        lag: Seconds,
    },
    /// Two tracks are those of two people.
    TwoPeople {
        /// One track.
        own: String,
        /// The other.
        other: String,
        /// Why.
        reason: ApartReason,
    },
    /// A file is not used by any outing.
    FileNotUsed {
        /// Its name.
        file_name: String,
        /// Why.
        reason: UnusedReason,
    },
    /// Routes of a file are not used: they say where, not when.
    RoutesNotUsed {
        /// Its name.
        file_name: String,
        /// How many.
        routes: usize,
        /// Their points.
        points: usize,
    },
    /// Undated waypoints of a file are far from everything in their outing.
    WaypointsFar {
        /// Its name.
        file_name: String,
        /// How many.
        waypoints: usize,
        /// How far the nearest of them is.
        #[serde(rename = "distance_m")]
        distance: Metres,
    },
    /// Photographs belong to no outing.
    PhotographsOfNoOuting {
        /// How many.
        photographs: usize,
        /// The first of them.
        first: String,
        /// All of them, by name.
        names: Vec<String>,
    },
}

/// Why two tracks are those of two people.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case", tag = "code")]
#[non_exhaustive]
pub enum ApartReason {
    /// The records beside the tracks are of two people.
    Collectors {
        /// Who wrote the records beside the one.
        one: String,
        /// The track.
        one_track: String,
        /// Who wrote the records beside the other.
        other: String,
        /// The other track.
        other_track: String,
    },
    /// The tracks are far apart at the same times.
    Distance {
        /// The median distance.
        #[serde(rename = "median_m")]
        median: f64,
        /// They are near each other when nearer than this.
        #[serde(rename = "near_m")]
        near: f64,
        /// The share of the common time in which they are.
        share: f64,
    },
}

/// What shows that dates are early.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum RolloverBasis {
    /// The dates of photographs or records.
    Inputs,
    /// The adjacent fixes of the file.
    Neighbours,
}

/// Why the times of a file are not used.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case", tag = "code")]
#[non_exhaustive]
pub enum UnusedTimes {
    /// The times begin before such receivers existed.
    Impossible {
        /// The first.
        first: Option<Timestamp>,
    },
    /// No two times lie near each other.
    Scattered {
        /// How many.
        times: usize,
        /// The first and the last.
        span: Option<(Timestamp, Timestamp)>,
    },
}

/// Why a file is not used by any outing.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case", tag = "code")]
#[non_exhaustive]
pub enum UnusedReason {
    /// The fixes of the file belong to no outing.
    Fixes {
        /// How many.
        fixes: usize,
    },
    /// The file holds a route or a line without times only.
    RouteOnly {
        /// Its points.
        points: usize,
    },
    /// The file holds waypoints only, and they match no outing.
    WaypointsOnly {
        /// How many.
        waypoints: usize,
    },
    /// The file holds waypoints without times, far from everything in the outing.
    WaypointsFar {
        /// How many.
        waypoints: usize,
        /// How far the nearest of them is.
        #[serde(rename = "distance_m")]
        distance: Metres,
    },
    /// All points of the file were set aside.
    AllSetAside {
        /// How many.
        points: usize,
    },
    /// No checksum of the log's sentences fits.
    ChecksumsWrong {
        /// How many lines.
        lines: usize,
    },
    /// The file holds areas only.
    AreasOnly {
        /// How many.
        areas: usize,
    },
    /// The file holds no track, route or waypoint.
    Empty,
    /// The table has headings, but no row.
    HeadingsOnly,
    /// None of the rows can be read.
    NoRow {
        /// How many were set aside.
        set_aside: usize,
    },
    /// The rows have no date.
    NoDates {
        /// How many.
        rows: usize,
    },
}

/// A finding about the headers of photographs.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case", tag = "code")]
#[non_exhaustive]
pub enum PhotographsNote {
    /// Photographs could not be read completely.
    PhotographsDamaged {
        /// Their names.
        photographs: Vec<String>,
        /// What is wrong with them.
        problem: String,
    },
    /// The headers of photographs are incomplete.
    HeadersIncomplete {
        /// Their names.
        photographs: Vec<String>,
        /// What is wrong with them.
        problem: String,
    },
}
