//! Findings about a day: what its inputs lack, where they disagree, what was assumed. Each is a value with a
//! stable code and its quantities; its sentence is made in `present`, as an error with what, why and hint.
//! Layer: `model`.
//!
//! | module | findings about |
//! |---|---|
//! | `basis` | what a clock and a position rest on |
//! | `clock` | clocks, written times, zones |
//! | `conflict` | two sources that cannot both be right |
//! | `elevation` | elevations whose unit or marks are open |
//! | `input` | which files belong together, dates, readings |
//! | `notebook` | written times that are off as a whole |
//! | `record` | numbers, missing fields, photographs |
//! | `track` | gaps, faults of the receiver |
//! | `unlocated` | why a find has no position |
//! | `waypoint` | waypoints that may be of another outing |

mod basis;
mod clock;
mod conflict;
mod elevation;
mod input;
mod local_instant;
mod notebook;
mod record;
mod track;
mod unlocated;
mod waypoint;

use serde::{Deserialize, Serialize};

pub use basis::{AmendedUnlocated, AnchorBasis, ClockBasis, ClockEvidence, NoEvidence};
pub use clock::{ClockChange, ClockNote, TimesKind, TimesNote, ZoneNote, ZoneReason};
pub use conflict::{
    ConflictingPosition, CoordinatesApart, FittingReading, PositionConflict, ReadingFinding,
    RecordConflict,
};
pub use elevation::{ElevationDistance, ElevationDoubt, ElevationNote};
pub use input::{
    ApartReason, FileNote, MovedDates, OpenReadingNote, PhotographsNote, RolloverBasis,
    TrackTimesNote, UnusedReason, UnusedTimes,
};
pub use local_instant::LocalInstant;
pub use notebook::{NotebookNote, WatchOffset};
pub use record::{NumberRange, RecordNote};
pub use track::{FaultInterval, NoTrack, PhotoPositions, ReceiverFault, TrackNote};
pub use unlocated::{
    NotLocated, OffTrack, PhotographRange, Unlocated, UnlocatedFinding, UnlocatedReason,
};
pub use waypoint::{WaypointDoubt, WaypointDoubtReason};

use super::Record;

/// How a finding names a find.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct FindReference {
    /// Its number.
    pub number: Option<String>,
    /// The line of its record; in a workbook the row.
    pub line: u64,
    /// Whether the record is of a workbook.
    pub in_workbook: bool,
}

impl FindReference {
    /// That of a record.
    #[must_use]
    pub fn of(record: &Record) -> Self {
        Self {
            number: record.number.as_ref().map(ToString::to_string),
            line: record.line,
            in_workbook: record.sheet.is_some(),
        }
    }
}
