//! Represents tracks, routes and waypoints as a satellite receiver recorded them. Layer: `model`.

use std::path::PathBuf;

use serde::{Deserialize, Serialize};

use super::SourceFile;
use crate::error::Error;
use crate::units::{GpsHeight, LatLon, Timestamp};

/// One recorded position. At most 100 bytes, since a decade of days holds tens of millions.
///
/// Nothing is corrected here: a fix is what the file says, with the line where it says so.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Fix {
    /// The receiver's position.
    pub at: LatLon,
    /// When; `None` where the file does not say.
    pub time: Option<Timestamp>,
    /// The receiver's height.
    pub height: Option<GpsHeight>,
    /// Horizontal dilution of precision, no unit.
    pub hdop: Option<f32>,
    /// Vertical dilution of precision, no unit.
    pub vdop: Option<f32>,
    /// Position dilution of precision, no unit.
    pub pdop: Option<f32>,
    /// Satellites used.
    pub satellites: Option<u8>,
    /// How the position was computed.
    pub kind: Option<FixKind>,
    /// The line of the file on which the point begins, counted from one.
    pub line: u32,
}

impl Fix {
    /// A fix with a place and a time and nothing else known.
    ///
    /// For tests and for formats that state no more. The line is 0.
    #[must_use]
    pub fn bare(at: LatLon, time: Option<Timestamp>) -> Self {
        Self {
            at,
            time,
            height: None,
            hdop: None,
            vdop: None,
            pdop: None,
            satellites: None,
            kind: None,
            line: 0,
        }
    }
}

/// The kinds of fix that GPX 1.1 names.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
#[non_exhaustive]
pub enum FixKind {
    /// The receiver had no fix.
    None,
    /// Two-dimensional.
    #[serde(rename = "2d")]
    TwoD,
    /// Three-dimensional.
    #[serde(rename = "3d")]
    ThreeD,
    /// Differentially corrected.
    Dgps,
    /// Military signal.
    Pps,
}

/// An unbroken run of fixes, in the order of the file.
///
/// GPX breaks a track into segments where the receiver was off or lost its signal; other formats have one segment a
/// line.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Segment {
    /// In the order of the file, which may not be the order of time.
    pub fixes: Vec<Fix>,
}

/// A recorded track.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Track {
    /// Its name in the file.
    pub name: Option<String>,
    /// Its description in the file.
    pub description: Option<String>,
    /// Runs between which the receiver was off or lost its signal.
    pub segments: Vec<Segment>,
}

/// A planned route.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Route {
    /// Its name in the file.
    pub name: Option<String>,
    /// Its points in order.
    pub points: Vec<Waypoint>,
}

/// A single marked place.
///
/// Receivers number waypoints, and collectors give a find the number of its waypoint: the name is what links the
/// two.
#[derive(Clone, Debug, PartialEq)]
pub struct Waypoint {
    /// Where and when.
    pub fix: Fix,
    /// Its name, often the number of a find.
    pub name: Option<String>,
    /// Its description.
    pub description: Option<String>,
    /// Its comment.
    pub comment: Option<String>,
    /// The name of its symbol.
    pub symbol: Option<String>,
    /// How many fixes the receiver averaged, where it says so.
    pub averaged: Option<u32>,
}

/// Everything that one file of tracks gave.
///
/// One bad point loses itself, not the file: it is counted in `points_set_aside` and described once for each kind
/// of fault in `set_aside`.
#[derive(Clone, Debug)]
pub struct TrackFile {
    /// The file.
    pub source: SourceFile,
    /// The program or device that wrote it.
    pub creator: Option<String>,
    /// Its tracks.
    pub tracks: Vec<Track>,
    /// Its routes.
    pub routes: Vec<Route>,
    /// Its waypoints.
    pub waypoints: Vec<Waypoint>,
    /// Its areas, which are not read: polygons of a map.
    pub areas: usize,
    /// What could not be read. One entry for each kind of fault, with how often and the first line.
    pub set_aside: Vec<Error>,
    /// How many points were set aside in all.
    pub points_set_aside: usize,
    /// How many sentences of an NMEA log have a checksum that does not fit.
    pub checksums_wrong: usize,
    /// Whether times of it state no zone and were read as UTC.
    pub zone_assumed: bool,
    /// What was read in spite of a fault, or on an assumption: times without a zone, decimal commas,
    /// bytes of another encoding. One entry for each kind.
    pub remarks: Vec<Error>,
}

impl TrackFile {
    /// All fixes of all tracks, in the order of the file.
    pub fn fixes(&self) -> impl Iterator<Item = &Fix> {
        self.tracks.iter().flat_map(|track| &track.segments).flat_map(|segment| &segment.fixes)
    }

    /// Whether nothing was in it, not even damaged.
    ///
    /// A file with nothing but damaged points is not empty: its damage has to be reported.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.tracks.is_empty()
            && self.routes.is_empty()
            && self.waypoints.is_empty()
            && self.set_aside.is_empty()
    }

    /// The path of the file.
    #[must_use]
    pub fn path(&self) -> &PathBuf {
        &self.source.path
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_fix_stays_small() {
        assert!(size_of::<Fix>() <= 100, "{} bytes", size_of::<Fix>());
    }
}
