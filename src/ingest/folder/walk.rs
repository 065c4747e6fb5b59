//! Lists the files below the given paths, in the order of the paths, within a folder by name.
//! Hidden files are named and not read; system files and loops of links are skipped. Layer: `ingest`.
//!
//! A path that was named directly is always read or reported; what is only found in a folder may be ignored.

use std::collections::HashSet;
use std::ffi::OsStr;
use std::io;
use std::path::{Path, PathBuf};

use walkdir::{DirEntry, WalkDir};

use crate::error::{Error, other_than_a_file};
use crate::model::{IgnoredCause, IgnoredFile};

/// A file that was found.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Found {
    pub(super) path: PathBuf,
    /// Whether the user named the file itself, not its folder.
    pub(super) named: bool,
}

/// The files below the paths.
#[derive(Debug, Default)]
pub(super) struct Walk {
    pub(super) files: Vec<Found>,
    /// Hidden files and folders.
    pub(super) ignored: Vec<IgnoredFile>,
    pub(super) errors: Vec<Error>,
}

/// Names that operating systems and storage devices leave in folders.
const LEAVINGS: [&str; 12] = [
    ".ds_store",
    ".localized",
    ".trashes",
    ".spotlight-v100",
    ".fseventsd",
    "thumbs.db",
    "desktop.ini",
    "__macosx",
    "@eadir",
    "$recycle.bin",
    "system volume information",
    "lost+found",
];

/// All files, each once.
pub(super) fn files(paths: &[PathBuf]) -> Walk {
    let mut walk = Walk::default();
    let mut linked = false;
    for path in paths {
        let mut hidden = Vec::new();
        let entries =
            WalkDir::new(path).follow_links(true).sort_by_file_name().into_iter().filter_entry(
                |entry| {
                    let skipped = entry.depth() > 0 && is_skipped(entry.file_name());
                    if skipped && !is_leaving(entry.file_name()) {
                        hidden.push(ignored(entry.path().to_owned()));
                    }
                    !skipped
                },
            );
        for entry in entries {
            match entry {
                Ok(entry) => {
                    linked |= entry.path_is_symlink();
                    walk.take(&entry);
                }
                // a loop of links leads to a folder that is read already
                Err(error) if error.loop_ancestor().is_some() => {}
                Err(error) => walk.errors.push(refused(path, error)),
            }
        }
        walk.ignored.append(&mut hidden);
    }
    // only links and overlapping paths give one file twice
    if linked || paths.len() > 1 {
        walk.drop_repeats();
    }
    walk
}

impl Walk {
    fn take(&mut self, entry: &DirEntry) {
        let named = entry.depth() == 0;
        if entry.file_type().is_file() {
            self.files.push(Found { path: entry.path().to_owned(), named });
        } else if !entry.file_type().is_dir() {
            self.errors.push(special(entry.path()));
        }
    }

    fn drop_repeats(&mut self) {
        let mut known = HashSet::new();
        self.files.retain(|file| {
            known.insert(file.path.canonicalize().unwrap_or_else(|_| file.path.clone()))
        });
        let mut known = HashSet::new();
        self.ignored.retain(|file| {
            known.insert(file.path.canonicalize().unwrap_or_else(|_| file.path.clone()))
        });
    }
}

fn special(path: &Path) -> Error {
    let what = path.metadata().ok().and_then(|found| other_than_a_file(&found));
    Error::input(format!("{} was not read", path.display()))
        .because(match what {
            Some(what) => format!("it is {what}, not a regular file"),
            None => "it is not a regular file".to_owned(),
        })
        .hint("name files and folders; save what a pipe or a device gives into a file first")
        .in_file(path)
}

/// Whether a file or folder is not read because of its name: a hidden one, a backup, or what systems leave.
pub(super) fn is_skipped(name: &OsStr) -> bool {
    let hidden = name.to_string_lossy();
    hidden.starts_with('.') || hidden.ends_with('~') || is_leaving(name)
}

/// Whether an operating system, a disk or trug itself left it; it is not worth a word.
pub(super) fn is_leaving(name: &OsStr) -> bool {
    let name = name.to_string_lossy().to_lowercase();
    // `._` begins what a disk of another system keeps beside each file
    let beside = name.starts_with("._") || name.starts_with(".trug-");
    beside || LEAVINGS.contains(&name.as_str())
}

pub(super) fn ignored(path: PathBuf) -> IgnoredFile {
    IgnoredFile { path, cause: IgnoredCause::Hidden }
}

fn refused(root: &Path, error: walkdir::Error) -> Error {
    let path = error.path().unwrap_or(root).to_owned();
    let source = io::Error::from(error);
    let source = source.into_inner().map_or_else(
        || io::Error::other("it cannot be read"),
        |inner| match inner.downcast::<walkdir::Error>() {
            Ok(error) => error.into_io_error().unwrap_or_else(|| {
                io::Error::other(
                    "it is a loop \
             of links",
                )
            }),
            Err(other) => io::Error::other(other),
        },
    );
    Error::file("read", &path, &source)
}
