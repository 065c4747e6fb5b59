//! Findings about two sources of a day that cannot both be right. Layer: `model`.

use jiff::civil::Date;
use serde::Serialize;

use super::{AnchorBasis, FindReference, WaypointDoubt};
use crate::model::AnchorKind;
use crate::units::{LatLon, Metres, Seconds};

/// A finding about positions that conflict.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case", tag = "code")]
#[non_exhaustive]
pub enum PositionConflict {
    /// Two positions of one find are too far apart.
    PositionsApart {
        /// The find.
        find: FindReference,
        /// The distance.
        #[serde(rename = "apart_m")]
        apart: Metres,
        /// The position that is used.
        used: ConflictingPosition,
        /// The other one.
        other: ConflictingPosition,
        /// The p-value if both were right.
        chance: f64,
    },
    /// The track decided between the readings of written coordinates.
    ReadingChosen {
        /// The find.
        find: FindReference,
        /// As written.
        verbatim: String,
        /// How they are read.
        manner: String,
        /// Whether a writing error is corrected.
        slip: bool,
        /// All readings.
        readings: Vec<ReadingFinding>,
    },
    /// Written coordinates are not used, since more than one reading is possible.
    ReadingOpen {
        /// The find.
        find: FindReference,
        /// As written.
        verbatim: String,
        /// All readings.
        readings: Vec<ReadingFinding>,
    },
    /// Written coordinates do not fit those of other finds of the same collector and date.
    CoordinatesApart(CoordinatesApart),
    /// A waypoint of a find may be of another outing.
    WaypointInDoubt {
        /// The find.
        find: FindReference,
        /// Whether the record names it; else it bears the number of the find.
        named: bool,
        /// Whether it is used all the same.
        used: bool,
        /// What speaks against it.
        doubt: WaypointDoubt,
    },
}

/// A finding about records that conflict with each other, or with the track.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case", tag = "code")]
#[non_exhaustive]
pub enum RecordConflict {
    /// Several finds claim one photograph.
    PhotographShared {
        /// The photograph.
        photograph: String,
        /// The finds.
        finds: Vec<FindReference>,
    },
    /// A number is used more than once.
    NumberRepeated {
        /// The number.
        number: String,
        /// How often.
        times: usize,
        /// The lines of the records, or their places in a workbook.
        places: Vec<String>,
        /// Whether these are lines.
        lines: bool,
    },
    /// The date of a find is not that of the outing.
    OtherDate {
        /// The find.
        find: FindReference,
        /// The written date.
        written: Date,
        /// The date of the outing.
        outing: Date,
    },
    /// A find is timed where the collector did not stop.
    NoStop {
        /// The find.
        find: FindReference,
        /// The nearest stop, where there is one within half an hour.
        #[serde(rename = "nearest_stop_s")]
        nearest: Option<Seconds>,
    },
    /// The number of a find does not follow its time.
    OutOfOrder {
        /// The find.
        find: FindReference,
        /// By how much it was found earlier, or later where negative, than the other one.
        #[serde(rename = "earlier_s")]
        earlier: Seconds,
        /// The find of the neighbouring number.
        neighbour: FindReference,
    },
    /// A place name belongs elsewhere.
    PlaceElsewhere {
        /// The find.
        find: FindReference,
        /// The place name.
        place: String,
        /// The distance to the nearest find of that name.
        #[serde(rename = "away_m")]
        away: Metres,
        /// The nearest find.
        nearest: FindReference,
        /// Its place name.
        nearest_place: String,
    },
}

/// One of two positions that conflict.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ConflictingPosition {
    /// What gives it.
    pub kind: AnchorKind,
    /// Its 95 % radius.
    #[serde(rename = "radius95_m")]
    pub radius: Metres,
    /// What it rests on.
    pub basis: AnchorBasis,
}

/// Written coordinates that do not fit those of other finds.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CoordinatesApart {
    /// The find.
    pub find: FindReference,
    /// As written.
    pub verbatim: String,
    /// The nearest find that they conflict with.
    pub from: FindReference,
    /// The distance.
    #[serde(rename = "away_m")]
    pub away: Metres,
    /// The time between, where it is too short.
    #[serde(rename = "within_s")]
    pub within: Option<Seconds>,
    /// The reading, with a writing error corrected, that lies beside other finds.
    pub fits: Option<FittingReading>,
    /// Whether more places agree with each other than with this one.
    pub outnumbered: bool,
    /// Whether they still place the find.
    pub used: bool,
}

/// A reading of written coordinates that corrects a writing error.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FittingReading {
    /// How they are read.
    pub manner: String,
    /// The position.
    pub at: LatLon,
}

/// A reading of written coordinates.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ReadingFinding {
    /// How they are read.
    pub manner: String,
    /// The position.
    pub at: LatLon,
    /// The distance from the track, where there is one.
    #[serde(rename = "from_track_m")]
    pub from_track: Option<Metres>,
}
