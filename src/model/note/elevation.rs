//! Findings about elevations that a table leaves open. Layer: `model`.

use serde::Serialize;

use crate::model::ElevationManner;
use crate::units::Metres;

/// A finding about the elevations of one column.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case", tag = "code")]
#[non_exhaustive]
pub enum ElevationNote {
    /// The elevations are read with an assumption.
    ElevationsRead {
        /// How many.
        elevations: usize,
        /// What is assumed.
        manner: ElevationManner,
        /// What decided.
        reason: ElevationReason,
    },
    /// More than one reading of the elevations is possible, or none.
    ElevationsOpen {
        /// The first elevation as written.
        written: String,
        /// The number of rows.
        rows: usize,
        /// The readings of the first.
        readings: Vec<OpenElevation>,
        /// Why they are open.
        reason: OpenElevations,
        /// Whether the heights that they are compared with are those of the ground; otherwise of the track.
        of_ground: bool,
    },
}

/// What decided how elevations are read.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case", tag = "code")]
#[non_exhaustive]
pub enum ElevationReason {
    /// They differ least from known heights.
    HeightsAgree {
        /// The median difference.
        #[serde(rename = "median_m")]
        median: Metres,
        /// The median difference of each other reading.
        others: Vec<OtherElevation>,
        /// Whether the heights are those of the ground; otherwise of the track.
        of_ground: bool,
    },
    /// No height is known, and metres are usual at the place.
    UsualAtPlace,
    /// Any other reading is higher than vegetation grows or lower than land lies.
    OnlyPossible,
}

/// A reading that was not used.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct OtherElevation {
    /// What it assumes.
    pub manner: ElevationManner,
    /// Its median difference from the known heights.
    #[serde(rename = "median_m")]
    pub median: Metres,
}

/// A possible reading of a written elevation.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct OpenElevation {
    /// What it assumes.
    pub manner: ElevationManner,
    /// The elevation; of a range its lower end.
    #[serde(rename = "low_m")]
    pub low: Metres,
    /// The upper end of a range, otherwise the same.
    #[serde(rename = "high_m")]
    pub high: Metres,
}

/// Why elevations stay open.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum OpenElevations {
    /// Nothing is known to compare them with.
    NothingKnown,
    /// More than one reading agrees with the heights.
    Several,
    /// No reading agrees with the heights.
    None,
}
