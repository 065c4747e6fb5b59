//! Decides whether a file holds data that an import would read, so that it must not be replaced. An empty template
//! and what trug exported hold none. Layer: `ingest`.

use std::io::Read;
use std::path::Path;

use super::archive;
use super::sort::{FRONT, Kind, by_content};
use super::walk::Found;
use crate::error::open_regular;
use crate::ingest::record::Columns;
use crate::ingest::{record, track};
use crate::model::FileKind;

/// Fewer bytes are no archive: the header of one packed file has as many.
const LEAST_ARCHIVE: usize = 30;

/// The kind of input that a file holds, whatever its name; `None` where an import would take nothing from it, or where
/// the file cannot be opened. Damaged content of a known kind counts as held.
#[must_use]
pub fn held(path: &Path) -> Option<Kind> {
    let mut front = Vec::new();
    let read = open_regular(path).and_then(|file| file.take(FRONT).read_to_end(&mut front));
    read.ok()?;
    let kind = by_content(path, &front, &Columns::default())?;
    let holds = match kind {
        Kind::Photo => true,
        Kind::Track => !track::is_own_export(&front) && has_places(path),
        Kind::Records => !record::is_own_export(&front) && has_entries(path),
        Kind::Archive => front.len() >= LEAST_ARCHIVE && has_inputs(path, &front),
    };
    holds.then_some(kind)
}

fn has_inputs(path: &Path, front: &[u8]) -> bool {
    let file = Found { path: path.to_owned(), named: false };
    archive::holds_inputs(&file, archive::kind(front))
}

/// Whether a track file is one of a receiver or a map: KML and GeoJSON without a line, a point or an area hold nothing.
fn has_places(path: &Path) -> bool {
    track::read(path).map_or(true, |track| {
        track.source.kind == FileKind::Gpx || !track.is_empty() || track.areas > 0
    })
}

/// Whether a notebook has any row below its headings.
fn has_entries(path: &Path) -> bool {
    record::read(path).map_or(true, |file| !file.records.is_empty() || !file.set_aside.is_empty())
}
