//! Reads from a read-only store through a temporary copy, which is migrated and deleted afterwards.
//! Layer: `store`.

use std::fs::{self, File, OpenOptions};
use std::io;
use std::path::{Path, PathBuf};

use tempfile::TempDir;

use super::Store;
use crate::error::{Result, StoreFault, open_regular, unopened_store};

/// A copy that only this user may read, removed when it is no longer needed.
#[derive(Debug)]
pub(super) struct Copy {
    folder: TempDir,
}

impl Copy {
    /// Copies the store with the journal of an interrupted program or a GIS.
    pub(super) fn of(store: &Path) -> Result<Self> {
        let reported = |error: io::Error| StoreFault::NoCopy { cause: error.to_string() }.at(store);
        let folder = tempfile::Builder::new().prefix("trug-").tempdir().map_err(reported)?;
        let copy = Self { folder };
        for end in ["", "-journal", "-wal"] {
            let (from, to) = (with_end(store, end), with_end(&copy.path(), end));
            match open_regular(&from) {
                Ok(mut from) => {
                    io::copy(&mut from, &mut File::create(to).map_err(reported)?)
                        .map_err(reported)?;
                }
                Err(error) if error.kind() == io::ErrorKind::NotFound && !end.is_empty() => {}
                Err(error) => return Err(unopened_store(store, &error)),
            }
        }
        Ok(copy)
    }

    pub(super) fn path(&self) -> PathBuf {
        self.folder.path().join("copy.gpkg")
    }
}

fn with_end(path: &Path, end: &str) -> PathBuf {
    let mut name = path.as_os_str().to_owned();
    name.push(end);
    name.into()
}

/// Whether a store may be written: the file, and its folder, in which the database keeps its
/// journal. Leaves no file behind.
pub(super) fn may_be_written(path: &Path) -> bool {
    let marked = |path: &Path| fs::metadata(path).is_ok_and(|found| found.permissions().readonly());
    let path = fs::canonicalize(path).unwrap_or_else(|_| path.to_owned());
    let folder = path.parent().unwrap_or(Path::new("."));
    if marked(&path) || marked(folder) {
        return false;
    }
    let refused = |error: &io::Error| {
        matches!(error.kind(), io::ErrorKind::PermissionDenied | io::ErrorKind::ReadOnlyFilesystem)
    };
    let file = OpenOptions::new().append(true).open(&path);
    !file.is_err_and(|error| refused(&error))
        && !tempfile::tempfile_in(folder).is_err_and(|error| refused(&error))
}

impl Store {
    /// Checks that changes can be kept, so that a command refuses before it works.
    ///
    /// # Errors
    /// When the store is read-only, so that changes cannot be stored.
    pub fn may_be_changed(&self) -> Result<()> {
        if self.copy.is_none() {
            return Ok(());
        }
        Err(StoreFault::ReadOnly.at(&self.path))
    }
}
