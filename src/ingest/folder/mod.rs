//! Reads all inputs below files and folders: identifies each file by content and reads them in
//! parallel, in a fixed order. An unreadable file is skipped with its reason and does not stop the
//! others. Layer: `ingest`.

mod sort;
mod twins;
mod walk;

#[cfg(test)]
mod tests;

use std::path::PathBuf;
use std::sync::atomic::{AtomicUsize, Ordering};

use rayon::prelude::*;

use self::sort::Content;
use crate::ingest::record::Columns;
use crate::ingest::{gpx, photo, record};
use crate::model::Intake;

pub use sort::{Kind, identify};

/// Progress of the reading.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Step {
    /// Files that are read.
    pub done: usize,
    /// Files in all.
    pub of: usize,
}

/// Reads everything in these files and folders.
///
/// Hidden files, system files, sidecars of photo programs and files of other types in a folder are
/// ignored; the names of the last two are kept. A file named directly is always read or reported.
/// Copies of a file are read once and reported. Links are followed, except loops.
///
/// `progress` is called after each file, from several threads.
pub fn gather(paths: &[PathBuf], progress: &(dyn Fn(Step) + Sync)) -> Intake {
    gather_with(paths, &Columns::default(), progress)
}

/// As [`gather`], with the meanings of columns that a user states.
pub fn gather_with(
    paths: &[PathBuf],
    columns: &Columns,
    progress: &(dyn Fn(Step) + Sync),
) -> Intake {
    let walk = walk::files(paths);
    let of = walk.files.len();
    let done = AtomicUsize::new(0);
    let contents: Vec<Content> = walk
        .files
        .par_iter()
        .map(|file| {
            let content = read(file, columns);
            let done = done.fetch_add(1, Ordering::Relaxed) + 1;
            progress(Step { done, of });
            content
        })
        .collect();
    let mut intake =
        Intake { set_aside: walk.errors, passed_over: walk.special, ..Intake::default() };
    for (content, file) in contents.into_iter().zip(&walk.files) {
        match content {
            Content::Track(track) => intake.tracks.push(*track),
            Content::Photo(photo) => intake.photos.push(*photo),
            Content::Records(records) => intake.records.push(*records),
            Content::Refused(error) => intake.set_aside.push(error),
            Content::Other => intake.passed_over.push(file.path.clone()),
        }
    }
    twins::set_aside(&mut intake);
    intake
}

fn read(file: &walk::Found, columns: &Columns) -> Content {
    let kind = match sort::kind(file, columns) {
        Ok(Some(kind)) => kind,
        Ok(None) => return Content::Other,
        Err(error) => return Content::Refused(error),
    };
    let read = match kind {
        Kind::Track => gpx::read(&file.path).map(|track| Content::Track(Box::new(track))),
        Kind::Photo => photo::read(&file.path).map(|photo| Content::Photo(Box::new(photo))),
        Kind::Records => record::read_with(&file.path, columns)
            .map(|records| Content::Records(Box::new(records))),
    };
    read.unwrap_or_else(Content::Refused)
}
