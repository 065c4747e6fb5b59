//! Readers of recorded tracks in open formats: GPX, KML, GeoJSON, NMEA 0183. Each keeps every valid
//! point of a damaged file and counts each kind of fault with its first line. Layer: `ingest`.

mod collected;
mod counted;
mod fault;
pub mod geojson;
pub mod gpx;
pub mod kml;
pub mod nmea;
mod room;
mod time;
mod value;
mod words;
mod xml;

use std::io::Read;
use std::path::Path;

use crate::error::{Error, Result, open_regular};
use crate::model::{FileKind, TrackFile};

/// The bytes that identify a format.
const FRONT: u64 = 8 * 1024;

/// The format of a track that begins with these bytes; `None` where it is none that trug reads. Eight
/// kilobytes are enough.
#[must_use]
pub fn format(front: &[u8]) -> Option<FileKind> {
    if gpx::looks_like_gpx(front) {
        Some(FileKind::Gpx)
    } else if kml::looks_like_kml(front) {
        Some(FileKind::Kml)
    } else if nmea::looks_like_nmea(front) {
        Some(FileKind::Nmea)
    } else if geojson::looks_like_geojson(front) {
        Some(FileKind::GeoJson)
    } else {
        None
    }
}

/// The format of a track in a file that begins with these bytes; a file that may be GeoJSON with something long
/// before its type is read as a whole, up to 64 MiB.
#[must_use]
pub fn format_of(path: &Path, front: &[u8]) -> Option<FileKind> {
    format(front).or_else(|| {
        let whole = geojson::begins_as_object(front).then(|| beginning(path, geojson::LARGEST))?;
        geojson::looks_like_geojson(&whole.ok()?).then_some(FileKind::GeoJson)
    })
}

/// The first bytes of a file.
fn beginning(path: &Path, most: u64) -> std::io::Result<Vec<u8>> {
    let mut bytes = Vec::new();
    open_regular(path)?.take(most).read_to_end(&mut bytes)?;
    Ok(bytes)
}

/// As much of a stream as identifies its format, after the bytes that were read of it.
pub(crate) fn complete_front(front: &mut Vec<u8>, stream: &mut impl Read) -> std::io::Result<()> {
    if format(front).is_none() && geojson::begins_as_object(front) {
        stream.take(geojson::LARGEST).read_to_end(front)?;
    }
    Ok(())
}

/// Whether a file that begins with these bytes was written by trug: its positions are computed, not
/// observed.
#[must_use]
pub fn is_own_export(front: &[u8]) -> bool {
    gpx::is_own_export(front) || kml::is_own_export(front) || geojson::is_own_export(front)
}

/// Reads a file of tracks, whatever its name. An object of JSON is read as GeoJSON, a file of no known format as
/// GPX, whose reader describes it.
///
/// # Errors
/// When the file cannot be opened or read, or holds no track of its format.
pub fn read(path: &Path) -> Result<TrackFile> {
    let broken = |fault: &std::io::Error| Error::file("open", path, fault);
    let mut file = open_regular(path).map_err(|fault| broken(&fault))?;
    let length = file.metadata().ok().map(|data| data.len());
    let mut front = Vec::new();
    (&mut file).take(FRONT).read_to_end(&mut front).map_err(|fault| broken(&fault))?;
    let unknown = if geojson::begins_as_object(&front) { FileKind::GeoJson } else { FileKind::Gpx };
    let format = format(&front).unwrap_or(unknown);
    read_from(front.as_slice().chain(file), path, format, length)
}

/// Reads tracks of a known format from any stream; `path` names it in messages, `length` is that of
/// the stream, where known.
///
/// # Errors
/// As [`read`].
pub fn read_from(
    stream: impl Read,
    path: &Path,
    format: FileKind,
    length: Option<u64>,
) -> Result<TrackFile> {
    match format {
        FileKind::Kml => kml::read_from(stream, path),
        FileKind::Nmea => nmea::read_from(stream, path),
        FileKind::GeoJson => geojson::read_from(stream, path),
        _ => gpx::read_sized(stream, path, length),
    }
}
