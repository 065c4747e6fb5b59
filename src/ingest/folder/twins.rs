//! Detects duplicate files. The first in order is kept, the others are skipped and reported. The
//! usual hash of a photograph covers only its header, so all bytes are hashed before one is called
//! a copy. Layer: `ingest`.
//!
//! A copy would count its evidence twice: two identical tracks agree better than any receiver.

use std::collections::HashMap;
use std::collections::hash_map::Entry;
use std::io;
use std::path::{Path, PathBuf};

use crate::error::{Error, open_regular};
use crate::model::{FileKind, Intake, SourceFile};

/// The most copies of one kind that are reported one by one.
const LISTED: usize = 12;

/// Takes copies out of an intake.
pub(super) fn set_aside(intake: &mut Intake) {
    let Intake { tracks, photos, records, set_aside, copies, .. } = intake;
    keep_firsts(tracks, |track| &track.source, set_aside);
    copies.extend(keep_firsts(photos, |photo| &photo.source, set_aside));
    keep_firsts(records, |file| &file.source, set_aside);
}

/// Reports the copies, and returns the path of each with that of the file that is kept.
fn keep_firsts<T>(
    files: &mut Vec<T>,
    source: impl Fn(&T) -> &SourceFile,
    reported: &mut Vec<Error>,
) -> Vec<(PathBuf, PathBuf)> {
    let mut alike: HashMap<String, Alike> = HashMap::new();
    let mut copies: Vec<Error> = Vec::new();
    let mut paths = Vec::new();
    files.retain(|file| {
        let source = source(file);
        let Some(known) = alike.get_mut(&source.hash) else {
            alike.insert(source.hash.clone(), Alike::begun(source));
            return true;
        };
        let first = known.first_like(source);
        copies.extend(first.map(|first| copy(first, source)));
        paths.extend(first.map(|first| (source.path.clone(), first.path.clone())));
        first.is_none()
    });
    let more = copies.len().saturating_sub(LISTED);
    reported.extend(copies.into_iter().take(LISTED));
    if more > 0 {
        let files = if more == 1 { "file is a copy" } else { "files are copies" };
        let names: Vec<String> = paths[LISTED..]
            .iter()
            .map(|(copy, first)| format!("{} of {}", copy.display(), first.display()))
            .collect();
        reported.push(
            Error::input(format!("{more} more {files} and not read again"))
                .because(format!("the content is identical: {}", names.join("; "))),
        );
    }
    paths
}

/// Files of one hash.
struct Alike {
    first: SourceFile,
    /// Photographs with equal header hashes, by the hash of all bytes; each file is read once more.
    whole: HashMap<blake3::Hash, SourceFile>,
}

impl Alike {
    fn begun(first: &SourceFile) -> Self {
        Self { first: first.clone(), whole: HashMap::new() }
    }

    /// The first file with the same content; `None` registers this one.
    fn first_like(&mut self, other: &SourceFile) -> Option<&SourceFile> {
        if self.first.kind != FileKind::Photo {
            return Some(&self.first);
        }
        if self.whole.is_empty() {
            // a file that can no longer be read is not a copy
            self.whole.insert(whole(&self.first.path).ok()?, self.first.clone());
        }
        match self.whole.entry(whole(&other.path).ok()?) {
            Entry::Occupied(known) => Some(known.into_mut()),
            Entry::Vacant(place) => {
                place.insert(other.clone());
                None
            }
        }
    }
}

/// The hash of all bytes of a file.
fn whole(path: &Path) -> io::Result<blake3::Hash> {
    let mut hasher = blake3::Hasher::new();
    io::copy(&mut open_regular(path)?, &mut hasher)?;
    Ok(hasher.finalize())
}

fn copy(first: &SourceFile, second: &SourceFile) -> Error {
    Error::input(format!("{} is a copy and was not read again", second.name()))
        .because(format!("its content is identical to {}", first.path.display()))
        .in_file(&second.path)
}
