//! Reads all inputs below files and folders: identifies each file by content and reads them in
//! parallel, in a fixed order. An unreadable file is skipped with its reason and does not stop the
//! others. Layer: `ingest`.

mod archive;
mod original;
mod sort;
mod twins;
mod walk;

#[cfg(test)]
mod tests;

use std::io::Read;
use std::path::PathBuf;
use std::sync::atomic::{AtomicUsize, Ordering};

use rayon::prelude::*;

use self::sort::{Content, Sorted};
use crate::error::{Error, open_regular};
use crate::ingest::record::Columns;
use crate::ingest::{photo, record, track};
use crate::model::{IgnoredFile, Intake};

pub use original::held;
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
/// Hidden files, sidecars of photo programs, files of other types and those that trug wrote are ignored in a
/// folder, and named with the cause; what operating systems leave there is not listed. A file named directly is always read or reported.
/// Copies of a file are read once and reported. Links are followed, except loops.
///
/// `progress` is called after each file, from several threads.
///
/// Archives (ZIP, gzip, KMZ) are read one level deep, up to 256 MiB unpacked.
pub fn gather(paths: &[PathBuf], progress: &(dyn Fn(Step) + Sync)) -> Intake {
    gather_with(paths, &Columns::default(), progress)
}

/// As [`gather`], with the meanings of columns that a user states.
///
/// For headings that the user's table has and no list knows; [`Columns`] holds them.
pub fn gather_with(
    paths: &[PathBuf],
    columns: &Columns,
    progress: &(dyn Fn(Step) + Sync),
) -> Intake {
    let walk = walk::files(paths);
    let of = walk.files.len();
    let done = AtomicUsize::new(0);
    let contents: Vec<Vec<Content>> = walk
        .files
        .par_iter()
        .map(|file| {
            let contents = read(file, columns);
            let done = done.fetch_add(1, Ordering::Relaxed) + 1;
            progress(Step { done, of });
            contents
        })
        .collect();
    let mut intake =
        Intake { set_aside: walk.errors, passed_over: walk.ignored, ..Intake::default() };
    for content in contents.into_iter().flatten() {
        match content {
            Content::Track(track) => intake.tracks.push(*track),
            Content::Photo(photo) => intake.photos.push(*photo),
            Content::Records(records) => intake.records.push(*records),
            Content::Refused(error) => intake.set_aside.push(error),
            Content::Other(ignored) => intake.passed_over.push(ignored),
        }
    }
    twins::set_aside(&mut intake);
    intake
}

/// What a file gives; an archive may give several things.
fn read(file: &walk::Found, columns: &Columns) -> Vec<Content> {
    let found = match sort::kind(file, columns) {
        Ok(Sorted::Read(kind)) => kind,
        Ok(Sorted::Ignored(cause)) => {
            return vec![Content::Other(IgnoredFile { path: file.path.clone(), cause })];
        }
        Err(error) => return vec![Content::Refused(error)],
    };
    let path = &file.path;
    let read = match found {
        Kind::Track => track::read(path).map(|track| Content::Track(Box::new(track))),
        Kind::Photo => photo::read(path).map(|photo| Content::Photo(Box::new(photo))),
        Kind::Records => {
            record::read_with(path, columns).map(|records| Content::Records(Box::new(records)))
        }
        Kind::Archive => {
            let mut front = Vec::new();
            let opened = open_regular(path).and_then(|file| file.take(8).read_to_end(&mut front));
            return match (opened, archive::kind(&front)) {
                (Err(fault), _) => vec![Content::Refused(Error::file("read", path, &fault))],
                (_, kind) => archive::read(file, kind),
            };
        }
    };
    vec![read.unwrap_or_else(Content::Refused)]
}
