//! Reads GPX 1.0 and 1.1 as a stream: keeps every valid point and counts each kind of fault with
//! its first line. Memory stays bounded by the fixes, for any file. Refuses files that are not GPX.
//! Layer: `ingest`.

mod assembly;
mod element;
mod point;
mod refusal;
mod skipped;

#[cfg(test)]
mod tests;

use std::io::Read;
use std::path::Path;

use self::assembly::Assembly;
use super::xml;
use crate::error::{Error, Result, open_regular};
use crate::model::TrackFile;

pub use refusal::{is_own_export, looks_like_gpx};

/// Reads a GPX file.
///
/// Every point with a position is kept. What could not be read is counted by kind in
/// [`TrackFile::set_aside`], what was read on an assumption in [`TrackFile::remarks`], each with
/// the first line it concerns. The file is read in one pass and never held in memory as a whole.
///
/// # Errors
/// When the file cannot be opened or read, or holds no element of GPX.
///
/// # References
/// GPX 1.1 Schema Documentation and GPX 1.0 Developer's Manual, `topografix.com/GPX`.
pub fn read(path: &Path) -> Result<TrackFile> {
    let file = open_regular(path).map_err(|fault| Error::file("open", path, &fault))?;
    let length = file.metadata().ok().map(|data| data.len());
    read_sized(file, path, length)
}

/// Reads GPX from any stream; `path` names it in messages.
///
/// # Errors
/// As [`read`].
pub fn read_from(stream: impl Read, path: &Path) -> Result<TrackFile> {
    read_sized(stream, path, None)
}

/// As [`read_from`], of a stream whose length is known.
pub(in crate::ingest) fn read_sized(
    stream: impl Read,
    path: &Path,
    length: Option<u64>,
) -> Result<TrackFile> {
    xml::read(stream, path, Assembly::new(path, length))
}
