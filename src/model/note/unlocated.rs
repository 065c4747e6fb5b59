//! Why a find, or photographs without a record, have no position. Layer: `model`.

use std::path::PathBuf;

use serde::{Deserialize, Serialize};
use serde_json::Value;

use super::{FindReference, LocalInstant, WaypointDoubt};
use crate::error::Error;
use crate::model::Camera;
use crate::units::{Metres, Seconds};

/// Why a find, or a group of photographs without a record, has no position.
///
/// As an [`Error`] it says what is missing and what to do about it.
///
/// # Examples
/// ```
/// use trug::error::Error;
/// use trug::model::Unlocated;
///
/// let unlocated = Unlocated::from(Error::input("find 7 has no position"));
/// assert_eq!(unlocated.to_string(), "find 7 has no position");
/// assert!(unlocated.reasons().is_empty());
/// ```
#[derive(Clone, Debug)]
#[non_exhaustive]
pub enum Unlocated {
    /// With its code and quantities.
    Known(Box<NotLocated>),
    /// As it was reported: by an amendment, or in a store that an earlier version wrote.
    Reported(Error),
}

/// What has no position, why, and where its record stands.
#[derive(Clone, Debug, PartialEq)]
pub struct NotLocated {
    /// What has no position, and why.
    pub finding: UnlocatedFinding,
    /// The file of the record.
    pub file: Option<PathBuf>,
    /// Its line there; in a workbook the row.
    pub line: Option<u64>,
    /// Its sheet of a workbook.
    pub sheet: Option<String>,
}

/// What has no position, and why.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", tag = "code")]
#[non_exhaustive]
pub enum UnlocatedFinding {
    /// A find.
    FindNotLocated {
        /// The find.
        find: FindReference,
        /// Why each evidence of its record gives no position; empty where there is none.
        reasons: Vec<UnlocatedReason>,
    },
    /// Photographs of one stop that no record names.
    PhotographsNotLocated {
        /// The photographs.
        photographs: PhotographRange,
        /// Why their positions and times give none; empty where there are neither.
        reasons: Vec<UnlocatedReason>,
    },
}

/// Why one evidence gives no position.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", tag = "code")]
#[non_exhaustive]
pub enum UnlocatedReason {
    /// The written times of the day are off by hours.
    WrittenTimesOff {
        /// Written times less true times.
        #[serde(rename = "ahead_s")]
        ahead: Seconds,
        /// Whether correct times are out of the question.
        sure: bool,
    },
    /// The date is written and not known, and so not the day of its time.
    DateNotKnown {
        /// As written.
        date: String,
    },
    /// The coordinates have more than one possible reading.
    CoordinatesOpen {
        /// As written.
        verbatim: String,
    },
    /// The coordinates do not fit those of other finds of the day.
    CoordinatesApart {
        /// As written.
        verbatim: String,
        /// The distance to the nearest find that they conflict with.
        #[serde(rename = "away_m")]
        away: Metres,
    },
    /// Several waypoints can be meant, which lie in different places.
    WaypointsAlike {
        /// The name that is written.
        waypoint: String,
        /// How many.
        waypoints: usize,
    },
    /// The outing has no waypoint of the written name.
    NoSuchWaypoint {
        /// The name.
        waypoint: String,
    },
    /// The waypoint may be of another outing.
    WaypointInDoubt {
        /// What speaks against it.
        doubt: WaypointDoubt,
    },
    /// The offset of the camera's clock is not known.
    CameraOffsetUnknown {
        /// The photographs.
        photographs: PhotographRange,
        /// The camera.
        camera: Camera,
    },
    /// No track covers the time of photographs.
    PhotographsOffTrack {
        /// The photographs.
        photographs: PhotographRange,
        /// Their time.
        at: LocalInstant,
        /// What there is instead.
        track: OffTrack,
    },
    /// No track covers the written time.
    WrittenTimeOffTrack {
        /// The time.
        at: LocalInstant,
        /// What there is instead.
        track: OffTrack,
    },
}

/// Why no track covers a time.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", tag = "code")]
#[non_exhaustive]
pub enum OffTrack {
    /// No track is associated with it with enough certainty.
    NotAssociated,
    /// There is no track of that day.
    NoTrackOfDay,
    /// There is a track, but without usable times.
    NoTrack,
    /// There is no such track; positions of photographs stand in for one at other times.
    PhotoPositionsOnly {
        /// The time of the first position.
        from: LocalInstant,
        /// The time of the last one.
        to: LocalInstant,
    },
    /// The track is of other times.
    OutsideTrack {
        /// Its beginning.
        from: LocalInstant,
        /// Its end.
        to: LocalInstant,
        /// How far outside of it a position is still estimated.
        #[serde(rename = "beyond_s")]
        beyond: Seconds,
    },
}

/// Photographs that follow each other.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct PhotographRange {
    /// The name of the first.
    pub first: String,
    /// The name of the last one.
    pub last: String,
    /// How many.
    pub count: usize,
}

impl Unlocated {
    /// Why each evidence gives no position; empty where there is no evidence, or where it is known in words only.
    #[must_use]
    pub fn reasons(&self) -> &[UnlocatedReason] {
        match self {
            Self::Known(known) => known.finding.reasons(),
            Self::Reported(_) => &[],
        }
    }
}

impl UnlocatedFinding {
    /// Why each evidence gives no position.
    #[must_use]
    pub fn reasons(&self) -> &[UnlocatedReason] {
        match self {
            Self::FindNotLocated { reasons, .. } | Self::PhotographsNotLocated { reasons, .. } => {
                reasons
            }
        }
    }
}

impl From<NotLocated> for Unlocated {
    fn from(known: NotLocated) -> Self {
        Self::Known(Box::new(known))
    }
}

/// From a report, as a store keeps it: with code and quantities where it has them.
impl From<Error> for Unlocated {
    fn from(report: Error) -> Self {
        let finding = report.finding().cloned().map(Value::Object);
        let finding = finding.and_then(|finding| serde_json::from_value(finding).ok());
        match finding {
            Some(finding) => NotLocated {
                finding,
                file: report.where_file().map(PathBuf::from),
                line: report.where_line(),
                sheet: report.where_sheet().map(str::to_owned),
            }
            .into(),
            None => Self::Reported(report),
        }
    }
}
