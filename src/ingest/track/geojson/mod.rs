//! Reads GeoJSON: lines with a list of times beside their coordinates, lines without, and points with or
//! without a time. Tolerates a damaged end and bad points, which are counted. The size of a file is
//! limited, since JSON is read as a whole. Layer: `ingest`.

mod features;
mod members;
mod mending;
mod shape;
pub(super) mod times;

#[cfg(test)]
mod tests;

use std::io::Read;
use std::path::Path;

use self::features::Features;
use super::counted::Counted;
use super::fault::{Fault, shortened};
use crate::error::{Error, Result};
use crate::model::{FileKind, TrackFile, name_of};

/// The first bytes, in which names alone show the form.
const FRONT: usize = 8 * 1024;
/// The longest file that is read, bytes.
pub(super) const LARGEST: u64 = 64 * 1024 * 1024;
/// The most positions, by their brackets.
const MOST_POSITIONS: usize = 1_100_000;
/// The same in a file without lines: each single point takes more memory.
const MOST_POINTS: usize = 500_000;

/// The types that an object of GeoJSON can have.
const TYPES: [&str; 9] = [
    "FeatureCollection",
    "Feature",
    "Point",
    "MultiPoint",
    "LineString",
    "MultiLineString",
    "GeometryCollection",
    "Polygon",
    "MultiPolygon",
];

/// Whether a file that begins with these bytes is GeoJSON: an object with one of its types. The first bytes show it
/// unless something long stands before; all of them always do.
#[must_use]
pub fn looks_like_geojson(front: &[u8]) -> bool {
    if !begins_as_object(front) {
        return false;
    }
    let first = String::from_utf8_lossy(&front[..front.len().min(FRONT)]);
    let has = |member: &str| first.contains(member);
    // a line of thousands of points may stand before every type, and the type may follow the features
    if has("\"coordinates\"") && (has("\"geometry\"") || has("\"features\"")) {
        return true;
    }
    members::show_geojson(&mending::text(front))
}

/// Whether a file that begins with these bytes may be an object of JSON.
#[must_use]
pub fn begins_as_object(front: &[u8]) -> bool {
    let front = front.strip_prefix(b"\xEF\xBB\xBF").unwrap_or(front);
    let first = front.iter().find(|byte| !byte.is_ascii_whitespace() && **byte != 0x1e);
    first == Some(&b'{')
}

/// Whether a file that begins with these bytes is GeoJSON written by trug.
#[must_use]
pub fn is_own_export(front: &[u8]) -> bool {
    let front = &front[..front.len().min(256)];
    front.starts_with(b"{") && memchr::memmem::find(front, b"\"generator\":\"trug ").is_some()
}

/// Reads GeoJSON from any stream; `path` names it in messages.
///
/// A line is a track where its properties hold as many times as it has points, otherwise a route. Points
/// with times and without names are a track, other points are waypoints. Areas are not read.
///
/// # Errors
/// When the stream cannot be read, is too long, is not GeoJSON, or states another reference system
/// than WGS 84.
///
/// # References
/// RFC 7946 (2016), The GeoJSON Format. Names of the times beside a line are common practice.
pub fn read_from(stream: impl Read, path: &Path) -> Result<TrackFile> {
    let mut counted = Counted::new(stream);
    let mut bytes = Vec::new();
    let read = (&mut counted).take(LARGEST + 1).read_to_end(&mut bytes);
    read.map_err(|fault| Error::file("read", path, &fault))?;
    if bytes.len() as u64 > LARGEST {
        return Err(Error::input(format!("{} is too large", name_of(path)))
            .because(
                "GeoJSON of at most 64 MiB is read, since it must be held in memory as a whole",
            )
            .hint("export the track as GPX, which has no such limit")
            .in_file(path));
    }
    let lines = memchr::memmem::find(&bytes, b"LineString").is_some();
    let most = if lines { MOST_POSITIONS } else { MOST_POINTS };
    if memchr::memchr_iter(b'[', &bytes).nth(most).is_some() {
        return Err(Error::input(format!("{} has too many positions", name_of(path)))
            .because(format!(
                "GeoJSON of at most {most} positions is read, since it must be held in memory as a whole"
            ))
            .hint("export the track as GPX, which has no such limit")
            .in_file(path));
    }
    let text = mending::text(&bytes);
    let features = parsed(&text);
    drop(text);
    drop(bytes);
    if !features.any {
        return Err(refusal(path, "it holds no feature and no geometry"));
    }
    if let Some(system) = features.other_system() {
        let why = format!("its coordinates are in {}, not in degrees on WGS 84", shortened(system));
        return Err(refusal(path, &why));
    }
    Ok(features.into_file(path, FileKind::GeoJson, counted.finish()))
}

/// Reads all objects of a text: one, or one after the other. Where the text is damaged, what precedes
/// that place is closed and read.
fn parsed(text: &str) -> Features {
    let mut features = Features::default();
    let Err(fault) = features.read(text) else { return features };
    let at = mending::offset(text, &fault);
    let mut features = Features::of_damaged();
    // what is closed has no further fault, except one that ends it again
    let _ = features.read(&mending::closed(&text[..at]));
    let shown = if at >= text.len() { "the end of the file" } else { &text[at..] };
    let line = memchr::memchr_iter(b'\n', &text.as_bytes()[..at]).count() as u64 + 1;
    features.tally.add(Fault::JsonDamaged, &shortened(shown), || line);
    features
}

fn refusal(path: &Path, why: &str) -> Error {
    Error::input(format!("{} cannot be used as GeoJSON", name_of(path)))
        .because(why)
        .hint("export the track as GPX, or as GeoJSON by RFC 7946")
        .in_file(path)
}
