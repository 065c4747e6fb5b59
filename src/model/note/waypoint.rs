//! What speaks against a waypoint that bears the number or the name of a find. Layer: `model`.

use jiff::civil::Date;
use serde::{Deserialize, Serialize};

use crate::units::Metres;

/// What speaks against a waypoint of a find: it may be of another outing.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct WaypointDoubt {
    /// Its name.
    pub waypoint: Option<String>,
    /// The distance from the track, where there is one.
    #[serde(rename = "from_track_m")]
    pub from_track: Option<Metres>,
    /// Why it is in doubt.
    pub reason: WaypointDoubtReason,
}

/// Why a waypoint of a find is in doubt.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", tag = "code")]
#[non_exhaustive]
pub enum WaypointDoubtReason {
    /// It bears the number of the find, but was marked on another day.
    NumberOfAnotherDay {
        /// When it was marked.
        marked: Date,
    },
    /// The record names it, but it was marked on another day.
    MarkedOnAnotherDay {
        /// When it was marked.
        marked: Date,
        /// The date of the find.
        found: Date,
        /// Whether it also lies apart from the track.
        off_track: bool,
    },
    /// It has no time, and lies far from the track.
    UndatedFarFromTrack,
    /// Its file is of another outing: other waypoints of it lie far from where the track was at the times of their finds.
    FileContradicted {
        /// How many of them do.
        differ: usize,
        /// How many could be compared.
        compared: usize,
    },
    /// It has no time, and by where all undated waypoints lie it is probably not of this outing.
    UndatedImprobable {
        /// The probability that it is.
        probability: f64,
    },
}
