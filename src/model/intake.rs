//! Represents the files of an import after reading. Layer: `model`.

use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};

use super::{Photo, RecordFile, TrackFile};
use crate::error::Error;

/// A file that something came from. The original is never changed.
///
/// The hash recognises a file that was moved or renamed, and shows that it is still the one that was read.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SourceFile {
    /// Where it was.
    pub path: PathBuf,
    /// What it is.
    pub kind: FileKind,
    /// Its length in bytes.
    pub bytes: u64,
    /// BLAKE3 in hexadecimal of its content (of length and header for a photograph).
    pub hash: String,
}

impl SourceFile {
    /// The file's name without its folder; of a file within an archive with the archive's name.
    #[must_use]
    pub fn name(&self) -> String {
        name_of(&self.path)
    }

    /// The folder that holds the file, or the archive that it is part of.
    #[must_use]
    pub fn folder(&self) -> Option<&Path> {
        on_disk(&self.path).parent()
    }
}

/// The name of a file in messages: `ridge.gpx`, or `walk.zip/ridge.gpx` within an archive.
///
/// A folder that ends in `.zip`, `.kmz` or `.gz` is taken for the archive; the disk is not looked at.
///
/// # Examples
/// ```
/// use std::path::Path;
/// use trug::model::name_of;
///
/// assert_eq!(name_of(Path::new("autumn/ridge.gpx")), "ridge.gpx");
/// assert_eq!(name_of(Path::new("autumn/walk.zip/ridge.gpx")), "walk.zip/ridge.gpx");
/// ```
#[must_use]
pub fn name_of(path: &Path) -> String {
    let disk = on_disk(path);
    let name = disk.file_name().unwrap_or(disk.as_os_str()).to_string_lossy();
    match path.strip_prefix(disk) {
        Ok(inner) if !inner.as_os_str().is_empty() => {
            let parts: Vec<_> = inner.iter().map(|part| part.to_string_lossy()).collect();
            format!("{name}/{}", parts.join("/"))
        }
        _ => name.into_owned(),
    }
}

/// The file on the disk that a path leads to: the archive, where the path goes on inside one.
#[must_use]
pub fn on_disk(path: &Path) -> &Path {
    let archive = |part: &&Path| {
        let end = part.extension().map(|end| end.to_string_lossy().to_lowercase());
        ["zip", "kmz", "gz"].iter().any(|known| end.as_deref() == Some(*known))
    };
    path.ancestors().skip(1).find(archive).unwrap_or(path)
}

/// What a file is, by its content.
///
/// Endings are not trusted: a GPX file named `.txt` is one.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
#[non_exhaustive]
pub enum FileKind {
    /// GPX 1.0 or 1.1.
    Gpx,
    /// KML 2.2 or 2.3.
    Kml,
    /// GeoJSON.
    GeoJson,
    /// A log of NMEA 0183 sentences.
    Nmea,
    /// A photograph.
    Photo,
    /// A table of field records.
    Records,
}

impl FileKind {
    /// The kinds that hold tracks.
    pub const TRACKS: [Self; 4] = [Self::Gpx, Self::Kml, Self::GeoJson, Self::Nmea];

    /// Whether it holds tracks.
    #[must_use]
    pub fn is_track(self) -> bool {
        Self::TRACKS.contains(&self)
    }
}

/// Everything that was read from the paths given.
///
/// Nothing is interpreted across files yet: whose track and whose photographs belong together is decided by
/// [`join`](mod@crate::join). Every path that was given is either in one of the lists or named in `set_aside` or
/// `passed_over`.
#[derive(Clone, Debug, Default)]
pub struct Intake {
    /// Files of tracks.
    pub tracks: Vec<TrackFile>,
    /// Photographs, in order of path.
    pub photos: Vec<Photo>,
    /// Files of records.
    pub records: Vec<RecordFile>,
    /// Photographs that were not read, since they are copies of others: the path of the copy and of the one read.
    pub copies: Vec<(PathBuf, PathBuf)>,
    /// Whole files that were set aside.
    pub set_aside: Vec<Error>,
    /// Files of folders and archives that were not read though nothing is wrong with them.
    pub passed_over: Vec<IgnoredFile>,
}

/// A file of a folder or an archive that was not read though nothing is wrong with it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct IgnoredFile {
    /// Its path; that of a hidden folder stands for everything in it.
    pub path: PathBuf,
    /// Why it was not read.
    pub cause: IgnoredCause,
}

/// Why a file was not read.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum IgnoredCause {
    /// Its format is none that an import reads.
    UnsupportedFormat,
    /// trug wrote it: what it states is computed.
    WrittenByTrug,
    /// It is a checklist of taxa.
    Checklist,
    /// It is empty.
    Empty,
    /// Its name begins with a point or ends as that of a backup does.
    Hidden,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_file_within_an_archive_is_named_with_it() {
        let shown = |path: &str| name_of(Path::new(path));
        assert_eq!(shown("day/ridge.gpx"), "ridge.gpx");
        assert_eq!(shown("day/walk.ZIP/tracks/ridge.gpx"), "walk.ZIP/tracks/ridge.gpx");
        assert_eq!(shown("day/walk.zip"), "walk.zip");
        assert_eq!(on_disk(Path::new("day/walk.kmz/doc.kml")), Path::new("day/walk.kmz"));
        assert_eq!(on_disk(Path::new("day/ridge.gpx")), Path::new("day/ridge.gpx"));
    }

    #[test]
    fn a_folder_named_like_an_archive_is_taken_for_one_and_loses_nothing() {
        assert_eq!(name_of(Path::new("old.zip/day/ridge.gpx")), "old.zip/day/ridge.gpx");
    }
}
