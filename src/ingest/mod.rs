//! Readers of tracks, photographs, field records and folders of them. They read one file each,
//! never write, and keep the valid part of a damaged file. Layer: `ingest`.
//!
//! | module | reads | crate or format |
//! |---|---|---|
//! | [`folder`] | files and folders, archives one level deep | identified by content |
//! | [`track`] | GPX 1.0 and 1.1, KML, GeoJSON, NMEA 0183 | own tolerant readers |
//! | [`photo`] | headers of photographs | Exif in JPEG, HEIF, PNG, WebP, TIFF, raw forms |
//! | [`record`] | tables of field records | CSV, XLSX, XLS, ODS; headings in many languages (`docs/headings.md`) |
//! | [`position`] | written positions | degrees, UTM, MGRS, named grids, links |
//! | [`weather`] | daily weather | GHCN-Daily, tables with ISO dates |
//! | [`base_map`] | lines, areas and places for maps | GeoJSON, GPX, KML, GeoPackage |
//! | [`checklist`] | names of taxa | tables and Darwin Core Archives |
//!
//! # What holds for all of them
//! - **Originals are only read.** Nothing is written, locked or moved.
//! - **One fault loses one thing.** A bad point, row or entry is reported with its line and does not stop the rest;
//!   a file that is cut off gives what stands before the cut.
//! - **No guess without a note.** What was read on an assumption (a decimal comma, the order of day and month,
//!   a time without a zone) is a remark; what has several readings keeps them all.
//! - **Hostile input is bounded.** Memory stays within twice the input and 200 MiB, or the file is refused with the
//!   limit in the message (`tests/sizes`); mutated inputs never make a reader panic (`tests/fuzz`).
//! - **The order is fixed.** Files are read in parallel, and the result does not depend on which was done first.

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
/// Paths that do not exist are reported there as well.
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
