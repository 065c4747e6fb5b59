//! Reads KML 2.2 and 2.3 as a stream: tracks with a time at each point (`Track`, with or without the
//! prefix of the extension to 2.2), lines, and marked places. Damage is counted. Memory is bounded by
//! the points. Layer: `ingest`.

mod assembly;
mod element;
mod placemark;
mod tags;
mod tuples;

#[cfg(test)]
mod tests;

use std::io::Read;
use std::path::Path;

use self::assembly::Assembly;
use super::xml;
use crate::error::Result;
use crate::model::TrackFile;

/// Whether a file that begins with these bytes is worth reading as KML.
#[must_use]
pub fn looks_like_kml(front: &[u8]) -> bool {
    xml::first_local_name(front).as_deref() == Some("kml")
}

/// Whether a file that begins with these bytes is a KML file written by trug.
#[must_use]
pub fn is_own_export(front: &[u8]) -> bool {
    looks_like_kml(front)
        && String::from_utf8_lossy(front).contains("<description>written by trug ")
}

/// Reads KML from any stream; `path` names it in messages.
///
/// A `Track` pairs its times and positions in their order. A line is read as a route, since it says
/// where but not when, unless its placemark has as many times as the line has points. A point is a
/// waypoint; single points with times and without names are a track.
///
/// # Errors
/// When the stream cannot be read, or holds no element of KML.
///
/// # References
/// OGC 07-147r2 (2008), KML 2.2; OGC 12-007r2 (2015), KML 2.3, 11.3 `Track`.
pub fn read_from(stream: impl Read, path: &Path) -> Result<TrackFile> {
    xml::read(stream, path, Assembly::new(path))
}
