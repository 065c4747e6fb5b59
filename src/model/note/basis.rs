//! What the offset of a camera's clock and the evidence for a position rest on. Layer: `model`.

use serde::{Deserialize, Serialize};

use super::{PhotographRange, WatchOffset};
use crate::units::{Metres, Seconds, Timestamp};

/// What the offset of a camera's clock rests on; where it is declined, why.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(untagged)]
#[non_exhaustive]
pub enum ClockBasis {
    /// With its code and quantities.
    Known(ClockEvidence),
    /// In words, in a store that an earlier version wrote.
    Words(String),
    /// Nothing is known.
    #[default]
    None,
}

/// The evidence for the offset of a camera's clock.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", tag = "code")]
#[non_exhaustive]
pub enum ClockEvidence {
    /// The offset was stated on the command line.
    Stated,
    /// The offset was stated in an amendment.
    Amended,
    /// The clock is taken as right.
    TakenAsRight,
    /// A photograph shows a clock.
    ShownClock {
        /// The photograph.
        photograph: String,
    },
    /// None of the photographs has a time.
    NoTimes,
    /// The camera's date is not of the day, and its photographs do not show by how much.
    OtherDate,
    /// The offset is estimated from the day.
    Estimated {
        /// GPS times in the photographs.
        gps_times: usize,
        /// Groups of photographs matched to stops; `None` without a track.
        groups: Option<usize>,
        /// Written times and waypoints.
        written: usize,
        /// Finds that another camera shows.
        other_camera: usize,
        /// Other days of this camera.
        other_days: usize,
    },
    /// Not determined: there is no track with times.
    NoTrack,
    /// Not determined: several offsets fit.
    SeveralOffsets {
        /// Groups of photographs.
        groups: usize,
        /// The probability of the best offset.
        best: f64,
    },
    /// Not determined: the interval is too wide.
    WideInterval {
        /// Groups of photographs.
        groups: usize,
        /// The width of the 95 % interval.
        #[serde(rename = "width_s")]
        width: Seconds,
    },
}

impl ClockBasis {
    /// Whether nothing is known.
    #[must_use]
    pub fn is_none(&self) -> bool {
        matches!(self, Self::None)
    }
}

impl From<ClockEvidence> for ClockBasis {
    fn from(evidence: ClockEvidence) -> Self {
        Self::Known(evidence)
    }
}

/// What the evidence for a position rests on.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case", tag = "code")]
#[non_exhaustive]
pub enum AnchorBasis {
    /// Written coordinates.
    Coordinates {
        /// As written.
        verbatim: String,
        /// How they are read.
        manner: String,
    },
    /// A waypoint.
    Waypoint {
        /// Its name.
        name: Option<String>,
        /// How many fixes the receiver averaged for it, where it says so.
        averaged: Option<u32>,
    },
    /// The position that a photograph carries.
    PhotoPosition {
        /// The photograph.
        photograph: String,
        /// The error that it states, at about 50 %.
        #[serde(rename = "stated_error_m")]
        stated_error: Option<Metres>,
    },
    /// The times of photographs.
    PhotographTimes {
        /// The photographs.
        photographs: PhotographRange,
        /// Their time by the corrected clock.
        at: Timestamp,
        /// The camera whose positions stand in for a track, where they do.
        positions_of: Option<String>,
    },
    /// The written time.
    WrittenTime {
        /// The time as it is read, before the watch is corrected.
        at: Timestamp,
        /// How far the watch is off, where it is.
        watch: Option<WatchOffset>,
        /// The camera whose positions stand in for a track, where they do.
        positions_of: Option<String>,
    },
    /// An amendment states the position.
    Amendment {
        /// The number of the change.
        change: i64,
    },
    /// The times of photographs, as amended.
    AmendedPhotographs {
        /// The first.
        first: Timestamp,
        /// The last.
        last: Timestamp,
    },
    /// The time, as amended.
    AmendedTime {
        /// The time.
        at: Timestamp,
    },
    /// In words, as a store keeps it.
    Words {
        /// The words.
        words: String,
    },
}

impl AnchorBasis {
    /// The same time between positions of photographs of this camera, instead of on a track.
    pub(crate) fn between_positions_of(mut self, camera: &str) -> Self {
        if let Self::PhotographTimes { positions_of, .. } | Self::WrittenTime { positions_of, .. } =
            &mut self
        {
            *positions_of = Some(camera.to_owned());
        }
        self
    }
}

impl From<String> for AnchorBasis {
    fn from(words: String) -> Self {
        Self::Words { words }
    }
}

/// Why an amended find has no position.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case", tag = "code")]
#[non_exhaustive]
pub enum AmendedUnlocated {
    /// An amendment removed the position.
    PositionRemoved,
    /// No evidence for a position is left.
    NoEvidence {
        /// Its number.
        find: Option<String>,
        /// Why each kind of evidence gives no position.
        reasons: Vec<NoEvidence>,
    },
}

/// Why evidence of an amended find gives no position.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case", tag = "code")]
#[non_exhaustive]
pub enum NoEvidence {
    /// No photograph with a known time shows the find.
    NoPhotographTime,
    /// The outing has no track.
    NoTrack,
    /// The time of the find is outside the track.
    OutsideTrack {
        /// The beginning of the track.
        first: Timestamp,
        /// Its end.
        last: Timestamp,
    },
    /// The time of the find is in a gap of the track.
    InGap {
        /// The beginning of the gap.
        from: Timestamp,
        /// Its end.
        to: Timestamp,
    },
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_of_an_earlier_version_are_kept() {
        let read = |json: &str| serde_json::from_str::<ClockBasis>(json).unwrap();
        assert_eq!(read("\"3 stops\""), ClockBasis::Words("3 stops".to_owned()));
        assert_eq!(read("null"), ClockBasis::None);
        let known = ClockBasis::from(ClockEvidence::SeveralOffsets { groups: 3, best: 0.4 });
        assert_eq!(read(&serde_json::to_string(&known).unwrap()), known);
    }
}
