//! Represents a find: a record with the position estimated from all its anchors. Layer: `model`.
//!
//! A find has as many independent readings of its place as the day gave: coordinates, a waypoint, photographs, a
//! written time. [`Anchor`] is one of them; [`Located`] is what they say together.

use jiff::Timestamp;
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use super::{AnchorBasis, Record, Unlocated};
use crate::units::{GpsHeight, LatLon, Metres, Radius95, Seconds};

/// One find of one outing.
///
/// `place` is an error where nothing locates it, or where what locates it is not certain enough: such a find is
/// kept with all its data and the reason.
#[derive(Clone, Debug)]
pub struct Find {
    /// Stable for the same collector, number and day.
    pub id: Uuid,
    /// What was written.
    pub record: Record,
    /// Index into [`super::Day::sources`] of the file that holds the record.
    pub source: usize,
    /// When it was found, as well as is known: the middle and the half width of a 95 % interval.
    pub when: Option<(Timestamp, Seconds)>,
    /// Indices into [`super::Day::photos`] of the photographs that show it.
    pub photos: Vec<usize>,
    /// Every anchor that could be computed, most trusted first.
    pub anchors: Vec<Anchor>,
    /// The position, or why there is none.
    pub place: Result<Located, Unlocated>,
}

/// What a position rests on, most trusted first.
///
/// The order decides which one is used where anchors disagree, unless two others agree against it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum AnchorKind {
    /// A position that the user stated to correct another.
    Correction,
    /// Coordinates in the record.
    Coordinates,
    /// A waypoint of its number.
    Waypoint,
    /// The position that a photograph itself carries.
    PhotoPosition,
    /// The time of its photographs, on the track.
    PhotoTime,
    /// The written time, on the track.
    WrittenTime,
}

/// One independent reading of where a find was.
///
/// Anchors that rest on one receiver share its error; [`Located`] takes that into account.
#[derive(Clone, Debug)]
pub struct Anchor {
    /// What it rests on.
    pub kind: AnchorKind,
    /// Its position.
    pub at: LatLon,
    /// Its own uncertainty, all parts included.
    pub radius: Radius95,
    /// Where that uncertainty comes from.
    pub parts: Vec<RadiusPart>,
    /// The instant it stands for, where it has one.
    pub when: Option<Timestamp>,
    /// Whether it went into the position. One that disagrees is kept and reported, not averaged in.
    pub used: bool,
    /// What it rests on.
    pub basis: AnchorBasis,
}

/// A position with its uncertainty.
///
/// # Accuracy
/// On days with known truth the circle holds the true position in about 95 of 100 cases; `docs/position.md` has the
/// coverage by condition, `tests/position` measures it.
///
/// # References
/// Chapman & Wieczorek 2020, Georeferencing Best Practices, doi:10.15468/doc-gg7h-s853: bounds add, random errors
/// combine as the root of the sum of squares.
#[derive(Clone, Debug)]
pub struct Located {
    /// The point.
    pub at: LatLon,
    /// The smallest circle about it that holds 95 % of what is believed.
    pub radius: Radius95,
    /// Where the radius comes from, largest first.
    pub parts: Vec<RadiusPart>,
    /// The receiver's height there, where the track has one.
    pub height: Option<GpsHeight>,
    /// Whether the anchors agreed.
    pub combination: Combination,
}

/// How several anchors became one position.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum Combination {
    /// There was one.
    Single,
    /// They agreed and were combined.
    Agreed,
    /// They disagreed: the most trusted is used, and the rest is in a conflict.
    MostTrusted,
}

/// One part of a radius.
///
/// The parts show what would help: a second photograph of a clock, coordinates with more digits, a stated datum.
/// They do not add up to the radius in a simple way.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct RadiusPart {
    /// Where it comes from.
    pub kind: PartKind,
    /// Its size alone, at the 95 % level (a bounded part: its bound).
    pub size: Metres,
}

/// Where a part of a radius comes from.
///
/// Names the cause as a person can act on it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum PartKind {
    /// The receiver's error.
    Receiver,
    /// Interpolation between two fixes.
    Interpolation,
    /// The camera's clock.
    Clock,
    /// A time written to the minute.
    TimeRounding,
    /// How far the collector stood from the find.
    StandOff,
    /// Digits left off the coordinates (bounded).
    CoordinatePrecision,
    /// A datum not stated or coarsely converted (bounded).
    Datum,
}

impl PartKind {
    /// Whether the part is a bound, which adds linearly, rather than a random error, which adds in
    /// quadrature.
    ///
    /// # References
    /// Chapman & Wieczorek 2020, Georeferencing Best Practices.
    #[must_use]
    pub fn is_bounded(self) -> bool {
        matches!(self, Self::CoordinatePrecision | Self::Datum)
    }

    /// In words, for a table or a label.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::Receiver => "GPS",
            Self::Interpolation => "between fixes",
            Self::Clock => "camera clock",
            Self::TimeRounding => "time rounding",
            Self::StandOff => "stand-off",
            Self::CoordinatePrecision => "coordinate precision",
            Self::Datum => "datum",
        }
    }
}
