//! Findings about the track of a day and its receiver. Layer: `model`.

use jiff::civil::{Date, Time};
use serde::Serialize;

use super::FindReference;
use crate::units::{Seconds, Timestamp};

/// A finding about a track.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case", tag = "code")]
#[non_exhaustive]
pub enum TrackNote {
    /// The outing has no track.
    NoTrack {
        /// The date of the outing.
        date: Option<Date>,
        /// Why.
        reason: NoTrack,
        /// The fixes that cannot be used.
        fixes: usize,
        /// The positions of photographs that serve instead, and their camera.
        #[serde(skip_serializing_if = "Option::is_none")]
        photo_positions: Option<PhotoPositions>,
    },
    /// There are gaps in the track.
    Gaps {
        /// How many.
        count: usize,
        /// Their length together.
        #[serde(rename = "total_s")]
        total: Seconds,
        /// The length of the longest.
        #[serde(rename = "longest_s")]
        longest: Seconds,
        /// The local time at which the longest begins.
        from: Time,
    },
    /// Most fixes are not used.
    FewFixesUsed {
        /// The fixes that are used.
        used: usize,
        /// All fixes.
        fixes: usize,
    },
    /// The receiver did not work for a while; the longest interval of one fault.
    ReceiverFault(FaultInterval),
    /// The date of an outing cannot be determined.
    Undated {
        /// Its files.
        files: Vec<String>,
        /// A GPS time of a photograph, of which the zone is not known.
        instant: Option<Timestamp>,
        /// Its records, none of which has a date that can be read, by their places in their files.
        records: Vec<String>,
    },
}

/// The positions of photographs that serve as a sparse track.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PhotoPositions {
    /// How many.
    pub count: usize,
    /// The camera.
    pub camera: String,
}

/// Why an outing has no track.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum NoTrack {
    /// No track is certainly that of its finds.
    NotAssociated,
    /// There is none of that day.
    NoFile,
    /// None of its fixes can be used.
    NoFixUsed,
}

/// The longest interval of a fault of a receiver.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FaultInterval {
    /// The fault.
    #[serde(flatten)]
    pub fault: ReceiverFault,
    /// The fixes of the longest interval.
    pub fixes: usize,
    /// The local time at which it begins.
    pub from: Time,
    /// The local time at which it ends.
    pub until: Time,
    /// How long it lasts.
    #[serde(rename = "lasting_s")]
    pub lasting: Seconds,
    /// The number of intervals.
    pub intervals: usize,
    /// The fixes of all of them.
    pub fixes_in_all: usize,
    /// The finds in them.
    pub finds: Vec<FindReference>,
}

/// A fault of a receiver.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case", tag = "fault")]
#[non_exhaustive]
pub enum ReceiverFault {
    /// Its clock was ahead of the rest of the file, or behind where negative.
    ClockAhead {
        /// By so much.
        #[serde(rename = "ahead_s")]
        ahead: Seconds,
    },
    /// Its clock was set back from one fix to the next.
    ClockSetBack {
        /// By so much.
        #[serde(rename = "by_s")]
        by: Seconds,
    },
    /// Fixes have the same time.
    SameTime,
    /// It repeated one position.
    Frozen,
    /// It shows each position for a while, at stops and on the way.
    Repeating {
        /// From one new position to the next.
        #[serde(rename = "each_s")]
        each: Seconds,
    },
    /// Positions cannot be reached on foot.
    Implausible,
    /// The first fixes lie far from those after them.
    Settling,
    /// The file marks positions as invalid.
    NoFix,
    /// Fixes have no time.
    Untimed,
}
