//! Findings about a day: what its inputs lack, where they disagree, what was assumed. Each is a value with a
//! stable code and its quantities; its sentence is made in `present`, as an error with what, why and hint.
//! Layer: `model`.

mod basis;
mod clock;
mod conflict;
mod elevation;
mod input;
mod record;
mod track;

use serde::Serialize;

pub use basis::{AmendedUnlocated, AnchorBasis, ClockBasis, ClockEvidence, NoEvidence};
pub use clock::{ClockChange, ClockNote, TimesKind, TimesNote, ZoneNote, ZoneReason};
pub use conflict::{ConflictingPosition, PositionConflict, ReadingFinding, RecordConflict};
pub use elevation::{ElevationDistance, ElevationDoubt, ElevationNote};
pub use input::{
    ApartReason, FileNote, MovedDates, OpenReadingNote, PhotographsNote, RolloverBasis,
    TrackTimesNote, UnusedReason, UnusedTimes,
};
pub use record::{NumberRange, RecordNote};
pub use track::{FaultInterval, NoTrack, PhotoPositions, ReceiverFault, TrackNote};

use super::Record;

/// How a finding names a find.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
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
