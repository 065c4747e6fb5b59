//! Readers of tracks, photographs, field records and folders of them. They read one file each,
//! never write, and keep the valid part of a damaged file. Layer: `ingest`.

pub mod base_map;
pub mod checklist;
pub mod folder;
pub mod photo;
pub mod position;
pub mod record;
pub mod track;
pub mod weather;

pub use track::gpx;

use std::path::{Path, PathBuf};

use crate::model::Intake;

/// Reads everything in these files and folders, for [`crate::join::join`].
///
/// [`folder::gather`] with a report of progress; it states what is read and what is ignored. A file
/// that cannot be read is in [`Intake::set_aside`] with its reason and does not stop the others.
///
/// # Examples
/// ```
/// let intake = trug::ingest::read(&["sample-tracks/2026-05-02-thimble-spur"]);
/// assert_eq!((intake.tracks.len(), intake.records.len()), (1, 1));
/// assert!(intake.set_aside.is_empty());
/// ```
#[must_use]
pub fn read<P: AsRef<Path>>(paths: &[P]) -> Intake {
    let paths: Vec<PathBuf> = paths.iter().map(|path| path.as_ref().to_owned()).collect();
    folder::gather(&paths, &|_| {})
}
