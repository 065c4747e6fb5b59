//! Represents the association of a track with the photographs and records of an import: the compared
//! hypotheses with their probabilities and evidence. Layer: `model`.
//!
//! A record and a photograph do not say whose track they belong to. With several collectors, receivers or days in
//! one import the pairing is inferred, and where it stays open no position is given: a label is permanent.
//! `docs/association.md` has the method and the checks.

use jiff::civil::Date;
use serde::{Deserialize, Serialize};

/// Records and photographs whose pairing with a track is in doubt, or differs from what was written.
///
/// The probabilities of `tracks` and `none` add up to one.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Association {
    /// What is uncertain, or what was decided.
    pub kind: AssociationKind,
    /// How many records it concerns.
    pub records: usize,
    /// How many photographs it concerns.
    pub photographs: usize,
    /// Who collected, where the records say so.
    pub collector: Option<String>,
    /// The dates in the records.
    pub written_dates: Vec<Date>,
    /// The dates of the cameras.
    pub camera_dates: Vec<Date>,
    /// The local dates of the GPS times in the photographs.
    pub gps_dates: Vec<Date>,
    /// The tracks that were compared, the most probable first.
    pub tracks: Vec<TrackCandidate>,
    /// The probability that none of these tracks is theirs.
    pub none: f64,
}

impl Association {
    /// A find is placed from a track only where the association is at least so probable.
    ///
    /// A project choice: "no position, because" is better than a position on another day's or another person's track.
    pub const THRESHOLD: f64 = 0.99;

    /// Whether positions are withheld because of it; then the exit status is 1.
    #[must_use]
    pub fn is_refusal(&self) -> bool {
        use AssociationKind::{ByDateOnly, DatesDiffer, NamedAfterAnother, Undated};
        !matches!(self.kind, DatesDiffer | NamedAfterAnother | ByDateOnly | Undated)
    }
}

/// What is uncertain about a pairing, or what was decided.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum AssociationKind {
    /// The track is of another day, as far as dates and photographs tell.
    AnotherDay,
    /// Several tracks of that time, and nothing tells whose is which.
    OwnerUnknown,
    /// The photographs do not fit the only track of that day: another person's, or another outing's.
    AnotherPerson,
    /// More collectors than receivers were out, and nothing tells that this one walked with the track.
    TrackShared,
    /// The pairing is beyond reasonable doubt although a date differs.
    DatesDiffer,
    /// The pairing is beyond reasonable doubt although the name of the track's file or folder is another person's.
    NamedAfterAnother,
    /// The pairing rests on the date: nothing else shows whose track it is.
    ByDateOnly,
    /// The pairing rests on there being one track: no date is written, and nothing else shows whose track it is.
    Undated,
    /// No camera's offset can be determined on the only track, so that no find has a position.
    PhotographsUnmatched,
    /// The track stays in one place over the time of the finds: the receiver was left behind, or had no signal.
    ReceiverStationary,
}

/// A track that may belong to records and photographs.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct TrackCandidate {
    /// The names of its files.
    pub files: Vec<String>,
    /// The local date of its first fix.
    pub first_date: Date,
    /// The local date of its last fix.
    pub last_date: Date,
    /// The probability that it is theirs.
    pub probability: f64,
    /// What bears on it.
    pub evidence: Vec<AssociationEvidence>,
}

/// One piece of evidence for or against a pairing.
///
/// Log factors of independent pieces add; 4.6 is odds of a hundred to one.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct AssociationEvidence {
    /// What it is.
    pub kind: EvidenceKind,
    /// The natural logarithm of the Bayes factor: positive speaks for the pairing.
    pub log_factor: f64,
    /// How many records, photographs or groups of photographs it rests on.
    pub count: usize,
}

/// What bears on whether a track belongs to records and photographs.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum EvidenceKind {
    /// The dates in the records against the local dates of the fixes.
    WrittenDate,
    /// The dates of the cameras.
    CameraDate,
    /// GPS times in the photographs.
    GpsTime,
    /// Photographs in stops.
    Stops,
    /// Written times within the track.
    WrittenTimes,
    /// Written times at stops, of records without photographs.
    TimesAtStops,
    /// Times, place names, numbers and a camera in common with another collector of that track.
    Companions,
    /// GPS positions in the photographs.
    PhotoPositions,
    /// Coordinates in the records.
    WrittenPositions,
    /// Waypoints that the records name, in the file of the track.
    Waypoints,
    /// Folders.
    Folder,
    /// The collector's name in the name of a file or folder.
    Collector,
    /// Another person's name in the name of a file or folder.
    AnotherName,
    /// Photographs that others of the same track's records claim too.
    Company,
    /// Another collector's track.
    OtherOwner,
}
