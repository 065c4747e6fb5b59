//! Represents the files of an import after reading. Layer: `model`.

use std::path::PathBuf;

use serde::{Deserialize, Serialize};

use super::{Photo, RecordFile, TrackFile};
use crate::error::Error;

/// A file that something came from. The original is never changed.
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
    /// The file's name without its folder.
    #[must_use]
    pub fn name(&self) -> String {
        self.path.file_name().map_or_else(String::new, |name| name.to_string_lossy().into_owned())
    }
}

/// What a file is, by its content.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
#[non_exhaustive]
pub enum FileKind {
    /// GPX 1.0 or 1.1.
    Gpx,
    /// A photograph.
    Photo,
    /// A table of field records.
    Records,
}

/// Everything that was read from the paths given.
#[derive(Clone, Debug, Default)]
pub struct Intake {
    /// GPX files.
    pub tracks: Vec<TrackFile>,
    /// Photographs, in order of path.
    pub photos: Vec<Photo>,
    /// Files of records.
    pub records: Vec<RecordFile>,
    /// Whole files that were set aside.
    pub set_aside: Vec<Error>,
    /// Files of other kinds, and sidecars, that were not read.
    pub passed_over: Vec<PathBuf>,
}
