//! Findings about elevations that a table leaves open. Layer: `model`.

use serde::Serialize;

use crate::model::{ElevationManner, ElevationReading, ElevationUnit};

/// How far a reading of a column of elevations lies from the heights where the finds are.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct ElevationDistance {
    /// What the reading assumes.
    pub manner: ElevationManner,
    /// The median distance, metres.
    #[serde(rename = "distance_m")]
    pub distance: f64,
}

/// Why elevations stay open.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum ElevationDoubt {
    /// Nothing is known to compare them with.
    NothingKnown,
    /// More than one reading agrees with the heights.
    Several,
    /// No reading agrees with the heights.
    NoneAgrees,
}

/// A finding about elevations whose unit or marks the table leaves open.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case", tag = "code")]
#[non_exhaustive]
pub enum ElevationNote {
    /// They were read on an assumption.
    ElevationsRead {
        /// How many.
        elevations: usize,
        /// What was assumed.
        assumed: ElevationManner,
        /// The median distances of all readings from the heights; empty where no height is known.
        distances: Vec<ElevationDistance>,
        /// Whether the heights are those of the ground; otherwise of the track.
        of_ground: bool,
        /// Whether it is what is usual at the place.
        usual: bool,
    },
    /// They are open.
    ElevationsOpen {
        /// The first one as written.
        written: String,
        /// The number of rows.
        rows: usize,
        /// The ways to read the first one.
        readings: Vec<ElevationReading>,
        /// Why.
        reason: ElevationDoubt,
        /// Whether the heights are those of the ground; otherwise of the track.
        of_ground: bool,
    },
    /// They are far from the heights where the finds are, and near them in the other unit.
    OtherUnitElevations {
        /// The first one as written.
        written: String,
        /// How many.
        elevations: usize,
        /// The first one as it was read, metres.
        read_m: f64,
        /// In the other unit, metres.
        other_m: f64,
        /// The other unit.
        other: ElevationUnit,
        /// The height of the track at the find, metres.
        height_m: f64,
    },
}
