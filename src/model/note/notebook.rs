//! Findings about the times of a notebook as a whole: off by hours, or written by a watch that is off. Layer:
//! `model`.

use serde::{Deserialize, Serialize};

use crate::units::Seconds;

/// A finding about the times of a notebook.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case", tag = "code")]
#[non_exhaustive]
pub enum NotebookNote {
    /// All written times are off by hours; they place no find.
    NotebookOff {
        /// Written times less true times; the most probable.
        #[serde(rename = "ahead_s")]
        ahead: Seconds,
        /// Whether correct times are out of the question.
        sure: bool,
        /// The probability of this offset.
        probability: f64,
        /// The probability that the times are correct.
        probability_correct: f64,
        /// How many written times show it.
        written_times: usize,
        /// Whether they are as if kept in UTC.
        in_utc: bool,
        /// The offset from UTC of the zone in which they are read.
        #[serde(rename = "zone_offset_s")]
        zone_offset: Seconds,
        /// Whether times of the track state no zone and were read as UTC: they may be local.
        track_zone_assumed: bool,
    },
    /// The watch is off by minutes; positions allow for it.
    WatchOff {
        /// By how much.
        watch: WatchOffset,
        /// How many written times show it.
        written_times: usize,
    },
    /// The error of the watch cannot be determined.
    WatchOpen {
        /// Its limits.
        watch: WatchOffset,
        /// How many written times there are.
        written_times: usize,
    },
}

/// How far the watch of a notebook is ahead of the true time.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct WatchOffset {
    /// Written times less true times; `None` where it cannot be determined.
    #[serde(rename = "ahead_s")]
    pub ahead: Option<Seconds>,
    /// The lower end of the 95 % interval.
    #[serde(rename = "low95_s")]
    pub low: Seconds,
    /// The upper end of the 95 % interval.
    #[serde(rename = "high95_s")]
    pub high: Seconds,
}
